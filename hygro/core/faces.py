"""Fluxes over the faces between two cells, (5)-(9) of `column`: vapour, heat, leaking air, liquid, what runs on."""

from __future__ import annotations

from hygro.constants import ZERO_CELSIUS as KELVIN
from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    AIR_SHARE,
    DX,
    FACE_RESISTANCE,
    FILM_LIMIT,
    HEAT,
    JOINS,
    LIQUID_OPEN,
    LOW,
    MATERIAL,
    MID,
    MOBILE,
    MOBILE_T,
    MOBILE_X,
    P_T,
    P_X,
    R_Q,
    R_Q_T,
    R_Q_X,
    R_V,
    R_V_T,
    R_V_X,
    SHEET,
    SUCTION_BASED,
    THETA,
    THETA_T,
    THETA_X,
    U_T,
    U_X,
    UPP,
    W_T,
    W_X,
    WATER_IN,
    WITHIN,
    X_B,
    Abreast,
    FloatArray,
    Fluid,
    P,
    U,
    W,
)
from hygro.core.cell import liquid_potential
from hygro.core.lanes import all_of, any_of, expm1, inner_of, neighbours, no, node_below, outer_of, where

DRIP_RATE = 1.0 / 600.0  # [s-1] how fast water past a cell's limit runs on or drips; numerical, not physical


@kernel
def sheet_resistance(tables: FloatArray, s: int, mean_activity: float) -> tuple[float, float]:
    """Vapour resistance [m2 s Pa kg-1] of sheet s (-1: none) at the mean humidity of its sides, and its slope."""
    there = s >= 0
    if no(any_of(there)):
        return 0.0 * mean_activity, 0.0 * mean_activity
    last = tables.shape[-1] - 1
    k, part = node_below(min(max(mean_activity, 0.0), 1.0) * last, last - 1)
    here, following = neighbours(tables, s, k)
    rise = where(there, following - here, 0.0)
    return where(there, here, 0.0) + part * rise, rise * last


@kernel
def upwind_share(flow: float, conductance: float) -> float:
    """Weight of the left cell in the state of air that flows over a face; exact for steady one-dimensional flow."""
    peclet = flow / conductance
    small = abs(peclet) < 1e-3
    share = 0.5 + peclet / 12.0
    if any_of(no(small)):
        share = where(small, share, -1.0 / expm1(-peclet) - 1.0 / peclet)
    return where(conductance > 0.0, share, where(flow > 0.0, 1.0, 0.0))


@kernel_part
def carried_heat(
    h: float, h_T: float, g: float, g_Ti: float, g_xi: float, g_Tj: float, g_xj: float
) -> tuple[float, ...]:
    """Enthalpy that a flux of water carries over a face (8), ``h`` by mass at its mean temperature; with slopes."""
    turn = 0.5 * h_T * g
    return h * g, h * g_Ti + turn, h * g_xi, h * g_Tj + turn, h * g_xj


