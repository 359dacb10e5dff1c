"""Study files: what is written is read back the same, and every mistake is named with file, line and key."""

import math
import tomllib

import numpy as np
import pytest

from hygro import indoor, materials
from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.errors import InputError, OutputError
from hygro.gapflow import OPEN, ByWindAndBuoyancy, Closed, Exposure, FixedAirChange
from hygro.leakage import AirLeak
from hygro.simulation import Start
from hygro.study import Variant
from hygro.studyfile import Sample, Study, WeatherFile, parse_study, read_study, study_text, write_study
from hygro.studyfile.lines import line_numbers
from hygro.studyfile.written import toml_text

TEXT = """\
title = "A roof"
watch = ["deck"]
start = "1 October"
years = 2
indoor = "standard curves"

[climate]
sample = "hut_valley"

[material."my board"]
density = 600
specific_heat = 1700
conductivity = "0.13 W/(m K)"
vapour_resistance = { dry = 150, wet = 50 }
sorption = [[0.5, 40], [0.8, 70], [1.0, 300]]
saturation = 550

[assembly.roof]
tilt = "5 deg"
azimuth = "180 deg"
finish = "new wood"
parts = [
    { layer = "my board", thickness = "18 mm", name = "deck" },
    { gap = "50 mm", length = "3 m", flow = { kind = "closed" } },
    { layer = "mineral wool batt", thickness = "220 mm" },
    { sheet = "polyethylene 0.15 mm" },
]

[[variant]]
name = "tight"
assembly = "roof"

[[variant]]
name = "leaky"
assembly = "roof"
leak = { q50 = 3, height = "1.2 m", into = "deck" }
"""


def refused(text):
    with pytest.raises(InputError) as error:
        parse_study(text, "roof.toml")
    return str(error.value)


def line_of(words, text=TEXT):
    return next(number for number, line in enumerate(text.splitlines(), 1) if words in line)


def changed(old, new):
    assert TEXT.count(old) == 1, old
    return TEXT.replace(old, new)


def a_wall(*outside, name="wall", finish="new wood", **gap):
    parts = [*outside, Layer("OSB", "12 mm", name="sheathing"), Layer("glass wool batt", "140 mm")]
    if gap:
        parts.insert(1, VentGap("25 mm", length="2.4 m", **gap))
    return Assembly(name, parts, tilt=90, azimuth=0, finish=finish)


def a_study(variants, **others):
    stated = {"climate": Sample("hut_valley"), "watch": ("sheathing",), "start": "1 October", "years": 1}
    return Study("A wall", tuple(variants), **(stated | others))


# --- reading ---------------------------------------------------------------------------------------------------------


def test_a_file_says_what_python_says():
    study = parse_study(TEXT)
    assert study.climate == Sample("hut_valley")
    assert (study.watch, study.start, study.years, study.wood) == (("deck",), "1 October", 2, None)
    tight, leaky = study.variants
    assert tight.assembly == leaky.assembly
    deck, gap, wool, foil = tight.assembly.parts
    assert deck.thickness == pytest.approx(0.018)
    assert float(deck.material.water_content(0.8)) == pytest.approx(70.0)
    assert gap.flow == Closed()
    assert wool == Layer("mineral wool batt", 0.22)
    assert foil == Sheet("polyethylene 0.15 mm")
    assert tight.indoor == leaky.indoor == indoor.StandardCurves()
    assert (tight.leak, leaky.leak) == (None, AirLeak(3.0, height=1.2, into="deck"))


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(tmp_path):
    path = tmp_path / "roof.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert read_study(path) == parse_study(TEXT)


def test_what_stands_at_the_top_holds_unless_a_variant_says_otherwise():
    text = changed(
        'indoor = "standard curves"', 'indoor = "standard curves"\nleak = { q50 = 1, height = 1, into = false }'
    )
    text = text.replace(
        'name = "tight"', 'name = "tight"\nleak = false\nindoor = { kind = "humidity class", number = 2 }'
    )
    tight, leaky = parse_study(text).variants
    assert (tight.leak, tight.indoor) == (None, indoor.HumidityClass(2))
    assert (leaky.leak.q50, leaky.indoor) == (3.0, indoor.StandardCurves())
    third = parse_study(text + '[[variant]]\nname = "third"\nassembly = "roof"\n').variants[2]
    assert third.leak == AirLeak(1.0, height=1.0, into=None)


