"""How single values are written in a study file: text, numbers, lists of them, numbers with a unit.

May import: errors, units, lines.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from hygro.errors import InputError
from hygro.studyfile.lines import At
from hygro.units import to_si

Shelf = dict[str, dict[str, Any]]  # what a file defines itself: sort, then name, then object


@dataclass(frozen=True, slots=True)
class Form:
    """How one value is written: what it is in words, what reads it and what writes it."""

    words: str
    read: Callable[[Any, At, Shelf], Any]
    write: Callable[[Any, Shelf], Any]


def shown(value: object) -> str:
    """A value of a file as an error names it."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    text = str(value).lower() if isinstance(value, bool) else repr(value)
    return text if len(text) < 60 else f"{text[:57]}..."


def _scalar(words: str, *kinds: type) -> Form:
    def read(value: Any, at: At, _: Shelf) -> Any:
        if not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds):
            raise at.error(f"is {shown(value)}; {words} is needed.")
        return value

    return Form(words, read, lambda value, _: value)


def _listed(words: str, *kinds: type) -> Form:
    def read(value: Any, at: At, _: Shelf) -> Any:
        if not isinstance(value, list):
            raise at.error(f"is {shown(value)}; {words} is needed, in square brackets.")
        for number, one in enumerate(value):
            if not isinstance(one, kinds) or isinstance(one, bool):
                raise (at / number).error(f"is {shown(one)}; {words} is needed.")
        return tuple(value)

    return Form(words, read, lambda value, _: list(value))


def _read_text(value: Any, at: At, _: Shelf) -> str:
    if not isinstance(value, str):
        raise at.error(f"is {shown(value)}; text in quotes is needed.")
    odd = next((one for one in value if unicodedata.category(one) == "Cc" and one not in "\n\t"), None)
    if odd is not None:
        raise at.error(f"has the control character {odd!r}, which no page can show. Write plain text.")
    return value


TEXT: Final = Form("text in quotes", _read_text, lambda value, _: value)
FLAG: Final = _scalar("true or false", bool)
WHOLE: Final = _scalar("a whole number", int)
NUMBER: Final = _scalar("a number", int, float)
QUANTITY: Final = _scalar("a number, or text with a unit", int, float, str)
TEXTS: Final = _listed("a list of texts", str)
WHOLES: Final = _listed("a list of whole numbers", int)
NUMBERS: Final = _listed("a list of numbers", int, float)
VALUES: Final = _listed("a list of numbers or texts", int, float, str)


def measured(dimension: str, example: str, unit: str, factor: float) -> Form:
    """Form of a number inside that a builder may write with a unit; written in `unit` where that is the very same."""

    def read(value: Any, at: At, shelf: Shelf) -> float:
        stated = QUANTITY.read(value, at, shelf)
        try:
            return float(to_si(stated, dimension, "the value"))
        except InputError as error:
            raise at.error(f"is {shown(value)}, which is no {dimension}. Write a text such as {example!r}.") from error

    def write(value: Any, _: Shelf) -> Any:
        text = f"{factor * value:.10g} {unit}"
        return text if "e" not in text.split()[0] and to_si(text, dimension, "value") == value else value

    return Form(f"a number, or text with a unit such as {example!r}", read, write)


def number_or(form: Form) -> Form:
    """Form of a number that may be a table as well."""

    def read(value: Any, at: At, shelf: Shelf) -> Any:
        return form.read(value, at, shelf) if isinstance(value, dict) else NUMBER.read(value, at, shelf)

    def write(thing: Any, shelf: Shelf) -> Any:
        return thing if isinstance(thing, int | float) else form.write(thing, shelf)

    return Form(f"a number, or {form.words}", read, write)
