"""The peer integration itself: SUNDIALS CVODE (variable-order BDF) on the equations of ``peer_column``.

The weather runs straight between full hours and kinks there, so no step goes past a full hour; CVODE's tolerances
alone decide on the steps between. Where rain, the mean of an hour, jumps, or where asked for, it is started anew. Cell
sizes, the assignment of materials to cells and the forcing are those of `hygro.simulate`; all else is computed here.

Hindmarsh et al. 2005, ACM Transactions on Mathematical Software 31:363-396 (CVODE).
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np
import peer_cell as cell
import peer_column as column
import peer_gap
from peer_air import SIGMA_FREE
from sksundae.cvode import CVODE

from hygro.assembly import Layer, Sheet, VentGap
from hygro.core import bundles
from hygro.core.formulas import MoistAir
from hygro.forcing import boundary_conditions, falling, rain_load
from hygro.grid import build
from hygro.simulation import Start
from hygro.surfaces import Weathered, indoor_film, outdoor

HOUR = 3600.0
_HOURLY = {
    column.T_OUT: bundles.OUT_TEMPERATURE, column.P_OUT: bundles.OUT_VAPOUR, column.H_OUT: bundles.OUT_FILM,
    column.B_OUT: bundles.OUT_VAPOUR_FILM, column.ABSORBED: bundles.ABSORBED, column.EMISSIVITY: bundles.EMISSIVITY,
    column.RAIN: bundles.RAIN, column.PRESSURE: bundles.PRESSURE, column.WIND: bundles.WIND_PRESSURE,
    column.T_IN: bundles.IN_TEMPERATURE, column.P_IN: bundles.IN_VAPOUR, column.H_IN: bundles.IN_FILM,
    column.B_IN: bundles.IN_VAPOUR_FILM, column.LEAK: bundles.LEAK_FLOW,
}  # fmt: skip


@dataclass(frozen=True)
class PeerRun:
    """Results at the ends of the hours: temperature [degC], water [kg m-3] and ice, shape (hours, slices, cells)."""

    temperature: np.ndarray
    water: np.ndarray
    ice: np.ndarray
    speed: np.ndarray
    seconds: float
    evaluations: int


def boundary(assembly, climate, indoor, leak=None, outside=None, inside=None, rain=None) -> np.ndarray:
    """Boundary conditions at the ends of the hours as the solver is given them, shape (hours + 1, N_FORCING)."""
    moist = MoistAir()
    out = outdoor(climate, assembly.tilt, assembly.azimuth, assembly.finish, outside or Weathered(), moist)
    room = indoor.conditions(climate.data)
    load = rain_load(rain, assembly, climate, outside or Weathered())
    wet = falling(load, climate, assembly, out, np.zeros(len(out.temperature)))
    return boundary_conditions(assembly, out, room, indoor_film(assembly.heat_flow, inside), moist, leak, wet)


def hourly(theirs) -> np.ndarray:
    """The same in the peer's order, shape (hours + 1, N_HOUR)."""
    ours = np.zeros((len(theirs), column.N_HOUR))
    for mine, yours in _HOURLY.items():
        ours[:, mine] = theirs[:, yours]
    return ours


def sheets_on_faces(assembly, grid) -> np.ndarray:
    """Vapour resistance over humidity of what lies on each face; the last row lies on the outer side of the gap."""
    n = len(grid.thickness)
    humidity = np.linspace(0.0, 1.0, column.SHEET_STEPS + 1)
    out = np.zeros((n + 2, column.SHEET_STEPS + 1))
    face, number, since_gap = 0, -1, []
    for part in assembly.parts:
        if isinstance(part, Layer):
            number += 1
            face = int(np.flatnonzero(grid.cell_layer == number)[-1]) + 1
            since_gap = []
        elif isinstance(part, Sheet):
            out[face] += part.material.vapour_resistance(humidity)
            since_gap.append(part)
        elif isinstance(part, VentGap):
            out[n + 1], out[face] = out[face].copy(), 0.0
    return np.minimum(out, 1e25)


def gap_scalars(assembly, grid) -> np.ndarray:
    """The gap's numbers from what the assembly states."""
    gap = assembly.gap
    out = np.zeros(peer_gap.N_GAP)
    out[peer_gap.FACE] = -1.0
    if gap is None:
        return out
    outer, inner = gap.emissivity
    still = {"up": 1.95, "horizontal": 1.25, "down": 0.12 * gap.thickness**-0.44}[assembly.heat_flow]
    out[:] = (
        grid.gap.face, gap.thickness, gap.length, gap.length * math.sin(math.radians(assembly.tilt)),
        gap.flow.loss_coefficient(gap.thickness), 1.0 / (1.0 / outer + 1.0 / inner - 1.0),
        2.0 * max(still, 0.025 / gap.thickness), gap.flow.fixed_speed(gap.length),
    )  # fmt: skip
    return out


def leak_scalars(assembly, grid, leak) -> np.ndarray:
    """Where leaking air goes; paths into or through a gap are not part of the peer."""
    if leak is None:
        return np.array([-1.0, 0.0])
    if leak.into is None:
        if assembly.gap is not None:
            raise ValueError("seeping through a gap is not part of the peer")
        return np.array([-1.0, 1.0])
    number = assembly.labels.index(leak.into)
    return np.array([float(np.flatnonzero((grid.cell_layer == number) & ~grid.is_film)[-1]), 0.0])


