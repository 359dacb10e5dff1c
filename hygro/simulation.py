"""One run: objects become arrays, the kernel integrates, arrays become a Dataset.

The only place where both sides are known. May import: results, forcing, and all above them.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from hygro import constants as c
from hygro.assembly import Assembly
from hygro.climate import Climate
from hygro.core import _jit, ahead, integrate
from hygro.core.bundles import MATERIAL, OUT_TEMPERATURE, RAIN, RAIN_DEFECT, Fluid
from hygro.core.columns import Column, Solved, kind_of, solve, solve_alike
from hygro.core.formulas import MoistAir
from hygro.core.lanes import WIDTH
from hygro.core.record import Record
from hygro.core.tables import moist_air_table
from hygro.core.work import Settings
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
from hygro.results import attributes, dataset_of, said_indoors
from hygro.snow import FallingSnow, LyingSnow, Snow, under_snow
from hygro.start import Start, start_state
from hygro.surfaces import FixedFilm, Surface, indoor_film, outdoor
from hygro.units import to_si

__all__ = ["Question", "Start", "pose", "simulate", "simulate_together"]

FloatArray = NDArray[np.float64]
_LOG = logging.getLogger("hygro")
_HOUR: Final = 3600.0


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
    question = pose(
        assembly, climate, indoor, start=start, years=years, initial=initial, leak=leak, rain=rain, snow=snow,
        outside=outside, inside=inside, air=air, detail=detail, settings=settings,
    )  # fmt: skip
    return question.answer(solved(question.column))


def pose(
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
) -> Question:
    """What `simulate` would compute, ready for the solver.

    Parameters
    ----------
    assembly, climate, indoor, start, years, initial, leak, rain, snow, outside, inside, air, detail, settings
        As for `simulate`.

    Returns
    -------
    Question
        Give it to `simulate_together`, with others.

    Raises
    ------
    InputError
        As `simulate` does.
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
    state, time = start_state(assembly, grid, first), weather.time
    column = Column(*state, placed.cells, placed.faces, placed.gap, path, fluid(moist), forcing, accuracy)

    def told(record: Record) -> xr.Dataset:
        attrs = attributes(assembly, weather, indoor, leak, load, snow, first, surface, moist, record)
        attrs |= said_indoors(room)
        return dataset_of(assembly, grid, record, forcing, out, depth, room, time, attrs)

    return Question(column, assembly, grid, time, first, told)


def simulate_together(questions: Sequence[Question]) -> Iterator[tuple[int, xr.Dataset | ConvergenceError]]:
    """Runs of several build-ups: those that are alike share the lanes of the processor's vector units.

    Which run shares them with which depends on the order alone, and the numbers on that: within the solver's tolerance
    they are those of `simulate`.

    Parameters
    ----------
    questions : sequence of Question
        From `pose`.

    Yields
    ------
    int, Dataset or ConvergenceError
        Place in the sequence and what `simulate` returns there, or the error where the solver could not go on; as they
        come, so that not all need be kept.
    """
    alike: dict[Any, list[int]] = {}
    for at, question in enumerate(questions):
        alike.setdefault(kind_of(question.column), []).append(at)
    for places in alike.values():
        for first in range(0, len(places), WIDTH):
            some = places[first : first + WIDTH]
            _compile_first("columns._run_in_lanes" if len(some) > 1 else "columns._run_abreast")
            for at, found in zip(some, solve_alike([questions[at].column for at in some]), strict=True):
                try:
                    yield at, questions[at].answer(found)
                except ConvergenceError as error:
                    yield at, error


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


def fluid(air: MoistAir) -> Fluid:
    """Constants of water and air for the kernel, and the table of moist air."""
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


def solved(column: Column) -> Solved:
    """What the solver makes of a column; says so where it must be compiled first."""
    _compile_first("columns._run_abreast" if len(column.temperature) == 1 else "columns._run_slices")
    return solve(column)


def _compile_first(entry: str) -> None:
    if not _jit.is_compiled(entry):
        _LOG.warning("Compiling the solver for this machine: about half a minute, once.")
        if entry == "columns._run_abreast":
            ahead.prepare()


@dataclass(frozen=True, slots=True)
class Question:
    """A run ready for the solver, and how its answer is told.

    Parameters
    ----------
    column : Column
        What the solver is given.
    assembly, grid, time, first : Assembly, Grid, DatetimeIndex, Start
        The build-up, its cells, the ends of the hours and the state at the start.
    told : callable
        Makes the Dataset of a record.
    """

    column: Column
    assembly: Assembly
    grid: Grid
    time: pd.DatetimeIndex
    first: Start
    told: Callable[[Record], xr.Dataset]

    def answer(self, found: Solved) -> xr.Dataset:
        """Dataset of what the solver found.

        Raises
        ------
        ConvergenceError
            Where it could not go on: says where and why; nothing half done is handed back.
        """
        code, hour, cell, step = found.status
        if code == integrate.OK:
            return self.told(found.record)
        layer = self.assembly.labels[int(self.grid.cell_layer[cell])]
        warmth, water, state = self.first.temperature, 0.0, f"{self.first.temperature:.1f} degC at the start"
        if hour > 0:
            before = (found.record.temperature, found.record.water)
            warmth, water = (float(field[hour - 1, :, cell].max()) for field in before)
            state = f"about {warmth:.1f} degC and {water:.3g} kg/m3 of water"
        msg = (
            f"Did not converge at {self.time[hour]:%d %B %Y %H:%M} in layer {layer!r} (cell {cell}, {state}) with "
            f"steps of {step:.2g} s. Likely: {_likely(self.grid, self.column.forcing, hour, cell, warmth, water)}. "
            f"Check the curves of {layer!r} and the start state."
        )
        raise ConvergenceError(msg)


def _likely(grid: Grid, forcing: FloatArray, hour: int, cell: int, warmth: float, water: float) -> str:
    """The likeliest reason why an hour could not be solved, by the state before it and what it brings."""
    material = grid.materials[int(grid.cells.kinds[cell, MATERIAL])]
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
