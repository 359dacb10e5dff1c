r"""The governing equations of one column of cells, outside to inside.

Conservation, per volume:

.. math:: \partial w/\partial t = -\partial(g_v + g_l + g_a)/\partial z                                    (1)
.. math:: \partial H/\partial t = -\partial(q + h_v g_v + h_l g_l + q_a)/\partial z                        (2)
.. math:: p = p_{sat}(T)\,\min(u, u_{ice}(T))                                                              (3)
.. math:: H = (\rho c) T + (w - w_{ice}) c_w T + w_{ice} (c_i T - L_f)                                     (4)
.. math:: g_v = -\delta\,\partial p/\partial z, \quad \delta = \delta_a(T)/\mu(u)                          (5)
.. math:: g_l = -f\,\partial\theta/\partial z, \quad \theta = \int K\,dp_c = \int D_w\,dw                  (6)
.. math:: q = -\lambda\,\partial T/\partial z, \quad \lambda = (\lambda_0 + b_w w)(1 + b_T (T - 10))        (7)
.. math:: h_v = L_v + c_v T, \quad h_l = c_w T                                                             (8)
.. math:: g_a = m \xi p / P, \quad q_a = m c_a T + g_a h_v                                                 (9)

State: T and the moisture coordinate x. Up to its onset a material binds water by its curve w(x), past it free water
fills what pores are left. Bound water stays liquid up to x_e = min(x, x_ice(T)); what exceeds it is ice, so frost needs
no further equation. Ice blocks the pores: f is the product of the unfrozen shares of both cells, theta that of bound
water and ice together; suction by freezing is left out. Free water freezes over FREEZING_SPAN below 0 degC. m is the
flow of leaking air, positive inwards, xi = 0.622.

Grid: cells i = 0..n-1, faces f = 0..n; face f lies between cells f-1 and f. A flux over a face sees the two half
cells and whatever lies between in series:

    cell f-1  --dx/2--|-- sheet, film or gap --|--dx/2--  cell f

Liquid fluxes use theta, so that (6) is exact for the cell values; where two materials meet, the moisture coordinate of
the face follows from equal flux on both sides. Where liquid reaches the outer or inner surface, the coordinate of that
surface follows from the film's vapour being carried on as vapour and liquid over the half cell, as far as the cell is
unfrozen. What a cell holds past full pores runs on to its neighbours in the material, and drips where it faces air.
Face enthalpies (8) use the mean temperature of the two cells, boundary and gap enthalpies that of the cell.

Analytic cases that prove it: conduction steps and periodic heat, sorption in a slab, isothermal drying, steady vapour
profiles with sheets, conduction with air flow; see tests/physics and tests/published.
"""

from __future__ import annotations

import math

from hygro.constants import STEFAN_BOLTZMANN
from hygro.constants import ZERO_CELSIUS as KELVIN
from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    ABSORBED,
    ACTIVE,
    AIR_SHARE,
    CONDUCTIVITY,
    CONDUCTIVITY_MOISTURE,
    CONDUCTIVITY_TEMPERATURE,
    CONDUCTS_LIQUID,
    DX,
    EMISSIVITY,
    ENTHALPY,
    ENTHALPY_T,
    ENTHALPY_X,
    FACE_RESISTANCE,
    FILM_LIMIT,
    FREE_SLOPE,
    G_DEFECT,
    G_DRIP,
    G_GAP,
    G_IN,
    G_LEAK,
    G_OUT,
    G_RAIN,
    G_RUNOFF,
    G_SHED,
    HEAT,
    HEAT_CAPACITY,
    ICE,
    IN_FILM,
    IN_TEMPERATURE,
    IN_VAPOUR,
    IN_VAPOUR_FILM,
    INLET_P,
    INLET_T,
    INNER_G_P,
    INNER_K,
    INNER_Q_P,
    INNER_Q_T,
    JOINS,
    LEAK_FLOW,
    LIQUID_OPEN,
    LOW,
    MATERIAL,
    MID,
    MOBILE,
    MOBILE_T,
    MOBILE_X,
    ONSET,
    OUT_FILM,
    OUT_TEMPERATURE,
    OUT_VAPOUR,
    OUT_VAPOUR_FILM,
    OUTER_G_P,
    OUTER_K,
    OUTER_Q_P,
    OUTER_Q_T,
    P_GAP,
    P_T,
    P_X,
    PRESSURE,
    Q_DRIP,
    Q_GAP,
    Q_IN,
    Q_LEAK,
    Q_OUT,
    R_Q,
    R_Q_T,
    R_Q_X,
    R_V,
    R_V_T,
    R_V_X,
    RAIN,
    RAIN_DEFECT,
    RISE_P,
    RISE_T,
    SHEET,
    SUCTION_BASED,
    T_GAP,
    T_INNER,
    T_OUTER,
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
    Cells,
    Faces,
    FloatArray,
    Fluid,
    GapSide,
    Leak,
    P,
    U,
    W,
)
from hygro.core.gap import LEWIS_FACTOR, exchange, film_coefficient, radiation_coefficient
from hygro.core.lanes import (
    all_of,
    any_of,
    inner_of,
    material_row,
    neighbours,
    no,
    node_below,
    outer_of,
    rarely,
    table_row,
    where,
)
from hygro.core.potential import X_FREE, shifted
from hygro.core.tables import (
    ACTIVITY,
    AIR_PERMEABILITY,
    FREEZING_SPAN,
    ICE_COORDINATE,
    LIQUID,
    NEVER_ICE,
    NODES_PER_KELVIN,
    NODES_PER_UNIT,
    PERMEABILITY,
    RISE,
    SATURATION,
    WATER,
    moisture_node,
    temperature_node,
)

