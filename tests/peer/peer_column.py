"""Right-hand side of the peer integration: dH/dt and dw/dt of every cell of every slice.

Equations (1), (2) and (8), (9) of ``hygro.core.column`` in conservative form on the same cells, coded apart from it:
one flux per face from the states of ``peer_cell``, no slopes. Conventions taken from there: enthalpies of fluxes
between cells at the mean temperature of both cells, at boundaries and in the gap at that of the cell; a sheet's
resistance at the mean humidity of both cells, at boundaries and in the gap at that of the cell. Ice leaves liquid its
potential and takes the unfrozen shares of both cells from the flux.

Order of the unknowns: cell, slice, (enthalpy, water), so that a slice meets its neighbour slice within the band.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from peer_cell import (
    BOUND_AT,
    BY_SUCTION,
    DRINKS,
    DX,
    FILM_LIMIT,
    HEAT_WATER,
    ICE,
    L_DRY,
    L_WET,
    MATERIAL,
    N_STATE,
    POTENTIAL,
    R_Q,
    R_V,
    REFERENCE,
    THETA,
    UNFROZEN,
    P,
    T,
    U,
    W,
    cell_state,
    read,
    shift,
)
from peer_gap import (
    FACE,
    HEAT_AIR,
    KELVIN,
    LENGTH,
    LEWIS,
    STEFAN_BOLTZMANN,
    THICKNESS,
    along,
    film,
    radiative,
    speed_of_air,
)

LATENT, HEAT_VAPOUR, MOLAR_RATIO, AIR_GAS_CONSTANT = 2.501e6, 1860.0, 0.621945, 287.04
DRIP_RATE = 1.0 / 600.0
SHEET_STEPS = 4096

# scalars of the leak: cell that it reaches (-1 none), whether it seeps through all layers
INTO, SEEPS, N_LEAK = range(3)
# the boundary conditions
(
    T_OUT, P_OUT, H_OUT, B_OUT, ABSORBED, EMISSIVITY, RAIN, PRESSURE, WIND, T_IN, P_IN, H_IN, B_IN, LEAK, N_HOUR,
) = range(15)  # fmt: skip


@njit(cache=True, error_model="numpy")
def sheet(sheets, row, humidity):
    """Vapour resistance of the sheets on a face at a humidity [m2 s Pa kg-1]."""
    place = min(max(humidity, 0.0), 1.0) * SHEET_STEPS
    k = min(int(place), SHEET_STEPS - 1)
    return sheets[row, k] + (place - k) * (sheets[row, k + 1] - sheets[row, k])


@njit(cache=True, error_model="numpy")
def carried(flow, conductance, a_left, a_right):
    """Flow rightwards through a resistance with air of capacity ``flow`` passing it: the exact exponential profile."""
    n = flow / conductance if conductance > 0.0 else math.copysign(1e9, flow)
    if abs(n) < 1e-9:
        return conductance * (a_left - a_right) + 0.5 * flow * (a_left + a_right)
    if n > 500.0:
        return flow * a_left
    if n < -500.0:
        return flow * a_right
    return flow * (a_left + (a_left - a_right) / math.expm1(n))


@njit(cache=True, error_model="numpy")
def liquid_between(c_i, c_j, table_i, table_j, s_i, s_j):
    """Liquid flux from a cell to its right neighbour [kg m-2 s-1]."""
    passed = s_i[UNFROZEN] * s_j[UNFROZEN]
    if c_i[MATERIAL] == c_j[MATERIAL]:
        return passed * 2.0 * (s_i[POTENTIAL] - s_j[POTENTIAL]) / (c_i[DX] + c_j[DX])
    # two materials share the activity of the face: halve l until both half cells pass the same
    warm = math.log((0.5 * (s_i[T] + s_j[T]) + KELVIN) / REFERENCE)
    move_i, move_j = (warm if c_i[BY_SUCTION] > 0.0 else 0.0), (warm if c_j[BY_SUCTION] > 0.0 else 0.0)
    # both cells are off the mean temperature, so that the face may lie a little outside
    wet, dry = min(s_i[BOUND_AT], s_j[BOUND_AT]) - 0.5, max(s_i[BOUND_AT], s_j[BOUND_AT]) + 0.5
    leaving = 0.0
    for _ in range(60):
        middle = 0.5 * (wet + dry)
        leaving = 2.0 / c_i[DX] * (s_i[POTENTIAL] - read(table_i, THETA, middle + move_i))
        entering = 2.0 / c_j[DX] * (read(table_j, THETA, middle + move_j) - s_j[POTENTIAL])
        if leaving > entering:  # the face can be wetter
            dry = middle
        else:
            wet = middle
    return passed * leaving


@njit(cache=True, error_model="numpy")
def from_air(c, table, s, sheets, row, pressure, beta):
    """Vapour flux from boundary air into the cell on that face [kg m-2 s-1].

    Where liquid reaches the face, halve its l until the film brings what half a cell takes on as vapour and liquid; as
    far as the cell is frozen, vapour alone passes.
    """
    if beta <= 0.0:
        return 0.0
    vapour = (pressure - s[P]) / (s[R_V] + sheet(sheets, row, s[U]) + 1.0 / beta)
    if c[DRINKS] == 0.0 or sheets[row, 0] > 0.0:
        return vapour
    move, saturated = shift(c, s[T]), s[P] / s[U]
    wet, dry, brought = L_WET, L_DRY, 0.0
    for _ in range(60):
        middle = 0.5 * (wet + dry)
        at_face = saturated * math.exp(-math.exp(middle))
        brought = beta * (pressure - at_face)
        taken = (at_face - s[P]) / s[R_V] + 2.0 / c[DX] * (read(table, THETA, middle + move) - s[POTENTIAL])
        if brought > taken:  # the face can be wetter
            dry = middle
        else:
            wet = middle
    return s[UNFROZEN] * brought + (1.0 - s[UNFROZEN]) * vapour


@njit(cache=True, error_model="numpy")
def outer_surface(hour, t, conductance):
    """Temperature of a massless outer surface between weather and the first cell [degC]."""
    emitted = hour[EMISSIVITY] * STEFAN_BOLTZMANN
    surface = t
    for _ in range(100):
        kelvin = surface + KELVIN
        net = hour[H_OUT] * (hour[T_OUT] - surface) + hour[ABSORBED] - emitted * kelvin**4 + conductance * (t - surface)
        step = net / (hour[H_OUT] + conductance + 4.0 * emitted * kelvin**3)
        surface += step
        if abs(step) < 1e-11:
            break
    return surface


@njit(cache=True, error_model="numpy")
def derivative(t, k, y, dydt, n_slices, c, tables, sheets, gap, leak, forcing):
    """Rates of the unknowns at a time [s] of hour k; returns the air speed in the gap [m s-1]."""
    n = c.shape[0]
    share = t / 3600.0 - k
    hour = (1.0 - share) * forcing[k] + share * forcing[k + 1]
    hour[RAIN] = forcing[k + 1, RAIN]
    state = np.empty((n_slices, n, N_STATE))
    heat, water = np.zeros((n_slices, n)), np.zeros((n_slices, n))
    for i in range(n):
        for s in range(n_slices):
            at = 2 * (i * n_slices + s)
            cell_state(c[i], tables[int(c[i, MATERIAL])], y[at], y[at + 1], state[s, i])
    ratio = MOLAR_RATIO / hour[PRESSURE]
    density = hour[PRESSURE] / (AIR_GAS_CONSTANT * (hour[T_OUT] + KELVIN))
    face = int(gap[FACE])
    speed = 0.0
    if face > 0:
        t_1, t_2 = state[:, face - 1, T], state[:, face, T]
        k_1, k_2 = 1.0 / state[:, face - 1, R_Q], 1.0 / state[:, face, R_Q]
        speed = speed_of_air(gap, density, hour[WIND], hour[T_OUT], t_1, t_2, k_1, k_2)
        h = film(gap, speed, density)
        stream = abs(speed) * gap[THICKNESS] * n_slices / gap[LENGTH] * density
        air, vapour = hour[T_OUT], hour[P_OUT]
        for order in range(n_slices):
            s = order if speed >= 0.0 else n_slices - 1 - order
            a, b = state[s, face - 1], state[s, face]
            r = radiative(gap, a[T], b[T])
            q_1, q_2, _, air = along(air, a[T], b[T], k_1[s], k_2[s], h, r, stream * HEAT_AIR)
            c_1 = 1.0 / (a[R_V] + sheet(sheets, n + 1, a[U]))
            c_2 = 1.0 / (b[R_V] + sheet(sheets, face, b[U]))
            beta = h / HEAT_AIR * ratio * LEWIS
            g_1, g_2, _, vapour = along(vapour, a[P], b[P], c_1, c_2, beta, 0.0, stream * ratio)
            water[s, face - 1] -= g_1
            water[s, face] += g_2
            heat[s, face - 1] -= q_1 + g_1 * (LATENT + HEAT_VAPOUR * a[T])
            heat[s, face] += q_2 + g_2 * (LATENT + HEAT_VAPOUR * b[T])
    through = -hour[LEAK] if leak[SEEPS] > 0.0 else 0.0  # inwards
    for s in range(n_slices):
        x = state[s]
        # outer boundary
        a = x[0]
        conductance = 1.0 / a[R_Q]
        q = conductance * (outer_surface(hour, a[T], conductance) - a[T])
        g = from_air(c[0], tables[int(c[0, MATERIAL])], a, sheets, 0, hour[P_OUT], hour[B_OUT])
        if through > 0.0:
            g, q = g + through * ratio * hour[P_OUT], q + through * HEAT_AIR * hour[T_OUT]
        elif through < 0.0:
            g, q = g + through * ratio * a[P], q + through * HEAT_AIR * a[T]
        heat[s, 0] += q + g * (LATENT + HEAT_VAPOUR * a[T])
        water[s, 0] += g
        if hour[RAIN] > 0.0 and c[0, DRINKS] > 0.0 and sheets[0, 0] == 0.0 and a[ICE] <= 0.0:
            full = read(tables[int(c[0, MATERIAL])], THETA, L_WET + shift(c[0], a[T]))
            most = 2.0 / c[0, DX] * (full - a[POTENTIAL])
            taken = max(min(most, hour[RAIN]), 0.0)
            water[s, 0] += taken
            heat[s, 0] += taken * HEAT_WATER * hour[T_OUT]
        # inner boundary
        a = x[n - 1]
        q = (hour[T_IN] - a[T]) / (a[R_Q] + 1.0 / hour[H_IN])
        g = from_air(c[n - 1], tables[int(c[n - 1, MATERIAL])], a, sheets, n, hour[P_IN], hour[B_IN])
        if through < 0.0:
            g, q = g - through * ratio * hour[P_IN], q - through * HEAT_AIR * hour[T_IN]
        elif through > 0.0:
            g, q = g - through * ratio * a[P], q - through * HEAT_AIR * a[T]
        heat[s, n - 1] += q + g * (LATENT + HEAT_VAPOUR * a[T])
        water[s, n - 1] += g
        # between cells
        for j in range(1, n):
            if j == face:
                continue
            a, b = x[j - 1], x[j]
            middle = 0.5 * (a[T] + b[T])
            k = 1.0 / (a[R_V] + b[R_V] + sheet(sheets, j, 0.5 * (a[U] + b[U])))
            g = carried(through * ratio, k, a[P], b[P])
            q = carried(through * HEAT_AIR, 1.0 / (a[R_Q] + b[R_Q]), a[T], b[T])
            q += g * (LATENT + HEAT_VAPOUR * middle)
            if c[j - 1, DRINKS] > 0.0 and c[j, DRINKS] > 0.0 and sheets[j, 0] == 0.0:
                table_i, table_j = tables[int(c[j - 1, MATERIAL])], tables[int(c[j, MATERIAL])]
                liquid = liquid_between(c[j - 1], c[j], table_i, table_j, a, b)
                g += liquid
                q += liquid * HEAT_WATER * middle
            if c[j - 1, MATERIAL] == c[j, MATERIAL] and sheets[j, 0] == 0.0:  # full cells overflow within a material
                spill = max(a[W] - c[j - 1, FILM_LIMIT], 0.0) - max(b[W] - c[j, FILM_LIMIT], 0.0)
                spill *= DRIP_RATE * min(c[j - 1, DX], c[j, DX])
                g += spill
                q += spill * HEAT_WATER * middle
            heat[s, j - 1] -= q
            heat[s, j] += q
            water[s, j - 1] -= g
            water[s, j] += g
        # indoor (or outdoor) air that reaches a cell by a short path and leaves with its state
        at = int(leak[INTO])
        if at >= 0 and hour[LEAK] != 0.0:
            a = x[at]
            t_air, p_air = (hour[T_IN], hour[P_IN]) if hour[LEAK] > 0.0 else (hour[T_OUT], hour[P_OUT])
            amount = abs(hour[LEAK])
            g = amount * ratio * (p_air - a[P])
            water[s, at] += g
            heat[s, at] += amount * HEAT_AIR * (t_air - a[T]) + g * (LATENT + HEAT_VAPOUR * a[T])
        for i in range(n):
            over = x[i, W] - c[i, FILM_LIMIT]
            if over > 0.0 and (i in (0, n - 1) or (face > 0 and i in (face - 1, face))):
                water[s, i] -= DRIP_RATE * c[i, DX] * over
                heat[s, i] -= DRIP_RATE * c[i, DX] * over * HEAT_WATER * x[i, T]
    for i in range(n):
        for s in range(n_slices):
            at = 2 * (i * n_slices + s)
            dydt[at], dydt[at + 1] = heat[s, i] / c[i, DX], water[s, i] / c[i, DX]
    return speed


@njit(cache=True, error_model="numpy")
def observe(y, n_slices, c, tables, out):
    """State of every cell, shape (n_slices, n, N_STATE)."""
    for i in range(c.shape[0]):
        for s in range(n_slices):
            at = 2 * (i * n_slices + s)
            cell_state(c[i], tables[int(c[i, MATERIAL])], y[at], y[at + 1], out[s, i])
