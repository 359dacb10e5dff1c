"""By what the members, searches and sweeps of a study pass: the verdict of its report, or one criterion of it by name.

May import: study and all above it, vary.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from types import MappingProxyType
from typing import Final

from hygro.criteria import Level
from hygro.errors import InputError
from hygro.study import Variant
from hygro.vary import FREE_WATER, GAIN, MOULD, WETTEST, WETTEST_FACE, Measure
from hygro.vary.measures import OfSeries, verdict_rank

VERDICT: Final = "verdict"
CRITERIA: Final[Mapping[str, Measure | None]] = MappingProxyType(
    {
        VERDICT: None,  # depends on whether the study says that the layers are wood
        "moisture content": WETTEST,
        "moisture content at a face": WETTEST_FACE,
        "mould index": MOULD,
        "free water": FREE_WATER,
        "yearly gain": GAIN,
    }
)
_OF_WOOD: Final = (WETTEST, WETTEST_FACE)


def criterion(name: str, variant: Variant, layer: str, wood: bool | None) -> Measure:
    """Measure that has to stay within its limit.

    Parameters
    ----------
    name : str
        One of `CRITERIA`.
    variant : Variant
        What is judged.
    layer : str
        Label of one of its layers.
    wood : bool or None
        Whether the limits for wood apply; what the material says where it is None.

    Returns
    -------
    Measure
        The verdict passes where it does not fail.

    Raises
    ------
    InputError
        Where there is no such criterion, or the layer cannot be judged by it.
    """
    if name not in CRITERIA:
        msg = f"criterion is {name!r}; there are: {', '.join(map(repr, CRITERIA))}."
        raise InputError(msg)
    measure = CRITERIA[name]
    if measure is None:
        return decides(wood)
    build = variant.assembly
    material = build.layers[build.layer_number(layer)].material
    if measure in _OF_WOOD and not (material.is_wood if wood is None else wood):
        msg = f"criterion {name!r} has a limit for wood, which {layer!r} is not. Say wood = true, or take {VERDICT!r}."
        raise InputError(msg)
    if measure is MOULD and material.mould_sensitivity is None:
        msg = f"criterion {name!r} cannot judge {layer!r}: its material states no mould sensitivity. Take {VERDICT!r}."
        raise InputError(msg)
    return measure


def decides(wood: bool | None) -> Measure:
    """Verdict of the report as a figure, which passes where it does not fail."""
    return Measure(
        VERDICT,
        "1",
        "combined verdict (0 fine, 1 caution, 2 fails)",
        OfSeries(partial(verdict_rank, wood=wood)),
        float(Level.CAUTION.rank),
        "rules of combined_verdict",
    )


def measures(variant: Variant, layer: str, wood: bool | None) -> tuple[Measure, ...]:
    """Figures of a layer as they are, and the verdict of the report, which alone decides."""
    build = variant.assembly
    has_mould = build.layers[build.layer_number(layer)].material.mould_sensitivity is not None
    shown = (WETTEST, WETTEST_FACE, *((MOULD,) if has_mould else ()), FREE_WATER)
    return (*map(_unlimited, shown), decides(wood))


def _unlimited(one: Measure) -> Measure:
    return Measure(one.name, one.unit, one.words, one.value, float("inf"), "none: the combined verdict decides")
