"""Contract: docs/validation.md shows the rows of docs/validation.csv, and each row has a test that makes it.

That a row still says what its test finds is asserted by the test itself (``tests/evidence.py``).
"""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import evidence
import pytest

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
ROW = evidence.Row("t", "c", "K", 1.0, 1.0, 1.0, 0.1, 0.0, 1, "exact", "s")


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_validation", DOCS / "make_validation.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_current(maker: ModuleType) -> None:
    written = (DOCS / "validation.md").read_text(encoding="utf-8")
    assert written == maker.page(), "run: python docs/make_validation.py --page"


def test_every_figure_is_there_and_on_the_page(maker: ModuleType) -> None:
    drawn = {path.stem for path in (DOCS / "images").glob("validation-*.png")}
    assert drawn == {f"validation-{name}" for name in maker.FIGURES}
    page = maker.page()
    assert all(f"(images/{name}.png)" in page for name in drawn)


def test_every_file_with_checks_is_on_the_page(maker: ModuleType) -> None:
    on_page = {row.test.split("::")[0] for row in evidence.read()}
    assert on_page == {path.relative_to(ROOT / "tests").as_posix() for path in maker.files()}


def test_every_row_has_its_test(collected: set[str]) -> None:
    """A row whose test was renamed or taken out may not stay on the page. Of files collected in this session."""
    present = {test.split("::")[0] for test in collected}
    orphans = [row.test for row in evidence.read() if row.test.split("::")[0] in present and row.test not in collected]
    assert not orphans, "run: python docs/make_validation.py"


def test_rows_of_a_file_stand_together() -> None:
    """The page groups them by file."""
    files = [row.test.split("::")[0] for row in evidence.read()]
    assert sum(a != b for a, b in pairwise(files)) == len(set(files)) - 1


def test_no_row_lies_beyond_its_tolerance() -> None:
    for row in evidence.read():
        assert not abs(row.difference) > row.tolerance * (1 + 1e-4), row


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    evidence.write([ROW], tmp_path / "rows.csv")
    assert evidence.read(tmp_path / "rows.csv") == [ROW]


@pytest.mark.parametrize(
    ("change", "still_true"),
    [
        ({}, True),
        ({"ours": 1.02}, True),
        ({"ours": 1.03}, False),  # a quarter of the tolerance
        ({"low": 1.001, "high": 1.001}, False),
        ({"tolerance": 0.2}, False),
        ({"source": "another"}, False),
        ({"grade": "standard"}, False),
        ({"unit": "Pa"}, False),
        ({"count": 7}, False),
    ],
)
def test_a_row_knows_when_it_is_stale(change: dict[str, object], still_true: bool) -> None:
    assert replace(ROW, **change).same(ROW) is still_true  # type: ignore[arg-type]


def test_of_many_values_the_worst_may_become_another_one() -> None:
    many = replace(ROW, count=9, ours=1.05)
    assert replace(many, ours=2.05, low=2.0, high=2.0).same(many)
    assert not replace(many, ours=2.09, low=2.0, high=2.0).same(many)


def test_a_check_asserts_and_compares_with_the_page() -> None:
    said = {"within": 0.1, "unit": "K", "grade": evidence.Grade.EXACT, "source": "s"}
    with pytest.raises(AssertionError, match="beyond its tolerance"):
        evidence.Evidence("t", None).check("c", 1.2, 1.0, **said)
    evidence.Evidence("t", [ROW]).check("c", 1.0, 1.0, **said)
    with pytest.raises(AssertionError, match="the page says"):
        evidence.Evidence("t", [ROW]).check("c", 1.05, 1.0, **said)
    with pytest.raises(AssertionError, match="not on the page"):
        evidence.Evidence("t", []).check("c", 1.0, 1.0, **said)
    with pytest.raises(AssertionError, match="on the page but not checked"):
        evidence.Evidence("t", [ROW]).close()
    with pytest.raises(AssertionError):
        evidence.Evidence("t", None).check("c", float("nan"), 1.0, **said)
    with pytest.raises(AssertionError, match="beyond its tolerance"):
        evidence.Evidence("t", None).between("c", 3.0, (1.0, 2.0), **said)
