"""One run: objects become arrays, the kernel integrates, arrays become a Dataset.

The only place where both sides are known. May import: forcing, and all above it.
"""

from __future__ import annotations

import json
import logging
import math
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from hygro import __version__
from hygro import constants as c
from hygro.assembly import Assembly
from hygro.climate import Climate
from hygro.core import _jit, ahead, integrate
from hygro.core.bundles import (
    G_DEFECT,
    G_DRIP,
    G_GAP,
    G_IN,
    G_LEAK,
    G_OUT,
    G_RAIN,
    G_RUNOFF,
    G_SHED,
    IN_TEMPERATURE,
    LEAK_FLOW,
    N_FLUXES,
    OUT_TEMPERATURE,
    P_GAP,
    Q_DRIP,
    Q_GAP,
    Q_IN,
    Q_LEAK,
    Q_OUT,
    RAIN,
    RAIN_DEFECT,
    T_GAP,
    T_INNER,
    T_OUTER,
    Fluid,
    Leak,
)
from hygro.core.formulas import MoistAir
from hygro.core.integrate import Record, Settings
from hygro.core.tables import moist_air_table
from hygro.errors import ConvergenceError, InputError
from hygro.forcing import (
    boundary_conditions,
    falling,
    leak_paths,
    let_in,
    rain_load,
    refuse_idle_leak,
    usual_surface,
)
from hygro.grid import Grid, build
from hygro.indoor import IndoorModel
from hygro.leakage import AirLeak
from hygro.rain import AirfieldRain, DrivingRain, RainLoad
from hygro.snow import FallingSnow, LyingSnow, Snow, under_snow
from hygro.start import Start, start_state
from hygro.surfaces import FixedFilm, Outdoor, Surface, indoor_film, outdoor
from hygro.units import to_si
from hygro.variables import COORDINATES, RUN

__all__ = ["NEXT_TO_NOTHING", "Start", "audit", "integrated", "simulate"]

FloatArray = NDArray[np.float64]
_LOG = logging.getLogger("hygro")
_HOUR: Final = 3600.0
NEXT_TO_NOTHING: Final = 1e-3  # [1] of what is held: with less throughput, a share of it would be one of round-off
A_MOLECULE_THICK: Final = 3e-7  # [kg m-2] water one molecule thick (0.03 nm3 each); what passes and is held may be less


