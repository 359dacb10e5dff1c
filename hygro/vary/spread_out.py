"""The same task for many items at once: on the threads of this machine, or on whatever executor is given.

Threads are enough on one machine: the solver lets other threads run beside it. May import: errors, stopping, core._jit,
core.turns.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from queue import SimpleQueue
from typing import Any, TypeVar

from hygro.core import _jit
from hygro.core.turns import in_turn, out_of_turn
from hygro.errors import InputError
from hygro.stopping import heeded

Shared = TypeVar("Shared")
Item = TypeVar("Item")
Found = TypeVar("Found")

_AHEAD = 2  # tasks handed out for each worker: one that runs and one that waits, so that memory stays bounded


def each(
    task: Callable[[Shared, Item], Found], shared: Shared, items: Sequence[Item], executor: Any = None
) -> Iterator[tuple[Item, Found]]:
    """Results of a task as they come, in whatever order.

    Parameters
    ----------
    task : callable
        Function of what is shared and of one item; for processes and clusters it lives in a module.
    shared : object
        What every task needs; sent to a cluster once.
    items : sequence
        What differs.
    executor : concurrent.futures.Executor or dask client, optional
        Where to work; threads on all cores of this machine by default.

    Yields
    ------
    tuple
        Item and result.

    Raises
    ------
    InputError
        Where the executor cannot be used.
    Exception
        Whatever a task raises; what waits is cancelled, what runs is waited for.
    """
    todo = list(items)
    if executor is not None and not callable(getattr(executor, "submit", None)):
        msg = f"executor is {executor!r}; give a dask client, an executor of concurrent.futures, or None for threads."
        raise InputError(msg)
    # Threads that all find no machine code would each compile it: one item then goes first.
    if executor is None and todo and not _jit.is_compiled():
        first = todo.pop(0)
        yield first, task(shared, first)
    if executor is not None:
        yield from _as_they_come(task, shared, todo, executor, _workers(executor))
        return
    workers = os.cpu_count() or 1
    with ThreadPoolExecutor(max_workers=workers, thread_name_prefix="hygro") as pool:
        yield from _as_they_come(task, shared, todo, pool, workers)


def _as_they_come(
    task: Callable[[Any, Any], Any], shared: Any, todo: list[Any], executor: Any, workers: int
) -> Iterator[tuple[Any, Any]]:
    options: dict[str, Any] = {}
    if hasattr(executor, "scatter"):  # a dask client: what is shared travels once, and equal tasks are not merged
        shared = executor.scatter(shared, broadcast=True, hash=False)
        options = {"pure": False}
    done: SimpleQueue[Any] = SimpleQueue()
    running: dict[Any, Any] = {}
    waiting = iter(todo)

    def hand_out() -> bool:
        for item in waiting:
            future = executor.submit(_in_turn, task, shared, item, **options)
            running[future] = item
            future.add_done_callback(done.put)
            return True
        return False

    try:
        for _ in range(_AHEAD * workers):
            hand_out()
        with heeded() as heed:
            while running:
                with out_of_turn():  # of a task that spreads out in its turn
                    future = done.get()
                item = running.pop(future)
                yield item, future.result()
                heed()
                hand_out()
    finally:
        for future in running:
            future.cancel()


def _in_turn(task: Callable[[Any, Any], Any], shared: Any, item: Any) -> Any:
    """A task among those of other threads."""
    with in_turn():
        return task(shared, item)


def _workers(executor: Any) -> int:
    """How many tasks an executor may run at once, as far as it says."""
    if hasattr(executor, "nthreads"):
        return max(sum(int(threads) for threads in executor.nthreads().values()), 1)
    return int(getattr(executor, "_max_workers", None) or os.cpu_count() or 1)
