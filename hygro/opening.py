"""Which part of a wet build-up to make more open: the same run with one part at a time opened to vapour.

May import: simulation, criteria, and all above them.
"""

from __future__ import annotations

import copy
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from hygro.assembly import Assembly, Layer, Part, Sheet
from hygro.climate import Climate
from hygro.criteria import drying_time, moisture_content
from hygro.errors import InputError
from hygro.indoor import IndoorModel
from hygro.leakage import AirLeak
from hygro.materials import SheetMaterial
from hygro.rain import RainLoad
from hygro.simulation import Start, simulate
from hygro.units import to_si

OPEN: Final = 0.1  # [m] s_d of a part that is opened: what the trade calls diffusion-open; common practice
NONE: Final = "none, as stated"
_DAY: Final = 24.0  # [h]


def compare_openings(
    assembly: Assembly,
    climate: Climate,
    indoor: IndoorModel,
    layer: str,
    *,
    below: float,
    start: str,
    years: int = 1,
    opened: str | float = OPEN,
    initial: Start | None = None,
    leak: AirLeak | None = None,
    rain: RainLoad | None = None,
) -> pd.DataFrame:
    """How fast a layer dries as stated, and with each other part opened to vapour.

    Parameters
    ----------
    assembly : Assembly
        The build-up, its wet layers with their `start_moisture` or `start_humidity`.
    climate : Climate
        Outdoor weather.
    indoor : indoor model
        Air indoors.
    layer : str
        Label of the layer that is to dry.
    below : float
        Moisture content that counts as dry. [%]
    start : str
        Day on which the build-up is closed, such as ``"1 October"``.
    years : int
        How long to look. [a]
    opened : str or float
        Vapour-diffusion-equivalent air layer thickness that an opened part has. [m]
    initial, leak, rain : optional
        As in `simulate`.

    Returns
    -------
    DataFrame
        Index ``opened part``; columns ``s_d [m]`` (as stated, at 50 %), ``days until dry`` (infinite where it is still
        wet at the end), ``at the end [%]`` and ``wettest in the last year [%]``; the quickest first.

    Raises
    ------
    InputError
        Where the layer is unknown or a value cannot be.
    ConvergenceError
        Where the solver cannot go on.

    Notes
    -----
    A part that lets a floor dry fastest may let it get wet in winter: the last column tells. Judge the variant that you
    choose by all criteria before you build it.

    References
    ----------
    Definition.
    """
    assembly.layer_number(layer)
    thickness = to_si(opened, "length", "Opening: opened")
    if not 0.001 <= thickness <= 10.0:
        msg = f"Opening: an opened part has an s_d of {thickness:g} m; it must lie between 0.001 and 10 m."
        raise InputError(msg)
    rows = []
    for name, s_d, variant in _variants(assembly, layer, thickness):
        run = simulate(variant, climate, indoor, start=start, years=years, initial=initial, leak=leak, rain=rain)
        content = moisture_content(run, layer).max("slice").to_numpy()
        rows.append(
            {
                "opened part": name,
                "s_d [m]": s_d,
                "days until dry": float(drying_time(run, layer, below=below).max()) / _DAY,
                "at the end [%]": float(content[-1]),
                "wettest in the last year [%]": float(content[-8760:].max()),
            }
        )
    table = pd.DataFrame(rows).set_index("opened part")
    return table.sort_values(["days until dry", "at the end [%]"], kind="stable")


def _variants(assembly: Assembly, layer: str, thickness: float) -> list[tuple[str, float, Assembly]]:
    """The build-up as stated, then with one part at a time opened: name, stated s_d [m], build-up."""
    variants = [(NONE, float("nan"), assembly)]
    labels = iter(assembly.labels)
    for number, part in enumerate(assembly.parts):
        label = next(labels) if isinstance(part, Layer) else part.name
        if label == layer or not isinstance(part, Layer | Sheet) or part.s_d() <= 2.0 * thickness:
            continue
        parts: list[Part] = list(assembly.parts)
        parts[number] = _opened(part, thickness)
        taken = [name for name, _, _ in variants]
        shown = label if label not in taken else f"{label} (part {number + 1})"
        opened = Assembly(assembly.name, parts, tilt=assembly.tilt, azimuth=assembly.azimuth, finish=assembly.finish)
        variants.append((shown, part.s_d(), opened))
    return variants


def _opened(part: Layer | Sheet, thickness: float) -> Layer | Sheet:
    """The part with no more vapour resistance than that of a thickness of air [m]; all else as it is."""
    if isinstance(part, Sheet):
        return Sheet(SheetMaterial(part.material.name, s_d=thickness), name=part.name)
    stated, highest = part.material, max(thickness / part.thickness, 1.0)

    def factor(activity: ArrayLike) -> NDArray[np.float64]:
        return np.minimum(stated.vapour_resistance_factor(activity), highest)

    material = copy.copy(stated)
    object.__setattr__(material, "vapour_resistance", highest if stated.is_vapour_tight else factor)
    layer = copy.copy(part)
    object.__setattr__(layer, "material", material)
    return layer