def test_a_material_of_the_file_goes_before_that_of_the_library():
    text = TEXT.replace('"my board"', '"OSB"')
    assert parse_study(text).variants[0].assembly.layers[0].material.density == 600.0
    assert materials.get("OSB").density == 650.0


def test_a_weather_file_is_looked_for_beside_the_study(tmp_path):
    weather = tmp_path / "mine.csv"
    weather.write_text("# not read when the study is\n")
    (tmp_path / "roof.toml").write_text(changed('sample = "hut_valley"', 'file = "mine.csv"\nignore = ["rain"]'))
    study = read_study(tmp_path / "roof.toml")
    assert study.climate == WeatherFile(weather, {"ignore": ("rain",)})
    assert 'file = "mine.csv"' in study_text(study, tmp_path)
    assert parse_study(study_text(study), folder=tmp_path) == study


# --- writing and reading back ----------------------------------------------------------------------------------------

BOARD = {"density": 600.0, "specific_heat": 1700.0, "conductivity": 0.13, "saturation": 550.0}
MATERIALS = [
    materials.Material("rows", vapour_resistance=[(0.2, 80), (0.9, 20)], sorption=[(0.5, 40), (1.0, 300)], **BOARD),
    materials.Material(
        "cups", vapour_resistance=materials.cup_values(150, 50), sorption=materials.WoodSorption(600.0), **BOARD
    ),
    materials.Material(
        "by mass", vapour_resistance=50, sorption=materials.sorption_by_mass([(0.5, 0.1), (1.0, 0.5)], 600),
        is_wood=True,
        mould_sensitivity="sensitive", conductivity_moisture=1e-4, **BOARD,
    ),
    materials.Material("pores", vapour_resistance=1.5, sorption=materials.PoreAir(0.9), **BOARD),
    materials.Material(
        "drinks", vapour_resistance=10, retention=[(1e2, 300.0), (1e6, 100.0), (1e9, 1.0)],
        liquid=materials.LiquidConductivity([(1e2, 1e-9), (1e8, 1e-16)]), **BOARD,
    ),
    materials.Material(
        "spreads", vapour_resistance=10, sorption=[(0.5, 40), (1.0, 300)], free_saturation=300.0,
        liquid=materials.LiquidDiffusivity([(0.0, 1e-11), (300.0, 1e-8)]), **BOARD,
    ),
    materials.Material(
        "absorbs", vapour_resistance=10, sorption=[(0.5, 40), (1.0, 300)], free_saturation=300.0,
        liquid=materials.AbsorptionCoefficient(0.01), **BOARD,
    ),
    materials.Material("foil", density=2700, specific_heat=880, conductivity=160, vapour_resistance=math.inf),
]  # fmt: skip


@pytest.mark.parametrize("material", MATERIALS, ids=lambda material: material.name)
def test_a_material_of_ones_own_comes_back_the_same(material):
    study = a_study([Variant("only", a_wall(Layer(material, "10 mm")), indoor.StandardCurves())])
    back = parse_study(study_text(study))
    assert back == study
    mine = back.variants[0].assembly.layers[0].material
    grid = np.linspace(0.05, 0.99, 40)
    assert np.array_equal(mine.water_content(grid), material.water_content(grid))
    assert np.array_equal(mine.vapour_resistance_factor(grid), material.vapour_resistance_factor(grid))
    assert np.array_equal(
        mine.liquid_conductivity(10.0 ** (2 + 6 * grid)), material.liquid_conductivity(10.0 ** (2 + 6 * grid))
    )


@pytest.mark.parametrize("name", [n for f in materials.FAMILIES[:5] for n in materials.names(f)])
def test_every_material_of_the_library_can_be_stated_by_name_or_in_full(name):
    own = materials.get(name)
    assert f'layer = "{name}"' in study_text(a_study([Variant("v", a_wall(Layer(own, 0.01)), indoor.StandardCurves())]))


