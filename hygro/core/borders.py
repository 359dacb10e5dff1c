"""What crosses the borders of a column: films, sun and rain outside, indoor air, leaks, and what drips."""

from __future__ import annotations

from hygro.constants import STEFAN_BOLTZMANN
from hygro.constants import ZERO_CELSIUS as KELVIN
from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    ABSORBED,
    DX,
    EMISSIVITY,
    FACE_RESISTANCE,
    FILM_LIMIT,
    G_DRIP,
    G_IN,
    G_LEAK,
    G_OUT,
    G_RAIN,
    G_RUNOFF,
    G_SHED,
    HEAT,
    ICE,
    IN_FILM,
    IN_TEMPERATURE,
    IN_VAPOUR,
    IN_VAPOUR_FILM,
    LIQUID_OPEN,
    MATERIAL,
    MID,
    MOBILE,
    MOBILE_T,
    MOBILE_X,
    OUT_FILM,
    OUT_TEMPERATURE,
    OUT_VAPOUR,
    OUT_VAPOUR_FILM,
    P_T,
    P_X,
    PRESSURE,
    Q_DRIP,
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
    SHEET,
    SUCTION_BASED,
    T_INNER,
    T_OUTER,
    THETA,
    THETA_T,
    THETA_X,
    U_T,
    U_X,
    W_T,
    W_X,
    WATER_IN,
    X_B,
    Abreast,
    Cells,
    Faces,
    FloatArray,
    Fluid,
    P,
    U,
    W,
)
from hygro.core.cell import TIGHT, liquid_potential, reading
from hygro.core.faces import DRIP_RATE, sheet_resistance
from hygro.core.lanes import all_of, any_of, where
from hygro.core.potential import X_FREE
from hygro.core.tables import ACTIVITY


@kernel_part
def put(signals: FloatArray, m: int, value: float, a_T: float, a_x: float, b_T: float, b_x: float) -> None:
    """Write a signal and its slopes over the two cells that it depends on."""
    signals[m, 0], signals[m, 1], signals[m, 2], signals[m, 3], signals[m, 4] = value, a_T, a_x, b_T, b_x


@kernel_part
def add_source(cell: FloatArray, i: int, q: float, q_T: float, q_x: float, g: float, g_T: float, g_x: float) -> None:
    """Give heat q and water g, with their slopes over the cell's own T and x, to cell i."""
    cell[i, HEAT] += q
    cell[i, WATER_IN] += g
    cell[i, MID] += q_T
    cell[i, MID + 1] += q_x
    cell[i, MID + 2] += g_T
    cell[i, MID + 3] += g_x


@kernel_part
def side_conductance(i: int, s: int, faces: Faces, cell: FloatArray) -> tuple[float, float, float]:
    """Vapour conductance from a cell's centre to the air beyond sheet s, and its slopes over T and x."""
    sheet, sheet_u = sheet_resistance(faces.sheet_tables, s, cell[i, U])
    k = 1.0 / (cell[i, R_V] + sheet)
    return k, -k * k * (cell[i, R_V_T] + sheet_u * cell[i, U_T]), -k * k * (cell[i, R_V_X] + sheet_u * cell[i, U_X])


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
def heat_gained(now: FloatArray, surface: float) -> float:
    """What a surface gains from outside: from the air through its film, from sun and sky, less what it emits."""
    squared = (surface + KELVIN) * (surface + KELVIN)
    emitted = now[EMISSIVITY] * STEFAN_BOLTZMANN * squared * squared
    gained: float = now[OUT_FILM] * (now[OUT_TEMPERATURE] - surface) + now[ABSORBED] - emitted
    return gained


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
    h, radiates = now[OUT_FILM], 4.0 * now[EMISSIVITY] * STEFAN_BOLTZMANN
    conductance = 1.0 / (cell[0, R_Q] + faces.data[0, FACE_RESISTANCE])
    surface = t
    slope = h + conductance
    for _ in range(40):
        absolute = surface + KELVIN
        slope = h + conductance + radiates * absolute * absolute * absolute
        step = (heat_gained(now, surface) + conductance * (t - surface)) / slope
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
def any_sheds(s: int, abreast: Abreast) -> bool:
    """Whether any cell of slice s holds more than it can."""
    full = False
    for i in range(abreast.data.shape[0]):
        full = full or any_of(abreast.known[s, i, W] > abreast.data[i, FILM_LIMIT])
    return full


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
    if not any_sheds(s, abreast):
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
