"""Writing files so that none is ever half, and none of the user's is lost unasked.

May import: errors.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from hygro.errors import OutputError


def refuse_existing(target: Path, replace: bool) -> None:
    """Refuse to write over a file, unless told to.

    Raises
    ------
    OutputError
        Where the file exists and may not be replaced.
    """
    if target.exists() and not replace:
        msg = f"{str(target)!r} exists already. Choose another name, or say replace=True."
        raise OutputError(msg)


def write_whole(target: Path, write: Callable[[Path], object]) -> None:
    """Let a file be written under another name beside its own, and give it its own when it is complete and on the disk.

    Raises
    ------
    OutputError
        Where it cannot be written.
    """
    part = None
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=target.name, suffix=".part")
        os.close(handle)
        part = Path(name)
        write(part)
        with part.open("rb+") as written:
            os.fsync(written.fileno())
        part.chmod(0o666 & ~_umask())  # a temporary file is private; a result is as readable as any other file
        part.replace(target)
    except OSError as error:
        msg = f"{str(target)!r} could not be written: {error.strerror or error}. Choose a folder you may write to."
        raise OutputError(msg) from error
    finally:
        if part is not None and part.exists():
            part.unlink()


def _umask() -> int:
    # The mask can only be read by setting it.
    mask = os.umask(0)
    os.umask(mask)
    return mask