@kernel
def face_liquid(i: int, abreast: Abreast, fluid: Fluid, cell: FloatArray, t_mid: float) -> tuple[float, ...]:
    """Liquid flux (6) from cell i to the next one, j, and its slopes over T_i, x_i, T_j, x_j."""
    data, kinds, after = abreast.data, abreast.kinds, min(i + 1, abreast.data.shape[0] - 1)
    dx_j = inner_of(kinds, data[i, DX], data[after, DX])
    theta_i, theta_j = cell[i, THETA], inner_of(kinds, cell[i, THETA], cell[after, THETA])
    theta_iT, theta_jT = cell[i, THETA_T], inner_of(kinds, cell[i, THETA_T], cell[after, THETA_T])
    theta_ix, theta_jx = cell[i, THETA_X], inner_of(kinds, cell[i, THETA_X], cell[after, THETA_X])
    a = 2.0 / (data[i, DX] + dx_j)
    g, g_Ti, g_xi, g_Tj, g_xj = a * (theta_i - theta_j), a * theta_iT, a * theta_ix, -a * theta_jT, -a * theta_jx
    meet = (abreast.face_kinds[i, LIQUID_OPEN] != 0) & (abreast.face_kinds[i, JOINS] != WITHIN)
    if no(any_of(meet)):
        return g, g_Ti, g_xi, g_Tj, g_xj
    # Two materials: find the face's coordinate, the same on both sides, at which the half cells pass equal flux.
    m_i, m_j = kinds[i, MATERIAL], inner_of(kinds, kinds[i, MATERIAL], kinds[after, MATERIAL])
    suction_i = kinds[i, SUCTION_BASED]
    suction_j = inner_of(kinds, kinds[i, SUCTION_BASED], kinds[after, SUCTION_BASED])
    a_i, a_j = 2.0 / data[i, DX], 2.0 / dx_j
    x_i, x_j = cell[i, X_B], inner_of(kinds, cell[i, X_B], cell[after, X_B])
    lowest, highest = max(min(x_i, x_j) - 0.1, 0.0), max(x_i, x_j) + 0.1
    tau = (t_mid + KELVIN) / fluid.kelvin_reference
    x = 0.5 * (lowest + highest)
    excess_x, excess_t, at_i, at_i_x, at_i_t = 0.0 * x, 0.0 * x, 0.0 * x, 0.0 * x, 0.0 * x
    for _ in range(60):
        at_i, at_i_x, at_i_t = liquid_potential(abreast.tables, m_i, suction_i, x, tau)
        at_j, at_j_x, at_j_t = liquid_potential(abreast.tables, m_j, suction_j, x, tau)
        excess = a_i * (theta_i - at_i) - a_j * (at_j - theta_j)
        excess_x = -a_i * at_i_x - a_j * at_j_x
        excess_t = (-a_i * at_i_t - a_j * at_j_t) / fluid.kelvin_reference
        lowest, highest = where(excess > 0.0, x, lowest), where(excess > 0.0, highest, x)
        following = x + where(excess_x < 0.0, -excess / excess_x, 0.0)
        inside = (lowest < following) & (following < highest)
        following = where(inside, following, 0.5 * (lowest + highest))
        found = no(meet) | (abs(following - x) < 1e-13)
        if all_of(found):
            break
        x = where(found, x, following)
    # implicit slopes: d(excess) = 0
    flows = excess_x < 0.0
    excess_x = where(flows, excess_x, -1.0)
    x_Ti, x_xi = -(a_i * theta_iT + 0.5 * excess_t) / excess_x, -a_i * theta_ix / excess_x
    x_Tj, x_xj = -(a_j * theta_jT + 0.5 * excess_t) / excess_x, -a_j * theta_jx / excess_x
    at_i_half = 0.5 * at_i_t / fluid.kelvin_reference
    return (
        where(meet, where(flows, a_i * (theta_i - at_i), 0.0), g),
        where(meet, where(flows, a_i * (theta_iT - at_i_x * x_Ti - at_i_half), 0.0), g_Ti),
        where(meet, where(flows, a_i * (theta_ix - at_i_x * x_xi), 0.0), g_xi),
        where(meet, where(flows, -a_i * (at_i_x * x_Tj + at_i_half), 0.0), g_Tj),
        where(meet, where(flows, -a_i * at_i_x * x_xj, 0.0), g_xj),
    )


