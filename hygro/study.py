"""Several variants of a build-up under the same weather, run side by side and judged at one layer.

Threads are enough: the solver lets other threads run beside it. May import: simulation, criteria, and all above them.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, fields
from functools import partial
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr

from hygro.assembly import Assembly
from hygro.climate import Climate
from hygro.core import _jit
from hygro.criteria import (
    CombinedVerdict,
    Level,
    MoistureLimit,
    combined_verdict,
    condensate,
    frost,
    hours_above,
    moisture_content,
    mould_index,
)
from hygro.criteria.mould import LIMIT as MOULD_LIMIT
from hygro.criteria.wood import DECAY_ONSET, DECAY_SAFETY
from hygro.errors import InputError
from hygro.indoor import IndoorModel
from hygro.leakage import AirLeak
from hygro.rain import RainLoad
from hygro.simulation import Question, Start, pose, simulate
from hygro.snow import Snow
from hygro.stopping import heeded

LIMITS: Final[tuple[MoistureLimit, ...]] = (DECAY_SAFETY, DECAY_ONSET)


@dataclass(frozen=True, slots=True)
class Variant:
    """One way of building: a build-up, the air indoors and the air that leaks.

    Parameters
    ----------
    name : str
        What tables and figures call it; every variant of a study has its own.
    assembly : Assembly
        The build-up.
    indoor : indoor model
        One of ``hygro.indoor``.
    leak : AirLeak, optional
        Air that leaks through the assembly; none by default.
    initial : Start, optional
        State at the first hour; that of `simulate` by default.
    rain : DrivingRain or AirfieldRain, optional
        Rain on the outer face; that of `simulate` by default.
    snow : LyingSnow or FallingSnow, optional
        Snow on a roof; none by default.
    """

    name: str
    assembly: Assembly
    indoor: IndoorModel
    leak: AirLeak | None = None
    initial: Start | None = None
    rain: RainLoad | None = None
    snow: Snow | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            msg = f"A variant's name is {self.name!r}; give it a name in plain text."
            raise InputError(msg)
        if not isinstance(self.assembly, Assembly):
            msg = f"Variant {self.name!r}: its assembly is {type(self.assembly).__name__}; give an Assembly."
            raise InputError(msg)
        if not hasattr(self.indoor, "conditions"):
            msg = f"Variant {self.name!r}: indoor is {self.indoor!r}; give a model such as StandardCurves()."
            raise InputError(msg)


@dataclass(frozen=True, slots=True, eq=False)
class Result:
    """A variant, its run, and the answer for the layer that is watched."""

    variant: Variant
    run: xr.Dataset
    answer: CombinedVerdict

    @property
    def name(self) -> str:
        """Name of the variant."""
        return self.variant.name


Progress = Callable[[int, int, Result], None]


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Results of several variants, in the order in which they were given.

    Parameters
    ----------
    results : tuple of Result
        One for each variant.
    layer : str
        Label of the layer that is judged.
    climate : Climate
        The weather as stated, before a period was taken from it.
    start : str
        First day of the runs.
    years : int
        Length of the runs. [a]
    """

    results: tuple[Result, ...]
    layer: str
    climate: Climate
    start: str
    years: int

    @property
    def runs(self) -> dict[str, xr.Dataset]:
        """Runs by the name of their variant."""
        return {result.name: result.run for result in self.results}

    def __getitem__(self, name: str) -> Result:
        for result in self.results:
            if result.name == name:
                return result
        msg = f"No variant {name!r}. Variants: {', '.join(repr(result.name) for result in self.results)}."
        raise InputError(msg)

    @property
    def driest(self) -> Result:
        """The best by level, then by outcome, then by the moisture content of the layer.

        First its highest, to a tenth of a percent; where that is the same, as where all start equally wet, its mean.
        """
        return min(self.results, key=self._dampness)

    def _dampness(self, one: Result) -> tuple[float, ...]:
        content = moisture_content(one.run, self.layer)
        return one.answer.level.rank, one.answer.outcome.rank, round(float(content.max()), 1), float(content.mean())

    def table(self) -> pd.DataFrame:
        """Answers and the numbers behind them, one row for each variant.

        Returns
        -------
        DataFrame
            Columns name their units. Moisture content is that of the whole layer, hours are those above the limits for
            wood; mould, water and ice are the worst of the run and of the slices.
        """
        return pd.DataFrame([_row(result, self.layer) for result in self.results]).set_index("variant")

    def __repr__(self) -> str:
        head = f"{self.layer!r} over {self.years} year(s) from {self.start}, {self.climate.title}"
        return (
            head + "\n" + "\n".join(f"  {one.name}: {one.answer.outcome} ({one.answer.level})" for one in self.results)
        )

    def _repr_html_(self) -> str:
        return str(self.table().to_html(float_format=lambda value: f"{value:.3g}", escape=True))


