"""A whole study as one object: the question, the ways of building, the weather by name, and what is watched.

May import: trials, uncertain, weather, study and all above it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import xarray as xr

from hygro.criteria import (
    Verdict,
    combined_verdict,
    corrosion_verdict,
    inward_verdict,
    is_wood,
    thirty_day_verdict,
)
from hygro.criteria.select import FACES
from hygro.errors import InputError
from hygro.study import Comparison, Result, Variant, compare
from hygro.studyfile.trials import Search, Sweep, checks
from hygro.studyfile.uncertain import Uncertain, check_uncertain
from hygro.studyfile.weather import Sample, WeatherFile

MOST_YEARS: Final = 20
MOST_MEMBERS: Final = 100_000  # more belong on a cluster, from Python
MOST_SEED: Final = 2**32 - 1

# What may be asked besides; none of it changes the combined verdict.
ALSO: Final[Mapping[str, Callable[[xr.Dataset, str, bool], tuple[Verdict, ...]]]] = MappingProxyType(
    {
        "30-day humidity": lambda run, layer, _: tuple(thirty_day_verdict(run, layer, face) for face in FACES),
        "fasteners": lambda run, layer, wood: tuple(corrosion_verdict(run, layer, face, wood=wood) for face in FACES),
        "summer condensation": lambda run, layer, _: (inward_verdict(run, layer),),
    }
)

Progress = Callable[[int, int, Result], None]


@dataclass(frozen=True, slots=True)
class Study:
    """Everything that a study is made of, and nothing that it found.

    Parameters
    ----------
    title : str
        Heading of the report.
    variants : tuple of Variant
        Ways of building; each has a name of its own and differs from the others in more than the name.
    climate : Sample or WeatherFile
        Which weather.
    watch : tuple of str
        Labels of the layers that are judged. Each is in at least one variant, and each variant has at least one.
    start : str
        First day, such as ``"1 October"``.
    years : int
        How long. [a]
    question, building : str, optional
        What is asked, and what stands there, in plain words.
    assumed : tuple of (str, str), optional
        What was chosen without being asked, by name, in plain words.
    wood : bool, optional
        Whether the limits for wood apply to the layers watched; what their materials say otherwise.
    also : tuple of str, optional
        Criteria that are reported beside those of the combined verdict, by the names in `ALSO`.
    uncertain : tuple of Uncertain, optional
        Inputs that are not known for sure.
    members : int, optional
        How many members of an ensemble are run of each variant with an uncertain input; none unless stated.
    seed : int, optional
        Which of the scrambled sequences the members are from.
    searches : tuple of Search, optional
        Smallest and largest values that are sought besides.
    sweeps : tuple of Sweep, optional
        Combinations of inputs that are run besides.

    Raises
    ------
    InputError
        Where something is missing, two variants differ in nothing, an uncertain input cannot be spread as stated, or
        what is to be tried cannot be.
    """

    title: str
    variants: tuple[Variant, ...]
    climate: Sample | WeatherFile
    watch: tuple[str, ...]
    start: str
    years: int
    question: str = ""
    building: str = ""
    assumed: tuple[tuple[str, str], ...] = ()
    wood: bool | None = None
    also: tuple[str, ...] = ()
    uncertain: tuple[Uncertain, ...] = ()
    members: int | None = None
    seed: int = 0
    searches: tuple[Search, ...] = ()
    sweeps: tuple[Sweep, ...] = ()

    def __post_init__(self) -> None:
        for name in ("variants", "watch", "assumed", "also", "uncertain", "searches", "sweeps"):
            object.__setattr__(self, name, tuple(getattr(self, name)))
        for name in ("title", "start"):
            if not isinstance(getattr(self, name), str) or not getattr(self, name).strip():
                msg = f"the {name} is {getattr(self, name)!r}; plain text is needed."
                raise InputError(msg)
        if isinstance(self.years, bool) or not isinstance(self.years, int) or not 1 <= self.years <= MOST_YEARS:
            msg = f"years is {self.years!r}; a whole number from 1 to {MOST_YEARS} is needed."
            raise InputError(msg)
        if not isinstance(self.climate, Sample | WeatherFile):
            msg = f"climate is {self.climate!r:.60}; give Sample(name) or WeatherFile(path)."
            raise InputError(msg)
        unknown = next((one for one in self.also if one not in ALSO), None)
        if unknown is not None:
            msg = f"also asks for {unknown!r}, which is no criterion. Criteria: {', '.join(map(repr, ALSO))}."
            raise InputError(msg)
        _check_variants(self.variants)
        _check_watch(self.watch, self.variants)
        _check_members(self.members, self.seed, self.uncertain)
        for number, one in enumerate(self.uncertain):
            check_uncertain(one, self.uncertain[:number], self.variants)
        for trial in self.trials:
            for _, check in checks(trial, self.variants, self.watch, wood=self.wood):
                check()

    @property
    def trials(self) -> tuple[Search | Sweep, ...]:
        """What is tried out besides, searches first."""
        return (*self.searches, *self.sweeps)

    def variants_with(self, layer: str) -> tuple[Variant, ...]:
        """Variants that have a layer of that label."""
        return tuple(one for one in self.variants if layer in one.assembly.labels)


def _check_members(members: object, seed: object, uncertain: tuple[Uncertain, ...]) -> None:
    for name, value, least, most in (("members", members, 1, MOST_MEMBERS), ("seed", seed, 0, MOST_SEED)):
        if value is None and name == "members":
            continue
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            msg = f"{name} is {value!r}; a whole number from {least} to {most} is needed."
            raise InputError(msg)
    if members is not None and not uncertain:
        msg = f"members is {members!r}, but nothing is uncertain. State [[uncertain]] inputs, or leave members out."
        raise InputError(msg)


def _check_variants(variants: tuple[Variant, ...]) -> None:
    if not variants:
        msg = "there is no variant; at least one is needed."
        raise InputError(msg)
    known: dict[str, Variant] = {}
    for variant in variants:
        if not isinstance(variant, Variant):
            msg = f"a variant is {variant!r:.60}; give Variant(name, assembly, indoor)."
            raise InputError(msg)
        if variant.name in known:
            msg = f"two variants are named {variant.name!r}; each needs a name of its own."
            raise InputError(msg)
        same = next((name for name, other in known.items() if _differ_in_nothing(variant, other)), None)
        if same is not None:
            msg = (
                f"the variants {same!r} and {variant.name!r} differ in nothing but their names; change what is to be "
                "compared, or leave one out."
            )
            raise InputError(msg)
        known[variant.name] = variant


def _differ_in_nothing(one: Variant, other: Variant) -> bool:
    """Whether all but the names is the same."""
    if replace(one, name=other.name, assembly=other.assembly) != other:
        return False
    build = [(a.parts, a.tilt, a.azimuth, a.finish) for a in (one.assembly, other.assembly)]
    return build[0] == build[1]


def _check_watch(watch: tuple[str, ...], variants: tuple[Variant, ...]) -> None:
    if not watch or len(set(watch)) != len(watch) or not all(isinstance(label, str) for label in watch):
        msg = f"watch is {list(watch)!r}; name the layers to be judged, each once."
        raise InputError(msg)
    labels = list(dict.fromkeys(label for variant in variants for label in variant.assembly.labels))
    for label in watch:
        if label not in labels:
            msg = f"watch names {label!r}, which is a layer of no variant. Layers: {', '.join(map(repr, labels))}."
            raise InputError(msg)
        dry = next((one for one in variants if _holds_nothing(one, label)), None)
        if dry is not None:
            msg = (
                f"watch names {label!r}, which holds no water in {dry.name!r}: there is nothing to judge. Name another."
            )
            raise InputError(msg)
    for variant in variants:
        if not set(watch) & set(variant.assembly.labels):
            msg = (
                f"watch names no layer of the variant {variant.name!r}, which then says nothing. Its layers: "
                f"{', '.join(map(repr, variant.assembly.labels))}."
            )
            raise InputError(msg)


def _holds_nothing(variant: Variant, label: str) -> bool:
    build = variant.assembly
    return label in build.labels and not build.layers[build.layer_number(label)].material.is_hygroscopic


def run_study(study: Study, progress: Progress | None = None) -> tuple[Comparison, ...]:
    """Run every variant of a study once, and judge each layer watched.

    Parameters
    ----------
    study : Study
        What is asked.
    progress : callable, optional
        Called with the number of variants done, the number of all, and the result just found, while others still run.

    Returns
    -------
    tuple of Comparison
        One for each layer watched, in that order, with the variants that have it.

    Raises
    ------
    InputError
        Where the weather cannot be read or is too short, or the inputs of a variant contradict each other.
    ConvergenceError
        Where the solver cannot go on.
    """
    climate = study.climate.load()
    climate.period(study.start, study.years)
    done: dict[str, Result] = {}

    def counted(_: int, __: int, result: Result) -> None:
        done[result.name] = result
        if progress is not None:
            progress(len(done), len(study.variants), result)

    found: list[Comparison] = []
    for layer in study.watch:
        variants = study.variants_with(layer)
        fresh = [variant for variant in variants if variant.name not in done]
        if fresh:
            compare(
                fresh,
                climate,
                layer=layer,
                start=study.start,
                years=study.years,
                wood=study.wood,
                progress=counted,
            )
        results = tuple(_judged(done[variant.name], layer, study.wood) for variant in variants)
        found.append(Comparison(results, layer, climate, study.start, study.years))
    return tuple(found)


def besides(study: Study, result: Result) -> tuple[Verdict, ...]:
    """Verdicts that a study asks for beside those of the combined verdict.

    Parameters
    ----------
    study : Study
        What is asked.
    result : Result
        One of its results.

    Returns
    -------
    tuple of Verdict
        For the layer that the result judges.
    """
    layer = result.answer.layer
    wood = is_wood(result.run, layer) if study.wood is None else study.wood
    return tuple(verdict for name in study.also for verdict in ALSO[name](result.run, layer, wood))


def _judged(result: Result, layer: str, wood: bool | None) -> Result:
    if result.answer.layer == layer:
        return result
    return replace(result, answer=combined_verdict(result.run, layer, wood=wood))
