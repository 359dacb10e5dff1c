"""State functions of the cells, (3)-(7) of `column`, with their slopes over temperature and moisture coordinate."""

from __future__ import annotations

from hygro.constants import ZERO_CELSIUS as KELVIN
from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    CONDUCTIVITY,
    CONDUCTIVITY_MOISTURE,
    CONDUCTIVITY_TEMPERATURE,
    CONDUCTS_LIQUID,
    DX,
    ENTHALPY,
    ENTHALPY_T,
    ENTHALPY_X,
    FREE_SLOPE,
    HEAT_CAPACITY,
    ICE,
    MATERIAL,
    MOBILE,
    MOBILE_T,
    MOBILE_X,
    ONSET,
    P_T,
    P_X,
    R_Q,
    R_Q_T,
    R_Q_X,
    R_V,
    R_V_T,
    R_V_X,
    SUCTION_BASED,
    THETA,
    THETA_T,
    THETA_X,
    U_T,
    U_X,
    W_T,
    W_X,
    X_B,
    Abreast,
    FloatArray,
    Fluid,
    P,
    U,
    W,
)
from hygro.core.lanes import any_of, material_row, table_row, where
from hygro.core.potential import shifted
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

TIGHT = 1e25  # [m2 s Pa kg-1] resistance that stands for vapour-tight; numerical
CONDUCTIVITY_AT = 10.0  # [degC] temperature at which dry conductivities are stated, ISO 10456


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
    i: int, by_suction: bool, temperature: float, x: float, x_ice: float, x_ice_T: float, abreast: Abreast, fluid: Fluid
) -> tuple[Sloped, Sloped, Sloped, Sloped, Sloped, float]:
    """What cell i holds at a temperature and coordinate, and the curves that depend on it.

    Returns activity, water content, ice, Kirchhoff potential and relative vapour permeability, each with its slopes
    over T and x, and the coordinate of the bound water. Callers that need but a few pay only for those, and nobody for
    what curves over suction need but where some are stated so (``by_suction``).
    """
    tables, data = abreast.tables, abreast.data
    m, over_suction = abreast.kinds[i, MATERIAL], abreast.kinds[i, SUCTION_BASED] != 0

    # bound water, and free water past the onset; x_ice lies past every onset where nothing freezes
    onset = data[i, ONSET]
    beyond, free, free_x, x_b, b_x = x > onset, 0.0, 0.0, x, 1.0
    if any_of(beyond):
        free, free_x = where(beyond, data[i, FREE_SLOPE] * (x - onset), 0.0), where(beyond, data[i, FREE_SLOPE], 0.0)
        x_b, b_x = where(beyond, onset, x), where(beyond, 0.0, 1.0)
    frozen, x_e, e_T, e_x = x_b > x_ice, x_b, 0.0, b_x
    if any_of(frozen):
        x_e, e_T, e_x = where(frozen, x_ice, x_b), where(frozen, x_ice_T, 0.0), where(frozen, 0.0, b_x)

    k, part = moisture_node(x_e)
    row = material_row(tables, m, k)
    u, u_slope = row[ACTIVITY] + part * row[RISE + ACTIVITY], row[RISE + ACTIVITY] * NODES_PER_UNIT

    c_T, c_x = e_T, e_x  # slopes of where the curves are read; suction-based ones depend on temperature as well
    if by_suction:
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
        if by_suction:
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
    if any_of(freezing):
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
    for i in range(abreast.data.shape[0]):
        if any_of(abreast.kinds[i, SUCTION_BASED] != 0):
            state_by_suction(s, i, abreast, fluid)
        else:
            state(s, i, False, abreast, fluid)


@kernel
def state_by_suction(s: int, i: int, abreast: Abreast, fluid: Fluid) -> None:
    """`state` of a cell whose curves are stated over suction; apart, since its calls would cost others registers."""
    state(s, i, True, abreast, fluid)


@kernel_part
def state(s: int, i: int, by_suction: bool, abreast: Abreast, fluid: Fluid) -> None:
    """Evaluate the state functions of cell i of slice s and their slopes."""
    data, cell = abreast.data, abreast.known[s]
    temperature = abreast.temperature[s, i]
    p_sat, p_sat_T, x_ice, x_ice_T, delta_a, delta_a_T = air_at(fluid, temperature)
    at_u, at_w, at_ice, at_theta, at_openness, x_b = water_in_cell(
        i, by_suction, temperature, abreast.x[s, i], x_ice, x_ice_T, abreast, fluid
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
    cell[i, ENTHALPY] = data[i, HEAT_CAPACITY] * temperature + w * fluid.heat_water * temperature + ice * of_ice  # (4)
    cell[i, ENTHALPY_T] = (
        data[i, HEAT_CAPACITY]
        + fluid.heat_water * (w + temperature * w_T)
        + ice_T * of_ice
        + ice * (fluid.heat_ice - fluid.heat_water)
    )
    cell[i, ENTHALPY_X] = fluid.heat_water * temperature * w_x + ice_x * of_ice


@kernel
def liquid_potential(
    tables: FloatArray, material: int, suction_based: int, x: float, tau: float
) -> tuple[float, float, float]:
    """Kirchhoff potential of a material at a coordinate, its slopes over x and over tau."""
    over_suction, slope_x, slope_tau = suction_based != 0, 1.0 + 0.0 * x, 0.0 * x
    if any_of(over_suction):
        x_c, x_c_x, x_c_tau = shifted(x, tau)
        x, slope_x, slope_tau = (
            where(over_suction, x_c, x),
            where(over_suction, x_c_x, 1.0),
            where(over_suction, x_c_tau, 0.0),
        )
    value, slope = reading(tables, material, LIQUID, x)
    return value, slope * slope_x, slope * slope_tau
