"""How much materials and workmanship scatter, each with its source and how sure it is.

None of these was read beside its source: they are recalled, or estimated, and say so. Better ones, from the maker's
own tests, belong in their place. May import: distributions.
"""

from __future__ import annotations

from typing import Final

from hygro.ensemble.distributions import LogNormal, Scatter

TIMBER_DENSITY: Final = Scatter(0.10, "JCSS Probabilistic Model Code, part 3.5, density of timber (from memory)")
CONDUCTIVITY: Final = Scatter(0.05, "estimated: between batches of insulation and boards")
SORPTION: Final = Scatter(0.10, "estimated: between specimens of one kind of wood or board")
VAPOUR_RESISTANCE: Final = Scatter(
    0.25, "laboratories differ by 10 to 30 % in cup tests after EN ISO 12572 (from memory, low confidence)"
)
THICKNESS: Final = Scatter(0.02, "estimated: common tolerances of boards")


def workmanship(median: float | str, factor: float = 2.0) -> LogNormal:
    """Air leak of an assembly as workmanship makes it.

    Parameters
    ----------
    median : float or str
        Half of the ceilings built like this are tighter. [m3 m-2 h-1]
    factor : float, optional
        Two thirds lie between the median divided by it and the median times it. [1]

    Returns
    -------
    LogNormal
        For the input ``"leak.q50"``.

    Raises
    ------
    InputError
        Where the median is not positive or the factor not above 1.

    References
    ----------
    That airtightness measured in the field is spread about lognormally: common experience (from memory). The factor of
    2 is an estimate of this package.
    """
    return LogNormal(median, factor)
