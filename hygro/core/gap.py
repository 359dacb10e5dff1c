r"""Air in a ventilated gap: how fast it moves, and what it exchanges with the two faces.

Speed. Wind and buoyancy drive, openings, screens and friction resist (per unit length normal to the flow):

.. math:: \Delta p = \tfrac12 \rho v |v| \left(\Sigma\zeta + f \frac{L}{2b}\right), \qquad
          f = \max\!\left(\frac{96}{Re}, 0.316\,Re^{-1/4}\right), \quad Re = \frac{2 b v}{\nu}   (1)

Parallel plates laminar, Blasius turbulent; the two meet at Re = 2036, so the loss has no jump.

Exchange. Each face passes heat k from its cell centre, convection h to the air, radiation r to the other face. With
the surfaces eliminated, cell 1, cell 2 and the air are linked by conductances U1, U2 and C (2), and the air, warmed
along the slice as :math:`1-e^{-x/L_0}`, has the mean temperature of a node linked to the inlet by
:math:`G = U E / (1 - E)`, :math:`E = (1 - e^{-N})/N`, :math:`N = (U_1+U_2)/c`  (3), where c is the capacity of the
air stream per area of the slice. Vapour obeys the same equations without radiation.

Sources: (1) ASHRAE Handbook Fundamentals, duct and fluid-flow chapters; (2), (3) exact for uniform cells.
"""

from __future__ import annotations

import math

from hygro.constants import GRAVITY, STEFAN_BOLTZMANN
from hygro.constants import ZERO_CELSIUS as KELVIN
from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import GapSide
from hygro.core.lanes import all_of, along, any_of, expm1, no, where

LAMINAR_NUSSELT = 7.541  # [1] parallel plates, both at uniform temperature, hydraulic diameter 2b; Shah and London 1978
PRANDTL_POWER = 0.71**0.4  # [1] air
LEWIS_FACTOR = 0.85 ** (-2.0 / 3.0)  # [1] vapour over heat transfer; Lewis number 0.85 of water vapour in air
AIR_CONDUCTIVITY = 0.0243  # [W m-1 K-1] air at about 0 degC
AIR_VISCOSITY = 1.72e-5  # [Pa s] air at about 0 degC
PER_VISCOSITY = 1.0 / AIR_VISCOSITY
SHUT = 1e9  # [1] loss coefficient from which on an opening counts as closed
LAMINAR_TO = 1500.0  # Reynolds number up to which the turbulent film is smaller than the laminar one
TURBULENT_FROM = (96.0 / 0.316) ** (4.0 / 3.0)  # Reynolds number at which the two friction laws meet


@kernel
def driving_pressure(gap: GapSide, wind: float, t_gap: float, t_out: float, density: float) -> float:
    """Pressure that pushes air from inlet to outlet [Pa]: wind plus buoyancy of the warmer gap."""
    return wind + density * GRAVITY * gap.rise * (t_gap - t_out) / (KELVIN + t_gap)


@kernel_part
def losses(gap: GapSide, density: float) -> tuple[float, float]:
    """What the losses (1) of a laminar flow are per squared speed and per speed [Pa s2 m-2, Pa s m-1]."""
    return 0.5 * density * gap.losses, 12.0 * AIR_VISCOSITY * gap.length / (gap.thickness * gap.thickness)


@kernel_part
def reynolds_number(gap: GapSide, speed: float, density: float) -> float:
    """Reynolds number (1) of a speed, whatever its direction."""
    return 2.0 * gap.thickness * abs(speed) * density * PER_VISCOSITY


