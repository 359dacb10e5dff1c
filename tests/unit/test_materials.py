"""Stating a material, a sheet or a finish: what is accepted, and the sentence for what is not."""

from __future__ import annotations

import dataclasses
import math
import pickle
import re

import numpy as np
import pandas as pd
import pytest

from hygro.errors import InputError, MaterialError
from hygro.materials import (
    AbsorptionCoefficient,
    Finish,
    LiquidConductivity,
    LiquidDiffusivity,
    Material,
    PoreAir,
    SheetMaterial,
    WoodSorption,
    cup_values,
    equilibrium_moisture_content,
    relative_humidity_of_wood,
    sorption_by_mass,
)

ROWS = [(0.5, 40.0), (0.8, 70.0), (0.95, 105.0), (1.0, 140.0)]
GOOD = {
    "density": 500,
    "specific_heat": 1600,
    "conductivity": 0.13,
    "vapour_resistance": 70,
    "sorption": ROWS,
    "saturation": 600,
}


def board(**changes):
    return Material("my board", **{**GOOD, **changes})


def without(*names, **changes):
    return {**{key: value for key, value in GOOD.items() if key not in names}, **changes}


NO_STORE = without("sorption", "saturation")
ZIGZAG = [(0.2, 20), (0.4, 60), (0.6, 80), (0.7, 100), (0.8, 118), (0.85, 95), (1.0, 200)]

