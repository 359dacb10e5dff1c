"""From the kernel's record to the Dataset of a run, and the audit of what came in, went out and stayed.

May import: variables, snow, rain, grid, and all above them.
"""

from __future__ import annotations

import json
from itertools import pairwise
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray
from xarray.indexes import PandasIndex

from hygro import __version__
from hygro.assembly import Assembly
from hygro.climate import Climate
from hygro.core.bundles import (
    G_DEFECT,
    G_DRIP,
    G_GAP,
    G_IN,
    G_LEAK,
    G_OUT,
    G_RAIN,
    G_RUNOFF,
    G_SHED,
    IN_TEMPERATURE,
    LEAK_FLOW,
    P_GAP,
    Q_DRIP,
    Q_GAP,
    Q_IN,
    Q_LEAK,
    Q_OUT,
    T_GAP,
    T_INNER,
    T_OUTER,
)
from hygro.core.formulas import MoistAir
from hygro.core.record import Record
from hygro.grid import Grid
from hygro.indoor import IndoorModel
from hygro.leakage import AirLeak
from hygro.rain import RainLoad
from hygro.snow import Snow
from hygro.start import Start
from hygro.sums import over_cells
from hygro.surfaces import Outdoor, Surface
from hygro.variables import COORDINATES, RUN, hour_ends

FloatArray = NDArray[np.float64]
_HOUR: Final = 3600.0
NEXT_TO_NOTHING: Final = 1e-3  # [1] of what is held: with less throughput, a share of it would be one of round-off
A_MOLECULE_THICK: Final = 3e-7  # [kg m-2] water one molecule thick (0.03 nm3 each); what passes and is held may be less

_FLUXES: Final = {
    "outdoor_heat_flux": Q_OUT,
    "indoor_heat_flux": Q_IN,
    "gap_heat_flux": Q_GAP,
    "outdoor_moisture_flux": G_OUT,
    "indoor_moisture_flux": G_IN,
    "gap_moisture_flux": G_GAP,
    "leak_moisture_flux": G_LEAK,
    "rain_absorbed": G_RAIN,
    "rain_run_off": G_RUNOFF,
    "rain_leak": G_DEFECT,
    "drip": G_DRIP,
    "shed_outside": G_SHED,
}
_AIR: Final = {
    "outer_surface_temperature": T_OUTER,
    "inner_surface_temperature": T_INNER,
    "gap_air_temperature": T_GAP,
    "gap_vapour_pressure": P_GAP,
}


def dataset_of(
    assembly: Assembly,
    grid: Grid,
    record: Record,
    forcing: FloatArray,
    out: Outdoor,
    snow_depth: FloatArray,
    room: xr.Dataset,
    time: pd.DatetimeIndex,
    attrs: dict[str, Any],
) -> xr.Dataset:
    """The variables, coordinates and attributes of a run, as `hygro.variables` names them."""
    ends = np.searchsorted(grid.cell_layer, np.arange(len(assembly.layers) + 1))
    of_layers = [slice(*two) for two in pairwise(ends)]
    values: dict[str, NDArray[Any]] = {
        "temperature": record.temperature,
        "relative_humidity": record.activity,
        "water_content": record.water,
        "ice_content": record.ice,
        "layer_water": np.stack(
            [over_cells(record.water[..., own], grid.thickness[own]) for own in of_layers], axis=-1
        ),
        "leak_air_flow": forcing[1:, LEAK_FLOW],
        "outdoor_temperature": out.temperature[1:],
        "outdoor_relative_humidity": out.relative_humidity[1:],
        "indoor_temperature": forcing[1:, IN_TEMPERATURE],
        "indoor_relative_humidity": np.asarray(room["indoor_relative_humidity"].data),
        "snow_depth": snow_depth[1:],
    }
    values.update({name: record.fluxes[:, :, column] for name, column in _FLUXES.items()})
    values.update(
        {name: record.air[:, :, column - T_OUTER] for name, column in _AIR.items() if assembly.gap or "gap" not in name}
    )
    if assembly.gap is not None:
        values["gap_air_speed"] = record.speed
        values["gap_air_change_rate"] = np.abs(record.speed) * _HOUR / assembly.gap.length
    variables = {name: RUN[name].holding(value) for name, value in values.items()}
    return xr.Dataset(variables, coords=_coordinates(assembly, grid, time), attrs=attrs)