@kernel
def interior_faces(flow: float, pressure: float, s: int, abreast: Abreast, fluid: Fluid) -> None:
    """Fluxes over all faces between two cells but the gap's, without liquid: (5), (7)-(9) and what runs on.

    ``flow`` is the leaking air, inwards. Each cell i is taken with its inner face and the cell j behind it. What
    crosses the face is remembered until j has its turn. This sets the balance of all cells, so it comes before all else
    that adds to it.
    """
    data, kinds, face_data, face_kinds = abreast.data, abreast.kinds, abreast.face_data, abreast.face_kinds
    cell, temperature = abreast.known[s], abreast.temperature[s]
    nothing = 0.0 * temperature[0]
    q_before, q_before_Ti, q_before_xi, q_before_Tj, q_before_xj = nothing, nothing, nothing, nothing, nothing
    g_before, g_before_Ti, g_before_xi, g_before_Tj, g_before_xj = nothing, nothing, nothing, nothing, nothing
    for i in range(data.shape[0]):
        q, q_Ti, q_xi, q_Tj, q_xj = nothing, nothing, nothing, nothing, nothing
        g, g_Ti, g_xi, g_Tj, g_xj = nothing, nothing, nothing, nothing, nothing
        joins = face_kinds[i, JOINS] != 0
        if any_of(joins):
            after = min(i + 1, data.shape[0] - 1)
            t_i, t_j = temperature[i], inner_of(kinds, temperature[i], temperature[after])
            t_mid = 0.5 * (t_i + t_j)
            # vapour
            u_j = inner_of(kinds, cell[i, U], cell[after, U])
            u_jT = inner_of(kinds, cell[i, U_T], cell[after, U_T])
            u_jx = inner_of(kinds, cell[i, U_X], cell[after, U_X])
            p_i, p_j = cell[i, P], inner_of(kinds, cell[i, P], cell[after, P])
            p_jT = inner_of(kinds, cell[i, P_T], cell[after, P_T])
            p_jx = inner_of(kinds, cell[i, P_X], cell[after, P_X])
            r_j = inner_of(kinds, cell[i, R_V], cell[after, R_V])
            r_jT = inner_of(kinds, cell[i, R_V_T], cell[after, R_V_T])
            r_jx = inner_of(kinds, cell[i, R_V_X], cell[after, R_V_X])
            sheet, sheet_u = sheet_resistance(abreast.sheet_tables, face_kinds[i, SHEET], 0.5 * (cell[i, U] + u_j))
            conductance = 1.0 / (cell[i, R_V] + sheet + r_j)
            g = conductance * (p_i - p_j)
            per_r, sheet_u = -conductance * g, 0.5 * sheet_u
            g_Ti = conductance * cell[i, P_T] + per_r * (cell[i, R_V_T] + sheet_u * cell[i, U_T])
            g_xi = conductance * cell[i, P_X] + per_r * (cell[i, R_V_X] + sheet_u * cell[i, U_X])
            g_Tj = -conductance * p_jT + per_r * (r_jT + sheet_u * u_jT)
            g_xj = -conductance * p_jx + per_r * (r_jx + sheet_u * u_jx)
            # heat
            r_j = inner_of(kinds, cell[i, R_Q], cell[after, R_Q])
            r_jT = inner_of(kinds, cell[i, R_Q_T], cell[after, R_Q_T])
            r_jx = inner_of(kinds, cell[i, R_Q_X], cell[after, R_Q_X])
            k = 1.0 / (cell[i, R_Q] + face_data[i, FACE_RESISTANCE] + r_j)
            q = k * (t_i - t_j)
            q_Ti, q_xi = k - k * q * cell[i, R_Q_T], -k * q * cell[i, R_Q_X]
            q_Tj, q_xj = -k - k * q * r_jT, -k * q * r_jx
            # leaking air; the upwind shares are not differentiated
            air_flow = flow * face_data[i, AIR_SHARE]
            if any_of(air_flow != 0.0):
                carry = air_flow * fluid.molar_ratio / pressure
                share = upwind_share(carry, conductance)
                g += carry * (share * p_i + (1.0 - share) * p_j)
                g_Ti += carry * share * cell[i, P_T]
                g_xi += carry * share * cell[i, P_X]
                g_Tj += carry * (1.0 - share) * p_jT
                g_xj += carry * (1.0 - share) * p_jx
                carry = air_flow * fluid.heat_air
                share = upwind_share(carry, k)
                q += carry * (share * t_i + (1.0 - share) * t_j)
                q_Ti += carry * share
                q_Tj += carry * (1.0 - share)
            # enthalpy of vapour (8)
            h = fluid.latent_heat + fluid.heat_vapour * t_mid
            c, c_Ti, c_xi, c_Tj, c_xj = carried_heat(h, fluid.heat_vapour, g, g_Ti, g_xi, g_Tj, g_xj)
            q, q_Ti, q_xi, q_Tj, q_xj = q + c, q_Ti + c_Ti, q_xi + c_xi, q_Tj + c_Tj, q_xj + c_xj
            # what a full cell cannot hold runs on within its material
            over_i = cell[i, W] - data[i, FILM_LIMIT]
            over_j = inner_of(kinds, over_i, cell[after, W] - data[after, FILM_LIMIT])
            same = (face_kinds[i, JOINS] == WITHIN) & (face_kinds[i, SHEET] < 0)
            if any_of(same & ((over_i > 0.0) | (over_j > 0.0))):
                rate = where(same, DRIP_RATE * min(data[i, DX], inner_of(kinds, data[i, DX], data[after, DX])), 0.0)
                rate_i, rate_j = where(over_i > 0.0, rate, 0.0), where(over_j > 0.0, rate, 0.0)
                w_jT = inner_of(kinds, cell[i, W_T], cell[after, W_T])
                w_jx = inner_of(kinds, cell[i, W_X], cell[after, W_X])
                g_l = rate_i * over_i - rate_j * over_j
                l_Ti, l_xi, l_Tj, l_xj = rate_i * cell[i, W_T], rate_i * cell[i, W_X], -rate_j * w_jT, -rate_j * w_jx
                h = fluid.heat_water * t_mid
                c, c_Ti, c_xi, c_Tj, c_xj = carried_heat(h, fluid.heat_water, g_l, l_Ti, l_xi, l_Tj, l_xj)
                g, g_Ti, g_xi, g_Tj, g_xj = g + g_l, g_Ti + l_Ti, g_xi + l_xi, g_Tj + l_Tj, g_xj + l_xj
                q, q_Ti, q_xi, q_Tj, q_xj = q + c, q_Ti + c_Ti, q_xi + c_xi, q_Tj + c_Tj, q_xj + c_xj
            q, q_Ti, q_xi = where(joins, q, 0.0), where(joins, q_Ti, 0.0), where(joins, q_xi, 0.0)
            q_Tj, q_xj = where(joins, q_Tj, 0.0), where(joins, q_xj, 0.0)
            g, g_Ti, g_xi = where(joins, g, 0.0), where(joins, g_Ti, 0.0), where(joins, g_xi, 0.0)
            g_Tj, g_xj = where(joins, g_Tj, 0.0), where(joins, g_xj, 0.0)
        # out of the cell over its inner face, and into it over its outer one
        cell[i, HEAT], cell[i, WATER_IN] = outer_of(kinds, q_before, q) - q, outer_of(kinds, g_before, g) - g
        cell[i, LOW], cell[i, LOW + 1] = outer_of(kinds, q_before_Ti, q_Ti), outer_of(kinds, q_before_xi, q_xi)
        cell[i, LOW + 2], cell[i, LOW + 3] = outer_of(kinds, g_before_Ti, g_Ti), outer_of(kinds, g_before_xi, g_xi)
        cell[i, MID] = outer_of(kinds, q_before_Tj, q_Tj) - q_Ti
        cell[i, MID + 1] = outer_of(kinds, q_before_xj, q_xj) - q_xi
        cell[i, MID + 2] = outer_of(kinds, g_before_Tj, g_Tj) - g_Ti
        cell[i, MID + 3] = outer_of(kinds, g_before_xj, g_xj) - g_xi
        cell[i, UPP], cell[i, UPP + 1], cell[i, UPP + 2], cell[i, UPP + 3] = -q_Tj, -q_xj, -g_Tj, -g_xj
        q_before, q_before_Ti, q_before_xi, q_before_Tj, q_before_xj = q, q_Ti, q_xi, q_Tj, q_xj
        g_before, g_before_Ti, g_before_xi, g_before_Tj, g_before_xj = g, g_Ti, g_xi, g_Tj, g_xj


