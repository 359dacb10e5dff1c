"""The invented places: what their weather is like, as parameters of the generator.

None is a real place and no number here is fitted to a station; the sizes follow common knowledge of such climates.
May import: errors.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from hygro.errors import ClimateError

_LIMITS: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "latitude": (-85.0, 85.0),
        "longitude": (-180.0, 180.0),
        "elevation": (-400.0, 5000.0),
        "utc_offset": (-12.0, 14.0),
        "mean_temperature": (-25.0, 35.0),
        "seasonal_swing": (0.0, 30.0),
        "warmest_day": (1.0, 366.0),
        "weather_swing_winter": (0.0, 12.0),
        "weather_swing_summer": (0.0, 12.0),
        "sun_warming": (0.0, 6.0),
        "night_cooling": (0.0, 12.0),
        "cold_pool": (0.0, 25.0),
        "dryness_winter": (0.0, 20.0),
        "dryness_summer": (0.0, 20.0),
        "cloudiness_winter": (-2.0, 2.0),
        "cloudiness_summer": (-2.0, 2.0),
        "turbidity": (1.0, 10.0),
        "precipitation": (0.0, 10000.0),
        "wet_hours": (0.005, 0.6),
        "wind_scale": (0.1, 20.0),
        "wind_shape": (0.8, 5.0),
        "wind_from": (0.0, 360.0),
        "wind_steadiness": (0.0, 5.0),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Parameters of an invented climate.

    Parameters
    ----------
    title : str
        Name shown to the reader.
    latitude, longitude : float
        Position, north and east positive. [degree]
    elevation : float
        Height above sea level. [m]
    utc_offset : float
        Local standard time minus UTC. [h]
    mean_temperature, seasonal_swing : float
        Mean air temperature, and half the difference between the warmest and the coldest season. [degC, K]
    warmest_day : float
        Day of the year on which the smooth season is warmest. [d]
    weather_swing_winter, weather_swing_summer : float
        Standard deviation of the changes that come with the air masses. [K]
    sun_warming : float
        Rise of the air per 100 W m-2 of sun, before the day's lag. [K]
    night_cooling : float
        Fall of the air under a clear sky. [K]
    cold_pool : float
        Further fall of stagnant air in long, clear, calm darkness; 0 where air cannot collect. [K]
    dryness_winter, dryness_summer : float
        Usual distance of the dew point below the day's mean temperature. [K]
    cloudiness_winter, cloudiness_summer : float
        Shift of the cloud cover; 0 gives as many clear as overcast hours. [1]
    turbidity : float
        Linke turbidity of the clear sky. [1]
    precipitation : float
        Rain and snow together in a year. [kg m-2 a-1]
    wet_hours : float
        Share of the hours with rain or snow. [1]
    wind_scale, wind_shape : float
        Weibull scale and shape of the wind speed at 10 m. [m s-1, 1]
    wind_from : float
        Prevailing direction the wind comes from. [degree]
    wind_steadiness : float
        How firmly it does; 0 is any direction. [1]
    is_valley : bool
        Whether the wind keeps to the valley's axis and turns between day and night.

    Raises
    ------
    ClimateError
        Where a number is outside what the generator can use.
    """

    title: str
    latitude: float
    longitude: float
    elevation: float
    utc_offset: float
    mean_temperature: float
    seasonal_swing: float
    warmest_day: float
    weather_swing_winter: float
    weather_swing_summer: float
    sun_warming: float
    night_cooling: float
    cold_pool: float
    dryness_winter: float
    dryness_summer: float
    cloudiness_winter: float
    cloudiness_summer: float
    turbidity: float
    precipitation: float
    wet_hours: float
    wind_scale: float
    wind_shape: float
    wind_from: float
    wind_steadiness: float
    is_valley: bool

    def __post_init__(self) -> None:
        for name, (lowest, highest) in _LIMITS.items():
            value = getattr(self, name)
            is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
            if not is_number or not lowest <= value <= highest:
                msg = (
                    f"Place {self.title!r}: {name} is {value!r}; a number from {lowest:g} to {highest:g} is needed. "
                    "Correct it."
                )
                raise ClimateError(msg)


PLACES: Final[Mapping[str, Place]] = MappingProxyType(
    {
        "hut_valley": Place(
            title="Hut valley (invented): cold continental valley",
            latitude=62.4,
            longitude=14.2,
            elevation=520.0,
            utc_offset=1.0,
            mean_temperature=1.4,
            seasonal_swing=12.6,
            warmest_day=203.0,
            weather_swing_winter=6.2,
            weather_swing_summer=3.2,
            sun_warming=2.5,
            night_cooling=3.5,
            cold_pool=11.0,
            dryness_winter=2.2,
            dryness_summer=5.2,
            cloudiness_winter=0.35,
            cloudiness_summer=0.25,
            turbidity=2.4,
            precipitation=680.0,
            wet_hours=0.14,
            wind_scale=2.6,
            wind_shape=1.5,
            wind_from=300.0,
            wind_steadiness=0.7,
            is_valley=True,
        ),
        "wet_coast": Place(
            title="Wet coast (invented): cold, windy sea coast",
            latitude=60.6,
            longitude=5.6,
            elevation=12.0,
            utc_offset=0.0,
            mean_temperature=6.1,
            seasonal_swing=5.6,
            warmest_day=216.0,
            weather_swing_winter=3.1,
            weather_swing_summer=1.9,
            sun_warming=1.6,
            night_cooling=1.8,
            cold_pool=0.0,
            dryness_winter=2.7,
            dryness_summer=2.8,
            cloudiness_winter=0.6,
            cloudiness_summer=0.45,
            turbidity=2.8,
            precipitation=1850.0,
            wet_hours=0.24,
            wind_scale=7.6,
            wind_shape=1.8,
            wind_from=215.0,
            wind_steadiness=0.9,
            is_valley=False,
        ),
        "subarctic": Place(
            title="Subarctic plain (invented): long dark winter",
            latitude=66.9,
            longitude=27.4,
            elevation=210.0,
            utc_offset=2.0,
            mean_temperature=-3.8,
            seasonal_swing=16.2,
            warmest_day=200.0,
            weather_swing_winter=6.4,
            weather_swing_summer=3.8,
            sun_warming=2.0,
            night_cooling=3.0,
            cold_pool=6.0,
            dryness_winter=2.0,
            dryness_summer=5.0,
            cloudiness_winter=0.2,
            cloudiness_summer=0.35,
            turbidity=2.1,
            precipitation=430.0,
            wet_hours=0.10,
            wind_scale=3.9,
            wind_shape=1.7,
            wind_from=190.0,
            wind_steadiness=0.5,
            is_valley=False,
        ),
    }
)
