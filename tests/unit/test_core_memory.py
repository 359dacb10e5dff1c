"""Room for results: lent again only once nothing looks at it."""

from __future__ import annotations

import gc
import pickle
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from hygro.core import memory

SHAPE = (400, 1, 900)  # large enough to be kept


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch):
    monkeypatch.setattr(memory, "_kept", memory.defaultdict(list))


def _place(array):
    return array.__array_interface__["data"][0]


def test_what_is_dropped_is_lent_again():
    first = memory.room(*SHAPE)
    assert first.shape == SHAPE
    assert first.dtype == float
    assert first.flags.c_contiguous
    assert first.flags.writeable
    assert _place(first) % 64 == 0
    place = _place(first)
    del first
    assert memory.kept() == 8 * 400 * 900
    again = memory.room(900, 400)  # by size, whatever the shape
    assert _place(again) == place
    assert memory.kept() == 0


@pytest.mark.parametrize(
    "look",
    [
        lambda a: a[3],
        lambda a: a.reshape(-1)[5:9],
        lambda a: a.T[::2],
        lambda a: a.view(np.int64),
        lambda a: memoryview(a),
        lambda a: np.frombuffer(memoryview(a.reshape(-1))),
        lambda a: np.broadcast_to(a, (2, *a.shape)),
    ],
)
def test_nothing_is_lent_twice(look):
    """Whatever still looks at it keeps it, and what it sees stays as it is."""
    array = memory.room(*SHAPE)
    array[...] = 7.0
    seen = look(array)
    del array
    gc.collect()
    other = memory.room(*SHAPE)
    other[...] = -1.0
    assert memory.kept() == 0
    assert np.asarray(seen).view(np.float64).min() == 7.0
    del seen
    gc.collect()
    assert memory.kept() == 8 * 400 * 900


def test_copies_let_it_go():
    array = memory.room(*SHAPE)
    array[...] = 3.0
    copied = pickle.loads(pickle.dumps(array))
    del array
    memory.room(*SHAPE)[...] = 4.0
    assert (copied == 3.0).all()


def test_no_more_is_kept_than_a_limit(monkeypatch):
    monkeypatch.setattr(memory, "MOST_KEPT", 2 * 8 * 400 * 900)
    several = [memory.room(*SHAPE) for _ in range(5)]
    several.clear()
    assert memory.kept() == memory.MOST_KEPT


def test_what_was_of_another_size_makes_room(monkeypatch):
    monkeypatch.setattr(memory, "MOST_KEPT", 2 * 8 * 400 * 900)
    several = [memory.room(300, 900), memory.room(300, 900)]
    several.clear()
    array = memory.room(*SHAPE)
    place = _place(array)
    del array
    assert memory.kept() == 8 * 400 * 900
    assert _place(memory.room(*SHAPE)) == place


def test_what_is_small_is_not_kept():
    array = memory.room(10, 3)
    assert array.shape == (10, 3)
    del array
    assert memory.kept() == 0


def test_threads_are_never_lent_the_same():
    def work(number):
        for _ in range(200):
            array = memory.room(*SHAPE)
            array[...] = number
            if not (array == number).all():
                return False
        return True

    with ThreadPoolExecutor(4) as pool:
        assert all(pool.map(work, range(8)))
