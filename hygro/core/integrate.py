r"""Integration in time: TR-BDF2 with Newton's method, step control and a status instead of exceptions.

One step from t to t + dt, with a = 2 - sqrt(2), b = a/2 and e = sqrt(2)/4 (Bank et al. 1985; Hosea and Shampine
1996), on the conserved quantities M = (H, w) of every cell and their net inflow F:

.. math:: M(Y_2) = M_n + b\,dt\,(F_n + F_2), \qquad M(Y_3) = M_n + dt\,(e F_n + e F_2 + b F_3)             (1)

Where Newton's method fails down to steps of EULER_BELOW, one implicit Euler step is taken instead: it always has a
solution with water left, which (1) need not have when a film dries out. (1) is second order, L-stable, and conservative
because M, not the state, is carried from step to step: what a Newton iteration leaves over is not lost but solved for
in the next step (spread over RELEASE where steps had to be cut), and the last step of a run is solved to round-off.
The embedded third-order formula gives the error

.. math:: \epsilon = S M' S\, dt\,\left(\tfrac{4e-1}{3} F_n - \tfrac13 F_2 + \tfrac{2b}{3} F_3\right), \quad
          S = (M' - b\,dt\,F')^{-1}                                                                           (2)

as a change of state. S acts twice so that what comes to rest within the step does not count: the method is L-stable
and gets it right. The weather runs straight between full hours, where it kinks; steps end there, and are split within
the hour where the error, or Newton's method, asks for it.

The slices of a gap hang together by their air alone: each takes what the one upstream hands on. In lanes they are
evaluated together and one Newton step is that of all, the air's change going from slice to slice; groups of them, or
slices without lanes, are solved in flow order, each to its end. The air speed follows from all of them, and their
errors count by the root of their mean square.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from hygro.constants import GAS_CONSTANT_AIR
from hygro.constants import ZERO_CELSIUS as KELVIN
from hygro.core._jit import entrance, kernel, kernel_part, share
from hygro.core.bundles import (
    ACTIVE,
    ARRIVES_P,
    ARRIVES_T,
    ASIDE_HEAT,
    ASIDE_WATER,
    BASE_HEAT,
    BASE_WATER,
    DX,
    ENTHALPY,
    ENTHALPY_T,
    ENTHALPY_X,
    FACTORED_LOW,
    FACTORED_MID,
    FACTORED_UPP,
    FILM_LIMIT,
    G_DRIP,
    G_GAP,
    G_IN,
    G_LEAK,
    G_OUT,
    G_RAIN,
    G_RUNOFF,
    G_SHED,
    HANDED_P,
    HANDED_T,
    HEAT,
    HEAT_2,
    HEAT_N,
    HELD_HEAT,
    HELD_WATER,
    INLET_P,
    INLET_T,
    INNER_G_P,
    INNER_K,
    INNER_Q_P,
    INNER_Q_T,
    LOW,
    MID,
    N_AIR,
    N_FLUXES,
    N_FORCING,
    N_KNOWN,
    N_SIGNALS,
    N_SLOPES,
    ONSET,
    OUT_TEMPERATURE,
    OUT_VAPOUR,
    OUTER_G_P,
    OUTER_K,
    OUTER_Q_P,
    OUTER_Q_T,
    P_GAP,
    PRESSURE,
    Q_DRIP,
    Q_GAP,
    Q_IN,
    Q_LEAK,
    Q_OUT,
    RAIN,
    RAIN_DEFECT,
    RISE_P,
    RISE_T,
    T_GAP,
    T_INNER,
    T_OUTER,
    TEMPERATURE_N,
    UPP,
    W_T,
    W_X,
    WATER_2,
    WATER_IN,
    WATER_N,
    WIND_PRESSURE,
    X_N,
    Abreast,
    Cells,
    Faces,
    FloatArray,
    Fluid,
    GapSide,
    Leak,
    U,
    W,
)
from hygro.core.column import DRIP_RATE, air_at, cell_states, drips_as, evaluate, water_in_cell
from hygro.core.gap import (
    SHUT,
    air_speed,
    driving_pressure,
    film_coefficient,
    inlet_link,
    links,
    radiation_coefficient,
)
from hygro.core.lanes import (
    WIDTH,
    all_cells,
    all_of,
    along,
    any_of,
    in_one,
    inner_of,
    keep,
    lane,
    largest,
    least_of,
    no,
    outer_of,
    total_of,
    where,
    with_lane,
    worst_of_cells,
)
from hygro.core.potential import X_LOWEST
from hygro.core.tables import FREEZING_SPAN
from hygro.core.tridiagonal import factor, put_block, solve, substitute

HOUR = 3600.0
COORDINATE_SCALE = 0.03  # [1] change of the moisture coordinate that counts like one kelvin
PER_COORDINATE_SCALE = 1.0 / COORDINATE_SCALE
FIRST_STEP = 60.0  # [s]
DAMP_FROM = 1.25  # [1] coordinate from which on pore water freezes within FREEZING_SPAN
PAST_FREEZING, PAST_ONSET = 0.02, 0.01  # [K], [1] how far past a kink a Newton step stops
AS_LONG = 0.5  # [1] error, as a share of that allowed, below which the next step may be as long as the last
FORESIGHT = 0.6  # share of the last step's trend that the next one starts with; found by counting evaluations
RELEASE = 600.0  # [s] time over which a left-over is made good once steps had to be cut
EULER_BELOW = 120.0  # [s] steps that Newton's method has cut below this are taken by the implicit Euler method
SPEED_PASSES = 3
# After so many, Newton's steps leap to and fro over a bend of a curve: shorter ones from then on. In steps that are
# short already, and in the last of a run, which cannot be cut, every other one then goes half of its way, which ends a
# leap between two states; and in the end all do, which ends the leaps between more.
SURE_ITERATIONS, PATIENT_ITERATIONS = 8, 32
PATIENCE = 4  # times as many iterations in steps that are short already
SPEED_LAG = 0.0025  # [m s-1 K-1] change of speed, per kelvin unchecked, for which solved slices are not solved anew
ROUND_OFF = 1e-14  # [1] of what is balanced; no left-over can be asked to be smaller
TIGHT_TOLERANCE = 1e-11  # of the last step of a run, so that the audit is one of round-off
SPEED_TOLERANCE = 1e-5  # [m s-1]
SETTLES = 0.1  # [1] change of the driven speed with the speed, below which the secant is trusted

A = 2.0 - math.sqrt(2.0)
B = 0.5 * A
E = 0.25 * math.sqrt(2.0)
ERROR_N, ERROR_2, ERROR_3 = (4.0 * E - 1.0) / 3.0, -1.0 / 3.0, 2.0 * B / 3.0

OK, NO_CONVERGENCE = range(2)
COLDEST_STATE, WARMEST_STATE = -95.0, 300.0


class Settings(NamedTuple):
    """How accurate the integration has to be.

    Parameters
    ----------
    temperature_error : float
        Bounds the error (2) of a step in temperature. [K]
    water_error : float
        Bounds the error (2) of a step in the moisture coordinate. [1]
    newton : float
        What Newton's method may leave over, as a share of both. [1]
    unchecked : float
        Largest Newton step that is trusted without evaluating again, in kelvin or as many COORDINATE_SCALE. [K]
    finest_step : float
        The error splits steps down to this. [s]
    smallest_step : float
        Failures of Newton's method split steps down to this. [s]
    largest_iterations : int
        Newton steps in a stage, of each slice of a gap, before the step is split. [1]
    interval : float
        Time between two rows of the forcing, and longest step; an hour, but in a quick look. [s]
    """

    temperature_error: float = 0.3
    water_error: float = 0.005
    newton: float = 0.02
    unchecked: float = 4.0
    finest_step: float = 60.0
    smallest_step: float = 0.05
    largest_iterations: int = 25
    interval: float = HOUR


class Work(NamedTuple):
    """Work arrays: nothing is allocated in the hour loop.

    ``known`` is what is known of each cell and ``air`` what the slices' air does, see `bundles`; ``right`` the right
    side of Newton's system; ``by_t`` and ``by_p`` those that give the responses of all cells to a kelvin and to a
    pascal of the air that arrives.
    """

    now: FloatArray
    signals: FloatArray
    air: FloatArray
    known: FloatArray
    right: FloatArray
    by_t: FloatArray
    by_p: FloatArray


class Record(NamedTuple):
    """Results; leading axis: hour.

    ``counts`` are evaluations, Newton steps and rejected steps of the hour; ``stored`` is heat and water per area in
    each slice at the start and at the end, shape (2, n_slices, 2).
    """

    temperature: FloatArray
    activity: FloatArray
    water: FloatArray
    ice: FloatArray
    fluxes: FloatArray
    air: FloatArray
    speed: FloatArray
    counts: FloatArray
    stored: FloatArray


def make_work(n_slices: int, n: int) -> Work:
    """Work space for a run."""
    air = np.zeros((n_slices, N_AIR))
    air[:, [OUTER_K, INNER_K, ACTIVE]] = 1.0
    return Work(
        now=np.zeros(N_FORCING),
        signals=np.zeros((3, n_slices, N_SIGNALS, N_SLOPES)),
        air=air,
        known=np.zeros((n_slices, n, N_KNOWN)),
        right=np.zeros((n, 2)),
        by_t=np.zeros((n, 2)),
        by_p=np.zeros((n, 2)),
    )


def make_record(n_hours: int, n_slices: int, n: int) -> Record:
    """Room for the results of a run."""
    # written from end to end; the system hands out what is large and not asked to be zero in larger pages
    temperature, activity, water, ice = np.empty((4, n_hours, n_slices, n))
    return Record(
        temperature=temperature,
        activity=activity,
        water=water,
        ice=ice,
        fluxes=np.zeros((n_hours, n_slices, N_FLUXES)),
        air=np.zeros((n_hours, n_slices, N_SIGNALS - T_OUTER)),
        speed=np.zeros(n_hours),
        counts=np.zeros((n_hours, 3)),
        stored=np.zeros((2, n_slices, 2)),
    )


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


@kernel
def at_kinks(t: float, d_t: float, x: float, d_x: float, onset: float, reach: float) -> tuple[float, float, bool]:
    """State after a Newton step, stopped just past the first kink of the storage curves that it would cross.

    Enthalpy is steep while free water freezes and flat on either side, water content is steep past the onset and flat
    before it. Unstopped, steps leap to and fro over the steep part; ``reach`` shortens the longest. Also tells whether
    the step was taken whole and crossed no kink, so that slopes may be trusted to its end.
    """
    t_new = t + min(max(d_t, -15.0 * reach), 15.0 * reach)
    x_new = max(max(x + min(max(d_x, -0.4 * reach), 0.4 * reach), 0.2 * x), X_LOWEST)
    whole = (t_new == t + d_t) & (x_new == x + d_x)
    damp, stopped = x > DAMP_FROM, x != x
    if any_of(damp):
        for kink in (0.0, -FREEZING_SPAN):
            falls = damp & no(stopped) & (t > kink) & (kink > t_new)
            t_new = where(falls, max(t_new, kink - PAST_FREEZING), t_new)
            stopped = stopped | falls
        for kink in (-FREEZING_SPAN, 0.0):
            rises = damp & no(stopped) & (t < kink) & (kink < t_new)
            t_new = where(rises, min(t_new, kink + PAST_FREEZING), t_new)
            stopped = stopped | rises
    empties, fills = (x > onset) & (onset > x_new) & no(stopped), (x < onset) & (onset < x_new) & no(stopped)
    if any_of(empties | fills):
        x_new = where(empties, max(x_new, onset - PAST_ONSET), x_new)
        x_new = where(fills, min(x_new, onset + 0.1 * PAST_ONSET), x_new)
        stopped = stopped | empties | fills
    return t_new, x_new, whole & no(stopped)


@kernel_part
def along_slopes(signal: FloatArray, a_T: float, a_x: float, b_T: float, b_x: float) -> float:
    """Change of a signal with the states of the two cells that it depends on."""
    change: float = signal[1] * a_T + signal[2] * a_x + signal[3] * b_T + signal[4] * b_x
    return change


@kernel
def air_that_arrives(s: int, c: float, n: int, gap_at: int, speed: float, signals: FloatArray, work: Work) -> None:
    """By how much a Newton step changes the air that reaches each of the slices in lanes, and that leaves the last.

    The step of a slice is its own, for air that stays as it is, and its responses to a change of the air's temperature
    and vapour pressure; the air that it hands on changes with its mean state in the gap. So the changes follow from
    slice to slice, and the step is the one of all slices at once.
    """
    i, j = gap_at - 1, gap_at
    air, cell, right, by_t, by_p = work.air[s], work.known[s], work.right, work.by_t, work.by_p
    for m in range(n):
        by_t[m, 0], by_t[m, 1], by_p[m, 0], by_p[m, 1] = 0.0, 0.0, 0.0, 0.0
    by_t[i, 0], by_t[j, 0] = c * air[OUTER_Q_T], c * air[INNER_Q_T]
    by_p[i, 0], by_p[i, 1], by_p[j, 0], by_p[j, 1] = (
        c * air[OUTER_Q_P], c * air[OUTER_G_P], c * air[INNER_Q_P], c * air[INNER_G_P],
    )  # fmt: skip
    solve(n, cell, by_t)
    solve(n, cell, by_p)
    zero = 0.0 * air[RISE_T]
    t, p = signals[T_GAP], signals[P_GAP]
    rise_t, rise_p = air[RISE_T], air[RISE_P]
    t_own, p_own = (
        rise_t * along_slopes(t, right[i, 0], right[i, 1], right[j, 0], right[j, 1]),
        rise_p * along_slopes(p, right[i, 0], right[i, 1], right[j, 0], right[j, 1]),
    )
    t_t = 1.0 - rise_t + rise_t * (t[INLET_T] + along_slopes(t, by_t[i, 0], by_t[i, 1], by_t[j, 0], by_t[j, 1]))
    t_p = rise_t * along_slopes(t, by_p[i, 0], by_p[i, 1], by_p[j, 0], by_p[j, 1])
    p_t = rise_p * along_slopes(p, by_t[i, 0], by_t[i, 1], by_t[j, 0], by_t[j, 1])
    p_p = 1.0 - rise_p + rise_p * (p[INLET_P] + along_slopes(p, by_p[i, 0], by_p[i, 1], by_p[j, 0], by_p[j, 1]))
    d_t, d_p, t_in, p_in = 0.0, 0.0, zero, zero
    for order in range(WIDTH):
        at = WIDTH - 1 - order if any_of(speed < 0.0) else order
        t_in, p_in = with_lane(t_in, at, d_t), with_lane(p_in, at, d_p)
        d_t, d_p = (
            lane(t_t, at) * d_t + lane(t_p, at) * d_p + lane(t_own, at),
            lane(p_t, at) * d_t + lane(p_p, at) * d_p + lane(p_own, at),
        )
    air[ARRIVES_T], air[ARRIVES_P], air[HANDED_T], air[HANDED_P] = t_in, p_in, d_t, d_p


@kernel
def newton_update(
    s: int,
    c: float,
    tolerance: float,
    reach: float,
    part: float,
    speed: float,
    gap_at: int,
    n: int,
    abreast: Abreast,
    work: Work,
    signals: FloatArray,
    settings: Settings,
) -> float:
    """One Newton step of slice s on  dx M(Y) - c F(Y) = base; returns its size, in kelvin or COORDINATE_SCALE.

    Only ``part`` of the step is taken, and no more than ``reach`` of the longest allowed. A step that was cut short is
    returned as endless, one that led out of all bounds as not a number. Where what is left over is small in terms of
    the state already, no step is taken and its size is negative.
    """
    cell, right, kinds = abreast.known[s], abreast.right, abreast.kinds
    temperature, x = abreast.temperature[s], abreast.x[s]
    zero = 0.0 * cell[0, W]
    balanced = zero == zero
    allowed_t, allowed_x = tolerance * settings.temperature_error, tolerance * settings.water_error
    for i in range(kinds.shape[0]):
        dx = abreast.data[i, DX]
        base_heat, base_water = cell[i, BASE_HEAT], cell[i, BASE_WATER]
        gain_heat, gain_water = c * cell[i, HEAT], c * cell[i, WATER_IN]
        heat = base_heat + gain_heat - dx * cell[i, ENTHALPY]
        water = base_water + gain_water - dx * cell[i, W]
        low = (-c * cell[i, LOW], -c * cell[i, LOW + 1], -c * cell[i, LOW + 2], -c * cell[i, LOW + 3])
        mid = (
            dx * cell[i, ENTHALPY_T] - c * cell[i, MID],
            dx * cell[i, ENTHALPY_X] - c * cell[i, MID + 1],
            dx * cell[i, W_T] - c * cell[i, MID + 2],
            dx * cell[i, W_X] - c * cell[i, MID + 3],
        )
        upp = (-c * cell[i, UPP], -c * cell[i, UPP + 1], -c * cell[i, UPP + 2], -c * cell[i, UPP + 3])
        least_heat = ROUND_OFF * (abs(base_heat) + abs(gain_heat) + dx * 1e3)
        least_water = ROUND_OFF * (abs(base_water) + abs(gain_water))
        balanced = balanced & (abs(heat) <= allowed_t * mid[0] + least_heat)
        balanced = balanced & (abs(water) <= allowed_x * mid[3] + least_water)
        put_block(cell, i, FACTORED_LOW, low)
        put_block(cell, i, FACTORED_MID, mid)
        put_block(cell, i, FACTORED_UPP, upp)
        right[i, 0], right[i, 1] = heat, water
    small, none = all_cells(kinds, balanced), 0.0 * work.right[0, 0]
    factor(n, work.known[s], work.right)
    size: float = where(small, -1.0, where(part == 1.0, 0.0, math.inf)) + none
    if all_of(small):
        return size
    substitute(n, work.known[s], work.right)
    coupled = in_one(none, speed) and gap_at >= 0
    if coupled:  # what one slice leaves over changes those downstream
        small, size = none != none, where(part == 1.0, 0.0, math.inf) + none
        air_that_arrives(s, c, n, gap_at, speed, signals, work)
    t_in, p_in = work.air[s, ARRIVES_T], work.air[s, ARRIVES_P]
    taken, largest_step = where(small, 0.0, part), zero
    for i in range(kinds.shape[0]):
        d_t, d_x = right[i, 0], right[i, 1]
        if coupled:
            d_t += work.by_t[i, 0] * t_in + work.by_p[i, 0] * p_in
            d_x += work.by_t[i, 1] * t_in + work.by_p[i, 1] * p_in
        d_t, d_x = taken * d_t, taken * d_x
        right[i, 0], right[i, 1] = d_t, d_x
        t_new, x_new, whole = at_kinks(temperature[i], d_t, x[i], d_x, abreast.data[i, ONSET], reach)
        if any_of(no((t_new > COLDEST_STATE) & (t_new < WARMEST_STATE))):
            return math.nan * size
        largest_step = max(max(largest_step, abs(d_t)), abs(d_x) * PER_COORDINATE_SCALE)
        largest_step = where(whole, largest_step, math.inf)
        temperature[i], x[i] = where(small, temperature[i], t_new), where(small, x[i], x_new)
    return where(small, size, max(size, worst_of_cells(kinds, largest_step)))


@kernel
def follow_inflow(s: int, gap_at: int, abreast: Abreast, cell: FloatArray, air: FloatArray) -> None:
    """Bring the inflow of all cells to the state that a Newton step has reached, along its slopes.

    What crosses a face is taken from one cell and given to the next to the last digit, however well the system was
    solved.
    """
    known, right, kinds = abreast.known[s], abreast.right, abreast.kinds
    last = kinds.shape[0] - 1
    for i in range(last + 1):
        before, after = max(i - 1, 0), min(i + 1, last)  # a border cell has no slopes over what would lie beyond
        d_t, d_x = right[i, 0], right[i, 1]
        outer_t, outer_x = outer_of(kinds, right[before, 0], d_t), outer_of(kinds, right[before, 1], d_x)
        inner_t, inner_x = inner_of(kinds, d_t, right[after, 0]), inner_of(kinds, d_x, right[after, 1])
        known[i, HEAT] += (
            known[i, MID] * d_t + known[i, MID + 1] * d_x
            + known[i, LOW] * outer_t + known[i, LOW + 1] * outer_x
            + known[i, UPP] * inner_t + known[i, UPP + 1] * inner_x
        )  # fmt: skip
        known[i, WATER_IN] += (
            known[i, MID + 2] * d_t + known[i, MID + 3] * d_x
            + known[i, LOW + 2] * outer_t + known[i, LOW + 3] * outer_x
            + known[i, UPP + 2] * inner_t + known[i, UPP + 3] * inner_x
        )  # fmt: skip
    if gap_at >= 0:
        t_in, p_in = air[ARRIVES_T], air[ARRIVES_P]
        cell[gap_at - 1, HEAT] += air[OUTER_Q_T] * t_in + air[OUTER_Q_P] * p_in
        cell[gap_at - 1, WATER_IN] += air[OUTER_G_P] * p_in
        cell[gap_at, HEAT] += air[INNER_Q_T] * t_in + air[INNER_Q_P] * p_in
        cell[gap_at, WATER_IN] += air[INNER_G_P] * p_in


@kernel
def follow(
    signals: FloatArray,
    gap: GapSide,
    leak: Leak,
    temperature: FloatArray,
    cells: Cells,
    fluid: Fluid,
    cell: FloatArray,
    right: FloatArray,
    air: FloatArray,
) -> None:
    """Bring the signals of a slice to the state that a Newton step has reached, along their slopes.

    ``temperature`` is the one reached, ``right`` the step to it.
    """
    n = cells.data.shape[0]
    d_t, d_x = right[0, 0], right[0, 1]
    for m in (Q_OUT, G_OUT, G_RAIN, G_RUNOFF, T_OUTER):
        signals[m, 0] += signals[m, 1] * d_t + signals[m, 2] * d_x
    d_t, d_x = right[n - 1, 0], right[n - 1, 1]
    for m in (Q_IN, G_IN, T_INNER):
        signals[m, 0] += signals[m, 1] * d_t + signals[m, 2] * d_x
    if leak.cell >= 0:
        d_t, d_x = right[leak.cell, 0], right[leak.cell, 1]
        for m in (Q_LEAK, G_LEAK):
            signals[m, 0] += signals[m, 1] * d_t + signals[m, 2] * d_x
    if gap.face >= 0:
        i, j = gap.face - 1, gap.face
        for m in (Q_GAP, G_GAP, T_GAP, P_GAP):
            signals[m, 0] += signals[m, INLET_T] * air[ARRIVES_T] + signals[m, INLET_P] * air[ARRIVES_P]
            signals[m, 0] += along_slopes(signals[m], right[i, 0], right[i, 1], right[j, 0], right[j, 1])
    if any_of((signals[G_DRIP, 0] > 0.0) | (signals[G_SHED, 0] > 0.0)):
        for i in range(n):
            excess, into = cell[i, W] - cells.data[i, FILM_LIMIT], drips_as(i, n, gap.face, cell)
            if into >= 0 and any_of(excess > 0.0):
                excess, rate = max(excess, 0.0), where(excess > 0.0, DRIP_RATE * cells.data[i, DX], 0.0)
                more = rate * (cell[i, W_T] * right[i, 0] + cell[i, W_X] * right[i, 1])
                signals[into, 0] += more
                before = temperature[i] - right[i, 0]
                signals[Q_DRIP, 0] += fluid.heat_water * (before * more + rate * excess * right[i, 0])


@kernel_part
def evaluate_slice(
    s: int,
    speed: float,
    t_air: float,
    p_air: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    count: FloatArray,
) -> tuple[float, float]:
    """Evaluate slice s with the air that reaches it; the state of the air that it hands on."""
    count[0] += 1.0
    t_out, p_out = evaluate(
        s,
        speed,
        air_density(work.now),
        t_air,
        p_air,
        abreast,
        temperature[s],
        cells,
        faces,
        gap,
        leak,
        fluid,
        work.now,
        work.known[s],
        signals[s],
        work.air[s],
    )
    return t_out, p_out


@kernel
def sweep(
    speed: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    count: FloatArray,
) -> None:
    """Evaluate all slices in flow order, each with the air that the one before hands on."""
    n_slices = temperature.shape[0]
    t_air, p_air = work.now[OUT_TEMPERATURE], work.now[OUT_VAPOUR]
    for order in range(n_slices):
        s = in_flow_order(order, n_slices, speed)
        t_air, p_air = evaluate_slice(
            s, speed, t_air, p_air, abreast, temperature, cells, faces, gap, leak, fluid, work, signals, count
        )


@kernel_part
def solve_slice(
    s: int,
    begun: int,
    turns: int,
    c: float,
    tolerance: float,
    unchecked: float,
    speed: float,
    t_in: float,
    p_in: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    settings: Settings,
    count: FloatArray,
) -> tuple[float, float, float]:
    """At most so many turns of Newton's method for slice s, beside the air that reaches it; ``begun`` came before.

    A step no larger than ``unchecked`` ends it without another evaluation: inflow and signals follow along their
    slopes, and what that leaves over, of second order in the step, stays in the ledger. Returns the size of the last
    step, not a number where it led out of all bounds, and the state of the air that the slice hands on.
    """
    size, t_out, p_out = 0.0 * temperature[s, 0], t_in, p_in
    for turn in range(turns):
        t_out, p_out = evaluate_slice(
            s, speed, t_in, p_in, abreast, temperature, cells, faces, gap, leak, fluid, work, signals, count
        )
        tries = begun + turn
        reach = 1.0 if tries < SURE_ITERATIONS else 0.25
        pressed = tolerance <= TIGHT_TOLERANCE or c < EULER_BELOW
        part = 0.5 if pressed and tries >= SURE_ITERATIONS and (tries % 2 == 0 or tries >= PATIENT_ITERATIONS) else 1.0
        size = newton_update(
            s, c, tolerance, reach, part, speed, gap.face, cells.data.shape[0], abreast, work, signals[s], settings
        )
        if all_of(size < 0.0):
            return 0.0 * size, t_out, p_out
        count[1] += 1.0
        if any_of(size != size):
            return size, t_out, p_out
        if all_of(size <= unchecked):
            t_mean, p_mean = signals[s, T_GAP, 0], signals[s, P_GAP, 0]
            follow_inflow(s, gap.face, abreast, work.known[s], work.air[s])
            follow(signals[s], gap, leak, temperature[s], cells, fluid, work.known[s], work.right, work.air[s])
            if in_one(size, t_in):
                t_out, p_out = t_out + lane(work.air[s, HANDED_T], 0), p_out + lane(work.air[s, HANDED_P], 0)
            else:
                t_out += total_of(work.air[s, RISE_T] * (signals[s, T_GAP, 0] - t_mean), t_in)
                p_out += total_of(work.air[s, RISE_P] * (signals[s, P_GAP, 0] - p_mean), p_in)
            break
    return size, t_out, p_out


@kernel
def solve_stage(
    c: float,
    tolerance: float,
    unchecked: float,
    speed: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    settings: Settings,
    count: FloatArray,
) -> tuple[bool, float]:
    """Newton's method for one stage of (1), from the state as a guess.

    The air speed follows the first iterations and is then held: a wind that nearly balances the buoyancy would
    otherwise make it jump to and fro. Slices are solved in flow order, each to its end, since only their air couples
    them; they are all solved anew where that changes the speed. Returns whether it converged, and the speed.
    """
    density = air_density(work.now)
    n_slices = temperature.shape[0]
    sliced = gap.slices > 1
    most = settings.largest_iterations * (PATIENCE if c < EULER_BELOW else 1)
    turns = most if sliced else 1
    for iteration in range(most):
        again = sliced and iteration > 0
        before = speed
        if iteration < SPEED_PASSES:
            lag = max(SPEED_LAG * unchecked, SPEED_TOLERANCE) if again else SPEED_TOLERANCE
            speed = gap_speed(speed, density, temperature, gap, work, fluid, lag)
        if again and all_of(speed == before):
            return True, speed
        size = 0.0 * temperature[0, 0]
        t_air, p_air = work.now[OUT_TEMPERATURE], work.now[OUT_VAPOUR]
        for order in range(n_slices):
            s = in_flow_order(order, n_slices, speed)
            size, t_air, p_air = solve_slice(
                s, iteration, turns, c, tolerance, unchecked, speed, t_air, p_air, abreast, temperature, cells, faces,
                gap, leak, fluid, work, signals, settings, count,
            )  # fmt: skip
            if any_of(size != size) or (sliced and any_of(size > unchecked)):
                return False, speed
        if not sliced and all_of(size <= unchecked):
            return True, speed
    return False, speed


@kernel
def air_density(now: FloatArray) -> float:
    """Density of outdoor air [kg m-3]."""
    density: float = now[PRESSURE] / (GAS_CONSTANT_AIR * (now[OUT_TEMPERATURE] + KELVIN))
    return density


@kernel
def worst_cell(n: int, work: Work) -> int:
    """The cell in which Newton's last step was largest."""
    worst, where = -1.0, 0
    for i in range(n):
        size = largest(abs(work.right[i, 0]) + 100.0 * abs(work.right[i, 1]))
        if size > worst or size != size:
            worst, where = size, i
    return where


