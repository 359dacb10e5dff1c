"""The quick look against full runs: the same equations where nothing is thinned, near enough where it is."""

import numpy as np
import pytest
from scipy.integrate import trapezoid

import hygro
from hygro.core.bundles import N_FORCING, OUT_TEMPERATURE, RAIN
from hygro.core.work import Settings
from hygro.errors import InputError
from hygro.widgets.controls import Units, moved
from hygro.widgets.quick import QUICK_WITHIN, SPEED_WITHIN, driven, look, thinned
from hygro.widgets.runner import Runner
from hygro.widgets.seen import of_run
from hygro.widgets.words import numbers

COAST = "Wet coast (invented): cold, windy sea coast"
TRIALS = (
    {}, {"gap": 20}, {"q50": 3}, {"gap": 0}, {"finish": "black coated metal"}, {"permeance": "10 perm", "q50": 6},
    {"climate": COAST, "inlet": 100}, {"air": "a household", "people": 4, "supply": 10},
)  # fmt: skip


@pytest.fixture(scope="module")
def panel():
    return hygro.explore(years=1)


@pytest.fixture(scope="module")
def runner(panel):
    return Runner(panel._subject)


def state(panel, **changes):
    now = panel._first
    for field, stated in changes.items():
        now = moved(panel._subject, now, field, stated, Units.METRIC)
    return now


def unthinned(subject, stated, runner):
    """A quick look that is spared nothing."""
    variant, weather = subject.built(stated, "now"), runner._period(stated)
    drive = driven(variant, weather, every=1)
    return look(variant, subject.layer, drive, Settings())


def test_hour_by_hour_it_is_the_run_itself(panel, runner):
    stated = state(panel, gap=30)
    seen, full = unthinned(panel._subject, stated, runner), runner.full(stated).seen
    assert seen.start == full.start
    assert seen.content == pytest.approx(full.content, rel=1e-12)
    assert seen.humidity == pytest.approx(full.humidity, rel=1e-12)
    assert (seen.cells == full.cells).all()
    assert seen.speed == pytest.approx(full.speed, rel=1e-12)
    assert seen.free == pytest.approx(full.free, abs=1e-12)
    assert (seen.is_wood, seen.mould) == (True, None)
    assert full.mould is not None


def test_it_is_as_near_as_the_panel_says(panel, runner):
    for changes in TRIALS:
        stated = state(panel, **changes)
        full, quick = runner.full(stated), runner.quick(stated)
        assert quick.answer is None
        assert quick.run is None
        exact, near = numbers(full.seen), numbers(quick.seen)
        assert abs(near.wettest - exact.wettest) < QUICK_WITHIN, changes
        for one, other in ((near.speed, exact.speed), (near.fastest_tenth, exact.fastest_tenth)):
            assert (one is None) == (other is None)
            assert one is None or abs(one / other - 1.0) < SPEED_WITHIN, changes


def test_what_a_move_does_not_change_is_kept(panel, runner, monkeypatch):
    runner.quick(state(panel))
    monkeypatch.setattr("hygro.widgets.runner.driven", None)  # would fail if it were called
    for changes in ({"gap": 25}, {"inlet": 70}, {"outlet": 90}, {"screen": 40}, {"permeance": "2 perm"}):
        stated = state(panel, **changes)
        kept = runner.quick(stated).seen.content
        fresh = Runner(panel._subject)
        monkeypatch.setattr("hygro.widgets.runner.driven", driven)
        assert (kept == fresh.quick(stated).seen.content).all(), changes
        monkeypatch.setattr("hygro.widgets.runner.driven", None)


def test_what_drives_it_keeps_its_sums():
    rng = np.random.default_rng(7)
    hourly = rng.uniform(0.0, 10.0, (24 * 20 + 1, N_FORCING))
    for every in (1, 2, 4, 6):
        few = thinned(hourly, every)
        assert len(few) == 480 // every + 1
        assert every * few[1:, RAIN].sum() == pytest.approx(hourly[1:, RAIN].sum())
        inside = every * trapezoid(few[2:-2, OUT_TEMPERATURE])
        assert inside == pytest.approx(trapezoid(hourly[:, OUT_TEMPERATURE][2 * every : -2 * every]), rel=0.01)
    assert (thinned(hourly, 1) == hourly).all()
    steady = np.full((49, N_FORCING), 3.0)
    assert thinned(steady, 4) == pytest.approx(3.0)
    straight = np.arange(97.0)[:, None] * np.ones(N_FORCING)
    assert thinned(straight, 4)[3:-3, OUT_TEMPERATURE] == pytest.approx(np.arange(12.0, 88.0, 4.0))


def test_where_the_solver_cannot_go_on_the_full_run_answers(panel, runner, monkeypatch):
    monkeypatch.setattr("hygro.widgets.runner.look", lambda *_: None)
    found = runner.quick(state(panel, gap=40))
    assert found.run is not None
    assert found.answer is not None


def test_a_wall_in_the_rain_is_seen_with_its_rain():
    wall = hygro.Assembly(
        "wall",
        [hygro.Layer("softwood", "20 mm", name="boards"), hygro.Layer("mineral wool batt", "140 mm")],
        tilt=90,
        azimuth=180,
        finish="white coated metal",
    )
    weather = hygro.sample_climate("wet_coast")
    runner = Runner(hygro.explore(wall, weather, layer="boards", years=1)._subject)
    stated = runner.subject.at_first()
    full, quick = of_run(runner.full(stated).run, "boards"), runner.quick(stated).seen
    assert full.content.max() > 20.0
    assert quick.content.max() == pytest.approx(full.content.max(), rel=0.15)


def test_what_cannot_be_is_refused_as_in_a_run(panel, runner):
    with pytest.raises(InputError, match="Gap height"):
        runner.quick(state(panel, gap=400))
