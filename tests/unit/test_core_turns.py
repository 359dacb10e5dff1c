"""Threads take turns where they hold the interpreter, and compute beside each other."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from hygro.core.turns import in_turn, out_of_turn
from hygro.vary.spread_out import each

PATIENCE = 20.0  # [s] after which a thread that still waits is one that would wait for ever


def test_one_has_the_turn_while_others_compute():
    """Both are out of turn at the same time, which each waits for; in turn they are never both."""
    meet, inside, most = threading.Barrier(2), [0], [0]

    def task(_shared, item):
        inside[0] += 1
        most[0] = max(most[0], inside[0])
        inside[0] -= 1
        with out_of_turn():
            meet.wait(PATIENCE)
        inside[0] += 1
        most[0] = max(most[0], inside[0])
        inside[0] -= 1
        return item

    with ThreadPoolExecutor(2) as pool:
        assert sorted(found for _, found in each(task, None, range(8), pool)) == list(range(8))
    assert most[0] == 1


def test_a_task_may_spread_out_in_its_turn():
    def outer(_shared, item):
        with ThreadPoolExecutor(2) as own:
            return sum(found for _, found in each(lambda _, one: one * item, None, range(4), own))

    with ThreadPoolExecutor(2) as pool:
        assert dict(each(outer, None, range(4), pool)) == {0: 0, 1: 6, 2: 12, 3: 18}


def test_a_task_that_fails_leaves_the_turn_to_others():
    def fails(_shared, _item):
        with out_of_turn():
            raise ValueError("no")

    with ThreadPoolExecutor(1) as pool, pytest.raises(ValueError, match="no"):
        list(each(fails, None, [1], pool))
    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(_has_the_turn).result(PATIENCE)  # else it would wait for ever


def _has_the_turn():
    with in_turn():
        return True


def _goes_out_of_turn():
    with out_of_turn():
        return True


def test_who_has_no_turn_gives_none_away():
    with ThreadPoolExecutor(1) as pool, in_turn():
        assert pool.submit(_goes_out_of_turn).result(PATIENCE)
        waits = pool.submit(_has_the_turn)
        assert not waits.done()
        with out_of_turn():
            assert waits.result(PATIENCE)
