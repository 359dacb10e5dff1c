r"""Integration in time: TR-BDF2 with Newton's method, step control and a status instead of exceptions.

One step from t to t + dt, with a = 2 - sqrt(2), b = a/2 and e = sqrt(2)/4 (Bank et al. 1985; Hosea and Shampine
1996), on the conserved quantities M = (H, w) of every cell and their net inflow F, has two stages:

.. math:: M(Y_2) = M_n + b\,dt\,(F_n + F_2), \qquad M(Y_3) = M_n + dt\,(e F_n + e F_2 + b F_3)             (1)

The embedded third-order formula gives their error as a change of state

.. math:: \epsilon = S M' \epsilon_1, \quad \epsilon_1 = S E, \quad S = (M' - b\,dt\,F')^{-1}, \quad
          E = dt\,\left(\tfrac{4e-1}{3} F_n - \tfrac13 F_2 + \tfrac{2b}{3} F_3\right)                         (2)

and the step ends without it, along the slopes:

.. math:: Y_{n+1} = Y_3 - \epsilon, \quad M_{n+1} = M(Y_3) - E - b\,dt\,F' (\epsilon_1 + \epsilon), \quad
          F_{n+1} = F_3                                                                                       (3)

(local extrapolation). S acts twice so that what comes to rest within the step stays at rest: the whole is third order
and L-stable, `tests/physics/test_numerics.py` has the proof. It is conservative because M, not the state, is carried
from step to step, as a sum of inflows: what a Newton iteration leaves over is not lost but solved for in the next step
(spread over RELEASE where steps had to be cut), and the last step of a run is solved to round-off. An error that is
larger than allowed stays where it is, as does one that reaches over a kink of the storage curves. To E belongs what no
such formula sees: the air of a gap that turns round within the step stands still in between. The weather runs
straight between full hours, where it kinks; steps end there, and are split within the hour where the error, or Newton's
method, asks for it. Where Newton's method fails down to steps of EULER_BELOW, one implicit Euler step is taken instead:
it always has a solution with water left, which (1) need not have when a film dries out.

The slopes are taken near the middle of a step, where its first stage is evaluated, at a state Y* that `foresight`
guesses. Where the last stage stays as near to it as a Newton step may be long that is trusted unchecked, it is solved
along the same slopes,

.. math:: F(Y_3, t_3) = F(Y_*, t_3) + F'(Y_*) (Y_3 - Y_*), \quad M(Y_3) = M(Y_*) + M'(Y_*) (Y_3 - Y_*),             (4)

with the same factored system; only what borders, gap and leaks pass at t_3 is evaluated anew. What that leaves over is
of second order and stays in the ledger like any other.

The slices of a gap hang together by their air alone: each takes what the one upstream hands on. In lanes they are
evaluated together and one Newton step is that of all, the air's change going from slice to slice; groups of them, or
slices without lanes, are solved in flow order, each to its end. The air speed follows from all of them, and their
errors count by the root of their mean square.
"""

from __future__ import annotations

import math

from hygro.core._jit import entrance, kernel, kernel_part, share
from hygro.core.bundles import (
    ACTIVE,
    AIR_SHARE,
    N_FORCING,
    OUT_TEMPERATURE,
    RAIN,
    RAIN_DEFECT,
    Abreast,
    Cells,
    Faces,
    FloatArray,
    Fluid,
    GapSide,
    Leak,
)
from hygro.core.cell import cell_states
from hygro.core.extrapolation import excess_in_turning, extrapolate
from hygro.core.foresight import FORESIGHT, look_ahead
from hygro.core.lanes import any_of, largest, total_of
from hygro.core.newton import worst_cell
from hygro.core.record import Record, store, write_hour
from hygro.core.speed import SPEED_TOLERANCE, air_density, gap_speed
from hygro.core.stage import EULER_BELOW, TIGHT_TOLERANCE, carry_stage_on, solve_stage, sweep
from hygro.core.step import A, B, E, accept, go_back, go_on, open_ledger, set_out, settle
from hygro.core.tridiagonal import solve
from hygro.core.work import Settings, Work

