"""The panel without a browser: states, typed values, history, code and words."""

import math
from dataclasses import replace

import pytest

import hygro
from hygro import Assembly, ByWindAndBuoyancy, FixedAirChange, Layer, Sheet, VentGap, demo
from hygro.errors import InputError
from hygro.indoor import ConstantIndoor, Household, StandardCurves
from hygro.studyfile.toml import parse_study
from hygro.units import PERM
from hygro.widgets.code import as_python, as_study
from hygro.widgets.controls import Units, band, controls, moved, options
from hygro.widgets.history import History
from hygro.widgets.state import Air
from hygro.widgets.subject import Subject

VALLEY = "the valley"


@pytest.fixture
def hut():
    roof, leak = demo.hut_roof(vented=True), demo.hut_leak(demo.TIGHT)
    return Subject(
        roof, "deck", {VALLEY: "hut_valley"}, leak, lambda n, air: demo.hut_household(1e3 * air, people=n), 2
    )


def test_the_first_state_builds_what_was_given(hut):
    built = hut.built(hut.at_first(), "now")
    assert built.assembly == hut.assembly
    assert built.leak == hut.leak
    assert built.indoor == StandardCurves()


def test_every_control_changes_the_variant(hut):
    state = hut.at_first()
    changes = {
        "gap": 20, "inlet": 50, "outlet": 50, "screen": 100, "permeance": 1, "q50": 3, "air": "a household",
        "finish": "black coated metal",
    }  # fmt: skip
    plain = hut.built(state, "now")
    for field, stated in changes.items():
        assert hut.built(moved(hut, state, field, stated, Units.METRIC), "now") != plain, field
    steady = replace(state, air=Air.STEADY)
    damp = hut.built(moved(hut, steady, "humidity", 55, Units.METRIC), "now")
    assert damp.indoor == ConstantIndoor(20.0, 0.55)
    lived_in = replace(state, air=Air.HOUSEHOLD)
    crowd = hut.built(moved(hut, moved(hut, lived_in, "people", 4, Units.METRIC), "supply", 15, Units.METRIC), "now")
    assert isinstance(crowd.indoor, Household)
    assert crowd.indoor.sources[0].count == 4.0
    assert crowd.indoor.ventilator.flow == pytest.approx(0.015)
    assert hut.start(moved(hut, state, "month", "1 March", Units.METRIC)) == "1 March"


def test_no_gap_is_the_unvented_roof(hut):
    built = hut.built(moved(hut, hut.at_first(), "gap", "0", Units.METRIC), "now")
    assert built.assembly.parts == demo.hut_roof(vented=False).parts


@pytest.mark.parametrize(
    ("field", "stated", "units", "wanted"),
    [
        ("gap", "30", Units.METRIC, 0.030),
        ("gap", "30", Units.TRADE, None),
        ("gap", "1,5", Units.TRADE, 1.5 * 0.0254),
        ("gap", "3/4 in", Units.METRIC, 0.75 * 0.0254),
        ("gap", " 25 mm ", Units.TRADE, 0.025),
        ("inlet", 10, Units.TRADE, 10 * 0.0254**2 / 0.3048),
        ("permeance", "0.5", Units.TRADE, 0.5 * PERM),
        ("permeance", "3.4", Units.METRIC, 1.95e-10 / 3.4),
        ("permeance", "2 m", Units.TRADE, 1.95e-10 / 2.0),
        ("permeance", "1 perm", Units.METRIC, PERM),
        ("permeance", "0", Units.METRIC, None),
        ("screen", "60 %", Units.METRIC, 0.6),
        ("q50", 0.1, Units.TRADE, 0.1 * 18.288),
        ("supply", 20, Units.TRADE, 20 * 4.719474e-4),
        ("humidity", "", Units.METRIC, None),
        ("humidity", "wet", Units.METRIC, None),
        ("gap", "nan", Units.METRIC, None),
        ("gap", "-5", Units.METRIC, None),
        ("people", "1e99", Units.METRIC, None),
        ("month", "Smarch", Units.METRIC, None),
        ("colour", "red", Units.METRIC, None),
    ],
)
def test_what_is_typed_is_read_or_refused_in_a_sentence(hut, field, stated, units, wanted):
    if wanted is None:
        with pytest.raises(InputError, match=r"[;,.] .*\."):
            moved(hut, hut.at_first(), field, stated, units)
    else:
        value = getattr(moved(hut, hut.at_first(), field, stated, units), field)
        assert value == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(
    ("perm", "words"), [(0.1, "I"), (0.11, "II"), (1.0, "II"), (1.01, "III"), (10.0, "III"), (11.0, "open")]
)
def test_retarder_classes_are_those_of_the_codes(hut, perm, words):
    retarder = next(one for one in controls(hut) if one.field == "permeance")
    assert band(retarder, perm * PERM) == words