BAD = [
    (
        {"sorption": ZIGZAG},
        "Material 'my board': sorption curve falls from 118 to 95 kg/m3 between 80 % and 85 % RH; it must rise. "
        "Check row 6 of the table.",
    ),
    ({"sorption": [(0.5, 40), (0.8, 40), (1, 90)]}, "sorption curve stays at 40 kg/m3 between 50 % and 80 % RH"),
    (
        {"sorption": [(50, 40), (80, 70), (100, 140)]},
        'row 1: relative humidity 50 is above 1. Give fractions (0.8) or text with the unit ("80 %").',
    ),
    ({"sorption": [(0.5, 40), (0.4, 70), (1, 90)]}, "relative humidity goes from 0.5 to 0.4 in row 2; it must rise"),
    ({"sorption": [(0.5, 40), (0.8, -70), (1, 90)]}, "row 2: water content -70 cannot be; it must be at least 0"),
    ({"sorption": [(0.5, 40), (0.8, math.nan), (1, 90)]}, "row 2: water content is nan; it must be a finite number"),
    ({"sorption": [(0.5, 40), (0.8,), (1, 90)]}, "row 2 is (0.8,); each row is a pair"),
    ({"sorption": [(0.5, 40)]}, "sorption curve has 1 row(s); a curve needs at least two"),
    ({"sorption": "wood"}, "sorption curve is 'wood'; give rows [(relative humidity, water content), ...]"),
    ({"sorption": 12.0}, "sorption curve is 12.0; give rows"),
    ({"sorption": [(0.5, 40), (0.95, 105)]}, "sorption curve stops at 95 % RH. Add a row at 100 %"),
    ({"sorption": [(0.0, 4), (1, 105)]}, "starts at 4 kg/m3 in dry air; it must start at 0. Check row 1"),
    ({"sorption": [(0.2, 0), (1, 105)]}, "is 0 kg/m3 at 20 % RH; only dry air dries to nothing. Check row 1"),
    (
        {"sorption": [(0.5, 0.08), (1, 0.28)]},
        "reaches only 0.28 kg/m3 in a material of 500 kg/m3; this looks like kg/kg. Write "
        "sorption=sorption_by_mass(rows, 500).",
    ),
    (
        {"sorption": [(0.5, 40), (0.95, 105)], "free_saturation": 90},
        "reaches 105 kg/m3 at 95 % RH, above free_saturation 90",
    ),
    (
        {"sorption": lambda phi: 100 - 50 * phi},
        "sorption curve falls (99.9999 to 99.75 kg/m3) between 0.0001 % and 0.5 % RH",
    ),
    (
        {"sorption": lambda phi: np.minimum(100 * phi, 50)},
        "sorption curve stays level (50 to 50 kg/m3) between 50 % and",
    ),
    (
        {"sorption": lambda phi: np.where(phi > 0.9, np.nan, phi)},
        "sorption curve returned nan at relative humidity 0.905",
    ),
    ({"sorption": lambda phi: phi[:3]}, "sorption curve failed with IndexError"),
    ({"sorption": lambda phi: float(phi.mean())}, "sorption curve returned shape () for an argument of shape (203,)"),
    ({"sorption": lambda phi: math.log(phi)}, "sorption curve failed with TypeError"),
    ({"sorption": lambda phi: 5000 * phi}, "sorption curve is 1025 kg/m3 at 0.205; it must stay between 0 and 1000"),
    ({"sorption": lambda phi: f"wet {phi.size}"}, "sorption curve failed with ValueError"),
    ({"retention": [(1e5, 90), (1e8, 20)]}, "both sorption and retention are given; they say the same thing twice"),
    ({"density": -500}, "density is -500 kg/m3; building materials have 1 to 25000. Check the unit."),
    ({"density": 0.5}, 'density is 0.5 kg/m3; building materials have 1 to 25000. Did you mean "0.5 g/cm^3"?'),
    ({"density": math.nan}, "density is nan; it must be a finite number"),
    ({"density": None}, "density is None, which is neither a number nor text with a unit"),
    ({"density": True}, "density is True, which is neither a number nor text with a unit"),
    ({"density": "500"}, "density is '500', a text without a unit"),
    ({"density": "19 mm"}, "density is '19 mm', which could not be read as a density"),
    (
        {"specific_heat": 1.6},
        'specific_heat is 1.6 J/(kg K); building materials have 100 to 5000. Did you mean "1.6 kJ',
    ),
    (
        {"specific_heat": 1.6e6},
        "specific_heat is 1.6e+06 J/(kg K); building materials have 100 to 5000. Check the unit.",
    ),
    (
        {"conductivity": 35, "density": 100},
        'conductivity is 35 W/(m K); a material of 100 kg/m3 has 0.002 to 5. Did you mean "35 mW/(m K)"?',
    ),
    ({"conductivity": 0}, "conductivity is 0 W/(m K)"),
    ({"conductivity_moisture": 1.5}, "conductivity_moisture is 1.5 W/(m K) per kg/m3; 0 to 0.05 is possible"),
    ({"conductivity_temperature": 0.4}, "0.4 per kelvin; -0.02 to 0.02 is possible"),
    ({"vapour_resistance": 0.5}, "vapour_resistance is 0.5; it cannot be below 1, which is still air"),
    ({"vapour_resistance": "70"}, "vapour_resistance is '70', a text without a unit. Write 50 (a plain number"),
    ({"sorption": lambda phi: 0.28 * phi}, "looks like kg/kg. Write sorption=sorption_by_mass(function, 500)."),
    ({"vapour_resistance": None}, "vapour_resistance is None; give rows"),
    ({"vapour_resistance": -math.inf}, "vapour_resistance is -inf; it must be a finite number"),
    ({"vapour_resistance": [(0.2, 100), (0.9, 0.2)]}, "vapour_resistance is 0.2; it cannot be below 1"),
    ({"vapour_resistance": [(20, 100), (90, 30)]}, "row 1: relative humidity 20 is above 1. Give fractions"),
    ({"vapour_resistance": lambda phi: 60 / (1 + 99 * phi)}, "vapour_resistance is 0.6; it cannot be below 1"),
    ({"vapour_resistance": lambda phi: phi * math.nan}, "vapour_resistance returned nan at relative humidity 0"),
    (
        {"vapour_resistance": lambda phi: np.full_like(phi, np.inf)},
        "is infinite at every humidity; write vapour_resistance=math.inf",
    ),
    ({"saturation": 120}, "saturation is 120 kg/m3, not above the 140 that the curve reaches"),
    ({"saturation": 900}, "saturation is 900 kg/m3, but a solid of 500 kg/m3 leaves room for 844 at most"),
    ({"saturation": None}, "saturation is missing: the water that fills every open pore [kg/m3], above the 140"),
    ({"saturation": 4000}, "saturation is 4000 kg/m3; it must be above 0 and at most 1000"),
    (
        {"free_saturation": 100},
        "free_saturation is 100 kg/m3, below the 140 that the sorption curve reaches at 100 % RH",
    ),
    ({"free_saturation": 700}, "free_saturation is 700 kg/m3, above saturation 600"),
    ({"liquid": AbsorptionCoefficient(0.01)}, "liquid transport needs free_saturation"),
    (
        {"liquid": LiquidDiffusivity(1e-9), "free_saturation": 400},
        "the sorption curve ends at 140 kg/m3 at 100 % RH, but free_saturation is 400",
    ),
    ({"liquid": 0.01, "free_saturation": 140}, "liquid is 0.01; give LiquidConductivity(...)"),
    (
        {"liquid": LiquidDiffusivity(lambda w: -1e-9 * (w + 1)), "free_saturation": 140},
        "liquid diffusivity is -1e-09 at water content 0; it cannot be negative",
    ),
    (
        {"mould_sensitivity": "high"},
        "mould_sensitivity is 'high'; it is one of very sensitive, sensitive, medium resistant, resistant",
    ),
    ({"is_wood": "yes"}, "is_wood is 'yes'; write True or False"),
    ({"is_wood": 1}, "is_wood is 1; write True or False"),
]


