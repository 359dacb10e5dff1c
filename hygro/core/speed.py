"""The speed of the air in a gap, at which its pressure and its temperature agree."""

from __future__ import annotations

import math

from hygro.constants import GAS_CONSTANT_AIR
from hygro.constants import ZERO_CELSIUS as KELVIN
from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    ACTIVE,
    INNER_K,
    OUT_TEMPERATURE,
    OUTER_K,
    PRESSURE,
    WIND_PRESSURE,
    FloatArray,
    Fluid,
    GapSide,
)
from hygro.core.gap import SHUT, air_speed, driving_pressure, film_coefficient, inlet_link, links, radiation_coefficient
from hygro.core.lanes import all_of, along, any_of, least_of, no, total_of, where
from hygro.core.work import Work

SPEED_TOLERANCE = 1e-5  # [m s-1]
SETTLES = 0.1  # [1] change of the driven speed with the speed, below which the secant is trusted


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
) -> float:
    """Mean air temperature of the whole gap [degC] at a speed, for the present cells; leaks left out."""
    n_slices = temperature.shape[0]
    h = film_coefficient(gap, speed, density)
    capacity = abs(speed) * gap.thickness * gap.slices / gap.length * density * fluid.heat_air
    backwards = any_of(speed < 0.0)
    inlet, total = work.now[OUT_TEMPERATURE], 0.0 * speed
    for order in range(n_slices):
        s = in_flow_order(order, n_slices, speed)
        t_1, t_2 = temperature[s, gap.face - 1], temperature[s, gap.face]
        u_1, u_2, _, _, _, _, _, _, _ = links(
            work.air[s, OUTER_K], work.air[s, INNER_K], h, radiation_coefficient(gap, t_1, t_2)
        )
        g, _ = inlet_link(u_1 + u_2, capacity)
        per_total = 1.0 / (u_1 + u_2 + g)
        m_in, others = g * per_total, (u_1 * t_1 + u_2 * t_2) * per_total
        rise = where((capacity > 0.0) & (work.air[s, ACTIVE] > 0.0), g / capacity, 0.0)
        inlets, inlet = along(inlet, 1.0 - rise + rise * m_in, rise * others, backwards)
        total += total_of(work.air[s, ACTIVE] * (others + m_in * inlets), speed)
    return total / gap.slices


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

    A speed is answered by the one that its temperature drives. Most often the answer hardly depends on the speed: then
    the secant leads to the balance, and what it leaves is known to be small before it is seen. Else the air is no
    colder and no warmer than its surroundings; between the speeds that these would give lies a balance, found by the
    Illinois variant of regula falsi. Where wind opposes buoyancy there may be three; the one that is met stays until it
    vanishes, as in the real gap.
    """
    if gap.face < 0:
        return 0.0 * guess
    held, given = (gap.losses >= SHUT) | (gap.fixed_speed >= 0.0), where(gap.losses >= SHUT, 0.0, gap.fixed_speed)
    if all_of(held):
        return given + 0.0 * guess
    start = where(held, given, guess)
    f = answer(start, density, temperature, gap, work, fluid) - start
    found = held | (abs(f) < lag + 1e-4 * abs(start))
    if all_of(found):
        return start
    low, high, f_low, f_high, side = 0.0 * f, 0.0 * f, 0.0 * f, 0.0 * f, 0.0 * f
    bracketed, before, f_before = False, start, f
    speed = where(found, start, start + f)
    for _ in range(40):
        f = answer(speed, density, temperature, gap, work, fluid) - speed
        allowed = SPEED_TOLERANCE + 1e-4 * abs(speed)
        found = found | (abs(f) < allowed)
        if all_of(found):
            break
        rate = 1.0 + (f - f_before) / where(found, 1.0, speed - before)  # of the answer over the speed
        settles = abs(rate) < SETTLES
        before, f_before, following = speed, f, speed + f / (1.0 - rate)
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
        speed = where(found, speed, following)
        found = found | (settles & (abs(rate * f) < allowed))
        if all_of(found):
            break
    return speed


@kernel
def answer(speed: float, density: float, temperature: FloatArray, gap: GapSide, work: Work, fluid: Fluid) -> float:
    """Air speed [m s-1] that wind and the temperature which the gap's air has at a speed would drive."""
    warm, out = gap_temperature(speed, density, temperature, gap, work, fluid), work.now[OUT_TEMPERATURE]
    return air_speed(gap, driving_pressure(gap, work.now[WIND_PRESSURE], warm, out, density), density, speed)


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
