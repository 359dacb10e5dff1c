"""The controls: names, one-line explanations, ranges, stops and units; and reading what was typed.

A slider has stops rather than a step, so that it moves in round numbers of the unit it shows.
May import: subject, state, units, materials, errors.
"""

from __future__ import annotations

import calendar
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from typing import Any, Final

from hygro import materials
from hygro.errors import InputError
from hygro.units import DELTA_AIR_REFERENCE, PERM, to_si
from hygro.widgets.state import Air, State
from hygro.widgets.subject import Subject


class Units(StrEnum):
    """Units of the whole panel."""

    METRIC = "mm, s_d"
    TRADE = "inch, perm"


def _same(value: float) -> float:
    return value


def _inverse_s_d(value: float) -> float:
    return DELTA_AIR_REFERENCE / value


@dataclass(frozen=True, slots=True)
class Scale:
    """How a quantity is shown: its unit and the stops of its slider, in the order of the slider."""

    unit: str
    stops: tuple[float, ...]
    to_si: Callable[[float], float] = _same
    from_si: Callable[[float], float] = _same

    def text(self, value: float) -> str:
        """Number as shown of an SI value."""
        shown = self.from_si(value)
        return f"{shown:.0f}" if abs(shown) >= 99.5 else f"{shown:.3g}"


@lru_cache(maxsize=64)
def stops_in_si(scale: Scale) -> tuple[float, ...]:
    """Stops of a scale as SI values."""
    return tuple(scale.to_si(stop) for stop in scale.stops)


def _by(factor: float, unit: str, stops: tuple[float, ...]) -> Scale:
    return Scale(unit, stops, lambda shown: shown * factor, lambda value: value / factor)


def _even(last: float, step: float, first: float = 0.0) -> tuple[float, ...]:
    return tuple(round(first + step * number, 6) for number in range(round((last - first) / step) + 1))


def _ratios(first: float, last: float, count: int) -> tuple[float, ...]:
    """Stops in equal ratios, to two digits."""
    found = [first * (last / first) ** (number / (count - 1)) for number in range(count)]
    return tuple(dict.fromkeys(float(f"{one:.2g}") for one in found))


