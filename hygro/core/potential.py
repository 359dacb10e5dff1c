r"""The moisture coordinate: one state variable from oven-dry to flooded.

Water activity u (relative humidity) crowds all capillary water into the last millionth below 1. The solver therefore
steps in a coordinate x that is u itself up to u0 = 0.9 and the logarithm of the suction beyond:

.. math:: x = u \quad (u \le u_0), \qquad
          x = u_0 + \kappa \ln\frac{\sigma_0}{\sigma}, \quad \sigma = -\ln u \quad (u > u_0)   (1)

with :math:`\sigma_0 = -\ln u_0` and :math:`\kappa = u_0 \sigma_0`, which makes the join smooth. Suction is
:math:`s = \rho_w R_v T \sigma`. At x = X_FREE the suction is about 100 Pa: the material holds all it can bind by
capillarity. Past its onset (X_FREE for a material that conducts liquid, X_DAMP for one that does not, which knows no
suction that low) free water fills the remaining pores over one unit of x; u stays where it was at the onset.
"""

from __future__ import annotations

import math

from hygro.core._jit import entrance
from hygro.core.lanes import any_of, no, where

U_JOIN = 0.9
SIGMA_JOIN = -math.log(U_JOIN)
KAPPA = U_JOIN * SIGMA_JOIN
X_FREE = 2.0
X_DAMP = 1.3  # u = 0.9985
X_LOWEST = 1e-8  # below what the driest polar air leaves in a roof baked by the sun, some 1e-6


@entrance
def activity(x: float) -> float:
    """Water activity [1] of a moisture coordinate [1]; inverse of (1)."""
    if x <= U_JOIN:
        return x
    return math.exp(-SIGMA_JOIN * math.exp((U_JOIN - x) / KAPPA))


@entrance
def coordinate(u: float) -> float:
    """Moisture coordinate [1] of a water activity [1]; (1), limited to X_FREE."""
    if u <= U_JOIN:
        return max(u, X_LOWEST)
    return min(U_JOIN + KAPPA * math.log(SIGMA_JOIN / max(-math.log(u), 1e-300)), X_FREE)


@entrance
def sigma(x: float) -> float:
    """Relative suction -ln(u) [1] of a moisture coordinate [1]."""
    below, relative = x <= U_JOIN, 0.0 * x
    if any_of(below):
        relative = -math.log(where(below, x, 1.0))
    if any_of(no(below)):
        relative = where(below, relative, SIGMA_JOIN * math.exp((U_JOIN - x) / KAPPA))
    return relative


@entrance
def shifted(x: float, tau: float) -> tuple[float, float, float]:
    """Coordinate at which a suction-based curve, stated at the reference temperature, must be read.

    The suction of the pore water at absolute temperature T is tau = T/T_ref times what the same activity has at
    T_ref. Returns the shifted coordinate, its slope over x and its slope over tau.
    """
    relative = sigma(x)
    moved = relative * tau
    slope_x = where(x <= U_JOIN, -1.0 / x, -relative / KAPPA)
    above, place, slope_moved = moved < SIGMA_JOIN, 0.0 * x, 0.0 * x
    if any_of(above):
        place = U_JOIN + KAPPA * math.log(SIGMA_JOIN / where(above, moved, SIGMA_JOIN))
        slope_moved = -KAPPA / moved
    if any_of(no(above)):
        dry = math.exp(-moved)
        place, slope_moved = where(above, place, dry), where(above, slope_moved, -dry)
    return place, slope_moved * tau * slope_x, slope_moved * relative
