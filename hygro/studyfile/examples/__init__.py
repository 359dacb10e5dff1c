"""Studies of the demo hut as files, to copy and change. Imports: errors alone."""

from __future__ import annotations

from importlib.resources import files

from hygro.errors import InputError


def example_names() -> tuple[str, ...]:
    """Names of the studies that come with the package."""
    return tuple(
        sorted(one.name.removesuffix(".toml") for one in files(__name__).iterdir() if one.name.endswith(".toml"))
    )


def example_text(name: str) -> str:
    """Text of one of the studies that come with the package.

    Parameters
    ----------
    name : str
        One of `example_names`.

    Returns
    -------
    str
        TOML.

    Raises
    ------
    InputError
        Where there is none of that name.
    """
    if name not in example_names():
        msg = f"There is no example {name!r}. Examples: {', '.join(example_names())}."
        raise InputError(msg)
    return files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