@dataclass(frozen=True, slots=True)
class Slider:
    """A quantity to drag or to type; bands name stretches of it up to a value."""

    field: str
    group: str
    label: str
    explanation: str
    dimension: str
    lowest: float
    highest: float
    metric: Scale
    trade: Scale
    bands: tuple[tuple[float, str], ...] = ()
    zero: str = ""

    def scale(self, units: Units) -> Scale:
        """How it is shown."""
        return self.metric if units is Units.METRIC else self.trade


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few."""

    field: str
    group: str
    label: str
    explanation: str


@dataclass(frozen=True, slots=True)
class Shown:
    """How what was found is shown: a unit, what an SI value is multiplied by, and decimals."""

    unit: str
    factor: float
    decimals: int

    def text(self, value: float) -> str:
        """Number with its unit of an SI value."""
        return f"{self.factor * value:.{self.decimals}f} {self.unit}"


DEPTH: Final = {Units.METRIC: Shown("mm", 1e3, 0), Units.TRADE: Shown("in", 1.0 / 0.0254, 1)}
SPEED: Final = {Units.METRIC: Shown("cm/s", 100.0, 0), Units.TRADE: Shown("ft/min", 60.0 / 0.3048, 0)}
WATER: Final = {Units.METRIC: Shown("kg/m²", 1.0, 2), Units.TRADE: Shown("lb/ft²", 0.3048**2 / 0.45359237, 3)}

GAP, AIRS, ROOF, INSIDE = "Vent gap", "Vapour and air", "Roof and weather", "Indoor air"
_PER_FOOT: Final = 0.0254**2 / 0.3048  # [m2 m-1] of a square inch per foot
_CFM: Final = 0.3048**3 / 60.0  # [m3 s-1]
_CFM50: Final = _CFM * 3600.0 / 0.3048**2  # [m3 m-2 h-1] of a cubic foot a minute and square foot
_AREAS: Final = (_by(1e-4, "cm²/m", _even(500.0, 10.0)), _by(_PER_FOOT, "in²/ft", _even(24.0, 0.5)))
_SHARE: Final = _by(0.01, "%", _even(100.0, 5.0, 5.0))

# Classes of the US model building codes, upper ends in perm; they are of the sheet alone.
RETARDER_CLASSES: Final = ((0.1 * PERM, "I"), (1.0 * PERM, "II"), (10.0 * PERM, "III"))

SLIDERS: Final = (
    Slider(
        "gap", GAP, "Gap height", "Clear height of the air space; 0 for no gap.", "length", 0.005, 0.150,
        _by(1e-3, "mm", _even(150.0, 5.0)), _by(0.0254, "in", _even(5.75, 0.25)), zero="no gap",
    ),
    Slider(
        "inlet", GAP, "Inlet", "Open area at the eaves, screen not taken off.", "area per width",
        0.0, 0.1, *_AREAS,
    ),
    Slider(
        "outlet", GAP, "Outlet", "Open area at the upper edge, screen not taken off.", "area per width",
        0.0, 0.1, *_AREAS,
    ),
    Slider(
        "screen", GAP, "Screen free", "What the insect screen leaves free; 100 % for none.",
        "fraction", 0.05, 1.0, _SHARE, _SHARE,
    ),
    Slider(
        "permeance", AIRS, "Vapour retarder", "Left is tight; I, II, III are the classes of US codes.",
        "permeance", 0.005 * PERM, 60.0 * PERM,
        Scale("m s_d", tuple(reversed(_ratios(0.07, 500.0, 75))), _inverse_s_d, _inverse_s_d),
        _by(PERM, "perm", _ratios(0.007, 50.0, 75)), (*RETARDER_CLASSES, (math.inf, "open")),
    ),
    Slider(
        "q50", AIRS, "Ceiling leakage", "Air through the ceiling at 50 Pa (blower door).",
        "air permeability", 0.02, 20.0, _by(1.0, "m³/m²h", _ratios(0.05, 15.0, 50)),
        _by(_CFM50, "cfm/ft²", _ratios(0.003, 0.8, 50)),
        ((0.5, "tight"), (2.0, "good"), (6.0, "usual"), (math.inf, "leaky")),
    ),
    Slider(
        "humidity", INSIDE, "Humidity", "Relative humidity of the room, at 20 °C.", "fraction", 0.10, 0.80,
        _by(0.01, "%", _even(80.0, 1.0, 10.0)), _by(0.01, "%", _even(80.0, 1.0, 10.0)),
    ),
    Slider(
        "people", INSIDE, "People", "Each breathes, cooks and showers every day.", "factor", 0.0, 12.0,
        Scale("people", _even(8.0, 1.0)), Scale("people", _even(8.0, 1.0)),
    ),
    Slider(
        "supply", INSIDE, "Ventilator", "Outdoor air that it brings in, day and night.", "volume flow", 0.0, 0.1,
        _by(1e-3, "l/s", _even(40.0, 1.0)), _by(_CFM, "cfm", _even(84.0, 2.0)),
    ),
)  # fmt: skip
CHOICES: Final = (
    Choice("air", INSIDE, "Indoor air", "Standard's curve, steady humidity, or a household."),
    Choice("finish", ROOF, "Roof colour", "With the share of the sun it takes up; dark dries in the sun."),
    Choice("climate", ROOF, "Climate", "A year of hourly weather, repeated."),
    Choice("month", ROOF, "Start", "First day; all layers start at 70 % relative humidity."),
)
ORDER: Final = (
    "gap", "inlet", "outlet", "screen", "permeance", "q50", "air", "humidity", "people", "supply", "finish", "climate",
    "month",
)  # fmt: skip
_BY_FIELD: Final[dict[str, Slider | Choice]] = {one.field: one for one in (*SLIDERS, *CHOICES)}
_NUMBER: Final = re.compile(r"[+-]?\d*[.,]?\d+(?:[eE][+-]?\d+)?|[+-]?\d+[.,]")


def controls(subject: Subject) -> tuple[Slider | Choice, ...]:
    """Controls that do something for a subject, in the order of the panel."""
    return tuple(_BY_FIELD[field] for field in ORDER if subject.has(field))


def options(subject: Subject, field: str) -> dict[str, Any]:
    """Values of a choice by the words shown."""
    if field == "air":
        return {str(one): one for one in Air if one is not Air.HOUSEHOLD or subject.household is not None}
    if field == "finish":
        own = subject.assembly.finish
        listed = {name: materials.finish(name) for name in materials.names("finishes")} | {own.name: own}
        return {
            f"{name}, {100 * one.absorptance:.0f} %": name
            for name, one in sorted(listed.items(), key=lambda item: item[1].absorptance)
        }
    if field == "climate":
        return {name: name for name in subject.climates}
    return {f"1 {calendar.month_name[month]}": month for month in range(1, 13)}


def is_used(state: State, field: str) -> bool:
    """Whether a control changes anything in a state."""
    needs = {"humidity": Air.STEADY, "people": Air.HOUSEHOLD, "supply": Air.HOUSEHOLD}
    if field in needs:
        return state.air is needs[field]
    return state.gap > 0.0 if field in ("inlet", "outlet", "screen") else True


def band(slider: Slider, value: float) -> str:
    """Name of the band that a value lies in, or of zero, or nothing."""
    if slider.zero and value == 0.0:
        return slider.zero
    return next((words for upper, words in slider.bands if value <= upper * (1.0 + 1e-9)), "")


def moved(subject: Subject, state: State, field: str, stated: object, units: Units) -> State:
    """State after one control has been moved, or typed into.

    Parameters
    ----------
    subject : Subject
        What is explored.
    state : State
        As it is.
    field : str
        Control.
    stated : object
        A number or a text in the panel's unit, a text with a unit of its own, or the words of a choice.
    units : Units
        Units of the panel.

    Returns
    -------
    State
        As it becomes.

    Raises
    ------
    InputError
        Where the control does not exist here, or the value cannot be.
    """
    control = _BY_FIELD.get(field)
    if control is None or not subject.has(field):
        known = ", ".join(one.field for one in controls(subject))
        msg = f"There is no control {field!r} here. Controls: {known}."
        raise InputError(msg)
    if isinstance(control, Choice):
        return replace(state, **{field: _chosen(subject, control, stated)})
    change: dict[str, Any] = {field: _number(control, stated, units)}
    return replace(state, **change)


def _chosen(subject: Subject, control: Choice, stated: object) -> Any:
    offered = options(subject, control.field)
    if stated in offered:
        return offered[str(stated)]
    if stated in offered.values():
        return stated
    msg = f"{control.label} is {stated!r}; it must be one of: {', '.join(offered)}. Choose one."
    raise InputError(msg)


def _number(slider: Slider, stated: object, units: Units) -> float:
    scale = slider.scale(units)
    text = str(stated).strip()
    if not text:
        msg = f"{slider.label} is empty; type a number in {scale.unit}, such as {scale.text(_middle(scale))}."
        raise InputError(msg)
    if _NUMBER.fullmatch(text):
        shown = float(text.replace(",", "."))
        value = _in_si(scale, shown)
    else:
        value = _with_unit(slider, text, scale)
    within = slider.lowest * (1 - 1e-6) <= value <= slider.highest * (1 + 1e-6)
    if not within and not (slider.zero and value == 0.0):
        ends = sorted((slider.lowest, slider.highest), key=scale.from_si)
        low, high = (scale.text(end) for end in ends)
        zero = f" 0 ({slider.zero}) or" if slider.zero else ""
        msg = (
            f"{slider.label} is {text}{'' if not _NUMBER.fullmatch(text) else ' ' + scale.unit}; it must be{zero} "
            f"between {low} and {high} {scale.unit}. The picture still shows the last value that could be run."
        )
        raise InputError(msg)
    return value


def _in_si(scale: Scale, shown: float) -> float:
    try:
        return scale.to_si(shown)
    except ZeroDivisionError:
        return math.inf


def _with_unit(slider: Slider, text: str, scale: Scale) -> float:
    what = slider.label
    if slider.field == "permeance":
        try:
            return _in_si(slider.metric, to_si(text.removesuffix("s_d").strip(), "length", what))
        except InputError:
            pass
    try:
        return to_si(text, slider.dimension, what)
    except InputError as error:
        example = f"{scale.text(_middle(scale))} or {scale.text(_middle(scale))} {scale.unit}"
        msg = f"{what} is {text!r}, which could not be read. Type a number in {scale.unit}, such as {example}."
        raise InputError(msg) from error


def _middle(scale: Scale) -> float:
    return scale.to_si(scale.stops[len(scale.stops) // 2])
