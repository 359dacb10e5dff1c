"""Running what a study tries out beside its variants, each search and sweep in each variant and layer it is meant for.

May import: judging, study, trials and weather of this folder, vary and all above it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

import xarray as xr

from hygro.climate import Climate
from hygro.study import Variant
from hygro.studyfile.judging import criterion, measures
from hygro.studyfile.study import Study
from hygro.studyfile.trials import Search, Sweep, meant
from hygro.studyfile.uncertain import CLIMATE
from hygro.vary import Found, Input, find_largest, find_smallest, sweep

Asked: TypeAlias = "tuple[Search | Sweep, Variant, str]"


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """What a search or a sweep of a study came to, in one variant and for one layer.

    Parameters
    ----------
    variant, layer : str
        Name of the variant, and label of the layer that was judged.
    found : Found or Dataset
        What `find_smallest` or `find_largest`, or what `sweep` returned.
    """

    variant: str
    layer: str
    found: Found | xr.Dataset


def trials_of(study: Study) -> tuple[Asked, ...]:
    """Every trial of a study with the variant and the layer that it is meant for, searches first."""
    return tuple(
        (one, variant, layer) for one in study.trials for variant, layer in meant(one, study.variants, study.watch)
    )


def run_trials(
    study: Study, *, each: Callable[[Asked], None] = lambda _: None, progress: bool = False
) -> tuple[Tried, ...]:
    """Run the searches and the sweeps of a study.

    Parameters
    ----------
    study : Study
        What is stated.
    each : callable, optional
        Called with the trial, its variant and its layer before it is run.
    progress : bool, optional
        Whether a bar shows how far a sweep is.

    Returns
    -------
    tuple of Tried
        In the order of `trials_of`.

    Raises
    ------
    InputError
        Where the weather cannot be read or is too short, or inputs contradict each other.
    ConvergenceError
        Where the solver cannot go on.
    """
    asked = trials_of(study)
    if not asked:
        return ()
    climate = study.climate.load()
    found = []
    for one, variant, layer in asked:
        each((one, variant, layer))
        found.append(Tried(variant.name, layer, _run(study, climate, (one, variant, layer), progress)))
    return tuple(found)


def _run(study: Study, climate: Climate, asked: Asked, progress: bool) -> Found | xr.Dataset:
    one, variant, layer = asked
    period: dict[str, Any] = {"layer": layer, "start": study.start, "years": study.years}
    if isinstance(one, Sweep):
        over: dict[str | Input, Any] = {
            name: [value.load() for value in values] if name == CLIMATE else values for name, values in one.over
        }
        return sweep(variant, over, climate, measures=measures(variant, layer, study.wood), progress=progress, **period)
    find = find_smallest if one.smallest else find_largest
    low, high = one.between
    held = criterion(one.criterion, variant, layer, study.wood)
    return find(variant, one.input, (low, high), climate, measure=held, **period)
