"""Cases of the international benchmark series for heat, air and moisture transfer, with independent references.

Hagentoft et al. 2004, J. Thermal Envelope and Building Science 27:327-352; specifications from memory, published result
bands not at hand and none claimed. The roof has a smooth climate in place of the series' hourly file. The profiles of
the roof and of the inside insulation were worked with an independent finite-volume program on two or three grids; the
drying case has a closed form. The deck over three years is a case made for this package, worked on two grids that agree
to 0.002 % moisture content.
"""

from __future__ import annotations

import math

import numpy as np

import hygro
from hygro import Assembly, FixedFilm, Layer, MoistAir, Sheet
from hygro.core.formulas import saturation_pressure_hamstad, saturation_pressure_iso
from hygro.core.work import Settings
from hygro.indoor import ConstantIndoor
from hygro.materials import Finish, LiquidConductivity, LiquidDiffusivity, Material

R_V = 8.314 / 0.018
SCALE = 1000 * R_V * 293.15
PLAIN = Finish("plain", 0.5, 0.9)
YEAR = 24 * 365
TIGHT = Settings(0.003, 1e-4, newton=1e-3, unchecked=0.0, finest_step=1.0)
ISOTHERMAL = MoistAir(  # its water carries no heat: temperatures stay where they are
    "isothermal", saturation_pressure_iso, None, lambda t: np.full_like(np.asarray(t, dtype=float), 1.95e-10),
    latent_heat=0.0, fusion_heat=0.0, specific_heat_vapour=4180.0, specific_heat_water=4180.0,
)  # fmt: skip
AIR = MoistAir(
    "benchmark", saturation_pressure_hamstad, None,
    lambda t: 26.1e-6 / (R_V * (np.asarray(t, dtype=float) + 273.15)), gas_constant=R_V, latent_heat=2.5e6,
    specific_heat_vapour=0.0, specific_heat_water=4187.0,
)  # fmt: skip


def resistance_of(retention, full, mu, a=0.503, b=0.497):
    def resistance(phi):
        z = 1 - retention(-SCALE * np.log(np.clip(phi, 1e-9, 1 - 1e-9))) / full
        return mu * (a * z**2 + b) / np.maximum(z, 1e-9)

    return resistance


# ---------------------------------------------------------------------------------------------- insulated roof

ROOF = {"bearing, 3 months": 14.50, "insulation, 3 months": 1.417, "insulation, most in the year": 1.424}  # [kg m-2]


def insulated_roof(simulate=hygro.simulate):
    """A year of the insulated roof, wet under its seal: [Dataset]."""

    def bearing(s):
        return 146 / (1 + (8e-8 * s) ** 1.6) ** 0.375

    def conducted(s):
        y = bearing(s) - 73
        return np.exp(-39.2619 + 0.0704 * y - 1.7420e-4 * y**2 - 2.7953e-6 * y**3 - 1.1566e-7 * y**4 + 2.5969e-9 * y**5)

    def insulating(s):
        return 900 / (1 + (2e-4 * s) ** 2) ** 0.5

    concrete = Material(
        "bearing", density=1824, specific_heat=1000, conductivity=1.5, conductivity_moisture=15.8e-3,
        vapour_resistance=resistance_of(bearing, 146, 200), retention=bearing, liquid=LiquidConductivity(conducted),
    )  # fmt: skip
    wool = Material(
        "insulation", density=73.2, specific_heat=1000, conductivity=0.033, conductivity_moisture=0.59e-3,
        vapour_resistance=resistance_of(insulating, 900, 9.6), retention=insulating,
    )  # fmt: skip
    outdoor = 8 - 10 * np.cos(2 * math.pi * np.arange(1, YEAR + 1) / YEAR)
    parts = [
        Layer(concrete, 0.1, start_humidity=0.9921), Layer(wool, 0.05, start_humidity=0.589),
    ]  # fmt: skip
    return simulate(
        Assembly("insulated roof", parts, tilt=0, azimuth=180, finish=PLAIN),
        hygro.climate_from_arrays(outdoor, np.full(YEAR, 0.8)),
        ConstantIndoor(20.0, 0.5), initial=hygro.Start(10.0, 0.5), outside=FixedFilm(25.0, 0.0),
        inside=FixedFilm(7.0, 2e-8), air=AIR, detail=4.0,
    )  # fmt: skip


