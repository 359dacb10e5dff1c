"""Named bundles of arrays: what the kernel is given and what it works in. Arrays run from outside to inside.

Indices: i cell, f face (face f lies between cells f-1 and f), k hour, s slice along the gap. Symbols:

======================  ==========================  =====================================================
symbol                  unit                        meaning
======================  ==========================  =====================================================
T                       degC                        temperature
x                       1                           moisture coordinate, see ``potential``
u                       1                           water activity (relative humidity over liquid water)
w                       kg m-3                      water content, ice included
H                       J m-3                       enthalpy, dry matter and water; liquid at 0 degC is zero
p                       Pa                          vapour pressure
theta                   kg m-1 s-1                  Kirchhoff potential of liquid flow, integral of K over p_c
lam                     W m-1 K-1                   thermal conductivity
delta                   kg m-1 s-1 Pa-1             vapour permeability
g, q                    kg m-2 s-1, W m-2           water and enthalpy flux, positive inwards
======================  ==========================  =====================================================

A trailing ``_T`` or ``_x`` is the slope over temperature or moisture coordinate.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


class Fluid(NamedTuple):
    """Constants of water and air, and the moist-air table."""

    table: FloatArray
    latent_heat: float
    fusion_heat: float
    heat_vapour: float
    heat_water: float
    heat_ice: float
    heat_air: float
    molar_ratio: float
    kelvin_reference: float


class Cells(NamedTuple):
    """Geometry and material constants of the cells, shape (n,), and the material tables.

    Past the coordinate ``onset`` free water fills the pores, ``free_slope`` [kg m-3] per unit of the coordinate.
    """

    dx: FloatArray
    material: IntArray
    heat_capacity: FloatArray
    conductivity: FloatArray
    conductivity_moisture: FloatArray
    conductivity_temperature: FloatArray
    film_limit: FloatArray
    onset: FloatArray
    free_slope: FloatArray
    tables: FloatArray
    suction_based: BoolArray


class Faces(NamedTuple):
    """What lies on the faces, shape (n + 1,); a sheet has a row of the table over mean humidity, or none (-1)."""

    sheet: IntArray
    sheet_tables: FloatArray
    heat_resistance: FloatArray
    liquid_open: BoolArray
    air_share: FloatArray


class GapSide(NamedTuple):
    """The vent gap: the face it lies on (-1 for none) and what its flow meets.

    ``losses`` are the local loss coefficients referred to the speed in the gap. ``fixed_speed`` overrides the
    pressure balance where it is not negative.
    """

    face: int
    outer_sheet: int
    thickness: float
    length: float
    rise: float
    losses: float
    radiation: float
    still_film: float
    fixed_speed: float


class Leak(NamedTuple):
    """Where leaking indoor air goes: into a cell (-1 for none), or into the gap; and where rain through a defect goes."""

    cell: int
    into_gap: bool
    rain_cell: int


class Forcing(NamedTuple):
    """Boundary conditions, hourly means, shape (n_hours,)."""

    out_temperature: FloatArray
    out_vapour: FloatArray
    out_film: FloatArray
    out_vapour_film: FloatArray
    absorbed: FloatArray
    emissivity: FloatArray
    rain: FloatArray
    pressure: FloatArray
    wind_pressure: FloatArray
    gap_closed: FloatArray
    in_temperature: FloatArray
    in_vapour: FloatArray
    in_film: FloatArray
    in_vapour_film: FloatArray
    leak_flow: FloatArray
    rain_defect: FloatArray


class Properties(NamedTuple):
    """State functions of the cells and their slopes, shape (n,)."""

    p: FloatArray
    p_T: FloatArray
    p_x: FloatArray
    delta: FloatArray
    delta_T: FloatArray
    delta_x: FloatArray
    theta: FloatArray
    theta_T: FloatArray
    theta_x: FloatArray
    lam: FloatArray
    lam_T: FloatArray
    lam_x: FloatArray
    H: FloatArray
    H_T: FloatArray
    H_x: FloatArray
    w: FloatArray
    w_T: FloatArray
    w_x: FloatArray
    u: FloatArray
    u_T: FloatArray
    u_x: FloatArray
    coordinate: FloatArray
    ice: FloatArray


class Balance(NamedTuple):
    """Net inflow into the cells [W m-2, kg m-2 s-1], shape (n,), and its slopes as block rows, shape (n, 4)."""

    heat: FloatArray
    water: FloatArray
    low: FloatArray
    mid: FloatArray
    upp: FloatArray


# columns of the flux record: what crosses the borders of a slice, means over the hour
Q_OUT, Q_IN, Q_GAP, Q_LEAK, Q_DRIP, G_OUT, G_IN, G_GAP, G_LEAK, G_RAIN, G_RUNOFF, G_DRIP, G_DEFECT, N_FLUXES = range(14)
# columns of the air record: states at the end of the hour
T_OUTER, T_INNER, T_GAP, P_GAP, N_AIR = range(5)


def empty_properties(n: int) -> Properties:
    """Work space for n cells."""
    return Properties(*(np.zeros(n) for _ in Properties._fields))


def empty_balance(n: int) -> Balance:
    """Work space for n cells."""
    return Balance(np.zeros(n), np.zeros(n), np.zeros((n, 4)), np.zeros((n, 4)), np.zeros((n, 4)))