Sloped = tuple[float, float, float]  # a value and its slopes over T and x

DRIP_RATE = 1.0 / 600.0  # [s-1] how fast water past a cell's limit runs on or drips; numerical, not physical
TIGHT = 1e25  # [m2 s Pa kg-1] resistance that stands for vapour-tight; numerical
CONDUCTIVITY_AT = 10.0  # [degC] temperature at which dry conductivities are stated, ISO 10456


# ---------------------------------------------------------------------------------------------------- one cell


@kernel_part
def reading(tables: FloatArray, m: int, column: int, x: float) -> tuple[float, float]:
    """Value and slope of one column of material m's table at a moisture coordinate."""
    k, part = moisture_node(x)
    row = material_row(tables, m, k)
    return row[column] + part * row[RISE + column], row[RISE + column] * NODES_PER_UNIT


@kernel_part
def air_at(fluid: Fluid, temperature: float) -> tuple[float, float, float, float, float, float]:
    """Saturation pressure, ice coordinate and air permeability, each with its slope over temperature."""
    k, part = temperature_node(fluid.table, temperature)
    row = table_row(fluid.table, k)
    return (
        row[SATURATION] + part * row[RISE + SATURATION],
        row[RISE + SATURATION] * NODES_PER_KELVIN,
        row[ICE_COORDINATE] + part * row[RISE + ICE_COORDINATE],
        row[RISE + ICE_COORDINATE] * NODES_PER_KELVIN,
        row[AIR_PERMEABILITY] + part * row[RISE + AIR_PERMEABILITY],
        row[RISE + AIR_PERMEABILITY] * NODES_PER_KELVIN,
    )


@kernel_part
def water_in_cell(
    i: int, temperature: float, x: float, x_ice: float, x_ice_T: float, abreast: Abreast, fluid: Fluid
) -> tuple[Sloped, Sloped, Sloped, Sloped, Sloped, float]:
    """What cell i holds at a temperature and coordinate, and the curves that depend on it.

    Returns activity, water content, ice, Kirchhoff potential and relative vapour permeability, each with its slopes
    over T and x, and the coordinate of the bound water. Callers that need but a few pay only for those.
    """
    tables, data = abreast.tables, abreast.data
    m, over_suction = abreast.kinds[i, MATERIAL], abreast.kinds[i, SUCTION_BASED] != 0

    # bound water, and free water past the onset; x_ice lies past every onset where nothing freezes
    onset = data[i, ONSET]
    beyond, free, free_x, x_b, b_x = x > onset, 0.0, 0.0, x, 1.0
    if rarely(beyond):
        free, free_x = where(beyond, data[i, FREE_SLOPE] * (x - onset), 0.0), where(beyond, data[i, FREE_SLOPE], 0.0)
        x_b, b_x = where(beyond, onset, x), where(beyond, 0.0, 1.0)
    frozen, x_e, e_T, e_x = x_b > x_ice, x_b, 0.0, b_x
    if any_of(frozen):
        x_e, e_T, e_x = where(frozen, x_ice, x_b), where(frozen, x_ice_T, 0.0), where(frozen, 0.0, b_x)

    k, part = moisture_node(x_e)
    row = material_row(tables, m, k)
    u, u_slope = row[ACTIVITY] + part * row[RISE + ACTIVITY], row[RISE + ACTIVITY] * NODES_PER_UNIT

    c_T, c_x = e_T, e_x  # slopes of where the curves are read; suction-based ones depend on temperature as well
    if rarely(over_suction):
        x_c, slope_x, slope_tau = shifted(x_e, (temperature + KELVIN) / fluid.kelvin_reference)
        c_T = where(over_suction, slope_x * e_T + slope_tau / fluid.kelvin_reference, e_T)
        c_x = where(over_suction, slope_x * e_x, e_x)
        k, part = moisture_node(where(over_suction, x_c, x_e))
        row = material_row(tables, m, k)
    w_e, w_slope = row[WATER] + part * row[RISE + WATER], row[RISE + WATER] * NODES_PER_UNIT
    openness, m_slope = row[PERMEABILITY] + part * row[RISE + PERMEABILITY], row[RISE + PERMEABILITY] * NODES_PER_UNIT
    theta, t_slope = row[LIQUID] + part * row[RISE + LIQUID], row[RISE + LIQUID] * NODES_PER_UNIT

    theta_T, theta_x = t_slope * c_T, t_slope * c_x
    w, w_T, w_x = w_e + free, w_slope * c_T, w_slope * c_x + free_x
    ice, ice_T, ice_x = 0.0, 0.0, 0.0
    if any_of(frozen):
        x_w, slope_x, slope_tau = x_b, 1.0, 0.0
        if rarely(over_suction):
            x_w, slope_x, slope_tau = shifted(x_b, (temperature + KELVIN) / fluid.kelvin_reference)
            x_w, slope_x = where(over_suction, x_w, x_b), where(over_suction, slope_x, 1.0)
            slope_tau = where(over_suction, slope_tau, 0.0)
        w_b, slope = reading(tables, m, WATER, x_w)
        w_b_T, w_b_x = slope * slope_tau / fluid.kelvin_reference, slope * slope_x * b_x
        theta_b, slope = reading(tables, m, LIQUID, x_w)
        theta = where(frozen, theta_b, theta)
        theta_T = where(frozen, slope * slope_tau / fluid.kelvin_reference, theta_T)
        theta_x = where(frozen, slope * slope_x * b_x, theta_x)
        ice = where(frozen, w_b - w_e, 0.0)
        ice_T = where(frozen, w_b_T - w_slope * c_T, 0.0)
        ice_x = where(frozen, w_b_x - w_slope * c_x, 0.0)
        w, w_T, w_x = where(frozen, w_b + free, w), where(frozen, w_b_T, w_T), where(frozen, w_b_x + free_x, w_x)
    freezing = (free > 0.0) & (temperature < 0.0) & (x_ice < NEVER_ICE)
    if rarely(freezing):
        share = where(freezing, min(-temperature / FREEZING_SPAN, 1.0), 0.0)  # of the free water that is ice
        ice += share * free
        ice_x += share * free_x
        ice_T -= where(freezing & (share < 1.0), free / FREEZING_SPAN, 0.0)
    return (
        (u, u_slope * e_T, u_slope * e_x),
        (w, w_T, w_x),
        (ice, ice_T, ice_x),
        (theta, theta_T, theta_x),
        (openness, m_slope * c_T, m_slope * c_x),
        x_b,
    )