@kernel
def air_speed(gap: GapSide, pressure: float, density: float, near: float) -> float:
    """Speed [m s-1] at which the losses (1) use up the driving pressure [Pa]; signed like the pressure.

    The search for it begins at a speed near it, or at the laminar one where ``near`` is 0.
    """
    drive = abs(pressure)
    still = (drive < 1e-12) | (gap.losses >= SHUT)
    if all_of(still):
        return 0.0 * pressure
    b = gap.thickness
    local, friction = losses(gap, density)
    v = 2.0 * drive / (friction + math.sqrt(friction * friction + 4.0 * local * drive))
    swirls = (reynolds_number(gap, v, density) > TURBULENT_FROM) & no(still)
    if any_of(swirls):
        turbulent = (
            0.316 * math.sqrt(math.sqrt(AIR_VISCOSITY / (2.0 * b * density))) * gap.length / (2.0 * b) * 0.5 * density
        )
        begin = min(abs(near), v)  # the loss is convex in the speed: Newton's method from above converges
        v = where(swirls & (begin > 0.1 * v), begin, v)
        for _ in range(30):
            drag = turbulent * v / math.sqrt(math.sqrt(v))  # turbulent v^(3/4)
            step = where(swirls, (local * v * v + drag * v - drive) / (2.0 * local * v + 1.75 * drag), 0.0)
            v -= step
            if all_of(abs(step) <= 1e-7 * v):  # the next would be of the order of its square
                break
    return where(still, 0.0, where(pressure < 0.0, -v, v))


@kernel
def film_coefficient(gap: GapSide, speed: float, density: float) -> float:
    """Convective coefficient [W m-2 K-1] of each face: still air, laminar or turbulent flow, whichever is largest."""
    reynolds = reynolds_number(gap, speed, density)
    nusselt = LAMINAR_NUSSELT
    if any_of(reynolds > LAMINAR_TO):
        nusselt = max(nusselt, 0.023 * math.pow(reynolds, 0.8) * PRANDTL_POWER)
    return max(nusselt * AIR_CONDUCTIVITY / (2.0 * gap.thickness), gap.still_film)


@kernel
def radiation_coefficient(gap: GapSide, t_1: float, t_2: float) -> float:
    """Radiative coefficient [W m-2 K-1] between the faces, linearised about their mean temperature."""
    mean = 0.5 * (t_1 + t_2) + KELVIN
    return gap.radiation * 4.0 * STEFAN_BOLTZMANN * mean * mean * mean


@kernel_part
def approach(n: float) -> float:
    """Share 1 - exp(-N), see (3), of its distance from the mean of the cells by which the air of a slice nears it."""
    return -expm1(-n)


@kernel
def inlet_link(conductance: float, capacity: float) -> tuple[float, float]:
    """Conductance G (3) that ties the slice's mean air to its inlet, and its slope over the conductance U."""
    flows = capacity > 0.0
    n = conductance / where(flows, capacity, 1.0)
    small = n < 1e-4  # series: the closed form cancels
    link, slope = capacity * (2.0 - n / 3.0), -1.0 / 3.0
    if any_of(no(small)):
        fall, per_n = approach(n), 1.0 / n
        per_rest = 1.0 / (1.0 - fall * per_n)
        rest_n = (fall * per_n - (1.0 - fall)) * per_n
        link = where(small, link, capacity * fall * per_rest)
        slope = where(small, slope, (1.0 - fall - fall * rest_n * per_rest) * per_rest)
    return where(flows, link, 0.0), where(flows, slope, 0.0)


@kernel
def links(k_1: float, k_2: float, h: float, r: float) -> tuple[float, ...]:
    """Conductances U1, U2, C (2) and their slopes over k_1 and k_2 [W m-2 K-1, or the like for vapour]."""
    d_1, d_2 = k_1 + h + r, k_2 + h + r
    det = d_1 * d_2 - r * r
    per_det = 1.0 / det
    per_det2 = per_det * per_det
    u_1 = h * k_1 * (d_2 + r) * per_det
    u_2 = h * k_2 * (d_1 + r) * per_det
    cross = r * k_1 * k_2 * per_det
    u_1_1 = h * (d_2 + r) * (det - k_1 * d_2) * per_det2
    u_1_2 = h * k_1 * (det - (d_2 + r) * d_1) * per_det2
    u_2_2 = h * (d_1 + r) * (det - k_2 * d_1) * per_det2
    u_2_1 = h * k_2 * (det - (d_1 + r) * d_2) * per_det2
    cross_1 = r * k_2 * (det - k_1 * d_2) * per_det2
    cross_2 = r * k_1 * (det - k_2 * d_1) * per_det2
    return u_1, u_2, cross, u_1_1, u_1_2, u_2_1, u_2_2, cross_1, cross_2