@kernel
def share_of_allowed(abreast: Abreast, settings: Settings) -> float:
    """Largest change of state relative to the error that the settings allow; not a number where one is."""
    change = abreast.right
    per_t, per_x = 1.0 / settings.temperature_error, 1.0 / settings.water_error
    worst: float = 0.0 * change[0, 0]
    sound = worst
    for i in range(change.shape[0]):
        worst = max(max(worst, abs(change[i, 0]) * per_t), abs(change[i, 1]) * per_x)
        sound += 0.0 * (change[i, 0] + change[i, 1])
    return worst_of_cells(abreast.kinds, worst + sound)


@kernel
def step_error(s: int, dt: float, n: int, abreast: Abreast, work: Work, settings: Settings) -> float:
    """Largest error (2) of slice s relative to what the settings allow; S is the last Newton step's factored system.

    Where S has acted once and left an error that lets the longest step go on, it need not act again.
    """
    cell, right, data = abreast.known[s], abreast.right, abreast.data
    for i in range(data.shape[0]):
        right[i, 0] = dt * (ERROR_N * cell[i, HEAT_N] + ERROR_2 * cell[i, HEAT_2] + ERROR_3 * cell[i, HEAT])
        right[i, 1] = dt * (ERROR_N * cell[i, WATER_N] + ERROR_2 * cell[i, WATER_2] + ERROR_3 * cell[i, WATER_IN])
    solve(n, work.known[s], work.right)
    once = share_of_allowed(abreast, settings)
    if dt >= settings.interval and all_of(once < AS_LONG):
        return once
    for i in range(data.shape[0]):
        dx, d_t, d_x = data[i, DX], right[i, 0], right[i, 1]
        right[i, 0] = dx * (cell[i, ENTHALPY_T] * d_t + cell[i, ENTHALPY_X] * d_x)
        right[i, 1] = dx * (cell[i, W_T] * d_t + cell[i, W_X] * d_x)
    solve(n, work.known[s], work.right)
    return share_of_allowed(abreast, settings)


