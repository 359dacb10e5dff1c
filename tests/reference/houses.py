"""Measured roofs and cavities, and the nearest case that the package can state. Nothing is fitted to the measurements.

Cold roofs: open data set "TRH", six Finnish houses, hourly, February 2011 to January 2012 (CC-BY 4.0; weather by the
Finnish Meteorological Institute). The files are not at hand here: the figures below are statistics worked from them
earlier. The weather of that year is not at hand either. Its printed statistics (mean and swing of the temperature,
spread of its changes, wind, precipitation, wet hours) are given to the weather generator, whose other parameters are
those of its cold valley without the valley's cold pools; three invented years show what weather alone may change.

What the tool cannot state: an attic. R6's sensor lies in the gap between underlay and profiled metal, R4's between
underlay and tiles, both over an attic; the cases have gap and insulation, the attic left out, the tiles as a board of
fibre cement without laps. R3's lies at the underside of the boarded deck over 0.5 m of attic air; the case has that
attic as one gap of 0.5 m (the largest that may be stated), with the eaves open by 20 mm (its openings are not recorded:
common practice).

Cavities: field studies of the air change behind cladding, read as abstracts: Langmans, Desta, Alderweireldt, Roels 2016
(Belgium: 100 to 1000 per hour behind lap siding); a test hut in British Columbia (ventilated cavity: 0 to 650 per hour,
more than 100 for 75 % of the time, mean speed 0.18 m/s). Their walls, openings and weather are not known in detail: the
case is a 19 mm cavity, 2.4 m high, open by 10 mm at both ends behind a screen (common practice there), with the real
cool maritime year that comes with pvlib (TMY3, station 703165), facing each quarter of the compass.
"""

from __future__ import annotations

import warnings
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pvlib

import hygro
from hygro import Assembly, ByWindAndBuoyancy, Layer, Sheet, VentGap
from hygro.climate import Climate, generate_climate, read_climate
from hygro.climate.places import PLACES, Place
from hygro.criteria.mould import VERY_SENSITIVE, mould_index_series
from hygro.indoor import IndoorArrays
from hygro.materials import equilibrium_moisture_content

SEEDS = (1, 2, 3)


class AtSensor(NamedTuple):
    """A year at a sensor: warmth against outdoor air, humidity, vapour against outdoors, and what wood makes of it."""

    warmer: float  # [K] mean over outdoor air
    humidity: float  # [%] mean
    winter_humidity: float  # [%] December to February
    summer_humidity: float  # [%] June to August
    excess: float  # [g m-3] mean vapour over outdoor air
    damp_hours: float  # [h] above 80 %
    wet_hours: float  # [h] above 90 %
    winter_wood: float  # [mass %] equilibrium of wood, December to February
    summer_wood: float  # [mass %] June to August
    mould: float  # [1] highest index of the most sensitive class, starting at 0
    undercooled: float  # [K] first percentile of the difference to outdoor air
    sunlit: float  # [K] 99th percentile


UNITS = AtSensor("K", "%", "%", "%", "g m-3", "h", "h", "mass %", "mass %", "1", "K", "K")
WORDS = AtSensor(
    "mean warmth over outdoor air", "mean humidity", "humidity, December to February", "humidity, June to August",
    "mean vapour over outdoor air", "hours above 80 %", "hours above 90 %", "wood at equilibrium, winter",
    "wood at equilibrium, summer", "mould index, most sensitive class", "1st percentile of warmth over outdoor air",
    "99th percentile of warmth over outdoor air",
)  # fmt: skip
MEASURED = {
    "R6": AtSensor(2.18, 71.3, 86.1, 54.7, -0.45, 3746, 2031, 20.3, 10.5, 0.55, -2.5, 15.2),
    # its record stands at 99.9 % in December: the sensor may have been wet
    "R4": AtSensor(2.58, 77.2, 91.2, 60.0, 0.19, 5034, 3732, 23.7, 12.3, 5.36, -2.6, 18.5),
    "R3": AtSensor(2.72, 72.4, 85.5, 55.6, -0.05, 4155, 2156, 19.9, 10.9, 0.54, np.nan, np.nan),
}
# attic air and decks of all six houses: lowest and highest
BAND = {"warmer": (1.7, 2.8), "winter_humidity": (80.0, 88.0), "summer_humidity": (52.0, 63.0), "excess": (-0.6, 0.05)}
INDOOR_HUMIDITY = (35.0, 28.2, 27.2, 31.1, 35.8, 46.2, 55.9, 52.3, 53.1, 41.5, 39.5, 35.9)  # [%] R6, from January

_VALLEY = {name: getattr(PLACES["hut_valley"], name) for name in Place.__slots__}
STATION = Place(
    **_VALLEY
    | {
        "title": "invented, with the printed statistics of a Finnish station", "latitude": 61.3, "longitude": 24.0,
        "elevation": 90.0, "utc_offset": 2.0, "mean_temperature": 5.99, "seasonal_swing": 12.73, "warmest_day": 208.0,
        "weather_swing_winter": 5.08, "weather_swing_summer": 5.08, "cold_pool": 0.0, "precipitation": 556.0,
        "wet_hours": 0.094, "wind_scale": 4.04, "wind_shape": 1.87, "is_valley": False,
    }
)  # fmt: skip