@kernel
def liquid_faces(s: int, abreast: Abreast, fluid: Fluid) -> None:
    """Liquid (6) over all faces between two cells that it crosses, added to the balance."""
    kinds, face_kinds, cell, temperature = abreast.kinds, abreast.face_kinds, abreast.known[s], abreast.temperature[s]
    last, crossed_before, nothing = kinds.shape[0] - 1, False, 0.0 * temperature[0]
    q_before, q_before_Ti, q_before_xi, q_before_Tj, q_before_xj = nothing, nothing, nothing, nothing, nothing
    g_before, g_before_Ti, g_before_xi, g_before_Tj, g_before_xj = nothing, nothing, nothing, nothing, nothing
    for i in range(last + 1):
        q, q_Ti, q_xi, q_Tj, q_xj = nothing, nothing, nothing, nothing, nothing
        g, g_Ti, g_xi, g_Tj, g_xj = nothing, nothing, nothing, nothing, nothing
        wet = (face_kinds[i, LIQUID_OPEN] != 0) & (face_kinds[i, JOINS] != 0)
        crossed = any_of(wet)
        if crossed:
            after = min(i + 1, last)
            t_mid = 0.5 * (temperature[i] + inner_of(kinds, temperature[i], temperature[after]))
            g, g_Ti, g_xi, g_Tj, g_xj = face_liquid(i, abreast, fluid, cell, t_mid)
            open_i, open_j = cell[i, MOBILE], inner_of(kinds, cell[i, MOBILE], cell[after, MOBILE])
            open_jT = inner_of(kinds, cell[i, MOBILE_T], cell[after, MOBILE_T])
            open_jx = inner_of(kinds, cell[i, MOBILE_X], cell[after, MOBILE_X])
            g_Ti = where(wet, open_j * (open_i * g_Ti + cell[i, MOBILE_T] * g), 0.0)  # ice blocks the pores
            g_xi = where(wet, open_j * (open_i * g_xi + cell[i, MOBILE_X] * g), 0.0)
            g_Tj = where(wet, open_i * (open_j * g_Tj + open_jT * g), 0.0)
            g_xj = where(wet, open_i * (open_j * g_xj + open_jx * g), 0.0)
            g = where(wet, open_i * open_j * g, 0.0)
            q, q_Ti, q_xi, q_Tj, q_xj = carried_heat(
                fluid.heat_water * t_mid, fluid.heat_water, g, g_Ti, g_xi, g_Tj, g_xj
            )
        if crossed or crossed_before:
            cell[i, HEAT] += outer_of(kinds, q_before, q) - q
            cell[i, WATER_IN] += outer_of(kinds, g_before, g) - g
            cell[i, LOW] += outer_of(kinds, q_before_Ti, q_Ti)
            cell[i, LOW + 1] += outer_of(kinds, q_before_xi, q_xi)
            cell[i, LOW + 2] += outer_of(kinds, g_before_Ti, g_Ti)
            cell[i, LOW + 3] += outer_of(kinds, g_before_xi, g_xi)
            cell[i, MID] += outer_of(kinds, q_before_Tj, q_Tj) - q_Ti
            cell[i, MID + 1] += outer_of(kinds, q_before_xj, q_xj) - q_xi
            cell[i, MID + 2] += outer_of(kinds, g_before_Tj, g_Tj) - g_Ti
            cell[i, MID + 3] += outer_of(kinds, g_before_xj, g_xj) - g_xi
            cell[i, UPP] -= q_Tj
            cell[i, UPP + 1] -= q_xj
            cell[i, UPP + 2] -= g_Tj
            cell[i, UPP + 3] -= g_xj
        crossed_before = crossed
        q_before, q_before_Ti, q_before_xi, q_before_Tj, q_before_xj = q, q_Ti, q_xi, q_Tj, q_xj
        g_before, g_before_Ti, g_before_xi, g_before_Tj, g_before_xj = g, g_Ti, g_xi, g_Tj, g_xj
