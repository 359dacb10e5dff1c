"""From a path to text: what is not a readable text file ends here. May import: errors."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from hygro.errors import ClimateError

_FORMATS: Final = "an EPW file, a TMY3 file, a climate file of this package, or any hourly CSV by read_csv"
_SIGNATURES: Final = (
    (b"PK\x03\x04", "a zip archive or a spreadsheet; unpack it, or save the sheet as CSV"),
    (b"\x1f\x8b", "compressed; unpack it first"),
    (b"%PDF", "a PDF; the data are needed as text"),
    (b"\x89HDF", "a NetCDF or HDF5 file; open it with xarray and pass the columns to climate_from_arrays"),
)
_CONTROL: Final = bytes(code for code in range(32) if code not in b"\t\n\f\r")  # characters that no text holds


def read_text(path: str | Path) -> str:
    """Text of a climate file.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    str
        Its content, with plain line ends.

    Raises
    ------
    ClimateError
        Where there is no such file, or it is empty or not text.
    """
    if not isinstance(path, (str, Path)):
        msg = f"A climate file is {path!r}; a path (text) is needed."
        raise ClimateError(msg)
    file = Path(path)
    if file.is_dir():
        msg = f"Climate {str(path)!r} is a folder; name the file inside it."
        raise ClimateError(msg)
    try:
        content = file.read_bytes()
    except FileNotFoundError:
        msg = (
            f"Climate {str(path)!r}: there is no such file. Looked for {file.absolute()}. Check the spelling and the "
            "folder the notebook runs in."
        )
        raise ClimateError(msg) from None
    except OSError as error:
        msg = f"Climate {str(path)!r} could not be read: {error.strerror}. Check the file and its permissions."
        raise ClimateError(msg) from error
    if not content.strip():
        msg = f"Climate {file.name!r} is empty; {_FORMATS} is needed. Download it again."
        raise ClimateError(msg)
    for signature, what in _SIGNATURES:
        if content.startswith(signature):
            msg = f"Climate {file.name!r} is {what}."
            raise ClimateError(msg)
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _wide_text(content, file.name)
    strange = len(content) - len(content.translate(None, _CONTROL))
    if strange:
        msg = f"Climate {file.name!r} is not a text file ({strange} control characters); {_FORMATS} is needed."
        raise ClimateError(msg)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")  # older station files spell place names so; it maps every byte
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _wide_text(content: bytes, name: str) -> str:
    """Text of two bytes a letter, as some spreadsheets save it."""
    try:
        return content.decode("utf-16").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError:
        msg = f"Climate {name!r} starts like UTF-16 text but is cut short or damaged. Save it anew as UTF-8."
        raise ClimateError(msg) from None


def not_understood(name: str, text: str) -> ClimateError:
    """Error for a text file of no known kind."""
    first = text.splitlines()[0][:60]
    msg = (
        f"Climate {name!r} is of no known kind: its first line is {first!r}; {_FORMATS} is needed. For a CSV of your "
        "own name its columns: under [climate] of a study file, or in Python by read_csv(path, columns={'time': ..., "
        "'air_temperature': ..., ...}, ...)."
    )
    return ClimateError(msg)