def _coordinates(assembly: Assembly, grid: Grid, time: pd.DatetimeIndex) -> dict[str, xr.Variable]:
    layers = assembly.layers
    bound = [grid.bound_water(layer.material) if layer.material.is_hygroscopic else np.nan for layer in layers]
    length = assembly.gap.length if assembly.gap else 0.0
    along = (np.arange(grid.n_slices) + 0.5) / grid.n_slices * length
    values: dict[str, NDArray[Any]] = {
        "cell_position": grid.position,
        "cell_thickness": grid.thickness,
        "cell_layer": grid.cell_layer,
        "cell_is_film": grid.is_film.astype(np.int8),
        "layer_thickness": np.array([layer.thickness for layer in layers]),
        "layer_density": np.array([layer.material.density for layer in layers]),
        "layer_bound_water": np.array(bound),
        "layer_is_wood": np.array([layer.material.is_wood for layer in layers], dtype=np.int8),
        "layer_mould_sensitivity": np.array([layer.material.mould_sensitivity or "" for layer in layers]),
        "slice_position": along,
    }
    variables = {name: COORDINATES[name].holding(value) for name, value in values.items()}
    names = np.array(assembly.labels)
    layer = xr.Variable("layer", names, {"long_name": "layers from outside to inside"}, fastpath=True)
    # An index at once: to make one of plain names, xarray would look at them as `Variable.holding` says.
    index = PandasIndex(pd.Index(names), "layer", coord_dtype=names.dtype)
    return variables | index.create_variables({"layer": layer}) | {"time": hour_ends(time)}


def audit(record: Record, interval: float = _HOUR) -> tuple[float, float]:
    """Energy and water that came in, less what went out and what is stored more, as a share of what passed.

    ``interval``: time between two rows of the record. [s]
    """
    heat_in, heat_out = [Q_OUT, Q_IN, Q_GAP, Q_LEAK], [Q_DRIP]
    water_in, water_out = [G_OUT, G_IN, G_GAP, G_LEAK, G_RAIN, G_DEFECT], [G_DRIP, G_SHED]
    gained = record.stored[1] - record.stored[0]
    shares = []
    # the sums of numpy take four times as long over so few columns
    total, both_ways = np.einsum("hsf->sf", record.fluxes), np.einsum("hsf->f", np.abs(record.fluxes))
    for quantity, (come, go, least) in enumerate(((heat_in, heat_out, 1e-12), (water_in, water_out, A_MOLECULE_THICK))):
        net = total[:, come].sum(axis=1) - total[:, go].sum(axis=1)
        passed = both_ways[come + go].sum() * interval
        held = NEXT_TO_NOTHING * np.abs(record.stored[..., quantity]).max()
        least_of_all = least * len(gained)  # like what is missing, a sum over the slices
        shares.append(float(np.abs(net * interval - gained[:, quantity]).sum() / max(passed, held, least_of_all)))
    return shares[0], shares[1]


def said_indoors(room: xr.Dataset) -> dict[str, Any]:
    """What an indoor model says about the air that people breathe, so that a report can repeat it."""
    kept = ("caution", "carbon_dioxide_guidance", "hours_at_saturation")
    return {f"indoor_{name}": room.attrs[name] for name in kept if name in room.attrs}


def attributes(
    assembly: Assembly,
    climate: Climate,
    indoor: IndoorModel,
    leak: AirLeak | None,
    rain: RainLoad | None,
    snow: Snow | None,
    first: Start,
    surface: Surface,
    air: MoistAir,
    record: Record,
) -> dict[str, Any]:
    """What was stated and assumed, how the books close, and what the solver did."""
    energy, water = audit(record)
    assumed = {
        "start": f"{first.temperature:g} degC and {100 * first.relative_humidity:g} % where a layer states nothing",
        "outer surface": repr(surface),
        "moist air": air.name,
    }
    return {
        "Conventions": "CF-1.8",
        "title": assembly.name,
        "hygro_version": __version__,
        "assembly": repr(assembly),
        "climate": climate.title,
        "climate_digest": climate.digest,
        "indoor": repr(indoor),
        "leak": "none" if leak is None else leak.describe(),
        "rain": "none" if rain is None else rain.describe(),
        "snow": "none" if snow is None else snow.describe(),
        "assumed": json.dumps(assumed),
        "audit_energy": energy,
        "audit_water": water,
        "evaluations": int(record.counts[:, 0].sum()),
        "newton_steps": int(record.counts[:, 1].sum()),
        "rejected_steps": int(record.counts[:, 2].sum()),
    }
