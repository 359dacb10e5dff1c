"""Runs on disk: NetCDF, written whole or not at all.

May import: errors.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Final

import xarray as xr

from hygro.errors import InputError, OutputError

# Variables that are zero most of the time shrink to little. Compressing the others takes three times as long as writing
# them and saves a tenth.
_MOSTLY_ZERO: Final = (
    "ice_content",
    "drip",
    "shed_outside",
    "rain_absorbed",
    "rain_run_off",
    "rain_leak",
    "snow_depth",
)


def save_run(run: xr.Dataset, path: str | Path, *, replace: bool = False) -> Path:
    """Write a run as NetCDF.

    Parameters
    ----------
    run : Dataset
        What `simulate` returned.
    path : str or Path
        File to write, ending in ``.nc``. It appears under this name only when it is complete.
    replace : bool
        Whether an existing file may be replaced.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OutputError
        Where the file exists and may not be replaced, or cannot be written.
    """
    target = Path(path)
    if not isinstance(run, xr.Dataset):
        msg = f"Only a run (an xarray.Dataset) can be saved, not {type(run).__name__}."
        raise InputError(msg)
    if target.exists() and not replace:
        msg = f"{str(target)!r} exists already. Choose another name, or say replace=True."
        raise OutputError(msg)
    encoding = {name: {"zlib": True, "complevel": 1} for name in _MOSTLY_ZERO if name in run}
    write_whole(target, lambda part: run.to_netcdf(part, engine="netcdf4", encoding=encoding))
    return target


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


def open_run(path: str | Path) -> xr.Dataset:
    """Read a run that was saved.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    Dataset
        As `simulate` returned it.

    Raises
    ------
    InputError
        Where there is no such file, or it is not a saved run.
    """
    source = Path(path)
    if not source.is_file():
        msg = f"There is no file {str(source)!r}. Check the name and the folder."
        raise InputError(msg)
    try:
        with xr.open_dataset(source, engine="h5netcdf") as opened:
            run = opened.load()
    except (OSError, ValueError) as error:
        msg = f"{str(source)!r} is not a run saved as NetCDF ({error}). Save runs with save_run(run, path)."
        raise InputError(msg) from error
    if "hygro_version" not in run.attrs or "temperature" not in run:
        msg = f"{str(source)!r} is a NetCDF file but not a run of this toolkit. Save runs with save_run(run, path)."
        raise InputError(msg)
    return run
