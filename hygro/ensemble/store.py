"""Results of an ensemble on disk: blocks of members while it runs, one NetCDF file when all are there.

A block is a file of its own that appears under its name only when it is complete, so that a process may end at any
moment, by any means, and what was finished is there. May import: errors, whole.
"""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import h5netcdf
import numpy as np
import xarray as xr

from hygro.errors import InputError, OutputError
from hygro.whole import write_whole

_STUDY: Final = "study.json"
_BLOCK: Final = re.compile(r"members-(\d{8})-(\d{8})\.nc")
_CHUNK: Final = 4_000_000  # [B] about, of a piece of a large variable


class Store:
    """Where an ensemble keeps its results.

    Parameters
    ----------
    path : Path
        The finished file; blocks go into a folder beside it of the same name and ``.parts``.
    fingerprint : str
        Of the study; nothing of another study is taken for it.

    Raises
    ------
    InputError
        Where the file or the folder belongs to another study.
    OutputError
        Where the folder cannot be made.
    """

    def __init__(self, path: Path, fingerprint: str) -> None:
        self.path = path
        self.parts = path.with_name(f"{path.name}.parts")
        self.fingerprint = fingerprint
        if path.exists():
            self._refuse_another(str(_head(path)[1].get("study", "")), path)
        note = self.parts / _STUDY
        if note.exists():
            self._refuse_another(_noted(note), self.parts)

    def _refuse_another(self, found: str, where: Path) -> None:
        if found != self.fingerprint:
            msg = (
                f"{str(where)!r} holds results of another study, or of another version of this package ("
                f"{found[:8] or 'unknown'}, this one is {self.fingerprint[:8]}). They are not mixed: choose another "
                "name, or remove it."
            )
            raise InputError(msg)

    def begin(self, about: dict[str, Any]) -> None:
        """Make the folder and note what it belongs to."""
        try:
            self.parts.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            msg = f"{str(self.parts)!r} could not be made: {error.strerror or error}. Choose a folder you may write to."
            raise OutputError(msg) from error
        note = json.dumps({"study": self.fingerprint, **about}, indent=1, ensure_ascii=False)
        write_whole(self.parts / _STUDY, lambda part: part.write_text(note, encoding="utf-8"))

    def gathered(self) -> int:
        """Members in the finished file; 0 where there is none."""
        return _head(self.path)[0] if self.path.exists() else 0

    def blocks(self) -> list[tuple[int, int, Path]]:
        """Blocks that are there: first member, end, file; sorted. One that the disk has damaged is run again."""
        found = []
        for path in self.parts.glob("members-*.nc"):
            fit = _BLOCK.fullmatch(path.name)
            if fit and _is_whole(path, int(fit[2]) + 1 - int(fit[1])):
                found.append((int(fit[1]), int(fit[2]) + 1, path))
        return sorted(found)

    def missing(self, members: int) -> Iterator[tuple[int, int]]:
        """Stretches of members, from first to before last, of which no results are there."""
        there = np.zeros(members, dtype=bool)
        there[: self.gathered()] = True
        for first, last, _ in self.blocks():
            there[first:last] = True
        edges = np.flatnonzero(np.diff(there.astype(np.int8), prepend=1, append=1))
        return zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)

    def keep(self, block: xr.Dataset) -> None:
        """Write a block."""
        members = block["member"].to_numpy()
        name = self.parts / f"members-{members[0]:08d}-{members[-1]:08d}.nc"
        write_whole(name, lambda part: block.to_netcdf(part, engine="h5netcdf"))

    def gather(self, members: int, attrs: dict[str, Any]) -> None:
        """Put the first so many members together in the finished file, block by block, and remove the blocks."""
        sources = [(0, self.gathered(), self.path)] if self.path.exists() else []
        sources += self.blocks()
        write_whole(self.path, lambda part: _join(part, sources, members, attrs))
        if all(last <= members for _, last, _ in sources):
            shutil.rmtree(self.parts, ignore_errors=True)


def _join(part: Path, sources: list[tuple[int, int, Path]], members: int, attrs: dict[str, Any]) -> None:
    failures: dict[str, str] = {}
    with h5netcdf.File(part, "w") as joined:
        for number, (first, last, path) in enumerate(sources):
            with xr.open_dataset(path, engine="h5netcdf", decode_cf=False) as block:
                if number == 0:
                    _prepare(joined, block, members)
                failures |= json.loads(block.attrs["failures"])
                stop = min(last, members)
                for name, variable in block.variables.items():
                    if variable.dims[:1] == ("member",) and first < stop:
                        joined.variables[str(name)][first:stop] = variable.to_numpy()[: stop - first]
        of_these = {member: why for member, why in sorted(failures.items()) if int(member) < members}
        joined.attrs.update({**attrs, "failures": json.dumps(of_these)})


def _prepare(joined: Any, block: xr.Dataset, members: int) -> None:
    joined.dimensions = {str(name): members if name == "member" else size for name, size in block.sizes.items()}
    for name, variable in block.variables.items():
        dims = tuple(map(str, variable.dims))
        shape = tuple(joined.dimensions[dim].size for dim in dims)
        rows = max(1, min(members, _CHUNK // max(8 * int(np.prod(shape[1:])), 1)))
        chunks = (rows, *shape[1:]) if dims[:1] == ("member",) else None
        made = joined.create_variable(str(name), dims, variable.dtype, chunks=chunks)
        made.attrs.update({key: value for key, value in variable.attrs.items() if key != "_FillValue"})
        if dims[:1] != ("member",):
            made[...] = variable.to_numpy()


def _noted(note: Path) -> str:
    """Which study a folder says that it belongs to; empty where it cannot be read."""
    try:
        return str(json.loads(note.read_text(encoding="utf-8"))["study"])
    except (ValueError, KeyError, TypeError):
        return ""


def _is_whole(path: Path, members: int) -> bool:
    try:
        return _head(path)[0] == members
    except InputError:
        return False


def _head(path: Path) -> tuple[int, dict[str, Any]]:
    """Number of members and attributes of a finished ensemble."""
    try:
        with xr.open_dataset(path, engine="h5netcdf", decode_cf=False) as opened:
            return int(opened.sizes.get("member", 0)), dict(opened.attrs)
    except (OSError, ValueError) as error:
        msg = f"{str(path)!r} is not an ensemble saved as NetCDF ({error}). Choose another name for this one."
        raise InputError(msg) from error


def open_whole(path: Path) -> xr.Dataset:
    """Finished ensemble; its variables are read when they are used."""
    try:
        with xr.open_dataset(path, engine="h5netcdf") as opened:
            found = opened.load()
    except (OSError, ValueError) as error:
        msg = f"{str(path)!r} is not an ensemble saved as NetCDF ({error}). run_ensemble writes them."
        raise InputError(msg) from error
    if "member" not in found.dims or "study" not in found.attrs:
        msg = f"{str(path)!r} is a NetCDF file but not an ensemble of this toolkit. run_ensemble writes them."
        raise InputError(msg)
    return found