def simulate(
    assembly: Assembly,
    climate: Climate,
    indoor: IndoorModel,
    *,
    start: str | None = None,
    years: int = 1,
    initial: Start | None = None,
    leak: AirLeak | None = None,
    rain: RainLoad | None = None,
    snow: Snow | None = None,
    outside: Surface | None = None,
    inside: FixedFilm | None = None,
    air: MoistAir | None = None,
    detail: float = 1.0,
    settings: Settings | None = None,
) -> xr.Dataset:
    """Heat and moisture in a build-up over hourly weather.

    Parameters
    ----------
    assembly : Assembly
        The build-up.
    climate : Climate
        Outdoor weather.
    indoor : indoor model
        One of ``hygro.indoor``.
    start : str, optional
        First day, such as ``"1 October"``; the climate's own start otherwise.
    years : int
        How long from `start` on; a one-year climate is repeated. Without `start` all of the climate is run. [a]
    initial : Start, optional
        State at the start; 10 degC and 70 % by default.
    leak : AirLeak, optional
        Air that leaks through the assembly; none by default.
    rain : DrivingRain or AirfieldRain, optional
        Rain on the outer face, and what of it gets in. By default ``DrivingRain()`` on a wall in the weather, none on a
        roof or floor.
    snow : LyingSnow or FallingSnow, optional
        Snow on a roof; none by default.
    outside : Weathered, Underfloor or FixedFilm, optional
        What the outer face meets; by default sun, sky and wind, under a floor sheltered air.
    inside : FixedFilm, optional
        A fixed surface film in place of that of ISO 6946.
    air : MoistAir, optional
        Published curves of moist air in place of the default ones.
    detail : float
        Multiplies the number of cells. [1]
    settings : Settings, optional
        Accuracy of the time steps.

    Returns
    -------
    Dataset
        Dims time, slice, cell, layer; variables and units as registered in ``hygro.variables``. ``attrs`` hold the
        inputs in words, what was assumed, and the audit: water and energy in, less out, less stored, as a share of
        what passed.

    Raises
    ------
    InputError
        Where inputs contradict each other.
    ConvergenceError
        Where the solver cannot go on; names the hour, the layer and the likely cause.
    """
    _check_kinds(assembly, climate, indoor, initial, leak, rain, snow, outside, inside, air, settings)
    accuracy = _accuracy(settings or Settings())
    weather = _period(climate, start, years)
    first = initial or Start()
    moist = air or MoistAir()
    surface = outside or usual_surface(assembly)
    grid = build(assembly, _detail(detail))
    out = outdoor(weather, assembly.tilt, assembly.azimuth, assembly.finish, surface, moist)
    depth = np.zeros(len(out.temperature))
    if snow is not None:
        out, depth = under_snow(out, snow, weather, assembly, surface, moist)
    room = indoor.conditions(weather.data)
    load = rain_load(rain, assembly, climate, surface)
    placed, path = leak_paths(assembly, grid, leak, load)
    film, wet = indoor_film(assembly.heat_flow, inside), falling(load, weather, assembly, out, depth)
    forcing = boundary_conditions(assembly, out, room, film, moist, leak, wet, let_in(load))
    refuse_idle_leak(assembly, leak, forcing)
    temperature, x = start_state(assembly, grid, first)
    record, status = integrated(placed, path, forcing, moist, accuracy, temperature, x)
    _raise_if_failed(status, assembly, grid, forcing, record, weather.time, first)
    attrs = _attrs(assembly, weather, indoor, leak, load, snow, first, surface, moist, record) | _said_indoors(room)
    return _dataset(assembly, grid, record, forcing, out, depth, room, weather.time, attrs)


def _period(climate: Climate, start: str | None, years: int) -> Climate:
    """Weather of the run."""
    if start is not None:
        return climate.period(start, years)
    if years != 1:
        msg = (
            f"simulate: years is {years!r}, but no start is stated, and the run would be as long as climate "
            f"{climate.title!r} ({len(climate)} hours). State start, such as '1 October', or leave years out."
        )
        raise InputError(msg)
    return climate


def _check_kinds(
    assembly: object,
    climate: object,
    indoor: object,
    initial: object,
    leak: object,
    rain: object,
    snow: object,
    outside: object,
    inside: object,
    air: object,
    settings: object,
) -> None:
    """Refuse an argument of another kind while its name is still known."""
    for name, value, kinds, remedy in (
        ("assembly", assembly, Assembly, 'Assembly("roof", [...], tilt=30, azimuth=180, finish="...")'),
        ("climate", climate, Climate, "a climate that hygro has read or made, such as read_climate(...)"),
        ("initial", initial, Start | None, 'Start("10 degC", "70 %") or nothing'),
        ("leak", leak, AirLeak | None, "AirLeak(...) or nothing"),
        ("rain", rain, DrivingRain | AirfieldRain | None, "DrivingRain(...), AirfieldRain(...) or nothing"),
        ("snow", snow, LyingSnow | FallingSnow | None, "LyingSnow(...), FallingSnow(...) or nothing"),
        ("outside", outside, Surface | None, "Weathered(), Underfloor(), FixedFilm(...) or nothing"),
        ("inside", inside, FixedFilm | None, "FixedFilm(...) or nothing"),
        ("air", air, MoistAir | None, "MoistAir(...) or nothing"),
        ("settings", settings, Settings | None, "Settings(...) or nothing"),
    ):
        if not isinstance(value, kinds):
            raise InputError(_wrong_kind(name, value, remedy))
    if isinstance(indoor, type) or not callable(getattr(indoor, "conditions", None)):
        raise InputError(_wrong_kind("indoor", indoor, "an indoor model, such as ConstantIndoor(20, 0.5)"))