FIRST_STEP = 60.0  # [s]
LET_GO = 0.6  # [1] error, as a share of that allowed, up to which the longest step may follow another
SLOPES_ERR = 0.02  # [K-1] a state so many kelvin from where slopes were taken errs by their square times this; by trial
OK, NO_CONVERGENCE = range(2)


@kernel
def between(k: int, share: float, forcing: FloatArray, now: FloatArray) -> None:
    """Boundary conditions at a share of hour k: straight between its ends, but rain is that of the hour."""
    for m in range(N_FORCING):
        now[m] = forcing[k, m] + share * (forcing[k + 1, m] - forcing[k, m])
    now[RAIN] = forcing[k + 1, RAIN]
    now[RAIN_DEFECT] = forcing[k + 1, RAIN_DEFECT]


@kernel_part
def integrated(
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    forcing: FloatArray,
    work: Work,
    record: Record,
    settings: Settings,
) -> tuple[int, int, int, float]:
    """All hours of the forcing, as `run` has it."""
    n_hours, n_slices, n, interval = forcing.shape[0] - 1, temperature.shape[0], cells.data.shape[0], settings.interval
    between(0, 0.0, forcing, work.now)
    for s in range(n_slices):
        cell_states(s, abreast, fluid)
    open_ledger(abreast)
    store(0, cells, work, record)
    wish, speed, before, euler_below = FIRST_STEP, 0.0 * work.now[OUT_TEMPERATURE], math.inf, 0.0
    fresh, aside, blown_through = True, False, False
    near_slopes = math.sqrt(settings.temperature_error / SLOPES_ERR)
    for f in range(1, n):  # air that crosses faces between cells changes with the weather; nothing else there does
        blown_through = blown_through or any_of(faces.data[f, AIR_SHARE] != 0.0)
    for k in range(n_hours):
        done = 0.0
        count = record.counts[k]
        fresh = fresh or any_of(
            (forcing[k + 1, RAIN] != forcing[k, RAIN]) | (forcing[k + 1, RAIN_DEFECT] != forcing[k, RAIN_DEFECT])
        )
        while done < interval:
            left = interval - done
            dt = left if wish >= left else min(wish, 0.5 * left)  # never leave a splinter before the hour
            last = k == n_hours - 1 and dt == left
            tolerance, unchecked = (TIGHT_TOLERANCE, 0.0) if last else (settings.newton, settings.unchecked)
            if fresh:  # otherwise the step starts where the one before ended
                between(k, done / interval, forcing, work.now)
                speed = gap_speed(speed, air_density(work.now), temperature, gap, work, fluid, SPEED_TOLERANCE)
                sweep(speed, abreast, temperature, cells, faces, gap, leak, fluid, work, work.signals[0], count)
                before = math.inf
            if fresh or aside:
                aside = settle(dt, fresh, last, abreast)
            fresh = False
            euler = dt < euler_below
            set_out(dt, 0.0 if euler else B, 0.0 if euler else FORESIGHT * dt / before, abreast)
            good, error, away, speed_n, speed_2 = True, 0.0, math.inf, speed, speed
            if not euler:
                between(k, (done + A * dt) / interval, forcing, work.now)
                good, speed = solve_stage(
                    B * dt, settings.newton, settings.unchecked, speed, abreast, temperature, cells, faces, gap, leak,
                    fluid, work, work.signals[1], settings, count,
                )  # fmt: skip
                speed_2 = speed
                if good:
                    away = go_on(dt, (1.0 - A) / A, abreast)
            carried = False
            if good:
                between(k, (done + dt) / interval, forcing, work.now)
            near = min(unchecked, near_slopes)
            if good and away <= near and not blown_through:
                carried, speed = carry_stage_on(
                    B * dt, near, speed, abreast, temperature, cells, faces, gap, leak, fluid, work,
                    work.signals[2], count,
                )  # fmt: skip
            if good and not carried:
                good, speed = solve_stage(
                    (1.0 if euler else B) * dt, tolerance, unchecked, speed, abreast, temperature, cells, faces, gap,
                    leak, fluid, work, work.signals[2], settings, count,
                )  # fmt: skip
            if good:
                over, then = dt == left and k < n_hours - 1, A * dt  # whether the next step begins with the next hour
                between(k + 1 if over else k, (then if over else done + dt + then) / interval, forcing, work.later)
                look_ahead(dt, gap, abreast, work)
                excess = dt * excess_in_turning(gap, air_density(work.now), speed_n, speed_2, speed)
                for s in range(n_slices):
                    if euler:
                        solve(n, work.rows[s], work.ahead[s], None)
                        continue
                    share = extrapolate(s, dt, excess, last, abreast, cells, gap, leak, fluid, work, settings)
                    error += largest(total_of(work.air[s, ACTIVE] * share * share, speed))
                error = math.sqrt(error / gap.slices)
                good = error == error
            if not good or (error > 1.0 and dt > settings.finest_step):
                go_back(abreast, work)
                fresh = True
                count[2] += 1.0
                wish = dt * (0.25 if not good else max(0.2, min(0.5, 0.85 * error ** (-1.0 / 3.0))))
                if not good and wish < EULER_BELOW:
                    euler_below = EULER_BELOW
                if wish < settings.smallest_step:
                    return NO_CONVERGENCE, k, worst_cell(n, work), dt
                continue
            accept(dt, 0.0 if euler else E, 1.0 if euler else B, k, interval, abreast, work, record)
            before = dt
            done = interval if dt == left else done + dt
            if dt < interval or error > LET_GO:
                longer = 4.0 if euler else min(4.0, 0.85 * max(error, 1e-6) ** (-1.0 / 3.0))
                wish = min(interval, max(dt * longer, settings.finest_step))
            euler_below = 0.0
        write_hour(k, speed, abreast, fluid, work, record)
    store(1, cells, work, record)
    return OK, n_hours, 0, 0.0