# ------------------------------------------------------------------------------------------- inside insulation


def bimodal(full, l_1, l_2, a_1, a_2, n_1, n_2):
    def retention(s):
        head = s / 9800
        return full * (
            l_1 * (1 + (a_1 * head) ** n_1) ** (1 / n_1 - 1) + l_2 * (1 + (a_2 * head) ** n_2) ** (1 / n_2 - 1)
        )

    return retention


def polynomial(retention, coefficients):
    def conductivity(s):
        theta = retention(s) / 1000
        return np.exp(sum(a * theta**k for k, a in enumerate(coefficients)))

    return conductivity


def bimodal_material(name, rho, c, lam, b, curve, mu, coefficients):
    retention = bimodal(*curve)
    return Material(
        name, density=rho, specific_heat=c, conductivity=lam, conductivity_moisture=b, retention=retention,
        vapour_resistance=resistance_of(retention, curve[0], mu, 0.8, 0.2),
        liquid=LiquidConductivity(polynomial(retention, coefficients)),
    )  # fmt: skip


def capillary_insulation():
    """Capillary-active insulation of the series."""
    return bimodal_material(
        "insulation", 212, 1000, 0.06, 0.56e-3, (871, 0.41, 0.59, 0.006, 0.012, 2.5, 2.4), 5.6,
        (-46.245, 294.506, -1439, 3249, -3370, 1305),
    )  # fmt: skip


INSIDE_AT = np.array([100, 200, 300, 360, 370, 375, 380.5, 390, 400, 410, 419]) / 1000  # [m] from outside
INSIDE_T = (2.966, 5.297, 7.626, 9.023, 9.271, 9.402, 9.610, 11.140, 13.182, 15.572, 17.807)  # [degC]
INSIDE_PHI = (0.773, 0.781, 0.791, 0.799, 0.851, 0.903, 0.947, 0.939, 0.858, 0.763, 0.684)
INSIDE_LAYERS = {"brick": (1.606, 0.03), "mortar": (0.158, 0.01), "insulation": (1.013, 0.03)}  # [kg m-2], tolerance


def inside_insulation(simulate=hygro.simulate):
    """60 days of a brick wall behind capillary-active insulation: [Dataset]."""
    brick = bimodal_material(
        "brick", 1600, 1000, 0.682, 0.0, (373.5, 0.46, 0.54, 0.47, 0.2, 1.5, 3.8), 7.5,
        (-36.484, 461.325, -5240, 2.907e4, -7.41e4, 6.997e4),
    )  # fmt: skip
    mortar = bimodal_material(
        "mortar",
        230,
        920,
        0.6,
        0.56e-3,
        (700, 0.2, 0.8, 0.5, 0.004, 1.5, 3.8),
        50,
        (-40.425, 83.319, -175.961, 123.863),
    )
    board = capillary_insulation()
    parts = [Layer(brick, 0.365), Layer(mortar, 0.015), Layer(board, 0.04)]
    return simulate(
        Assembly("inside insulation", parts, tilt=90, azimuth=180, finish=PLAIN),
        hygro.constant_climate(0.0, 0.8, hours=60 * 24), ConstantIndoor(20.0, 0.6), initial=hygro.Start(25.0, 0.6),
        outside=FixedFilm(25.0, 1.838e-7), inside=FixedFilm(8.0, 5.882e-8), air=AIR, detail=4.0,
    )  # fmt: skip


# ------------------------------------------------------------------------------------------- isothermal drying

DRYING_AT = np.array([5, 10, 20, 30, 50, 100, 150, 180, 190, 195]) / 1000  # [m] from the drier face
DRYING = {
    100: (31.937, 43.644, 62.855, 75.055, 83.716, 84.769, 83.893, 66.541, 50.560, 40.822),
    300: (26.741, 33.810, 47.030, 58.372, 74.012, 84.115, 75.821, 53.377, 42.380, 36.500),
    1000: (23.426, 27.291, 34.842, 41.992, 54.409, 69.456, 59.066, 43.131, 36.908, 33.718),
}  # [kg m-3] after hours
DRYING_TOTAL = {100: 14.972, 300: 13.521, 1000: 10.697}  # [kg m-2]