def _wrong_kind(name: str, value: object, remedy: str) -> str:
    return f"simulate: {name} is {value!r}, which it cannot use. Give {remedy}."


def _detail(detail: float) -> float:
    number = to_si(detail, "fraction", "detail")
    if not 0.25 <= number <= 20.0:
        msg = f"detail is {number:g}; it multiplies the number of cells and must lie between 0.25 and 20."
        raise InputError(msg)
    return number


def _accuracy(settings: Settings) -> Settings:
    """Settings that the kernel can work with: each a number from nothing up, and more where nothing stands still."""
    for name, value in settings._asdict().items():
        whole = name == "largest_iterations"
        least = {"unchecked": 0.0, "largest_iterations": 1}.get(name, 1e-15)
        kind = int if whole else int | float
        if isinstance(value, bool) or not isinstance(value, kind) or not least <= value < math.inf:
            allowed = (
                "a whole number from 1 on" if whole else "a number" + (" from 0 on" if least == 0.0 else " above 0")
            )
            msg = (
                f"Settings: {name} is {value!r}; it must be {allowed}. Leave it out for {getattr(Settings(), name):g}."
            )
            raise InputError(msg)
    if settings.interval != _HOUR:
        msg = f"Settings: interval is {settings.interval!r}; the weather of a run is hourly. Leave it out."
        raise InputError(msg)
    # Of one type each, so that the compiled kernel serves them all.
    kinds = [int if name == "largest_iterations" else float for name in settings._fields]
    return Settings._make([kind(value) for kind, value in zip(kinds, settings, strict=True)])


def _fluid(air: MoistAir) -> Fluid:
    return Fluid(
        moist_air_table(air),
        air.latent_heat,
        air.fusion_heat,
        air.specific_heat_vapour,
        air.specific_heat_water,
        air.specific_heat_ice,
        c.SPECIFIC_HEAT_AIR,
        c.AIR_MOLAR_RATIO,
        c.REFERENCE_TEMPERATURE,
    )


def integrated(
    grid: Grid,
    path: Leak,
    forcing: FloatArray,
    air: MoistAir,
    settings: Settings,
    temperature: FloatArray,
    x: FloatArray,
) -> tuple[Record, tuple[int, int, int, float]]:
    """What the solver makes of arrays, and its status; the state is changed in place.

    Parameters
    ----------
    grid, path, forcing, air, settings : Grid, Leak, ndarray, MoistAir, Settings
        Build-up, leaks, boundary conditions, moist air and accuracy.
    temperature, x : ndarray, shape (n_slices, n)
        State at the start. [degC, 1]

    Returns
    -------
    Record, tuple
        As `hygro.core.integrate.run` fills and returns them.
    """
    n_slices, n = temperature.shape
    record = integrate.make_record(len(forcing) - 1, n_slices, n)
    if not _jit.is_compiled():
        _LOG.warning("Compiling the solver for this machine: about half a minute, once.")
        ahead.prepare()
    status = integrate.run(
        temperature,
        x,
        grid.cells,
        grid.faces,
        grid.gap,
        path,
        _fluid(air),
        forcing,
        integrate.make_work(n_slices, n),
        record,
        settings,
    )
    return record, status


def _raise_if_failed(
    status: tuple[int, int, int, float],
    assembly: Assembly,
    grid: Grid,
    forcing: FloatArray,
    record: Record,
    time: pd.DatetimeIndex,
    first: Start,
) -> None:
    """Say where and why the solver gave up; nothing half done is handed back."""
    code, hour, cell, step = status
    if code == integrate.OK:
        return
    layer = assembly.labels[int(grid.cell_layer[cell])]
    warmth, water, state = first.temperature, 0.0, f"{first.temperature:.1f} degC at the start"
    if hour > 0:
        warmth, water = (float(field[hour - 1, :, cell].max()) for field in (record.temperature, record.water))
        state = f"about {warmth:.1f} degC and {water:.3g} kg/m3 of water"
    msg = (
        f"Did not converge at {time[hour]:%d %B %Y %H:%M} in layer {layer!r} (cell {cell}, {state}) with steps of "
        f"{step:.2g} s. Likely: {_likely(grid, forcing, hour, cell, warmth, water)}. Check the curves of {layer!r} and "
        "the start state."
    )
    raise ConvergenceError(msg)