@kernel
def between(k: int, share: float, forcing: FloatArray, work: Work) -> None:
    """Boundary conditions at a share of hour k: straight between its ends, but rain is that of the hour."""
    for m in range(N_FORCING):
        work.now[m] = forcing[k, m] + share * (forcing[k + 1, m] - forcing[k, m])
    work.now[RAIN] = forcing[k + 1, RAIN]
    work.now[RAIN_DEFECT] = forcing[k + 1, RAIN_DEFECT]


@kernel
def set_out(dt: float, share: float, trend: float, abreast: Abreast) -> None:
    """Remember the start of a step; right side of the first stage of (1) and a guess at its end.

    ``share`` is b, of an Euler step 0. The inflow at t is at hand. The guess goes on by ``trend`` of the step before.
    """
    temperature, x, known = abreast.temperature, abreast.x, abreast.known
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            heat, water = known[s, i, HEAT], known[s, i, WATER_IN]
            known[s, i, HEAT_N], known[s, i, WATER_N] = heat, water
            known[s, i, BASE_HEAT] = known[s, i, HELD_HEAT] + share * dt * heat
            known[s, i, BASE_WATER] = known[s, i, HELD_WATER] + share * dt * water
            t, x_0 = temperature[s, i], x[s, i]
            temperature[s, i] += trend * (t - known[s, i, TEMPERATURE_N])
            x[s, i] = max(max(x_0 + trend * (x_0 - known[s, i, X_N]), 0.2 * x_0), X_LOWEST)
            known[s, i, TEMPERATURE_N], known[s, i, X_N] = t, x_0