@pytest.mark.parametrize(("changes", "sentence"), BAD)
def test_what_cannot_be_is_refused_with_the_sentence_to_act_on(changes, sentence):
    with pytest.raises(MaterialError, match=re.escape(sentence)) as caught:
        board(**changes)
    assert str(caught.value).startswith("Material 'my board'")


@pytest.mark.parametrize(
    ("stated", "sentence"),
    [
        (NO_STORE, "but no sorption or retention curve is given"),
        (NO_STORE | {"vapour_resistance": math.inf, "liquid": AbsorptionCoefficient(0.1)}, "stores no water"),
        (
            NO_STORE | {"vapour_resistance": math.inf, "free_saturation": 10},
            "given for a material that stores no water",
        ),
        (
            NO_STORE | {"retention": [(1e5, 20), (1e8, 90)]},
            "goes from 20 to 90 kg/m3 between 100000 and 1e+08 Pa; it must fall",
        ),
        (NO_STORE | {"retention": [(0, 20), (1e8, 10)]}, "row 1: suction 0 cannot be; it must be above 0"),
        (NO_STORE | {"retention": lambda s: 1e-8 * s}, "does not fall between 1 and"),
        (NO_STORE | {"retention": lambda s: np.full_like(s, 3.0)}, "does not fall between 1 and"),
        (NO_STORE | {"retention": [(1e5, 90), (1e8, 20)], "free_saturation": 95}, "above saturation 90"),
        (NO_STORE | {"retention": [(1e5, 90), (1e8, 20)], "saturation": 50}, "not above the 90 that the curve reaches"),
    ],
)
def test_storage_that_contradicts_itself_is_refused(stated, sentence):
    with pytest.raises(MaterialError, match=re.escape(sentence)):
        Material("my board", **stated)


