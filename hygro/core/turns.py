"""Whose turn it is: threads compute beside each other, and do one after another what holds the interpreter.

Left to themselves, threads that hold it change places every few milliseconds. Tasks of equal length then stay in step:
they all prepare, each slowed down by the others, and all compute, while nobody prepares what comes next. In turns, one
prepares while the others compute, and stays so.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

_turn = threading.Lock()
_mine = threading.local()


@contextmanager
def in_turn() -> Iterator[None]:
    """Wait for the turn, and have it: around a whole task of one of several threads."""
    _turn.acquire()
    _mine.held = True
    try:
        yield
    finally:
        _mine.held = False
        _turn.release()


@contextmanager
def out_of_turn() -> Iterator[None]:
    """Let others have it meanwhile: around what lets other threads run, or waits for them."""
    if not getattr(_mine, "held", False):
        yield
        return
    _mine.held = False
    _turn.release()
    try:
        yield
    finally:
        _turn.acquire()
        _mine.held = True
