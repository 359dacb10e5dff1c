"""What drives a run: hourly boundary conditions as the kernel's columns, and the ways that leaks take.

May import: surfaces, grid, and all above them.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from hygro.assembly import Assembly
from hygro.climate import Climate
from hygro.core.bundles import (
    ABSORBED,
    AIR_SHARE,
    EMISSIVITY,
    IN_FILM,
    IN_TEMPERATURE,
    IN_VAPOUR,
    IN_VAPOUR_FILM,
    LEAK_FLOW,
    N_FORCING,
    OUT_FILM,
    OUT_TEMPERATURE,
    OUT_VAPOUR,
    OUT_VAPOUR_FILM,
    PRESSURE,
    RAIN,
    RAIN_DEFECT,
    WIND_PRESSURE,
    Leak,
)
from hygro.core.formulas import MoistAir
from hygro.errors import InputError
from hygro.grid import Grid
from hygro.leakage import AirLeak
from hygro.rain import DrivingRain, RainLoad, rain_on_face
from hygro.surfaces import Outdoor, Surface, Underfloor, Weathered, at_ends

FloatArray = NDArray[np.float64]


def boundary_conditions(
    assembly: Assembly,
    out: Outdoor,
    room: xr.Dataset,
    film: tuple[float, float],
    air: MoistAir,
    leak: AirLeak | None = None,
    face_rain: FloatArray | None = None,
    defect: float = 0.0,
) -> FloatArray:
    """Boundary conditions at the ends of the hours, the start first.

    Parameters
    ----------
    assembly : Assembly
        The build-up.
    out : Outdoor
        Outer boundary.
    room : Dataset
        Indoor air.
    film : pair of float
        Heat and vapour film coefficient of the inner surface. [W m-2 K-1, kg m-2 s-1 Pa-1]
    air : MoistAir
        Saturation curve.
    leak : AirLeak, optional
        Air that leaks through the assembly.
    face_rain : ndarray, shape (n_hours,), optional
        Rain on the outer face. [kg m-2 s-1]
    defect : float
        Share of it that a defect lets in; the rest wets the face. [1]

    Returns
    -------
    ndarray, shape (n_hours + 1, N_FORCING)
        The kernel's forcing.

    """
    n = len(out.temperature)
    indoor_temperature = at_ends(np.asarray(room["indoor_temperature"].data, dtype=float))
    indoor_vapour = at_ends(np.asarray(room["indoor_relative_humidity"].data)) * air.over_water(indoor_temperature)
    gap = assembly.gap
    wind = np.zeros(n)
    if gap is not None:
        wind = gap.flow.wind_pressure(out.wind_speed, out.wind_direction, out.density, assembly.azimuth)
    flow = np.zeros(n)
    if leak is not None:
        wind_share = leak.wind_coefficient(out.wind_direction, assembly.tilt, assembly.azimuth)
        flow = leak.air_flow(out.temperature, indoor_temperature, out.wind_speed, out.pressure, wind_share)
    wet = np.zeros(n) if face_rain is None else at_ends(face_rain)
    forcing = np.zeros((n, N_FORCING))
    for column, values in (
        (OUT_TEMPERATURE, out.temperature),
        (OUT_VAPOUR, out.vapour_pressure),
        (OUT_FILM, out.film),
        (OUT_VAPOUR_FILM, out.vapour_film),
        (ABSORBED, out.absorbed),
        (EMISSIVITY, out.emissivity),
        (RAIN, (1.0 - defect) * wet),
        (RAIN_DEFECT, defect * wet),
        (PRESSURE, out.pressure),
        (WIND_PRESSURE, wind),
        (IN_TEMPERATURE, indoor_temperature),
        (IN_VAPOUR, indoor_vapour),
        (IN_FILM, film[0]),
        (IN_VAPOUR_FILM, film[1]),
        (LEAK_FLOW, flow),
    ):
        forcing[:, column] = values
    return forcing


def usual_surface(assembly: Assembly) -> Weathered | Underfloor:
    """What the outer face meets where nothing is stated: sheltered air under a floor, else the weather."""
    return Underfloor() if assembly.kind == "floor" else Weathered()


def let_in(load: RainLoad | None) -> float:
    """Share of the rain on the face that a defect lets in. [1]."""
    return load.defect if load is not None and load.into is not None else 0.0


def rain_load(stated: RainLoad | None, assembly: Assembly, climate: Climate, surface: Surface) -> RainLoad | None:
    """Rain that a run is to reckon with: what is stated, else the design default on a wall in the weather.

    Parameters
    ----------
    stated : RainLoad or None
        What the user states.
    assembly : Assembly
        The build-up; a roof or floor meets rain only where it is stated.
    climate : Climate
        Outdoor weather.
    surface : Weathered, Underfloor or FixedFilm
        What the outer face meets.

    Returns
    -------
    RainLoad or None
        None where no rain falls on the face.

    Raises
    ------
    InputError
        Where rain is stated and the weather has none.
    """
    falls = _rains(climate)
    if stated is None:
        is_wall = assembly.kind == "wall" and isinstance(surface, Weathered)
        return DrivingRain() if is_wall and falls else None
    if not falls and not stated.is_none:
        msg = (
            f"Rain on {assembly.name!r} is stated, but climate {climate.title!r} has no rain in any hour. Driving rain "
            "needs hourly rain beside wind speed and direction: choose a climate that holds them, or leave rain out."
        )
        raise InputError(msg)
    return stated


@lru_cache(maxsize=16)
def _rains(climate: Climate) -> bool:
    """Whether rain falls in any hour."""
    return bool((climate.data["rain"].data > 0.0).any())


def falling(
    load: RainLoad | None, climate: Climate, assembly: Assembly, out: Outdoor, snow_depth: FloatArray
) -> FloatArray | None:
    """Rain on the outer face in every hour that begins without snow [kg m-2 s-1], shape (n_hours,); None for none."""
    if load is None:
        return None
    rain = np.asarray(climate.data["rain"].data, dtype=float)
    return rain_on_face(
        load,
        np.where(snow_depth[:-1] > 0.0, 0.0, rain),
        out.temperature,
        out.wind_speed,
        out.wind_direction,
        assembly.tilt,
        assembly.azimuth,
    )


def leak_paths(assembly: Assembly, grid: Grid, leak: AirLeak | None, rain: RainLoad | None = None) -> tuple[Grid, Leak]:
    """Where leaking air and leaking rain go: their cells, or the faces that air seeps through.

    Parameters
    ----------
    assembly : Assembly
        The build-up.
    grid : Grid
        Its cells.
    leak : AirLeak or None
        Air that leaks.
    rain : RainLoad, optional
        Rain of which a part may get in.

    Returns
    -------
    Grid, Leak
        For the kernel.

    Raises
    ------
    InputError
        Where no path leads to the layer that is named, or it cannot hold what comes.
    """
    rain_cell = -1 if rain is None or rain.into is None else _rain_cell(assembly, grid, rain.into)
    if leak is None:
        return grid, Leak(-1, False, rain_cell)
    if leak.into is not None:
        number = assembly.layer_number(leak.into)
        cell = int(np.flatnonzero((grid.cell_layer == number) & ~grid.is_film)[-1])
        if cell + 1 == len(grid.thickness):
            msg = (
                f"Air leak: {leak.into!r} is the innermost layer; leaking air reaches it by no path. "
                "Name one outside it."
            )
            raise InputError(msg)
        if cell + 1 == grid.gap.face or (cell + 2 == grid.gap.face and bool(grid.is_film[cell + 1])):
            return grid, Leak(-1, True, rain_cell)
        return grid, Leak(cell, False, rain_cell)
    crossed = grid.faces.data.copy()
    crossed[max(grid.gap.face, 0) :, AIR_SHARE] = 1.0
    return replace(grid, faces=grid.faces._replace(data=crossed)), Leak(-1, False, rain_cell)


def refuse_idle_leak(assembly: Assembly, leak: AirLeak | None, forcing: FloatArray) -> None:
    """Refuse a leak through which no air moves in any hour.

    Parameters
    ----------
    assembly : Assembly
        The build-up.
    leak : AirLeak or None
        The leak.
    forcing : ndarray, shape (n_hours + 1, N_FORCING)
        Boundary conditions.

    Raises
    ------
    InputError
        Where it has a size, but neither warmth nor wind nor a fan drives it.
    """
    if leak is None or leak.q50 == 0.0 or (forcing[:, LEAK_FLOW] != 0.0).any():
        return
    if leak.height == 0.0:
        why = "its height above the neutral level is 0"
    else:
        why = "indoor air is as warm as outdoor air in every hour, as in an unheated space"
    msg = (
        f"Air leak through {assembly.name!r}: q50 is {leak.q50:g} m3/(m2 h), but no air moves: {why}, and neither wind "
        "nor a fan drives it. State what drives it, heat the space, or leave the leak out."
    )
    raise InputError(msg)


def _rain_cell(assembly: Assembly, grid: Grid, into: str) -> int:
    """Outermost cell of the layer that a defect wets."""
    number = assembly.layer_number(into)
    if number == 0:
        msg = (
            f"Driving rain: {into!r} is the outermost layer, which rain wets without a defect. Name the layer behind "
            "the cladding or the membrane that the water gets to."
        )
        raise InputError(msg)
    material = assembly.layers[number].material
    if not material.is_hygroscopic or material.is_vapour_tight:
        takes = [
            label
            for label, layer in zip(assembly.labels[1:], assembly.layers[1:], strict=True)
            if layer.material.is_hygroscopic and not layer.material.is_vapour_tight
        ]
        remedy = f"Name one that does: {', '.join(map(repr, takes))}." if takes else "Leave the defect out."
        why = "is impermeable" if material.is_vapour_tight else "stores no water"
        msg = f"Driving rain: rain is to leak into {into!r}, but {material.name} {why} and takes up none. {remedy}"
        raise InputError(msg)
    return int(np.flatnonzero((grid.cell_layer == number) & ~grid.is_film)[0])
