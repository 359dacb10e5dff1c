"""EN 15026: step change of temperature and humidity on a half space; specification from memory.

The standard's printed table is not used. The reference is the similarity solution of the same specification: with
z = x / sqrt(t) the two balances become ordinary differential equations, solved here on 1500 cells by Newton's method,
without a line of the package. `TABLE_T` and `TABLE_W` were worked in another way (method of lines, 5096 cells).
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

import hygro
from hygro import Assembly, FixedFilm, Layer, MoistAir
from hygro.core.formulas import saturation_pressure_hamstad
from hygro.indoor import ConstantIndoor
from hygro.materials import Finish, LiquidConductivity, Material

R_V = 8.314 / 0.018
KELVIN = 273.15
C_W, H_V, CAPACITY = 4180.0, 2.5e6, 1.824e6
DAYS = (7, 30, 365)


def retention(s):
    return 146 / (1 + (8e-8 * s) ** 1.6) ** 0.375


def conductivity(s):
    y = retention(s) - 73
    return np.exp(-39.2619 + 0.0704 * y - 1.7420e-4 * y**2 - 2.7953e-6 * y**3 - 1.1566e-7 * y**4 + 2.5969e-9 * y**5)


def shape(w):
    z = 1 - w / 146
    return z / (0.503 * z**2 + 0.497)


def permeability(w, t):
    return 26.1e-6 / (R_V * (t + KELVIN)) / 200 * shape(w)


def p_sat(t):
    kelvin = t + KELVIN
    return np.exp(65.8094 - 7066.27 / kelvin - 5.976 * np.log(kelvin))


def suction(phi, t):
    return -1000 * R_V * (t + KELVIN) * np.log(phi)


class Similarity:
    """Finite volumes in z = x / sqrt(t); unknowns are temperature and the logarithm of the suction of each cell."""

    def __init__(self, cells=1500, nearest=2e-7, farthest=2.5e-2):
        self.edges = np.concatenate([[0.0], np.geomspace(nearest, farthest, cells)])
        self.z = 0.5 * (self.edges[1:] + self.edges[:-1])
        self.n = cells
        start = np.array([20.0, np.log(suction(0.5, 20.0))])
        self.surface = np.array([30.0, np.log(suction(0.95, 30.0))])
        blend = np.exp(-self.z / 5e-5)[:, None]
        heat = np.exp(-self.z / 1.5e-3)
        self.start = start
        self.y = start + (self.surface - start) * np.column_stack([heat, blend[:, 0]])
        self._solve()

    def _state(self, y):
        t, s = y[:, 0], np.exp(y[:, 1])
        w = retention(s)
        p = p_sat(t) * np.exp(-s / (1000 * R_V * (t + KELVIN)))
        return t, s, w, p, (CAPACITY + C_W * w) * t

    def _residual(self, flat):
        y = flat.reshape(-1, 2)
        whole = np.vstack([self.surface, y, self.start])  # faces lie between neighbours; the outermost hold the ends
        t, s, w, p, h = self._state(whole)
        at = np.concatenate([[0.0], self.z, [self.edges[-1]]])
        dz = np.diff(at)
        t_f, w_f = 0.5 * (t[1:] + t[:-1]), 0.5 * (w[1:] + w[:-1])
        s_f = np.sqrt(s[1:] * s[:-1])
        vapour = -permeability(w_f, t_f) * np.diff(p) / dz
        liquid = conductivity(s_f) * np.diff(s) / dz
        g = vapour + liquid
        q = -(1.5 + 15.8e-3 * w_f) * np.diff(t) / dz + H_V * vapour + C_W * t_f * liquid
        # z/2 dM/dz = dF/dz, conservative: d(z M / 2 - F) = M/2 dz
        w_e, h_e = w_f.copy(), 0.5 * (h[1:] + h[:-1])
        size = np.diff(self.edges)
        water = np.diff(0.5 * self.edges * w_e - g) - 0.5 * w[1:-1] * size
        heat = np.diff(0.5 * self.edges * h_e - q) - 0.5 * h[1:-1] * size
        return np.column_stack([heat / 3e6, water]).ravel() / np.repeat(size, 2)

    def _solve(self):
        flat = self.y.ravel().copy()
        m = flat.size
        for _ in range(60):
            r = self._residual(flat)
            rows, columns, values = [], [], []
            for colour in range(6):  # a cell reaches its neighbours: three cells of two unknowns
                which = np.arange(colour, m, 6)
                step = np.zeros(m)
                step[which] = 1e-6
                slope = (self._residual(flat + step) - r) / 1e-6
                for k in which:
                    cell = k // 2
                    near = np.arange(max(2 * (cell - 1), 0), min(2 * (cell + 2), m))
                    rows.append(near)
                    columns.append(np.full(near.size, k))
                    values.append(slope[near])
            jacobian = coo_matrix(
                (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(m, m)
            ).tocsc()
            move = spsolve(jacobian, -r)
            flat = flat + move * min(1.0, 1.0 / np.abs(move).max())
            if np.abs(move).max() < 1e-9:
                break
        else:
            msg = f"the reference did not converge: last move {np.abs(move).max():g}"
            raise AssertionError(msg)
        self.y = flat.reshape(-1, 2)

    def temperature(self, x, days):
        return np.interp(x / np.sqrt(86400.0 * days), self.z, self.y[:, 0])

    def water(self, x, days):
        return np.interp(x / np.sqrt(86400.0 * days), self.z, retention(np.exp(self.y[:, 1])))

    def uptake(self, days):
        excess = retention(np.exp(self.y[:, 1])) - retention(np.exp(self.start[1]))
        return float((excess * np.diff(self.edges)).sum() * np.sqrt(86400.0 * days))


def run(simulate=hygro.simulate):
    """The package's own run of a year: [Dataset]."""
    stone = Material(
        "step change", density=1824, specific_heat=1000, conductivity=1.5, conductivity_moisture=15.8e-3,
        vapour_resistance=lambda phi: 200 / shape(
            retention(-1000 * R_V * 293.15 * np.log(np.clip(phi, 1e-9, 1 - 1e-9)))
        ),
        retention=retention, liquid=LiquidConductivity(conductivity),
    )  # fmt: skip
    air = MoistAir(
        "benchmark", saturation_pressure_hamstad, None,
        lambda t: 26.1e-6 / (R_V * (np.asarray(t, dtype=float) + KELVIN)), gas_constant=R_V, latent_heat=H_V,
        specific_heat_vapour=0.0, specific_heat_water=C_W,
    )  # fmt: skip
    # the vapour film takes 1 Pa off in the first hour and 0.1 Pa later; the first cells are 0.1 mm;
    # the domain ends where nothing arrives within a year
    parts = [Layer(stone, d) for d in (0.004, 0.02, 0.1, 0.4, 1.5, *(2.9,) * 9)]
    return simulate(
        Assembly("step change", parts, tilt=90, azimuth=180, finish=Finish("plain", 0.5, 0.9)),
        hygro.constant_climate(30.0, 0.95, hours=8760), ConstantIndoor(20.0, 0.5),
        initial=hygro.Start(20.0, 0.5), outside=FixedFilm(1e5, 1e-5), inside=FixedFilm(1e-6, 0.0), air=air, detail=2.0,
    )  # fmt: skip


TABLE_T = {
    7: ((0.5, 1, 2), (26.641, 23.839, 20.813)),
    30: ((0.5, 1, 2), (28.347, 26.748, 24.003)),
    365: ((0.5, 1, 2, 5), (29.536, 29.055, 28.106, 25.470)),
}
TABLE_W = {
    7: ((2.5, 5, 7.5, 10, 15), (108.4, 80.2, 60.8, 51.9, 45.1)),
    30: ((5, 10, 15, 20, 30), (109.3, 82.1, 62.2, 52.7, 45.5)),
    365: ((10, 20, 30, 40, 50, 100), (118.8, 105.6, 89.8, 74.8, 64.1, 46.0)),
}
