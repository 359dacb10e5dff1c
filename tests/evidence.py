"""One row for every check against something outside: asserted where it is made, shown on docs/validation.md.

A test takes the fixture ``evidence`` and calls ``evidence.check(...)`` in place of ``assert``. The call asserts, and
the row that it leaves is what the page shows: ``docs/validation.csv`` holds the rows as last written by
``python docs/make_validation.py``, and every later run of the test compares its row with the one written. A reference,
a tolerance or a source that changes without its page, a result that moves by a quarter of its tolerance, and a row that
no test makes any more, are failures. So the page cannot say what the tests do not.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import astuple, dataclass, fields
from enum import StrEnum
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

ROWS = Path(__file__).parents[1] / "docs" / "validation.csv"
MOVED = 0.25  # of the tolerance: how far a result may move before its page is stale
SHOWN = 2e-5  # of a value: what another machine may round


class Grade(StrEnum):
    """What a reference is worth, best first."""

    EXACT = "exact"  # a closed form or a series, evaluated in the test
    STANDARD = "standard"  # a formula or value that a standard or handbook lays down, from memory
    PUBLISHED = "published"  # a value printed in a paper or handbook, from memory
    LIBRARY = "library"  # another open-source implementation, run in the test
    INDEPENDENT = "independent"  # the same specification solved another way for this project
    MEASURED = "measured"  # measured in the field by others


@dataclass(frozen=True, slots=True)
class Row:
    """A check: what was compared, with what, and how near it had to be.

    ``tolerance`` is NaN where a value is stated beside a measurement and nothing is asserted. ``spread`` is half the
    range of our own values where there are several, such as years of weather. Where `count` values were compared at
    once, the row is the worst of them.
    """

    test: str
    check: str
    unit: str
    ours: float
    low: float
    high: float
    tolerance: float
    spread: float
    count: int
    grade: str
    source: str

    @property
    def difference(self) -> float:
        """From the reference, or from the nearer end of a range of references."""
        return self.ours - min(max(self.ours, self.low), self.high)

    @property
    def share(self) -> float:
        """How much of its tolerance the difference uses; NaN where nothing is asserted."""
        return abs(self.difference) / self.tolerance if self.difference != 0.0 else 0.0 * self.tolerance

    def same(self, written: Row) -> bool:
        """Whether a row written earlier still tells the truth; of many values the worst may have become another one."""
        words = ("test", "check", "unit", "grade", "source", "count")
        if any(getattr(self, word) != getattr(written, word) for word in words):
            return False
        if self.count > 1 and self.tolerance > 0.0:
            return abs(self.share - written.share) <= MOVED
        mine, theirs = ((row.low, row.high, row.tolerance) for row in (self, written))
        span = self.tolerance if self.tolerance > 0.0 else 0.1 * max(abs(self.low), abs(self.high))
        moved = abs(self.ours - written.ours)
        near = np.allclose(mine, theirs, rtol=SHOWN, atol=0.0, equal_nan=True)
        return bool(near and moved <= MOVED * span + SHOWN * abs(self.ours))


def read(path: Path = ROWS) -> list[Row]:
    """Rows as written."""
    with path.open(encoding="utf-8", newline="") as file:
        kinds = [{"float": float, "int": int}.get(str(f.type), str) for f in fields(Row)]
        return [Row(*(kind(cell) for kind, cell in zip(kinds, line, strict=True))) for line in [*csv.reader(file)][1:]]


def write(rows: Iterable[Row], path: Path = ROWS) -> None:
    """Write rows in the order in which their tests ran, numbers to ten figures."""
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(f.name for f in fields(Row))
        for row in rows:
            out.writerow(f"{cell:.10g}" if isinstance(cell, float) else cell for cell in astuple(row))


class Evidence:
    """The rows of one test.

    Parameters
    ----------
    test : str
        Identifier of the test, below ``tests/``.
    written : list of Row or None
        What the page says of it; None where the page is being written.
    """

    def __init__(self, test: str, written: list[Row] | None) -> None:
        self.test, self.written = test, written
        self.rows: list[Row] = []

    def check(
        self,
        check: str,
        ours: ArrayLike,
        reference: ArrayLike,
        *,
        within: ArrayLike = np.nan,
        relative: bool = False,
        unit: str = "1",
        spread: float = 0.0,
        grade: Grade,
        source: str,
    ) -> None:
        """Assert that values lie within a tolerance of their references, and keep the worst of them as a row.

        Parameters
        ----------
        check, unit, source : str
            What is compared, in which unit, and where the reference comes from.
        ours, reference : array_like, of one shape
            Values of the package and of the reference.
        within : array_like
            Tolerance, a share of the reference if `relative`. Without one nothing is asserted.
        spread : float
            Half the range of our own values, where `ours` is the mean of several.
        grade : Grade
            What the reference is worth.
        """
        theirs = np.asarray(reference, dtype=float)
        allowed = np.asarray(within) * np.abs(theirs) if relative else np.asarray(within, dtype=float)
        mine, low, allowed = (np.ravel(a) for a in np.broadcast_arrays(np.asarray(ours, dtype=float), theirs, allowed))
        self._keep(mine, low, low, allowed, (check, unit), (spread, str(grade), source))

    def between(
        self,
        check: str,
        ours: float,
        reference: tuple[float, float],
        *,
        within: float = np.nan,
        unit: str = "1",
        spread: float = 0.0,
        grade: Grade,
        source: str,
    ) -> None:
        """As `check`, for a reference that is a range: the distance counts from its nearer end."""
        mine, low, high, allowed = (np.array([float(a)]) for a in (ours, *reference, within))
        self._keep(mine, low, high, allowed, (check, unit), (spread, str(grade), source))

    def _keep(self, mine, low, high, allowed, what, rest) -> None:
        """Assert, and keep the worst place as a row; all arrays of one shape."""
        assert np.isfinite(mine).all(), f"{what}: {mine}"
        off = np.abs(mine - np.clip(mine, low, high))
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(off > 0.0, off / allowed, 0.0)
        worst = int(np.argmax(np.where(np.isnan(share), off, share)))
        numbers = (float(values[worst]) for values in (mine, low, high, allowed))
        spread, *words = rest
        row = Row(self.test, *what, *numbers, spread, len(mine), *words)
        assert np.isnan(allowed).all() or (off <= allowed * (1 + 1e-12)).all(), f"beyond its tolerance: {row}"
        self.rows.append(row)
        if self.written is not None:
            place = len(self.rows) - 1
            assert place < len(self.written), f"not on the page: {row}. Run: python docs/make_validation.py"
            written = self.written[place]
            assert row.same(written), f"the page says {written}, the test {row}. Run: python docs/make_validation.py"

    def close(self) -> None:
        """Everything that the page says of this test has been checked."""
        if self.written is not None:
            rest = self.written[len(self.rows) :]
            assert not rest, f"on the page but not checked: {rest}. Run: python docs/make_validation.py"
