"""All criteria of a layer in one plain answer, whether it stays dry.

The answer has two parts that are found apart from each other.

*Outcome*, what the water does. It looks at the last year only, so that building moisture of the first year does not
decide, and takes the worst slice:

1. ``collects year by year`` where the trend says so (see `trend`);
2. ``drips`` where more than 0.2 kg/m2 of condensate dripped in the build-up in the last year: that water goes where
   this calculation does not follow it, so that no drying may be read from the layer that lost it;
3. ``stays wet`` where it is wet and has no 30 days in a row without a wet hour in the last year;
4. ``wet each summer`` where it is wet at times, most of them in the warm half of the year, and has such 30 days;
   ``dries each summer`` where most are in the cold half;
5. ``stays dry`` where it has no wet hour;
6. ``too short to tell`` where the run covers less than two years, which comes before all others.

An hour is wet where the layer is wood and its mean or a face is above 20 %; where the layer holds more than 0.01
kg/m2 of free water or ice; where the mould index of a face is at or above 1 and the 30-day mean humidity there at or
above 80 %; and, where the run does not say what its layers bind, where a cell of a layer that is not wood is at or
above 99 % relative humidity.

*Level*, whether that is a fault: the worst of the verdicts that apply, over the whole run. Moisture content and decay
apply to wood, mould to layers with a class of sensitivity, free water to layers of which the run states what they
bind, the trend to runs of two years. ``stays wet``, ``drips`` and ``too short to tell`` are at least a
caution. The *deciding*
verdict is the first of the worst in the order trend, mould, decay, moisture content, free water, and of the faces that
one criterion looks at the one with the highest value. The 30-day criterion
(which the mould index has replaced), corrosion and summer condensation are asked for separately.

A layer that rain wets is judged by its mean and its inner face: its skin is wet after every shower, so its outer face
and its free water are left out, and where it is not wood an hour counts as wet by the 99 % at its inner face.

The rules are choices of this package; the limits inside the verdicts name their own sources.

May import: errors, variables.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from hygro.criteria import thirty_day
from hygro.criteria.condensation import TRACE, stated_bound_water, verdict_on_free_water
from hygro.criteria.decay import decay_verdict
from hygro.criteria.mould import NOTICEABLE, MouldSensitivity, verdict_on_index
from hygro.criteria.seasons import is_warm
from hygro.criteria.select import (
    HOURS_PER_YEAR,
    Array,
    Face,
    coordinate,
    layer_cells,
    layer_number,
    layer_property,
    require_run,
    storing_layers,
    values,
)
from hygro.criteria.series import LayerSeries
from hygro.criteria.trend import Trend, trend_of, verdict_on_trend, years
from hygro.criteria.verdict import STRUCTURE, Level, Verdict
from hygro.criteria.wood import DECAY_SAFETY, Part, verdict_on_content

SECONDS_PER_HOUR: Final = 3600.0
DRY_SPELL: Final = 720  # [h] 30 days in a row, a choice of this package
NEARLY_SATURATED: Final = 0.99  # [1] a choice of this package
RUN_OFF: Final = 0.2  # [kg m-2] a year; the amount from which ISO 13788:2012 sees a risk of run-off (from memory)

_WOODY: Final = ("pine sapwood", "very sensitive", "sensitive")


class Outcome(StrEnum):
    """What the water in a layer does over the years, from best to worst."""

    DRY = "stays dry"
    DRIES = "dries each summer"
    SUMMER = "wet each summer"
    UNKNOWN = "too short to tell"
    WET = "stays wet"
    DRIPS = "drips"
    COLLECTS = "collects year by year"

    @property
    def rank(self) -> int:
        """0 for stays dry, up to 6 for collects year by year."""
        return list(Outcome).index(self)


@dataclass(frozen=True, slots=True)
class CombinedVerdict:
    """The answer for one layer.

    Parameters
    ----------
    layer : str
        Label of the layer.
    outcome : Outcome
        What the water does.
    level : Level
        The worst level of the verdicts.
    deciding : Verdict or None
        The verdict that set the level; None where no criterion applies.
    verdicts : tuple of Verdict
        All verdicts that were asked.
    because : str
        The reason for the outcome, one sentence.
    """

    layer: str
    outcome: Outcome
    level: Level
    deciding: Verdict | None
    verdicts: tuple[Verdict, ...]
    because: str

    def __str__(self) -> str:
        said = {
            Outcome.UNKNOWN: "this run is too short to tell whether it stays dry",
        }.get(self.outcome, str(self.outcome))
        parts = [f"'{self.layer}': {said} ({self.level}).", self.because]
        if self.deciding is not None and self.level is not Level.FINE:
            parts.append(f"Decided by: {self.deciding}")
        if self.level is not Level.FINE and not (self.deciding and self.deciding.caution):
            parts.append(STRUCTURE)
        return " ".join(parts)


def is_wood(run: xr.Dataset, layer: str) -> bool:
    """Whether the limits for wood apply to a layer.

    Parameters
    ----------
    run : xarray.Dataset
        A run. Its coordinate ``layer_is_wood`` answers; without it a layer counts as wood where its mould sensitivity
        is that of wood or of wood-based boards, and its density is above 200 kg m-3.
    layer : str
        Label of the layer.

    Returns
    -------
    bool
        The answer.

    Raises
    ------
    InputError
        Where the layer is unknown.
    """
    number = layer_number(run, layer)
    if "layer_is_wood" in run.coords:
        return bool(coordinate(run, "layer_is_wood")[number])
    return _sensitivity(run, layer) in _WOODY and layer_property(run, layer, "layer_density") > 200.0


def combined_verdict(run: xr.Dataset, layer: str, *, wood: bool | None = None) -> CombinedVerdict:
    """Whether a layer stays dry, in plain words, by the rules at the head of this module.

    Parameters
    ----------
    run : xarray.Dataset
        A run, best of three years or more.
    layer : str
        Label of a layer that holds water.
    wood : bool, optional
        Whether the limits for wood apply; without it, what the run says (see `is_wood`).

    Returns
    -------
    CombinedVerdict
        Outcome, level and the verdict that decided.

    Raises
    ------
    InputError
        Where the layer is unknown or has no cells, or the run lacks a variable.

    References
    ----------
    None; a choice of this package.
    """
    return combined_verdict_on(LayerSeries(run, layer), wood)


def combined_verdict_on(series: LayerSeries, wood: bool | None) -> CombinedVerdict:
    """The same of series that other criteria may have asked for already."""
    run, layer = series.run, series.layer
    layer_cells(run, layer)
    wood = is_wood(run, layer) if wood is None else wood
    trend = trend_of(run, layer) if years(run) >= 2 else None
    seen = _seen(series, wood)
    verdicts = _verdicts(run, layer, seen, trend)
    outcome, because = _outcome(run, layer, seen, trend)
    level = max((one.level for one in verdicts), key=lambda one: one.rank, default=Level.FINE)
    worst = [one for one in verdicts if one.level is level]
    deciding = max((one for one in worst if one.criterion == worst[0].criterion), key=_value, default=None)
    if outcome in (Outcome.WET, Outcome.DRIPS, Outcome.UNKNOWN) and level is Level.FINE:
        level, deciding = Level.CAUTION, None
    return CombinedVerdict(layer, outcome, level, deciding, verdicts, because)


def _value(verdict: Verdict) -> float:
    return verdict.value


def layer_verdicts(run: xr.Dataset) -> tuple[CombinedVerdict, ...]:
    """Judge every layer that holds water; the worst comes first.

    Parameters
    ----------
    run : xarray.Dataset
        A run.

    Returns
    -------
    tuple of CombinedVerdict
        Sorted by level, then by outcome, then from outside to inside.

    Raises
    ------
    InputError
        Where the run lacks what is needed.

    References
    ----------
    None; a choice of this package.
    """
    require_run(run)
    answers = [combined_verdict(run, layer) for layer in storing_layers(run)]
    return tuple(sorted(answers, key=lambda one: (-one.level.rank, -one.outcome.rank)))


def is_rained_on(run: xr.Dataset, layer: str) -> bool:
    """Whether a layer is the outermost of a run in which rain is taken up.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of a layer that holds water.

    Returns
    -------
    bool
        The answer.

    Raises
    ------
    InputError
        Where the layer is unknown or has no cells.

    References
    ----------
    None; a choice of this package.
    """
    outermost = int(layer_cells(run, layer, films=True)[0]) == 0
    return outermost and "rain_absorbed" in run.data_vars and bool((values(run, "rain_absorbed") > 0.0).any())


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """Series of a layer that verdicts and outcome both look at; what does not apply is not there."""

    is_rained_on: bool
    mould: Mapping[Face, tuple[Array, MouldSensitivity]]
    content: Mapping[Part, Array]
    free: Array | None

    @property
    def faces(self) -> tuple[Face, ...]:
        """Faces that are looked at."""
        return _faces(self.is_rained_on)

    @property
    def is_wood(self) -> bool:
        """Whether the limits for wood apply."""
        return bool(self.content)


def _faces(rained_on: bool) -> tuple[Face, ...]:
    return ("inner",) if rained_on else ("outer", "inner")


def _seen(series: LayerSeries, wood: bool) -> _Seen:
    run, layer = series.run, series.layer
    rained_on = is_rained_on(run, layer)
    faces = _faces(rained_on)
    mould = {face: series.mould(face) for face in faces} if _sensitivity(run, layer) else {}
    parts: tuple[Part, ...] = ("mean", *faces) if wood else ()
    content = {part: series.content(part) for part in parts}
    # Free water can be told from bound, and is a fault, where the run says what is bound and no rain wets the layer.
    binds = stated_bound_water(run, layer) is not None and not rained_on
    return _Seen(rained_on, mould, content, series.free_water() if binds else None)


def _sensitivity(run: xr.Dataset, layer: str) -> str:
    if "layer_mould_sensitivity" not in run.coords:
        return ""
    return str(coordinate(run, "layer_mould_sensitivity")[layer_number(run, layer)])


def _verdicts(run: xr.Dataset, layer: str, seen: _Seen, trend: Trend | None) -> tuple[Verdict, ...]:
    found = [] if trend is None else [verdict_on_trend(run, layer, trend)]
    found += [verdict_on_index(run, layer, face, *index) for face, index in seen.mould.items()]
    if seen.is_wood:
        found += [decay_verdict(run, layer, face) for face in seen.faces]
    found += [verdict_on_content(run, layer, part, content) for part, content in seen.content.items()]
    if seen.free is not None:
        found.append(verdict_on_free_water(run, layer, seen.free))
    return tuple(found)


def _outcome(run: xr.Dataset, layer: str, seen: _Seen, trend: Trend | None) -> tuple[Outcome, str]:
    if trend is None:
        days = run.sizes["time"] / 24.0
        return Outcome.UNKNOWN, f"The run covers {days:.0f} days; run two years or more to see it come round again."
    if trend.collects.any():
        return Outcome.COLLECTS, "It holds more water at the end of each year than at the end of the last."
    if "drip" in run.data_vars:
        dripped = float((values(run, "drip")[-HOURS_PER_YEAR:].sum(axis=0) * SECONDS_PER_HOUR).max())
        if dripped > RUN_OFF:
            return Outcome.DRIPS, (
                f"In the last year {dripped:.1f} kg/m² of condensate dripped in this build-up, into places where this "
                "calculation does not follow it."
            )
    wet = _wet(run, layer, seen)[-HOURS_PER_YEAR:]
    if not wet.any():
        return Outcome.DRY, "It has no wet hour in the last year."
    worst = int(np.argmin([_longest_dry(wet[:, s]) if wet[:, s].any() else len(wet) + 1 for s in range(wet.shape[1])]))
    hours, spell = int(wet[:, worst].sum()), _longest_dry(wet[:, worst])
    summery = int((wet[:, worst] & is_warm(run)[-HOURS_PER_YEAR:]).sum())
    text = (
        f"In the last year {hours} hours are wet, {summery} of them in the warm half, and its longest dry spell is "
        f"{spell / 24.0:.0f} days."
    )
    if spell < DRY_SPELL:
        return Outcome.WET, text
    return (Outcome.SUMMER if 2 * summery > hours else Outcome.DRIES), text


def _wet(run: xr.Dataset, layer: str, seen: _Seen) -> npt.NDArray[np.bool_]:
    """Whether each hour is wet, shape (n_hour, n_slice)."""
    wet = np.zeros((run.sizes["time"], run.sizes["slice"]), dtype=bool)
    for content in seen.content.values():
        wet |= content > DECAY_SAFETY.value
    if seen.free is not None:
        wet |= seen.free > TRACE
    for face, (index, _) in seen.mould.items():
        grown = index >= NOTICEABLE
        if grown.any():
            wet |= grown & (thirty_day.relative_humidity_30_day(run, layer, face).to_numpy() >= thirty_day.LIMIT)
    if not seen.is_wood and seen.free is None:
        cells = layer_cells(run, layer)
        cells = cells[-1:] if seen.is_rained_on else cells
        wet |= (values(run, "relative_humidity", cells) >= NEARLY_SATURATED).any(axis=2)
    return wet


def _longest_dry(wet: npt.NDArray[np.bool_]) -> int:
    """Longest run of hours that are not wet."""
    edges = np.flatnonzero(np.concatenate([[True], wet, [True]]))
    return int(np.diff(edges).max() - 1)
