"""TOML as a person would write it: short tables in one line, one part of a build-up a line. Imports nothing of ours."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any, Final

_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")
_LONGEST: Final = 100  # letters of a table that is written in one line


def toml_text(stated: Mapping[str, Any]) -> str:
    """TOML of nested mappings, lists, texts, numbers and truth values.

    Parameters
    ----------
    stated : mapping of str to object
        What is to be written, in this order; a plain value of a table goes before its tables.

    Returns
    -------
    str
        TOML 1.0.
    """
    return "\n".join(_lines(stated, ())).strip("\n") + "\n"


def _lines(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    below: dict[str, Any] = {}
    for key, value in table.items():
        if _has_heading(value, path):
            below[key] = value
        else:
            yield f"{_key(key)} = {_value(value)}"
    for key, value in below.items():
        heading = ".".join(map(_key, (*path, key)))
        for one in value if isinstance(value, list) else [value]:
            # A heading that is followed by others alone is implied by them; each item of a list needs its own.
            if isinstance(value, list):
                yield from ("", f"[[{heading}]]")
            elif not one or not all(_has_heading(inside, (*path, key)) for inside in one.values()):
                yield from ("", f"[{heading}]")
            yield from _lines(one, (*path, key))


def _has_heading(value: Any, path: tuple[str, ...]) -> bool:
    """Tables get a heading at the top and where one line is too short; a list of tables at the top alone."""
    if _is_table(value):
        return len(path) < 2 and (not path or len(_value(value)) > _LONGEST)
    return not path and isinstance(value, list) and bool(value) and all(map(_is_table, value))


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _text(key)


def _text(value: str) -> str:
    # JSON's escapes are TOML's as well; the one control character that JSON lets through is not allowed.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(key)} = {_value(one)}" for key, one in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list):
        items = [_value(one) for one in value]
        flat = f"[{', '.join(items)}]"
        if not any(map(_is_table, value)) and len(flat) <= _LONGEST:
            return flat
        return "[\n" + "".join(f"    {item},\n" for item in items) + "]"
    # A number of numpy's says its kind as well.
    return str(int(value)) if isinstance(value, int) else repr(float(value))
