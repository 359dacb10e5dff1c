"""The sun over a whole hour, and the split of global irradiance into direct and diffuse.

May import: humidity (types only); pvlib on first use.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from hygro.climate.humidity import FloatArray

_PARTS: Final = 6  # sun positions per hour: ten minutes resolve sunrise and sunset
_LOWEST_COSINE: Final = 0.065  # [1] as in pvlib's decompositions: below this the split is not trusted


class HourlySun(NamedTuple):
    """Sun of each hour, shape (time,)."""

    cos_zenith: FloatArray  # [1] mean over the hour of max(cos zenith, 0)
    zenith: FloatArray  # [degree, true] of the hour's mean cosine
    extraterrestrial: FloatArray  # [W m-2] normal to the beam
    day_of_year: FloatArray  # [d]


def solar_noon(longitude: float, utc_offset: float) -> float:
    """Clock time at which the sun stands highest, averaged over the year.

    Parameters
    ----------
    longitude : float
        Longitude, east positive. [degree]
    utc_offset : float
        Local standard time minus UTC. [h]

    Returns
    -------
    float
        Hour of the day in local standard time. [h]

    References
    ----------
    15 degrees of longitude are one hour; the equation of time averages to zero over the year.
    """
    return (12.0 + utc_offset - longitude / 15.0) % 24.0


def hourly_sun(time: pd.DatetimeIndex, latitude: float, longitude: float, utc_offset: float) -> HourlySun:
    """Sun position averaged over the hour that ends at each stamp.

    Parameters
    ----------
    time : DatetimeIndex, shape (time,)
        Ends of the hours, local standard time. [time]
    latitude, longitude : float
        Position, north and east positive. [degree]
    utc_offset : float
        Local standard time minus UTC. [h]

    Returns
    -------
    HourlySun
        Mean cosine of the zenith angle, its angle, and the extraterrestrial irradiance.

    References
    ----------
    Solar position: Reda and Andreas (2004), Solar Energy 76, 577-589; extraterrestrial irradiance: Spencer (1971).
    Both by pvlib.
    """
    # Imported here: pvlib costs half a second and not every climate has a sun.
    from pvlib import irradiance, solarposition

    cosines = np.zeros(len(time))
    universal = (time - pd.Timedelta(hours=utc_offset)).tz_localize("UTC")
    for part in range(_PARTS):
        moment = universal - pd.Timedelta(hours=(part + 0.5) / _PARTS)
        zenith = solarposition.spa_python(moment, latitude, longitude, how="numpy")["zenith"].to_numpy()
        cosines += np.maximum(np.cos(np.radians(zenith)), 0.0) / _PARTS
    day = time.day_of_year.to_numpy().astype(np.float64)
    extraterrestrial = np.asarray(irradiance.get_extra_radiation(day), dtype=np.float64)
    return HourlySun(cosines, np.degrees(np.arccos(cosines)), extraterrestrial, day)


def split_global(global_irradiance: FloatArray, sun: HourlySun) -> tuple[FloatArray, FloatArray]:
    """Direct normal and diffuse irradiance behind an hour's global irradiance.

    Parameters
    ----------
    global_irradiance : ndarray, shape (time,)
        Mean global irradiance on the horizontal. [W m-2]
    sun : HourlySun
        Sun of the same hours.

    Returns
    -------
    direct_normal, diffuse_horizontal : ndarray, shape (time,)
        The two parts; diffuse plus direct times the mean cosine gives the global back. [W m-2]

    References
    ----------
    Erbs, Klein and Duffie (1982), Solar Energy 28, 293-302, eq. 1, as in pvlib.
    """
    from pvlib import irradiance

    parts = irradiance.erbs(global_irradiance, sun.zenith, sun.day_of_year)
    direct, diffuse = np.asarray(parts["dni"], dtype=np.float64), np.asarray(parts["dhi"], dtype=np.float64)
    # Below 0.065 the mean cosine is not trusted: all of it counts as diffuse, and the sum stays whole.
    trusted = sun.cos_zenith > _LOWEST_COSINE
    return np.where(trusted, direct, 0.0), np.where(trusted, diffuse, global_irradiance)
