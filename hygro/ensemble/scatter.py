"""How much materials and workmanship scatter: coefficients of variation, where each is published, how sure that is.

None of the publications was read beside this file. Each is recalled, and its figure says with what confidence; where a
figure follows from a published one by a step of arithmetic, the step is written here. They are for want of better: the
maker's own tests belong in their place.

Density of timber, 10 %
    Wood Handbook (USDA Forest Products Laboratory), chapter 5, table of average coefficients of variation of clear
    wood: specific gravity 10 %. The Probabilistic Model Code of the Joint Committee on Structural Safety, part 3.5
    (timber), has the same for density. Both from memory, high confidence.
Sorption, 10 %
    Derived. Water per volume at a humidity is density times water per mass. The handbook gives water per mass for wood
    of any kind in one table, so that density's 10 % is what is left of it; chipboards and strands, whose water per mass
    varies too, scatter at least as much. High confidence in the step, medium that it is enough.
Thermal conductivity, 5 %
    Macdonald and Strachan 2001, Practical application of uncertainty analysis, Energy and Buildings 33:219-227, and the
    thesis of the first author (2002): standard deviation of the conductivity of building materials in simulations. From
    memory: that they treat it, high; the figure, medium. Wet or badly laid insulation is another matter, and is not in
    it.
Vapour resistance, 25 %
    Laboratories that test the same product in cups (EN ISO 12572, ASTM E96) differ by about 10 to 30 %: precision
    statement of ASTM E96; Kumaran 1998, Journal of Testing and Evaluation 26:83-88; Roels et al. 2004, Journal of
    Thermal Envelope and Building Science 27:307-325. From memory: that laboratories differ much, high; the figures,
    low. Taken near the upper end, since a product also differs from the next one.
Thickness, 2 %
    Derived from tolerances, read as two standard deviations. Unsanded OSB of any thickness +-0.8 mm (EN 300): 0.4 mm,
    which is 2.2 % of 18 mm. Sanded plywood of 12 to 25 mm +(0.2 + 0.03 t) and -(0.4 + 0.03 t) mm (EN 315): 0.42 mm or
    2.3 % of 18 mm. Sawn timber up to 100 mm in the closer class +-1 mm (EN 336): 1.1 % of 45 mm. From memory: EN 300
    and EN 336 high, EN 315 medium confidence. Boards of 9 mm scatter twice as much in share.
Air leak as workmanship makes it, 60 %
    Chan, Nazaroff, Price, Sohn and Gadgil 2005, Analyzing a database of residential air leakage in the United States,
    Atmospheric Environment 39:3445-3455: lognormal, houses of one class within a factor of some 1.6 to 2.2 for two
    thirds of them (from memory: lognormal, high; the factors, low confidence). A factor f has the coefficient of
    variation sqrt(exp(ln^2 f) - 1), 60 % where f is 1.75: near the lower end, since houses of one builder differ less.

May import: distributions.
"""

from __future__ import annotations

from typing import Final

from hygro.ensemble.distributions import LogNormal, Scatter

TIMBER_DENSITY: Final = Scatter(
    0.10, "Wood Handbook, chapter 5, and JCSS Probabilistic Model Code, part 3.5 (from memory, high confidence)"
)
CONDUCTIVITY: Final = Scatter(
    0.05, "Macdonald and Strachan 2001, Energy and Buildings 33:219-227 (from memory, medium confidence in the figure)"
)
SORPTION: Final = Scatter(
    0.10, "derived: that of the density of wood, Wood Handbook, chapter 5 (from memory, high confidence)"
)
VAPOUR_RESISTANCE: Final = Scatter(
    0.25,
    "laboratories differ by 10 to 30 % in cup tests, Kumaran 1998, J. Testing and Evaluation 26:83-88, and Roels et "
    "al. 2004, J. Thermal Envelope and Building Science 27:307-325 (from memory, low confidence in the figures)",
)
THICKNESS: Final = Scatter(
    0.02, "derived: tolerances of EN 300 and EN 315 for 18 mm, read as two standard deviations (from memory)"
)
LEAK: Final = Scatter(
    0.60,
    "derived: houses of one class differ by a factor of 1.6 to 2.2, Chan et al. 2005, Atmospheric Environment "
    "39:3445-3455 (from memory, low confidence in the factors)",
)


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
    Chan et al. 2005, as above (from memory): lognormal, high confidence; the factor, low. A factor of 2 is in the
    middle of what houses of one class have.
    """
    return LogNormal(median, factor)