@entrance
def run(
    temperature: FloatArray,
    x: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    forcing: FloatArray,
    work: Work,
    record: Record,
    settings: Settings,
) -> tuple[int, int, int, float]:
    """Integrate over all hours of the forcing.

    Parameters
    ----------
    temperature, x : ndarray, shape (n_slices, n)
        State; start on entry, end on return.
    forcing : ndarray, shape (n_hours + 1, N_FORCING)
        Boundary conditions at the ends of the hours, the start first; rain is the mean of the hour before.
    record : Record
        Filled with the results.

    Returns
    -------
    status, hour, cell : int
        OK, or what went wrong, in which hour and cell.
    step : float
        Size of the step that failed. [s]
    """
    abreast = cell_by_cell(temperature, x, cells, faces, work)
    return run_abreast(abreast, temperature, cells, faces, gap, leak, fluid, forcing, work, record, settings)


@kernel_part
def run_abreast(
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    forcing: FloatArray,
    work: Work,
    record: Record,
    settings: Settings,
) -> tuple[int, int, int, float]:
    """The same for cells of which as many are taken at a time as ``abreast`` has side by side."""
    return integrated(
        share(abreast), temperature, share(cells), share(faces), share(gap), share(leak), share(fluid), forcing,
        share(work), share(record), share(settings),
    )  # fmt: skip


@kernel_part
def cell_by_cell(temperature: FloatArray, x: FloatArray, cells: Cells, faces: Faces, work: Work) -> Abreast:
    """The cells as loops see them where they are taken one by one."""
    return Abreast(
        temperature, x, work.known, work.right, work.ahead, cells.data, cells.kinds, cells.tables, faces.data[1:],
        faces.kinds[1:], faces.sheet_tables,
    )  # fmt: skip