def _likely(grid: Grid, forcing: FloatArray, hour: int, cell: int, warmth: float, water: float) -> str:
    """The likeliest reason why an hour could not be solved, by the state before it and what it brings."""
    material = grid.materials[int(grid.cells.material[cell])]
    change = abs(float(forcing[hour + 1, OUT_TEMPERATURE] - forcing[hour, OUT_TEMPERATURE]))
    if material.is_hygroscopic and water > material.saturation:
        return f"the layer is wetter than its pores can hold ({material.saturation:.3g} kg/m3)"
    if forcing[hour + 1, RAIN] + forcing[hour + 1, RAIN_DEFECT] > 0.0 and material.transports_liquid:
        return "rain on a material whose liquid transport rises too steeply when it gets wet"
    if abs(warmth) < 1.0 and water > 0.5 * material.saturation > 0.0:
        return "much water that freezes or thaws at once"
    if change > 15.0:
        return f"outdoor air that jumps by {change:.0f} K within the hour"
    return "a material curve that jumps, or a layer far wetter than it can hold"


_FLUXES: Final = {
    "outdoor_heat_flux": Q_OUT,
    "indoor_heat_flux": Q_IN,
    "gap_heat_flux": Q_GAP,
    "outdoor_moisture_flux": G_OUT,
    "indoor_moisture_flux": G_IN,
    "gap_moisture_flux": G_GAP,
    "leak_moisture_flux": G_LEAK,
    "rain_absorbed": G_RAIN,
    "rain_run_off": G_RUNOFF,
    "rain_leak": G_DEFECT,
    "drip": G_DRIP,
    "shed_outside": G_SHED,
}
_AIR: Final = {
    "outer_surface_temperature": T_OUTER,
    "inner_surface_temperature": T_INNER,
    "gap_air_temperature": T_GAP,
    "gap_vapour_pressure": P_GAP,
}


def _dataset(
    assembly: Assembly,
    grid: Grid,
    record: Record,
    forcing: FloatArray,
    out: Outdoor,
    snow_depth: FloatArray,
    room: xr.Dataset,
    time: pd.DatetimeIndex,
    attrs: dict[str, Any],
) -> xr.Dataset:
    of_layer = np.equal.outer(grid.cell_layer, np.arange(len(assembly.layers))) * grid.thickness[:, None]
    values: dict[str, NDArray[Any]] = {
        "temperature": record.temperature,
        "relative_humidity": record.activity,
        "water_content": record.water,
        "ice_content": record.ice,
        "layer_water": record.water @ of_layer,
        "leak_air_flow": forcing[1:, LEAK_FLOW],
        "outdoor_temperature": out.temperature[1:],
        "outdoor_relative_humidity": out.relative_humidity[1:],
        "indoor_temperature": forcing[1:, IN_TEMPERATURE],
        "indoor_relative_humidity": room["indoor_relative_humidity"].to_numpy(),
        "snow_depth": snow_depth[1:],
    }
    values.update({name: record.fluxes[:, :, column] for name, column in _FLUXES.items()})
    values.update(
        {name: record.air[:, :, column - T_OUTER] for name, column in _AIR.items() if assembly.gap or "gap" not in name}
    )
    if assembly.gap is not None:
        values["gap_air_speed"] = record.speed
        values["gap_air_change_rate"] = np.abs(record.speed) * _HOUR / assembly.gap.length
    variables = {name: (RUN[name].dims, value, RUN[name].attrs()) for name, value in values.items()}
    return xr.Dataset(variables, coords=_coordinates(assembly, grid, time), attrs=attrs)