@kernel
def cell_states(s: int, abreast: Abreast, fluid: Fluid) -> None:
    """Evaluate the state functions (3)-(7) of all cells of slice s and their slopes."""
    data, cell = abreast.data, abreast.known[s]
    for i in range(data.shape[0]):
        temperature = abreast.temperature[s, i]
        p_sat, p_sat_T, x_ice, x_ice_T, delta_a, delta_a_T = air_at(fluid, temperature)
        at_u, at_w, at_ice, at_theta, at_openness, x_b = water_in_cell(
            i, temperature, abreast.x[s, i], x_ice, x_ice_T, abreast, fluid
        )
        u, u_T, u_x = at_u
        w, w_T, w_x = at_w
        ice, ice_T, ice_x = at_ice
        openness, openness_T, openness_x = at_openness

        cell[i, U], cell[i, U_T], cell[i, U_X] = u, u_T, u_x
        cell[i, P], cell[i, P_T], cell[i, P_X] = p_sat * u, p_sat_T * u + p_sat * u_T, p_sat * u_x  # (3)
        half = 0.5 * data[i, DX]
        passes = openness > 0.0
        inverse = 1.0 / (delta_a * where(passes, openness, 1.0))  # (5)
        r_v = half * inverse
        per_openness = -r_v * inverse * delta_a
        cell[i, R_V] = where(passes, r_v, TIGHT)
        cell[i, R_V_T] = where(passes, per_openness * openness_T - r_v * inverse * openness * delta_a_T, 0.0)
        cell[i, R_V_X] = where(passes, per_openness * openness_x, 0.0)
        if any_of(abreast.kinds[i, CONDUCTS_LIQUID] != 0):
            theta, theta_T, theta_x = at_theta
            cell[i, THETA], cell[i, THETA_T], cell[i, THETA_X] = theta, theta_T, theta_x  # (6)
            mobile, mobile_T, mobile_x = 1.0, 0.0, 0.0
            icy = ice > 0.0
            if any_of(icy):
                per_w = 1.0 / where(icy, w, 1.0)
                mobile, mobile_T, mobile_x = (
                    1.0 - ice * per_w,
                    (ice * per_w * w_T - ice_T) * per_w,
                    (ice * per_w * w_x - ice_x) * per_w,
                )
                mobile_T, mobile_x = where(icy, mobile_T, 0.0), where(icy, mobile_x, 0.0)
            cell[i, MOBILE], cell[i, MOBILE_T], cell[i, MOBILE_X] = mobile, mobile_T, mobile_x
            cell[i, X_B] = x_b
        cell[i, W], cell[i, W_T], cell[i, W_X], cell[i, ICE] = w, w_T, w_x, ice
        dry, per_water = data[i, CONDUCTIVITY], data[i, CONDUCTIVITY_MOISTURE]
        warmed = 1.0 + data[i, CONDUCTIVITY_TEMPERATURE] * (temperature - CONDUCTIVITY_AT)
        lam = (dry + per_water * w) * warmed  # (7)
        lam_T = (dry + per_water * w) * data[i, CONDUCTIVITY_TEMPERATURE] + per_water * w_T * warmed
        inverse = 1.0 / lam
        r_q = half * inverse
        cell[i, R_Q] = r_q
        cell[i, R_Q_T], cell[i, R_Q_X] = -r_q * inverse * lam_T, -r_q * inverse * per_water * w_x * warmed
        of_ice = (fluid.heat_ice - fluid.heat_water) * temperature - fluid.fusion_heat
        cell[i, ENTHALPY] = (
            data[i, HEAT_CAPACITY] * temperature + w * fluid.heat_water * temperature + ice * of_ice
        )  # (4)
        cell[i, ENTHALPY_T] = (
            data[i, HEAT_CAPACITY]
            + fluid.heat_water * (w + temperature * w_T)
            + ice_T * of_ice
            + ice * (fluid.heat_ice - fluid.heat_water)
        )
        cell[i, ENTHALPY_X] = fluid.heat_water * temperature * w_x + ice_x * of_ice


