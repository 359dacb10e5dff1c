r"""The governing equations of one column of cells, outside to inside.

Conservation, per volume:

.. math:: \partial w/\partial t = -\partial(g_v + g_l + g_a)/\partial z                                    (1)
.. math:: \partial H/\partial t = -\partial(q + h_v g_v + h_l g_l + q_a)/\partial z                        (2)
.. math:: p = p_{sat}(T)\,\min(u, u_{ice}(T))                                                              (3)
.. math:: H = (\rho c) T + (w - w_{ice}) c_w T + w_{ice} (c_i T - L_f)                                     (4)
.. math:: g_v = -\delta\,\partial p/\partial z, \quad \delta = \delta_a(T)/\mu(u)                          (5)
.. math:: g_l = -f\,\partial\theta/\partial z, \quad \theta = \int K\,dp_c = \int D_w\,dw                  (6)
.. math:: q = -\lambda\,\partial T/\partial z, \quad \lambda = (\lambda_0 + b_w w)(1 + b_T (T - 10))        (7)
.. math:: h_v = L_v + c_v T, \quad h_l = c_w T                                                             (8)
.. math:: g_a = m \xi p / P, \quad q_a = m c_a T + g_a h_v                                                 (9)

State: T and the moisture coordinate x. Up to its onset a material binds water by its curve w(x), past it free water
fills what pores are left. Bound water stays liquid up to x_e = min(x, x_ice(T)); what exceeds it is ice, so frost needs
no further equation. Ice blocks the pores: f is the product of the unfrozen shares of both cells, theta that of bound
water and ice together; suction by freezing is left out. Free water freezes over FREEZING_SPAN below 0 degC. m is the
flow of leaking air, positive inwards, xi = 0.622.

Grid: cells i = 0..n-1, faces f = 0..n; face f lies between cells f-1 and f. A flux over a face sees the two half
cells and whatever lies between in series:

    cell f-1  --dx/2--|-- sheet, film or gap --|--dx/2--  cell f

Liquid fluxes use theta, so that (6) is exact for the cell values; where two materials meet, the moisture coordinate of
the face follows from equal flux on both sides. Where liquid reaches the outer or inner surface, the coordinate of that
surface follows from the film's vapour being carried on as vapour and liquid over the half cell, as far as the cell is
unfrozen. What a cell holds past full pores runs on to its neighbours in the material, and drips where it faces air.
Face enthalpies (8) use the mean temperature of the two cells, boundary and gap enthalpies that of the cell.

Analytic cases that prove it: conduction steps and periodic heat, sorption in a slab, isothermal drying, steady vapour
profiles with sheets, conduction with air flow; see tests/physics and tests/published.
"""

from __future__ import annotations

from hygro.core._jit import kernel, kernel_part
from hygro.core.borders import add_source, drip, inner_boundary, leak_source, outer_boundary, put
from hygro.core.bundles import (
    AIR_SHARE,
    BETWEEN_HEAT,
    BETWEEN_WATER,
    G_DEFECT,
    G_DRIP,
    G_LEAK,
    G_RAIN,
    G_SHED,
    HEAT,
    LEAK_FLOW,
    MID,
    N_TOUCHED,
    OUT_TEMPERATURE,
    PRESSURE,
    Q_DRIP,
    Q_LEAK,
    RAIN_DEFECT,
    TEMPERATURE_AT,
    WATER_IN,
    X_AT,
    Abreast,
    Cells,
    Faces,
    FloatArray,
    Fluid,
    GapSide,
    Leak,
)
from hygro.core.cell import cell_states
from hygro.core.faces import interior_faces, liquid_faces
from hygro.core.gapface import gap_face
from hygro.core.lanes import any_of
from hygro.core.work import Work


@kernel
def evaluate_cells(s: int, now: FloatArray, abreast: Abreast, fluid: Fluid) -> None:
    """State functions of all cells of slice s and what crosses the faces between them, with slopes.

    The state is remembered for `return_to_evaluation`.
    """
    cell_states(s, abreast, fluid)
    interior_faces(-now[LEAK_FLOW], now[PRESSURE], s, abreast, fluid)
    liquid_faces(s, abreast, fluid)
    known = abreast.known
    for i in range(known.shape[1]):
        known[s, i, TEMPERATURE_AT], known[s, i, X_AT] = abreast.temperature[s, i], abreast.x[s, i]
        known[s, i, BETWEEN_HEAT], known[s, i, BETWEEN_WATER] = known[s, i, HEAT], known[s, i, WATER_IN]


