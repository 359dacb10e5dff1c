"""What the benchmark suite times: every method solves the same problem, and its clocks find what they hold."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

DOCS = Path(__file__).parents[2] / "docs"


@pytest.fixture(scope="module")
def timing():
    """The suite's modules; they live beside the page that they write."""
    sys.path.insert(0, str(DOCS))
    try:
        from timing import heat, moist, single
    finally:
        sys.path.remove(str(DOCS))
    return heat, moist, single


@pytest.fixture(scope="module")
def two_days(timing):
    _, moist, _ = timing
    case = moist.task("marine", 2)
    return case, moist.cvode(case, 1e-7)


@pytest.mark.parametrize("method", ["scipy LSODA, banded", "scipy BDF, banded", "scipy Radau, banded"])
def test_scipy_closes_on_the_reference(timing, two_days, method):
    """A tolerance a hundred times tighter brings a method at least five times nearer, to thousandths of a kelvin."""
    _, moist, _ = timing
    case, reference = two_days
    rough, fine = (moist.errors(moist.METHODS[method](case, tolerance), reference) for tolerance in (1e-3, 1e-5))
    assert fine[0] < 0.2 * rough[0]
    assert fine[1] < 0.2 * rough[1]
    assert fine[1] < 0.01


def test_ours_closes_on_the_reference(timing, two_days):
    _, moist, _ = timing
    case, reference = two_days
    usual, fine = (moist.errors(moist.ours(case, factor), reference) for factor in (1.0, 0.01))
    assert fine[1] < 0.1 * usual[1]
    assert fine[0] < 0.3 * usual[0]
    assert moist.ours(case, 1.0).seconds > 0.0


def test_errors_are_of_days_and_of_the_worst_cell(timing):
    _, moist, _ = timing
    still = moist.Solution(np.zeros(48), np.zeros((48, 3)), 0.0, 0.0, 0)
    deck = np.repeat([0.0, 0.5], 24)
    warm = np.zeros((48, 3))
    warm[:24, 1] = 2.0
    moved = moist.Solution(deck, warm, 0.0, 0.0, 0)
    assert moist.errors(moved, still) == (0.5, pytest.approx(np.sqrt(2.0)))


def test_the_cheapest_setting_that_is_accurate_enough(timing):
    _, moist, _ = timing

    def point(moisture, warmth, seconds):
        return moist.Point("m", "s", moisture, warmth, 1, [seconds], [1.0])

    rough, half, good, dear = point(2, 2, 1.0), point(0.5, 2, 2.0), point(0.9, 0.9, 3.0), point(0.1, 0.1, 9.0)
    assert moist.cheapest([dear, good, half, rough], 1.0, 1.0) is good
    assert moist.cheapest([dear, half, rough], 0.5, 2.0) is half
    assert moist.cheapest([half, rough], 1.0, 1.0) is None


def test_straight_lines_and_powers(timing):
    _, _, single = timing
    size = np.array([1.0, 2.0, 4.0, 8.0])
    slope, offset, r_squared, power = single.fit(size, 3.0 * size)
    assert (slope, offset, r_squared, power) == pytest.approx((3.0, 0.0, 1.0, 1.0), abs=1e-12)
    assert single.fit(size, size**2)[3] == pytest.approx(2.0)
    assert single.fit(size, size**2)[2] < 0.99


def test_the_clocks_find_their_steps(timing, capsys):
    """The steps of `simulate` that the page lists exist, and what is listed is most of the time."""
    _, _, single = timing
    single.shares(1)
    said = capsys.readouterr().out
    shares = [float(line.split("|")[-2].strip().rstrip("%")) for line in said.splitlines()[2:] if line.endswith("% |")]
    assert len(shares) == 7
    assert sum(shares[:-1]) > 80.0


def test_heat_alone_is_the_same_problem(timing):
    """The conduction that FiPy and diffrax are given, in steady state, is what the layers' resistances say."""
    heat, _, _ = timing
    it = heat.conduction(heat.task(1))
    total = it.resistance.sum() + it.last + 1.0 / it.first
    assert total == pytest.approx(0.018 / 0.13 + 0.2 / 0.037 + 0.0125 / 0.2, rel=1e-12)
    assert len(it.size) == len(it.resistance) + 1


def _script(name):
    spec = importlib.util.spec_from_file_location(name, DOCS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    kept = sys.path[:]
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path[:] = kept
    return module


def test_every_part_has_its_place_on_the_page(timing):
    suite = _script("benchmark")
    page = suite.PAGE.read_text(encoding="utf-8")
    for part in suite.PARTS:
        new = suite.renewed(page, part, "\nmeasured anew\n\n")
        assert f"<!-- {part}: measured -->\nmeasured anew\n<!-- {part}: end -->" in new
        assert suite.renewed(new, part, "measured anew") == new
    with pytest.raises(ValueError, match="needs one line"):
        suite.renewed("no marks", "year", "said")


def test_the_profile_names_functions():
    plain = _script("profile_solver").plain
    assert plain("_ZN5hygro4core6column11cell_statesB3v67B64c8t") == "column.cell_states"
    assert plain("_ZN5hygro4core9integrate13newton_updateB4v163") == "integrate.newton_update"
    assert plain("memcpy") == "memcpy"
