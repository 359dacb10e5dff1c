"""The panel: passes changes from the page to the runner, and what was found back to the page.

It holds the history and the pinned run; the page draws. May import: the other modules of this folder, plots,
errors, and all above them.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Sequence
from concurrent.futures import Future
from pathlib import Path
from typing import Any, Final

import anywidget
import traitlets

from hygro.errors import HygroError
from hygro.plots.panel import explored
from hygro.plots.style import AxisUnit, png
from hygro.widgets.code import as_python, as_study
from hygro.widgets.controls import (
    DEPTH,
    SPEED,
    Choice,
    Slider,
    Units,
    band,
    controls,
    is_used,
    moved,
    options,
    stops_in_si,
)
from hygro.widgets.drawing import drawable, look_of, shown_in
from hygro.widgets.history import History
from hygro.widgets.runner import Newest, Ran, Runner
from hygro.widgets.state import State
from hygro.widgets.subject import Subject
from hygro.widgets.words import CAUTION, Numbers, caution, headline, numbers, reason, short_answer, table, texts_for

_HERE: Final = Path(__file__).parent
_REST: Final = 0.35  # [s] without a change before the full run
NOW, PINNED = "now", "pinned"
_LOG = logging.getLogger("hygro")


class Front(anywidget.AnyWidget):  # type: ignore[misc]
    """What the page sees."""

    _esm = "\n".join((_HERE / name).read_text(encoding="utf-8") for name in ("pictures.js", "front.js"))
    _css = _HERE / "front.css"
    form = traitlets.Dict().tag(sync=True)
    values = traitlets.Dict().tag(sync=True)
    told = traitlets.Dict().tag(sync=True)
    now = traitlets.Dict().tag(sync=True)
    pinned = traitlets.Dict().tag(sync=True)


class Panel:
    """The live panel; shown as the last line of a notebook cell.

    Parameters
    ----------
    subject : Subject
        What is explored.
    state : State
        Where the controls begin.
    units : Units
        Units of the whole panel.

    Raises
    ------
    InputError
        Where the first state cannot be built.
    """

    def __init__(self, subject: Subject, state: State, units: Units) -> None:
        self._subject, self._units, self._first = subject, units, state
        self._history = History((state,))
        self._runner, self._newest = Runner(subject), Newest()
        self._ran = self._runner.full(state)
        self._numbers = {NOW: numbers(self._ran.seen)}
        self._pinned: Ran | None = None
        self._error, self._wrong, self._n, self._turn = "", "", 0, 0
        self._timer: asyncio.TimerHandle | None = None
        self.front = Front(form=self._form())
        self._show()
        self.front.on_msg(self._take)

    def _repr_mimebundle_(self, **options: Any) -> Any:
        return self.front._repr_mimebundle_(**options)

    @property
    def state(self) -> State:
        """Setting of the controls."""
        return self._history.now

    @property
    def said(self) -> str:
        """Answer and reason as they stand on the panel, or the error."""
        told = self.front.told
        return str(told["error"] or f"{told['headline']} {told['reason']}")

    def set(self, **changes: object) -> None:
        """Move controls from Python, as typed: ``panel.set(gap="30 mm", permeance="1 perm")``; the run is full.

        Parameters
        ----------
        **changes : str or float
            By the name of the control. [of the panel, where a number has none]

        Raises
        ------
        InputError
            Where a control does not exist here, or a value cannot be.
        """
        state = self.state
        for field, stated in changes.items():
            state = moved(self._subject, state, field, stated, self._units)
        self._error = self._wrong = ""
        self._history = self._history.changed(state).rested()
        self.settle()

    def settle(self) -> None:
        """Run the present state in full now, as the panel does when the controls rest."""
        self._stop_timer()
        self._turn += 1
        self._found(self._runner.full(self.state))

    def pin(self) -> None:
        """Keep the present variant to compare against."""
        if self._ran.answer is None or self._ran.state != self.state:
            self.settle()
        self._pinned = self._ran
        self._numbers[PINNED] = self._numbers[NOW]
        self._show()

    def unpin(self) -> None:
        """Forget the pinned variant."""
        self._pinned = None
        self._numbers.pop(PINNED, None)
        self._show()

    def undo(self) -> None:
        """Take the last change back."""
        self._history = self._history.undone()
        self._error = self._wrong = ""
        self.settle()

    def reset(self) -> None:
        """Back to where the panel began; can be undone."""
        self._history = self._history.rested().changed(self._first).rested()
        self._error = self._wrong = ""
        self.settle()

    def use(self, units: Units) -> None:
        """Show everything in other units."""
        self._units = Units(units)
        with self.front.hold_sync():
            self.front.form = self._form()
            self._tell()

    def as_python(self) -> str:
        """The present state as a Python script that gives the same run."""
        return as_python(self._subject, self.state)

    def as_study(self) -> str:
        """The present state as a study file (TOML)."""
        return as_study(self._subject, self.state)

    def figure(self) -> bytes:
        """The three pictures in one PNG, with what was set and the caution."""
        if self._ran.run is None:
            self.settle()
        assert self._ran.run is not None  # noqa: S101 - settled
        runs = {NOW: self._ran.run}
        if self._pinned is not None and self._pinned.run is not None:
            runs[PINNED] = self._pinned.run
        title = f"{self._ran.assembly.name} in {self._ran.run.attrs['climate']}. {self.said}"
        footnote = f"{_in_words(self._subject, self.state, self._units)}. {CAUTION}"
        depth, speed = (AxisUnit(one[self._units].unit, one[self._units].factor) for one in (DEPTH, SPEED))
        return png(explored(runs, self._subject.layer, title, footnote, depth=depth, speed=speed), dpi=200)

    def _take(self, _: object, message: dict[str, Any], __: object) -> None:
        """A message from the page. Whatever goes wrong is said on the panel, not in a log that nobody reads."""
        try:
            self._do(message)
        except HygroError as error:
            self._complain(str(error))
        except Exception as error:
            _LOG.exception("The panel could not do %r", message.get("kind"))
            self._complain(f"This could not be done ({type(error).__name__}: {error}). Take the last change back.")

    def _do(self, message: dict[str, Any]) -> None:
        kind = message["kind"]
        if kind == "move":
            self._n = int(message["n"])
            self._move(message["changes"])
        elif kind == "units":
            self.use(Units(message["units"]))
        elif kind == "python":
            self.front.send({"kind": "text", "what": "The Python", "text": self.as_python()})
        elif kind == "study":
            self.front.send({"kind": "text", "what": "The study file", "text": self.as_study()})
        elif kind == "figure":
            self.front.send({"kind": "file", "name": "what-if.png"}, [self.figure()])
        else:
            {"undo": self.undo, "reset": self.reset, "pin": self.pin, "unpin": self.unpin}[kind]()

    def _move(self, changes: dict[str, object]) -> None:
        state = self.state
        for field, stated in changes.items():
            self._wrong = field
            state = moved(self._subject, state, field, stated, self._units)
        self._error = self._wrong = ""
        self._history = self._history.changed(state)
        self._turn += 1
        self._found(self._runner.quick(state))
        self._later()

    def _later(self) -> None:
        """Full run once the controls have rested; at once where no event loop would wake us."""
        self._stop_timer()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self.settle()
            return
        turn, state = self._turn, self.state

        def start() -> None:
            if turn == self._turn:
                self._history = self._history.rested()
                self._newest.submit(lambda: self._runner.full(state), ended)

        def ended(future: Future[Ran]) -> None:
            loop.call_soon_threadsafe(self._arrived, turn, future)

        self._timer = loop.call_later(_REST, start)

    def _arrived(self, turn: int, future: Future[Ran]) -> None:
        if turn != self._turn:
            return  # something moved since: this answer is stale
        try:
            self._found(future.result())
        except HygroError as error:
            self._complain(str(error))

    def _stop_timer(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _found(self, ran: Ran) -> None:
        self._ran = ran
        self._numbers[NOW] = numbers(ran.seen)
        self._show()

    def _show(self) -> None:
        with self.front.hold_sync():
            self.front.now = drawable(self._ran)
            self.front.pinned = {} if self._pinned is None else drawable(self._pinned)
            self._tell()

    def _complain(self, words: str) -> None:
        self._error = words
        self._tell()

    def _tell(self) -> None:
        ran, layer = self._ran, self._subject.layer
        mark, level, head = headline(ran, layer)
        listed: dict[str, tuple[Ran, Numbers]] = {NOW: (ran, self._numbers[NOW])}
        if self._pinned is not None:
            listed[PINNED] = (self._pinned, self._numbers[PINNED])
        with self.front.hold_sync():
            self.front.values = self._values()
            answers = {name: (short_answer(one), found) for name, (one, found) in listed.items()}
            self.front.told = {
                "n": self._n,
                "mark": mark,
                "level": level,
                "headline": head,
                "reason": reason(ran),
                "table": table(answers, layer, self._units),
                "alts": texts_for(listed, layer, self._units),
                "error": self._error,
                "wrong": self._wrong,
                "can_undo": self._history.can_undo,
                "pinned": self._pinned is not None,
                "caution": caution(ran),
            }

    def _form(self) -> dict[str, Any]:
        subject, units = self._subject, self._units
        return {
            "title": f"What if: {subject.assembly.name}, is the {subject.layer} dry?",
            "look": look_of(subject.layer),
            "shown": shown_in(units),
            "units": str(units),
            "all_units": [str(one) for one in Units],
            "copies": [
                ["python", "Copy as Python", "Copy a script that builds and runs this variant"],
                ["study", "Copy as study file", "Copy a TOML file that the command and read_study understand"],
            ],
            "controls": [_row(subject, one, units) for one in controls(subject)],
        }

    def _values(self) -> dict[str, Any]:
        return {one.field: _value(self._subject, self.state, one, self._units) for one in controls(self._subject)}


def _row(subject: Subject, control: Slider | Choice, units: Units) -> dict[str, Any]:
    row: dict[str, Any] = {
        "field": control.field,
        "group": control.group,
        "label": control.label,
        "explanation": control.explanation,
    }
    if isinstance(control, Choice):
        return row | {"options": list(options(subject, control.field))}
    scale = control.scale(units)
    stops = stops_in_si(scale)
    bands, start = [], 0.0
    for upper, words in control.bands:
        end = _place(stops, upper)
        bands.append({"text": words, "from": start, "to": end})
        start = end
    return row | {
        "unit": scale.unit,
        "stops": [scale.text(stop) for stop in stops],
        "bands": bands,
        "zero": control.zero,
    }


def _place(stops: Sequence[float], value: float) -> float:
    """Where on the slider a value lies, between stops."""
    above = next((number for number, stop in enumerate(stops) if stop > value * (1.0 + 1e-9)), len(stops))
    return float(len(stops) - 1) if above == len(stops) else above - 0.5


def _value(subject: Subject, state: State, control: Slider | Choice, units: Units) -> dict[str, Any]:
    value = getattr(state, control.field)
    off = not is_used(state, control.field)
    if isinstance(control, Choice):
        return {
            "text": next(words for words, one in options(subject, control.field).items() if one == value),
            "off": off,
        }
    scale = control.scale(units)
    stops = stops_in_si(scale)
    nearest = min(range(len(stops)), key=lambda number: abs(stops[number] - value))
    return {"text": scale.text(value), "at": nearest, "off": off}


def _in_words(subject: Subject, state: State, units: Units) -> str:
    """Every control that counts, with its value."""
    said = []
    for control in controls(subject):
        if is_used(state, control.field):
            shown = _value(subject, state, control, units)["text"]
            unit = f" {control.scale(units).unit}" if isinstance(control, Slider) else ""
            word = band(control, getattr(state, control.field)) if isinstance(control, Slider) else ""
            said.append(f"{control.label}: {shown}{unit}{f' ({word})' if word else ''}")
    return "; ".join(said)