@kernel
def go_on(dt: float, share: float, abreast: Abreast) -> None:
    """Right side of the last stage of (1), and a guess: on by a share of the way from the start to the first stage."""
    temperature, x, known = abreast.temperature, abreast.x, abreast.known
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            heat, water = known[s, i, HEAT], known[s, i, WATER_IN]
            known[s, i, HEAT_2], known[s, i, WATER_2] = heat, water
            known[s, i, BASE_HEAT] = known[s, i, HELD_HEAT] + E * dt * (known[s, i, HEAT_N] + heat)
            known[s, i, BASE_WATER] = known[s, i, HELD_WATER] + E * dt * (known[s, i, WATER_N] + water)
            x_2 = x[s, i]
            temperature[s, i] += share * (temperature[s, i] - known[s, i, TEMPERATURE_N])
            x[s, i] = max(max(x_2 + share * (x_2 - known[s, i, X_N]), 0.2 * x_2), X_LOWEST)


@kernel
def go_back(abreast: Abreast) -> None:
    """Return to the start of the step."""
    temperature, x, known = abreast.temperature, abreast.x, abreast.known
    for s in range(temperature.shape[0]):
        for i in range(temperature.shape[1]):
            temperature[s, i], x[s, i] = known[s, i, TEMPERATURE_N], known[s, i, X_N]