@pytest.mark.parametrize("name", ["", "  ", 3, None])
def test_a_name_is_needed(name):
    for make in (lambda: Material(name, **GOOD), lambda: SheetMaterial(name, s_d=1), lambda: Finish(name, 0.5, 0.5)):
        with pytest.raises(MaterialError, match="give it a name"):
            make()


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: SheetMaterial("film"), "Sheet 'film': state either s_d [m] or permeance, not none."),
        (lambda: SheetMaterial("film", s_d=1, permeance=1e-10), "state either s_d [m] or permeance, not both."),
        (lambda: SheetMaterial("film", s_d=0), "Sheet 'film': s_d is 0 m; 0.001 to 100000 m is possible."),
        (lambda: SheetMaterial("film", s_d=-3), "s_d is -3 m"),
        (lambda: SheetMaterial("film", s_d=math.nan), "s_d is nan; it must be a finite number"),
        (lambda: SheetMaterial("film", s_d="tight"), "s_d is 'tight', which could not be read as a length"),
        (lambda: SheetMaterial("film", s_d=[(20, 5), (80, 0.2)]), "row 1: relative humidity 20 is above 1"),
        (lambda: SheetMaterial("film", s_d=[(0.2, 5), (0.8, 0)]), "row 2: s_d 0 cannot be; it must be above 0"),
        (lambda: SheetMaterial("film", permeance=5), 'more than that of a millimetre of air. Did you mean "5 perm"?'),
        (lambda: SheetMaterial("film", permeance=-1e-12), "permeance is -1e-12; it cannot be negative"),
        (
            lambda: Finish("paint", 70, 0.9),
            "Finish 'paint': absorptance is 70; it must be between 0 and 1. Did you mean \"70 %\"?",
        ),
        (lambda: Finish("paint", 0.7, -0.1), "emissivity is -0.1; it must be between 0 and 1."),
        (lambda: cup_values(20, 50), "the wet value must not exceed the dry one. Swap them?"),
        (lambda: cup_values(20, 0.5), "none can be below 1, which is still air"),
        (lambda: PoreAir(0.0), "Porosity is 0; it must be above 0 and at most 1."),
        (lambda: AbsorptionCoefficient(0), "Water absorption coefficient is 0 kg/(m2 s0.5); between 1e-6 and 10"),
        (lambda: AbsorptionCoefficient(60), "A value per square root of an hour is divided by 60."),
        (lambda: LiquidDiffusivity(0.0), "Liquid diffusivity is 0 m2/s; it must be above 0"),
        (lambda: LiquidDiffusivity([(10, 1e-9), (20, 0)]), "row 2: liquid diffusivity 0 cannot be"),
        (lambda: LiquidConductivity([(1e5, -1e-12), (1e6, 1e-13)]), "row 1: liquid conductivity -1e-12 cannot be"),
        (lambda: LiquidConductivity(lambda s: -s), "Liquid conductivity is -1 at suction 1; it cannot be negative"),
        (
            lambda: sorption_by_mass([(0.5, 0.1), (0.8, 0.05), (1, 0.2)], 500),
            "goes from 0.1 to 0.05 kg/kg between 50 % and 80 % RH",
        ),
        (lambda: sorption_by_mass([(0.5, 0.1), (0.8, 0.2)], 500), "stops at 80 % RH; add a row at 100 %"),
        (lambda: equilibrium_moisture_content(80), "Relative humidity of wood is 80; it must be between 0 and 1"),
        (
            lambda: equilibrium_moisture_content(0.8, math.nan),
            "Temperature of wood must be a number between -60 and 160 degC.",
        ),
        (
            lambda: relative_humidity_of_wood(16),
            "Moisture content of wood is 16; humid air brings it from 0 to at most 0.28",
        ),
    ],
)
def test_other_statements_are_refused_with_the_sentence_to_act_on(make, sentence):
    with pytest.raises(MaterialError, match=re.escape(sentence)):
        make()


def test_a_refusal_is_an_input_error():
    with pytest.raises(InputError):
        board(density=-1)


def test_trade_units_are_taken_at_the_door():
    stated = board(
        density="31.2 lb/ft^3",
        specific_heat="1.6 kJ/(kg K)",
        conductivity="130 mW/(m K)",
        sorption=[("50 %", 40), ("80 %", "70 kg/m3"), ("100 %", 140)],
        saturation="600 kg/m3",
    )
    assert stated.density == pytest.approx(499.8, abs=0.1)
    assert (stated.specific_heat, stated.conductivity) == pytest.approx((1600, 0.13))
    assert float(stated.water_content(0.8)) == pytest.approx(70)


def test_rows_may_be_an_array_or_a_data_frame():
    plain = board()
    assert board(sorption=np.array(ROWS)) == plain
    assert board(sorption=pd.DataFrame(ROWS, columns=["rh", "w"])) == plain


def test_a_material_is_frozen_hashable_comparable_and_can_be_sent_to_another_process():
    one, two = board(vapour_resistance=cup_values(200, 70)), board(vapour_resistance=cup_values(200, 70))
    assert one == two
    assert hash(one) == hash(two)
    assert pickle.loads(pickle.dumps(one)) == one
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.density = 3.0


def test_replace_makes_another_material_and_checks_it():
    open_board = dataclasses.replace(board(), vapour_resistance=20.0)
    assert open_board.vapour_resistance == 20.0
    assert open_board.sorption == board().sorption
    with pytest.raises(MaterialError, match="density is -1"):
        dataclasses.replace(board(), density=-1)
    sheet = dataclasses.replace(SheetMaterial("film", s_d=[(0.3, 5.0), (0.8, 0.2)]), name="other")
    assert sheet.is_variable
    assert dataclasses.replace(Finish("paint", 0.5, 0.9), absorptance=0.8).absorptance == 0.8


