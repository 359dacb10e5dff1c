"""Two cases of the international benchmark series of which only the specification is known, in part.

Hagentoft et al. 2004, J. Thermal Envelope and Building Science 27:327-352, from memory.

Wall with air flow (benchmark 3): geometry, films, boundary conditions and the reversal of the flow are the series'; its
air permeability, sorption and start are not known, so the insulation of benchmark 5 and a flow of 1e-4 kg/(m2 s) stand
in. Response with rain (benchmark 4): geometry, films, storage and the finish's liquid conductivity are the series'; its
hourly climate and the liquid conductivity of the outer layer are not known, so invented days of sun and two rains and a
conductivity built from an absorption coefficient of 0.05 kg/(m2 s^0.5) stand in. Moist air is the package's.

No published result is claimed: the reference is CVODE on six times as many cells, tolerance 1e-6 (see ``peer_run``).
Compared are profiles on four times the usual cells, to see the equations, and the water of each layer on the usual
cells, to see what a user gets.
"""

from __future__ import annotations

import math

import numpy as np
import peer_run
from reference import series

import hygro
from hygro import AirLeak, Assembly, FixedFilm, Layer, MoistAir, Start
from hygro.core.bundles import LEAK_FLOW, OUT_VAPOUR, RAIN
from hygro.indoor import ConstantIndoor
from hygro.materials import AbsorptionCoefficient, LiquidConductivity, Material

FINE = {"detail": 6.0, "tolerance": 1e-6}
FLOW = 1e-4  # [kg m-2 s-1]


class Three:
    """A case on the usual cells, on four times as many, and by CVODE on six times as many."""

    def __init__(self, kernel_of, assembly, forcing, start, leak=None):
        self.layers = len(assembly.layers)
        self.runs = []
        for detail in (1.0, 4.0):
            kernel = kernel_of(
                assembly, forcing, MoistAir(), start.temperature, start.relative_humidity, detail=detail, leak=leak
            )
            record, _, _ = kernel.run()
            self.runs.append((kernel.grid, record.temperature[:, 0], record.water[:, 0]))
        fine = peer_run.march(assembly, forcing, leak=leak, initial=start, **FINE)
        grid = peer_run.build(assembly, FINE["detail"])
        self.runs.append((grid, fine.temperature[:, 0], fine.water[:, 0]))

    def profiles(self, hours, at):
        """Temperature and water content at depths [m], ours and the reference's."""
        for column in (1, 2):
            yield [
                np.interp(at, np.cumsum(run[0].thickness) - 0.5 * run[0].thickness, run[column][hours - 1])
                for run in self.runs[1:]
            ]

    def water(self, hours):
        """Water of each layer [kg m-2] on the usual cells and the reference's."""
        return [
            np.bincount(grid.cell_layer, water[hours - 1] * grid.thickness, self.layers)
            for grid, _, water in (self.runs[0], self.runs[2])
        ]


def wall_with_air_flow(kernel):
    """100 days: air leaves for 20, turns within one, and enters."""
    wall = Assembly(
        "wall with air flow", [Layer(series.capillary_insulation(), 0.2)], tilt=90, azimuth=180, finish=series.PLAIN
    )
    hours, leak, start = 24 * 100, AirLeak(1.0, height=0.0, into=None), Start(20.0, 0.7)
    forcing = peer_run.boundary(
        wall, hygro.constant_climate(2.0, 0.8, hours=hours), ConstantIndoor(20.0, 0.7), leak,
        FixedFilm(10.0, 7.38e-12), FixedFilm(10.0, 2e-7),
    )  # fmt: skip
    forcing[:, LEAK_FLOW] = FLOW * np.interp(np.arange(hours + 1), [0, 480, 504, hours], [1, 1, -1, -1])
    return Three(kernel, wall, forcing, start, leak)


def _layers():
    def bearing(s):
        return 157 * (0.3 * (1 + (1.25e-5 * s) ** 1.65) ** -0.39 + 0.7 * (1 + (1.8e-5 * s) ** 6) ** -0.83)

    def finishing(s):
        return 209 * (1 + (2e-6 * s) ** 1.27) ** -0.21

    def conducted(s):
        y = finishing(s) - 120
        return np.exp(-33 + 0.0704 * y - 1.742e-4 * y**2 - 2.7953e-6 * y**3 - 1.1566e-7 * y**4 + 2.5969e-9 * y**5)

    outer = Material(
        "bearing", density=2005, specific_heat=840, conductivity=0.5, conductivity_moisture=4.5e-3, retention=bearing,
        vapour_resistance=series.resistance_of(bearing, 157, 30), liquid=AbsorptionCoefficient(0.05),
    )  # fmt: skip
    inner = Material(
        "finishing", density=790, specific_heat=870, conductivity=0.2, conductivity_moisture=4.5e-3,
        retention=finishing, vapour_resistance=series.resistance_of(finishing, 209, 3),
        liquid=LiquidConductivity(conducted),
    )  # fmt: skip
    return [Layer(outer, 0.1), Layer(inner, 0.02)]


def response_with_rain(kernel):
    """Five days of sun with rain in two of them."""
    hours, start = 120, Start(20.0, 0.4)
    hour = np.arange(1, hours + 1)
    sunny = 15 + 20 * np.maximum(np.sin(2 * math.pi * (hour - 8) / 24), -0.25)
    wall = Assembly("response with rain", _layers(), tilt=90, azimuth=180, finish=series.PLAIN)
    forcing = peer_run.boundary(
        wall, hygro.climate_from_arrays(sunny, np.full(hours, 0.5)), ConstantIndoor(20.0, 0.5), None,
        FixedFilm(25.0, 2e-7), FixedFilm(8.0, 3e-8),
    )  # fmt: skip
    forcing[:, OUT_VAPOUR] = 1000.0
    forcing[17:25, RAIN] = 1.0 / 3600
    forcing[65:75, RAIN] = 2.0 / 3600
    return Three(kernel, wall, forcing, start)
