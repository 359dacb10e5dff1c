"""The two stages of a step, and the ledger of what each cell holds; (1) of `integrate`."""

from __future__ import annotations

import math

from hygro.core._jit import kernel
from hygro.core.bundles import (
    ASIDE_HEAT,
    ASIDE_WATER,
    BASE_HEAT,
    BASE_WATER,
    DX,
    ENTHALPY,
    HEAT,
    HEAT_2,
    HEAT_N,
    HELD_HEAT,
    HELD_WATER,
    ICE,
    MID,
    N_FLUXES,
    N_SIGNALS,
    ONSET,
    TEMPERATURE_AT,
    TEMPERATURE_N,
    WATER_2,
    WATER_IN,
    WATER_N,
    X_AT,
    X_N,
    Abreast,
    U,
    W,
)
from hygro.core.lanes import any_of, largest, worst_of_cells
from hygro.core.newton import at_kinks, length_along
from hygro.core.potential import X_LOWEST
from hygro.core.record import Record
from hygro.core.work import Work

A = 2.0 - math.sqrt(2.0)
B = 0.5 * A
E = 0.25 * math.sqrt(2.0)
RELEASE = 600.0  # [s] time over which a left-over is made good once steps had to be cut


@kernel
def open_ledger(abreast: Abreast) -> None:
    """The ledger of each cell starts with what it holds."""
    known = abreast.known
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            dx = abreast.data[i, DX]
            known[s, i, HELD_HEAT], known[s, i, HELD_WATER] = dx * known[s, i, ENTHALPY], dx * known[s, i, W]


@kernel
def settle(dt: float, fresh: bool, last: bool, abreast: Abreast) -> bool:
    """Decide how much of the ledger this step must make good; returns whether anything stays set aside.

    What Newton's method left over in long steps may be more than a cell can take up, or has, in a short one. Where the
    state was evaluated anew (``fresh``: steps had to be cut), a short step therefore starts from what the state holds
    and from a share of the rest, in proportion to its length; what is set aside follows in the next steps. Nor can a
    film that has all but dried out give back at once what it owes: it gives half of what it holds and of what can come
    in as long as it is dry.
    """
    known, data = abreast.known, abreast.data
    share, stays = 1.0 if last else min(dt / RELEASE, 1.0), False
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            dx = data[i, DX]
            held = dx * known[s, i, W] if fresh and share < 1.0 else known[s, i, HELD_WATER]
            reserve = held + dt * (known[s, i, WATER_IN] - known[s, i, MID + 3] * known[s, i, U])
            most = math.inf + 0.0 * dx if last else max(0.5 * reserve, 0.0)
            if fresh and share < 1.0:
                heat = known[s, i, HELD_HEAT] + known[s, i, ASIDE_HEAT] - dx * known[s, i, ENTHALPY]
                water = known[s, i, HELD_WATER] + known[s, i, ASIDE_WATER] - dx * known[s, i, W]
                now = max(share * water, -most)
                known[s, i, ASIDE_HEAT] = (1.0 - share) * heat
                known[s, i, ASIDE_WATER] = water - now
                known[s, i, HELD_HEAT] = dx * known[s, i, ENTHALPY] + share * heat
                known[s, i, HELD_WATER] = held + now
            else:
                heat, water = share * known[s, i, ASIDE_HEAT], max(share * known[s, i, ASIDE_WATER], -most)
                known[s, i, HELD_HEAT] += heat
                known[s, i, HELD_WATER] += water
                known[s, i, ASIDE_HEAT] -= heat
                known[s, i, ASIDE_WATER] -= water
            stays = stays or any_of((known[s, i, ASIDE_HEAT] != 0.0) | (known[s, i, ASIDE_WATER] != 0.0))
    return stays


