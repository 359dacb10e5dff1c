"""Contract: every public docstring states its parameters as the signature does, units in brackets, and its sources."""

from __future__ import annotations

import importlib
import inspect
import re
from types import ModuleType

import pytest

import hygro
from hygro.core import formulas

QUANTITY = re.compile(r"\b(float|ndarray|array|array_like|rows)\b")
UNIT = re.compile(r"\[[^\[\]]+\]")
SECTION = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}\n", re.MULTILINE)


def _public() -> dict[str, object]:
    """Every public function and class by its dotted name, from what ``hygro`` and its sub-packages export."""
    found: dict[str, object] = {}
    for name in hygro.__all__:
        thing = getattr(hygro, name)
        if isinstance(thing, ModuleType):
            exported = getattr(thing, "__all__", [n for n, v in vars(thing).items() if not n.startswith("_")])
            found |= {f"{name}.{n}": getattr(thing, n) for n in exported if _is_ours(getattr(thing, n))}
        elif _is_ours(thing):
            found[name] = thing
    found |= {f"formulas.{n}": v for n, v in vars(formulas).items() if not n.startswith("_") and inspect.isfunction(v)}
    return found


def _is_ours(thing: object) -> bool:
    made = inspect.isclass(thing) or callable(thing)
    return made and str(getattr(thing, "__module__", "")).startswith("hygro")


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
CLASSES = [name for name, thing in EVERYTHING.items() if inspect.isclass(thing)]


def _sections(thing: object) -> dict[str, str]:
    text = inspect.cleandoc(thing.__doc__ or "")
    heads = list(SECTION.finditer(text))
    ends = [head.start() for head in heads[1:]] + [len(text)]
    parts = {"Summary": text[: heads[0].start()] if heads else text}
    return parts | {head[1]: text[head.end() : end].strip("\n") for head, end in zip(heads, ends, strict=True)}


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
    names = [p for p in inspect.signature(thing).parameters if p not in {"self", "cls"}]  # type: ignore[arg-type]
    return [name for name in names if not name.startswith("_")]


def test_there_is_something_to_check() -> None:
    assert {"Assembly", "simulate", "materials.Material", "criteria.mould_index", "read_climate"} <= set(PUBLIC)
    assert len(PUBLIC) > 80


@pytest.mark.parametrize("name", EVERYTHING)
def test_everything_public_says_what_it_is(name: str) -> None:
    doc = EVERYTHING[name].__doc__
    assert doc, f"{name} has no docstring"
    assert doc.strip().splitlines()[0].rstrip()[-1] in ".:,;" or "\n" in doc.strip(), f"{name}: finish the first line"


@pytest.mark.parametrize("name", [*FUNCTIONS, *CLASSES])
def test_documented_parameters_are_those_of_the_signature(name: str) -> None:
    thing = EVERYTHING[name]
    section = _sections(thing).get("Parameters")
    if section is None:
        # a helper of one sentence; what takes three or more arguments is none
        assert inspect.isclass(thing) or len(_signature(thing)) < 4, f"{name} needs a section Parameters"
        return
    documented = [part.strip(" *") for names, _, _ in _entries(section) for part in names.split(",")]
    assert documented == _signature(thing), f"{name}: docstring and signature differ"


@pytest.mark.parametrize("name", [*FUNCTIONS, *CLASSES])
def test_quantities_end_with_a_unit_in_brackets(name: str) -> None:
    sections = _sections(EVERYTHING[name])
    for head in ("Parameters", "Returns"):
        for entry, kind, words in _entries(sections.get(head, "")):
            what = f"{entry} {kind}" if head == "Returns" else kind
            if QUANTITY.search(what) and "callable" not in kind:
                assert UNIT.search(words), f"{name}: {head}, {entry}: state the unit in brackets"


@pytest.mark.parametrize(
    "name", [n for n in FUNCTIONS if n.startswith(("formulas.", "criteria.")) and n.count(".") == 1]
)
def test_formulas_and_criteria_name_their_source(name: str) -> None:
    doc = EVERYTHING[name].__doc__ or ""
    named = re.search(r"References\n\s*-+\n\s*\S", doc) or re.search(r"ISO|ASHRAE|WMO|ideal gas|Idelchik|definition", doc)
    assert named, f"{name}: name the source of the equation, or say that it is a definition"


def test_every_module_says_what_it_is_for() -> None:
    for module in sorted({str(getattr(thing, "__module__", "hygro")) for thing in PUBLIC.values()}):
        assert (importlib.import_module(module).__doc__ or "").strip(), f"{module} has no docstring"
