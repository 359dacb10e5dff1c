"""How kernels are compiled and where compiled code is kept; only this and what ``lanes`` are made of know the compiler.

numba's cache notices a change only in the file of the function itself, not in functions it calls from other files.
The cache folder is therefore named after a digest of every source in ``core/`` and of the constants: a changed source
never meets old machine code. The folder is the first writable one of ``HYGRO_CACHE_DIR``, the user's cache folder and
the system's temporary folder; where none is writable, kernels are compiled anew in each process.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numba
from llvmlite import ir
from numba.core import cgutils
from numba.core import types as numba_types
from numba.core.imputils import impl_ret_borrowed, lower_getattr_generic
from numba.core.typing.templates import AttributeTemplate, infer_getattr
from numba.extending import intrinsic, models, overload, register_model

_Function = TypeVar("_Function", bound=Callable[..., Any])
_Bundle = TypeVar("_Bundle", bound=tuple[Any, ...])


def source_digest() -> str:
    """Digest of all sources that kernels are made of, of where they are, and of what compiles them."""
    here = Path(__file__).parent  # numba keeps the code of each installation apart, so this must too
    digest = hashlib.sha256(f"{sys.version_info[:3]} {numba.__version__} {here}".encode())
    for path in [here.parent / "constants.py", *sorted(here.glob("*.py"))]:
        digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()[:16]


def _candidates() -> list[Path]:
    chosen = os.environ.get("HYGRO_CACHE_DIR")
    if chosen:
        return [Path(chosen)]
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA", "")
    elif sys.platform == "darwin":
        base = str(Path.home() / "Library" / "Caches")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    places = [Path(base) / "hygro"] if base and not base.startswith("~") else []
    return [*places, Path(tempfile.gettempdir()) / f"hygro-{os.getuid() if hasattr(os, 'getuid') else 'user'}"]


def _cache_folder() -> Path | None:
    for place in _candidates():
        folder = place / source_digest()
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                return folder
        except OSError:
            continue
    return None


CACHE_FOLDER = _cache_folder()


def compiles() -> bool:
    """Whether kernels are compiled at all; else they are ordinary Python."""
    return not numba.config.DISABLE_JIT


def is_compiled(entry: str = "columns._run_abreast") -> bool:
    """Whether an entrance to the kernel, compiled in an earlier process, is there to be loaded."""
    return not compiles() or (CACHE_FOLDER is not None and any(CACHE_FOLDER.rglob(f"{entry}-*.nbi")))


def can_compile_ahead() -> bool:
    """Whether kernels are compiled at all, and kept where another process finds them."""
    return compiles() and CACHE_FOLDER is not None


def type_of(value: object) -> Any:
    """Type of an argument, as the compiler tells one compiled form of a kernel from another; tuples as shared."""
    kind = numba.typeof(value)
    return SharedType(kind) if isinstance(value, tuple) else kind


def case_of(value: object) -> Any:
    """Type of an argument of which each value is compiled as a case of its own, as where a constant decides."""
    return numba_types.literal(value)  # type: ignore[attr-defined]


def type_of_bundle(bundle: type[tuple[Any, ...]], kinds: tuple[Any, ...]) -> Any:
    """Type of a named tuple, as shared, whose fields are of these kinds."""
    return SharedType(numba_types.NamedTuple(kinds, bundle))  # type: ignore[attr-defined]


def _compiled(function: _Function, **more: Any) -> _Function:
    """Compile on first use, keep on disk, let other threads run beside it.

    No ``fastmath``: not-a-numbers must not vanish and runs must not differ between machines. The numpy error model
    (division by zero gives infinity) keeps checks out of inner loops. Kernels own no arrays, so none is counted
    (``_nrt``): whoever calls holds them, and a kernel that tried to make one would not compile. Nothing is called
    from C, so no entrance for C is made.
    """
    options = {"nogil": True, "error_model": "numpy", "_nrt": False, "no_cfunc_wrapper": True, **more}
    if CACHE_FOLDER is None:
        return numba.njit(**options)(function)  # type: ignore[no-any-return]
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(CACHE_FOLDER)
    try:
        return numba.njit(cache=True, **options)(function)  # type: ignore[no-any-return]
    finally:
        numba.config.CACHE_DIR = before


def entrance(function: _Function) -> _Function:
    """Compile a function that Python calls."""
    return _compiled(function)


def kernel(function: _Function) -> _Function:
    """Compile a function that only other kernels call: without an entrance from Python, which takes long to compile.

    Python must not call it: the process would die.
    """
    return _compiled(function, no_cpython_wrapper=True)


def kernel_part(function: _Function) -> _Function:
    """Like `kernel`, but written into its callers: for small parts, and for those of which a caller needs but some."""
    return _compiled(function, no_cpython_wrapper=True, inline="always")


# ------------------------------------------------------------------------------------------------ bundles in one place


def share(bundle: _Bundle) -> _Bundle:
    """The same named tuple, kept in one place: kernels then hand each other where it is, not all that it holds.

    A tuple of arrays is some fifty numbers; to copy them at each call took a seventh of the solver's time. The place
    belongs to the kernel that calls this, and the tuple does not change while others look at it.
    """
    return bundle


class SharedType(numba_types.Type):
    """A named tuple that is looked up where it is kept; what it holds are its attributes."""

    def __init__(self, bundle: Any) -> None:
        self.bundle = bundle
        super().__init__(name=f"shared({bundle})")


@register_model(SharedType)
class _SharedModel(models.PrimitiveModel):  # type: ignore[misc]
    def __init__(self, manager: Any, of: SharedType) -> None:
        super().__init__(manager, of, ir.PointerType(manager.lookup(of.bundle).get_value_type()))


@intrinsic
def _share(_typing: Any, bundle: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return cgutils.alloca_once_value(builder, values[0])

    return SharedType(bundle)(bundle), emit


@overload(share, inline="always", strict=False)
def _shared(bundle: Any) -> Any:
    return lambda bundle: _share(bundle)


@infer_getattr
class _SharedAttribute(AttributeTemplate):  # type: ignore[misc]
    key = SharedType

    def generic_resolve(self, shared: SharedType, name: str) -> Any:
        return shared.bundle[shared.bundle.fields.index(name)] if name in shared.bundle.fields else None


@lower_getattr_generic(SharedType)
def _looked_up(context: Any, builder: Any, shared: SharedType, place: Any, name: str) -> Any:
    at = shared.bundle.fields.index(name)
    found = builder.load(cgutils.gep_inbounds(builder, place, 0, at))
    found.set_metadata("invariant.load", builder.module.add_metadata([]))
    return impl_ret_borrowed(context, builder, shared.bundle[at], found)
