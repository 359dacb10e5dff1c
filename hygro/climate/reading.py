"""One door for climate files: looks at the content and calls the reader of its kind.

May import: errors, files, epw, tmy3, written, repair, record.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from hygro.climate.epw import is_epw, read_epw
from hygro.climate.files import not_understood, read_text
from hygro.climate.record import Climate
from hygro.climate.repair import MAX_GAP_HOURS, finish
from hygro.climate.tmy3 import is_tmy3, read_tmy3
from hygro.climate.written import is_own_format, parse_own
from hygro.errors import ClimateError


def read_climate(
    path: str | Path, format: str | None = None, *, max_gap_hours: int = MAX_GAP_HOURS, ignore: Sequence[str] = ()
) -> Climate:
    """Climate in a file of a known kind: EPW, TMY3 or this package's own CSV.

    Parameters
    ----------
    path : str or Path
        The file.
    format : str, optional
        ``"epw"``, ``"tmy3"`` or ``"own"``; told from the content where not stated.
    max_gap_hours : int
        Longest run of missing hours that is bridged. [h]
    ignore : sequence of str
        Variables of the file that are not to be trusted and count as missing, as ``["rain"]``.

    Returns
    -------
    Climate
        Complete, checked record; ``notes`` in its attributes list what was filled or computed.

    Raises
    ------
    ClimateError
        Where the file is of no known kind or its weather cannot be used.
    """
    if format is not None and format not in _READERS:
        msg = f"read_climate: format is {format!r}; one of {', '.join(map(repr, _READERS))} or None is needed."
        raise ClimateError(msg)
    kind = format or _kind(path)
    return _READERS[kind](path, max_gap_hours=max_gap_hours, ignore=ignore)


def read_own(path: str | Path, *, max_gap_hours: int = MAX_GAP_HOURS, ignore: Sequence[str] = ()) -> Climate:
    """Climate in a file written by `write_climate`.

    Parameters
    ----------
    path : str or Path
        The file.
    max_gap_hours : int
        Longest run of missing hours that is bridged. [h]
    ignore : sequence of str
        Variables of the file that are not to be trusted and count as missing, as ``["rain"]``.

    Returns
    -------
    Climate
        The record.

    Raises
    ------
    ClimateError
        Where the file is not such a file or its weather cannot be used.
    """
    text, name = read_text(path), Path(path).name
    if not is_own_format(text):
        raise not_understood(name, text)
    time, values, attrs = parse_own(text, name)
    return finish(time, values, {"title": name, "source": "not stated", **attrs}, max_gap_hours, ignore)


def _kind(path: str | Path) -> str:
    text = read_text(path)
    if is_epw(text):
        return "epw"
    if is_tmy3(text):
        return "tmy3"
    if is_own_format(text):
        return "own"
    raise not_understood(Path(path).name, text)


_READERS: Final[dict[str, Callable[..., Climate]]] = {"epw": read_epw, "tmy3": read_tmy3, "own": read_own}
