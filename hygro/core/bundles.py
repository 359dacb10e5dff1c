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
r_v, r_q                m2 s Pa kg-1, m2 K W-1      resistance of half a cell, dx/(2 delta) and dx/(2 lam)
g, q                    kg m-2 s-1, W m-2           water and enthalpy flux, positive inwards
======================  ==========================  =====================================================

A trailing ``_T`` or ``_x`` is the slope over temperature or moisture coordinate.
"""

from __future__ import annotations

import math
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Number = TypeVar("Number", np.float64, np.int64)
CACHE_LINE = 64  # [B]


def aligned(array: NDArray[Number]) -> NDArray[Number]:
    """Copy of an array that begins where a line of the processor's cache does.

    Rows of tables and lanes are as wide as a line: each is then read from one line instead of two.
    """
    found = _from_a_line(np.empty(array.size + CACHE_LINE // array.itemsize, array.dtype), array.shape)
    found[...] = array
    return found


def aligned_zeros(*shape: int) -> FloatArray:
    """Zeros that begin where a line of the processor's cache does."""
    return _from_a_line(np.zeros(math.prod(shape) + CACHE_LINE // np.dtype(np.float64).itemsize), shape)


def _from_a_line(room: NDArray[Number], shape: tuple[int, ...]) -> NDArray[Number]:
    first = -room.ctypes.data % CACHE_LINE // room.itemsize
    return room[first : first + math.prod(shape)].reshape(shape)


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
    """Constants and kinds of the cells, shapes (n, N_CELL_COLUMNS) and (n, 3), and tables of materials."""

    data: FloatArray
    kinds: IntArray
    tables: FloatArray


class Faces(NamedTuple):
    """What lies on the faces: numbers and kinds, shapes (n + 1, 2) and (n + 1, 3), and tables of sheets."""

    data: FloatArray
    kinds: IntArray
    sheet_tables: FloatArray


class Abreast(NamedTuple):
    """The cells as loops over all of them see them: as many at a time as the kernel computes with.

    A column alone is taken so many neighbours at a time as there are lanes; where lanes are columns or slices already,
    and where nothing is compiled, it is the same arrays as elsewhere, cell by cell. Shapes, with m cells or groups of
    them: state ``temperature`` and ``x`` (n_slices, m), ``known`` (n_slices, m, N_KNOWN), ``right`` (m, 2), ``ahead``
    (n_slices, m, 2), numbers and kinds of the cells and of what lies on the inner face of each (m, columns), tables as
    in `Cells` and `Faces`. What fills the last group up joins nothing and stays as it is.
    """

    temperature: FloatArray
    x: FloatArray
    known: FloatArray
    right: FloatArray
    ahead: FloatArray
    data: FloatArray
    kinds: IntArray
    tables: FloatArray
    face_data: FloatArray
    face_kinds: IntArray
    sheet_tables: FloatArray


class GapSide(NamedTuple):
    """The vent gap: the face it lies on (-1 for none) and what its flow meets.

    ``losses`` are the local loss coefficients referred to the speed in the gap. ``fixed_speed`` overrides the
    pressure balance where it is not negative. ``slices`` is into how many pieces its length is cut.
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
    slices: int


class Leak(NamedTuple):
    """Where leaking indoor air goes, a cell (-1 for none) or the gap, and where rain through a defect goes."""

    cell: int
    into_gap: bool
    rain_cell: int


# Few wide arrays instead of many narrow ones: a kernel pays for every array that it is handed.

# columns of Cells.data: size, heat capacity of the dry matter [J m-3 K-1], conductivity and its rise with water and
# temperature, water past which a cell drips [kg m-3], coordinate past which free water fills the pores and its slope
# [kg m-3]
DX, HEAT_CAPACITY, CONDUCTIVITY, CONDUCTIVITY_MOISTURE, CONDUCTIVITY_TEMPERATURE = range(5)
FILM_LIMIT, ONSET, FREE_SLOPE, N_CELL_COLUMNS = range(5, 9)
# columns of Cells.kinds: number of the material, whether its curves are stated over suction, whether it conducts liquid
MATERIAL, SUCTION_BASED, CONDUCTS_LIQUID = range(3)
# columns of Faces.data: thermal resistance between the cells [m2 K W-1], share of the leaking air that crosses the face
FACE_RESISTANCE, AIR_SHARE, N_FACE_COLUMNS = range(3)
# columns of Faces.kinds: row of the sheet's table (-1: none), whether liquid crosses the face, whether it joins two
# cells: a border or the gap does not (0), others lie between two materials (1) or WITHIN one
SHEET, LIQUID_OPEN, JOINS = range(3)
WITHIN = 2

# columns of the forcing: boundary conditions at the ends of the hours, shape (n_hours + 1, N_FORCING)
OUT_TEMPERATURE, OUT_VAPOUR, OUT_FILM, OUT_VAPOUR_FILM, ABSORBED, EMISSIVITY, RAIN, PRESSURE = range(8)
WIND_PRESSURE, IN_TEMPERATURE, IN_VAPOUR, IN_FILM, IN_VAPOUR_FILM, LEAK_FLOW, RAIN_DEFECT, N_FORCING = range(8, 16)

# and what stands behind them in Work.now, of the gap's air when its speed was last computed: pressure by which buoyancy
# drove it [Pa], and by how much it goes faster where it is warmer [m s-1 K-1] (0 where it comes in slices)
BUOYANCY, SPEED_T, N_NOW = range(N_FORCING, N_FORCING + 3)

# What is known of each cell, shape (n, N_KNOWN), in four stretches of columns:
# state functions; R_V and R_Q are the resistances of half a cell to vapour and heat, X_B is the coordinate of the bound
# water, MOBILE the unfrozen share of all water
P, P_T, P_X, R_V, R_V_T, R_V_X, THETA, THETA_T, THETA_X, R_Q, R_Q_T, R_Q_X = range(12)
ENTHALPY, W, ENTHALPY_T, ENTHALPY_X, W_T, W_X, U, U_T, U_X, X_B, ICE = range(12, 23)
MOBILE, MOBILE_T, MOBILE_X = range(23, 26)
# the balance: blocks of slopes (see ``tridiagonal``) and net inflow of heat and water
LOW, MID, UPP, HEAT, WATER_IN = 26, 30, 34, 38, 39
# what is remembered of a step: right side of a stage and ledger per area, what of it is set aside, inflow at t and at
# the stage, state at t
BASE_HEAT, BASE_WATER, HELD_HEAT, HELD_WATER, ASIDE_HEAT, ASIDE_WATER = range(40, 46)
HEAT_N, HEAT_2, WATER_N, WATER_2, TEMPERATURE_N, X_N = range(46, 52)
# which make room, once the error of the step is known, for what it is made of: heat and water, and S times these
ERROR_HEAT, ONCE_T, ERROR_WATER, ONCE_X = HEAT_N, HEAT_2, WATER_N, WATER_2
# what an evaluation leaves to go on from: the state it was made at, and the net inflow over faces between cells alone
TEMPERATURE_AT, X_AT, BETWEEN_HEAT, BETWEEN_WATER, N_KNOWN = range(52, 57)

# and that inflow's slopes over the cell's own state, of the N_TOUCHED cells that have other neighbours than cells;
# shape (N_TOUCHED, 4)
N_TOUCHED = 6

# a row of the factored system, shape (n // 2 + 1, N_FACTORED), see ``tridiagonal``: its three blocks, and those of its
# twin, number by number side by side
BACK, INVERSE, ON, N_FACTORED = range(0, 32, 8)

# rows of the signals, shape (N_SIGNALS, N_SLOPES): what crosses the borders of a slice [W m-2, kg m-2 s-1], and the
# states of its surfaces and air; each as a value and its slopes over (T, x) of the one or two cells that it depends on,
# and over temperature and vapour pressure of the air that reaches the slice
Q_OUT, Q_IN, Q_GAP, Q_LEAK, Q_DRIP, G_OUT, G_IN, G_GAP, G_LEAK, G_RAIN, G_RUNOFF, G_DRIP, G_SHED, G_DEFECT = range(14)
N_FLUXES = 14
T_OUTER, T_INNER, T_GAP, P_GAP, N_SIGNALS = range(N_FLUXES, N_FLUXES + 5)
INLET_T, INLET_P, N_SLOPES = 5, 6, 7

# columns of what the air of a slice does, shape (N_AIR,): conductances of the gap's outer and inner cell; slopes of
# heat and water into them over temperature and vapour pressure of the air that reaches the slice; how many times its
# rise to the mean state the air has risen where it leaves; by how much Newton's last step changed the air that arrives,
# and that leaves the last of slices in lanes; 1, or 0 in lanes that are no slice; slopes of heat and water into both
# cells over the size of the air's speed
OUTER_K, INNER_K, OUTER_Q_T, OUTER_Q_P, OUTER_G_P, INNER_Q_T, INNER_Q_P, INNER_G_P, RISE_T, RISE_P = range(10)
ARRIVES_T, ARRIVES_P, HANDED_T, HANDED_P, ACTIVE = range(10, 15)
OUTER_Q_V, OUTER_G_V, INNER_Q_V, INNER_G_V, N_AIR = range(15, 20)
