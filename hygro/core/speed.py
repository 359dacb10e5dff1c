"""The speed of the air in a gap, at which its pressure and its temperature agree."""

from __future__ import annotations

import math

from hygro.constants import GAS_CONSTANT_AIR, GRAVITY
from hygro.constants import ZERO_CELSIUS as KELVIN
from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    ACTIVE,
    BUOYANCY,
    INNER_K,
    OUT_TEMPERATURE,
    OUTER_K,
    PRESSURE,
    SPEED_T,
    WIND_PRESSURE,
    FloatArray,
    Fluid,
    GapSide,
)
from hygro.core.gap import (
    LAMINAR_TO,
    SHUT,
    air_speed,
    approach,
    driving_pressure,
    film_coefficient,
    links,
    losses,
    radiation_coefficient,
    reynolds_number,
)
from hygro.core.lanes import all_of, along, any_of, least_of, no, total_of, where
from hygro.core.work import Work

SPEED_TOLERANCE = 1e-5  # [m s-1]
SETTLES = 0.1  # [1] change of the driven speed with the speed, below which Newton's method is trusted
STEEPEST = 2.0  # [1] the speed changes no more than so many times what warmer air drives; where it would, it leaps
STILL = 1e-9  # [m s-1] slower air has taken the state of the cells


@kernel
def air_density(now: FloatArray) -> float:
    """Density of outdoor air [kg m-3]."""
    density: float = now[PRESSURE] / (GAS_CONSTANT_AIR * (now[OUT_TEMPERATURE] + KELVIN))
    return density


@kernel_part
def in_flow_order(order: int, n_slices: int, speed: float) -> int:
    """The slice that air meets as so many-th; lanes that flow to and fro have but one slice."""
    return n_slices - 1 - order if any_of(speed < 0.0) else order


@kernel
def gap_temperature(
    speed: float,
    density: float,
    temperature: FloatArray,
    gap: GapSide,
    work: Work,
    fluid: Fluid,
) -> tuple[float, float]:
    """Mean air temperature of the whole gap [degC] at a speed, for the present cells; leaks left out.

    Also its slope over the size of the speed, where the film stays what it is at this one.
    """
    n_slices = temperature.shape[0]
    h = film_coefficient(gap, speed, density)
    pace = max(abs(speed), STILL)
    capacity = pace * gap.thickness * gap.slices / gap.length * density * fluid.heat_air
    per_capacity, per_pace = 1.0 / capacity, 1.0 / pace
    backwards = any_of(speed < 0.0)
    inlet, inlet_v = work.now[OUT_TEMPERATURE], 0.0 * work.now[OUT_TEMPERATURE]
    total, total_v = 0.0 * speed, 0.0 * speed
    for order in range(n_slices):
        s = in_flow_order(order, n_slices, speed)
        t_1, t_2 = temperature[s, gap.face - 1], temperature[s, gap.face]
        u_1, u_2, _, _, _, _, _, _, _ = links(
            work.air[s, OUTER_K], work.air[s, INNER_K], h, radiation_coefficient(gap, t_1, t_2)
        )
        u = u_1 + u_2
        n = u * per_capacity  # (3); where nothing leaks, the air comes as much nearer to the mean of the cells
        change, far = approach(n), (u_1 * t_1 + u_2 * t_2) / u
        mean = change / n
        change_v, mean_v = -(1.0 - change) * n * per_pace, (mean - (1.0 - change)) * per_pace
        active = work.air[s, ACTIVE]
        change, change_v = active * change, active * change_v
        before, before_v = inlet, inlet_v
        inlets, inlet = along(before, 1.0 - change, change * far, backwards)
        inlets_v, inlet_v = along(before_v, 1.0 - change, change_v * (far - inlets), backwards)
        total += total_of(active * (far + mean * (inlets - far)), speed)
        total_v += total_of(active * (mean * inlets_v + mean_v * (inlets - far)), speed)
    return total / gap.slices, total_v / gap.slices


