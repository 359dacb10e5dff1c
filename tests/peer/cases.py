"""Assemblies, weather and indoor air that the peer and the solver both compute."""

from __future__ import annotations

import warnings
from functools import lru_cache
from pathlib import Path

import pvlib

from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.climate import Climate, read_climate, sample_climate
from hygro.gapflow import ByWindAndBuoyancy
from hygro.leakage import AirLeak
from hygro.materials import AbsorptionCoefficient, Material


@lru_cache
def marine_year():
    """A public-domain typical year of a cold marine station that comes with pvlib (TMY3, station 703165)."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*rain is missing")  # the roofs here drink none
        return read_climate(Path(pvlib.__file__).parent / "data" / "703165TY.csv", format="tmy3")


def first_days(climate, days: int):
    """The first days of a record."""
    return Climate(climate.data.isel(time=slice(0, 24 * days)))


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


@lru_cache
def cold_valley(start: str):
    """A year of the invented cold valley from a day on."""
    return sample_climate("hut_valley").period(start, 1)


def unvented_roof() -> Assembly:
    """Roof without a gap, dark outside: the deck is the coldest place that indoor air can reach."""
    return Assembly(
        "unvented roof",
        [
            Sheet("membrane", s_d=100.0),
            Layer("plywood 500", "18 mm", name="deck"),
            Layer("mineral wool batt", "200 mm", name="insulation"),
            Sheet("polyethylene 0.15 mm"),
            Layer("gypsum board", "12.5 mm", name="lining"),
        ],
        tilt=5.0,
        azimuth=180.0,
        finish="black membrane",
    )


def leak_to_the_deck() -> AirLeak:
    """Indoor air that reaches the deck's inner face by a short path."""
    return AirLeak("0.2 m3/(m2 hour)", height=1.2, into="deck")


def plastered_brick(humidity: float = 0.9995) -> Assembly:
    """Brick between lime plasters, wet from building: liquid, two materials that share a suction, and drying."""
    return Assembly(
        "brick wall",
        [
            Layer("lime plaster", "15 mm", name="render"),
            Layer("brick", "120 mm", name="brick", start_humidity=humidity),
            Layer("lime plaster", "15 mm", name="plaster"),
        ],
        tilt=90.0,
        azimuth=225.0,
        finish="weathered wood",
    )


def metal_roof() -> Assembly:
    """Vented metal roof: frost and dew in the film under the sheet, which drips."""
    flow = ByWindAndBuoyancy(inlet="60 cm^2/m", outlet="60 cm^2/m", screen=0.5)
    return Assembly(
        "metal roof",
        [
            Layer("steel sheet", "0.6 mm", name="metal"),
            VentGap("25 mm", length="3 m", flow=flow),
            Sheet("breather membrane"),
            Layer("mineral wool batt", "150 mm", name="insulation"),
            Sheet("polyethylene 0.15 mm stapled"),
            Layer("gypsum board", "12.5 mm", name="lining"),
        ],
        tilt=10.0,
        azimuth=180.0,
        finish="dark coated metal",
    )


def framed_wall() -> Assembly:
    """Wall that air seeps through."""
    return Assembly(
        "framed wall",
        [
            Layer("OSB", "11 mm", name="sheathing"),
            Layer("mineral wool batt", "150 mm", name="insulation"),
            Sheet("variable retarder"),
            Layer("gypsum board", "12.5 mm", name="lining"),
        ],
        tilt=90.0,
        azimuth=0.0,
        finish="new wood",
    )


CAPILLARY_BOARD = Material(
    "capillary board", density=250, specific_heat=1700, conductivity=0.05, conductivity_moisture=5e-4,
    vapour_resistance=[(0.25, 6.0), (0.75, 4.0)], saturation=700, free_saturation=250,
    sorption=[(0.2, 10), (0.5, 22), (0.8, 38), (0.9, 50), (0.98, 80), (1.0, 250)], liquid=AbsorptionCoefficient(0.02),
)  # fmt: skip


def clad_wall(slices: int = 2) -> Assembly:
    """Wet brick before a screened gap in slices, and a board that drinks: all parts of the model in one wall."""
    flow = ByWindAndBuoyancy(inlet="50 cm^2/m", outlet="50 cm^2/m", screen=0.6)
    return Assembly(
        "clad wall",
        [
            Layer("brick", "90 mm", name="brick", start_humidity=0.9995),
            VentGap("25 mm", length="2.5 m", flow=flow, slices=slices),
            Layer(CAPILLARY_BOARD, "22 mm", name="sheathing"),
            Layer("mineral wool batt", "150 mm", name="insulation"),
            Sheet("variable retarder"),
            Layer("gypsum board", "12.5 mm", name="lining"),
        ],
        tilt=90.0,
        azimuth=45.0,
        finish="weathered wood",
    )


def leak_to_the_sheathing() -> AirLeak:
    """Air that reaches the sheathing by a short path: indoor air mostly, outdoor air when the wind stands on it."""
    return AirLeak("1 m3/(m2 hour)", height="1.2 m", into="sheathing")