# ---------------------------------------------------------------------------------------------------- one face


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


@kernel_part
def add_source(cell: FloatArray, i: int, q: float, q_T: float, q_x: float, g: float, g_T: float, g_x: float) -> None:
    """Give heat q and water g, with their slopes over the cell's own T and x, to cell i."""
    cell[i, HEAT] += q
    cell[i, WATER_IN] += g
    cell[i, MID] += q_T
    cell[i, MID + 1] += q_x
    cell[i, MID + 2] += g_T
    cell[i, MID + 3] += g_x


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
        share = where(small, share, -1.0 / math.expm1(-peclet) - 1.0 / peclet)
    return where(conductance > 0.0, share, where(flow > 0.0, 1.0, 0.0))


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
def liquid_potential(
    tables: FloatArray, material: int, suction_based: int, x: float, tau: float
) -> tuple[float, float, float]:
    """Kirchhoff potential of a material at a coordinate, its slopes over x and over tau."""
    over_suction, slope_x, slope_tau = suction_based != 0, 1.0 + 0.0 * x, 0.0 * x
    if rarely(over_suction):
        x_c, x_c_x, x_c_tau = shifted(x, tau)
        x, slope_x, slope_tau = (
            where(over_suction, x_c, x),
            where(over_suction, x_c_x, 1.0),
            where(over_suction, x_c_tau, 0.0),
        )
    value, slope = reading(tables, material, LIQUID, x)
    return value, slope * slope_x, slope * slope_tau


