"""A guess at the state near which the slopes of a step are taken."""

from __future__ import annotations

from hygro.core._jit import kernel
from hygro.core.borders import heat_gained
from hygro.core.bundles import (
    HEAT,
    INNER_G_P,
    INNER_Q_P,
    INNER_Q_T,
    OUT_TEMPERATURE,
    OUT_VAPOUR,
    OUTER_G_P,
    OUTER_Q_P,
    OUTER_Q_T,
    T_OUTER,
    WATER_IN,
    Abreast,
    GapSide,
)
from hygro.core.step import A, B
from hygro.core.work import Work

FORESIGHT = 1.2  # how far, in steps to the first stage; past it, since the last stage goes along the same slopes


@kernel
def look_ahead(dt: float, gap: GapSide, abreast: Abreast, work: Work) -> None:
    """Right side of a step's first stage after this one, along its slopes; `solve_error` solves it by its system.

    The inflow at the end drives it, and what the weather, present and ``later``, changes in that through the outer
    surface and the air that enters the gap.
    """
    now, later, c = work.now, work.later, B * dt
    d_t, d_p = later[OUT_TEMPERATURE] - now[OUT_TEMPERATURE], later[OUT_VAPOUR] - now[OUT_VAPOUR]
    for s in range(abreast.ahead.shape[0]):
        known, ahead = abreast.known[s], abreast.ahead[s]
        air, surface, single = work.air[s], work.signals[2, s, T_OUTER], work.ahead[s]
        for i in range(ahead.shape[0]):
            ahead[i, 0], ahead[i, 1] = A * dt * known[i, HEAT], A * dt * known[i, WATER_IN]
        gain = heat_gained(later, surface[0]) - heat_gained(now, surface[0])
        single[0, 0] += c * surface[1] * gain  # the surface passes on as much of it as it warms with the cell
        if gap.face >= 0:
            i, j = gap.face - 1, gap.face
            single[i, 0] += c * (air[OUTER_Q_T] * d_t + air[OUTER_Q_P] * d_p)
            single[i, 1] += c * air[OUTER_G_P] * d_p
            single[j, 0] += c * (air[INNER_Q_T] * d_t + air[INNER_Q_P] * d_p)
            single[j, 1] += c * air[INNER_G_P] * d_p
