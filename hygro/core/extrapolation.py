"""The error of a step, and its end without it; (2) and (3) of `integrate`."""

from __future__ import annotations

from hygro.core._jit import kernel
from hygro.core.bundles import (
    ARRIVES_T,
    BASE_HEAT,
    BASE_WATER,
    DX,
    ENTHALPY_T,
    ENTHALPY_X,
    ERROR_HEAT,
    ERROR_WATER,
    G_GAP,
    HEAT,
    HEAT_2,
    HEAT_N,
    INNER_G_V,
    INNER_Q_V,
    N_FLUXES,
    ONCE_T,
    ONCE_X,
    ONSET,
    OUTER_G_V,
    OUTER_Q_V,
    Q_GAP,
    W_T,
    W_X,
    WATER_2,
    WATER_IN,
    WATER_N,
    Abreast,
    Cells,
    Fluid,
    GapSide,
    Leak,
)
from hygro.core.follow import follow_cells, follow_fluxes, follow_states
from hygro.core.gap import losses
from hygro.core.lanes import all_cells, all_of, any_of, no, where, worst_of_cells
from hygro.core.newton import at_kinks
from hygro.core.step import A, B, E
from hygro.core.tridiagonal import solve
from hygro.core.work import Settings, Work

ERROR_N, ERROR_2, ERROR_3 = (4.0 * E - 1.0) / 3.0, -1.0 / 3.0, 2.0 * B / 3.0


@kernel
def mean_size(gap: GapSide, density: float, before: float, after: float) -> float:
    """Mean size of a speed between two stages, where it turns round while its pressure changes evenly; laminar."""
    local, friction = losses(gap, density)
    one, other = abs(before), abs(after)
    pressures = local * (one * one + other * other) + friction * (one + other)
    ways = 2.0 / 3.0 * local * (one * one * one + other * other * other) + 0.5 * friction * (one * one + other * other)
    turns = before * after < 0.0
    return where(turns, ways / where(turns, pressures, 1.0), 0.5 * (one + other))


@kernel
def excess_in_turning(gap: GapSide, density: float, start: float, first: float, end: float) -> float:
    """By how much (3) makes the mean size of a speed too large that turns round in a step, where it has a kink."""
    turns = (start * first < 0.0) | (first * end < 0.0)
    if no(any_of(turns)):
        return 0.0 * start
    formula = (E - ERROR_N) * abs(start) + (E - ERROR_2) * abs(first) + (B - ERROR_3) * abs(end)
    mean = A * mean_size(gap, density, start, first) + (1.0 - A) * mean_size(gap, density, first, end)
    return where(turns, formula - mean, 0.0)


@kernel
def solve_error(s: int, dt: float, excess: float, gap_at: int, n: int, abreast: Abreast, work: Work) -> None:
    """The error (2) of slice s, by the last Newton step's factored system; what `look_ahead` wrote is solved beside.

    To it belongs what the air of a gap has exchanged too much, since it was taken to go `excess` metres further than it
    did while it turned round.
    """
    cell, right, data = abreast.known[s], abreast.right, abreast.data
    for i in range(data.shape[0]):
        heat = dt * (ERROR_N * cell[i, HEAT_N] + ERROR_2 * cell[i, HEAT_2] + ERROR_3 * cell[i, HEAT])
        water = dt * (ERROR_N * cell[i, WATER_N] + ERROR_2 * cell[i, WATER_2] + ERROR_3 * cell[i, WATER_IN])
        right[i, 0], right[i, 1] = heat, water
        cell[i, ERROR_HEAT], cell[i, ERROR_WATER] = heat, water
    if gap_at >= 0 and any_of(excess != 0.0):
        single, side, air = work.known[s], work.right, work.air[s]
        for i, q_v, g_v in (
            (gap_at - 1, air[OUTER_Q_V], air[OUTER_G_V]),
            (gap_at, air[INNER_Q_V], air[INNER_G_V]),
        ):
            single[i, ERROR_HEAT] += q_v * excess
            single[i, ERROR_WATER] += g_v * excess
            side[i, 0], side[i, 1] = single[i, ERROR_HEAT], single[i, ERROR_WATER]
    solve(n, work.rows[s], work.right, work.ahead[s])
    for i in range(data.shape[0]):
        dx, d_t, d_x = data[i, DX], right[i, 0], right[i, 1]
        cell[i, ONCE_T], cell[i, ONCE_X] = d_t, d_x
        right[i, 0] = dx * (cell[i, ENTHALPY_T] * d_t + cell[i, ENTHALPY_X] * d_x)
        right[i, 1] = dx * (cell[i, W_T] * d_t + cell[i, W_X] * d_x)
    solve(n, work.rows[s], work.right, None)


