"""Notebooks with blanks that fail kindly: a sentence in place of a traceback.

A blank is a line such as ``gap = ...  # blank A: height of the gap``. May import: errors.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from typing import Any, Final

from hygro.errors import HygroError, InputError

_BLANK: Final = re.compile(r"^[^#\n]*\.\.\.[^#\n]*#\s*blank\s+(\w+):\s*(.+?)\s*$", re.MULTILINE)


def explain(error: BaseException, cell: str) -> str:
    """What went wrong in a cell, for somebody who is no programmer.

    Parameters
    ----------
    error : BaseException
        What the cell raised.
    cell : str
        Source of the cell.

    Returns
    -------
    str
        One or two sentences.
    """
    empty = _BLANK.findall(cell)
    if empty:
        listed = "; ".join(f"{name} ({what})" for name, what in empty)
        return f"Still empty: blank {listed}. Put your value in place of the three dots and run the cell again."
    if isinstance(error, HygroError):
        return f"Not quite: {' '.join(str(error).split())}"
    if isinstance(error, NameError):
        missing = error.name or "something"
        return f"{missing!r} is not there yet. Run the cells above first, one after the other, and fill their blanks."
    if isinstance(error, SyntaxError):
        line = f" in line {error.lineno}" if error.lineno else ""
        return f"Python cannot read this cell{line}: look for a missing quote, comma or bracket."
    if isinstance(error, KeyboardInterrupt):
        return "Stopped. Run the cell again when you like."
    return f"This did not work ({type(error).__name__}: {error}). Compare the cell with the cheat sheet, or ask."


def fail_kindly() -> None:
    """From now on, say in a sentence what went wrong in a cell of this notebook.

    Raises
    ------
    InputError
        Where there is no notebook.
    """
    shell = _shell()
    if shell is None:
        msg = "workshop.fail_kindly() works in a notebook only; in a script, errors are better seen in full."
        raise InputError(msg)

    def say(self: Any, *raised: Any, **_: Any) -> list[str]:
        sys.stdout.write(explain(raised[1], str(self.user_ns["In"][-1])) + "\n")
        return []

    shell.set_custom_exc((BaseException,), say)


def tell(reached: bool, yes: str, not_yet: str) -> None:
    """Say whether the aim of an exercise is reached.

    Parameters
    ----------
    reached : bool
        Whether it is.
    yes, not_yet : str
        What to say.
    """
    sys.stdout.write(f"Yes. {yes}\n" if reached else f"Not yet. {not_yet}\n")


def _shell() -> Any:
    try:
        from IPython import get_ipython
    except ImportError:
        return None
    running: Callable[[], Any] = get_ipython
    return running()
