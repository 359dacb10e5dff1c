"""Runs on disk: NetCDF, written whole or not at all.

May import: errors, whole.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import xarray as xr

from hygro.errors import InputError
from hygro.whole import refuse_existing, write_whole

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
    refuse_existing(target, replace)
    encoding = {name: {"zlib": True, "complevel": 1} for name in _MOSTLY_ZERO if name in run}
    write_whole(target, lambda part: run.to_netcdf(part, engine="netcdf4", encoding=encoding))
    return target


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
