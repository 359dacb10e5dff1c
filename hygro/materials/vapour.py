"""Vapour resistance that falls with humidity, from the two cup tests of a data sheet.

May import: errors, curve, numpy.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hygro.errors import MaterialError
from hygro.materials.curve import Array, number

_DRY_CUP = (0.0, 0.5)  # relative humidities of the dry cup, EN ISO 12572 from memory
_WET_CUP = (0.5, 0.93)  # and of the wet cup, from memory


@dataclass(frozen=True, slots=True)
class CupValues:
    r"""Vapour resistance factor between and beyond two cup tests.

    .. math:: \mu(\varphi) = \max(\mu_0 e^{-k \varphi}, 1)

    Make one with `cup_values`. Never below 1, which is still air.

    Parameters
    ----------
    mu_0 : float
        Vapour resistance factor of the dry material. [1]
    k : float
        How fast the permeability rises with relative humidity. [1]
    """

    mu_0: float
    k: float

    def __call__(self, activity: ArrayLike) -> Array:
        """Vapour resistance factor [1] at a relative humidity [1], any shape."""
        return np.maximum(self.mu_0 * np.exp(-self.k * np.asarray(activity, dtype=float)), 1.0)


def cup_values(dry: float | str, wet: float | str) -> CupValues:
    r"""Vapour resistance over relative humidity from a dry-cup and a wet-cup value.

    .. math::
        \frac{1}{0.5} \int_0^{0.5} \frac{e^{k\varphi}}{\mu_0} d\varphi = \frac{1}{\mu_{dry}}, \qquad
        \frac{1}{0.43} \int_{0.5}^{0.93} \frac{e^{k\varphi}}{\mu_0} d\varphi = \frac{1}{\mu_{wet}}

    Parameters
    ----------
    dry : float
        Vapour resistance factor of the dry cup (0 % to 50 %). [1]
    wet : float
        Vapour resistance factor of the wet cup (50 % to 93 %), at most `dry`. [1]

    Returns
    -------
    CupValues
        The exponential through both tests, for `Material(..., vapour_resistance=...)`.

    Raises
    ------
    MaterialError
        Where one of them is below 1 (still air), not finite, or the wet value is above the dry one.

    Notes
    -----
    The exponential form is a common assumption, not a standard's: two tests fix two numbers. Boards of glued wood are
    known to open faster near saturation than it says.

    References
    ----------
    EN ISO 12572 for the humidities of the cups (from memory).

    Examples
    --------
    >>> board = cup_values(200.0, 70.0)
    >>> round(board.k, 4), round(board.mu_0, 2)
    (2.2876, 373.96)
    """
    mu_dry = number(dry, "factor", "Vapour resistance factor of the dry cup")
    mu_wet = number(wet, "factor", "Vapour resistance factor of the wet cup")
    if min(mu_dry, mu_wet) < 1.0:
        msg = f"Cup values are dry {mu_dry:g} and wet {mu_wet:g}; none can be below 1, which is still air."
        raise MaterialError(msg)
    if mu_wet > mu_dry:
        msg = f"Cup values are dry {mu_dry:g} and wet {mu_wet:g}; the wet value must not exceed the dry one. Swap them?"
        raise MaterialError(msg)
    k = _rise(mu_dry / mu_wet)
    return CupValues(mu_0=mu_dry * _mean_exponential(k, *_DRY_CUP), k=k)


def _mean_exponential(k: float, start: float, end: float) -> float:
    """Mean of exp(k phi) between two humidities."""
    span = k * (end - start)
    return math.exp(k * start) * (math.expm1(span) / span if span > 0.0 else 1.0)


def _rise(ratio: float) -> float:
    """Exponent whose means over the two cups stand in this ratio, by bisection: the ratio rises with the exponent."""
    low, high = 0.0, 2.5 * math.log(ratio)
    for _ in range(80):
        k = 0.5 * (low + high)
        if _mean_exponential(k, *_WET_CUP) < ratio * _mean_exponential(k, *_DRY_CUP):
            low = k
        else:
            high = k
    return 0.5 * (low + high)
