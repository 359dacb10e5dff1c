"""The registry of names: every variable that a climate, a run or a criterion may carry, stated once.

Units are written in CF style. ``cell_methods`` follows the CF conventions: ``time: point`` is the value at the
stamp, ``time: mean`` the mean of the hour that ends at the stamp, ``time: sum`` its total. Relative humidity is a
fraction over liquid water at every temperature. May import: nothing of ours.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

import pandas as pd
import xarray as xr
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Variable:
    """One registered name."""

    name: str
    unit: str
    long_name: str
    dims: tuple[str, ...]
    lowest: float
    highest: float
    cell_methods: str = "time: point"

    def attrs(self) -> dict[str, str]:
        """CF attributes for a DataArray that carries this variable."""
        attrs = {"units": self.unit, "long_name": self.long_name}
        if "time" in self.dims:
            attrs["cell_methods"] = self.cell_methods
        return attrs

    def holding(self, values: NDArray[Any]) -> xr.Variable:
        """An array as the variable of this name, taken as it is.

        xarray would first ask whether the array is one of dask or pint, and load what of these is installed to find
        out: a quarter of a second.
        """
        return xr.Variable(self.dims, values, self.attrs(), fastpath=True)


def hour_ends(time: pd.DatetimeIndex) -> xr.Variable:
    """The coordinate of time of every record: the ends of its hours."""
    stamps = pd.DatetimeIndex(time.to_numpy(dtype="datetime64[ns]"))  # without a frequency, as a file gives it back
    return xr.Variable("time", stamps, {"long_name": "end of the hour, local standard time"})


def _table(*rows: Variable) -> Mapping[str, Variable]:
    return MappingProxyType({row.name: row for row in rows})


_T = ("time",)
_CELL = ("time", "slice", "cell")
_LAYER = ("time", "slice", "layer")
_SLICE = ("time", "slice")
_MEAN = "time: mean"
_SUM = "time: sum"
_ANY = math.inf  # of a word

CLIMATE: Final = _table(
    Variable("air_temperature", "degC", "outdoor air temperature", _T, -60.0, 60.0),
    Variable("relative_humidity", "1", "outdoor relative humidity over liquid water", _T, 0.0, 1.0),
    Variable("air_pressure", "Pa", "station air pressure", _T, 5.0e4, 1.1e5),
    Variable("wind_speed", "m s-1", "wind speed at 10 m", _T, 0.0, 60.0),
    Variable("wind_direction", "degree", "direction the wind comes from, clockwise from north", _T, 0.0, 360.0),
    Variable("global_horizontal_irradiance", "W m-2", "global irradiance on the horizontal", _T, 0.0, 1500.0, _MEAN),
    Variable("direct_normal_irradiance", "W m-2", "direct normal irradiance", _T, 0.0, 1400.0, _MEAN),
    Variable("diffuse_horizontal_irradiance", "W m-2", "diffuse irradiance on the horizontal", _T, 0.0, 900.0, _MEAN),
    Variable("longwave_down", "W m-2", "downward long-wave irradiance on the horizontal", _T, 50.0, 600.0, _MEAN),
    Variable("rain", "kg m-2", "rain on the horizontal in the hour", _T, 0.0, 200.0, _SUM),
    Variable("cloud_cover", "1", "fraction of the sky covered by cloud", _T, 0.0, 1.0),
)

RUN: Final = _table(
    Variable("temperature", "degC", "temperature", _CELL, -80.0, 120.0),
    Variable("relative_humidity", "1", "relative humidity over liquid water", _CELL, 0.0, 1.0),
    Variable("water_content", "kg m-3", "water content, ice included", _CELL, 0.0, 2000.0),
    Variable("ice_content", "kg m-3", "ice content", _CELL, 0.0, 2000.0),
    Variable("layer_water", "kg m-2", "water held by the layer, ice included", _LAYER, 0.0, 1000.0),
    Variable("outer_surface_temperature", "degC", "outer surface temperature", _SLICE, -80.0, 120.0),
    Variable("inner_surface_temperature", "degC", "inner surface temperature", _SLICE, -80.0, 120.0),
    Variable("gap_air_temperature", "degC", "mean air temperature in the gap", _SLICE, -80.0, 120.0),
    Variable("gap_vapour_pressure", "Pa", "mean vapour pressure in the gap", _SLICE, 0.0, 5.0e4),
    Variable("gap_air_speed", "m s-1", "air speed in the gap, positive from inlet to outlet", _T, -20.0, 20.0),
    Variable("gap_air_change_rate", "h-1", "air change rate of the gap", _T, 0.0, 1.0e5),
    Variable("leak_air_flow", "kg m-2 s-1", "air leaking from indoors to outdoors", _T, -1.0, 1.0),
    Variable(
        "outdoor_heat_flux", "W m-2", "heat into the outer surface, vapour enthalpy included", _SLICE, -5e3, 5e3, _MEAN
    ),
    Variable(
        "indoor_heat_flux", "W m-2", "heat into the inner surface, vapour enthalpy included", _SLICE, -5e3, 5e3, _MEAN
    ),
    Variable("gap_heat_flux", "W m-2", "heat from the gap's air into the build-up", _SLICE, -5e3, 5e3, _MEAN),
    Variable("outdoor_moisture_flux", "kg m-2 s-1", "vapour into the outer surface", _SLICE, -0.1, 0.1, _MEAN),
    Variable("indoor_moisture_flux", "kg m-2 s-1", "vapour into the inner surface", _SLICE, -0.1, 0.1, _MEAN),
    Variable(
        "gap_moisture_flux", "kg m-2 s-1", "vapour from the gap's air into the build-up", _SLICE, -0.1, 0.1, _MEAN
    ),
    Variable(
        "leak_moisture_flux", "kg m-2 s-1", "vapour left in the build-up by leaking air", _SLICE, -0.1, 0.1, _MEAN
    ),
    Variable("rain_absorbed", "kg m-2 s-1", "rain taken up by the outer surface", _SLICE, 0.0, 0.1, _MEAN),
    Variable("rain_leak", "kg m-2 s-1", "rain let in by a defect", _SLICE, 0.0, 0.1, _MEAN),
    Variable("rain_run_off", "kg m-2 s-1", "rain that ran off the surface", _SLICE, 0.0, 0.1, _MEAN),
    Variable("snow_depth", "m", "depth of the snow on the roof", _T, 0.0, 20.0),
    Variable("drip", "kg m-2 s-1", "condensate that dripped from films", _SLICE, 0.0, 0.1, _MEAN),
    Variable("shed_outside", "kg m-2 s-1", "water that ran down a full outer face", _SLICE, 0.0, 0.1, _MEAN),
    Variable("outdoor_temperature", "degC", "outdoor air temperature", _T, -60.0, 60.0),
    Variable("outdoor_relative_humidity", "1", "outdoor relative humidity over liquid water", _T, 0.0, 1.0),
    Variable("indoor_temperature", "degC", "indoor air temperature", _T, -60.0, 60.0),
    Variable("indoor_relative_humidity", "1", "indoor relative humidity", _T, 0.0, 1.0),
)

COORDINATES: Final = _table(
    Variable("cell_position", "m", "distance of the cell's centre from the outer surface", ("cell",), 0.0, 10.0),
    Variable("cell_thickness", "m", "thickness of the cell", ("cell",), 0.0, 10.0),
    Variable("cell_layer", "1", "number of the layer the cell belongs to, from outside", ("cell",), 0.0, 200.0),
    Variable("cell_is_film", "1", "1 for a condensate film on a vapour-tight face", ("cell",), 0.0, 1.0),
    Variable("layer_thickness", "m", "thickness of the layer", ("layer",), 0.0, 10.0),
    Variable("layer_density", "kg m-3", "dry density of the layer", ("layer",), 0.0, 2.0e4),
    Variable("layer_bound_water", "kg m-3", "water the layer binds before free water", ("layer",), 0.0, 2000.0),
    Variable("layer_is_wood", "1", "1 for wood and wood-based boards", ("layer",), 0.0, 1.0),
    Variable(
        "layer_mould_sensitivity", "1", "mould sensitivity class in words, empty for none", ("layer",), -_ANY, _ANY
    ),
    Variable("slice_position", "m", "distance of the slice's centre from the inlet", ("slice",), 0.0, 100.0),
)

INDOOR: Final = _table(
    Variable("indoor_carbon_dioxide", "1e-6", "carbon dioxide of the indoor air by volume", _T, 0.0, 1e6, _MEAN),
    Variable("moisture_production", "kg s-1", "vapour given off indoors", _T, 0.0, 0.1, _MEAN),
    Variable("moisture_removed", "kg s-1", "vapour removed by the dehumidifier", _T, 0.0, 0.1, _MEAN),
    Variable("indoor_condensate", "kg s-1", "vapour above saturation, condensed indoors", _T, 0.0, 0.1, _MEAN),
    Variable("outdoor_air_flow", "m3 s-1", "outdoor air let in, by all ways", _T, 0.0, 100.0, _MEAN),
    Variable("supply_temperature", "degC", "temperature of the ventilator's supply air", _T, -60.0, 60.0, _MEAN),
    Variable("ventilation_heat", "W", "heat that brings the outdoor air to room temperature", _T, -1e6, 1e6, _MEAN),
    Variable("recovered_heat", "W", "heat that the ventilator takes back from the exhaust", _T, -1e6, 1e6, _MEAN),
    Variable("preheat_power", "W", "heat that keeps the ventilator free of frost", _T, 0.0, 1e6, _MEAN),
)

CRITERION: Final = _table(
    Variable("moisture_content", "%", "moisture content of the dry mass", _SLICE, 0.0, 500.0),
    Variable(
        "mould_index", "1", "mould index (0 none, 1 seen by microscope, 3 seen by eye, 6 covered)", _SLICE, 0.0, 6.0
    ),
    Variable("condensate", "kg m-2", "free water and ice past what the material binds", _SLICE, 0.0, 1000.0),
    Variable("frost", "kg m-2", "ice in the layer", _SLICE, 0.0, 1000.0),
    Variable("frost_peak", "kg m-2", "most ice in the layer in the winter", ("winter", "slice"), 0.0, 1000.0),
    Variable("condensate_peak", "kg m-2", "most free water in the half year", ("season", "slice"), 0.0, 1000.0),
    Variable("drip_total", "kg m-2", "condensate that dripped in the half year", ("season", "slice"), 0.0, 1000.0),
    Variable("temperature_30_day", "degC", "mean temperature of the last 30 days", _SLICE, -80.0, 120.0, _MEAN),
    Variable("relative_humidity_30_day", "1", "mean relative humidity of the last 30 days", _SLICE, 0.0, 1.0, _MEAN),
    Variable("decay_activation", "1", "activation of decay (1 from where wood loses mass)", _SLICE, 0.0, 1.0),
    Variable("decay_mass_loss", "%", "mass of wood lost to decay", _SLICE, 0.0, 100.0),
    Variable("corrosive", "1", "whether fasteners would rust (1) or not (0)", _SLICE, 0.0, 1.0),
    Variable("yearly_gain", "kg m-2 year-1", "change of the layer's water in a year", ("year", "slice"), -1e3, 1e3),
    Variable("retarder_relative_humidity", "1", "relative humidity just outside the retarder", _SLICE, 0.0, 1.0),
    Variable("excess_water", "kg m-2", "water above that of the run without a wetting", _SLICE, -1000.0, 1000.0),
)

_NODE = ("month", "node")

STEADY: Final = _table(
    Variable("interface_temperature", "degC", "temperature of the interface", _NODE, -80.0, 120.0),
    Variable("interface_vapour_pressure", "Pa", "vapour pressure at the interface", _NODE, 0.0, 5.0e4),
    Variable("interface_saturation_pressure", "Pa", "saturation pressure at the interface", _NODE, 0.0, 5.0e4),
    Variable("condensate_change", "kg m-2", "water condensed in the month, negative where it dried", _NODE, -1e3, 1e3),
    Variable("condensate_held", "kg m-2", "water held at the end of the month", _NODE, 0.0, 1e3),
)