@kernel
def exchange(
    k_1: float,
    k_2: float,
    h: float,
    r: float,
    capacity: float,
    a_1: float,
    a_2: float,
    a_in: float,
    from_2: float,
    leak: float,
    a_leak: float,
    active: float,
    backwards: bool,
) -> tuple[float, ...]:
    """Flows between two cells and the air of a slice.

    Parameters
    ----------
    k_1, k_2 : float
        Conductance from cell centre to face.
    h, r : float
        Film and radiative conductance.
    capacity : float
        Capacity of the air stream per area.
    a_1, a_2, a_in : float
        Potential (temperature or vapour pressure) of the two cells and of the inlet air.
    from_2 : float
        Capacity of leaking air that enters the gap through face 2 with the state of cell 2.
    leak, a_leak : float
        Capacity and potential of air that leaks straight into the gap.
    active : float
        1, or 0 for a lane that is no slice: the air passes it by.
    backwards : bool
        Whether the air meets the slices in lanes from the last to the first.

    Returns
    -------
    tuple of float
        Flow out of cell 1, flow into cell 2; their slopes over a_1, a_2, k_1, k_2 (four for each flow); mean potential
        of the air; its slopes over a_1 and a_2; potential at the outlet; slopes of the flows and of the mean over the
        potential at the inlet; share of the rise to the mean that the air leaves with; slopes of the flows and of the
        mean over the capacity.
    """
    u_1, u_2, cross, u_1_1, u_1_2, u_2_1, u_2_2, cross_1, cross_2 = links(k_1, k_2, h, r)
    g, g_u = inlet_link(u_1 + u_2, capacity)
    total = u_1 + u_2 + g + from_2 + leak
    linked = total > 0.0  # else the air lies between the two, wherever
    per_total = where(linked, 1.0 / total, 0.0)
    m_1, m_2 = where(linked, u_1 * per_total, 0.5), where(linked, (u_2 + from_2) * per_total, 0.5)
    m_in, others = g * per_total, m_1 * a_1 + m_2 * a_2 + leak * per_total * a_leak
    flows, stream = capacity > 0.0, where(capacity > 0.0, capacity, 1.0)
    rise = where(active > 0.0, where(flows, g / stream, 1.0), 0.0)
    a_in, a_out = along(a_in, 1.0 - rise + rise * m_in, rise * others, backwards)
    mean = others + m_in * a_in
    g_c = where(flows, (g - g_u * (u_1 + u_2)) / stream, 0.0)  # G grows as U and the capacity together do
    m_c = (a_in - mean) * per_total * g_c
    g_1, g_2 = g_u * (u_1_1 + u_2_1), g_u * (u_1_2 + u_2_2)
    m_k1 = (u_1_1 * (a_1 - mean) + u_2_1 * (a_2 - mean) + g_1 * (a_in - mean)) * per_total
    m_k2 = (u_1_2 * (a_1 - mean) + u_2_2 * (a_2 - mean) + g_2 * (a_in - mean)) * per_total
    flow_1 = u_1 * (a_1 - mean) + cross * (a_1 - a_2)
    flow_2 = u_2 * (mean - a_2) + cross * (a_1 - a_2)
    return (
        flow_1,
        flow_2,
        u_1 * (1.0 - m_1) + cross,
        -u_1 * m_2 - cross,
        u_1_1 * (a_1 - mean) + cross_1 * (a_1 - a_2) - u_1 * m_k1,
        u_1_2 * (a_1 - mean) + cross_2 * (a_1 - a_2) - u_1 * m_k2,
        u_2 * m_1 + cross,
        u_2 * (m_2 - 1.0) - cross,
        u_2_1 * (mean - a_2) + cross_1 * (a_1 - a_2) + u_2 * m_k1,
        u_2_2 * (mean - a_2) + cross_2 * (a_1 - a_2) + u_2 * m_k2,
        mean,
        m_1,
        m_2,
        a_out,
        -u_1 * m_in,
        u_2 * m_in,
        m_in,
        rise,
        -u_1 * m_c,
        u_2 * m_c,
        m_c,
    )