def test_every_stop_of_every_slider_can_be_typed(hut):
    state = hut.at_first()
    for units in Units:
        for control in controls(hut):
            if not hasattr(control, "scale"):
                assert control.explanation
                continue
            scale = control.scale(units)
            values = [
                getattr(moved(hut, state, control.field, scale.text(scale.to_si(stop)), units), control.field)
                for stop in scale.stops
            ]
            assert values == sorted(values), control.field
            assert len(control.explanation) < 60


def test_a_build_up_without_gap_leak_and_household_has_fewer_controls(hut):
    wall = Assembly(
        "wall", [Layer("OSB", "12 mm"), Layer("mineral wool batt", "100 mm")], tilt=90, azimuth=0, finish="snow"
    )
    bare = Subject(wall, "OSB", hut.climates, None, None, 2)
    assert [one.field for one in controls(bare)] == ["air", "humidity", "finish", "climate", "month"]
    assert Air.HOUSEHOLD not in options(bare, "air").values()
    assert bare.built(bare.at_first(), "now").assembly == wall


def test_a_gap_with_a_stated_air_change_has_no_openings_to_explore(hut):
    gap = VentGap("20 mm", length="2 m", flow=FixedAirChange(50))
    roof = Assembly(
        "roof", [Layer("OSB", "12 mm"), gap, Layer("OSB", "12 mm", name="b")], tilt=0, azimuth=0, finish="snow"
    )
    with pytest.raises(InputError, match="openings cannot be explored"):
        Subject(roof, "OSB", hut.climates, None, None, 2)
    with pytest.raises(InputError, match="say which layer is judged"):
        hygro.explore(roof)
    with pytest.raises(InputError, match="write 'mm, s_d' or 'inch, perm'"):
        hygro.explore(units="furlong")


def test_one_drag_is_undone_at_once_and_rest_begins_another(hut):
    first = hut.at_first()
    history = History((first,))
    for gap in (40, 30, 20):
        history = history.changed(moved(hut, history.now, "gap", gap, Units.METRIC))
    assert history.undone().now == first
    again = history.rested().changed(moved(hut, history.now, "gap", 10, Units.METRIC))
    assert again.undone().now == history.now
    other = history.changed(moved(hut, history.now, "inlet", 0, Units.METRIC))
    assert other.undone().now == history.now
    assert History((first,)).undone().now == first
    assert history.changed(history.now) is history


def test_copied_python_builds_the_same_variant(hut):
    state = hut.at_first()
    for field, stated in (("gap", 25), ("permeance", "1 perm"), ("air", "a household"), ("people", 3), ("month", 3)):
        state = moved(hut, state, field, stated, Units.METRIC)
    text = as_python(hut, state)
    setup, run = text.split("study = ")
    found: dict[str, object] = {}
    exec(setup, found)
    wanted = hut.built(state, "as explored")
    assert found["build_up"].parts == wanted.assembly.parts
    assert found["air"] == wanted.indoor
    assert found["leak"] == wanted.leak
    assert "layer='deck', start='1 March', years=2" in run


def test_copied_study_file_reads_back_as_the_same_variant(hut):
    state = hut.at_first()
    for field, stated in (("gap", 25), ("permeance", "1 perm"), ("air", "a household"), ("month", 3)):
        state = moved(hut, state, field, stated, Units.METRIC)
    study = parse_study(as_study(hut, state))
    (variant,) = study.variants
    wanted = hut.built(state, "as explored")
    assert variant.assembly.parts == wanted.assembly.parts
    assert variant.indoor == wanted.indoor
    assert variant.leak == wanted.leak
    assert (study.start, study.years, study.watch) == ("1 March", 2, ("deck",))
    measured = replace(hut, climates={VALLEY: hygro.sample_climate("hut_valley")})
    with pytest.raises(InputError, match="Copy as Python instead"):
        as_study(measured, state)


def test_copied_python_of_a_flow_and_sheet_of_ones_own_still_compiles(hut):
    flow = ByWindAndBuoyancy(inlet="20 cm^2/m", outlet="20 cm^2/m", blocked="10 %")
    parts = [
        Layer("OSB", "12 mm"),
        VentGap("20 mm", length="2 m", flow=flow),
        Sheet("mine", s_d=3.0),
        Layer("OSB", "9 mm"),
    ]
    roof = Assembly("my roof", parts, tilt=10, azimuth=0, finish="snow")
    own = Subject(roof, "OSB", hut.climates, None, None, 1)
    found: dict[str, object] = {}
    exec(as_python(own, own.at_first()).split("study = ")[0], found)
    gap, sheet = found["build_up"].parts[1:3]
    assert gap == roof.parts[1]
    assert sheet.s_d() == pytest.approx(3.0)
    assert math.isclose(found["build_up"].tilt, 10.0)