HOUSEHOLD = indoor.Household(
    volume=35.0,
    set_point=20.0,
    infiltration=indoor.Infiltration(1.5, 2.3, exposure=OPEN),
    sources=(
        indoor.People(2, away=(9, 10, 11)),
        indoor.MoistureEvent("shower <steam>", 0.24, (7,), days=(0, 2, 4)),
        indoor.Flame("propane", 1500.0, (18,)),
    ),
    ventilator=indoor.Ventilator(0.01, 0.8, 0.6, indoor.Recirculate(0.3, -1.0)),
    extract=indoor.ExtractFan(0.02, (18, 19)),
    buffers=(indoor.Buffer(20.0, 0.1), indoor.Buffer(5.0, 0.3, conductance=1e-8)),
    dehumidifier=indoor.Dehumidifier(0.5, 0.4),
)
MODELS = [
    indoor.ConstantIndoor(21.3, 0.37),
    indoor.StandardCurves(high_occupancy=True),
    indoor.HumidityClass(3, temperature=19.5, averaging_days=7.0),
    indoor.SimplifiedDesign(cooling=True),
    indoor.IntermediateDesign(8.0, 35.0, 0.2),
    HOUSEHOLD,
    indoor.Household(35.0, 20.0, 0.1, (indoor.People(1),), None),
    indoor.IndoorArrays((20.0, 21.0), (0.4, 0.5)),
]


@pytest.mark.parametrize("model", MODELS, ids=lambda model: type(model).__name__)
def test_every_model_of_the_air_indoors_comes_back_the_same(model):
    study = a_study([Variant("a", a_wall(), model), Variant("b", a_wall(), indoor.ConstantIndoor(20.0, 0.5))])
    assert parse_study(study_text(study)) == study


@pytest.mark.parametrize(
    "flow",
    [
        Closed(),
        FixedAirChange(33.3),
        ByWindAndBuoyancy(
            inlet="100 cm^2/m", outlet=0.0123456789, screen=0.5, blocked=0.1, exposure=OPEN, inlet_bearing=90
        ),
        ByWindAndBuoyancy(inlet=0.01, outlet=0.01, exposure=Exposure("mine", 0.5, -0.4, -0.3, -0.35, 0.8)),
        ByWindAndBuoyancy(inlet=0.01, outlet=0.01, inlet_bearing=90, outlet_bearing=90),
        ByWindAndBuoyancy(inlet=0.01, outlet=0.01, inlet_coefficient=0.25, outlet_coefficient=-0.6),
    ],
    ids=lambda flow: type(flow).__name__,
)
def test_every_way_of_driving_a_gap_comes_back_the_same(flow):
    slices = 1 if flow == Closed() else 3
    wall = a_wall(Layer("softwood", "22 mm"), flow=flow, slices=slices, emissivity=(0.9, 0.1), name="wall")
    study = a_study([Variant("only", wall, indoor.StandardCurves())])
    assert parse_study(study_text(study)) == study


def test_everything_a_variant_can_state_comes_back_the_same():
    paint = materials.Finish("my <paint>", 0.71, 0.88)
    sheet = materials.SheetMaterial("my sheet", s_d=[(0.3, 5.0), (0.8, 0.2)])
    own = [
        a_wall(Layer("softwood", "22 mm", start_moisture="25 %"), Sheet(sheet, name="membrane"), finish=paint),
        a_wall(Layer("softwood", "22 mm", start_humidity=0.83), Sheet("plain", s_d=0.123456789), finish="new wood"),
        a_wall(Layer("softwood", "1 in"), Sheet("plain", permeance="5 perm"), name='wall "two" \\ 50 %'),
    ]
    leak = AirLeak(1.5, height=-1.15, into=None, exponent=0.6, fan_pressure=4.0, pressure_coefficient=-0.2)
    variants = [
        Variant("first", own[0], HOUSEHOLD, leak, Start("5 degC", 0.6)),
        Variant("second", own[1], indoor.StandardCurves(), AirLeak(0.3, height=1, into="sheathing")),
        Variant("third", own[2], indoor.StandardCurves()),
    ]
    study = a_study(
        variants,
        also=("fasteners", "summer condensation"),
        years=3,
        wood=True,
        question='Is "it" dry?\nReally?',
        building="A hut.",
        assumed=(("a b", "c"), ("d", "é")),
    )
    back = parse_study(study_text(study))
    assert back == study
    assert study_text(back) == study_text(study)


def test_two_build_ups_of_the_same_name_are_kept_apart():
    thin, thick = a_wall(), a_wall(Layer("softwood", "22 mm"))
    assert thin.name == thick.name
    study = a_study([Variant("a", thin, indoor.StandardCurves()), Variant("b", thick, indoor.StandardCurves())])
    assert [one.assembly for one in parse_study(study_text(study)).variants] == [thin, thick]


