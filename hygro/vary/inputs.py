"""Finding one input of a variant by its name, reading it and putting another value in its place.

A name is a path in plain words: ``"gap.thickness"``, ``"gap.opening"``, ``"leak.q50"``, ``"indoor.temperature"``,
``"deck.thickness"`` (a layer by its label), ``"vapour retarder.permeance"`` (a sheet by its name). `inputs_of` lists
all of a variant. Curves of materials are changed as a whole by ``times_...``, which is 1 in the variant as stated.
May import: study and all above it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from difflib import get_close_matches
from typing import Any, Final

import pandas as pd

from hygro.assembly import Layer, Sheet, VentGap
from hygro.climate import Climate
from hygro.errors import InputError
from hygro.materials import Material, SheetMaterial
from hygro.simulation import Start
from hygro.snow import LyingSnow
from hygro.study import Variant
from hygro.units import to_si
from hygro.vary.quantities import Kind, kind_of
from hygro.vary.rebuilt import DENSITY, TIMES, material_with, rebuilt, sheet_with

CLIMATE: Final = "climate"
Change = Callable[[Any], Variant]


_UNNAMED: Final = ("provenance", "name")  # say what a thing is called, or where it comes from: nothing to vary


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a variant.

    Parameters
    ----------
    name : str
        A path such as ``"gap.thickness"`` (see `inputs_of`), ``"climate"``, or with `change` any name of your own.
    change : callable, optional
        A function of your own, from a variant and a value to the variant with that value.
    unit : str, optional
        Unit of the value, with `change`.

    Raises
    ------
    InputError
        Where the name is empty.
    """

    name: str
    change: Callable[[Variant, Any], Variant] | None = None
    unit: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            msg = (
                f'An input\'s name is {self.name!r}; give a path such as "gap.thickness". inputs_of(variant) lists all.'
            )
            raise InputError(msg)
        if self.change is not None and not callable(self.change):
            msg = f"Input {self.name!r}: change is {self.change!r}; give a function of a variant and a value."
            raise InputError(msg)

    @property
    def dimension(self) -> str:
        """Name that may be used for a dimension of a Dataset."""
        return "_".join("".join(letter if letter.isalnum() else " " for letter in self.name).split())

    @property
    def kind(self) -> Kind:
        """What it measures."""
        if self.change is not None:
            return Kind(None, self.unit, self.unit)
        return kind_of(self.name.rpartition(".")[2])

    def number(self, stated: object) -> float:
        """Number behind a stated value, in the unit of the input.

        Parameters
        ----------
        stated : float or str
            A number, or text with a unit where the input has one. [unit of the input]

        Returns
        -------
        float
            The number. [unit of the input]

        Raises
        ------
        InputError
            Where it is no number that could be meant.
        """
        return to_si(stated, self.kind.dimension or "factor", f"Input {self.name!r}")

    def read(self, variant: Variant) -> Any:
        """Value that a variant has now; None where only `change` knows."""
        return None if self.change is not None else _find(variant, self.name)[0]

    def put(self, variant: Variant, value: Any) -> Variant:
        """Variant with another value; the given one stays as it is.

        Parameters
        ----------
        variant : Variant
            What to start from.
        value : object
            Anything that could be stated there.

        Returns
        -------
        Variant
            With that value.

        Raises
        ------
        InputError
            Where there is no such input (the nearest are named), or it cannot have the value.
        """
        if self.change is None:
            return _find(variant, self.name)[1](value)
        changed = self.change(variant, value)
        if not isinstance(changed, Variant):
            msg = (
                f"Input {self.name!r}: the function gave back {type(changed).__name__}; it must return the changed "
                "Variant."
            )
            raise InputError(msg)
        return changed

    def say(self, value: Any) -> str:
        """Value in words of the trade, such as ``25 mm``."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            return value.title if isinstance(value, Climate) else str(getattr(value, "name", value))
        kind = self.kind
        return f"{value * kind.factor:.4g} {kind.shown}".strip()


def as_input(named: str | Input) -> Input:
    """Input behind a path or an `Input`.

    Parameters
    ----------
    named : str or Input
        What was written.

    Returns
    -------
    Input
        The same.

    Raises
    ------
    InputError
        Where it is neither.
    """
    if isinstance(named, Input):
        return named
    if isinstance(named, str):
        return Input(named)
    msg = f'{named!r} does not name an input; write a path such as "gap.thickness", or an Input.'
    raise InputError(msg)


def inputs_of(variant: Variant) -> pd.DataFrame:
    """All inputs of a variant that have a path.

    Parameters
    ----------
    variant : Variant
        The variant.

    Returns
    -------
    DataFrame
        One row for each path: the value now, in words of the trade, and its unit inside.
    """
    rows = []
    for path, value in _paths(variant):
        one = Input(path)
        rows.append({"input": path, "now": one.say(value), "unit": one.kind.unit})
    return pd.DataFrame(rows, columns=["input", "now", "unit"]).set_index("input")


def _paths(variant: Variant) -> Iterator[tuple[str, Any]]:
    def walk(node: Any, before: str) -> Iterator[tuple[str, Any]]:
        for name, (value, _) in _below(node).items():
            if isinstance(node, VentGap) and name == "flow":
                continue  # put as a whole; its parts are named as those of the gap
            path = f"{before}{name}"
            if isinstance(value, int | float | str):
                yield path, value
            elif _is_node(value):
                yield from walk(value, f"{path}.")

    return walk(variant, "")


def _find(variant: Variant, path: str) -> tuple[Any, Change]:
    """Value at a path, and how to put another there."""
    node, rest = variant, path
    changes: list[Callable[[Any], Any]] = []
    while True:
        known = _below(node) if _is_node(node) else {}
        # Labels of layers may hold full stops: the longest that fits is meant.
        fits = [name for name in known if rest == name or rest.startswith(f"{name}.")]
        if not fits:
            raise InputError(_unknown(variant, path))
        name = max(fits, key=len)
        node, change = known[name]
        changes.append(change)
        rest = rest[len(name) + 1 :]
        if not rest:
            break

    def put(value: Any) -> Variant:
        for change in reversed(changes):
            value = change(value)
        return value  # type: ignore[no-any-return]

    return node, put


def _unknown(variant: Variant, path: str) -> str:
    paths = [one for one, _ in _paths(variant)]
    last = path.rpartition(".")[2]
    near = get_close_matches(path, paths, n=3, cutoff=0.6) or [one for one in paths if one.endswith(f".{last}")][:3]
    parts = {"gap": variant.assembly.gap, "leak": variant.leak, "rain": variant.rain, "snow": variant.snow}
    for part, stated in parts.items():
        if path.startswith(f"{part}.") and stated is None:
            return (
                f"Variant {variant.name!r} has no {part} stated, so that there is no input {path!r}. State one, or "
                "leave it."
            )
    offered = f"Nearest: {', '.join(map(repr, near))}." if near else f"There are: {', '.join(map(repr, paths))}."
    return f"Variant {variant.name!r} has no input {path!r}. {offered} inputs_of(variant) lists all."


def _is_node(value: Any) -> bool:
    """Whether it has inputs below; a material is put as a whole, its layer names what may be varied of it."""
    return is_dataclass(value) and not isinstance(value, type | Material | SheetMaterial)


def _below(node: Any) -> dict[str, tuple[Any, Callable[[Any], Any]]]:
    """What can be named below a node: its value, and how to make the node anew with another."""
    if isinstance(node, Variant):
        return _of_variant(node)
    if isinstance(node, Layer):
        return _fields(node, ("thickness", "start_humidity", "start_moisture", "material")) | _of_material(node)
    if isinstance(node, Sheet):
        return _of_sheet(node)
    if isinstance(node, VentGap):
        return _of_gap(node)
    if isinstance(node, LyingSnow):
        return _of_lying_snow(node)
    named = [field for field in fields(node) if field.name not in _UNNAMED and not field.name.startswith("_")]
    found = _fields(node, [field.name for field in named])
    for field in named:
        items = getattr(node, field.name)
        if isinstance(items, tuple) and items and all(map(_is_node, items)):
            found |= _items(node, field.name, items)
    return found


def _fields(node: Any, names: Any) -> dict[str, tuple[Any, Callable[[Any], Any]]]:
    def changed(name: str) -> Callable[[Any], Any]:
        return lambda value: replace(node, **{name: value})

    return {name: (getattr(node, name), changed(name)) for name in names}


def _items(node: Any, field: str, items: tuple[Any, ...]) -> dict[str, tuple[Any, Callable[[Any], Any]]]:
    """Members of a tuple by the name of their class, numbered from the second of a class on."""
    found: dict[str, tuple[Any, Callable[[Any], Any]]] = {}
    for place, item in enumerate(items):
        name, number = type(item).__name__.lower(), 2
        label = name
        while label in found:
            label, number = f"{name} {number}", number + 1
        found[label] = (item, _replaced_in(node, field, items, place))
    return found


def _replaced_in(node: Any, field: str, items: tuple[Any, ...], place: int) -> Callable[[Any], Any]:
    return lambda value: replace(node, **{field: (*items[:place], value, *items[place + 1 :])})


def _of_variant(variant: Variant) -> dict[str, tuple[Any, Callable[[Any], Any]]]:
    assembly = variant.assembly

    def with_part(place: int) -> Callable[[Any], Variant]:
        parts = assembly.parts
        return lambda part: replace(
            variant, assembly=rebuilt(assembly, parts=(*parts[:place], part, *parts[place + 1 :]))
        )

    def with_assembly(name: str) -> Callable[[Any], Variant]:
        return lambda value: replace(variant, assembly=rebuilt(assembly, **{name: value}))

    found: dict[str, tuple[Any, Callable[[Any], Any]]] = {}
    labels = iter(assembly.labels)
    for place, part in enumerate(assembly.parts):
        name = next(labels) if isinstance(part, Layer) else "gap" if isinstance(part, VentGap) else part.name
        found.setdefault(name, (part, with_part(place)))
    found |= {name: (getattr(assembly, name), with_assembly(name)) for name in ("tilt", "azimuth", "finish")}
    if variant.leak is not None:
        found["leak"] = (variant.leak, lambda value: replace(variant, leak=value))
    if variant.rain is not None:
        found["rain"] = (variant.rain, lambda value: replace(variant, rain=value))
    if variant.snow is not None:
        found["snow"] = (variant.snow, lambda value: replace(variant, snow=value))
    found["indoor"] = (variant.indoor, lambda value: replace(variant, indoor=value))
    found["start"] = (variant.initial or Start(), lambda value: replace(variant, initial=value))
    return found


def _of_material(layer: Layer) -> dict[str, tuple[Any, Callable[[Any], Any]]]:
    def changed(name: str) -> Callable[[Any], Layer]:
        return lambda value: replace(layer, material=material_with(layer.material, name, value))

    numbers = {name: getattr(layer.material, name) for name in (DENSITY, "specific_heat", "conductivity")}
    numbers |= {name: 1.0 for name, applies in TIMES.items() if applies(layer.material)}
    return {name: (value, changed(name)) for name, value in numbers.items()}


def _of_sheet(sheet: Sheet) -> dict[str, tuple[Any, Callable[[Any], Any]]]:
    def changed(name: str) -> Callable[[Any], Sheet]:
        return lambda value: replace(sheet, material=sheet_with(sheet.material, name, value))

    found = _fields(sheet, ("material",))
    material = sheet.material
    if isinstance(material.s_d, float):
        found["s_d"] = (material.s_d, changed("s_d"))
        found["permeance"] = (1.0 / float(material.vapour_resistance(0.5)), changed("permeance"))
    if not material.is_vapour_tight:
        found["times_vapour_resistance"] = (1.0, changed("times_vapour_resistance"))
    return found


def _of_lying_snow(snow: LyingSnow) -> dict[str, tuple[Any, Callable[[Any], Any]]]:
    stated = {"depth": snow.thickness, "since": snow.since, "until": snow.until, "density": snow.density}

    def changed(name: str) -> Callable[[Any], LyingSnow]:
        def put(value: Any) -> LyingSnow:
            new: dict[str, Any] = stated | {name: value}
            return LyingSnow(new.pop("depth"), **new)

        return put

    return {name: (value, changed(name)) for name, value in stated.items()}


def _of_gap(gap: VentGap) -> dict[str, tuple[Any, Callable[[Any], Any]]]:
    found = _fields(gap, ("thickness", "length", "slices", "flow"))
    if not _is_node(gap.flow):
        return found

    def with_flow(change: Callable[[Any], Any]) -> Callable[[Any], VentGap]:
        return lambda new: replace(gap, flow=change(new))

    flow: Any = gap.flow
    found |= {name: (value, with_flow(change)) for name, (value, change) in _below(flow).items()}
    if {"inlet", "outlet"} <= set(found):
        both = min(found["inlet"][0], found["outlet"][0])
        found["opening"] = (both, with_flow(lambda new: replace(flow, inlet=new, outlet=new)))
    return found
