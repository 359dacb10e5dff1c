"""Published: vapour resistances of ISO 10456:2007 and the classic ASHRAE permeance table, both from memory.

Products of tabulated numbers are exact. The unit conversions follow from the definition of the perm: one grain per
hour, square foot and inch of mercury at 0 degC.
"""

from __future__ import annotations

import numpy as np
import pytest
from evidence import Grade

from hygro import Sheet, materials
from hygro.core.formulas import saturation_pressure_iso
from hygro.materials import SheetMaterial, cup_values
from hygro.units import DELTA_AIR_REFERENCE, s_d_from_permeance, to_perm, to_si

ISO_10456 = {"grade": Grade.STANDARD, "source": "ISO 10456:2007 (from memory)"}
HAND = {"grade": Grade.INDEPENDENT, "source": "ISO 12572 cups, integral worked for this project"}
PERM = {"grade": Grade.EXACT, "source": "definition of the perm"}
DIFFUSION = {"grade": Grade.EXACT, "source": "Fick's law with the definition of the perm, EN ISO 13788 annex E"}
ASHRAE = {"grade": Grade.STANDARD, "source": "ASHRAE Handbook, classic permeance table (from memory)"}


def _cup_mean(curve, start, end):
    """Mean permeability relative to air over a cup's humidities, by the trapezoidal rule on a fine grid."""
    phi = np.linspace(start, end, 20001)
    permeability = 1 / curve(phi)
    return float(np.mean(0.5 * (permeability[1:] + permeability[:-1])))


@pytest.mark.parametrize(
    ("name", "thickness", "dry", "wet"),
    [("plywood 500", 0.018, 3.6, 1.26), ("OSB", 0.011, 0.55, 0.33), ("gypsum board", 0.0125, 0.125, 0.05)],
)
def test_equivalent_air_thickness_of_boards_in_the_cups(evidence, name, thickness, dry, wet):
    curve = materials.get(name).vapour_resistance_factor
    evidence.check(
        f"{name}, {thickness} m: s_d in the dry cup",
        thickness / _cup_mean(curve, 0.0, 0.5),
        dry,
        within=1e-6,
        relative=True,
        unit="m",
        **ISO_10456,
    )
    evidence.check(
        f"{name}, {thickness} m: s_d in the wet cup",
        thickness / _cup_mean(curve, 0.5, 0.93),
        wet,
        within=1e-6,
        relative=True,
        unit="m",
        **ISO_10456,
    )


@pytest.mark.parametrize(
    ("dry", "wet", "k", "mu_0", "at"),
    [
        (200, 70, 2.2876, 373.96, (211.1, 119.1, 75.4, 60.0, 47.7)),
        (220, 90, 1.9439, 371.92, (228.8, 140.7, 95.4, 78.5, 64.7)),
        (50, 30, 1.1056, 66.76, (50.6, 38.4, 30.8, 27.6, 24.7)),
        (50, 20, 1.9934, 85.75, (52.1, 31.7, 21.2, 17.4, 14.3)),
        (10, 4, 1.9934, 17.15, (10.4, 6.3, 4.3, 3.5, 2.9)),
    ],
)
def test_exponential_through_two_cups(evidence, dry, wet, k, mu_0, at):
    """Worked independently for this project."""
    curve = cup_values(dry, wet)
    evidence.check(f"cups {dry} and {wet}: exponent", curve.k, k, within=1e-3, relative=True, **HAND)
    evidence.check(f"cups {dry} and {wet}: factor when dry", curve.mu_0, mu_0, within=1e-3, relative=True, **HAND)
    evidence.check(
        f"cups {dry} and {wet}: factor at five humidities",
        curve(np.array([0.25, 0.5, 0.7, 0.8, 0.9])),
        at,
        within=0.06,
        **HAND,
    )
    evidence.check(
        f"cups {dry} and {wet}: mean in the dry cup",
        _cup_mean(curve, 0.0, 0.5),
        1 / dry,
        within=1e-7,
        relative=True,
        **HAND,
    )
    evidence.check(
        f"cups {dry} and {wet}: mean in the wet cup",
        _cup_mean(curve, 0.5, 0.93),
        1 / wet,
        within=1e-7,
        relative=True,
        **HAND,
    )