@kernel
def interior_faces(flow: float, pressure: float, s: int, abreast: Abreast, fluid: Fluid) -> None:
    """Fluxes (5)-(9) over all faces between two cells but the gap's; ``flow`` is the leaking air, inwards.

    Each cell i is taken with its inner face and the cell j behind it. What crosses the face is remembered until j has
    its turn. This sets the balance of all cells, so it comes before all else that adds to it.
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
            turn = 0.5 * fluid.heat_vapour * g
            q += h * g
            q_Ti, q_xi = q_Ti + h * g_Ti + turn, q_xi + h * g_xi
            q_Tj, q_xj = q_Tj + h * g_Tj + turn, q_xj + h * g_xj
            # liquid
            open_to_liquid = face_kinds[i, LIQUID_OPEN] != 0
            if any_of(open_to_liquid):
                g_l, l_Ti, l_xi, l_Tj, l_xj = face_liquid(i, abreast, fluid, cell, t_mid)
                open_i, open_j = cell[i, MOBILE], inner_of(kinds, cell[i, MOBILE], cell[after, MOBILE])
                open_jT = inner_of(kinds, cell[i, MOBILE_T], cell[after, MOBILE_T])
                open_jx = inner_of(kinds, cell[i, MOBILE_X], cell[after, MOBILE_X])
                l_Ti = open_j * (open_i * l_Ti + cell[i, MOBILE_T] * g_l)  # ice blocks the pores
                l_xi = open_j * (open_i * l_xi + cell[i, MOBILE_X] * g_l)
                l_Tj, l_xj = open_i * (open_j * l_Tj + open_jT * g_l), open_i * (open_j * l_xj + open_jx * g_l)
                g_l = where(open_to_liquid, open_i * open_j * g_l, 0.0)
                l_Ti, l_xi = where(open_to_liquid, l_Ti, 0.0), where(open_to_liquid, l_xi, 0.0)
                l_Tj, l_xj = where(open_to_liquid, l_Tj, 0.0), where(open_to_liquid, l_xj, 0.0)
                h = fluid.heat_water * t_mid
                turn = 0.5 * fluid.heat_water * g_l
                g, g_Ti, g_xi, g_Tj, g_xj = g + g_l, g_Ti + l_Ti, g_xi + l_xi, g_Tj + l_Tj, g_xj + l_xj
                q, q_Ti, q_xi = q + h * g_l, q_Ti + h * l_Ti + turn, q_xi + h * l_xi
                q_Tj, q_xj = q_Tj + h * l_Tj + turn, q_xj + h * l_xj
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
                turn = 0.5 * fluid.heat_water * g_l
                g, g_Ti, g_xi, g_Tj, g_xj = g + g_l, g_Ti + l_Ti, g_xi + l_xi, g_Tj + l_Tj, g_xj + l_xj
                q, q_Ti, q_xi = q + h * g_l, q_Ti + h * l_Ti + turn, q_xi + h * l_xi
                q_Tj, q_xj = q_Tj + h * l_Tj + turn, q_xj + h * l_xj
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


@kernel_part
def side_conductance(i: int, s: int, faces: Faces, cell: FloatArray) -> tuple[float, float, float]:
    """Vapour conductance from a cell's centre to the air beyond sheet s, and its slopes over T and x."""
    sheet, sheet_u = sheet_resistance(faces.sheet_tables, s, cell[i, U])
    k = 1.0 / (cell[i, R_V] + sheet)
    return k, -k * k * (cell[i, R_V_T] + sheet_u * cell[i, U_T]), -k * k * (cell[i, R_V_X] + sheet_u * cell[i, U_X])


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
    # The film, radiation and flow are taken at this iterate and not differentiated.
    h = film_coefficient(gap, speed, density)
    r = radiation_coefficient(gap, t_i, t_j)
    stream = abs(speed) * gap.thickness * gap.slices / gap.length * density
    ratio = fluid.molar_ratio / now[PRESSURE]
    backwards = any_of(speed < 0.0)
    inward = max(through, 0.0)  # infiltrating air leaves the gap with the gap's state
    outward = max(-through, 0.0)
    # heat
    k_i, k_j = 1.0 / cell[i, R_Q], 1.0 / cell[j, R_Q]
    heat = exchange(
        k_i,
        k_j,
        h,
        r,
        stream * fluid.heat_air,
        t_i,
        t_j,
        t_inlet,
        outward * fluid.heat_air,
        leak * fluid.heat_air,
        now[IN_TEMPERATURE],
        air[ACTIVE],
        backwards,
    )
    q_i, q_j = heat[0], heat[1]
    k_iT, k_ix = -k_i * k_i * cell[i, R_Q_T], -k_i * k_i * cell[i, R_Q_X]
    k_jT, k_jx = -k_j * k_j * cell[j, R_Q_T], -k_j * k_j * cell[j, R_Q_X]
    q_i_Ti, q_i_xi = heat[2] + heat[4] * k_iT, heat[4] * k_ix
    q_i_Tj, q_i_xj = heat[3] + heat[5] * k_jT, heat[5] * k_jx
    q_j_Ti, q_j_xi = heat[6] + heat[8] * k_iT, heat[8] * k_ix
    q_j_Tj, q_j_xj = heat[7] + heat[9] * k_jT, heat[9] * k_jx
    # vapour; Lewis relation between the films
    beta = h * ratio / fluid.heat_air * LEWIS_FACTOR
    c_i, c_iT, c_ix = side_conductance(i, gap.outer_sheet, faces, cell)
    c_j, c_jT, c_jx = side_conductance(j, faces.kinds[j, SHEET], faces, cell)
    vapour = exchange(
        c_i,
        c_j,
        beta,
        0.0,
        stream * ratio,
        cell[i, P],
        cell[j, P],
        p_inlet,
        outward * ratio,
        leak * ratio,
        now[IN_VAPOUR],
        air[ACTIVE],
        backwards,
    )
    g_i, g_j = vapour[0], vapour[1]
    g_i_Ti = vapour[2] * cell[i, P_T] + vapour[4] * c_iT
    g_i_xi = vapour[2] * cell[i, P_X] + vapour[4] * c_ix
    g_i_Tj = vapour[3] * cell[j, P_T] + vapour[5] * c_jT
    g_i_xj = vapour[3] * cell[j, P_X] + vapour[5] * c_jx
    g_j_Ti = vapour[6] * cell[i, P_T] + vapour[8] * c_iT
    g_j_xi = vapour[6] * cell[i, P_X] + vapour[8] * c_ix
    g_j_Tj = vapour[7] * cell[j, P_T] + vapour[9] * c_jT
    g_j_xj = vapour[7] * cell[j, P_X] + vapour[9] * c_jx
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
    air[RISE_T], air[RISE_P] = heat[17], vapour[17]
    air[OUTER_K], air[INNER_K] = k_i, k_j
    put(signals, Q_GAP, q_j - q_i, q_j_Ti - q_i_Ti, q_j_xi - q_i_xi, q_j_Tj - q_i_Tj, q_j_xj - q_i_xj)
    put(signals, G_GAP, g_j - g_i, g_j_Ti - g_i_Ti, g_j_xi - g_i_xi, g_j_Tj - g_i_Tj, g_j_xj - g_i_xj)
    put(signals, T_GAP, heat[10], heat[11], 0.0, heat[12], 0.0)
    p_i, p_j = vapour[11], vapour[12]
    put(signals, P_GAP, vapour[10], p_i * cell[i, P_T], p_i * cell[i, P_X], p_j * cell[j, P_T], p_j * cell[j, P_X])
    signals[Q_GAP, INLET_T], signals[Q_GAP, INLET_P] = q_j_in - q_i_in, h_j * g_j_in - h_i * g_i_in
    signals[G_GAP, INLET_T], signals[G_GAP, INLET_P] = 0.0, g_j_in - g_i_in
    signals[T_GAP, INLET_T], signals[T_GAP, INLET_P] = heat[16], 0.0
    signals[P_GAP, INLET_T], signals[P_GAP, INLET_P] = 0.0, vapour[16]
    return heat[13], vapour[13]