def start_values(assembly, grid, c, tables, first: Start) -> np.ndarray:
    """Enthalpy and water of every cell at the start, all slices alike."""
    values = np.empty((len(c), grid.n_slices, 2))
    for i, number in enumerate(grid.cell_layer):
        layer = assembly.layers[number]
        humidity = layer.start_humidity if layer.start_humidity is not None else first.relative_humidity
        table = tables[int(c[i, cell.MATERIAL])]
        sigma = max(-math.log(humidity), SIGMA_FREE)
        water = cell.read(table, cell.WATER, math.log(sigma) + cell.shift(c[i], first.temperature))
        if layer.start_moisture is not None and not grid.is_film[i]:
            water = layer.start_moisture * layer.material.density
        values[i, :, 0] = cell.enthalpy(c[i], table, first.temperature, water)
        values[i, :, 1] = water
    return values.ravel()


def integrate(assembly, climate, indoor, *, leak=None, rain=None, **options) -> PeerRun:
    """Integrate an assembly over the climate; options of `march`."""
    return march(assembly, boundary(assembly, climate, indoor, leak, rain=rain), leak=leak, **options)


@dataclass(frozen=True)
class Posed:
    """The initial value problem: arrays that `peer_column.derivative` takes after the state, start, and scales.

    ``scales`` are a kelvin's worth of enthalpy and a material's water at 80 % relative humidity for every unknown.
    """

    n_slices: int
    arrays: tuple[np.ndarray, ...]  # cell constants, curves, sheets, gap, leak, forcing
    start: np.ndarray
    scales: np.ndarray

    @property
    def hours(self) -> int:
        """Hours of weather."""
        return len(self.arrays[-1]) - 1

    @property
    def band(self) -> int:
        """How far from the diagonal an unknown meets others, on either side."""
        return 4 * self.n_slices - 1

    def allowed(self, tolerance: float) -> np.ndarray:
        """Absolute tolerances: 100 times a tolerance in kelvin, and the tolerance of the water at 80 %."""
        return tolerance * np.where(np.arange(len(self.scales)) % 2 == 0, 100.0, 1.0) * self.scales

    def observed(self, y: np.ndarray, out: np.ndarray) -> None:
        """Write the state of every cell, shape (n_slices, n, N_STATE)."""
        column.observe(y, self.n_slices, *self.arrays[:2], out)


def pose(assembly, forcing, *, leak=None, initial=None, detail=1.0) -> Posed:
    """The problem of an assembly under boundary conditions."""
    grid = build(assembly, detail)
    c, tables = cell.constants(grid), np.stack([cell.sample(m) for m in grid.materials])
    scales = np.empty((len(c), grid.n_slices, 2))
    for i in range(len(c)):
        at_80 = cell.read(tables[int(c[i, cell.MATERIAL])], cell.WATER, math.log(-math.log(0.8)))
        scales[i, :, 0] = c[i, cell.DRY_HEAT]
        scales[i, :, 1] = 1.0 if grid.is_film[i] else at_80  # a film that dries out loses its capacity
    sheets, gap = sheets_on_faces(assembly, grid), gap_scalars(assembly, grid)
    arrays = (c, tables, sheets, gap, leak_scalars(assembly, grid, leak), hourly(forcing))
    start = start_values(assembly, grid, c, tables, initial or Start())
    return Posed(grid.n_slices, arrays, start, scales.ravel())


def march(assembly, forcing, *, tolerance=1e-5, hours=None, anew=False, **options) -> PeerRun:
    """Integrate an assembly over boundary conditions; options of `pose`.

    ``tolerance`` is relative; for absolute tolerances see `Posed.allowed`. ``anew`` starts CVODE at every full hour.
    """
    return solved(pose(assembly, forcing, **options), tolerance, hours, anew)


def solved(posed: Posed, tolerance=1e-5, hours=None, anew=False) -> PeerRun:
    """Integrate a posed problem."""
    m, n_hours, forcing = posed.n_slices, hours or posed.hours, posed.arrays[-1]
    k, count = 0, 0

    def rates(t, state, rate):
        nonlocal count
        count += 1
        column.derivative(t, k, state, rate, m, *posed.arrays)

    solver = CVODE(
        rates, method="BDF", rtol=tolerance, atol=posed.allowed(tolerance), linsolver="band", lband=posed.band,
        uband=posed.band, max_num_steps=20000,
    )  # fmt: skip
    y = posed.start.copy()
    out = np.empty((n_hours, m, len(y) // (2 * m), cell.N_STATE))
    speed = np.empty(n_hours)
    spare = np.empty_like(y)
    began = time.perf_counter()
    for k in range(n_hours):
        if anew or k == 0 or forcing[k, column.RAIN] != forcing[k + 1, column.RAIN]:
            solver.init_step(HOUR * k, y)
        end = HOUR * (k + 1)
        result = solver.step(end, tstop=end)
        if not result.success:
            raise RuntimeError(f"CVODE stopped in hour {k}: {result.message}")
        y = np.array(result.y, dtype=float).ravel()
        posed.observed(y, out[k])
        speed[k] = column.derivative(end, k, y, spare, m, *posed.arrays)
    return PeerRun(
        temperature=out[..., cell.T], water=out[..., cell.W], ice=out[..., cell.ICE], speed=speed,
        seconds=time.perf_counter() - began, evaluations=count,
    )  # fmt: skip