@kernel
def extrapolate(
    s: int,
    dt: float,
    excess: float,
    last: bool,
    abreast: Abreast,
    cells: Cells,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    settings: Settings,
) -> float:
    """Take the error (2) off the end of the step in slice s, (3); returns the largest relative to what is allowed.

    That is not a number where the error is none. An error that is larger than allowed stays, and one that reaches over
    a kink of the storage curves, and that of the ``last`` step of a run, which is solved to round-off.
    """
    cell, right, kinds = abreast.known[s], abreast.right, abreast.kinds
    temperature, x = abreast.temperature[s], abreast.x[s]
    n = cells.data.shape[0]
    solve_error(s, dt, excess, gap.face, n, abreast, work)
    per_t, per_x = 1.0 / settings.temperature_error, 1.0 / settings.water_error
    worst: float = 0.0 * right[0, 0]
    sound, smooth = worst, worst == worst
    for i in range(kinds.shape[0]):
        d_t, d_x = right[i, 0], right[i, 1]
        worst = max(max(worst, abs(d_t) * per_t), abs(d_x) * per_x)
        sound += 0.0 * (d_t + d_x)
        _, _, whole = at_kinks(temperature[i], -d_t, x[i], -d_x, abreast.data[i, ONSET], 1.0)
        smooth = smooth & whole
    share = worst_of_cells(kinds, worst + sound)
    taken = all_cells(kinds, smooth) & (share <= 1.0)
    if last or all_of(no(taken)):
        return share
    start, first, end, added = work.signals[0, s], work.signals[1, s], work.signals[2, s], work.signals[3, s]
    none = 0.0 * work.air[s, ARRIVES_T]
    for i in range(kinds.shape[0]):
        right[i, 0], right[i, 1] = where(taken, -right[i, 0], 0.0), where(taken, -right[i, 1], 0.0)
    follow_states(end, gap.face, work.right, n, none, none)
    for i in range(kinds.shape[0]):
        temperature[i], x[i] = temperature[i] + right[i, 0], x[i] + right[i, 1]
        right[i, 0] -= where(taken, cell[i, ONCE_T], 0.0)
        right[i, 1] -= where(taken, cell[i, ONCE_X], 0.0)
        cell[i, BASE_HEAT] -= where(taken, cell[i, ERROR_HEAT], 0.0)
        cell[i, BASE_WATER] -= where(taken, cell[i, ERROR_WATER], 0.0)
    follow_cells(s, True, B * dt, abreast)
    for m in range(N_FLUXES):
        error = ERROR_N * start[m, 0] + ERROR_2 * first[m, 0] + ERROR_3 * end[m, 0]
        added[m, 0] = where(taken, -error / B, 0.0)
    if gap.face >= 0:
        air, per_way = work.air[s], where(taken, excess / (B * dt), 0.0)
        added[Q_GAP, 0] -= per_way * (air[OUTER_Q_V] + air[INNER_Q_V])
        added[G_GAP, 0] -= per_way * (air[OUTER_G_V] + air[INNER_G_V])
    follow_fluxes(s, abreast, end, added, gap.face, leak, cells, fluid, work.known[s], work.right, none, none)
    return share
