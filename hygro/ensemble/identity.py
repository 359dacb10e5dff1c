"""A digest of everything that a result depends on, the same in every process: what tells one study from another.

May import: errors, climate, and the package's own __version__ and sources.
"""

from __future__ import annotations

import hashlib
import types
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, Final

import numpy as np

from hygro import __version__
from hygro.climate import Climate
from hygro.errors import InputError

_DRAWING: Final = ("plots", "widgets", "report", "demo", "__main__")  # rooms that no number depends on
_PLAIN: Final = (bool, int, str, bytes, type(None))


def digest_of(thing: Any) -> str:
    """Digest of a thing made of frozen dataclasses, numbers, text and functions.

    Parameters
    ----------
    thing : object
        What to tell from others.

    Returns
    -------
    str
        The same for what is the same, in any process.

    Raises
    ------
    InputError
        Where it holds something whose content cannot be told.
    """
    digest = hashlib.sha256()
    _write(thing, digest, ())
    return digest.hexdigest()


@lru_cache(maxsize=1)
def code_digest() -> str:
    """Digest of the version and of every source that numbers depend on."""
    digest = hashlib.sha256(__version__.encode())
    package = Path(__file__).parents[1]
    for path in sorted(package.rglob("*.py")):
        place = path.relative_to(package)
        if place.parts[0].removesuffix(".py") not in _DRAWING:
            digest.update(place.as_posix().encode() + path.read_bytes())
    return digest.hexdigest()


def _write(thing: Any, digest: Any, above: tuple[int, ...]) -> None:
    if id(thing) in above:  # a function that calls itself
        digest.update(b"again")
        return
    above = (*above, id(thing))
    digest.update(type(thing).__qualname__.encode() + b":")
    if isinstance(thing, Climate):
        parts: list[Any] = [thing.digest]
    elif isinstance(thing, float | np.floating):
        parts = [float(thing).hex()]
    elif isinstance(thing, Enum):
        parts = [thing.name]
    elif isinstance(thing, _PLAIN):
        digest.update(repr(thing).encode() + b";")
        return
    elif isinstance(thing, date):
        parts = [thing.isoformat()]
    elif isinstance(thing, np.ndarray):
        parts = [str(thing.dtype), str(thing.shape), thing.tobytes()]
    elif isinstance(thing, type):
        parts = [thing.__module__, thing.__qualname__]
    else:
        parts = _parts(thing)
    for part in parts:
        _write(part, digest, above)
    digest.update(b".")


def _parts(thing: Any) -> list[Any]:
    if is_dataclass(thing):
        return [part for field in fields(thing) if field.compare for part in (field.name, getattr(thing, field.name))]
    if isinstance(thing, Mapping):
        return [part for key in sorted(thing, key=repr) for part in (key, thing[key])]
    if isinstance(thing, tuple | list):
        return [str(len(thing)), *thing]
    if isinstance(thing, frozenset | set):
        return sorted(thing, key=repr)
    if isinstance(thing, partial):
        return [thing.func, thing.args, thing.keywords]
    if isinstance(thing, types.MethodType):
        return [thing.__func__, thing.__self__]
    if isinstance(thing, types.FunctionType):
        inside = [cell.cell_contents for cell in thing.__closure__ or ()]
        return [thing.__qualname__, thing.__code__, thing.__defaults__, thing.__kwdefaults__ or {}, inside]
    if isinstance(thing, types.CodeType):
        return [thing.co_code, thing.co_consts, thing.co_names]
    if isinstance(thing, types.BuiltinFunctionType | np.ufunc):
        return [getattr(thing, "__module__", "") or "", thing.__name__]
    state = getattr(thing, "__dict__", None)
    if state is not None:
        return [type(thing), state]
    msg = f"The study holds {thing!r:.100}, whose content cannot be told from that of another; use a frozen dataclass."
    raise InputError(msg)