def _coordinates(assembly: Assembly, grid: Grid, time: pd.DatetimeIndex) -> dict[str, Any]:
    layers = assembly.layers
    bound = [grid.bound_water(layer.material) if layer.material.is_hygroscopic else np.nan for layer in layers]
    length = assembly.gap.length if assembly.gap else 0.0
    along = (np.arange(grid.n_slices) + 0.5) / grid.n_slices * length
    values = {
        "cell_position": grid.position,
        "cell_thickness": grid.thickness,
        "cell_layer": grid.cell_layer,
        "cell_is_film": grid.is_film.astype(np.int8),
        "layer_thickness": np.array([layer.thickness for layer in layers]),
        "layer_density": np.array([layer.material.density for layer in layers]),
        "layer_bound_water": np.array(bound),
        "layer_is_wood": np.array([layer.material.is_wood for layer in layers], dtype=np.int8),
        "layer_mould_sensitivity": [layer.material.mould_sensitivity or "" for layer in layers],
        "slice_position": along,
    }
    coords: dict[str, Any] = {
        name: (COORDINATES[name].dims, value, COORDINATES[name].attrs()) for name, value in values.items()
    }
    coords["layer"] = ("layer", list(assembly.labels), {"long_name": "layers from outside to inside"})
    coords["time"] = ("time", time.to_numpy(), {"long_name": "end of the hour, local standard time"})
    return coords


def audit(record: Record, interval: float = _HOUR) -> tuple[float, float]:
    """Energy and water that came in, less what went out and what is stored more, as a share of what passed.

    ``interval``: time between two rows of the record. [s]
    """
    heat_in, heat_out = [Q_OUT, Q_IN, Q_GAP, Q_LEAK], [Q_DRIP]
    water_in, water_out = [G_OUT, G_IN, G_GAP, G_LEAK, G_RAIN, G_DEFECT], [G_DRIP, G_SHED]
    gained = record.stored[1] - record.stored[0]
    shares = []
    total, both_ways = record.fluxes.sum(axis=0), np.abs(record.fluxes).reshape(-1, N_FLUXES).sum(axis=0)
    for quantity, (come, go, least) in enumerate(((heat_in, heat_out, 1e-12), (water_in, water_out, A_MOLECULE_THICK))):
        net = total[:, come].sum(axis=1) - total[:, go].sum(axis=1)
        passed = both_ways[come + go].sum() * interval
        held = NEXT_TO_NOTHING * np.abs(record.stored[..., quantity]).max()
        shares.append(float(np.abs(net * interval - gained[:, quantity]).sum() / max(passed, held, least)))
    return shares[0], shares[1]


def _said_indoors(room: xr.Dataset) -> dict[str, Any]:
    """What an indoor model says about the air that people breathe, so that a report can repeat it."""
    kept = ("caution", "carbon_dioxide_guidance", "hours_at_saturation")
    return {f"indoor_{name}": room.attrs[name] for name in kept if name in room.attrs}


def _attrs(
    assembly: Assembly,
    climate: Climate,
    indoor: IndoorModel,
    leak: AirLeak | None,
    rain: RainLoad | None,
    snow: Snow | None,
    first: Start,
    surface: Surface,
    air: MoistAir,
    record: Record,
) -> dict[str, Any]:
    energy, water = audit(record)
    assumed = {
        "start": f"{first.temperature:g} degC and {100 * first.relative_humidity:g} % where a layer states nothing",
        "outer surface": repr(surface),
        "moist air": air.name,
    }
    return {
        "Conventions": "CF-1.8",
        "title": assembly.name,
        "hygro_version": __version__,
        "assembly": repr(assembly),
        "climate": climate.title,
        "climate_digest": climate.digest,
        "indoor": repr(indoor),
        "leak": "none" if leak is None else leak.describe(),
        "rain": "none" if rain is None else rain.describe(),
        "snow": "none" if snow is None else snow.describe(),
        "assumed": json.dumps(assumed),
        "audit_energy": energy,
        "audit_water": water,
        "evaluations": int(record.counts[:, 0].sum()),
        "newton_steps": int(record.counts[:, 1].sum()),
        "rejected_steps": int(record.counts[:, 2].sum()),
    }
