"""What follows along the slopes from a step of the cells: inflow, fluxes over borders, states of surfaces and air."""

from __future__ import annotations

from hygro.core._jit import kernel, kernel_part
from hygro.core.borders import any_sheds, drips_as
from hygro.core.bundles import (
    ARRIVES_P,
    ARRIVES_T,
    BASE_HEAT,
    BASE_WATER,
    DX,
    FILM_LIMIT,
    G_GAP,
    G_IN,
    G_LEAK,
    G_OUT,
    G_RAIN,
    G_RUNOFF,
    HEAT,
    INLET_P,
    INLET_T,
    INNER_G_P,
    INNER_Q_P,
    INNER_Q_T,
    LOW,
    MID,
    OUTER_G_P,
    OUTER_Q_P,
    OUTER_Q_T,
    P_GAP,
    Q_DRIP,
    Q_GAP,
    Q_IN,
    Q_LEAK,
    Q_OUT,
    T_GAP,
    T_INNER,
    T_OUTER,
    TEMPERATURE_AT,
    UPP,
    W_T,
    W_X,
    WATER_IN,
    Abreast,
    Cells,
    FloatArray,
    Fluid,
    Leak,
    W,
)
from hygro.core.faces import DRIP_RATE
from hygro.core.lanes import any_of, inner_of, outer_of, where


@kernel_part
def along_slopes(signal: FloatArray, a_T: float, a_x: float, b_T: float, b_x: float) -> float:
    """Change of a signal with the states of the two cells that it depends on."""
    change: float = signal[1] * a_T + signal[2] * a_x + signal[3] * b_T + signal[4] * b_x
    return change


@kernel_part
def follow_cell(signals: FloatArray, followed: FloatArray, m: int, right: FloatArray, i: int) -> None:
    """Add to ``followed`` what a step changes in a signal that depends on cell i alone."""
    followed[m, 0] += signals[m, 1] * right[i, 0] + signals[m, 2] * right[i, 1]


@kernel
def follow_cells(s: int, of_base: bool, share: float, abreast: Abreast) -> None:
    """Add a share of what a step changes in the inflow of all cells, along slopes, to this or to the BASE of the stage.

    What crosses a face is taken from one cell and given to the next to the last digit, however well the system was
    solved.
    """
    known, right, kinds = abreast.known[s], abreast.right, abreast.kinds
    last = kinds.shape[0] - 1
    heat, water = (BASE_HEAT, BASE_WATER) if of_base else (HEAT, WATER_IN)
    for i in range(last + 1):
        before, after = max(i - 1, 0), min(i + 1, last)  # a border cell has no slopes over what would lie beyond
        d_t, d_x = right[i, 0], right[i, 1]
        outer_t, outer_x = outer_of(kinds, right[before, 0], d_t), outer_of(kinds, right[before, 1], d_x)
        inner_t, inner_x = inner_of(kinds, d_t, right[after, 0]), inner_of(kinds, d_x, right[after, 1])
        known[i, heat] += share * (
            known[i, MID] * d_t + known[i, MID + 1] * d_x
            + known[i, LOW] * outer_t + known[i, LOW + 1] * outer_x
            + known[i, UPP] * inner_t + known[i, UPP + 1] * inner_x
        )  # fmt: skip
        known[i, water] += share * (
            known[i, MID + 2] * d_t + known[i, MID + 3] * d_x
            + known[i, LOW + 2] * outer_t + known[i, LOW + 3] * outer_x
            + known[i, UPP + 2] * inner_t + known[i, UPP + 3] * inner_x
        )  # fmt: skip


@kernel_part
def follow_air(gap_at: int, cell: FloatArray, air: FloatArray) -> None:
    """Bring the inflow of the cells on either side of the gap to the air that a Newton step lets arrive."""
    t_in, p_in = air[ARRIVES_T], air[ARRIVES_P]
    cell[gap_at - 1, HEAT] += air[OUTER_Q_T] * t_in + air[OUTER_Q_P] * p_in
    cell[gap_at - 1, WATER_IN] += air[OUTER_G_P] * p_in
    cell[gap_at, HEAT] += air[INNER_Q_T] * t_in + air[INNER_Q_P] * p_in
    cell[gap_at, WATER_IN] += air[INNER_G_P] * p_in


@kernel
def follow_states(signals: FloatArray, gap_at: int, right: FloatArray, n: int, t_in: float, p_in: float) -> None:
    """Bring the states of surfaces and air along their slopes, for a step and so much of a change of arriving air."""
    follow_cell(signals, signals, T_OUTER, right, 0)
    follow_cell(signals, signals, T_INNER, right, n - 1)
    if gap_at >= 0:
        i, j = gap_at - 1, gap_at
        for m in (T_GAP, P_GAP):
            signals[m, 0] += signals[m, INLET_T] * t_in + signals[m, INLET_P] * p_in
            signals[m, 0] += along_slopes(signals[m], right[i, 0], right[i, 1], right[j, 0], right[j, 1])


@kernel
def follow_fluxes(
    s: int,
    abreast: Abreast,
    signals: FloatArray,
    followed: FloatArray,
    gap_at: int,
    leak: Leak,
    cells: Cells,
    fluid: Fluid,
    cell: FloatArray,
    right: FloatArray,
    t_in: float,
    p_in: float,
) -> None:
    """Add to the fluxes ``followed`` what a step, and so much of a change of arriving air, changes along their slopes.

    These are those of ``signals``, at the state of the last evaluation.
    """
    n = cells.data.shape[0]
    for m in (Q_OUT, G_OUT, G_RAIN, G_RUNOFF):
        follow_cell(signals, followed, m, right, 0)
    for m in (Q_IN, G_IN):
        follow_cell(signals, followed, m, right, n - 1)
    if leak.cell >= 0:
        for m in (Q_LEAK, G_LEAK):
            follow_cell(signals, followed, m, right, leak.cell)
    if gap_at >= 0:
        i, j = gap_at - 1, gap_at
        for m in (Q_GAP, G_GAP):
            followed[m, 0] += signals[m, INLET_T] * t_in + signals[m, INLET_P] * p_in
            followed[m, 0] += along_slopes(signals[m], right[i, 0], right[i, 1], right[j, 0], right[j, 1])
    if any_sheds(s, abreast):
        for i in range(n):
            excess, into = cell[i, W] - cells.data[i, FILM_LIMIT], drips_as(i, n, gap_at, cell)
            if into >= 0 and any_of(excess > 0.0):
                excess, rate = max(excess, 0.0), where(excess > 0.0, DRIP_RATE * cells.data[i, DX], 0.0)
                more = rate * (cell[i, W_T] * right[i, 0] + cell[i, W_X] * right[i, 1])
                followed[into, 0] += more
                followed[Q_DRIP, 0] += fluid.heat_water * (cell[i, TEMPERATURE_AT] * more + rate * excess * right[i, 0])