@kernel
def settle(dt: float, fresh: bool, last: bool, abreast: Abreast) -> bool:
    """Decide how much of the ledger this step must make good; returns whether anything stays set aside.

    What Newton's method left over in long steps may be more than a cell can take up, or has, in a short one. Where the
    state was evaluated anew (``fresh``: steps had to be cut), a short step therefore starts from what the state holds
    and from a share of the rest, in proportion to its length; what is set aside follows in the next steps. Nor can a
    film that has all but dried out give back at once what it owes: it gives half of what it holds and of what can come
    in as long as it is dry.
    """
    known, data = abreast.known, abreast.data
    share, stays = 1.0 if last else min(dt / RELEASE, 1.0), False
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            dx = data[i, DX]
            held = dx * known[s, i, W] if fresh and share < 1.0 else known[s, i, HELD_WATER]
            reserve = held + dt * (known[s, i, WATER_IN] - known[s, i, MID + 3] * known[s, i, U])
            most = math.inf + 0.0 * dx if last else max(0.5 * reserve, 0.0)
            if fresh and share < 1.0:
                heat = known[s, i, HELD_HEAT] + known[s, i, ASIDE_HEAT] - dx * known[s, i, ENTHALPY]
                water = known[s, i, HELD_WATER] + known[s, i, ASIDE_WATER] - dx * known[s, i, W]
                now = max(share * water, -most)
                known[s, i, ASIDE_HEAT] = (1.0 - share) * heat
                known[s, i, ASIDE_WATER] = water - now
                known[s, i, HELD_HEAT] = dx * known[s, i, ENTHALPY] + share * heat
                known[s, i, HELD_WATER] = held + now
            else:
                heat, water = share * known[s, i, ASIDE_HEAT], max(share * known[s, i, ASIDE_WATER], -most)
                known[s, i, HELD_HEAT] += heat
                known[s, i, HELD_WATER] += water
                known[s, i, ASIDE_HEAT] -= heat
                known[s, i, ASIDE_WATER] -= water
            stays = stays or any_of((known[s, i, ASIDE_HEAT] != 0.0) | (known[s, i, ASIDE_WATER] != 0.0))
    return stays


