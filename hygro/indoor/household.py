"""A household: what people do indoors against what the ventilation carries away, hour by hour.

May import: errors, constants, variables, core formulas.
"""

from __future__ import annotations

import html
import re
import warnings
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import pandas as pd
import xarray as xr

from hygro.constants import SPECIFIC_HEAT_AIR
from hygro.core.formulas import saturation_pressure_water
from hygro.errors import DangerWarning, HygroWarning, InputError
from hygro.indoor.air import (
    Array,
    indoor_air,
    outdoor_values,
    outdoor_vapour_pressure,
    running_mean,
)
from hygro.indoor.appliances import Buffer, Dehumidifier, ExtractFan, Ventilator
from hygro.indoor.curves import DAY
from hygro.indoor.guidance import CAUTION, carbon_dioxide_guidance, guidance_in_words, is_unhealthy
from hygro.indoor.infiltration import Infiltration
from hygro.indoor.limits import temperature_within, within
from hygro.indoor.sources import CARBON_MONOXIDE, Flame, Source
from hygro.indoor.zone import HOUR, Buffering, Drying, ZoneAir, ZoneForcing, zone_air, zone_carbon_dioxide
from hygro.variables import INDOOR

SUMMER_RISE: Final = 2.8  # [K] indoors above the outdoor running mean in summer, ASHRAE 160 (from memory)
AIR_DENSITY: Final = 1.204  # [kg m-3] dry air at 20 degC and 101325 Pa
OUTDOOR_CARBON_DIOXIDE: Final = 420.0  # [1e-6] by volume, about the year 2023 (from memory)


_SPOKEN: Final = {  # unit and factor in which a part's statement is shown
    "vapour_awake": ("kg/h", 1.0),
    "vapour_asleep": ("kg/h", 1.0),
    "activity_awake": ("met", 1.0),
    "activity_asleep": ("met", 1.0),
    "amount": ("kg", 1.0),
    "power": ("W", 1.0),
    "area": ("m²", 1.0),
    "flow": ("l/s", 1000.0),
    "conductance": ("kg/(m² s Pa)", 1.0),
    "heat_recovery": ("%", 100.0),
    "moisture_recovery": ("%", 100.0),
}