def test_a_python_function_is_not_written_as_something_else():
    odd = materials.Material("odd", vapour_resistance=10, sorption=lambda rh: 100 * rh, **BOARD)
    with pytest.raises(InputError, match="which a study file cannot state"):
        study_text(a_study([Variant("only", a_wall(Layer(odd, 0.01)), indoor.StandardCurves())]))


def test_writing_leaves_no_half_file_and_replaces_nothing_unasked(tmp_path):
    study = parse_study(TEXT)
    path = write_study(study, tmp_path / "a.toml")
    before = path.read_bytes()
    with pytest.raises(OutputError, match="exists already"):
        write_study(study, path)
    assert path.read_bytes() == before
    assert write_study(study, path, replace=True) == path
    with pytest.raises(OutputError, match="could not be written"):
        write_study(study, tmp_path / "nowhere" / "a.toml")
    assert [one.name for one in tmp_path.iterdir()] == ["a.toml"]


@pytest.mark.parametrize(
    "value",
    [
        0.1 + 0.2,
        1e-300,
        -0.0,
        math.inf,
        12345678901234567890,
        True,
        '\x7f \t\n\r"\\ \u2028 é 🏠',
        [],
        {},
        [[1, 2.5], ["a"]],
    ],
)
def test_values_are_written_as_toml_reads_them(value):
    assert tomllib.loads(toml_text({"key": value, "a": {"b c": {"d": value}}})) == {
        "key": value,
        "a": {"b c": {"d": value}},
    }


def _paths(value, path=()):
    for key, one in value.items() if isinstance(value, dict) else enumerate(value):
        yield (*path, key)
        if isinstance(one, dict | list):
            yield from _paths(one, (*path, key))


TRICKY = '''\
"a.b" = 1 # ] not a bracket
c.d."e f" = [ # a list
  "x # y", [1, 2], # more
  { g = """
three " lines ]
""", h.i = 1979-05-27 07:32:00 }, ]
[t.'u v']
w = \'\'\'}\'\'\'
[[t.x]]
y = -1
[[t.x]]
y = 0x1F
[t.x.z]
"q\\u00e9" = {}
'''


@pytest.mark.parametrize("text", [TEXT, TRICKY])
def test_every_key_and_item_has_a_line_and_stands_in_it(text):
    found, lines = line_numbers(text), text.splitlines()
    for path in _paths(tomllib.loads(text)):
        assert path in found, path
        if isinstance(path[-1], str) and path[-1].isascii():
            assert path[-1] in lines[found[path] - 1]


