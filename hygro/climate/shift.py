r"""A climate made warmer, colder, wetter, drier, sunnier or windier, for what-ifs; all that hangs together moves.

Vapour is either kept as relative humidity (what warming does over land and sea, to first order) or as vapour pressure
(the same water in warmer air). Long-wave follows temperature and dew point by the clear-sky formula, in the ratio of
new to old, so that what cloud and measurement say is kept:

.. math:: L' = L \, \frac{\varepsilon(T'_{dp}) T'^4}{\varepsilon(T_{dp}) T^4}

May import: errors, constants, units, core formulas, humidity, record, sky.
"""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from hygro.climate.humidity import FloatArray, ice_activity
from hygro.climate.record import Climate
from hygro.climate.sky import black_body, hour_mean, longwave_down
from hygro.core.formulas import saturation_pressure_water
from hygro.errors import ClimateError
from hygro.units import to_si

_SUN: Final = ("global_horizontal_irradiance", "direct_normal_irradiance", "diffuse_horizontal_irradiance")
_LARGEST: Final = 15.0  # [K] beyond it the record would be another place, not a what-if
_ALL_RAIN: Final = 2.0  # [degC] from here on all precipitation is liquid, none at 0 degC; common practice


def shifted(
    climate: Climate,
    *,
    temperature: float | str = 0.0,
    keep: Literal["relative humidity", "vapour pressure"] | None = None,
    vapour: float = 1.0,
    rain: float = 1.0,
    sun: float = 1.0,
    wind: float = 1.0,
    title: str | None = None,
) -> Climate:
    """Climate for a what-if: warmer or colder, damper, rainier, sunnier, windier.

    Parameters
    ----------
    climate : Climate
        Record to start from.
    temperature : float or str
        Added to the air temperature in every hour; 2 or ``"2 K"`` is warmer. [K]
    keep : "relative humidity" or "vapour pressure"
        What stays as it is while the temperature changes; has to be said where it changes.
    vapour : float
        Factor on the vapour pressure that results. [1]
    rain, sun, wind : float
        Factors on rain, on all irradiance of the sun, and on wind speed. [1]
    title : str, optional
        Name of the new record; the old one with the changes otherwise.

    Returns
    -------
    Climate
        Its ``title``, ``notes`` and ``history`` say what was changed and in how many hours the air was held at
        saturation.

    Raises
    ------
    InputError
        Where a value cannot be read.
    ClimateError
        Where a change is out of range, contradicts itself or would give impossible weather.

    Notes
    -----
    No hour is left above saturation: over liquid water, or below 0 degC over ice, or as far above ice as the record
    itself was in that hour. Cooling turns rain near 0 degC into snow, which the record does not count; warming cannot
    bring back what fell as snow, so that winter rain of a warmer climate is too little. Cloud and pressure stay.

    References
    ----------
    Clark and Allen (1978) for the clear sky; constant relative humidity under warming is a first-order finding of
    climate science (from memory), constant vapour pressure its dry bound.
    """
    if not isinstance(climate, Climate):
        msg = f"shifted: climate is {type(climate).__name__}; pass a Climate, such as sample_climate('hut_valley')."
        raise ClimateError(msg)
    name = climate.title
    factors = {"vapour": vapour, "rain": rain, "sun": sun, "wind": wind}
    rise = checked_rise(f"Climate {name!r} shifted", temperature, keep, factors)
    data = climate.data
    old_air, old_humidity = data["air_temperature"].to_numpy(), data["relative_humidity"].to_numpy()
    air = old_air + rise
    humidity = old_humidity * vapour
    if keep == "vapour pressure":
        humidity = humidity * saturation_pressure_water(old_air) / saturation_pressure_water(air)
    humidity, held = _held(humidity, air, old_humidity, old_air)
    columns = {
        "air_temperature": air,
        "relative_humidity": humidity,
        "wind_speed": data["wind_speed"].to_numpy() * wind,
        "rain": data["rain"].to_numpy() * rain * _still_liquid(old_air, air),
        "longwave_down": _longwave(climate, air, humidity),
    }
    columns |= {one: data[one].to_numpy() * sun for one in _SUN}
    words = _words(rise, keep, factors)
    new = data.assign({one: data[one].copy(data=values) for one, values in columns.items()})
    notes = [note for note in (str(data.attrs.get("notes", "")),) if note]
    notes.append(f"shifted: {', '.join(words)} (long-wave recomputed, air held at saturation in {held} hours)")
    history = [one for one in (str(data.attrs.get("history", "")),) if one]
    history.append(f"{name!r} shifted: {', '.join(words)}")
    return Climate(
        new.assign_attrs(
            title=f"{name}, {', '.join(words)}" if title is None else title,
            notes="; ".join(notes),
            history="; ".join(history),
        )
    )


