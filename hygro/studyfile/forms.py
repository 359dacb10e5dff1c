"""How the objects of the package are written as tables of a study file, and read back.

A `Kind` takes its keys from the signature of the class that it makes and their meaning from its docstring, so that the
file cannot drift from the package. May import: errors, units, lines, values.
"""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from difflib import get_close_matches
from typing import Any, Final

from hygro.errors import InputError
from hygro.studyfile.lines import At
from hygro.studyfile.values import FLAG, NUMBER, NUMBERS, QUANTITY, TEXT, TEXTS, WHOLE, WHOLES, Form, Shelf, shown
from hygro.units import to_si

_SECTION: Final = re.compile(r"Parameters\n-+\n(.*?)(?=\n\n?[A-Z][a-z ]+\n---|\Z)", re.DOTALL)

# Units in which a builder reads a parameter of that name; used only where the text gives the very same number back.
_SPOKEN: Final = {
    "thickness": ("length", 1e3, "mm"),
    "length": ("length", 1.0, "m"),
    "height": ("length", 1.0, "m"),
    "s_d": ("length", 1.0, "m"),
    "inlet": ("area per width", 1e4, "cm^2/m"),
    "outlet": ("area per width", 1e4, "cm^2/m"),
    "screen": ("fraction", 1e2, "%"),
    "blocked": ("fraction", 1e2, "%"),
    "tilt": ("angle", 1.0, "deg"),
    "azimuth": ("angle", 1.0, "deg"),
    "inlet_bearing": ("angle", 1.0, "deg"),
    "outlet_bearing": ("angle", 1.0, "deg"),
    "q50": ("air permeability", 1.0, "m3/(m2 hour)"),
    "fan_pressure": ("pressure", 1.0, "Pa"),
    "temperature": ("temperature", 1.0, "degC"),
    "relative_humidity": ("fraction", 1e2, "%"),
    "start_humidity": ("fraction", 1e2, "%"),
    "start_moisture": ("fraction", 1e2, "%"),
    "variation": ("fraction", 1e2, "%"),
    "density": ("density", 1.0, "kg/m3"),
    "specific_heat": ("specific heat", 1.0, "J/(kg K)"),
    "conductivity": ("conductivity", 1.0, "W/(m K)"),
    "saturation": ("moisture per volume", 1.0, "kg/m3"),
    "free_saturation": ("moisture per volume", 1.0, "kg/m3"),
}


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table: the parameter that it states and the attribute that keeps it, and how it is written."""

    name: str
    parameter: str
    attribute: str
    form: Form
    required: bool
    default: Any
    nullable: bool
    words: str


@dataclass(frozen=True, slots=True)
class Kind:
    """One sort of table.

    Parameters
    ----------
    word : str
        What ``kind = "..."`` says; empty where the place says it.
    make : type
        Class that is made.
    keys : mapping of str to Key
        By name in the file.
    implied : mapping of str to callable
        What a parameter is without being stated, given the object, where the signature does not say.
    """

    word: str
    make: Callable[..., Any]
    keys: Mapping[str, Key]
    implied: Mapping[str, Callable[[Any], Any]] = field(default_factory=dict)


_BY_ANNOTATION: Final = {
    "str": TEXT,
    "bool": FLAG,
    "int": WHOLE,
    "float": QUANTITY,
    "str | float": QUANTITY,
    "float | str": QUANTITY,
    "tuple[int, ...]": WHOLES,
    "tuple[float, ...]": NUMBERS,
    "tuple[float, float]": NUMBERS,
    "Sequence[str]": TEXTS,
    "Sequence[float]": NUMBERS,
}


def kind(
    word: str,
    make: Callable[..., Any],
    forms: Mapping[str, Form] | None = None,
    *,
    renamed: Mapping[str, str] | None = None,
    stored: Mapping[str, str] | None = None,
    implied: Mapping[str, Callable[[Any], Any]] | None = None,
    meanings: Mapping[str, str] | None = None,
    required: Sequence[str] = (),
    nullable_too: Sequence[str] = (),
    leave_out: Sequence[str] = ("provenance",),
) -> Kind:
    """Kind of table that states the parameters of a class.

    Parameters
    ----------
    word : str
        What ``kind`` says; empty where the place says it.
    make : type or callable
        What is made.
    forms : mapping of str to Form, optional
        Forms of parameters that are not plain; those of plain ones follow from their annotation.
    renamed : mapping of str to str, optional
        Key of a parameter where it is another word.
    stored : mapping of str to str, optional
        Attribute that keeps a parameter where it has another name.
    implied : mapping of str to callable, optional
        What a parameter is without being stated, given the object.
    meanings : mapping of str to str, optional
        Meaning of a parameter where the docstring speaks of Python.
    required : sequence of str, optional
        Parameters that a file has to state although they have a default.
    nullable_too : sequence of str, optional
        Parameters for which ``false`` says none although they have a default.
    leave_out : sequence of str, optional
        Parameters that a file does not state.

    Returns
    -------
    Kind
        A parameter with neither form nor plain annotation has no key; `write_table` refuses to lose it.
    """
    told = documented(make)
    said = {name: words for name, (_, words) in told.items()} | dict(meanings or {})
    keys: dict[str, Key] = {}
    for name, parameter in inspect.signature(make).parameters.items():
        annotation = str(parameter.annotation)
        # Where something has a default, false would be a second way of not stating it.
        nullable = annotation.endswith(" | None") and (parameter.default is parameter.empty or name in nullable_too)
        form = (forms or {}).get(name) or _BY_ANNOTATION.get(annotation.removesuffix(" | None"))
        if form is QUANTITY and "str" not in annotation and "str" not in told.get(name, ("str", ""))[0]:
            form = NUMBER
        if name in leave_out or form is None:
            continue
        must = name in required or (parameter.default is parameter.empty and name not in (implied or {}))
        key = (renamed or {}).get(name, name)
        default = None if parameter.default is parameter.empty else parameter.default
        keys[key] = Key(key, name, (stored or {}).get(name, name), form, must, default, nullable, said.get(name, ""))
    return Kind(word, make, keys, implied or {})


def documented(make: Callable[..., Any]) -> dict[str, tuple[str, str]]:
    """Type and meaning of each parameter, as the docstring of a class or function has them."""
    match = _SECTION.search(inspect.cleandoc(make.__doc__ or ""))
    found: dict[str, tuple[str, str]] = {}
    names: list[str] = []
    for line in (match[1] if match else "").splitlines():
        if line and not line.startswith(" "):
            listed, _, kind_of = line.partition(" : ")
            names = [name.strip() for name in listed.split(",")]
            found |= {name: (kind_of.strip(), "") for name in names}
        else:
            for name in names:
                kind_of, words = found[name]
                found[name] = (kind_of, f"{words} {line.strip()}".strip())
    return found


def read_table(kind: Kind, value: Any, at: At, shelf: Shelf, forms: Mapping[str, Form] | None = None) -> Any:
    """Object that a table states.

    Parameters
    ----------
    kind : Kind
        What the table is.
    value : object
        The table as ``tomllib`` gives it.
    at : At
        Where it stands.
    shelf : dict
        What the file defines itself.
    forms : mapping of str to Form, optional
        Forms of keys that another key of the same table changes.

    Returns
    -------
    object
        What ``kind.make`` makes.

    Raises
    ------
    InputError
        With file, line and key, where a key is unknown, missing or cannot be.
    """
    if not isinstance(value, dict):
        raise at.error(f"is {shown(value)}; a table with {_keys(kind)} is needed.")
    stated = {name: one for name, one in value.items() if not (name == "kind" and kind.word)}
    for name in stated:
        if name not in kind.keys:
            raise (at / name).unknown(kind.keys)
    missing = [key.name for key in kind.keys.values() if key.required and key.name not in stated]
    if missing:
        raise at.error(f"the key {missing[0]!r} is missing ({_first_sentence(kind.keys[missing[0]])})")
    arguments: dict[str, Any] = {}
    for name, one in stated.items():
        key = kind.keys[name]
        form = (forms or {}).get(name, key.form)
        arguments[key.parameter] = None if one is False and key.nullable else form.read(one, at / name, shelf)
    try:
        return kind.make(**arguments)
    except InputError as error:
        raise _place_of(str(error), kind, stated, at).error(str(error)) from error


def _keys(kind: Kind) -> str:
    return ", ".join(key.name for key in kind.keys.values() if key.required) or "keys"


def _first_sentence(key: Key) -> str:
    sentence = key.words.split(". ")[0].rstrip(".")
    return f"{sentence[:1].lower()}{sentence[1:]}; {key.form.words}" if sentence else key.form.words


def _place_of(message: str, kind: Kind, stated: Mapping[str, Any], at: At) -> At:
    """Key that a complaint of the class speaks of, as far as it can be told."""
    plain = re.sub(r"'[^']*'|\"[^\"]*\"", "", message)
    for name in sorted(stated, key=len, reverse=True):
        words = {name, kind.keys[name].parameter}
        if any(re.search(rf"\b{re.escape(word).replace('_', '[_ ]')}\b", plain) for word in words):
            return at / name
    return at


def write_table(kind: Kind, thing: Any, shelf: Shelf, *, leave_out: Sequence[str] = ()) -> dict[str, Any]:
    """Table that states an object; what is as it would be without being stated is left out.

    Parameters
    ----------
    kind : Kind
        What the table is.
    thing : object
        What ``kind.make`` made.
    shelf : dict
        Where definitions go that the table refers to by name.
    leave_out : sequence of str, optional
        Keys that are stated elsewhere.

    Returns
    -------
    dict
        For a TOML writer.

    Raises
    ------
    InputError
        Where something is set that a study file cannot state.
    """
    _refuse_unwritten(kind, thing)
    table: dict[str, Any] = {"kind": kind.word} if kind.word else {}
    kept = {one.name for one in fields(thing)}
    for key in kind.keys.values():
        if key.attribute not in kept or key.name in leave_out:
            continue
        value = getattr(thing, key.attribute)
        usual = kind.implied[key.parameter](thing) if key.parameter in kind.implied else key.default
        if not key.required and type(value) is type(usual) and value == usual:
            continue
        written = False if value is None else key.form.write(value, shelf)
        table[key.name] = written if key.form is NUMBER else _spoken(key.parameter, written)
    return table


def _refuse_unwritten(kind: Kind, thing: Any) -> None:
    known = {key.attribute for key in kind.keys.values()}
    for one in fields(thing):
        if one.init and one.name not in known and one.compare and one.name in inspect.signature(kind.make).parameters:
            usual = inspect.signature(kind.make).parameters[one.name].default
            if getattr(thing, one.name) != usual:
                msg = (
                    f"{type(thing).__name__}: {one.name} is {getattr(thing, one.name)!r}, which a study file cannot "
                    "state. Keep this study as Python."
                )
                raise InputError(msg)


def _spoken(parameter: str, value: Any) -> Any:
    """Number with a builder's unit, where the text gives back the very same number."""
    if parameter not in _SPOKEN or isinstance(value, bool) or not isinstance(value, float) or not math.isfinite(value):
        return value
    dimension, factor, unit = _SPOKEN[parameter]
    text = f"{factor * value:.10g} {unit}"
    if "e" in text.split()[0]:
        return value
    return text if to_si(text, dimension, parameter) == value else value


