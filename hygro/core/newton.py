"""One step of Newton's method for the cells of a slice."""

from __future__ import annotations

import math

from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    ARRIVES_P,
    ARRIVES_T,
    BASE_HEAT,
    BASE_WATER,
    DX,
    ENTHALPY,
    ENTHALPY_T,
    HANDED_P,
    HANDED_T,
    HEAT,
    ICE,
    INLET_P,
    INLET_T,
    INNER_G_P,
    INNER_Q_P,
    INNER_Q_T,
    MID,
    ONSET,
    OUTER_G_P,
    OUTER_Q_P,
    OUTER_Q_T,
    P_GAP,
    RISE_P,
    RISE_T,
    T_GAP,
    W_X,
    WATER_IN,
    Abreast,
    Cells,
    FloatArray,
    W,
)
from hygro.core.follow import along_slopes
from hygro.core.lanes import (
    WIDTH,
    all_cells,
    all_of,
    any_of,
    in_one,
    lane,
    largest,
    no,
    where,
    with_lane,
    worst_of_cells,
)
from hygro.core.potential import X_LOWEST
from hygro.core.tables import FREEZING_SPAN
from hygro.core.tridiagonal import factor, solve, substitute
from hygro.core.work import Settings, Work

COORDINATE_SCALE = 0.03  # [1] change of the moisture coordinate that counts like one kelvin
PER_COORDINATE_SCALE = 1.0 / COORDINATE_SCALE
# Where slopes serve another stage, whose state lies further off: change of the coordinate that counts like one kelvin,
# since storage curves bend, and how many times as long a change of temperature counts where there is ice; by trial.
PER_SCALE_ALONG, BENDS_IN_T = 1.0 / 0.005, 8.0
DAMP_FROM = 1.25  # [1] coordinate from which on pore water freezes within FREEZING_SPAN
PAST_FREEZING, PAST_ONSET = 0.02, 0.01  # [K], [1] how far past a kink a Newton step stops
ROUND_OFF = 1e-14  # [1] of what is balanced; no left-over can be asked to be smaller
COLDEST_STATE, WARMEST_STATE = -95.0, 300.0


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
def length_of(d_t: float, d_x: float) -> float:
    """Length of a change of state, in kelvin or as many COORDINATE_SCALE."""
    return max(abs(d_t), abs(d_x) * PER_COORDINATE_SCALE)


@kernel_part
def length_along(d_t: float, d_x: float, ice: float) -> float:
    """The same of a change from a state, with so much ice, at which slopes were taken that serve another stage."""
    return max(where(ice > 0.0, BENDS_IN_T, 1.0) * abs(d_t), abs(d_x) * PER_SCALE_ALONG)