# --- mistakes --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "key", "words"),
    [
        ("years = 2", "yaers = 2", "yaers", "Did you mean 'years'?"),
        ("q50 = 3", "q5 = 3", "variant 2, leak, q5", "Did you mean 'q50'?"),
        ('tilt = "5 deg"', 'pitch = "5 deg"', "roof, pitch", "Possible: name, parts, tilt"),
        ('thickness = "18 mm"', 'thicknes = "18 mm"', "roof, parts 1, thicknes", "Did you mean 'thickness'?"),
        ('{ dry = 150, wet = 50 }', "{ dry = 150, weet = 50 }", "material, my board, vapour_resistance, weet", "'wet'"),
        ('kind = "closed"', 'kind = "shut"', "roof, parts 2, flow, kind", "'wind and buoyancy'"),
        ('"standard curves"', '"standard curve"', "indoor", "Did you mean 'standard curves'?"),
        ('sample = "hut_valley"', 'sample = "hut valley"', "climate, sample", "'hut_valley', 'wet_coast'"),
        ('sample = "hut_valley"', 'file = "nowhere.epw"', "climate, file", "there is no file"),
        ('layer = "my board"', 'layer = "my bord"', "roof, parts 1, layer", "Defined in this file: 'my board'"),
        ('layer = "mineral wool batt"', 'layer = "mineral wool"', "roof, parts 3, layer", "'mineral wool batt'"),
        ('finish = "new wood"', 'finish = "new wod"', "roof, finish", "'new wood'"),
        ('thickness = "18 mm"', 'thickness = "18 kg"', "roof, parts 1, thickness", "could not be read as a length"),
        ('thickness = "18 mm"', "thickness = 18", "roof, parts 1, thickness", 'Did you mean "18 mm"?'),
        ('thickness = "18 mm"', "thickness = [18]", "roof, parts 1, thickness", "is a list of 1"),
        ('thickness = "18 mm"', "thickness = nan", "roof, parts 1, thickness", "finite"),
        ('thickness = "18 mm", ', "", "roof, parts 1", "the key 'thickness' is missing"),
        ("density = 600\n", "density = true\n", "material, my board, density", "is true; a number"),
        ("[0.8, 70]", "[0.8, 30]", "material, my board, sorption", "it must rise"),
        ("[0.8, 70]", "[0.8]", "material, my board, sorption 2", "a row of two numbers"),
        ("years = 2", 'years = "2"', "years", "is '2'; a whole number is needed"),
        ("years = 2", "years = 40", "years", "from 1 to 20"),
        ("years = 2", 'years = 2\nalso = ["mold"]', "also", "Criteria: '30-day humidity', 'fasteners'"),
        ("years = 2", "years = 1.5", "years", "a whole number is needed"),
        ('watch = ["deck"]', 'watch = ["dekc"]', "watch", "a layer of no variant. Layers: 'deck'"),
        ('watch = ["deck"]', 'watch = "deck"', "watch", "in square brackets"),
        ('watch = ["deck"]', "watch = []", "watch", "name the layers"),
        ('title = "A roof"', 'title = " "', "title", "plain text is needed"),
        ('title = "A roof"', 'title = "A\\u0000roof"', "title", "control character"),
        ('name = "leaky"', 'name = "tight"', "variant 2", "two variants are named 'tight'"),
        ("leak = { q50 = 3", "initial = { temperature = 300 } #", "variant 2, initial, temperature", "-50 and 70"),
        ("q50 = 3", "q50 = -3", "variant 2, leak, q50", "between 0 and 100"),
        ("q50 = 3", 'q50 = "3 perm"', "variant 2, leak, q50", "could not be read as an air permeability"),
        ('gap = "50 mm"', 'gap = "50 mm", slices = 0', "roof, parts 2, slices", "from 1 to 64"),
        ('{ sheet = "polyethylene 0.15 mm" }', '{ foil = "x" }', "roof, parts 4", "layer, sheet or gap"),
        ('{ sheet = "polyethylene 0.15 mm" }', '"polyethylene"', "roof, parts 4", "a part is a table"),
        ('[assembly.roof]', "[assembly]", "assembly", "each assembly has a heading of its own"),
        ('indoor = "standard curves"', 'indoor = { high_occupancy = true }', "indoor", "the key 'kind' is missing"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_file_line_and_key(old, new, key, words):
    text = changed(old, new)
    said = refused(text)
    head, _, rest = said.partition(f", {key.replace('roof, ', 'assembly, roof, ')}: ")
    assert rest, said
    assert words in rest, said
    if head != "roof.toml":
        number = int(head.removeprefix("roof.toml, line "))
        step = key.split(", ")[-1]
        # An item of a list is told by its number, which stands in no line.
        assert step[-1].isdigit() or step in text.splitlines()[number - 1], said
    else:
        pytest.fail(f"no line: {said}")


def test_a_climate_without_sample_or_file_is_refused_at_its_heading():
    said = refused(changed('sample = "hut_valley"', 'smaple = "hut_valley"'))
    assert said.startswith("roof.toml, line 7, climate: one of two keys is needed")


def test_the_line_is_that_of_the_part_within_the_list():
    said = refused(changed('{ layer = "mineral wool batt", thickness = "220 mm" }', '{ layer = "mineral wool batt" }'))
    assert said.startswith(f"roof.toml, line {line_of('mineral wool batt')}, assembly, roof, parts 3: ")


def test_variants_that_differ_in_nothing_are_refused_at_the_later_one():
    text = TEXT.replace('leak = { q50 = 3, height = "1.2 m", into = "deck" }\n', "")
    said = refused(text)
    assert f"line {line_of('leaky', text) - 1}, variant 2: the variants 'tight' and 'leaky' differ in nothing" in said


def test_build_ups_that_differ_by_their_name_alone_are_the_same():
    with pytest.raises(InputError, match="differ in nothing"):
        a_study([Variant(n, a_wall(name=n), indoor.StandardCurves()) for n in ("a", "b")])


def test_a_variant_without_a_watched_layer_is_refused():
    text = TEXT + '[[variant]]\nname = "other"\nassembly = "bare"\n\n[assembly.bare]\ntilt = 0\nazimuth = 0\n'
    text += 'finish = "snow"\nparts = [{ layer = "OSB", thickness = "18 mm" }]\n'
    assert "no layer of the variant 'other'" in refused(text)


def test_a_layer_that_holds_no_water_cannot_be_watched():
    with pytest.raises(InputError, match="holds no water"):
        a_study(
            [Variant("a", a_wall(Layer("steel sheet", "1 mm")), indoor.StandardCurves())],
            watch=("steel sheet", "sheathing"),
        )


@pytest.mark.parametrize("key", ["title", "watch", "start", "years", "climate", "assembly", "variant"])
def test_what_a_study_needs_is_asked_for(key):
    stated = tomllib.loads(TEXT)
    del stated[key]
    assert f"the key '{key}' is missing" in refused(toml_text(stated))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"title = A roof\n", "is not valid TOML"),
        (b"title = 'a'\ntitle = 'b'\n", "is not valid TOML"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not text in UTF-8"),
        (b"a = " + b"[" * 5000, "brackets"),
        (b"", "the key 'title' is missing"),
        (b"LOCATION,Somewhere,...\n", "is not valid TOML"),
    ],
)
def test_a_file_of_another_kind_is_refused(tmp_path, content, words):
    path = tmp_path / "roof.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=r"roof\.toml") as error:
        read_study(path)
    assert words in str(error.value)


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(InputError, match="cannot be read"):
            read_study(path)