@kernel
def accept(
    dt: float, weight: float, last: float, k: int, interval: float, abreast: Abreast, work: Work, record: Record
) -> None:
    """Carry the ledger over the step and add its fluxes to the hour's means.

    ``weight`` is that of the first two inflows, ``last`` that of the last one.
    """
    known = abreast.known
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            known[s, i, HELD_HEAT] = known[s, i, BASE_HEAT] + last * dt * known[s, i, HEAT]
            known[s, i, HELD_WATER] = known[s, i, BASE_WATER] + last * dt * known[s, i, WATER_IN]
        for m in range(N_FLUXES):
            early = work.signals[0, s, m, 0] + work.signals[1, s, m, 0]
            record.fluxes[k, s, m] += dt / interval * (weight * early + last * work.signals[2, s, m, 0])
        for m in range(N_SIGNALS):
            work.signals[0, s, m, 0] = work.signals[2, s, m, 0]


@kernel
def write_hour(k: int, speed: float, abreast: Abreast, fluid: Fluid, work: Work, record: Record) -> None:
    """Results at the end of hour k."""
    record.speed[k] = speed
    temperature, x = abreast.temperature, abreast.x
    for s in range(temperature.shape[0]):
        for i in range(temperature.shape[1]):
            keep(record.temperature, k, s, i, temperature[s, i])
            _, _, x_ice, x_ice_T, _, _ = air_at(fluid, temperature[s, i])
            u, w, ice, _, _, _ = water_in_cell(i, temperature[s, i], x[s, i], x_ice, x_ice_T, abreast, fluid)
            keep(record.activity, k, s, i, u[0])
            keep(record.water, k, s, i, w[0])
            keep(record.ice, k, s, i, ice[0])
        for m in range(N_SIGNALS - T_OUTER):
            record.air[k, s, m] = work.signals[0, s, T_OUTER + m, 0]


