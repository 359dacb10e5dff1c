"""One stage of a step, (1) of `integrate`: all slices evaluated and solved by Newton's method, with the gap's speed."""

from __future__ import annotations

from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    ARRIVES_P,
    ARRIVES_T,
    HANDED_P,
    HANDED_T,
    OUT_TEMPERATURE,
    OUT_VAPOUR,
    P_GAP,
    RISE_P,
    RISE_T,
    T_GAP,
    Abreast,
    Cells,
    Faces,
    FloatArray,
    Fluid,
    GapSide,
    Leak,
)
from hygro.core.column import add_surroundings, evaluate_cells, remember_between, return_to_evaluation
from hygro.core.follow import follow_air, follow_cells, follow_fluxes, follow_states
from hygro.core.lanes import all_of, any_of, in_one, lane, no, total_of
from hygro.core.newton import newton_update, step_along_slopes
from hygro.core.speed import SPEED_TOLERANCE, air_density, gap_speed, in_flow_order
from hygro.core.work import Settings, Work

SPEED_PASSES = 3
# After so many, Newton's steps leap to and fro over a bend of a curve: shorter ones from then on. In steps that are
# short already, and in the last of a run, which cannot be cut, every other one then goes half of its way, which ends a
# leap between two states; and in the end all do, which ends the leaps between more.
SURE_ITERATIONS, PATIENT_ITERATIONS = 8, 32
PATIENCE = 4  # times as many iterations in steps that are short already
SPEED_LAG = 0.0025  # [m s-1 K-1] change of speed, per kelvin unchecked, for which solved slices are not solved anew
TIGHT_TOLERANCE = 1e-11  # of the last step of a run, so that the audit is one of round-off
EULER_BELOW = 120.0  # [s] steps that Newton's method has cut below this are taken by the implicit Euler method


@kernel_part
def evaluate_slice(
    s: int,
    speed: float,
    t_air: float,
    p_air: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    count: FloatArray,
) -> tuple[float, float]:
    """Evaluate slice s with the air that reaches it; the state of the air that it hands on."""
    count[0] += 1.0
    evaluate_cells(s, work.now, abreast, fluid)
    remember_between(cells.data.shape[0], gap.face, leak, work.known[s], work.between[s])
    t_out, p_out = add_surroundings(
        s, speed, air_density(work.now), t_air, p_air, abreast, temperature[s], cells, faces, gap, leak, fluid,
        work.now, work.known[s], signals[s], work.air[s],
    )  # fmt: skip
    return t_out, p_out


@kernel
def sweep(
    speed: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    count: FloatArray,
) -> None:
    """Evaluate all slices in flow order, each with the air that the one before hands on."""
    n_slices = temperature.shape[0]
    t_air, p_air = work.now[OUT_TEMPERATURE], work.now[OUT_VAPOUR]
    for order in range(n_slices):
        s = in_flow_order(order, n_slices, speed)
        t_air, p_air = evaluate_slice(
            s, speed, t_air, p_air, abreast, temperature, cells, faces, gap, leak, fluid, work, signals, count
        )


@kernel_part
def solve_slice(
    s: int,
    begun: int,
    turns: int,
    c: float,
    tolerance: float,
    unchecked: float,
    speed: float,
    t_in: float,
    p_in: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    settings: Settings,
    count: FloatArray,
) -> tuple[float, float, float]:
    """At most so many turns of Newton's method for slice s, beside the air that reaches it; ``begun`` came before.

    A step no larger than ``unchecked`` ends it without another evaluation: inflow and signals follow along their
    slopes, and what that leaves over, of second order in the step, stays in the ledger. Returns the size of the last
    step, not a number where it led out of all bounds, and the state of the air that the slice hands on.
    """
    size, t_out, p_out = 0.0 * temperature[s, 0], t_in, p_in
    for turn in range(turns):
        t_out, p_out = evaluate_slice(
            s, speed, t_in, p_in, abreast, temperature, cells, faces, gap, leak, fluid, work, signals, count
        )
        tries = begun + turn
        reach = 1.0 if tries < SURE_ITERATIONS else 0.25
        pressed = tolerance <= TIGHT_TOLERANCE or c < EULER_BELOW
        part = 0.5 if pressed and tries >= SURE_ITERATIONS and (tries % 2 == 0 or tries >= PATIENT_ITERATIONS) else 1.0
        size = newton_update(s, c, tolerance, reach, part, speed, gap.face, abreast, cells, work, signals[s], settings)
        if all_of(size < 0.0):
            return 0.0 * size, t_out, p_out
        count[1] += 1.0
        if any_of(size != size):
            return size, t_out, p_out
        if all_of(size <= unchecked):
            t_out, p_out = follow_slice(s, size, t_in, t_out, p_out, abreast, cells, gap, leak, fluid, work, signals)
            break
    return size, t_out, p_out


