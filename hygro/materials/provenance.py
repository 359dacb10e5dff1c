"""Where a value comes from. Imports nothing of ours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

GRADES: Final = {
    "measured": "measured on the material and published",
    "standard": "tabulated by a standard or handbook",
    "typical": "usual for the trade; products differ",
    "estimated": "an estimate; replace it by product data where it matters",
}


@dataclass(frozen=True, slots=True)
class Quoted:
    """One value of the library as it is quoted.

    Parameters
    ----------
    quantity : str
        What it is, as in ``"density"``.
    value : str
        The value in words.
    unit : str
        Its unit.
    source : str
        Key of its source.
    grade : str
        How good it is, one of `GRADES`.
    """

    quantity: str
    value: str
    unit: str
    source: str
    grade: str


@dataclass(frozen=True, slots=True)
class Source:
    """One source: key, author, title, year, place within it, and how it was consulted."""

    key: str
    author: str
    title: str
    year: str
    place: str
    note: str

    def __str__(self) -> str:
        parts = [part for part in (self.author, self.title, self.year, self.place) if part]
        return ", ".join(parts) + (f" ({self.note})" if self.note else "")
