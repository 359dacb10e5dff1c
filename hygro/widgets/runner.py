"""Running a state: a quick look while something moves, the full run when it rests.

The quick look halves the number of cells and judges nothing. `QUICK_WITHIN` is what it was found to be off by, against
full runs of the states in ``tests/unit/test_widgets_panel.py``. May import: subject, state, simulation,
criteria, climate, assembly, indoor, errors.
"""

from __future__ import annotations

import warnings
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, ClassVar, Final

import xarray as xr

from hygro.assembly import Assembly
from hygro.climate import Climate
from hygro.criteria import CombinedVerdict, combined_verdict
from hygro.errors import HygroWarning
from hygro.indoor import IndoorModel
from hygro.simulation import simulate
from hygro.widgets.state import State
from hygro.widgets.subject import Subject

QUICK_DETAIL: Final = 0.5  # [1] of the cells
QUICK_WITHIN: Final = 1.5  # [%] of dry mass, highest daily mean of the layer below fibre saturation
_PERIODS: Final = 4


@dataclass(frozen=True, slots=True, eq=False)
class Ran:
    """A state and its run; the answer is None after a quick look."""

    state: State
    assembly: Assembly
    run: xr.Dataset
    answer: CombinedVerdict | None
    warned: tuple[str, ...] = ()


@dataclass(slots=True)
class Runner:
    """Runs states of a subject, and keeps the last few weathers at hand.

    Parameters
    ----------
    subject : Subject
        What is explored.
    """

    subject: Subject
    _periods: OrderedDict[tuple[str, int], Climate] = field(default_factory=OrderedDict)
    _lock: Any = field(default_factory=Lock)

    def quick(self, state: State) -> Ran:
        """A look on a coarse grid, without an answer."""
        return self._run(state, QUICK_DETAIL, judge=False)

    def full(self, state: State) -> Ran:
        """The run as `simulate` does it, judged."""
        return self._run(state, 1.0, judge=True)

    def _run(self, state: State, detail: float, *, judge: bool) -> Ran:
        variant = self.subject.built(state, "now")
        air = Heard(variant.indoor)
        run = simulate(variant.assembly, self._period(state), air, leak=variant.leak, detail=detail)
        answer = combined_verdict(run, self.subject.layer) if judge else None
        return Ran(state, variant.assembly, run, answer, air.warned)

    def _period(self, state: State) -> Climate:
        key = state.climate, state.month
        with self._lock:
            if key not in self._periods:
                climate = self.subject.climate(state)
                self._periods[key] = climate.period(self.subject.start(state), self.subject.years)
                while len(self._periods) > _PERIODS:
                    self._periods.popitem(last=False)
            self._periods.move_to_end(key)
            return self._periods[key]


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