@kernel
def store(which: int, cells: Cells, work: Work, record: Record) -> None:
    """Heat and water per area in each slice, at the start (0) or at the end (1)."""
    for s in range(record.stored.shape[1]):
        cell = work.known[s]
        for i in range(cells.data.shape[0]):
            record.stored[which, s, 0] += cells.data[i, DX] * cell[i, ENTHALPY]
            record.stored[which, s, 1] += cells.data[i, DX] * cell[i, W]


@kernel
def open_ledger(abreast: Abreast) -> None:
    """The ledger of each cell starts with what it holds."""
    known = abreast.known
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            dx = abreast.data[i, DX]
            known[s, i, HELD_HEAT], known[s, i, HELD_WATER] = dx * known[s, i, ENTHALPY], dx * known[s, i, W]


@kernel
def integrated(
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    forcing: FloatArray,
    work: Work,
    record: Record,
    settings: Settings,
) -> tuple[int, int, int, float]:
    """All hours of the forcing, as `run` has it."""
    n_hours, n_slices, n, interval = forcing.shape[0] - 1, temperature.shape[0], cells.data.shape[0], settings.interval
    between(0, 0.0, forcing, work)
    for s in range(n_slices):
        cell_states(s, abreast, fluid)
    open_ledger(abreast)
    store(0, cells, work, record)
    wish, speed, before, euler_below = FIRST_STEP, 0.0 * work.now[OUT_TEMPERATURE], math.inf, 0.0
    fresh, aside = True, False
    for k in range(n_hours):
        done = 0.0
        count = record.counts[k]
        fresh = fresh or any_of(
            (forcing[k + 1, RAIN] != forcing[k, RAIN]) | (forcing[k + 1, RAIN_DEFECT] != forcing[k, RAIN_DEFECT])
        )
        while done < interval:
            left = interval - done
            dt = left if wish >= left else min(wish, 0.5 * left)  # never leave a splinter before the hour
            last = k == n_hours - 1 and dt == left
            tolerance, unchecked = (TIGHT_TOLERANCE, 0.0) if last else (settings.newton, settings.unchecked)
            if fresh:  # otherwise the step starts where the one before ended
                between(k, done / interval, forcing, work)
                speed = gap_speed(speed, air_density(work.now), temperature, gap, work, fluid, SPEED_TOLERANCE)
                sweep(speed, abreast, temperature, cells, faces, gap, leak, fluid, work, work.signals[0], count)
                before = math.inf
            if fresh or aside:
                aside = settle(dt, fresh, last, abreast)
            fresh = False
            euler = dt < euler_below
            trend = 0.0 if euler else A * FORESIGHT * dt / before
            set_out(dt, 0.0 if euler else B, trend, abreast)
            good, error = True, 0.0
            if not euler:
                between(k, (done + A * dt) / interval, forcing, work)
                good, speed = solve_stage(
                    B * dt, settings.newton, settings.unchecked, speed, abreast, temperature, cells, faces, gap, leak,
                    fluid, work, work.signals[1], settings, count,
                )  # fmt: skip
                if good:
                    go_on(dt, (1.0 - A) / A, abreast)
            if good:
                between(k, (done + dt) / interval, forcing, work)
                good, speed = solve_stage(
                    (1.0 if euler else B) * dt, tolerance, unchecked, speed, abreast, temperature, cells, faces, gap,
                    leak, fluid, work, work.signals[2], settings, count,
                )  # fmt: skip
            if good and not euler:
                for s in range(n_slices):
                    share = step_error(s, dt, n, abreast, work, settings)
                    error += largest(total_of(work.air[s, ACTIVE] * share * share, speed))
                error = math.sqrt(error / gap.slices)
                good = error == error
            if not good or (error > 1.0 and dt > settings.finest_step):
                go_back(abreast)
                fresh = True
                count[2] += 1.0
                wish = dt * (0.25 if not good else max(0.2, min(0.5, 0.85 * error ** (-1.0 / 3.0))))
                if not good and wish < EULER_BELOW:
                    euler_below = EULER_BELOW
                if wish < settings.smallest_step:
                    return NO_CONVERGENCE, k, worst_cell(n, work), dt
                continue
            accept(dt, 0.0 if euler else E, 1.0 if euler else B, k, interval, abreast, work, record)
            before = dt
            done = interval if dt == left else done + dt
            longer = 4.0 if euler else min(4.0, 0.85 * max(error, 1e-6) ** (-1.0 / 3.0))
            wish = min(interval, max(dt * longer, settings.finest_step))
            euler_below = 0.0
        write_hour(k, speed, abreast, fluid, work, record)
    store(1, cells, work, record)
    return OK, n_hours, 0, 0.0


