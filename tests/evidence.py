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
SHOWN = 2e-5  # what six figures on the page leave out


class Grade(StrEnum):
    """What a reference is worth, best first."""

    EXACT = "exact"  # a closed form or a series, evaluated in the test
    STANDARD = "standard"  # a formula or value that a standard or handbook lays down, from memory
    PUBLISHED = "published"  # a value printed in a paper or handbook, from memory
    LIBRARY = "library"  # another open-source implementation, run in the test
    INDEPENDENT = "independent"  # the same specification solved another way for this project
    MEASURED = "measured"  # measured in the field by others
    FILE = "file"  # read from a public data file in another way


@dataclass(frozen=True, slots=True)
class Row:
    """A check: what was compared, with what, and how near it had to be.

    ``tolerance`` is NaN where a value is stated beside a measurement and nothing is asserted.
    """

    test: str
    check: str
    unit: str
    ours: float
    low: float
    high: float
    tolerance: float
    grade: str
    source: str

    @property
    def difference(self) -> float:
        """From the reference, or from the nearer end of a range of references."""
        return self.ours - min(max(self.ours, self.low), self.high)

    def same(self, written: Row) -> bool:
        """Whether a row written earlier still tells the truth."""
        mine, theirs = astuple(self), astuple(written)
        words = all(a == b for a, b in zip(mine, theirs, strict=True) if isinstance(a, str))
        near = np.allclose([*mine[4:7]], [*theirs[4:7]], rtol=SHOWN, atol=0.0, equal_nan=True)
        span = self.tolerance if np.isfinite(self.tolerance) else max(abs(self.low), abs(self.high)) * 0.1
        return bool(words and near and abs(self.ours - written.ours) <= MOVED * span + SHOWN * abs(self.ours))


def read(path: Path = ROWS) -> list[Row]:
    """Rows as written."""
    with path.open(encoding="utf-8", newline="") as file:
        kinds = [float if f.type == "float" else str for f in fields(Row)]
        return [Row(*(kind(cell) for kind, cell in zip(kinds, line, strict=True))) for line in [*csv.reader(file)][1:]]


def write(rows: Iterable[Row], path: Path = ROWS) -> None:
    """Write rows in the order in which their tests ran, numbers to six figures."""
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(f.name for f in fields(Row))
        for row in rows:
            out.writerow(f"{cell:.6g}" if isinstance(cell, float) else cell for cell in astuple(row))


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
        grade : Grade
            What the reference is worth.
        """
        theirs = np.asarray(reference, dtype=float)
        self._keep(check, ours, theirs, theirs, within, relative, unit, grade, source)

    def between(
        self,
        check: str,
        ours: float,
        reference: tuple[float, float],
        *,
        within: float = np.nan,
        unit: str = "1",
        grade: Grade,
        source: str,
    ) -> None:
        """As `check`, for a reference that is a range: the distance counts from its nearer end."""
        low, high = reference
        self._keep(check, ours, np.asarray(low), np.asarray(high), within, False, unit, grade, source)

    def _keep(
        self,
        check: str,
        ours: ArrayLike,
        low: np.ndarray,
        high: np.ndarray,
        within: ArrayLike,
        relative: bool,
        unit: str,
        grade: Grade,
        source: str,
    ) -> None:
        mine, low, high, allowed = (np.ravel(a) for a in np.broadcast_arrays(np.asarray(ours, float), low, high, within))
        tolerance = allowed * np.abs(low) if relative else allowed
        assert np.isfinite(mine).all(), f"{check}: {mine}"
        off = np.abs(mine - np.clip(mine, low, high))
        asserted = np.isfinite(tolerance)
        worst = int(np.argmax(off / tolerance if asserted.all() else off))
        row = Row(
            self.test, check, unit, float(mine[worst]), float(low[worst]), float(high[worst]), float(tolerance[worst]),
            str(grade), source,
        )  # fmt: skip
        assert (off[asserted] <= tolerance[asserted] * (1 + 1e-12)).all(), f"beyond its tolerance: {row}"
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