@kernel
def outer_boundary(
    through: float,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    fluid: Fluid,
    now: FloatArray,
    cell: FloatArray,
    signals: FloatArray,
) -> None:
    """Wind, sun, sky, vapour and rain on the outer surface, whose temperature balances without storage."""
    t = temperature[0]
    h, emitted = now[OUT_FILM], now[EMISSIVITY] * STEFAN_BOLTZMANN
    conductance = 1.0 / (cell[0, R_Q] + faces.data[0, FACE_RESISTANCE])
    surface = t
    gain = h * now[OUT_TEMPERATURE] + now[ABSORBED] + conductance * t
    slope = h + conductance
    for _ in range(40):
        absolute = surface + KELVIN
        cubed = absolute * absolute * absolute
        slope = h + conductance + 4.0 * emitted * cubed
        step = (gain - (h + conductance) * surface - emitted * cubed * absolute) / slope
        surface += step
        if all_of(abs(step) < 1e-6):  # the next, of the order of its square, would be lost in round-off
            break
    put(signals, T_OUTER, surface, conductance / slope, 0.0, 0.0, 0.0)
    q = conductance * (surface - t)
    q_T = conductance * (conductance / slope - 1.0)
    per_r = -conductance * conductance * (surface - t) * (1.0 - conductance / slope)
    q_T, q_x = q_T + per_r * cell[0, R_Q_T], per_r * cell[0, R_Q_X]
    side, side_T, side_x = side_conductance(0, faces.kinds[0, SHEET], faces, cell)
    g, g_T, g_x = film_vapour(side, side_T, side_x, now[OUT_VAPOUR_FILM], now[OUT_VAPOUR], 0, cell)
    if faces.kinds[0, LIQUID_OPEN]:
        i = cells.data.shape[0] - faces.kinds.shape[0] + 1  # 0; a plain 0 would be compiled as a case of its own
        g, g_T, g_x = fed_by_liquid(g, g_T, g_x, i, t, now[OUT_VAPOUR_FILM], now[OUT_VAPOUR], cells, fluid, cell)
    if any_of(through != 0.0):
        ratio = fluid.molar_ratio / now[PRESSURE]
        entering, leaving = max(through, 0.0), min(through, 0.0)
        g += entering * ratio * now[OUT_VAPOUR] + leaving * ratio * cell[0, P]
        g_T, g_x = g_T + leaving * ratio * cell[0, P_T], g_x + leaving * ratio * cell[0, P_X]
        q += fluid.heat_air * (entering * now[OUT_TEMPERATURE] + leaving * t)
        q_T += leaving * fluid.heat_air
    h_v = fluid.latent_heat + fluid.heat_vapour * t
    q, q_T, q_x = q + h_v * g, q_T + h_v * g_T + fluid.heat_vapour * g, q_x + h_v * g_x
    put(signals, G_OUT, g, g_T, g_x, 0.0, 0.0)
    # rain is taken up to what the material can absorb from a wet surface; the rest runs off
    put(signals, G_RUNOFF, now[RAIN], 0.0, 0.0, 0.0, 0.0)
    if faces.kinds[0, LIQUID_OPEN] and any_of((now[RAIN] > 0.0) & (cell[0, ICE] <= 0.0)):
        tau = (t + KELVIN) / fluid.kelvin_reference
        wet, _, wet_tau = liquid_potential(
            cells.tables, cells.kinds[0, MATERIAL], cells.kinds[0, SUCTION_BASED], X_FREE + 0.0 * tau, tau
        )
        taken = 2.0 / cells.data[0, DX] * (wet - cell[0, THETA])
        taken_T = 2.0 / cells.data[0, DX] * (wet_tau / fluid.kelvin_reference - cell[0, THETA_T])
        taken_x = -2.0 / cells.data[0, DX] * cell[0, THETA_X]
        drinks = (taken > 0.0) & (cell[0, ICE] <= 0.0)
        limited = drinks & (taken <= now[RAIN])
        taken = where(drinks, min(taken, now[RAIN]), 0.0)
        taken_T, taken_x = where(limited, taken_T, 0.0), where(limited, taken_x, 0.0)
        h_l = fluid.heat_water * now[OUT_TEMPERATURE]
        g, g_T, g_x = g + taken, g_T + taken_T, g_x + taken_x
        q, q_T, q_x = q + h_l * taken, q_T + h_l * taken_T, q_x + h_l * taken_x
        put(signals, G_RAIN, taken, taken_T, taken_x, 0.0, 0.0)
        put(signals, G_RUNOFF, now[RAIN] - taken, -taken_T, -taken_x, 0.0, 0.0)
    add_source(cell, 0, q, q_T, q_x, g, g_T, g_x)
    put(signals, Q_OUT, q, q_T, q_x, 0.0, 0.0)


@kernel
def fed_by_liquid(
    dry: float,
    dry_T: float,
    dry_x: float,
    i: int,
    t: float,
    beta: float,
    p_air: float,
    cells: Cells,
    fluid: Fluid,
    cell: FloatArray,
) -> tuple[float, float, float]:
    """Vapour flux into surface cell i: through a face fed by liquid as far as the cell is unfrozen, else dry."""
    wet, wet_T, wet_x = wet_face_vapour(i, t, beta, p_air, cells, fluid, cell)
    share = cell[i, MOBILE]
    return (
        share * wet + (1.0 - share) * dry,
        share * wet_T + (1.0 - share) * dry_T + cell[i, MOBILE_T] * (wet - dry),
        share * wet_x + (1.0 - share) * dry_x + cell[i, MOBILE_X] * (wet - dry),
    )