def drying_series(at, hours):
    """Water content [kg m-3] at depths [m]: the closed form for a constant diffusivity of 6e-10 m2/s."""
    a, b, w_0, length = 19.5356, 30.5059, 84.7687, 0.2
    n = np.arange(1, 2000)
    factor = 2 / (n * math.pi) * ((w_0 - a) - (w_0 - b) * (-1.0) ** n)
    decay = np.exp(-6e-10 * (n * math.pi / length) ** 2 * 3600 * hours)
    return a + (b - a) * at / length + (factor * decay * np.sin(np.outer(at, n) * math.pi / length)).sum(axis=1)


def drying(simulate=hygro.simulate, detail=10.0):
    """1000 hours of a wet slab between 45 % and 65 %, next to no vapour inside it: [Dataset]."""
    slab = Material(
        "drying", density=525, specific_heat=800, conductivity=0.15, vapour_resistance=1.95e-10 / 1e-15, saturation=120,
        sorption=lambda phi: 116 / (1 - np.log(phi) / 0.118) ** 0.869, free_saturation=116,
        liquid=LiquidDiffusivity(6e-10),
    )  # fmt: skip
    return simulate(
        Assembly("drying", [Layer(slab, 0.2)], tilt=90, azimuth=180, finish=PLAIN),
        hygro.constant_climate(20.0, 0.45, hours=1000), ConstantIndoor(20.0, 0.65), initial=hygro.Start(20.0, 0.95),
        outside=FixedFilm(1e4, 1e-3), inside=FixedFilm(1e4, 1e-3), air=ISOTHERMAL, detail=detail,
        settings=TIGHT,
    )  # fmt: skip


# -------------------------------------------------------------------------------------------- deck over years


def emc(phi):
    """Moisture content of wood at 20 degC, Hailwood and Horrobin, Wood Handbook's coefficients (from memory)."""
    t = 20.0
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k_1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k_2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    h = k * np.asarray(phi, dtype=float)
    return 18 / w * (h / (1 - h) + (k_1 * h + 2 * k_1 * k_2 * h**2) / (1 + k_1 * h + k_1 * k_2 * h**2))


def deck_over_years(top, s_d, simulate=hygro.simulate):
    """Moisture content of the deck [mass per cent] at each hour of three years."""
    deck = Material(
        "deck", density=450, specific_heat=1600, conductivity=0.12, vapour_resistance=50.0,
        sorption=lambda phi: 450 * emc(phi), saturation=700,
    )  # fmt: skip
    wool = Material(
        "wool", density=20, specific_heat=1030, conductivity=0.036, vapour_resistance=1.0,
        sorption=lambda phi: 1.0 * phi, saturation=900,
    )  # fmt: skip
    hours = 24 * 365 * 3
    outdoor = 2 - 14 * np.cos(2 * math.pi * np.arange(1, hours + 1) / (24 * 365))
    air = MoistAir(
        "standards", saturation_pressure_iso, None, lambda t: np.full_like(np.asarray(t, dtype=float), 1.95e-10),
        latent_heat=2.5e6, specific_heat_water=4180.0,
    )  # fmt: skip
    parts = [Layer(deck, 0.018), Layer(wool, 0.2), Sheet("retarder", s_d=s_d)]
    run = simulate(
        Assembly("deck", parts, tilt=0, azimuth=180, finish=PLAIN),
        hygro.climate_from_arrays(outdoor, np.full(hours, 0.8), start="2023-01-01"), ConstantIndoor(20.0, 0.4),
        initial=hygro.Start(10.0, 0.65), outside=FixedFilm(25.0, top), inside=FixedFilm(1 / 0.13, 2e-8), air=air,
    )  # fmt: skip
    return 100 * run["layer_water"].to_numpy()[:, 0, 0] / (450 * 0.018)


DAYS = np.array([91, 182, 273, 365, 547, 730, 912, 1095])
DECKS = {
    ("tight", 10.0): (13.721, 13.207, 13.579, 15.074, 15.114, 16.874, 16.716, 18.401),
    ("tight", 50.0): (12.874, 12.399, 12.837, 13.452, 12.858, 13.925, 13.297, 14.376),
    ("open", 10.0): (15.040, 15.346, 15.930, 16.858, 15.558, 16.875, 15.560, 16.875),
    ("open", 50.0): (14.350, 15.398, 15.976, 16.090, 15.537, 16.103, 15.538, 16.103),
}
