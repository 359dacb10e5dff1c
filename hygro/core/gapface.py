"""Heat and vapour between the two faces of a vent gap and its air, with all slopes; see `gap` for the equations."""

from __future__ import annotations

from hygro.core._jit import kernel, kernel_part
from hygro.core.borders import put, side_conductance
from hygro.core.bundles import (
    ACTIVE,
    G_GAP,
    HEAT,
    IN_TEMPERATURE,
    IN_VAPOUR,
    INLET_P,
    INLET_T,
    INNER_G_P,
    INNER_G_V,
    INNER_K,
    INNER_Q_P,
    INNER_Q_T,
    INNER_Q_V,
    LOW,
    MID,
    OUTER_G_P,
    OUTER_G_V,
    OUTER_K,
    OUTER_Q_P,
    OUTER_Q_T,
    OUTER_Q_V,
    P_GAP,
    P_T,
    P_X,
    PRESSURE,
    Q_GAP,
    R_Q,
    R_Q_T,
    R_Q_X,
    RISE_P,
    RISE_T,
    SHEET,
    SPEED_T,
    T_GAP,
    UPP,
    WATER_IN,
    Faces,
    FloatArray,
    Fluid,
    GapSide,
    P,
)
from hygro.core.gap import LEWIS_FACTOR, exchange, film_coefficient, radiation_coefficient
from hygro.core.lanes import any_of, first_of, second_of, twins, where


@kernel_part
def add_left(cell: FloatArray, i: int, q: tuple[float, ...], g: tuple[float, ...]) -> None:
    """Take heat and water fluxes (value, slopes T_i, x_i, T_j, x_j) out of the cell on their left; j = i + 1."""
    cell[i, HEAT] -= q[0]
    cell[i, WATER_IN] -= g[0]
    cell[i, MID] -= q[1]
    cell[i, MID + 1] -= q[2]
    cell[i, MID + 2] -= g[1]
    cell[i, MID + 3] -= g[2]
    cell[i, UPP], cell[i, UPP + 1], cell[i, UPP + 2], cell[i, UPP + 3] = -q[3], -q[4], -g[3], -g[4]


@kernel_part
def add_right(cell: FloatArray, j: int, q: tuple[float, ...], g: tuple[float, ...]) -> None:
    """Give heat and water fluxes (value, slopes T_i, x_i, T_j, x_j) to the cell on their right; i = j - 1."""
    cell[j, HEAT] += q[0]
    cell[j, WATER_IN] += g[0]
    cell[j, LOW], cell[j, LOW + 1], cell[j, LOW + 2], cell[j, LOW + 3] = q[1], q[2], g[1], g[2]
    cell[j, MID] += q[3]
    cell[j, MID + 1] += q[4]
    cell[j, MID + 2] += g[3]
    cell[j, MID + 3] += g[4]