@kernel
def wet_face_vapour(
    i: int, t: float, beta: float, p_air: float, cells: Cells, fluid: Fluid, cell: FloatArray
) -> tuple[float, float, float]:
    """Vapour flux from air into cell i through a face that liquid reaches, and its slopes over T and x.

    The face's coordinate is that at which the film passes what vapour and liquid carry on over half a cell.
    """
    m = cells.kinds[i, MATERIAL]
    a, r = 2.0 / cells.data[i, DX], cell[i, R_V]
    p_sat = cell[i, P] / cell[i, U]
    p_sat_T = (cell[i, P_T] - p_sat * cell[i, U_T]) / cell[i, U]
    tau = (t + KELVIN) / fluid.kelvin_reference
    x = min(max(cell[i, X_B], 1e-4), X_FREE)
    lowest, highest = 0.0 * x, X_FREE + 0.0 * x
    u, u_x, theta_x, theta_t = lowest, lowest, lowest, lowest
    for _ in range(80):
        u, u_x = reading(cells.tables, m, ACTIVITY, x)
        theta, theta_x, theta_t = liquid_potential(cells.tables, m, cells.kinds[i, SUCTION_BASED], x, tau)
        f = beta * (p_air - p_sat * u) - (p_sat * u - cell[i, P]) / r - a * (theta - cell[i, THETA])
        f_x = -(beta + 1.0 / r) * p_sat * u_x - a * theta_x
        lowest, highest = where(f > 0.0, x, lowest), where(f > 0.0, highest, x)
        following = x - f / f_x
        inside = (f_x < 0.0) & (lowest < following) & (following < highest)
        following = where(inside, following, 0.5 * (lowest + highest))
        found = abs(following - x) < 1e-13
        if all_of(found):
            break
        x = where(found, x, following)
    f_x = -(beta + 1.0 / r) * p_sat * u_x - a * theta_x
    over = p_sat * u - cell[i, P]
    f_T = (
        -(beta + 1.0 / r) * p_sat_T * u
        + cell[i, P_T] / r
        + over * cell[i, R_V_T] / (r * r)
        - a * (theta_t / fluid.kelvin_reference - cell[i, THETA_T])
    )
    f_c = cell[i, P_X] / r + over * cell[i, R_V_X] / (r * r) + a * cell[i, THETA_X]
    below = x < X_FREE - 1e-12
    x_T, x_c = where(below, -f_T / f_x, 0.0), where(below, -f_c / f_x, 0.0)
    return (
        beta * (p_air - p_sat * u),
        -beta * (p_sat_T * u + p_sat * u_x * x_T),
        -beta * p_sat * u_x * x_c,
    )


@kernel_part
def film_vapour(
    side: float, side_T: float, side_x: float, beta: float, p_air: float, i: int, cell: FloatArray
) -> tuple[float, float, float]:
    """Vapour flux from air through its film into cell i, and its slopes over T and x."""
    total = side * beta / (side + beta)
    per_side = beta / (side + beta)
    per_side = per_side * per_side
    drop = p_air - cell[i, P]
    return (
        total * drop,
        per_side * side_T * drop - total * cell[i, P_T],
        per_side * side_x * drop - total * cell[i, P_X],
    )


@kernel_part
def inner_boundary(
    through: float,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    fluid: Fluid,
    now: FloatArray,
    cell: FloatArray,
    signals: FloatArray,
) -> None:
    """Indoor air on the inner surface."""
    n = cells.data.shape[0]
    i = n - 1
    t = temperature[i]
    half = cell[i, R_Q]
    beyond = faces.data[n, FACE_RESISTANCE] + 1.0 / now[IN_FILM]
    conductance = 1.0 / (half + beyond)
    q = conductance * (now[IN_TEMPERATURE] - t)
    q_T, q_x = -conductance - conductance * q * cell[i, R_Q_T], -conductance * q * cell[i, R_Q_X]
    put(signals, T_INNER, t + q * half, 1.0 - conductance * half, 0.0, 0.0, 0.0)
    side, side_T, side_x = side_conductance(i, int(faces.kinds[n, SHEET]), faces, cell)
    g, g_T, g_x = film_vapour(side, side_T, side_x, now[IN_VAPOUR_FILM], now[IN_VAPOUR], i, cell)
    if faces.kinds[n, LIQUID_OPEN]:
        g, g_T, g_x = fed_by_liquid(g, g_T, g_x, i, t, now[IN_VAPOUR_FILM], now[IN_VAPOUR], cells, fluid, cell)
    if any_of(through != 0.0):
        ratio = fluid.molar_ratio / now[PRESSURE]
        entering, leaving = min(through, 0.0), max(through, 0.0)  # positive inwards: out of the last cell
        g -= entering * ratio * now[IN_VAPOUR] + leaving * ratio * cell[i, P]
        g_T, g_x = g_T - leaving * ratio * cell[i, P_T], g_x - leaving * ratio * cell[i, P_X]
        q -= fluid.heat_air * (entering * now[IN_TEMPERATURE] + leaving * t)
        q_T -= leaving * fluid.heat_air
    h_v = fluid.latent_heat + fluid.heat_vapour * t
    q, q_T, q_x = q + h_v * g, q_T + h_v * g_T + fluid.heat_vapour * g, q_x + h_v * g_x
    add_source(cell, i, q, q_T, q_x, g, g_T, g_x)
    put(signals, Q_IN, q, q_T, q_x, 0.0, 0.0)
    put(signals, G_IN, g, g_T, g_x, 0.0, 0.0)


