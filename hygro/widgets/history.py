"""What was set before, for undoing: a frozen list of states.

May import: state.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final

from hygro.widgets.state import State

_KEPT: Final = 200


@dataclass(frozen=True, slots=True)
class History:
    """States, the present one last.

    Parameters
    ----------
    states : tuple of State
        At least one.
    moving : str
        Control whose last change is still going on; the steps of one drag are undone together.
    """

    states: tuple[State, ...]
    moving: str = ""

    @property
    def now(self) -> State:
        """The present state."""
        return self.states[-1]

    @property
    def can_undo(self) -> bool:
        """Whether there is a state to go back to."""
        return len(self.states) > 1

    def changed(self, state: State) -> History:
        """History with a new present state."""
        if state == self.now:
            return self
        differing = [one.name for one in fields(State) if getattr(state, one.name) != getattr(self.now, one.name)]
        moving = differing[0] if len(differing) == 1 else ""
        if moving and moving == self.moving and self.can_undo:
            return History((*self.states[:-1], state), moving)
        return History((*self.states, state)[-_KEPT:], moving)

    def rested(self) -> History:
        """History in which the next change is one of its own."""
        return replace(self, moving="")

    def undone(self) -> History:
        """History without the last change."""
        return History(self.states[:-1]) if self.can_undo else self