@kernel
def gap_speed(
    guess: float,
    density: float,
    temperature: FloatArray,
    gap: GapSide,
    work: Work,
    fluid: Fluid,
    lag: float,
) -> float:
    """Air speed in the gap [m s-1] at which pressure and temperature of its air agree, for the present cells.

    The search begins at the speed that the present wind and the buoyancy which was found last would drive: cells warm
    and cool more slowly than the wind turns. A speed is answered by the one that its temperature drives. Most often the
    answer hardly depends on the speed: then Newton's method leads to the balance, and what it leaves is known to be
    small before it is seen. Else the air is no colder and no warmer than its surroundings; between the speeds that
    these would give lies a balance, found by the Illinois variant of regula falsi. Where wind opposes buoyancy there
    may be three; the one that is met stays until it vanishes, as in the real gap. So does a speed, ``guess``, that is
    found again within ``lag``.
    """
    if gap.face < 0:
        return 0.0 * guess
    held, given = (gap.losses >= SHUT) | (gap.fixed_speed >= 0.0), where(gap.losses >= SHUT, 0.0, gap.fixed_speed)
    if all_of(held):
        return given + 0.0 * guess
    wind = work.now[WIND_PRESSURE]
    speed = where(held, given, air_speed(gap, wind + work.now[BUOYANCY], density, guess))
    found = held
    low, high, f_low, f_high, side = 0.0 * speed, 0.0 * speed, 0.0 * speed, 0.0 * speed, 0.0 * speed
    bracketed, pressure, rate, per_kelvin = False, wind, 0.0 * speed, 0.0 * speed
    for _ in range(40):
        answered, rate, per_kelvin, pressure = answer(speed, density, temperature, gap, work, fluid)
        f, allowed = answered - speed, SPEED_TOLERANCE + 1e-4 * abs(speed)
        found = found | (abs(f) < allowed)
        if all_of(found):
            break
        settles = abs(rate) < SETTLES
        following = speed + f / (1.0 - rate)
        if any_of(no(settles | found)):
            if not bracketed:
                low, high = speeds_around(density, temperature, gap, work, speed)
                narrow = no(found) & (high - low < SPEED_TOLERANCE)
                speed = where(narrow, 0.5 * (low + high), speed)
                found = found | narrow
                f_low, f_high, bracketed = high - low, low - high, True  # only their signs matter at first
            up = f > 0.0
            low, high = where(up, speed, low), where(up, high, speed)
            f_low, f_high = (
                where(up, f, where(side < 0.0, 0.5 * f_low, f_low)),
                where(up, where(side > 0.0, 0.5 * f_high, f_high), f),
            )
            side = where(up, 1.0, -1.0)
            following = where(settles, following, (low * f_high - high * f_low) / (f_high - f_low))
        # In laminar flow the rate changes no faster than by the square of the speed, and a step as long as the speed
        # leaves as much as the rate makes of it; where the laws change, the rate is at least not larger than this one.
        slowest = where(speed * following > 0.0, min(abs(speed), abs(following)), 0.0)
        smooth = reynolds_number(gap, max(abs(speed), abs(following)), density) < LAMINAR_TO
        step, room = where(smooth, abs(following - speed), 1.0), where(smooth, slowest, 1.0)
        left = abs(rate * f) * step
        speed = where(found, speed, following)
        found = found | (settles & (left < allowed * room))
        if all_of(found):
            break
    work.now[BUOYANCY] = pressure - wind
    if gap.slices == 1:
        work.now[SPEED_T] = where(held, 0.0, per_kelvin / max(1.0 - rate, 1.0 / STEEPEST))
    return where(abs(speed - guess) < lag + 1e-4 * abs(guess), guess, speed)


@kernel
def answer(
    speed: float, density: float, temperature: FloatArray, gap: GapSide, work: Work, fluid: Fluid
) -> tuple[float, float, float, float]:
    """Air speed [m s-1] that wind and the temperature which the gap's air has at a speed would drive.

    Also by how much it changes with the speed [1] and with the temperature [m s-1 K-1], as far as the flow is laminar,
    and the pressure that drives it [Pa].
    """
    warm, warm_v = gap_temperature(speed, density, temperature, gap, work, fluid)
    out = work.now[OUT_TEMPERATURE]
    pressure = driving_pressure(gap, work.now[WIND_PRESSURE], warm, out, density)
    pressure_t = density * GRAVITY * gap.rise * (KELVIN + out) / ((KELVIN + warm) * (KELVIN + warm))
    answered = air_speed(gap, pressure, density, speed)
    local, friction = losses(gap, density)
    per_kelvin = pressure_t / (2.0 * local * abs(answered) + friction)
    return answered, where(speed < 0.0, -warm_v, warm_v) * per_kelvin, per_kelvin, pressure


@kernel
def speeds_around(
    density: float, temperature: FloatArray, gap: GapSide, work: Work, speed: float
) -> tuple[float, float]:
    """Air speeds [m s-1] that the coldest and the warmest air would have that the gap's surroundings can give."""
    out, wind = work.now[OUT_TEMPERATURE], work.now[WIND_PRESSURE]
    coldest, warmest = out, out
    for s in range(temperature.shape[0]):
        t_1, t_2 = temperature[s, gap.face - 1], temperature[s, gap.face]
        counts = work.air[s, ACTIVE] > 0.0
        coldest = min(coldest, least_of(where(counts, min(t_1, t_2), math.inf), speed))
        warmest = max(warmest, -least_of(where(counts, -max(t_1, t_2), math.inf), speed))
    return (
        air_speed(gap, driving_pressure(gap, wind, coldest, out, density), density, speed),
        air_speed(gap, driving_pressure(gap, wind, warmest, out, density), density, speed),
    )