@kernel
def set_out(dt: float, share: float, trend: float, abreast: Abreast) -> None:
    """Remember the start of a step; right side of the first stage of (1), and a guess at its end.

    ``share`` is b, of an Euler step 0. The inflow at t is at hand. The guess goes on by a share ``trend`` of what the
    last step has looked ahead to.
    """
    temperature, x, known, ahead = abreast.temperature, abreast.x, abreast.known, abreast.ahead
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            heat, water = known[s, i, HEAT], known[s, i, WATER_IN]
            known[s, i, HEAT_N], known[s, i, WATER_N] = heat, water
            known[s, i, BASE_HEAT] = known[s, i, HELD_HEAT] + share * dt * heat
            known[s, i, BASE_WATER] = known[s, i, HELD_WATER] + share * dt * water
            known[s, i, TEMPERATURE_N], known[s, i, X_N] = temperature[s, i], x[s, i]
            temperature[s, i], x[s, i], _ = at_kinks(
                temperature[s, i], trend * ahead[s, i, 0], x[s, i], trend * ahead[s, i, 1], abreast.data[i, ONSET], 1.0
            )


@kernel
def go_on(dt: float, share: float, abreast: Abreast) -> float:
    """Right side of the last stage of (1), and a guess: on by a share of the way from the start to the first stage.

    Returns how far the guess lies from the state of the last evaluation, as `length_along` measures it.
    """
    temperature, x, known = abreast.temperature, abreast.x, abreast.known
    away = 0.0 * temperature[0, 0]
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            heat, water = known[s, i, HEAT], known[s, i, WATER_IN]
            known[s, i, HEAT_2], known[s, i, WATER_2] = heat, water
            known[s, i, BASE_HEAT] = known[s, i, HELD_HEAT] + E * dt * (known[s, i, HEAT_N] + heat)
            known[s, i, BASE_WATER] = known[s, i, HELD_WATER] + E * dt * (known[s, i, WATER_N] + water)
            x_2 = x[s, i]
            temperature[s, i] += share * (temperature[s, i] - known[s, i, TEMPERATURE_N])
            x[s, i] = max(max(x_2 + share * (x_2 - known[s, i, X_N]), 0.2 * x_2), X_LOWEST)
            d_t, d_x = temperature[s, i] - known[s, i, TEMPERATURE_AT], x[s, i] - known[s, i, X_AT]
            away = max(away, length_along(d_t, d_x, known[s, i, ICE]))
    return largest(worst_of_cells(abreast.kinds, away))


@kernel
def go_back(abreast: Abreast, work: Work) -> None:
    """Return to the start of the step."""
    temperature, x, known = abreast.temperature, abreast.x, abreast.known
    for s in range(temperature.shape[0]):
        for m in range(N_FLUXES):
            work.signals[3, s, m, 0] = 0.0
        for i in range(temperature.shape[1]):
            temperature[s, i], x[s, i] = known[s, i, TEMPERATURE_N], known[s, i, X_N]


@kernel
def accept(
    dt: float, weight: float, last: float, k: int, interval: float, abreast: Abreast, work: Work, record: Record
) -> None:
    """Carry the ledger over the step and add its fluxes to the hour's means.

    ``weight`` is that of the first two inflows, ``last`` that of the last one. The next step starts with this last
    one, without what `extrapolate` has added: what is stiff is as much at rest there as (1) leaves it.
    """
    known = abreast.known
    for s in range(known.shape[0]):
        for i in range(known.shape[1]):
            known[s, i, HELD_HEAT] = known[s, i, BASE_HEAT] + last * dt * known[s, i, HEAT]
            known[s, i, HELD_WATER] = known[s, i, BASE_WATER] + last * dt * known[s, i, WATER_IN]
        for m in range(N_FLUXES):
            early = work.signals[0, s, m, 0] + work.signals[1, s, m, 0]
            late = work.signals[2, s, m, 0] + work.signals[3, s, m, 0]
            record.fluxes[k, s, m] += dt / interval * (weight * early + last * late)
            work.signals[3, s, m, 0] = 0.0
        for m in range(N_SIGNALS):
            work.signals[0, s, m, 0] = work.signals[2, s, m, 0]