@kernel_part
def follow_slice(
    s: int,
    size: float,
    t_in: float,
    t_out: float,
    p_out: float,
    abreast: Abreast,
    cells: Cells,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
) -> tuple[float, float]:
    """Bring inflow and signals of slice s along their slopes to the state that a Newton step has reached.

    Returns the state of the air that the slice hands on then.
    """
    t_mean, p_mean = signals[s, T_GAP, 0], signals[s, P_GAP, 0]
    cell, right, air = work.known[s], work.right, work.air[s]
    t_arrives, p_arrives = air[ARRIVES_T], air[ARRIVES_P]
    follow_cells(s, False, 1.0, abreast)
    if gap.face >= 0:
        follow_air(gap.face, cell, air)
    follow_states(signals[s], gap.face, right, cells.data.shape[0], t_arrives, p_arrives)
    follow_fluxes(s, abreast, signals[s], signals[s], gap.face, leak, cells, fluid, cell, right, t_arrives, p_arrives)
    if in_one(size, t_in):
        return t_out + lane(work.air[s, HANDED_T], 0), p_out + lane(work.air[s, HANDED_P], 0)
    return (
        t_out + total_of(work.air[s, RISE_T] * (signals[s, T_GAP, 0] - t_mean), t_in),
        p_out + total_of(work.air[s, RISE_P] * (signals[s, P_GAP, 0] - p_mean), t_in),
    )


@kernel
def carry_stage_on(
    c: float,
    near: float,
    speed: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    count: FloatArray,
) -> tuple[bool, float]:
    """A stage solved along the slopes of the last evaluation, (4) of `integrate`; the state is a guess at its end.

    Only what borders, gap and leaks pass is evaluated anew, at the state of that evaluation. Returns whether no step
    was larger than ``near`` or crossed a kink, and the speed; else the state is a better guess.
    """
    density, n_slices, n = air_density(work.now), temperature.shape[0], cells.data.shape[0]
    whole = gap.slices == 1  # then the speed is that of there too, since slopes tell how it changes
    for s in range(n_slices):
        if whole:
            return_to_evaluation(s, abreast, n, gap.face, leak, work)
    speed = gap_speed(speed, density, temperature, gap, work, fluid, SPEED_TOLERANCE)
    t_air, p_air = work.now[OUT_TEMPERATURE], work.now[OUT_VAPOUR]
    for order in range(n_slices):
        s = in_flow_order(order, n_slices, speed)
        if not whole:
            return_to_evaluation(s, abreast, n, gap.face, leak, work)
        t_out, p_out = add_surroundings(
            s, speed, density, t_air, p_air, abreast, temperature[s], cells, faces, gap, leak, fluid, work.now,
            work.known[s], signals[s], work.air[s],
        )  # fmt: skip
        size = step_along_slopes(s, c, speed, gap.face, n, abreast, work, signals[s])
        count[1] += 1.0
        if any_of(no(size <= near)):
            return False, speed
        t_air, p_air = follow_slice(s, size, t_air, t_out, p_out, abreast, cells, gap, leak, fluid, work, signals)
    return True, speed


@kernel
def solve_stage(
    c: float,
    tolerance: float,
    unchecked: float,
    speed: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    work: Work,
    signals: FloatArray,
    settings: Settings,
    count: FloatArray,
) -> tuple[bool, float]:
    """Newton's method for one stage of (1), from the state as a guess.

    The air speed follows the first iterations and is then held: a wind that nearly balances the buoyancy would
    otherwise make it jump to and fro. Slices are solved in flow order, each to its end, since only their air couples
    them; they are all solved anew where that changes the speed. Returns whether it converged, and the speed.
    """
    density = air_density(work.now)
    n_slices = temperature.shape[0]
    sliced = gap.slices > 1
    most = settings.largest_iterations * (PATIENCE if c < EULER_BELOW else 1)
    turns = most if sliced else 1
    for iteration in range(most):
        again = sliced and iteration > 0
        before = speed
        if iteration < SPEED_PASSES:
            lag = max(SPEED_LAG * unchecked, SPEED_TOLERANCE) if again else SPEED_TOLERANCE
            speed = gap_speed(speed, density, temperature, gap, work, fluid, lag)
        if again and all_of(speed == before):
            return True, speed
        size = 0.0 * temperature[0, 0]
        t_air, p_air = work.now[OUT_TEMPERATURE], work.now[OUT_VAPOUR]
        for order in range(n_slices):
            s = in_flow_order(order, n_slices, speed)
            size, t_air, p_air = solve_slice(
                s, iteration, turns, c, tolerance, unchecked, speed, t_air, p_air, abreast, temperature, cells, faces,
                gap, leak, fluid, work, signals, settings, count,
            )  # fmt: skip
            if any_of(size != size) or (sliced and any_of(size > unchecked)):
                return False, speed
        if not sliced and all_of(size <= unchecked):
            return True, speed
    return False, speed