def test_a_file_with_columns_of_its_own_asks_for_its_place(tmp_path):
    (tmp_path / "mine.csv").write_text("x\n")
    text = changed(
        'sample = "hut_valley"', 'file = "mine.csv"\ncolumns = { time = "t", air_temperature = "T" }\nlatitude = 60'
    )
    with pytest.raises(InputError, match="climate: the key 'longitude' is missing"):
        parse_study(text, "roof.toml", tmp_path)


@pytest.mark.parametrize("stated", ['"10 l/s"', '"36 m3/hour"', "0.01"])
def test_the_flow_of_a_fan_may_be_said_in_litres_a_second(stated):
    home = f"""{{ kind = "household", volume = 35, set_point = 20, infiltration = 0.1, sources = [],
    ventilator = {{ flow = {stated}, heat_recovery = "75 %", moisture_recovery = 0 }},
    extract = {{ flow = {stated}, hours = [18] }} }}""".replace("\n", " ")
    study = parse_study(changed('"standard curves"', home))
    fan = study.variants[0].indoor.ventilator
    assert fan.flow == pytest.approx(0.01, rel=1e-12)
    assert study.variants[0].indoor.extract.flow == fan.flow
    assert parse_study(study_text(study)) == study
    assert "0.0100000" not in study_text(study)


def test_a_household_may_be_said_in_the_units_of_the_trade():
    home = """{ kind = "household", volume = "35 m3", set_point = "68 degF", ventilator = false,
    infiltration = { n50 = 1, height = "230 cm" }, buffers = [{ area = "20 m2", capacity = 0.1 }],
    sources = [{ kind = "moisture event", name = "shower", amount = "240 g", hours = [7] },
    { kind = "flame", fuel = "propane", power = "1.5 kW", hours = [18] }] }""".replace("\n", " ")
    study = parse_study(changed('"standard curves"', home))
    air = study.variants[0].indoor
    assert (air.volume, air.infiltration.height, air.buffers[0].area) == pytest.approx((35.0, 2.3, 20.0))
    assert (air.sources[0].amount, air.sources[1].power) == pytest.approx((0.24, 1500.0))
    assert parse_study(study_text(study)) == study


def test_a_flow_that_is_none_is_named_with_line_and_key():
    home = """{ kind = "household", volume = 35, set_point = 20, infiltration = 0.1, sources = [],
    ventilator = { flow = "10 m", heat_recovery = 0, moisture_recovery = 0 } }""".replace("\n", " ")
    with pytest.raises(InputError, match=r"indoor, ventilator, flow: is '10 m', which is no volume flow"):
        parse_study(changed('"standard curves"', home))