@kernel
def gap_face(
    speed: float,
    density: float,
    t_inlet: float,
    p_inlet: float,
    leak: float,
    through: float,
    temperature: FloatArray,
    faces: Faces,
    gap: GapSide,
    fluid: Fluid,
    now: FloatArray,
    cell: FloatArray,
    signals: FloatArray,
    air: FloatArray,
) -> tuple[float, float]:
    """Heat and vapour between the gap's two faces and its air; returns the air's state at the slice's outlet."""
    j = gap.face
    i = j - 1
    t_i, t_j = temperature[i], temperature[j]
    # film and radiation are taken at this iterate and not differentiated; the flow is, where it is that of one slice
    h = film_coefficient(gap, speed, density)
    r = radiation_coefficient(gap, t_i, t_j)
    per_speed = gap.thickness * gap.slices / gap.length * density
    stream = abs(speed) * per_speed
    ratio = fluid.molar_ratio / now[PRESSURE]
    backwards = any_of(speed < 0.0)
    inward = max(through, 0.0)  # infiltrating air leaves the gap with the gap's state
    outward = max(-through, 0.0)
    k_i, k_j = 1.0 / cell[i, R_Q], 1.0 / cell[j, R_Q]
    beta = h * ratio / fluid.heat_air * LEWIS_FACTOR  # Lewis relation between the films
    c_i, c_iT, c_ix = side_conductance(i, gap.outer_sheet, faces, cell)
    c_j, c_jT, c_jx = side_conductance(j, faces.kinds[j, SHEET], faces, cell)
    both = exchange(
        twins(k_i, c_i),
        twins(k_j, c_j),
        twins(h, beta),
        twins(r, 0.0),
        twins(stream * fluid.heat_air, stream * ratio),
        twins(t_i, cell[i, P]),
        twins(t_j, cell[j, P]),
        twins(t_inlet, p_inlet),
        twins(outward * fluid.heat_air, outward * ratio),
        twins(leak * fluid.heat_air, leak * ratio),
        twins(now[IN_TEMPERATURE], now[IN_VAPOUR]),
        twins(air[ACTIVE], air[ACTIVE]),
        backwards,
    )
    heat, vapour = first_of(both), second_of(both)
    q_i, q_j = heat[0], heat[1]
    k_iT, k_ix = -k_i * k_i * cell[i, R_Q_T], -k_i * k_i * cell[i, R_Q_X]
    k_jT, k_jx = -k_j * k_j * cell[j, R_Q_T], -k_j * k_j * cell[j, R_Q_X]
    q_i_Ti, q_i_xi = heat[2] + heat[4] * k_iT, heat[4] * k_ix
    q_i_Tj, q_i_xj = heat[3] + heat[5] * k_jT, heat[5] * k_jx
    q_j_Ti, q_j_xi = heat[6] + heat[8] * k_iT, heat[8] * k_ix
    q_j_Tj, q_j_xj = heat[7] + heat[9] * k_jT, heat[9] * k_jx
    g_i, g_j = vapour[0], vapour[1]
    g_i_Ti = vapour[2] * cell[i, P_T] + vapour[4] * c_iT
    g_i_xi = vapour[2] * cell[i, P_X] + vapour[4] * c_ix
    g_i_Tj = vapour[3] * cell[j, P_T] + vapour[5] * c_jT
    g_i_xj = vapour[3] * cell[j, P_X] + vapour[5] * c_jx
    g_j_Ti = vapour[6] * cell[i, P_T] + vapour[8] * c_iT
    g_j_xi = vapour[6] * cell[i, P_X] + vapour[8] * c_ix
    g_j_Tj = vapour[7] * cell[j, P_T] + vapour[9] * c_jT
    g_j_xj = vapour[7] * cell[j, P_X] + vapour[9] * c_jx
    # slopes over the size of the speed, and the speed's over the temperature of either cell
    heat_v, vapour_v = per_speed * fluid.heat_air, per_speed * ratio
    q_i_v, q_j_v, g_i_v, g_j_v = heat_v * heat[18], heat_v * heat[19], vapour_v * vapour[18], vapour_v * vapour[19]
    v_T = where(speed < 0.0, -now[SPEED_T], now[SPEED_T])
    v_i, v_j = v_T * heat[11], v_T * heat[12]
    q_i_Ti, q_i_Tj, q_j_Ti, q_j_Tj = (
        q_i_Ti + q_i_v * v_i,
        q_i_Tj + q_i_v * v_j,
        q_j_Ti + q_j_v * v_i,
        q_j_Tj + q_j_v * v_j,
    )
    g_i_Ti, g_i_Tj, g_j_Ti, g_j_Tj = (
        g_i_Ti + g_i_v * v_i,
        g_i_Tj + g_i_v * v_j,
        g_j_Ti + g_j_v * v_i,
        g_j_Tj + g_j_v * v_j,
    )
    q_i_in, g_i_in, q_j_in, g_j_in = heat[14], vapour[14], heat[15], vapour[15]  # slopes over the air that arrives
    # air through the lower face
    if any_of(outward > 0.0):
        g_j -= outward * ratio * cell[j, P]
        g_j_Tj -= outward * ratio * cell[j, P_T]
        g_j_xj -= outward * ratio * cell[j, P_X]
        q_j -= outward * fluid.heat_air * t_j
        q_j_Tj -= outward * fluid.heat_air
    if any_of(inward > 0.0):
        g_j += inward * ratio * vapour[10]
        g_j_Ti += inward * ratio * vapour[11] * cell[i, P_T]
        g_j_xi += inward * ratio * vapour[11] * cell[i, P_X]
        g_j_Tj += inward * ratio * vapour[12] * cell[j, P_T]
        g_j_xj += inward * ratio * vapour[12] * cell[j, P_X]
        q_j += inward * fluid.heat_air * heat[10]
        q_j_Ti += inward * fluid.heat_air * heat[11]
        q_j_Tj += inward * fluid.heat_air * heat[12]
        g_j_in += inward * ratio * vapour[16]
        q_j_in += inward * fluid.heat_air * heat[16]
    h_i, h_j = fluid.latent_heat + fluid.heat_vapour * t_i, fluid.latent_heat + fluid.heat_vapour * t_j  # (8)
    q_i += h_i * g_i
    q_j += h_j * g_j
    q_i_Ti, q_i_xi = q_i_Ti + h_i * g_i_Ti + fluid.heat_vapour * g_i, q_i_xi + h_i * g_i_xi
    q_i_Tj, q_i_xj = q_i_Tj + h_i * g_i_Tj, q_i_xj + h_i * g_i_xj
    q_j_Ti, q_j_xi = q_j_Ti + h_j * g_j_Ti, q_j_xi + h_j * g_j_xi
    q_j_Tj, q_j_xj = q_j_Tj + h_j * g_j_Tj + fluid.heat_vapour * g_j, q_j_xj + h_j * g_j_xj
    add_left(cell, i, (q_i, q_i_Ti, q_i_xi, q_i_Tj, q_i_xj), (g_i, g_i_Ti, g_i_xi, g_i_Tj, g_i_xj))
    add_right(cell, j, (q_j, q_j_Ti, q_j_xi, q_j_Tj, q_j_xj), (g_j, g_j_Ti, g_j_xi, g_j_Tj, g_j_xj))
    air[OUTER_Q_T], air[OUTER_Q_P], air[OUTER_G_P] = -q_i_in, -h_i * g_i_in, -g_i_in
    air[INNER_Q_T], air[INNER_Q_P], air[INNER_G_P] = q_j_in, h_j * g_j_in, g_j_in
    air[OUTER_Q_V], air[OUTER_G_V] = -q_i_v - h_i * g_i_v, -g_i_v
    air[INNER_Q_V], air[INNER_G_V] = q_j_v + h_j * g_j_v, g_j_v
    air[RISE_T], air[RISE_P] = heat[17], vapour[17]
    air[OUTER_K], air[INNER_K] = k_i, k_j
    put(signals, Q_GAP, q_j - q_i, q_j_Ti - q_i_Ti, q_j_xi - q_i_xi, q_j_Tj - q_i_Tj, q_j_xj - q_i_xj)
    put(signals, G_GAP, g_j - g_i, g_j_Ti - g_i_Ti, g_j_xi - g_i_xi, g_j_Tj - g_i_Tj, g_j_xj - g_i_xj)
    t_v, p_v = heat_v * heat[20], vapour_v * vapour[20]
    put(signals, T_GAP, heat[10], heat[11] + t_v * v_i, 0.0, heat[12] + t_v * v_j, 0.0)
    p_i, p_j = vapour[11], vapour[12]
    p_iT, p_jT = p_i * cell[i, P_T] + p_v * v_i, p_j * cell[j, P_T] + p_v * v_j
    put(signals, P_GAP, vapour[10], p_iT, p_i * cell[i, P_X], p_jT, p_j * cell[j, P_X])
    signals[Q_GAP, INLET_T], signals[Q_GAP, INLET_P] = q_j_in - q_i_in, h_j * g_j_in - h_i * g_i_in
    signals[G_GAP, INLET_T], signals[G_GAP, INLET_P] = 0.0, g_j_in - g_i_in
    signals[T_GAP, INLET_T], signals[T_GAP, INLET_P] = heat[16], 0.0
    signals[P_GAP, INLET_T], signals[P_GAP, INLET_P] = 0.0, vapour[16]
    return heat[13], vapour[13]