def one_of(what: str, kinds: Sequence[Kind]) -> Form:
    """Form of a choice: a table whose ``kind`` says which, or the word alone where nothing more is stated."""
    by_word = {one.word: one for one in kinds}
    listed = ", ".join(map(repr, by_word))

    def read(value: Any, at: At, shelf: Shelf) -> Any:
        table = {"kind": value} if isinstance(value, str) else value
        if not isinstance(table, dict):
            raise at.error(f"is {shown(value)}; a table with the key 'kind' is needed. Kinds: {listed}.")
        if "kind" not in table:
            raise at.error(f"the key 'kind' is missing. Kinds of {what}: {listed}.")
        word = table["kind"]
        if word not in by_word if isinstance(word, str) else True:
            near = get_close_matches(str(word), by_word, n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            place = at if isinstance(value, str) else at / "kind"
            raise place.error(f"there is no {what} of the kind {shown(word)}.{hint} Kinds: {listed}.")
        return read_table(by_word[word], table, at, shelf)

    def write(thing: Any, shelf: Shelf) -> Any:
        chosen = next((one for one in kinds if one.make is type(thing)), None)
        if chosen is None:
            msg = f"{thing!r:.80} cannot be stated in a study file. Kinds of {what} that can: {listed}."
            raise InputError(msg)
        table = write_table(chosen, thing, shelf)
        return chosen.word if len(table) == 1 else table

    return Form(f"a table with 'kind', one of {listed}", read, write)


def table_of(kind: Kind) -> Form:
    """Form of a table of which there is one kind."""
    return Form(
        f"a table with {_keys(kind)}",
        lambda value, at, shelf: read_table(kind, value, at, shelf),
        lambda thing, shelf: write_table(kind, thing, shelf),
    )


def list_of(form: Form) -> Form:
    """Form of a list of tables."""

    def read(value: Any, at: At, shelf: Shelf) -> Any:
        if not isinstance(value, list):
            raise at.error(f"is {shown(value)}; a list is needed, in square brackets, of {form.words}.")
        return tuple(form.read(one, at / number, shelf) for number, one in enumerate(value))

    return Form(f"a list, each {form.words}", read, lambda things, shelf: [form.write(one, shelf) for one in things])
