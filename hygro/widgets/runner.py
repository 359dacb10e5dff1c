"""Running a state: a quick look while something moves, the full run when it rests.

What a move does not change is kept: weather, sun on the face, boundary conditions. May import: seen, quick, subject,
state, study, simulation, criteria, climate, assembly, indoor, errors.
"""

from __future__ import annotations

import warnings
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from threading import Lock
from typing import Any, ClassVar, Final, Generic, TypeVar

import xarray as xr

from hygro.assembly import Assembly
from hygro.climate import Climate
from hygro.criteria import CombinedVerdict, combined_verdict
from hygro.errors import HygroWarning
from hygro.indoor import IndoorModel
from hygro.simulation import simulate
from hygro.study import Variant
from hygro.widgets.quick import Driven, driven, look
from hygro.widgets.seen import Seen, of_run
from hygro.widgets.state import State
from hygro.widgets.subject import Subject

_KEPT: Final = 4
_Value = TypeVar("_Value")


@dataclass(frozen=True, slots=True, eq=False)
class Ran:
    """A state and what was found; run and answer are None after a quick look."""

    state: State
    assembly: Assembly
    seen: Seen
    run: xr.Dataset | None = None
    answer: CombinedVerdict | None = None
    warned: tuple[str, ...] = ()


class Kept(Generic[_Value]):
    """The last few of what was made, by key; a thread that asks waits for another that makes."""

    def __init__(self, count: int = _KEPT) -> None:
        self._count, self._lock = count, Lock()
        self._found: OrderedDict[Hashable, _Value] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], _Value]) -> _Value:
        """What is kept under a key, made where it is missing."""
        with self._lock:
            if key not in self._found:
                self._found[key] = make()
                while len(self._found) > self._count:
                    self._found.popitem(last=False)
            self._found.move_to_end(key)
            return self._found[key]


@dataclass(slots=True)
class Runner:
    """Runs states of a subject, and keeps what the last few had in common.

    Parameters
    ----------
    subject : Subject
        What is explored.
    """

    subject: Subject
    _drives: Kept[tuple[Driven, tuple[str, ...]]] = field(default_factory=Kept)

    def quick(self, state: State) -> Ran:
        """A quick look, without an answer; the full run where the solver cannot go on with it."""
        variant = self.subject.built(state, "now")
        drive, warned = self._drives.get(_driving(state), lambda: self._driven(variant, state))
        seen = look(variant, self.subject.layer, drive)
        return self.full(state) if seen is None else Ran(state, variant.assembly, seen, warned=warned)

    def full(self, state: State) -> Ran:
        """The run as `simulate` does it, judged."""
        variant, layer = self.subject.built(state, "now"), self.subject.layer
        air = Heard(variant.indoor)
        run = simulate(variant.assembly, self._period(state), air, leak=variant.leak)
        return Ran(state, variant.assembly, of_run(run, layer), run, combined_verdict(run, layer), air.warned)

    def _period(self, state: State) -> Climate:
        return self.subject.climate(state).period(self.subject.start(state), self.subject.years)

    def _driven(self, variant: Variant, state: State) -> tuple[Driven, tuple[str, ...]]:
        air = Heard(variant.indoor)
        return driven(replace(variant, indoor=air), self._period(state)), air.warned


def _driving(state: State) -> State:
    """What boundary conditions depend on: not how wide gap and openings are, nor how tight the retarder."""
    return replace(state, gap=float(state.gap > 0.0), inlet=0.0, outlet=0.0, screen=1.0, permeance=0.0)


class Heard:
    """An indoor model whose warnings are kept, to be said on the panel instead of in a log."""

    _lock: ClassVar[Any] = Lock()  # who listens for warnings listens for the whole process

    def __init__(self, model: IndoorModel) -> None:
        self._model = model
        self.warned: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return repr(self._model)

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air of the model."""
        with self._lock, warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            air = self._model.conditions(outdoor)
        self.warned = tuple(str(one.message) for one in caught if issubclass(one.category, HygroWarning))
        return air


class Newest:
    """One worker that takes the newest task only: what waits is replaced, what runs is left to end."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="hygro-panel")
        self._lock = Lock()
        self._running = False
        self._waiting: Callable[[], None] | None = None

    def submit(self, task: Callable[[], Any], done: Callable[[Future[Any]], None]) -> None:
        """Run a task beside the caller, then call `done` with its future, in the worker's thread."""

        def start() -> None:
            self._pool.submit(task).add_done_callback(finish)

        def finish(future: Future[Any]) -> None:
            with self._lock:
                following, self._waiting = self._waiting, None
                self._running = following is not None
            done(future)
            if following is not None:
                following()

        with self._lock:
            if self._running:
                self._waiting = start
                return
            self._running = True
        start()