@entrance
def run(
    temperature: FloatArray,
    x: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    forcing: FloatArray,
    work: Work,
    record: Record,
    settings: Settings,
) -> tuple[int, int, int, float]:
    """Integrate over all hours of the forcing.

    Parameters
    ----------
    temperature, x : ndarray, shape (n_slices, n)
        State; start on entry, end on return.
    forcing : ndarray, shape (n_hours + 1, N_FORCING)
        Boundary conditions at the ends of the hours, the start first; rain is the mean of the hour before.
    record : Record
        Filled with the results.

    Returns
    -------
    status, hour, cell : int
        OK, or what went wrong, in which hour and cell.
    step : float
        Size of the step that failed. [s]
    """
    abreast = one_by_one(temperature, x, cells, faces, work)
    return integrated(
        share(abreast), temperature, share(cells), share(faces), share(gap), share(leak), share(fluid), forcing,
        share(work), share(record), share(settings),
    )  # fmt: skip


@kernel_part
def one_by_one(temperature: FloatArray, x: FloatArray, cells: Cells, faces: Faces, work: Work) -> Abreast:
    """The cells as loops see them where they are taken one by one."""
    return Abreast(
        temperature, x, work.known, work.right, cells.data, cells.kinds, cells.tables, faces.data[1:], faces.kinds[1:],
        faces.sheet_tables,
    )  # fmt: skip