def checked_rise(what: str, temperature: float | str, keep: object, factors: dict[str, float]) -> float:
    """Change of temperature, where it and the factors make a shift that can be.

    Parameters
    ----------
    what : str
        How errors begin.
    temperature : float or str
        Added to the air temperature. [K]
    keep : object
        What stays as it is.
    factors : dict of str to float
        The others by name. [1]

    Returns
    -------
    float
        The same. [K]

    Raises
    ------
    InputError
        Where the temperature cannot be read.
    ClimateError
        Where a change is out of range, contradicts itself, or nothing is changed.
    """
    rise = to_si(temperature, "temperature difference", f"{what}: temperature")
    if abs(rise) > _LARGEST:
        msg = (
            f"{what}: temperature is {rise:g} K; it must lie between -{_LARGEST:g} and {_LARGEST:g}. It is a "
            "difference: write 2 or '2 K'."
        )
        raise ClimateError(msg)
    if keep not in (None, "relative humidity", "vapour pressure") or (rise != 0.0 and keep is None):
        msg = (
            f"{what}: keep is {keep!r}; say 'relative humidity' or 'vapour pressure', as what the vapour does is not a "
            "matter of course."
        )
        raise ClimateError(msg)
    for name, factor in factors.items():
        high = 1.5 if name == "sun" else 5.0
        if isinstance(factor, bool) or not isinstance(factor, (int, float)) or not 0.0 <= factor <= high:
            msg = f"{what}: {name} is {factor!r}; it must be a factor from 0 to {high:g}."
            raise ClimateError(msg)
    if rise == 0.0 and all(factor == 1.0 for factor in factors.values()):
        msg = f"{what}: nothing is changed. State temperature, vapour, rain, sun or wind."
        raise ClimateError(msg)
    return rise


def _held(
    humidity: FloatArray, air: FloatArray, old_humidity: FloatArray, old_air: FloatArray
) -> tuple[FloatArray, int]:
    """Relative humidity held at saturation, and the number of hours in which it was."""
    excess = np.maximum(old_humidity / ice_activity(old_air), 1.0)
    highest = np.minimum(ice_activity(air) * excess, 1.0)
    return np.minimum(humidity, highest), int((humidity > highest * (1.0 + 1e-12)).sum())


def _liquid(air: FloatArray) -> FloatArray:
    return np.clip(air / _ALL_RAIN, 0.0, 1.0)


def _still_liquid(old: FloatArray, new: FloatArray) -> FloatArray:
    """Share of the rain that stays rain when the air gets colder; what fell as rain in frost stays."""
    before = _liquid(old)
    return np.where((new < old) & (before > 0.0), _liquid(new) / np.maximum(before, 1e-12), 1.0)


def _longwave(climate: Climate, air: FloatArray, humidity: FloatArray) -> FloatArray:
    data = climate.data
    if not climate.has_radiation:
        return black_body(air)
    clear = np.zeros_like(air)
    before = longwave_down(
        hour_mean(data["air_temperature"].to_numpy()), hour_mean(data["relative_humidity"].to_numpy()), clear
    )
    result: FloatArray = (
        data["longwave_down"].to_numpy() * longwave_down(hour_mean(air), hour_mean(humidity), clear) / before
    )
    return result


def _words(rise: float, keep: str | None, factors: dict[str, float]) -> list[str]:
    words = []
    if rise:
        words.append(f"{abs(rise):g} K {'warmer' if rise > 0.0 else 'colder'} at the same {keep}")
    spoken = {"vapour": "vapour pressure", "rain": "rain", "sun": "sun", "wind": "wind"}
    words += [f"{spoken[what]} times {factor:g}" for what, factor in factors.items() if factor != 1.0]
    return words