@pytest.mark.parametrize(("perms", "water"), [(5.0, 8.09), (1.0, 1.618), (0.06, 0.0971)])
def test_water_through_a_sheet_of_board_in_a_winter(evidence, perms, water):
    """4 ft by 8 ft, 150 days between 21 degC at 40 % (994.2 Pa) and a plane at -10 degC that is saturated (259.3 Pa).

    A leak of one square inch carries 71 kg in that time (`tests/unit/test_leakage.py`): nine times the most open one.
    """
    sheet = Sheet("board", permeance=f"{perms} perm").material
    inside, outside = 0.4 * saturation_pressure_iso(21.0), saturation_pressure_iso(-10.0)
    flux = (inside - outside) / float(sheet.vapour_resistance(0.5))
    evidence.check(
        f"water through 2.97 m2 of {perms:g} perm in 150 days", flux * 2.97 * 150 * 86400, water, within=2e-3,
        relative=True, unit="kg", **DIFFUSION,
    )  # fmt: skip


def test_perm_and_perm_inch(evidence):
    evidence.check(
        "1 perm",
        to_si("1 perm", "permeance", "x"),
        57.2135e-12,
        within=1e-5,
        relative=True,
        unit="kg m-2 s-1 Pa-1",
        **PERM,
    )
    evidence.check(
        "1 perm inch",
        to_si("1 perm inch", "permeability", "x"),
        1.45322e-12,
        within=1e-5,
        relative=True,
        unit="kg m-1 s-1 Pa-1",
        **PERM,
    )
    evidence.check(
        "still air, 120 perm inch",
        to_si("120 perm inch", "permeability", "x"),
        1.744e-10,
        within=1e-3,
        relative=True,
        unit="kg m-1 s-1 Pa-1",
        **PERM,
    )  # still air


@pytest.mark.parametrize(("s_d", "perm"), [(50.0, 0.0682), (0.2, 17.04), (3.408, 1.0)])
def test_equivalent_air_thickness_in_perm(evidence, s_d, perm):
    evidence.check(
        f"s_d of {s_d} m in perm",
        to_perm(DELTA_AIR_REFERENCE / s_d),
        perm,
        within=1e-3,
        relative=True,
        unit="perm",
        **PERM,
    )
    evidence.check(
        f"{perm} perm as s_d",
        SheetMaterial("x", permeance=f"{perm} perm").s_d,
        s_d,
        within=1e-3,
        relative=True,
        unit="m",
        **PERM,
    )


@pytest.mark.parametrize(
    ("name", "s_d"),
    [
        ("polyethylene 0.15 mm", 50), ("polyethylene 0.25 mm", 100), ("polyethylene 0.15 mm stapled", 8),
        ("aluminium foil", 1500), ("bituminous paper", 2), ("breather membrane", 0.2), ("emulsion paint", 0.1),
        ("gloss paint", 3), ("vinyl wallpaper", 2), ("bitumen sheet 3 mm", 50000 * 0.003),
        ("EPDM 1.2 mm", 6000 * 0.0012),
    ],
)  # fmt: skip
def test_thin_layers_of_the_standard(evidence, name, s_d):
    evidence.check(
        f"{name}: s_d",
        float(materials.sheet(name).equivalent_air_thickness(0.5)),
        s_d,
        within=1e-6,
        relative=True,
        unit="m",
        **ISO_10456,
    )


@pytest.mark.parametrize(
    ("name", "dry", "wet"),
    [
        ("roofing felt", 1.0, 5.6),
        ("tar felt", 4.0, 18.2),
        ("reinforced kraft laminate", 0.3, 1.8),
        ("kraft facing", 0.4, 1.6),
    ],
)
def test_papers_and_felts_of_the_handbook(evidence, name, dry, wet):
    resistance = materials.sheet(name).vapour_resistance([0.25, 0.75])
    evidence.check(
        f"{name}: dry cup", to_perm(1 / resistance[0]), dry, within=1e-9, relative=True, unit="perm", **ASHRAE
    )
    evidence.check(
        f"{name}: wet cup", to_perm(1 / resistance[1]), wet, within=1e-9, relative=True, unit="perm", **ASHRAE
    )


def test_polyethylene_of_the_standard_and_of_the_handbook_agree(evidence):
    """Two tables, two continents: 6 mil (0.15 mm) is 0.06 perm in the one and 50 m in the other."""
    evidence.check(
        "polyethylene of 6 mil against 0.15 mm of the standard",
        s_d_from_permeance(to_si("0.06 perm", "permeance", "x")),
        float(materials.sheet("polyethylene 0.15 mm").equivalent_air_thickness(0.5)),
        within=0.15,
        relative=True,
        unit="m",
        **ASHRAE,
    )
