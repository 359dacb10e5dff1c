"""Sweeps: every combination of stated values of some inputs, judged, as a labelled Dataset.

May import: case, inputs, measures, spread_out, study and all above it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import product
from typing import Any, Final

import numpy as np
import xarray as xr
from tqdm import tqdm

from hygro.assembly import unique
from hygro.climate import Climate
from hygro.criteria.series import LayerSeries
from hygro.errors import InputError
from hygro.study import Variant
from hygro.variables import CRITERION
from hygro.vary.case import Case, daily_moisture, judged, middays
from hygro.vary.inputs import Input, as_input
from hygro.vary.measures import FREE_WATER, WETTEST, WETTEST_FACE, Measure
from hygro.vary.spread_out import each

MEASURES: Final = (WETTEST, WETTEST_FACE, FREE_WATER)
_MOST: Final = 20_000  # combinations in one sweep; more belong into an ensemble


def sweep(
    base: Variant,
    over: Mapping[str | Input, Sequence[Any]],
    climate: Climate,
    *,
    layer: str,
    start: str,
    years: int,
    measures: Iterable[Measure] = MEASURES,
    daily: bool = False,
    executor: Any = None,
    progress: bool = False,
) -> xr.Dataset:
    """Judge every combination of values of some inputs.

    Parameters
    ----------
    base : Variant
        What stays as it is where nothing is said.
    over : mapping of str or Input to sequence
        Values for each input, as they would be stated: ``{"gap.thickness": ["25 mm", "50 mm"]}``. ``"climate"`` takes
        climates.
    climate : Climate
        Outdoor weather.
    layer : str
        Label of the layer that is judged.
    start : str
        First day, such as ``"1 October"``.
    years : int
        How long. [a]
    measures : iterable of Measure, optional
        What is found of each run.
    daily : bool, optional
        Whether the daily moisture content of the layer is kept as well.
    executor : executor or dask client, optional
        Where to work; threads on all cores by default.
    progress : bool, optional
        Whether a bar shows how far it is.

    Returns
    -------
    Dataset, one dim for each input (and day)
        The measures, and ``passes``: whether all of them are within their limits. Coordinates are the values in the
        unit of the input; ``attrs["input"]`` is its name.

    Raises
    ------
    InputError
        Where an input does not exist (the nearest are named), a value cannot be, or two values are the same.
    ConvergenceError
        Where the solver cannot go on.
    """
    asked = tuple(measures)
    _check_measures(asked)
    case = Case(base, climate, layer, start, years)
    axes = [_axis(case, named, values) for named, values in _nonempty(over).items()]
    if len({one.dimension for one, _ in axes}) < len(axes):
        msg = "Two of the inputs of the sweep have the same name; sweep each input once."
        raise InputError(msg)
    shape = tuple(len(values) for _, values in axes)
    if np.prod(shape) > _MOST:
        msg = (
            f"The sweep has {np.prod(shape)} combinations; at most {_MOST} are run. Take fewer values, or an ensemble."
        )
        raise InputError(msg)
    points = list(np.ndindex(*shape))
    cases = {point: _at(case, axes, point) for point in points}
    found: dict[tuple[int, ...], Any] = {}
    work = each(_judge, (asked, daily), [(point, cases[point]) for point in points], executor)
    for (point, _), result in tqdm(work, total=len(points), desc="sweep", unit="run", disable=not progress):
        found[point] = result
    return _dataset(case, axes, shape, asked, found, daily)


def _judge(shared: tuple[tuple[Measure, ...], bool], item: tuple[tuple[int, ...], Case]) -> Any:
    asked, daily = shared
    case = item[1]
    run = case.run()
    series = LayerSeries(run, case.layer)
    days = (daily_moisture(series), middays(run["time"].to_numpy())) if daily else None
    return judged(series, asked), days


def _check_measures(asked: tuple[Measure, ...]) -> None:
    if not asked or not all(isinstance(one, Measure) for one in asked):
        msg = f"measures are {asked!r}; give at least one Measure, such as WETTEST."
        raise InputError(msg)
    if len({one.name for one in asked}) < len(asked):
        msg = "Two measures have the same name; give each a name of its own."
        raise InputError(msg)


def _nonempty(over: Mapping[str | Input, Sequence[Any]]) -> Mapping[str | Input, Sequence[Any]]:
    if not isinstance(over, Mapping) or not over:
        msg = (
            f'A sweep is over {over!r}; give inputs and their values, such as {{"gap.thickness": ["25 mm", "50 mm"]}}.'
        )
        raise InputError(msg)
    return over


def check_values(variant: Variant, named: str | Input, values: Sequence[Any]) -> None:
    """Refuse values of an input that a sweep could not run, without any weather.

    Parameters
    ----------
    variant : Variant
        What is to be varied.
    named : str or Input
        The input, which is not the weather.
    values : sequence
        As they would be stated.

    Raises
    ------
    InputError
        Where the input does not exist, a value cannot be, or two values are the same.
    """
    one = as_input(named)
    _labelled(one, values, lambda value: one.read(one.put(variant, value)))


def _axis(case: Case, named: str | Input, values: Sequence[Any]) -> tuple[Input, list[tuple[Any, Any]]]:
    """An input, and each stated value beside what the variant then says it has."""
    one = as_input(named)
    return one, _labelled(one, values, lambda value: case.put(one, value).read(one))


def _labelled(one: Input, values: Sequence[Any], put: Callable[[Any], Any]) -> list[tuple[Any, Any]]:
    if isinstance(values, str) or not isinstance(values, Iterable):
        msg = f"Sweep over {one.name!r}: its values are {values!r}; give a list of values."
        raise InputError(msg)
    pairs = []
    for value in values:
        read = put(value)
        pairs.append((value, value if read is None or one.name.rpartition(".")[2].startswith("times_") else read))
    reads = [read for _, read in pairs]
    twice = next((read for at, read in enumerate(reads) if read in reads[:at]), None)
    if not pairs or twice is not None:
        wrong = "no value" if not pairs else f"twice the value {one.say(twice)}, so that nothing differs"
        msg = f"Sweep over {one.name!r}: there is {wrong}. List different values."
        raise InputError(msg)
    labels = reads if all(map(_is_number, reads)) else unique([one.say(read) for read in reads])
    return [(stated, label) for (stated, _), label in zip(pairs, labels, strict=True)]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _at(case: Case, axes: list[tuple[Input, list[tuple[Any, Any]]]], point: tuple[int, ...]) -> Case:
    for (one, pairs), place in zip(axes, point, strict=True):
        case = case.put(one, pairs[place][0])
    return case


def _dataset(
    case: Case,
    axes: list[tuple[Input, list[tuple[Any, Any]]]],
    shape: tuple[int, ...],
    asked: tuple[Measure, ...],
    found: Mapping[tuple[int, ...], Any],
    daily: bool,
) -> xr.Dataset:
    dims = [one.dimension for one, _ in axes]
    coords: dict[str, Any] = {}
    for one, pairs in axes:
        labels = [label for _, label in pairs]
        attrs = {"long_name": one.name.replace(".", ", "), "input": one.name, "units": one.kind.unit}
        if not all(map(_is_number, labels)):
            labels, attrs = [str(label) for label in labels], attrs | {"units": ""}
        coords[one.dimension] = (one.dimension, labels, attrs)
    numbers = np.array([found[point][0] for point in product(*map(range, shape))]).reshape(*shape, len(asked))
    variables: dict[str, Any] = {one.name: (dims, numbers[..., at], one.attrs()) for at, one in enumerate(asked)}
    within = np.all(numbers <= np.array([one.limit for one in asked]), axis=-1)
    variables["passes"] = (dims, within, {"long_name": "all measures within their limits"})
    if daily:
        first = found[(0,) * len(shape)][1]
        lengths = {len(result[1][0]) for result in found.values()}
        if len(lengths) > 1:
            msg = "The climates of the sweep give runs of different length; leave out daily, or take whole years."
            raise InputError(msg)
        series = np.array([found[point][1][0] for point in product(*map(range, shape))]).reshape(*shape, -1)
        variables["moisture_content"] = ([*dims, "day"], series, CRITERION["moisture_content"].attrs())
        coords["day"] = ("day", first[1], {"long_name": "middle of the day, local standard time"})
    about: dict[str, Any] = {
        "title": f"{case.variant.name}: sweep over {', '.join(one.name for one, _ in axes)}",
        "layer": case.layer,
        "climate": case.climate.title,
        "start": case.start,
        "years": case.years,
    }
    return xr.Dataset(variables, coords, about)