@kernel_part
def touched(which: int, n: int, gap_at: int, leak: Leak) -> int:
    """The cells to whose balance `add_surroundings` may add, one after another; below 0 where there is no such cell."""
    return (0, n - 1, gap_at - 1, gap_at, leak.cell, leak.rain_cell)[which]


@kernel
def remember_between(n: int, gap_at: int, leak: Leak, cell: FloatArray, between: FloatArray) -> None:
    """Keep what `evaluate_cells` has left in the balance of the cells to which `add_surroundings` adds more."""
    for which in range(N_TOUCHED):
        i = touched(which, n, gap_at, leak)
        if i >= 0:
            for m in range(4):
                between[which, m] = cell[i, MID + m]


@kernel
def return_to_evaluation(s: int, abreast: Abreast, n: int, gap_at: int, leak: Leak, work: Work) -> None:
    """Bring slice s back to where `evaluate_cells` left it, with the state of then."""
    known, cell, between = abreast.known, work.known[s], work.between[s]
    for i in range(known.shape[1]):
        abreast.temperature[s, i], abreast.x[s, i] = known[s, i, TEMPERATURE_AT], known[s, i, X_AT]
        known[s, i, HEAT], known[s, i, WATER_IN] = known[s, i, BETWEEN_HEAT], known[s, i, BETWEEN_WATER]
    for which in range(N_TOUCHED):
        i = touched(which, n, gap_at, leak)
        if i >= 0:
            for m in range(4):
                cell[i, MID + m] = between[which, m]


@kernel
def add_surroundings(
    s: int,
    speed: float,
    density: float,
    t_inlet: float,
    p_inlet: float,
    abreast: Abreast,
    temperature: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    now: FloatArray,
    cell: FloatArray,
    signals: FloatArray,
    air: FloatArray,
) -> tuple[float, float]:
    """Add to the balance of slice s what does not cross a face between two cells: borders, gap, leaks, what drips.

    With `evaluate_cells` before it, the net inflow of heat and water into every cell under the boundary conditions
    ``now``, with slopes. ``temperature`` and ``cell`` are those of the slice, one by one. Returns the state of the
    gap's air at the outlet.
    """
    n = cells.data.shape[0]
    for m in (Q_LEAK, Q_DRIP, G_LEAK, G_RAIN, G_DRIP, G_SHED, G_DEFECT):  # what is not there every time
        put(signals, m, 0.0, 0.0, 0.0, 0.0, 0.0)
    flow = now[LEAK_FLOW]  # positive from indoors to outdoors
    outer_boundary(-flow * faces.data[0, AIR_SHARE], temperature, cells, faces, fluid, now, cell, signals)
    inner_boundary(-flow * faces.data[n, AIR_SHARE], temperature, cells, faces, fluid, now, cell, signals)
    t_outlet, p_outlet = t_inlet, p_inlet
    if gap.face >= 0:
        into_gap = max(flow, 0.0) if leak.into_gap else 0.0 * flow
        t_outlet, p_outlet = gap_face(
            speed,
            density,
            t_inlet,
            p_inlet,
            into_gap,
            -flow * faces.data[gap.face, AIR_SHARE],
            temperature,
            faces,
            gap,
            fluid,
            now,
            cell,
            signals,
            air,
        )
    if leak.cell >= 0 and any_of(flow != 0.0):
        leak_source(leak.cell, flow, temperature, fluid, now, cell, signals)
    if leak.rain_cell >= 0 and any_of(now[RAIN_DEFECT] > 0.0):
        brought = fluid.heat_water * now[OUT_TEMPERATURE] * now[RAIN_DEFECT]
        add_source(cell, leak.rain_cell, brought, 0.0, 0.0, now[RAIN_DEFECT], 0.0, 0.0)
        put(signals, G_DEFECT, now[RAIN_DEFECT], 0.0, 0.0, 0.0, 0.0)
        signals[Q_LEAK, 0] += brought
    drip(s, abreast, temperature, cells, gap.face, fluid, cell, signals)
    return t_outlet, p_outlet
