"""The library keeps its promises: a source for every value, curves that rise, values that a builder would recognise."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
import re
import subprocess
import sys
import tomllib
from importlib.resources import files

import numpy as np
import pytest

from hygro import materials
from hygro.errors import MaterialError
from hygro.materials import shelf
from hygro.materials.provenance import GRADES

SLABS = [name for family in shelf.SLAB_FAMILIES for name in materials.names(family)]
SHEETS = [name for family in shelf.SHEET_FAMILIES for name in materials.names(family)]
FINISHES = materials.names("finishes")
LIBRARY = files("hygro.materials").joinpath("library")
# density, conductivity, specific heat, resistance factor at 50 % RH
BANDS = {
    "wood": ((350, 900), (0.09, 0.25), (1300, 2000), (15, 250)),
    "boards": ((200, 1900), (0.05, 0.60), (900, 2100), (2, 400)),
    "insulation": ((8, 200), (0.018, 0.060), (800, 2100), (1, np.inf)),
    "metals": ((2400, 9000), (0.5, 400), (350, 950), (np.inf, np.inf)),
    "masonry_minerals": ((900, 2500), (0.3, 2.6), (800, 1100), (4, 200)),
}
UNITS = {
    "density": {"kg/m3"},
    "specific_heat": {"J/(kg K)"},
    "conductivity": {"W/(m K)"},
    "vapour_resistance": {"1"},
    "sorption": {"kg/m3", "kg/kg"},
    "retention": {"kg/m3 over Pa"},
    "saturation": {"kg/m3"},
    "free_saturation": {"kg/m3"},
    "liquid": {"s over Pa", "kg/(m2 s0.5)"},
    "conductivity_moisture": {"W m2/(K kg)"},
    "conductivity_temperature": {"1/K"},
    "mould_sensitivity": {"1"},
    "s_d": {"m"},
    "permeance": {"perm"},
    "absorptance": {"1"},
    "emissivity": {"1"},
}


def _object(name):
    if name in SLABS:
        return materials.get(name)
    return materials.sheet(name) if name in SHEETS else materials.finish(name)


@pytest.mark.parametrize("family", materials.FAMILIES)
def test_each_quantity_has_a_unit_a_grade_and_a_source_that_exists(family):
    entries = tomllib.loads(LIBRARY.joinpath(f"{family}.toml").read_text(encoding="utf-8"))
    assert entries
    for name, entry in entries.items():
        for quantity, table in entry.items():
            if quantity in ("note", "is_wood"):
                continue
            place = f"{name}: {quantity}"
            assert table["grade"] in GRADES, place
            assert table["source"] in materials.sources(), place
            assert table["unit"] in UNITS[quantity], place
            ways = {"value", "rows", "model"} & table.keys() | ({"dry"} if {"dry", "wet"} <= table.keys() else set())
            assert len(ways) == 1, place
            if table["source"] == "estimate":
                assert table["grade"] == "estimated", place


@pytest.mark.parametrize("name", materials.names())
def test_the_object_carries_what_the_file_says(name):
    assert {line.source for line in _object(name).provenance} <= set(materials.sources())
    text = materials.describe(name)
    for line in _object(name).provenance:
        assert f"[{line.grade}; {line.source}]" in text
        assert f"  {line.source}: " in text


def test_every_source_is_used_and_says_how_it_was_consulted():
    used = {line.source for name in materials.names() for line in _object(name).provenance}
    assert used == set(materials.sources())
    for source in materials.sources().values():
        assert source.title
        assert source.note


@pytest.mark.parametrize("name", SLABS)
def test_curves_are_monotone_and_bounded(name):
    material = materials.get(name)
    phi = np.linspace(0, 1, 401)
    w, mu = material.water_content(phi), material.vapour_resistance_factor(phi)
    if material.is_hygroscopic:
        assert (np.diff(w) > 0).all()
        assert 0 <= w[0] < 0.02 * material.saturation
        assert w[-1] <= material.saturation * (1 if material.is_suction_based else 0.999)
        assert w[-1] < material.saturation or material.is_suction_based
    else:
        assert material.is_vapour_tight
    assert (mu >= 1).all()
    if not material.is_vapour_tight:
        assert (np.diff(mu) <= 0).all()
    k = material.liquid_conductivity(np.logspace(0, 9, 200))
    assert np.isfinite(k).all()
    assert (k > 0).all() if material.transports_liquid else (k == 0).all()


@pytest.mark.parametrize("family", BANDS)
def test_values_are_inside_the_family_s_band(family):
    for name in materials.names(family):
        material = materials.get(name)
        stated = (
            material.density,
            material.conductivity,
            material.specific_heat,
            float(material.vapour_resistance_factor(0.5)),
        )
        for value, (lowest, highest) in zip(stated, BANDS[family], strict=True):
            assert lowest <= value <= highest, (name, value)


@pytest.mark.parametrize("name", SLABS)
def test_the_solid_leaves_room_for_the_water(name):
    material = materials.get(name)
    assert material.saturation <= 1000 * (1 - material.density / 9000)


@pytest.mark.parametrize("name", SHEETS)
def test_sheets_open_with_humidity_if_they_vary(name):
    resistance = materials.sheet(name).vapour_resistance(np.linspace(0, 1, 101))
    assert (resistance > 0).all()
    assert (np.diff(resistance) <= 0).all()
    assert materials.sheet(name).is_variable == bool(np.ptp(resistance) > 0)


def test_tighter_things_are_tighter():
    """Directions that a practitioner would insist on."""
    at = {name: float(materials.sheet(name).vapour_resistance(0.3)) for name in SHEETS}
    order = ["breather membrane", "bituminous paper", "kraft facing", "polyethylene 0.15 mm", "aluminium foil"]
    assert sorted(order, key=at.get) == order
    assert at["polyethylene 0.15 mm stapled"] < at["polyethylene 0.15 mm"]
    tight, usual = materials.get("OSB tight"), materials.get("OSB")
    assert (tight.vapour_resistance_factor([0.2, 0.8]) > usual.vapour_resistance_factor([0.2, 0.8])).all()
    wide, plain = materials.sheet("variable retarder wide"), materials.sheet("variable retarder")
    assert (wide.vapour_resistance([0.3, 0.6, 0.8]) > plain.vapour_resistance([0.3, 0.6, 0.8])).all()


def test_the_families_are_there():
    assert len(SLABS) >= 36
    assert len(SHEETS) >= 18
    assert len(FINISHES) >= 12
    assert sorted(materials.names()) == sorted(set(SLABS + SHEETS + FINISHES))
    with pytest.raises(MaterialError, match=r"No family 'paints'\. Families: wood, boards"):
        materials.names("paints")


def test_names_are_unique_over_all_families():
    counted = [
        name.lower()
        for family in materials.FAMILIES
        for name in tomllib.loads(LIBRARY.joinpath(f"{family}.toml").read_text(encoding="utf-8"))
    ]
    assert len(counted) == len(set(counted))


@pytest.mark.parametrize(
    ("look_up", "name", "sentence"),
    [
        (materials.get, "spruce plywod", "No material 'spruce plywod'. Nearest: 'plywood"),
        (materials.get, "zzzz", "No material 'zzzz'. List all with materials.names()."),
        (materials.get, "plywood", "Nearest: 'plywood"),
        (materials.get, "", "No material ''. List all with materials.names()."),
        (materials.get, 3, "A name of the library is text, not 3."),
        (materials.get, "kraft facing", "'kraft facing' is a sheet, not a material. Look it up with materials.sheet("),
        (materials.sheet, "OSB", "'OSB' is a material, not a sheet. Look it up with materials.get('OSB')."),
        (materials.sheet, "poliethylene 0.15", "No sheet 'poliethylene 0.15'. Nearest: 'polyethylene 0.15 mm'"),
        (materials.finish, "white metal", "No finish 'white metal'. Nearest: 'white coated metal'"),
        (materials.describe, "osbb", "No entry 'osbb'. Nearest: 'OSB'"),
    ],
)
def test_an_unknown_name_is_an_error_with_the_nearest_spellings(look_up, name, sentence):
    with pytest.raises(MaterialError, match=re.escape(sentence)):
        look_up(name)


def test_capitals_and_spaces_do_not_matter():
    assert materials.get(" osb  Tight ") is materials.get("OSB tight")


def test_describe_says_when_a_value_has_no_source():
    text = materials.describe("EPS")
    assert "sorption: 0.5: 0.05, 0.8: 0.1, 0.95: 0.2, 1: 0.5 kg/m3 [estimated; estimate]" in text
    assert "no source" in text
    assert "use product data" in text


def test_looking_up_is_light():
    """A fresh process: no unit library, no tables of data, nothing that draws."""
    code = (
        "import sys; from hygro import materials; materials.get('OSB'); materials.sheet('kraft facing');"
        "print([m for m in ('pint', 'pandas', 'xarray', 'matplotlib', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("module", [m.name for m in pkgutil.iter_modules(materials.__path__)])
def test_examples_in_the_docstrings_hold(module):
    assert doctest.testmod(importlib.import_module(f"hygro.materials.{module}")).failed == 0


def test_wood_and_wood_based_boards_are_marked_and_nothing_else_is():
    marked = {name for name in SLABS if materials.get(name).is_wood}
    assert set(materials.names("wood")) <= marked
    assert marked - set(materials.names("wood")) == {
        "plywood 500",
        "plywood 700",
        "OSB",
        "OSB tight",
        "particleboard",
        "fibreboard 250",
        "fibreboard 400",
        "fibreboard 800",
        "wood fibre insulation board",
    }
    assert "Judged by the limits for wood." in materials.describe("OSB")
    assert "limits for wood" not in materials.describe("gypsum board")
