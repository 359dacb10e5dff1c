"""The ensembles of a study: one for each variant that is not known for sure and each layer watched in it.

May import: judging and study of this folder, ensemble and all above it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import count
from pathlib import Path

import xarray as xr

from hygro.ensemble import Distribution, UncertainStudy, forget_others, run_ensemble
from hygro.ensemble.store import Store
from hygro.errors import InputError
from hygro.studyfile.judging import measures
from hygro.studyfile.study import Study
from hygro.studyfile.weather import Records, WeatherYears, climates
from hygro.vary import Input

Key = tuple[str, str]  # name of the variant, label of the layer


def uncertain_studies(study: Study) -> dict[Key, UncertainStudy]:
    """What is uncertain about each variant, for each layer watched in it.

    Parameters
    ----------
    study : Study
        What is stated.

    Returns
    -------
    dict of (variant, layer) to UncertainStudy
        Variants about which nothing is uncertain are not in it. Members pass where the combined verdict does not fail.

    Raises
    ------
    InputError
        Where the weather cannot be read, or a distribution reaches values that cannot be.
    """
    climate = study.climate.load()
    # Weather is read once for all variants.
    spreads_of = [
        (
            one,
            climates(one.spread, climate, study.start)
            if isinstance(one.spread, WeatherYears | Records)
            else one.spread,
        )
        for one in study.uncertain
    ]
    found: dict[Key, UncertainStudy] = {}
    for layer in study.watch:
        for variant in study.variants_with(layer):
            spreads: dict[str | Input, Distribution] = {
                one.input: spread for one, spread in spreads_of if variant in one.among(study.variants)
            }
            if spreads:
                found[variant.name, layer] = UncertainStudy(
                    variant,
                    spreads,
                    climate,
                    layer=layer,
                    start=study.start,
                    years=study.years,
                    measures=measures(variant, layer, study.wood),
                    seed=study.seed,
                )
    return found


def prepare_members(
    studies: Mapping[Key, UncertainStudy], files: Mapping[Key, Path], members: int, *, replace: bool
) -> None:
    """Refuse what cannot be run before anything is run.

    Parameters
    ----------
    studies : mapping of (variant, layer) to UncertainStudy
        What `uncertain_studies` returned.
    files : mapping of (variant, layer) to Path
        Where the results of each go.
    members : int
        How many of each.
    replace : bool
        Whether results of another study that lie there may be removed.

    Raises
    ------
    InputError
        Where a member's values cannot be, or a file holds results of another study that may not be removed.
    OutputError
        Where they cannot be removed.
    """
    for key, one in studies.items():
        one.check(members)
        if replace:
            forget_others(one, files[key])
        Store(files[key], one.fingerprint)


def run_members(
    studies: Mapping[Key, UncertainStudy],
    files: Mapping[Key, Path],
    members: int,
    *,
    each: Callable[[Key], None] = lambda _: None,
    progress: bool = True,
) -> dict[Key, xr.Dataset]:
    """Run the members that are not there yet.

    Parameters
    ----------
    studies : mapping of (variant, layer) to UncertainStudy
        What `uncertain_studies` returned.
    files : mapping of (variant, layer) to Path
        Where the results of each go; what lies there of the same study is not run again.
    members : int
        How many of each.
    each : callable, optional
        Called with the variant and the layer before its members are run.
    progress : bool, optional
        Whether a bar shows how far it is.

    Returns
    -------
    dict of (variant, layer) to Dataset
        As `run_ensemble` returns them.

    Raises
    ------
    InputError
        Where a member's values cannot be.
    OutputError
        Where results cannot be written.
    """
    found: dict[Key, xr.Dataset] = {}
    for key, one in studies.items():
        each(key)
        found[key] = run_ensemble(one, members, files[key], progress=progress)
    return found


def files_of(studies: Mapping[Key, UncertainStudy], stems: Mapping[str, str], folder: Path) -> dict[Key, Path]:
    """A file for each ensemble.

    Parameters
    ----------
    studies : mapping of (variant, layer) to UncertainStudy
        What `uncertain_studies` returned.
    stems : mapping of str to str
        What the file of each variant's run is called, without ending.
    folder : Path
        Where they go.

    Returns
    -------
    dict of (variant, layer) to Path
        Named after the variant, and numbered where several of its layers are watched or the name is that of a run.

    Raises
    ------
    InputError
        Where a variant has no stem.
    """
    found: dict[Key, Path] = {}
    taken = {f"{stem}.nc" for stem in stems.values()}  # a variant may be called 'leaky members'
    for variant, layer in studies:
        if variant not in stems:
            msg = f"There is no file name for the variant {variant!r}. Give one for each."
            raise InputError(msg)
        stem = f"{stems[variant]}-members"
        names = (f"{stem}{'' if number == 1 else f'-{number}'}.nc" for number in count(1))
        name = next(name for name in names if name not in taken)
        taken.add(name)
        found[variant, layer] = folder / name
    return found
