"""Ctrl+C that is not lost on the way.

Python raises the interrupt wherever the program happens to be. Where that is the clean-up of some object, it can only
be printed and is forgotten, and a run of an hour goes on. Imports nothing of ours.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def heeded() -> Iterator[Callable[[], None]]:
    """Interrupts are remembered while the block runs.

    Yields
    ------
    callable
        Raises KeyboardInterrupt where one has been asked for and was lost; to be called between two pieces of work.
    """
    asked: list[int] = []
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield lambda: None  # no other thread is interrupted, and where nobody listens there is nothing to lose
        return

    def note(number: int, frame: FrameType | None) -> None:
        asked.append(number)
        before(number, frame)

    def heed() -> None:
        if asked:
            raise KeyboardInterrupt

    signal.signal(signal.SIGINT, note)
    try:
        yield heed
    finally:
        # A generator may be put away by another thread; what stays then does what was there before.
        if threading.current_thread() is threading.main_thread() and signal.getsignal(signal.SIGINT) is note:
            signal.signal(signal.SIGINT, before)


@contextmanager
def unbroken() -> Iterator[None]:
    """An interrupt waits until the block is done, which has to be short."""
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield
        return
    asked: list[tuple[int, FrameType | None]] = []
    signal.signal(signal.SIGINT, lambda number, frame: asked.append((number, frame)))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if asked:
        before(*asked[0])