def compare(
    variants: Iterable[Variant],
    climate: Climate,
    *,
    layer: str,
    start: str,
    years: int,
    wood: bool | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Run variants under the same weather and judge one of their layers.

    Parameters
    ----------
    variants : iterable of Variant
        At least one, each with a name of its own.
    climate : Climate
        Outdoor weather.
    layer : str
        Label of the layer to judge; every variant has one of that label.
    start : str
        First day, such as ``"1 October"``.
    years : int
        How long. [a]
    wood : bool, optional
        Whether the limits for wood apply to the layer; without it, what the run says.
    progress : callable, optional
        Called with the number of variants done, the number of all, and the result just found, while others still run.

    Returns
    -------
    Comparison
        Results in the order of `variants`.

    Raises
    ------
    InputError
        Where there is no variant, two share a name, one lacks the layer, or the inputs of one contradict each other.
    ConvergenceError
        Where the solver cannot go on.
    """
    listed = tuple(variants)
    _check(listed, layer)
    period = climate.period(start, years)
    judge = partial(_result, climate=period, layer=layer, wood=wood)
    # Threads that all find no machine code would each compile it: one variant then goes first.
    results = [] if _jit.is_compiled() else [judge(listed[0])]
    if results and progress is not None:
        progress(1, len(listed), results[0])
    rest = listed[len(results) :]
    with ThreadPoolExecutor(max_workers=min(len(listed), os.cpu_count() or 1)) as pool:
        futures = [pool.submit(judge, variant) for variant in rest]
        try:
            with heeded() as heed:
                for done, future in enumerate(as_completed(futures), start=len(results) + 1):
                    result = future.result()
                    if progress is not None:
                        progress(done, len(listed), result)
                    heed()
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    results += [future.result() for future in futures]
    return Comparison(tuple(results), layer, climate, start, years)


def run_of(variant: Variant, climate: Climate) -> xr.Dataset:
    """Run of one variant over all hours of a climate."""
    return simulate(variant.assembly, climate, variant.indoor, **_beside(variant))


def question_of(variant: Variant, climate: Climate) -> Question:
    """The same, ready for the solver: to be run together with others."""
    return pose(variant.assembly, climate, variant.indoor, **_beside(variant))


def _beside(variant: Variant) -> dict[str, Any]:
    return {"leak": variant.leak, "initial": variant.initial, "rain": variant.rain, "snow": variant.snow}


def _result(variant: Variant, climate: Climate, layer: str, wood: bool | None) -> Result:
    run = run_of(variant, climate)
    return Result(variant, run, combined_verdict(run, layer, wood=wood))


def _check(variants: tuple[Variant, ...], layer: str) -> None:
    for number, variant in enumerate(variants, start=1):
        if not isinstance(variant, Variant):
            msg = f"Variant {number} is {type(variant).__name__}; give Variant(name, assembly, indoor)."
            raise InputError(msg)
        variant.assembly.layer_number(layer)
    if not variants:
        msg = "No variants to compare; give at least one Variant."
        raise InputError(msg)
    names = [variant.name for variant in variants]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        msg = f"Two variants are named {twice!r}; give each a name of its own."
        raise InputError(msg)
    for at, one in enumerate(variants):
        for other in variants[:at]:
            if _content(one) == _content(other):
                msg = f"Variants {other.name!r} and {one.name!r} differ in nothing; change one of them or leave it out."
                raise InputError(msg)


def _content(variant: Variant) -> tuple[object, ...]:
    """All that a variant is but its name."""
    assembly = variant.assembly
    shape = (assembly.parts, assembly.tilt, assembly.azimuth, assembly.finish)
    others = (field.name for field in fields(variant) if field.name not in ("name", "assembly"))
    return (*shape, *(getattr(variant, name) for name in others))


def _row(result: Result, layer: str) -> dict[str, object]:
    run, answer = result.run, result.answer
    mean = moisture_content(run, layer)
    above = hours_above(run, layer, "mean", LIMITS).max("slice").to_numpy()
    at_face = hours_above(run, layer, "inner", LIMITS).max("slice").to_numpy()
    row: dict[str, object] = {
        "variant": result.name,
        "outcome": str(answer.outcome),
        "level": str(answer.level),
        "decided by": "-" if answer.deciding is None or answer.level is Level.FINE else answer.deciding.criterion,
        "wettest mean [%]": float(mean.max()),
        "at the end [%]": float(mean.isel(time=-1).max()),
    }
    for words, hours_at in (("hours above", above), ("inner face, hours above", at_face)):
        row |= {f"{words} {limit.value:g} %": int(hours) for limit, hours in zip(LIMITS, hours_at, strict=True)}
    has_mould_class = str(run["layer_mould_sensitivity"].sel(layer=layer).item()) != ""
    row[f"mould index, inner face (limit {MOULD_LIMIT:g})"] = (
        float(mould_index(run, layer, "inner").max()) if has_mould_class else np.nan
    )
    row["free water and ice [kg/m2]"] = float(condensate(run, layer).max())
    row["ice [kg/m2]"] = float(frost(run, layer).max())
    return row
