"""State functions of the peer integration: from a cell's enthalpy and water to all that drives a flux.

The peer's unknowns are the conserved quantities themselves, enthalpy H [J m-3] and water w [kg m-3], so that the
balance is a plain ordinary differential equation; temperature, water activity and ice come from inverting

    H = (rho c) T + (w - ice) c_w T + ice (c_i T - L_f)

together with the material's curve, which is read from the `Material` itself. Equations (3)-(7) of
``hygro.core.column`` state the model; nothing of the kernel's tables or coordinates is used.

Curves are sampled on 2^14 even steps of l = ln(-ln u) at 20 degC, from dry to free water, linear in between.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from peer_air import FREEZING_SPAN, KELVIN, SIGMA_DAMP, SIGMA_FREE, ice_log_sigma, log_over_water, still_air

HEAT_WATER, HEAT_ICE, FUSION = 4190.0, 2000.0, 3.336e5
REFERENCE = 293.15  # [K] at which curves over suction are stated
SUCTION_SCALE = 1000.0 * 461.5 * REFERENCE  # [Pa]
STEPS = 2**14
L_DRY, L_WET = math.log(-math.log(1e-4)), math.log(SIGMA_FREE)
STEP = (L_DRY - L_WET) / STEPS
WATER, OPENNESS, THETA = 0, 1, 2

# columns of the peer's cell constants
DX, DRY_HEAT, LAM, LAM_WATER, LAM_WARM, FILM_LIMIT, L_ONSET, MATERIAL, BY_SUCTION, DRINKS, N_CONSTANTS = range(11)
# columns of the state: temperature, activity, vapour pressure, resistances of half a cell, liquid potential and l
# of bound water with its ice, water, ice, unfrozen share of all water
T, U, P, R_V, R_Q, POTENTIAL, BOUND_AT, W, ICE, UNFROZEN, N_STATE = range(11)


def sample(material) -> np.ndarray:
    """Curves of a material at the nodes, from dry to wet; shape (3, STEPS + 1)."""
    log_sigma = L_DRY - STEP * np.arange(STEPS + 1)
    sigma = np.exp(log_sigma)
    u = np.exp(-sigma)
    water = np.asarray(material.water_content(u), dtype=float)
    if not material.is_hygroscopic:
        # what binds nothing is given a trace, so that its humidity is defined: the solver's coordinate times 1e-4
        water = water + 1e-4 * np.where(u <= 0.9, u, 0.9 + 0.9 * -math.log(0.9) * np.log(-math.log(0.9) / sigma))
    water = np.maximum.accumulate(water) + 1e-9 * np.linspace(0.0, 1.0, STEPS + 1)
    openness = np.zeros_like(u) if material.is_vapour_tight else 1.0 / material.vapour_resistance_factor(u)
    theta = np.zeros_like(u)
    if material.transports_liquid:
        if hasattr(material.liquid, "diffusivity"):
            rate = material.liquid.diffusivity(water, material.free_saturation)
            pieces = 0.5 * (rate[1:] + rate[:-1]) * np.diff(water)
        else:
            suction = SUCTION_SCALE * sigma
            rate = material.liquid_conductivity(suction)
            pieces = 0.5 * (rate[1:] + rate[:-1]) * -np.diff(suction)
        theta = np.concatenate([[0.0], np.cumsum(pieces)])
    return np.stack([water, openness, theta])


def constants(grid) -> np.ndarray:
    """Constants of the cells, shape (n, N_CONSTANTS), from the grid's cell sizes and the materials' own statements.

    A film drips beyond 0.2 kg m-2, any other cell beyond full pores; what binds nothing holds 1 kg m-3.
    """
    number = np.asarray(grid.cells.kinds[:, 0])
    out = np.zeros((len(number), N_CONSTANTS))
    for i, which in enumerate(number):
        m = grid.materials[which]
        onset = SIGMA_FREE if m.transports_liquid else SIGMA_DAMP
        out[i] = (
            grid.thickness[i],
            m.density * m.specific_heat,
            m.conductivity,
            m.conductivity_moisture,
            m.conductivity_temperature,
            0.2 / grid.thickness[i] if grid.is_film[i] else max(m.saturation or 0.0, 1.0),
            math.log(onset),
            which,
            m.is_suction_based,
            m.transports_liquid,
        )
    return out


@njit(cache=True, error_model="numpy")
def read(table, column, log_sigma):
    """A curve at l."""
    place = (L_DRY - log_sigma) / STEP
    k = min(max(int(place), 0), STEPS - 1)
    part = min(max(place - k, 0.0), 1.0)
    return table[column, k] + part * (table[column, k + 1] - table[column, k])


@njit(cache=True, error_model="numpy")
def find(table, water):
    """l at which a material holds an amount of water: halving."""
    low, high = 0, STEPS
    if water <= table[WATER, 0]:
        return L_DRY
    while high - low > 1:
        middle = (low + high) // 2
        if table[WATER, middle] > water:
            high = middle
        else:
            low = middle
    part = (water - table[WATER, low]) / (table[WATER, high] - table[WATER, low])
    return L_DRY - STEP * (low + min(part, 1.0))


@njit(cache=True, error_model="numpy")
def shift(c, celsius):
    """What a suction of the same activity has more at a temperature than at 20 degC, as a logarithm."""
    return math.log((celsius + KELVIN) / REFERENCE) if c[BY_SUCTION] > 0.0 else 0.0


@njit(cache=True, error_model="numpy")
def split(c, table, celsius, water):
    """Free water, bound water and what of the bound stays liquid [kg m-3] at a temperature."""
    move = shift(c, celsius)
    bound = min(water, read(table, WATER, c[L_ONSET] + move))
    liquid = bound
    if celsius < 0.0:
        liquid = min(bound, read(table, WATER, ice_log_sigma(celsius) + move))
    return water - bound, bound, liquid


@njit(cache=True, error_model="numpy")
def frozen(c, table, celsius, water):
    """Ice [kg m-3]: bound water beyond what its suction holds liquid, and free water over the span."""
    if celsius >= 0.0:
        return 0.0
    free, bound, liquid = split(c, table, celsius, water)
    return bound - liquid + free * min(-celsius / FREEZING_SPAN, 1.0)


@njit(cache=True, error_model="numpy")
def enthalpy(c, table, celsius, water):
    """Enthalpy [J m-3]."""
    ice = frozen(c, table, celsius, water)
    return (c[DRY_HEAT] + HEAT_WATER * water) * celsius + ice * ((HEAT_ICE - HEAT_WATER) * celsius - FUSION)


@njit(cache=True, error_model="numpy")
def temperature(c, table, heat, water):
    """Temperature [degC] at which a cell holds this enthalpy: regula falsi between ice-free and 0 degC."""
    low = heat / (c[DRY_HEAT] + HEAT_WATER * water)
    if low >= 0.0:
        return low
    f_low = enthalpy(c, table, low, water) - heat
    if f_low >= 0.0:
        return low
    high, f_high, side, middle = 0.0, -heat, 0, low
    for _ in range(200):
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        f = enthalpy(c, table, middle, water) - heat
        if abs(f) < 1e-12 * c[DRY_HEAT] or high - low < 1e-12:
            break
        if f < 0.0:
            low, f_low = middle, f
            if side < 0:
                f_high *= 0.5
            side = -1
        else:
            high, f_high = middle, f
            if side > 0:
                f_low *= 0.5
            side = 1
    return middle


@njit(cache=True, error_model="numpy")
def cell_state(c, table, heat, water, out):
    """All that a cell's fluxes need, from its enthalpy and water."""
    celsius = temperature(c, table, heat, water)
    move = shift(c, celsius)
    free, bound, liquid = split(c, table, celsius, water)
    bound_at = c[L_ONSET] if free > 0.0 else find(table, bound) - move
    log_sigma = ice_log_sigma(celsius) if liquid < bound else bound_at
    sigma, kelvin = math.exp(log_sigma), celsius + KELVIN
    log_kelvin = math.log(kelvin)
    out[T], out[U], out[W] = celsius, math.exp(-sigma), water
    out[P] = math.exp(log_over_water(kelvin, log_kelvin) - sigma)
    openness = read(table, OPENNESS, log_sigma)
    out[R_V] = 0.5 * c[DX] / (still_air(kelvin, log_kelvin) * openness) if openness > 0.0 else 1e25
    lam = (c[LAM] + c[LAM_WATER] * water) * (1.0 + c[LAM_WARM] * (celsius - 10.0))
    out[R_Q] = 0.5 * c[DX] / lam
    out[POTENTIAL], out[BOUND_AT] = read(table, THETA, bound_at + move), bound_at
    out[ICE] = bound - liquid + (free * min(max(-celsius / FREEZING_SPAN, 0.0), 1.0) if free > 0.0 else 0.0)
    out[UNFROZEN] = 1.0 - out[ICE] / water if out[ICE] > 0.0 else 1.0