@kernel_part
def leak_source(
    i: int,
    flow: float,
    temperature: FloatArray,
    fluid: Fluid,
    now: FloatArray,
    cell: FloatArray,
    signals: FloatArray,
) -> None:
    """Air that reaches cell i by a short path, takes the cell's state there and goes on (9)."""
    t_air = where(flow > 0.0, now[IN_TEMPERATURE], now[OUT_TEMPERATURE])
    p_air = where(flow > 0.0, now[IN_VAPOUR], now[OUT_VAPOUR])
    t, amount = temperature[i], abs(flow)
    carry = amount * fluid.molar_ratio / now[PRESSURE]
    g = carry * (p_air - cell[i, P])
    g_T, g_x = -carry * cell[i, P_T], -carry * cell[i, P_X]
    h_v = fluid.latent_heat + fluid.heat_vapour * t
    q = amount * fluid.heat_air * (t_air - t) + h_v * g
    q_T, q_x = -amount * fluid.heat_air + h_v * g_T + fluid.heat_vapour * g, h_v * g_x
    add_source(cell, i, q, q_T, q_x, g, g_T, g_x)
    put(signals, Q_LEAK, q, q_T, q_x, 0.0, 0.0)
    put(signals, G_LEAK, g, g_T, g_x, 0.0, 0.0)


@kernel
def drips_as(i: int, n: int, gap_at: int, cell: FloatArray) -> int:
    """Signal that counts what cell i sheds, or -1 where it faces no air.

    What an outer layer with pores cannot hold runs down outside, which harms nothing within: G_SHED. The film of a
    vapour-tight one hangs under it.
    """
    if i == 0 and gap_at != 1 and any_of(cell[0, R_V] < TIGHT):
        return G_SHED
    if i == 0 or i == n - 1 or (gap_at > 0 and (i == gap_at or i == gap_at - 1)):
        return G_DRIP
    return -1


@kernel_part
def drip(
    s: int,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    gap_at: int,
    fluid: Fluid,
    cell: FloatArray,
    signals: FloatArray,
) -> None:
    """Shed what films and full cells that face air hold past their limit, at the enthalpy of liquid water."""
    full = False
    for i in range(abreast.data.shape[0]):
        full = full or any_of(abreast.known[s, i, W] > abreast.data[i, FILM_LIMIT])
    if not full:
        return
    n = cells.data.shape[0]
    for i in range(n):
        excess = cell[i, W] - cells.data[i, FILM_LIMIT]
        if any_of(excess > 0.0):
            into = drips_as(i, n, gap_at, cell)
            if into >= 0:
                excess, rate = max(excess, 0.0), where(excess > 0.0, DRIP_RATE * cells.data[i, DX], 0.0)
                g, g_T, g_x = rate * excess, rate * cell[i, W_T], rate * cell[i, W_X]
                h_l = fluid.heat_water * temperature[i]
                add_source(cell, i, -h_l * g, -h_l * g_T - fluid.heat_water * g, -h_l * g_x, -g, -g_T, -g_x)
                signals[into, 0] += g
                signals[Q_DRIP, 0] += h_l * g


@kernel_part
def put(signals: FloatArray, m: int, value: float, a_T: float, a_x: float, b_T: float, b_x: float) -> None:
    """Write a signal and its slopes over the two cells that it depends on."""
    signals[m, 0], signals[m, 1], signals[m, 2], signals[m, 3], signals[m, 4] = value, a_T, a_x, b_T, b_x


# -------------------------------------------------------------------------------------------------- one column


@kernel
def evaluate(
    s: int,
    speed: float,
    density: float,
    t_inlet: float,
    p_inlet: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    now: FloatArray,
    cell: FloatArray,
    signals: FloatArray,
    air: FloatArray,
) -> tuple[float, float]:
    """Net inflow of heat and water into every cell of slice s under the boundary conditions ``now``, with slopes.

    ``temperature`` and ``cell`` are those of the slice, one by one. Returns the state of the gap's air at the outlet.
    """
    n = cells.data.shape[0]
    cell_states(s, abreast, fluid)
    interior_faces(-now[LEAK_FLOW], now[PRESSURE], s, abreast, fluid)
    for m in (Q_LEAK, Q_DRIP, G_LEAK, G_RAIN, G_DRIP, G_SHED, G_DEFECT):  # what is not there every time
        put(signals, m, 0.0, 0.0, 0.0, 0.0, 0.0)
    flow = now[LEAK_FLOW]  # positive from indoors to outdoors
    outer_boundary(-flow * faces.data[0, AIR_SHARE], temperature, cells, faces, fluid, now, cell, signals)
    inner_boundary(-flow * faces.data[n, AIR_SHARE], temperature, cells, faces, fluid, now, cell, signals)
    t_outlet, p_outlet = t_inlet, p_inlet
    if gap.face >= 0:
        into_gap = max(flow, 0.0) if leak.into_gap else 0.0 * flow
        t_outlet, p_outlet = gap_face(
            speed,
            density,
            t_inlet,
            p_inlet,
            into_gap,
            -flow * faces.data[gap.face, AIR_SHARE],
            temperature,
            faces,
            gap,
            fluid,
            now,
            cell,
            signals,
            air,
        )
    if leak.cell >= 0 and any_of(flow != 0.0):
        leak_source(leak.cell, flow, temperature, fluid, now, cell, signals)
    if leak.rain_cell >= 0 and any_of(now[RAIN_DEFECT] > 0.0):
        brought = fluid.heat_water * now[OUT_TEMPERATURE] * now[RAIN_DEFECT]
        add_source(cell, leak.rain_cell, brought, 0.0, 0.0, now[RAIN_DEFECT], 0.0, 0.0)
        put(signals, G_DEFECT, now[RAIN_DEFECT], 0.0, 0.0, 0.0, 0.0)
        signals[Q_LEAK, 0] += brought
    drip(s, abreast, temperature, cells, gap.face, fluid, cell, signals)
    return t_outlet, p_outlet
