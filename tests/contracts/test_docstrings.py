"""Contract: every public docstring states its parameters as the signature does, units in brackets, and its sources."""

from __future__ import annotations

import enum
import importlib
import inspect
import re
from types import ModuleType

import pytest

import hygro
from hygro.core import formulas

QUANTITY = re.compile(r"\b(float|ndarray|array|array_like|rows)\b")
UNIT = re.compile(r"\[[^\[\]]+\]|in `unit`")
SECTION = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}\n", re.MULTILINE)


def _public() -> dict[str, object]:
    """Every public function and class by its dotted name, from what ``hygro`` and its sub-packages export."""
    found: dict[str, object] = {}
    for name in hygro.__all__:
        thing = getattr(hygro, name)
        if isinstance(thing, ModuleType):
            found |= {f"{name}.{n}": v for n, v in _exported(thing).items()}
        elif callable(thing):
            found[name] = thing
    return found | {f"formulas.{n}": v for n, v in _exported(formulas).items()}


def _exported(module: ModuleType) -> dict[str, object]:
    """Functions and classes that a module lists in ``__all__``, or defines itself."""
    if hasattr(module, "__all__"):
        things = {name: getattr(module, name) for name in module.__all__}
    else:
        things = {n: v for n, v in vars(module).items() if getattr(v, "__module__", "") == module.__name__}
    return {name: thing for name, thing in things.items() if callable(thing) and not name.startswith("_")}


PUBLIC = _public()


def _with_methods() -> dict[str, object]:
    """The public things and the public methods and properties of their classes."""
    found = dict(PUBLIC)
    for name, thing in PUBLIC.items():
        if inspect.isclass(thing):
            for member, value in vars(thing).items():
                if not member.startswith("_") and (inspect.isfunction(value) or isinstance(value, property)):
                    found[f"{name}.{member}"] = value
    return found


EVERYTHING = _with_methods()
FUNCTIONS = [name for name, thing in EVERYTHING.items() if callable(thing) and not inspect.isclass(thing)]
METHODS = set(EVERYTHING) - set(PUBLIC)
CLASSES = [name for name, thing in EVERYTHING.items() if inspect.isclass(thing)]


def _sections(thing: object) -> dict[str, str]:
    text = inspect.cleandoc(thing.__doc__ or "")
    heads = list(SECTION.finditer(text))
    starts = [head.start() for head in heads] + [len(text)]
    return {head[1]: text[head.end() : end].strip("\n") for head, end in zip(heads, starts[1:], strict=True)}


def _entries(section: str) -> list[tuple[str, str, str]]:
    """Name(s), type and description of each entry of a section."""
    found: list[tuple[str, str, str]] = []
    for line in section.splitlines():
        if line and not line.startswith(" "):
            name, _, kind = line.partition(" : ")
            found.append((name.strip(), kind.strip(), ""))
        elif found:
            name, kind, words = found[-1]
            found[-1] = (name, kind, f"{words} {line.strip()}".strip())
    return found


def _signature(thing: object) -> list[str]:
    return [p.lstrip("_") for p in inspect.signature(thing).parameters if p not in {"self", "cls"}]


def test_there_is_something_to_check() -> None:
    assert {"Assembly", "simulate", "materials.Material", "criteria.mould_index", "read_climate"} <= set(PUBLIC)
    assert len(PUBLIC) > 80


@pytest.mark.parametrize("name", EVERYTHING)
def test_everything_public_says_what_it_is(name: str) -> None:
    assert (EVERYTHING[name].__doc__ or "").strip(), f"{name} has no docstring"


@pytest.mark.parametrize("name", [*FUNCTIONS, *CLASSES])
def test_documented_parameters_are_those_of_the_signature(name: str) -> None:
    thing = EVERYTHING[name]
    section = _sections(thing).get("Parameters")
    if section is None:
        # One sentence is enough for a helper of one or two arguments, a method, an enumeration and a result.
        if inspect.isclass(thing):
            told = "Attributes" in _sections(thing) or issubclass(thing, enum.Enum) or getattr(thing, "_is_protocol", 0)
            assert told or not _signature(thing), f"{name} needs a section Parameters"
        elif name not in METHODS:
            assert len(_signature(thing)) < 3, f"{name} needs a section Parameters"
        return
    documented = [part.strip(" *") for names, _, _ in _entries(section) for part in names.split(",")]
    assert documented == _signature(thing), f"{name}: docstring and signature differ"


@pytest.mark.parametrize("name", [*FUNCTIONS, *CLASSES])
def test_quantities_end_with_a_unit_in_brackets(name: str) -> None:
    sections = _sections(EVERYTHING[name])
    for head in ("Parameters", "Returns"):
        for entry, kind, words in _entries(sections.get(head, "")):
            what = f"{entry} {kind}" if head == "Returns" else kind
            if QUANTITY.search(what) and not re.search(r"callable|of (str|bool)\b", what):
                assert UNIT.search(words), f"{name}: {head}, {entry}: state the unit in brackets"


@pytest.mark.parametrize(
    "name",
    [
        name
        for name in FUNCTIONS
        if name.startswith("formulas.")
        or (
            name.startswith("criteria.")
            and re.search("float|Verdict|DataArray", _sections(PUBLIC[name]).get("Returns", ""))
        )
    ],
)
def test_formulas_and_criteria_name_their_source(name: str) -> None:
    doc = EVERYTHING[name].__doc__ or ""
    named = re.search(r"References\n\s*-+\n\s*\S", doc) or re.search("ISO|ASHRAE|ideal gas|Idelchik", doc)
    assert named, f"{name}: name the source of the equation, or say that it is a definition"


def test_every_module_says_what_it_is_for() -> None:
    for module in sorted({str(getattr(thing, "__module__", "hygro")) for thing in PUBLIC.values()}):
        assert (importlib.import_module(module).__doc__ or "").strip(), f"{module} has no docstring"
