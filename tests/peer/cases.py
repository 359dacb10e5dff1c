"""Assemblies, weather and indoor air that the peer and the solver both compute."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pvlib

from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.climate import read_climate
from hygro.gapflow import ByWindAndBuoyancy


@lru_cache
def marine_year():
    """A public-domain typical year of a cold marine station that comes with pvlib (TMY3, station 703165)."""
    return read_climate(Path(pvlib.__file__).parent / "data" / "703165TY.csv", format="tmy3")


def vented_roof(slices: int = 1) -> Assembly:
    """Low-pitched roof with a screened vent gap over the insulation."""
    flow = ByWindAndBuoyancy(inlet="150 cm^2/m", outlet="150 cm^2/m", screen=0.6)
    return Assembly(
        "vented roof",
        [
            Sheet("membrane", s_d=100.0),
            Layer("plywood 500", "18 mm", name="deck"),
            VentGap("25 mm", length="3 m", flow=flow, slices=slices),
            Sheet("breather membrane"),
            Layer("mineral wool batt", "200 mm", name="insulation"),
            Sheet("variable retarder"),
            Layer("plywood 500", "12 mm", name="lining"),
        ],
        tilt=5.0,
        azimuth=180.0,
        finish="black membrane",
    )
