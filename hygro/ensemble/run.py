"""Running an ensemble: members in blocks, on all cores or any executor, each block kept as soon as it is done.

May import: plan, store, vary and above.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from tqdm import tqdm

from hygro.climate import Climate
from hygro.core.lanes import WIDTH
from hygro.criteria.series import LayerSeries
from hygro.ensemble.distributions import Choice
from hygro.ensemble.plan import MOST_MEMBERS, UncertainStudy
from hygro.ensemble.store import Store, open_whole
from hygro.errors import ConvergenceError, InputError, OutputError
from hygro.indoor import IndoorModel
from hygro.simulation import Question, simulate_together
from hygro.study import question_of
from hygro.variables import CRITERION
from hygro.vary.case import Case, daily_moisture, judged, middays, period
from hygro.vary.spread_out import each

FloatArray = NDArray[np.floating[Any]]
DAILY: Final = "moisture_content"
_LARGEST_BLOCK: Final = 32  # members that a crash may cost each worker


def run_ensemble(
    study: UncertainStudy,
    members: int,
    path: str | Path,
    *,
    executor: Any = None,
    block: int | None = None,
    progress: bool = True,
) -> xr.Dataset:
    """Run members of an ensemble that are not there yet, and return all of them.

    An ensemble that was interrupted, however, goes on where it was; one that is complete is opened, or grows where
    more members are asked for.

    Parameters
    ----------
    study : UncertainStudy
        What is uncertain about what.
    members : int
        How many; a power of two is best, the sequence is even then.
    path : str or Path
        File of the results, ending in ``.nc``; while it runs, blocks are in a folder beside it.
    executor : executor or dask client, optional
        Where to work: anything of ``concurrent.futures``, or a client of ``dask.distributed``. Threads on all cores by
        default. The numbers do not depend on it, as long as the processors are of one kind.
    block : int, optional
        Members in a task and in a file; by default as many as keep all cores busy, at most 32. Members are solved in
        groups of eight, so a multiple of eight is best: of another, some groups are solved twice.
    progress : bool, optional
        Whether a bar shows how far it is.

    Returns
    -------
    Dataset, dims member, day
        Values of the inputs and the measures, the daily moisture content of the layer, and ``solved``: 0 where the
        solver could not go on.

    Raises
    ------
    InputError
        Where the path holds results of another study, or a member's values cannot be.
    OutputError
        Where results cannot be written.
    """
    target = _checked(study, members, path, block)
    study.check(members)
    store = Store(target, study.fingerprint)
    tasks = list(_blocks(store.missing(members), block or _block_size(members)))
    if store.gathered() >= members:
        return open_whole(target).isel(member=slice(0, members))
    attrs = study.attrs()
    store.begin({"distributions": attrs["distributions"], "title": attrs["title"]})
    done = members - sum(last - first for first, last in tasks)
    with tqdm(total=members, initial=done, desc="ensemble", unit="member", disable=not progress) as bar:
        for (first, last), found in each(_members, study, tasks, executor):
            store.keep(found)
            bar.update(last - first)
    store.gather(members, attrs)
    return open_whole(target)


def open_ensemble(path: str | Path) -> xr.Dataset:
    """Read a finished ensemble.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    Dataset
        As `run_ensemble` returned it.

    Raises
    ------
    InputError
        Where there is no such file, it is not finished, or it is no ensemble.
    """
    target = Path(path)
    if not target.exists():
        parts = target.with_name(f"{target.name}.parts")
        hint = (
            "It is not finished: call run_ensemble again, it goes on where it was."
            if parts.exists()
            else ("Check the name and the folder.")
        )
        msg = f"There is no file {str(target)!r}. {hint}"
        raise InputError(msg)
    return open_whole(target)


def forget_others(study: UncertainStudy, path: str | Path) -> None:
    """Remove what is at a path where it is not of this study; leave what is.

    Parameters
    ----------
    study : UncertainStudy
        Whose results stay.
    path : str or Path
        File of the results.

    Raises
    ------
    OutputError
        Where it cannot be removed.
    """
    target = Path(path)
    try:
        Store(target, study.fingerprint)
    except InputError:
        try:
            target.unlink(missing_ok=True)
            shutil.rmtree(target.with_name(f"{target.name}.parts"), ignore_errors=True)
        except OSError as error:
            msg = f"{str(target)!r} could not be removed: {error.strerror or error}. Choose another folder."
            raise OutputError(msg) from error


def _checked(study: object, members: object, path: str | Path, block: object) -> Path:
    if not isinstance(study, UncertainStudy):
        msg = f"run_ensemble: study is {type(study).__name__}; give an UncertainStudy."
        raise InputError(msg)
    for name, number, most in (("members", members, MOST_MEMBERS), ("block", 1 if block is None else block, 100_000)):
        if isinstance(number, bool) or not isinstance(number, int) or not 1 <= number <= most:
            msg = f"run_ensemble: {name} is {number!r}; it must be a whole number from 1 to {most}."
            raise InputError(msg)
    target = Path(path)
    if target.suffix != ".nc":
        msg = f"run_ensemble: the results go to {str(target)!r}; the name of a NetCDF file ends in .nc."
        raise InputError(msg)
    return target


def _block_size(members: int) -> int:
    """Whole groups of members that are solved together."""
    return WIDTH * max(1, min(_LARGEST_BLOCK, members // (8 * (os.cpu_count() or 1))) // WIDTH)


def _blocks(stretches: Iterable[tuple[int, int]], size: int) -> Iterable[tuple[int, int]]:
    for first, last in stretches:
        for start in range(first, last, size):
            yield start, min(start + size, last)


def _members(study: UncertainStudy, stretch: tuple[int, int]) -> xr.Dataset:
    """Results of members first to last - 1: of no more than their place in the sequence."""
    first, last = stretch
    base = study.case
    days = middays(period(base.climate, base.start, base.years).time.to_numpy())
    measured = np.full((last - first, len(study.measures)), np.nan)
    daily = np.full((last - first, len(days)), np.nan, dtype=np.float32)
    failures = {}
    shared = cache(partial(_shared_air, base.variant.indoor))
    for start in range(first - first % WIDTH, last, WIDTH):
        for member, run in _together(study, start, first, last, shared):
            if isinstance(run, ConvergenceError):
                failures[str(member)] = str(run)
                continue
            series = LayerSeries(run, base.layer)
            measured[member - first] = judged(series, study.measures)
            content = daily_moisture(series)[: len(days)]  # another climate may have a day more, or one less
            daily[member - first, : len(content)] = content
    shares = study.shares(first, last)
    numbers = np.array([study.numbers(share) for share in shares])
    return _block(study, stretch, numbers, measured, daily, days, failures)


def _together(
    study: UncertainStudy, start: int, first: int, last: int, shared: Callable[[Climate], xr.Dataset]
) -> Iterator[tuple[int, xr.Dataset | ConvergenceError]]:
    """Runs of those of WIDTH members from a start on that lie within first to last - 1.

    All of them are solved, so that a member has the same neighbours, and to the last bit the same numbers, whatever
    the blocks and however many members are wanted.
    """
    places, questions = [], []
    for member, share in enumerate(study.shares(start, start + WIDTH), start):
        try:
            questions.append(_posed(study, study.member(share), shared))
            places.append(member)
        except InputError as error:
            if not first <= member < last:
                continue
            values = zip(study.inputs, study.values(share), strict=True)
            words = "; ".join(f"{one.name} {one.say(value)}" for (one, _), value in values)
            msg = f"Member {member} of the ensemble cannot be ({words}). {error}"
            raise InputError(msg) from error
    for at, run in simulate_together(questions):
        if first <= places[at] < last:
            yield places[at], run


@dataclass(frozen=True, slots=True)
class _KeptIndoors:
    """Indoor air that members share, found once: the balance of a household goes from hour to hour."""

    model: IndoorModel
    air: xr.Dataset

    def __repr__(self) -> str:
        return repr(self.model)

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:  # noqa: ARG002
        """What the model made of the same weather."""
        return self.air


def _posed(study: UncertainStudy, case: Case, shared: Callable[[Climate], xr.Dataset]) -> Question:
    variant, weather = case.variant, period(case.climate, case.start, case.years)
    if variant.indoor is study.case.variant.indoor:
        variant = replace(variant, indoor=_KeptIndoors(variant.indoor, shared(weather)))
    return question_of(variant, weather)


def _shared_air(model: IndoorModel, weather: Climate) -> xr.Dataset:
    """Indoor air of a model under some weather, which the next member must find as it is."""
    air = model.conditions(weather.data).copy(deep=True)
    for array in air.data_vars.values():
        array.to_numpy().flags.writeable = False
    return air


def _block(
    study: UncertainStudy,
    members: tuple[int, int],
    numbers: FloatArray,
    measured: FloatArray,
    daily: FloatArray,
    days: Any,
    failures: dict[str, str],
) -> xr.Dataset:
    variables: dict[str, Any] = {}
    for at, (one, spread) in enumerate(study.inputs):
        attrs = {"long_name": one.name, "units": one.kind.unit, "distribution": spread.describe(one)}
        if isinstance(spread, Choice):
            words = json.dumps([one.say(value) for value in spread.values], ensure_ascii=False)
            attrs |= {"units": "1", "choices": words}
        variables[one.dimension] = ("member", numbers[:, at], attrs)
    for at, measure in enumerate(study.measures):
        variables[measure.name] = ("member", measured[:, at], measure.attrs())
    variables[DAILY] = (("member", "day"), daily, CRITERION[DAILY].attrs() | {"cell_methods": "day: mean"})
    solved = np.array([str(member) not in failures for member in range(*members)], dtype=np.int8)
    variables["solved"] = ("member", solved, {"long_name": "1 where the solver came to the end", "units": "1"})
    coords = {
        "member": ("member", np.arange(*members), {"long_name": "place in the sequence"}),
        "day": ("day", days, {"long_name": "middle of the day, local standard time"}),
    }
    block = xr.Dataset(variables, coords, {"failures": json.dumps(failures)})
    block["day"].encoding = {"units": "hours since 1970-01-01", "dtype": "int64"}
    return block