def metal_roof() -> Assembly:
    """R6: profiled metal, gap, underlay, half a metre of wood fibre, polyethylene, lining."""
    gap = VentGap("50 mm", length="5 m", flow=ByWindAndBuoyancy(inlet="20 mm", outlet="20 mm"))
    inner = [Sheet("breather membrane"), Layer("wood fibre batt", "500 mm", name="insulation")]
    return _roof("metal roof", [Layer("steel sheet", "0.5 mm", name="metal"), gap, *inner], "dark coated metal")


def tiled_roof() -> Assembly:
    """R4: tiles, gap, underlay, 200 mm of mineral wool, polyethylene, lining."""
    gap = VentGap("50 mm", length="5 m", flow=ByWindAndBuoyancy(inlet="20 mm", outlet="20 mm"))
    inner = [Sheet("breather membrane"), Layer("mineral wool batt", "200 mm", name="insulation")]
    return _roof("tiled roof", [Layer("fibre-cement board", "10 mm", name="tiles"), gap, *inner], "red clay tile")


def boarded_roof() -> Assembly:
    """R3: bitumen on boards, half a metre of attic air, half a metre of glass wool, polyethylene, lining."""
    attic = VentGap("500 mm", length="8 m", flow=ByWindAndBuoyancy(inlet="20 mm", outlet="20 mm"))
    outer = [Sheet("bitumen sheet 3 mm"), Layer("softwood", "22 mm", name="deck"), attic]
    return _roof("boarded roof", [*outer, Layer("glass wool batt", "500 mm", name="insulation")], "black membrane")


def _roof(name, parts, finish):
    inner = [Sheet("polyethylene 0.15 mm"), Layer("gypsum board", "13 mm", name="lining")]
    return Assembly(name, [*parts, *inner], tilt="15 deg", azimuth="135 deg", finish=finish)


ROOFS = {"R6": metal_roof, "R4": tiled_roof, "R3": boarded_roof}


SETTLING = 24 * 92  # [h] November to January


@cache
def roof_year(house: str, seed: int):
    """A year of February to January after a winter's quarter to settle in: [Dataset]."""
    long = generate_climate(STATION, seed, years=3).period("1 November", 2)
    climate = Climate(long.data.isel(time=slice(0, SETTLING + 8760)))
    humidity = np.array(INDOOR_HUMIDITY)[climate.time.month - 1] / 100.0
    indoor = IndoorArrays(np.full(len(humidity), 21.0), humidity)
    return hygro.simulate(ROOFS[house](), climate, indoor).isel(time=slice(SETTLING, None))


def at_sensor(run) -> AtSensor:
    """Statistics of the gap's air, the mean along its length, as they were worked from the sensor's hours."""
    t = run["gap_air_temperature"].mean("slice").to_numpy()
    p = run["gap_vapour_pressure"].mean("slice").to_numpy()
    out = run["outdoor_temperature"].to_numpy()
    air = hygro.MoistAir()
    phi = np.minimum(p / air.over_water(t), 1.0)
    p_out = run["outdoor_relative_humidity"].to_numpy() * air.over_water(out)
    vapour = 1000.0 / 461.5 * (p / (t + 273.15) - p_out / (out + 273.15))
    month = run["time"].dt.month.to_numpy()
    winter, summer = np.isin(month, (12, 1, 2)), np.isin(month, (6, 7, 8))
    wood = 100.0 * equilibrium_moisture_content(phi, t)
    low, high = np.percentile(t - out, (1.0, 99.0))
    return AtSensor(
        (t - out).mean(), 100 * phi.mean(), 100 * phi[winter].mean(), 100 * phi[summer].mean(), vapour.mean(),
        (phi > 0.8).sum(), (phi > 0.9).sum(), wood[winter].mean(), wood[summer].mean(),
        mould_index_series(t, phi, VERY_SENSITIVE).max(), low, high,
    )  # fmt: skip


@cache
def modelled(house: str) -> tuple[AtSensor, ...]:
    """The sensor's statistics in three invented years."""
    return tuple(at_sensor(roof_year(house, seed)) for seed in SEEDS)


def cavity_wall(azimuth: float, outlet_bearing: float | None = None) -> Assembly:
    """A wall with a ventilated cavity behind boards."""
    openings = ByWindAndBuoyancy(inlet="10 mm", outlet="10 mm", screen=0.5, outlet_bearing=outlet_bearing)
    return Assembly(
        "cavity wall",
        [
            Layer("fibre-cement board", "8 mm", name="cladding"),
            VentGap("19 mm", length="2.4 m", flow=openings),
            Sheet("house wrap"),
            Layer("OSB", "11 mm", name="sheathing"),
            Layer("mineral wool batt", "140 mm", name="insulation"),
            Sheet("polyethylene 0.15 mm"),
            Layer("gypsum board", "12.5 mm", name="lining"),
        ],
        tilt=90.0,
        azimuth=azimuth,
        finish="weathered wood",
    )


@cache
def cavity_year(azimuth: float, outlet_bearing: float | None = None):
    """A year of the cavity in the cool maritime climate: [Dataset]."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*rain is missing")  # nothing here drinks any
        climate = read_climate(Path(pvlib.__file__).parent / "data" / "703165TY.csv", format="tmy3")
    return hygro.simulate(cavity_wall(azimuth, outlet_bearing), climate, hygro.indoor.StandardCurves())