@dataclass(frozen=True, slots=True)
class Household:
    """Indoor air from an hourly balance of vapour and carbon dioxide in one well-mixed zone.

    The room is as warm as the heating's set point, or 2.8 K warmer than the last 24 hours outdoors if that is more.
    A stated infiltration and an extract fan add in quadrature (common practice); with `Infiltration` the fan draws its
    air through the leaks. A balanced ventilator adds to both.

    Parameters
    ----------
    volume : float
        Air volume. [m3]
    set_point : float or str
        Temperature that the heating holds. [degC]
    infiltration : float or Infiltration
        Air change by leakage alone, or the leaks from which it is found hour by hour. [h-1]
    sources : tuple of Source
        What gives off vapour and carbon dioxide: `People`, `MoistureEvent`, `Flame`.
    ventilator : Ventilator or None
        Balanced ventilator; None has to be said.
    extract : ExtractFan or None, optional
        Fan that blows out.
    buffers : tuple of Buffer, optional
        Surfaces that buffer; they act as one.
    dehumidifier : Dehumidifier or None, optional
        A dehumidifier.
    outdoor_carbon_dioxide : float, optional
        By volume. [1e-6]
    """

    volume: float
    set_point: float
    infiltration: float | Infiltration
    sources: tuple[Source, ...]
    ventilator: Ventilator | None
    extract: ExtractFan | None = None
    buffers: tuple[Buffer, ...] = ()
    dehumidifier: Dehumidifier | None = None
    outdoor_carbon_dioxide: float = OUTDOOR_CARBON_DIOXIDE

    def __post_init__(self) -> None:
        within(self.volume, 1.0, 1e5, "Household: volume", "m3")
        object.__setattr__(self, "set_point", temperature_within(self.set_point, "Household", 0.0, 35.0))
        if not isinstance(self.infiltration, Infiltration):
            within(self.infiltration, 0.001, 20.0, "Household: infiltration (no house is fully tight)", "h-1")
        within(self.outdoor_carbon_dioxide, 200.0, 2000.0, "Household: outdoor carbon dioxide", "1e-6")
        for name, items, kind in (("sources", self.sources, "vapour"), ("buffers", self.buffers, "capacity")):
            if not isinstance(items, tuple) or not all(hasattr(one, kind) for one in items):
                msg = f"Household: {name} are {items!r}; give a tuple of objects, such as (People(2),)."
                raise InputError(msg)
        for name, kinds in (("ventilator", Ventilator), ("extract", ExtractFan), ("dehumidifier", Dehumidifier)):
            stated = getattr(self, name)
            if stated is not None and not isinstance(stated, kinds):
                msg = f"Household: {name} is {stated!r}; give a {kinds.__name__} or None."
                raise InputError(msg)

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td style='text-align:left'>{html.escape(name)}</td>"
            f"<td style='text-align:left'>{html.escape(value)}</td></tr>"
            for name, value in _stated(self)
        )
        return f"<div><table>{rows}</table></div>"

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air for each hour of an outdoor record.

        Parameters
        ----------
        outdoor : xarray.Dataset
            Hourly record with ``air_temperature`` [degC] and ``relative_humidity`` over liquid water [1].

        Returns
        -------
        xarray.Dataset, dims (time,)
            ``indoor_temperature`` [degC] and ``indoor_relative_humidity`` [1] as hourly means, and the variables of
            the registry's table ``INDOOR``. Attribute ``water_balance`` is what the balance failed to account for, as a
            share of what was given off. [1]

        Raises
        ------
        InputError
            Where the record is not hourly or lacks a variable.

        Warns
        -----
        HygroWarning
            Where a flame burns without a flue, the air is above saturation, or its carbon dioxide exceeds guidance for
            health. The attribute ``carbon_dioxide_guidance`` says in words which guidance is exceeded.

        References
        ----------
        Mass balance of a well-mixed zone.
        """
        temperature = outdoor_values(outdoor, "air_temperature")
        indoor = np.maximum(self.set_point, running_mean(temperature, DAY) + SUMMER_RISE)
        ways = _ways(self, outdoor, temperature, indoor)
        vapour = _weekly(outdoor, sum((one.vapour() for one in self.sources), np.zeros((7, 24))))
        carbon_dioxide = _weekly(outdoor, sum((one.carbon_dioxide() for one in self.sources), np.zeros((7, 24))))
        pressure = outdoor_vapour_pressure(outdoor)
        forcing = ZoneForcing(indoor, pressure, vapour, ways.vapour_flow, ways.air_flow, carbon_dioxide)
        air = zone_air(forcing, self.volume, _buffering(self.buffers), _drying(self.dehumidifier))
        result = indoor_air(outdoor, indoor, air.pressure / saturation_pressure_water(indoor), self)
        fields = {
            "indoor_carbon_dioxide": 1e6
            * zone_carbon_dioxide(carbon_dioxide, ways.air_flow, self.volume, 1e-6 * self.outdoor_carbon_dioxide),
            "moisture_production": vapour,
            "moisture_removed": air.removed,
            "indoor_condensate": air.condensed,
            "outdoor_air_flow": ways.air_flow,
            "supply_temperature": ways.supply,
            "ventilation_heat": ways.heat,
            "recovered_heat": ways.recovered,
            "preheat_power": ways.preheat,
        }
        result = result.assign({name: INDOOR[name].holding(numbers) for name, numbers in fields.items()})
        result.attrs |= _report(self, vapour, air) | {"outdoor_carbon_dioxide": self.outdoor_carbon_dioxide}
        result.attrs |= _air_quality(result)
        return result


def _stated(household: Household) -> list[tuple[str, str]]:
    """What a household states, part by part, in words."""
    leaks = household.infiltration
    rows = [
        ("air volume", f"{household.volume:g} m³"),
        ("heated to", f"{household.set_point:g} °C"),
        ("leaks", repr(leaks) if isinstance(leaks, Infiltration) else f"{leaks:g} air changes an hour"),
    ]
    parts = [*household.sources, household.ventilator, household.extract, *household.buffers, household.dehumidifier]
    rows += [_part(one) for one in parts if one is not None]
    return [*rows, ("outdoor carbon dioxide", f"{household.outdoor_carbon_dioxide:g} ppm")]


def _part(part: object) -> tuple[str, str]:
    """Kind and statements of a part; empty ones are left out."""
    stated = {one.name: getattr(part, one.name) for one in fields(part)}  # type: ignore[arg-type]
    kind = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", type(part).__name__).lower()
    said = []
    for name, value in stated.items():
        if isinstance(value, float) and name in _SPOKEN:
            unit, factor = _SPOKEN[name]
            said.append(f"{name.replace('_', ' ')} {factor * value:g} {unit}")
        elif value not in ((), None):
            said.append(f"{name.replace('_', ' ')} {_spans(value)}")
    return kind, ", ".join(said)


def _spans(value: object) -> str:
    """A value; whole numbers in a row as spans, such as hours 9-16."""
    if not isinstance(value, tuple) or not all(isinstance(one, int) for one in value):
        return value if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else repr(value)
    runs: list[list[int]] = []
    for one in value:
        if runs and one == runs[-1][-1] + 1:
            runs[-1].append(one)
        else:
            runs.append([one])
    return " and ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


@dataclass(frozen=True, slots=True)
class _Ways:
    """The ways outdoor air comes in, each of shape (n_hour,)."""

    air_flow: Array  # [m3 s-1]
    vapour_flow: Array  # [m3 s-1] as far as vapour is exchanged
    supply: Array  # [degC]
    heat: Array  # [W]
    recovered: Array  # [W]
    preheat: Array  # [W]


def _ways(household: Household, outdoor: xr.Dataset, temperature: Array, indoor: Array) -> _Ways:
    extracted = np.zeros_like(temperature)
    if household.extract is not None:
        week = np.zeros((7, 24))
        week[:, list(household.extract.hours)] = household.extract.flow
        extracted = _weekly(outdoor, week)
    if isinstance(household.infiltration, Infiltration):
        unbalanced = household.infiltration.air_flow(outdoor, indoor, household.volume, extracted)
    else:
        unbalanced = np.hypot(household.infiltration * household.volume / HOUR, extracted)
    ventilator = household.ventilator or Ventilator(0.0, 0.0, 0.0)
    entering, running = ventilator.entering(temperature, indoor)
    balanced = ventilator.flow * running * _weekly(outdoor, np.tile(ventilator.day(), (7, 1)))
    supply = entering + ventilator.heat_recovery * (indoor - entering)
    capacity = AIR_DENSITY * SPECIFIC_HEAT_AIR  # [J m-3 K-1]
    return _Ways(
        air_flow=unbalanced + balanced,
        vapour_flow=unbalanced + balanced * (1.0 - ventilator.moisture_recovery),
        supply=supply,
        heat=capacity * (unbalanced * (indoor - temperature) + balanced * (indoor - supply)),
        recovered=capacity * balanced * (supply - entering),
        preheat=capacity * balanced * (entering - temperature),
    )


def _weekly(outdoor: xr.Dataset, week: Array) -> Array:
    """Values of a week, shape (7, 24), laid over the hours of a record; a stamp is the end of its hour."""
    begins = pd.DatetimeIndex(outdoor["time"].data - np.timedelta64(1, "h"))
    return np.asarray(week[begins.day_of_week.to_numpy(), begins.hour.to_numpy()], dtype=float)


def _buffering(buffers: tuple[Buffer, ...]) -> Buffering:
    return Buffering(
        conductance=sum(one.area * one.conductance for one in buffers),
        capacity=sum(one.area * one.capacity for one in buffers if one.area > 0.0),
    )


def _drying(dehumidifier: Dehumidifier | None) -> Drying | None:
    return Drying(dehumidifier.set_point, dehumidifier.capacity / HOUR) if dehumidifier else None


def _air_quality(air: xr.Dataset) -> dict[str, str]:
    """Say which guidance on carbon dioxide is exceeded, and warn where it is one for health."""
    if air.sizes["time"] < DAY:
        return {}
    checks = carbon_dioxide_guidance(air)
    words = guidance_in_words(checks)
    if is_unhealthy(checks):
        warnings.warn(f"Household: carbon dioxide exceeds guidance. {words} {CAUTION}", HygroWarning, stacklevel=3)
    return {"carbon_dioxide_guidance": words}


def _report(household: Household, vapour: Array, air: ZoneAir) -> dict[str, float | int | str]:
    """Tell the caller what condensed, what the balance missed and what could kill."""
    given, wet = float(vapour.sum() * HOUR), float(air.condensed.sum() * HOUR)
    gone = wet + float(air.removed.sum() * HOUR) + float(air.expelled.sum()) + air.stored[1] - air.stored[0]
    scale = max(given, float(np.abs(air.expelled).sum()), 1e-12)
    hours = int((air.condensed > 0.0).sum())
    attrs: dict[str, float | int | str] = {
        "hours_at_saturation": hours,
        "condensed_indoors": wet,
        "water_balance": (given - gone) / scale,
    }
    if hours:
        msg = (
            f"Household: the indoor air is at saturation in {hours} of {vapour.size} hours; {wet:.1f} kg condense "
            "indoors. Ventilate more or give off less."
        )
        warnings.warn(msg, HygroWarning, stacklevel=3)
    if warn_of_flames(household):
        attrs["caution"] = CARBON_MONOXIDE
    return attrs


def warn_of_flames(household: Household) -> bool:
    """Warn of carbon monoxide where a flame burns without a flue, and say whether one does."""
    burns = any(isinstance(one, Flame) and one.power > 0.0 for one in household.sources)
    if burns:
        warnings.warn(CARBON_MONOXIDE, DangerWarning, stacklevel=4)
    return burns