@kernel
def air_that_arrives(s: int, c: float, n: int, gap_at: int, speed: float, signals: FloatArray, work: Work) -> None:
    """By how much a Newton step changes the air that reaches each of the slices in lanes, and that leaves the last.

    The step of a slice is its own, for air that stays as it is, and its responses to a change of the air's temperature
    and vapour pressure; the air that it hands on changes with its mean state in the gap. So the changes follow from
    slice to slice, and the step is the one of all slices at once.
    """
    i, j = gap_at - 1, gap_at
    air, right, by_t, by_p = work.air[s], work.right, work.by_t, work.by_p
    for m in range(n):
        by_t[m, 0], by_t[m, 1], by_p[m, 0], by_p[m, 1] = 0.0, 0.0, 0.0, 0.0
    by_t[i, 0], by_t[j, 0] = c * air[OUTER_Q_T], c * air[INNER_Q_T]
    by_p[i, 0], by_p[i, 1], by_p[j, 0], by_p[j, 1] = (
        c * air[OUTER_Q_P], c * air[OUTER_G_P], c * air[INNER_Q_P], c * air[INNER_G_P],
    )  # fmt: skip
    solve(n, work.rows[s], by_t, by_p)
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
    abreast: Abreast,
    cells: Cells,
    work: Work,
    signals: FloatArray,
    settings: Settings,
) -> float:
    """One Newton step of slice s on  dx M(Y) - c F(Y) = base; returns its size, in kelvin or COORDINATE_SCALE.

    Only ``part`` of the step is taken, and no more than ``reach`` of the longest allowed. A step that was cut short is
    returned as endless, one that led out of all bounds as not a number. Where what is left over is small in terms of
    the state already, no step is taken and its size is negative.
    """
    n, cell, right, kinds = cells.data.shape[0], abreast.known[s], abreast.right, abreast.kinds
    zero = 0.0 * cell[0, W]
    balanced = zero == zero
    allowed_t, allowed_x = tolerance * settings.temperature_error, tolerance * settings.water_error
    for i in range(kinds.shape[0]):
        dx = abreast.data[i, DX]
        base_heat, base_water = cell[i, BASE_HEAT], cell[i, BASE_WATER]
        gain_heat, gain_water = c * cell[i, HEAT], c * cell[i, WATER_IN]
        heat = base_heat + gain_heat - dx * cell[i, ENTHALPY]
        water = base_water + gain_water - dx * cell[i, W]
        heat_t, water_x = dx * cell[i, ENTHALPY_T] - c * cell[i, MID], dx * cell[i, W_X] - c * cell[i, MID + 3]
        least_heat = ROUND_OFF * (abs(base_heat) + abs(gain_heat) + dx * 1e3)
        least_water = ROUND_OFF * (abs(base_water) + abs(gain_water))
        balanced = balanced & (abs(heat) <= allowed_t * heat_t + least_heat)
        balanced = balanced & (abs(water) <= allowed_x * water_x + least_water)
        right[i, 0], right[i, 1] = heat, water
    small, none = all_cells(kinds, balanced), 0.0 * work.right[0, 0]
    factor(n, c, cells.data, work.known[s], work.rows[s], work.right)
    size: float = where(small, -1.0, where(part == 1.0, 0.0, math.inf)) + none
    if all_of(small):
        return size
    substitute(n, work.rows[s], work.right, None)
    return take_step(s, c, small, size, reach, part, False, speed, gap_at, n, abreast, work, signals)


@kernel
def step_along_slopes(
    s: int, c: float, speed: float, gap_at: int, n: int, abreast: Abreast, work: Work, signals: FloatArray
) -> float:
    """The same from the state of the last evaluation, with the system that was factored there.

    The system lacks what has changed since in the slopes of borders and gap. What that leaves over is of second order
    in the step, like what the slopes themselves leave over.
    """
    cell, right = abreast.known[s], abreast.right
    for i in range(abreast.kinds.shape[0]):
        dx = abreast.data[i, DX]
        right[i, 0] = cell[i, BASE_HEAT] + c * cell[i, HEAT] - dx * cell[i, ENTHALPY]
        right[i, 1] = cell[i, BASE_WATER] + c * cell[i, WATER_IN] - dx * cell[i, W]
    solve(n, work.rows[s], work.right, None)
    none = 0.0 * work.known[s][0, W]
    return take_step(s, c, none != none, none, 1.0, 1.0, True, speed, gap_at, n, abreast, work, signals)


@kernel
def take_step(
    s: int,
    c: float,
    small: bool,
    size: float,
    reach: float,
    part: float,
    carries: bool,
    speed: float,
    gap_at: int,
    n: int,
    abreast: Abreast,
    work: Work,
    signals: FloatArray,
) -> float:
    """Move slice s by the step that was solved for, as `newton_update` has it; ``size`` is the least returned."""
    cell, right, kinds = abreast.known[s], abreast.right, abreast.kinds
    temperature, x = abreast.temperature[s], abreast.x[s]
    zero, none = 0.0 * cell[0, W], 0.0 * work.known[s][0, W]
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
        length = length_along(d_t, d_x, cell[i, ICE]) if carries else length_of(d_t, d_x)
        largest_step = max(largest_step, length)
        largest_step = where(whole, largest_step, math.inf)
        temperature[i], x[i] = where(small, temperature[i], t_new), where(small, x[i], x_new)
    return where(small, size, max(size, worst_of_cells(kinds, largest_step)))


@kernel
def worst_cell(n: int, work: Work) -> int:
    """The cell in which Newton's last step was largest."""
    worst, where = -1.0, 0
    for i in range(n):
        size = largest(abs(work.right[i, 0]) + 100.0 * abs(work.right[i, 1]))
        if size > worst or size != size:
            worst, where = size, i
    return where
