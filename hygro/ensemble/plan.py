"""What an ensemble is: a variant, what is uncertain about it, and which member has which values.

Members are points of a scrambled Sobol sequence, so that the first n are the same however many are wanted, and the
numbers of a member depend on its place in the sequence alone. May import: distributions, identity, vary and above.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Protocol, Self

import numpy as np
from numpy.typing import NDArray

from hygro.climate import Climate
from hygro.ensemble.distributions import Choice, Distribution
from hygro.ensemble.identity import code_digest, digest_of
from hygro.errors import InputError
from hygro.study import Variant
from hygro.vary import FREE_WATER, WETTEST, WETTEST_FACE, Input, Measure
from hygro.vary.case import Case
from hygro.vary.inputs import as_input

MEASURES: Final = (WETTEST, WETTEST_FACE, FREE_WATER)
MOST_MEMBERS: Final = 2**24
_EDGE: Final = 2.0**-31  # half a step of the sequence: keeps quantiles away from infinity
_TAIL: Final = 1e-3  # share of cases beyond which a distribution is looked at when it is stated


@dataclass(frozen=True, slots=True, init=False, eq=False)
class UncertainStudy:
    """A variant and what is not known for sure about it.

    Parameters
    ----------
    base : Variant
        What stays as it is where nothing is uncertain.
    uncertain : mapping of str or Input to Distribution
        How each uncertain input is spread, independent of the others: ``{"leak.q50": LogNormal(1.0, 2.0)}``.
        ``"climate"`` takes a `Choice` of climates (see `weather_years`).
    climate : Climate
        Outdoor weather.
    layer : str
        Label of the layer that is judged.
    start : str
        First day, such as ``"1 October"``.
    years : int
        How long. [a]
    measures : tuple of Measure, optional
        What is found of each member.
    seed : int, optional
        Which of the scrambled sequences.
    crossed : bool, optional
        Whether members come in groups for `sobol_indices`: two points, and between them one for each input, which is
        the first point with that one input from the second.

    Attributes
    ----------
    now : tuple
        Value of each input as it is stated, which the distributions may refer to.

    Raises
    ------
    InputError
        Where an input does not exist (the nearest are named), or a distribution reaches values that cannot be.
    """

    case: Case
    inputs: tuple[tuple[Input, Distribution], ...]
    now: tuple[Any, ...]
    measures: tuple[Measure, ...]
    seed: int
    crossed: bool

    def __init__(
        self,
        base: Variant,
        uncertain: Mapping[str | Input, Distribution],
        climate: Climate,
        *,
        layer: str,
        start: str,
        years: int,
        measures: tuple[Measure, ...] = MEASURES,
        seed: int = 0,
        crossed: bool = False,
    ) -> None:
        case = Case(base, climate, layer, start, years)
        if not isinstance(uncertain, Mapping) or not uncertain:
            msg = (
                f"uncertain is {uncertain!r}; give inputs and their distributions, such as "
                '{"leak.q50": LogNormal(1.0, 2.0)}. Nothing uncertain is a single run.'
            )
            raise InputError(msg)
        if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
            msg = f"seed is {seed!r}; it must be a whole number from 0 on."
            raise InputError(msg)
        asked = tuple(measures)
        if not asked or not all(isinstance(one, Measure) for one in asked):
            msg = f"measures are {measures!r}; give at least one Measure, such as WETTEST."
            raise InputError(msg)
        inputs = tuple(_read(case, as_input(named), spread) for named, spread in uncertain.items())
        names = [one.dimension for one, _ in inputs] + [one.name for one in asked]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            msg = f"{twice!r} is named twice among inputs and measures; give each a name of its own."
            raise InputError(msg)
        stated = {"case": case, "inputs": inputs, "measures": asked, "seed": seed, "crossed": bool(crossed)}
        stated["now"] = tuple(case.read(one) for one, _ in inputs)
        for name, value in stated.items():
            object.__setattr__(self, name, value)

    def shares(self, first: int, last: int) -> NDArray[np.float64]:
        """Points of members first to last - 1 in the unit cube, shape (n, n_inputs). [1]."""
        inputs = len(self.inputs)
        if not self.crossed:
            return _points(inputs, self.seed, first, last)
        group = inputs + 2
        start = first // group
        pairs = _points(2 * inputs, self.seed, start, -(-last // group))[:, None, :]
        from_second = np.vstack([np.zeros(inputs, dtype=bool), np.eye(inputs, dtype=bool), np.ones(inputs, dtype=bool)])
        members = np.where(from_second, pairs[..., inputs:], pairs[..., :inputs]).reshape(-1, inputs)
        return members[first - start * group : last - start * group]

    def values(self, shares: NDArray[np.float64]) -> list[Any]:
        """Value of each input for one member, from its point."""
        return [
            spread.at(float(share), now) for (_, spread), now, share in zip(self.inputs, self.now, shares, strict=True)
        ]

    def numbers(self, shares: NDArray[np.float64]) -> list[float]:
        """The same as numbers: the place in the list where the input is a choice."""
        return [
            float(spread.place(float(share))) if isinstance(spread, Choice) else float(spread.at(float(share), now))
            for (_, spread), now, share in zip(self.inputs, self.now, shares, strict=True)
        ]

    def member(self, shares: NDArray[np.float64]) -> Case:
        """Case of one member, from its point."""
        case = self.case
        for (one, _), value in zip(self.inputs, self.values(shares), strict=True):
            case = case.put(one, value)
        return case

    def check(self, members: int) -> None:
        """Refuse members whose values cannot be, before any is run: the lowest and the highest of each input.

        Raises
        ------
        InputError
            Where one cannot be; names the input and the value.
        """
        shares = self.shares(0, members)
        for at, (one, spread) in enumerate(self.inputs):
            for share in (float(shares[:, at].min()), float(shares[:, at].max())):
                _try(self.case, one, spread, share)

    @property
    def fingerprint(self) -> str:
        """Digest of all that the numbers depend on, the code as well; not of how many members are wanted."""
        stated = (self.case, self.inputs, self.measures, self.seed, self.shares(0, 8))
        return digest_of((stated, code_digest()))

    def describe(self) -> str:
        """What is uncertain, one line for each input."""
        return "\n".join(f"{one.name}: {spread.describe(one)}" for one, spread in self.inputs)

    def attrs(self) -> dict[str, Any]:
        """Attributes of the Dataset of results."""
        case = self.case
        return {
            "title": f"ensemble of {case.variant.name}",
            "study": self.fingerprint,
            "assembly": repr(case.variant.assembly),
            "indoor": repr(case.variant.indoor),
            "leak": "none" if case.variant.leak is None else case.variant.leak.describe(),
            "climate": case.climate.title,
            "layer": case.layer,
            "start": case.start,
            "years": case.years,
            "seed": self.seed,
            "crossed": int(self.crossed),
            "uncertain": json.dumps({one.dimension: one.name for one, _ in self.inputs}),
            "distributions": self.describe(),
            "measures": json.dumps([one.name for one in self.measures]),
        }


def _points(dimensions: int, seed: int, first: int, last: int) -> NDArray[np.float64]:
    """Points of a scrambled Sobol sequence, shape (n, n_dimensions): the same whatever came before them. [1]."""
    from scipy.stats import qmc

    sobol = qmc.Sobol(dimensions, scramble=True, seed=np.random.default_rng(seed))
    if first:
        sobol.fast_forward(first)
        points = sobol.random(last - first)
    else:
        # The sequence warns unless its first draw is a power of two; drawing the point alone is one.
        points = np.concatenate([sobol.random(1), sobol.random(last - 1)]) if last > 1 else sobol.random(last)
    return np.asarray(np.clip(points, _EDGE, 1.0 - _EDGE))


def weather_years(record: Climate, start: str, first: int, last: int) -> Choice:
    """Choice between the single years of a long record, each as likely and repeated as often as a run needs.

    Parameters
    ----------
    record : Climate
        Hourly weather of several years.
    start : str
        First day of each year without a year, such as ``"1 October"``.
    first, last : int
        The years in which the first and the last of them begin.

    Returns
    -------
    Choice
        For the input ``"climate"``.

    Raises
    ------
    InputError
        Where the record does not hold them.
    """
    if isinstance(first, bool) or not isinstance(first, int) or not isinstance(last, int) or last <= first:
        msg = f"Weather years from {first!r} to {last!r}; give two whole numbers, the earlier one first."
        raise InputError(msg)
    years = []
    for year in range(first, last + 1):
        one = record.period(f"{start} {year}", 1)
        years.append(Climate(one.data.assign_attrs(title=f"{record.title}, from {start} {year}")))
    return Choice(years)


class _Holder(Protocol):
    """What has inputs: a `Case`, or a variant alone."""

    def read(self, one: Input) -> Any: ...

    def put(self, one: Input, value: Any) -> Self: ...


@dataclass(frozen=True, slots=True)
class _Built:
    variant: Variant

    def read(self, one: Input) -> Any:
        return one.read(self.variant)

    def put(self, one: Input, value: Any) -> _Built:
        return _Built(one.put(self.variant, value))


def check_spread(variant: Variant, named: str | Input, spread: Distribution) -> None:
    """Refuse a distribution that an input of a variant cannot have, before there is any weather.

    Parameters
    ----------
    variant : Variant
        What is built.
    named : str or Input
        The input; not ``"climate"``, which no variant has.
    spread : Distribution
        How it is spread.

    Raises
    ------
    InputError
        Where the variant has no such input (the nearest are named), or the distribution reaches values that cannot be.
    """
    _read(_Built(variant), as_input(named), spread)


def _read(case: _Holder, one: Input, spread: Distribution) -> tuple[Input, Distribution]:
    if isinstance(spread, type) or not callable(getattr(spread, "at", None)):
        msg = f"Input {one.name!r}: its distribution is {spread!r}; give one such as Uniform(low, high)."
        raise InputError(msg)
    case.read(one)
    try:
        read = spread.read(one)
    except InputError as error:
        msg = f"Input {one.name!r}: {error}"
        raise InputError(msg) from error
    shares = [_TAIL, 0.5, 1.0 - _TAIL]
    if isinstance(read, Choice):
        ends = np.cumsum(read.weights) / sum(read.weights)
        shares = list(ends - 0.5 * np.diff(ends, prepend=0.0))
    for share in shares:
        _try(case, one, read, float(share))
    return one, read


def _try(case: _Holder, one: Input, spread: Distribution, share: float) -> None:
    try:
        value = spread.at(share, case.read(one))
        case.put(one, value)
    except InputError as error:
        msg = (
            f"Input {one.name!r} ({spread.describe(one)}) reaches a value that cannot be, {100.0 * share:.3g} % of "
            f"cases lying below it. {error} Cut the distribution off, or choose another."
        )
        raise InputError(msg) from error