def test_steel_needs_no_curves():
    steel = Material("steel", density=7800, specific_heat=450, conductivity=50, vapour_resistance=math.inf)
    assert steel.is_vapour_tight
    assert not steel.is_hygroscopic
    assert not steel.transports_liquid
    np.testing.assert_array_equal(steel.water_content([0.0, 0.5, 1.0]), 0.0)
    np.testing.assert_array_equal(steel.water_content_at_suction([0.0, 1e9]), 0.0)
    np.testing.assert_array_equal(steel.liquid_conductivity([0.0, 1e9]), 0.0)
    assert np.isinf(steel.vapour_resistance_factor(0.5))
    assert steel.saturation == 0.0


def test_a_foam_that_binds_nothing_holds_the_vapour_of_its_pores():
    foam = board(sorption=PoreAir(0.98), density=20, saturation=50)
    assert float(foam.water_content(1.0)) == pytest.approx(0.98 * 2339 / (461.5 * 293.15), rel=1e-3)


def test_vapour_resistance_may_reach_infinity_where_the_pores_fill():
    filling = board(vapour_resistance=lambda phi: 50 / (1 - phi))
    assert not filling.is_vapour_tight
    np.testing.assert_array_equal(filling.vapour_resistance_factor([0.5, 1.0]), [100.0, np.inf])


def test_numpy_numbers_are_numbers():
    assert board(vapour_resistance=np.float64(70)).vapour_resistance == 70.0
    assert board(vapour_resistance=np.int64(70)).vapour_resistance == 70.0
    assert SheetMaterial("film", s_d=np.float32(2)).s_d == 2.0


def test_sorption_by_mass_is_scaled_by_density():
    by_mass = board(sorption=sorption_by_mass([(rh, w / 500) for rh, w in ROWS], 500))
    phi = np.linspace(0, 1, 41)
    np.testing.assert_allclose(by_mass.water_content(phi), board().water_content(phi), rtol=1e-12)
    per_cent = sorption_by_mass([("50 %", "8 %"), ("100 %", "28 %")], "500 kg/m3")
    assert float(per_cent(np.array(0.5))) == pytest.approx(40)


def test_wood_stated_by_model_and_by_function_agree():
    modelled = board(sorption=WoodSorption(500))
    written = board(sorption=lambda phi: 500 * equilibrium_moisture_content(phi))
    phi = np.linspace(0, 1, 21)
    np.testing.assert_allclose(modelled.water_content(phi), written.water_content(phi), rtol=1e-12)


def test_thermal_conductivity_rises_with_water_and_temperature():
    moist = board(conductivity_moisture=4e-4, conductivity_temperature=0.004)
    assert float(moist.thermal_conductivity(0.0, 10.0)) == pytest.approx(0.13)
    assert float(moist.thermal_conductivity(100.0, 20.0)) == pytest.approx((0.13 + 0.04) * 1.04)


def test_an_infinite_sheet_lets_nothing_through():
    for foil in (SheetMaterial("foil", s_d=math.inf), SheetMaterial("foil", permeance=0)):
        assert foil.is_vapour_tight
        assert not foil.is_variable
        assert np.isinf(foil.vapour_resistance([0.2, 0.8])).all()


def test_a_variable_sheet_interpolates_the_logarithm_and_holds_at_the_ends():
    film = SheetMaterial("film", s_d=[(0.3, 5.0), (0.8, 0.2)])
    np.testing.assert_allclose(film.equivalent_air_thickness([0.0, 0.3, 0.55, 0.8, 1.0]), [5, 5, 1, 0.2, 0.2])
    np.testing.assert_allclose(film.vapour_resistance(0.55), 1 / 1.95e-10)
    assert film.vapour_resistance(np.full((2, 3), 0.5)).shape == (2, 3)


def test_permeance_and_equivalent_air_thickness_say_the_same():
    by_rows = SheetMaterial("felt", permeance=[(0.25, "1 perm"), (0.75, "5.6 perm")])
    np.testing.assert_allclose(1 / by_rows.vapour_resistance([0.25, 0.75]), [57.2135e-12, 5.6 * 57.2135e-12])


def test_a_material_of_your_own_is_wood_only_where_you_say_so():
    assert not board().is_wood
    assert board(is_wood=True).is_wood
    assert board(is_wood=True) != board()
