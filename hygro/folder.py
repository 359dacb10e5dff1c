"""A folder of results in which every file is whole and no file is overwritten unasked.

Files are written into a hidden folder inside and moved to their names when all are complete.
May import: errors, stopping.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from hygro.errors import OutputError
from hygro.stopping import unbroken

_MOST: Final = 1000  # numbered folders that are tried


@contextmanager
def results_folder(path: Path | None, default: str, names: tuple[str, ...], *, replace: bool) -> Iterator[Path]:
    """Hidden folder to write into; its files get their names when the block ends well, and vanish when it does not.

    Parameters
    ----------
    path : Path or None
        Folder the user named; None for `default` or the first of ``default-2``, ``default-3`` ... that is free.
    default : str
        Name of the folder where none is named.
    names : tuple of str
        Files that will be written.
    replace : bool
        Whether existing files of these names may be replaced; `default` is then taken as it is.

    Yields
    ------
    Path
        Hidden folder; its parent is the final one.

    Raises
    ------
    OutputError
        Where the folder cannot be made or written, or holds a file of these names that may not be replaced.
    """
    target, is_new = _claim(path, default, replace)
    part = None
    try:
        clash = [] if replace else [name for name in names if (target / name).exists()]
        if clash:
            msg = f"{str(target / clash[0])!r} exists already. Name another folder with --output, or say --replace."
            raise OutputError(msg)
        made = tempfile.mkdtemp(prefix=".part-", dir=target)
        part = target / Path(made).name  # as the user named it: Python 3.12 makes it absolute
        yield part
        with unbroken():  # all of them or none
            for name in names:
                (part / name).replace(target / name)
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise _refused(target, error) from error
    finally:
        if part is not None:
            shutil.rmtree(part, ignore_errors=True)
        if is_new and target.is_dir() and not any(target.iterdir()):
            target.rmdir()


def _claim(path: Path | None, default: str, replace: bool) -> tuple[Path, bool]:
    """Folder that exists now, and whether it was made for this."""
    named = Path(default) if path is None else path
    try:
        if path is not None or replace:
            is_new = not named.exists()
            named.mkdir(parents=True, exist_ok=True)
            return named, is_new
        for number in range(1, _MOST):
            candidate = named if number == 1 else named.with_name(f"{named.name}-{number}")
            try:
                candidate.mkdir()
            except FileExistsError:
                continue
            return candidate, True
    except OSError as error:
        raise _refused(named, error) from error
    msg = f"{str(named)!r} and {_MOST - 2} numbered folders beside it exist. Name another with --output."
    raise OutputError(msg)


def _refused(folder: Path, error: OSError) -> OutputError:
    reason = "a file of that name exists" if isinstance(error, FileExistsError) else (error.strerror or str(error))
    msg = f"The results cannot be written to {str(folder)!r} ({reason}). Name a folder you may write to with --output."
    return OutputError(msg)
