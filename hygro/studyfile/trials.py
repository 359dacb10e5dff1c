"""What a study tries out beside its variants: the smallest or largest input that passes, and combinations of inputs.

May import: judging, uncertain, weather, vary and all above it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import prod
from typing import Any, Final

from hygro.errors import InputError
from hygro.study import Variant
from hygro.studyfile.judging import VERDICT, criterion
from hygro.studyfile.uncertain import CLIMATE, has_input
from hygro.studyfile.weather import Sample, WeatherFile
from hygro.vary import Input
from hygro.vary.search import check_ends
from hygro.vary.sweep import check_values

MOST_COMBINATIONS: Final = 1000  # of one sweep in one variant; more belong into Python


@dataclass(frozen=True, slots=True)
class Search:
    """The smallest, or the largest, value of an input with which a layer still passes.

    Parameters
    ----------
    smallest : bool
        Whether the smallest value is sought, as of a gap or an opening; else the largest, as of a permeance or a leak.
    input : str
        Its name, such as ``gap.thickness``, ``gap.opening``, ``leak.q50`` or ``vapour retarder.permeance``;
        ``python -m hygro study.toml --inputs`` lists all.
    between : sequence
        Lowest and highest value to try, in the unit of the input or with a unit.
    criterion : str, optional
        What has to hold, by the names in `judging.CRITERIA`.
    variants : tuple of str, optional
        Names of the variants in which to search; every variant that has the input unless stated.
    layers : tuple of str, optional
        Layers that are judged; every layer watched unless stated.
    """

    smallest: bool
    input: str
    between: tuple[Any, ...]
    criterion: str = VERDICT
    variants: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("between", "variants", "layers"):
            object.__setattr__(self, name, tuple(getattr(self, name)))

    @property
    def inputs(self) -> tuple[str, ...]:
        """Names of what is varied."""
        return (self.input,)


@dataclass(frozen=True, slots=True)
class Sweep:
    """Every combination of some values of some inputs.

    Parameters
    ----------
    over : mapping of str to sequence
        Values of each input, in its unit or with a unit, or names of the library; of ``climate``, records of weather.
        Kept as pairs.
    variants : tuple of str, optional
        Names of the variants that are varied; every variant that has all of the inputs unless stated.
    layers : tuple of str, optional
        Layers that are judged; every layer watched unless stated.
    """

    over: tuple[tuple[str, tuple[Any, ...]], ...]
    variants: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        pairs = self.over.items() if isinstance(self.over, Mapping) else self.over
        object.__setattr__(self, "over", tuple((name, tuple(values)) for name, values in pairs))
        for name in ("variants", "layers"):
            object.__setattr__(self, name, tuple(getattr(self, name)))

    @property
    def inputs(self) -> tuple[str, ...]:
        """Names of what is varied."""
        return tuple(name for name, _ in self.over)


def meant(one: Search | Sweep, variants: Sequence[Variant], watch: Sequence[str]) -> tuple[tuple[Variant, str], ...]:
    """Each variant that is varied with each layer that is judged in it, layer by layer."""
    return tuple(
        (variant, layer)
        for layer in one.layers or watch
        for variant in variants
        if layer in variant.assembly.labels
        and (variant.name in one.variants if one.variants else all(has_input(variant, name) for name in one.inputs))
    )


def checks(
    one: Search | Sweep, variants: Sequence[Variant], watch: Sequence[str], *, wood: bool | None
) -> Iterator[tuple[tuple[str, ...], Callable[[], object]]]:
    """What refuses a trial that cannot be, one thing after the other, without any weather.

    Parameters
    ----------
    one : Search or Sweep
        What is stated.
    variants : sequence of Variant
        Ways of building.
    watch : sequence of str
        Labels of the layers that are judged.
    wood : bool or None
        Whether the limits for wood apply; what the materials say where it is None.

    Yields
    ------
    tuple
        The key of the table that is looked at, and a function that raises an `InputError` where it cannot be.
    """
    yield ("variants",), partial(_known, one.variants, [variant.name for variant in variants], "variant")
    yield ("layers",), partial(_known, one.layers, watch, "layer watched")
    if isinstance(one, Sweep):
        yield ("over",), partial(_countable, one)
    pairs = meant(one, variants, watch)
    if not pairs:
        asked = [variant for variant in variants if variant.name in one.variants] or list(variants)
        for name in one.inputs:
            yield _key(one, name), partial(_there, asked[0], name)
        yield ("layers" if one.layers else "variants",), _nothing_varied
    for variant, layer in pairs:
        if isinstance(one, Search):
            yield ("input",), partial(_number, one.input, variant)
            yield ("between",), partial(check_ends, variant, one.input, one.between)
            yield ("criterion",), partial(criterion, one.criterion, variant, layer, wood)
        else:
            for name, values in one.over:
                yield ("over", name), partial(_values, variant, name, values)


def _key(one: Search | Sweep, name: str) -> tuple[str, ...]:
    return ("input",) if isinstance(one, Search) else ("over", name)


def _known(named: Sequence[str], known: Sequence[str], what: str) -> None:
    unknown = next((name for name in named if name not in known), None)
    if unknown is not None:
        msg = f"{unknown!r} is no {what}. There are: {', '.join(map(repr, known))}."
        raise InputError(msg)


def _there(variant: Variant, name: str) -> None:
    if name != CLIMATE:
        Input(name).read(variant)  # says what there is


def _nothing_varied() -> None:
    msg = "no variant has all the inputs and a layer that is judged, so that nothing would be tried. Name others."
    raise InputError(msg)


def _number(name: str, variant: Variant) -> None:
    now = None if name == CLIMATE else Input(name).read(variant)
    if isinstance(now, bool) or not isinstance(now, int | float):
        msg = f"{name!r} is no number, so that it has no smallest or largest value. Use [[sweep]] for it."
        raise InputError(msg)


def _countable(one: Sweep) -> None:
    count = prod(len(values) for _, values in one.over)
    if not 0 < count <= MOST_COMBINATIONS or not one.over:
        msg = (
            f"makes {count if one.over else 0} combinations; from 1 to {MOST_COMBINATIONS} can be run. Give inputs and "
            'their values, such as { "gap.thickness" = ["25 mm", "50 mm"] }.'
        )
        raise InputError(msg)
    if len({Input(name).dimension for name in one.inputs}) < len(one.over):
        msg = "names an input twice; state each once."
        raise InputError(msg)


def _values(variant: Variant, name: str, values: Sequence[Any]) -> None:
    if name != CLIMATE:
        check_values(variant, name, values)
    elif any(value in values[:at] or not isinstance(value, Sample | WeatherFile) for at, value in enumerate(values)):
        msg = "climate takes records of weather that differ from each other, each with the key sample or file."
        raise InputError(msg)
