"""What a study is not sure of: inputs by name, how each is spread, and in which variants.

May import: weather, ensemble and all above it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hygro.ensemble import Distribution, check_spread
from hygro.errors import InputError
from hygro.study import Variant
from hygro.studyfile.weather import Records, WeatherYears
from hygro.vary import Input

CLIMATE = "climate"


@dataclass(frozen=True, slots=True)
class Uncertain:
    """One input that is not known for sure.

    Parameters
    ----------
    input : str
        Its name, such as ``leak.q50``, ``gap.blocked`` or ``deck.times_sorption``;
        ``python -m hygro study.toml --inputs`` lists all. ``climate`` is the weather.
    spread : Distribution, WeatherYears or Records
        How it is spread.
    variants : tuple of str, optional
        Names of the variants in which it is uncertain; every variant that has the input unless stated.

    Raises
    ------
    InputError
        Where the weather is spread like a number, or a number like the weather.
    """

    input: str
    spread: Distribution | WeatherYears | Records
    variants: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "variants", tuple(self.variants))
        if self.is_weather and not isinstance(self.spread, WeatherYears | Records):
            msg = "spread: the input 'climate' is the weather; its spread is of the kind 'weather years' or 'records'."
            raise InputError(msg)
        if not self.is_weather and isinstance(self.spread, WeatherYears | Records):
            msg = f"spread: weather years and records are for the input 'climate'; this one is {self.input!r}."
            raise InputError(msg)

    @property
    def is_weather(self) -> bool:
        """Whether the weather is meant, which no variant has of its own."""
        return self.input == CLIMATE

    def among(self, variants: Iterable[Variant]) -> tuple[Variant, ...]:
        """Variants in which it is uncertain."""
        if self.variants:
            return tuple(one for one in variants if one.name in self.variants)
        return tuple(one for one in variants if has_input(one, self.input))


def check_uncertain(one: Uncertain, before: Sequence[Uncertain], variants: Sequence[Variant]) -> None:
    """Refuse what cannot be spread as stated, without any weather.

    Parameters
    ----------
    one : Uncertain
        What is stated.
    before : sequence of Uncertain
        What has been stated before it.
    variants : sequence of Variant
        Ways of building.

    Raises
    ------
    InputError
        Where a variant is unknown, none has the input, it is stated twice, or it reaches values that cannot be.
    """
    names = [variant.name for variant in variants]
    unknown = next((name for name in one.variants if name not in names), None)
    if unknown is not None:
        msg = f"variants names {unknown!r}, which is no variant. Variants: {', '.join(map(repr, names))}."
        raise InputError(msg)
    meant = one.among(variants)
    if not meant:
        Input(one.input).read(variants[0])  # says what there is
    for variant in meant:
        if any(other.input == one.input and variant in other.among(variants) for other in before):
            msg = f"input {one.input!r} is uncertain twice in the variant {variant.name!r}; state it once."
            raise InputError(msg)
        if not isinstance(one.spread, WeatherYears | Records):
            check_spread(variant, one.input, one.spread)


def has_input(variant: Variant, name: str) -> bool:
    """Whether a variant has an input of that name; the weather is nobody's own and everybody's."""
    if name == CLIMATE:
        return True
    try:
        Input(name).read(variant)
    except InputError:
        return False
    return True
