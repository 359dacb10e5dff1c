"""Gap air of the peer integration: speed from the balance of pressures, exchange from the air's own equation.

Model as stated in ``hygro.core.gap``; derived again. Along a slice the air's potential a (temperature, or vapour
pressure) obeys  c da/ds = Q(a),  s from 0 to 1, with Q the flow that both faces give to air of potential a. The faces
follow from a 2 x 2 system, so Q is linear in a, and a decays exponentially to where Q vanishes.
"""

from __future__ import annotations

import math

from numba import njit

VISCOSITY, GRAVITY = 1.72e-5, 9.80665
CONDUCTIVITY = 0.0243
LEWIS = 0.85 ** (-2.0 / 3.0)
STEFAN_BOLTZMANN = 5.670374e-8
HEAT_AIR = 1006.0
KELVIN = 273.15

# scalars of the gap
FACE, THICKNESS, LENGTH, RISE, LOSSES, RADIATION, STILL, FIXED, N_GAP = range(9)


@njit(cache=True, error_model="numpy")
def film(gap, speed, density):
    """Convective coefficient of each face [W m-2 K-1]."""
    b = gap[THICKNESS]
    reynolds = 2.0 * b * abs(speed) * density / VISCOSITY
    nusselt = max(7.541, 0.023 * reynolds**0.8 * 0.71**0.4)
    return max(nusselt * CONDUCTIVITY / (2.0 * b), gap[STILL])


@njit(cache=True, error_model="numpy")
def radiative(gap, t_1, t_2):
    """Radiative coefficient across the gap [W m-2 K-1]."""
    return 4.0 * gap[RADIATION] * STEFAN_BOLTZMANN * (0.5 * (t_1 + t_2) + KELVIN) ** 3


@njit(cache=True, error_model="numpy")
def faces(a, a_1, a_2, k_1, k_2, h, r):
    """Potentials of both faces beside air of potential a."""
    m_1, m_2 = k_1 + h + r, k_2 + h + r
    b_1, b_2 = k_1 * a_1 + h * a, k_2 * a_2 + h * a
    det = m_1 * m_2 - r * r
    return (b_1 * m_2 + r * b_2) / det, (b_2 * m_1 + r * b_1) / det


@njit(cache=True, error_model="numpy")
def given(a, a_1, a_2, k_1, k_2, h, r):
    """Flow that both faces give to air of potential a."""
    f_1, f_2 = faces(a, a_1, a_2, k_1, k_2, h, r)
    return h * (f_1 - a) + h * (f_2 - a)


@njit(cache=True, error_model="numpy")
def along(a_in, a_1, a_2, k_1, k_2, h, r, capacity):
    """Flow out of cell 1, flow into cell 2, mean and outlet potential of the air of one slice."""
    at_zero = given(0.0, a_1, a_2, k_1, k_2, h, r)
    slope = at_zero - given(1.0, a_1, a_2, k_1, k_2, h, r)
    rest = at_zero / slope
    if capacity > 0.0:
        n = slope / capacity
        outlet = rest + (a_in - rest) * math.exp(-n)
        mean = rest + (a_in - rest) * (-math.expm1(-n) / n)
    else:
        mean, outlet = rest, rest
    f_1, f_2 = faces(mean, a_1, a_2, k_1, k_2, h, r)
    return k_1 * (a_1 - f_1), k_2 * (f_2 - a_2), mean, outlet


@njit(cache=True, error_model="numpy")
def loss(gap, speed, density):
    """Pressure that openings and friction use up [Pa], signed like the speed."""
    v, d = abs(speed), 2.0 * gap[THICKNESS]
    reynolds = max(v * d * density / VISCOSITY, 1e-12)
    friction = max(96.0 / reynolds, 0.316 * reynolds**-0.25)
    total = 0.5 * density * v * v * (gap[LOSSES] + friction * gap[LENGTH] / d)
    return total if speed >= 0.0 else -total


@njit(cache=True, error_model="numpy")
def mean_air(gap, speed, density, t_out, t_1, t_2, k_1, k_2):
    """Mean temperature of all of the gap's air at a speed; arrays over the slices."""
    n = t_1.shape[0]
    h = film(gap, speed, density)
    capacity = abs(speed) * gap[THICKNESS] * n / gap[LENGTH] * density * HEAT_AIR
    air, total = t_out, 0.0
    for order in range(n):
        s = order if speed >= 0.0 else n - 1 - order
        _, _, mean, air = along(air, t_1[s], t_2[s], k_1[s], k_2[s], h, radiative(gap, t_1[s], t_2[s]), capacity)
        total += mean
    return total / n


@njit(cache=True, error_model="numpy")
def excess(gap, speed, density, wind, t_out, t_1, t_2, k_1, k_2):
    """Driving pressure less losses at a speed [Pa]."""
    t = mean_air(gap, speed, density, t_out, t_1, t_2, k_1, k_2)
    return wind + density * GRAVITY * gap[RISE] * (t - t_out) / (t + KELVIN) - loss(gap, speed, density)


@njit(cache=True, error_model="numpy")
def speed_of_air(gap, density, wind, t_out, t_1, t_2, k_1, k_2):
    """Speed at which driving pressure and losses agree [m s-1]: regula falsi (Illinois) over all speeds possible."""
    if gap[LOSSES] >= 1e9:
        return 0.0
    if gap[FIXED] >= 0.0:
        return gap[FIXED]
    widest = 0.0
    for s in range(t_1.shape[0]):
        widest = max(widest, abs(t_1[s] - t_out), abs(t_2[s] - t_out))
    most = abs(wind) + density * GRAVITY * gap[RISE] * widest / 200.0 + 1e-9
    high = math.sqrt(2.0 * most / (density * gap[LOSSES]))
    low = -high
    f_low = excess(gap, low, density, wind, t_out, t_1, t_2, k_1, k_2)
    f_high = excess(gap, high, density, wind, t_out, t_1, t_2, k_1, k_2)
    side, speed = 0, 0.0
    for _ in range(200):
        speed = (low * f_high - high * f_low) / (f_high - f_low)
        f = excess(gap, speed, density, wind, t_out, t_1, t_2, k_1, k_2)
        if abs(f) < 1e-11 or high - low < 1e-13:
            break
        if f > 0.0:
            low, f_low = speed, f
            if side > 0:
                f_high *= 0.5
            side = 1
        else:
            high, f_high = speed, f
            if side < 0:
                f_low *= 0.5
            side = -1
    return speed
