"""Ctrl+C: one that Python loses in the clean-up of an object stops the work all the same, and the handler goes back."""

import signal
import threading
from pathlib import Path

import pytest

from hygro import Assembly, Layer, constant_climate
from hygro import study as study_module
from hygro.folder import results_folder
from hygro.indoor import ConstantIndoor
from hygro.stopping import heeded, unbroken
from hygro.study import Variant, compare
from hygro.vary.spread_out import each

LOST = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


class Lost:
    """Whose clean-up is where the interrupt arrives."""

    def __del__(self):
        signal.raise_signal(signal.SIGINT)


def interrupted():
    one = Lost()
    del one  # prints the interrupt and forgets it


@pytest.fixture(autouse=True)
def handler():
    """The usual one, before and after."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    signal.signal(signal.SIGINT, before)


@LOST
def test_python_does_lose_it():
    interrupted()


@LOST
def test_it_is_raised_when_it_is_asked_for():
    with heeded() as heed:
        heed()
        interrupted()
        with pytest.raises(KeyboardInterrupt):
            heed()


def test_one_that_is_not_lost_is_raised_at_once():
    with pytest.raises(KeyboardInterrupt), heeded():
        signal.raise_signal(signal.SIGINT)


def doubled(_, item):
    return 2 * item


@LOST
def test_many_items_stop_after_the_one_at_hand():
    seen = []

    def take():
        for item, _ in each(doubled, None, range(100)):
            seen.append(item)
            if len(seen) == 3:
                interrupted()

    with pytest.raises(KeyboardInterrupt):
        take()
    assert len(seen) == 3


@LOST
def test_variants_stop_after_the_one_at_hand(monkeypatch):
    parts = [Layer("plywood 500", "18 mm", name="deck")]
    roof = Assembly("roof", parts, tilt=5, azimuth=180, finish="new wood")
    monkeypatch.setattr(study_module, "_result", lambda one, **_: one.name)
    monkeypatch.setattr(study_module._jit, "is_compiled", lambda: True)
    seen = []

    def progress(done, *_):
        seen.append(done)
        interrupted()

    with pytest.raises(KeyboardInterrupt):
        compare(
            [Variant(str(warm), roof, ConstantIndoor(warm, 0.5)) for warm in (18.0, 19.0, 20.0, 21.0)],
            constant_climate(0.0, 0.8, hours=8760), layer="deck", start="1 January", years=1, progress=progress,
        )  # fmt: skip
    assert seen == [1]


def test_an_interrupt_of_the_caller_puts_the_handler_back():
    def take():
        for _ in each(doubled, None, range(10)):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        take()


def test_an_interrupt_waits_for_what_may_not_be_broken():
    done = []

    def work():
        with unbroken():
            signal.raise_signal(signal.SIGINT)
            done.append(1)
        done.append(2)

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done == [1]


def test_results_are_moved_to_their_names_all_together(tmp_path, monkeypatch):
    names = ("a", "b", "c")
    real = Path.replace

    def interrupted_move(self, target):
        signal.raise_signal(signal.SIGINT)
        return real(self, target)

    def work():
        with results_folder(tmp_path / "out", "unused", names, replace=False) as folder:
            for name in names:
                (folder / name).write_text(name)
            monkeypatch.setattr(Path, "replace", interrupted_move)

    with pytest.raises(KeyboardInterrupt):
        work()
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == list(names)


def test_other_threads_and_deaf_programs_are_left_alone():
    found = []
    thread = threading.Thread(target=lambda: found.extend(each(doubled, None, [1, 2])))
    thread.start()
    thread.join()
    assert sorted(found) == [(1, 2), (2, 4)]
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with heeded() as heed:
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
        signal.raise_signal(signal.SIGINT)
        heed()
    signal.signal(signal.SIGINT, signal.default_int_handler)
