"""The live panel without a browser: turn a knob, read what it says."""

import re

import pytest

from hygro import demo
from hygro.climate import sample_climate
from hygro.errors import InputError
from hygro.widgets import KNOBS, Knob, what_if


def said(panel):
    return re.sub("<[^>]+>", "", panel.text.value)


def free_water(panel):
    return float(re.search(r"Free water and ice: ([\d.]+)", said(panel)).group(1))


@pytest.fixture(scope="module")
def panel():
    return what_if(demo.hut_what_if, sample_climate("hut_valley"), layer="deck")


@pytest.fixture(autouse=True)
def _as_at_first(panel):
    for name, knob in KNOBS.items():
        panel.sliders[name].value = knob.value


def test_every_knob_has_a_slider_and_a_named_box(panel):
    assert set(panel.sliders) == set(panel.boxes) == {"gap", "opening", "permeance", "humidity"}
    for name, knob in KNOBS.items():
        assert panel.boxes[name].description == knob.label
        assert panel.boxes[name].value == pytest.approx(panel.sliders[name].value)


def test_picture_carries_words_and_text_is_announced(panel):
    assert 'alt="Moisture content and free water of the deck over the months.' in panel.picture.value
    assert "data:image/png;base64," in panel.picture.value
    assert 'role="status"' in panel.text.value
    assert "Local codes and a licensed professional decide." in said(panel)


@pytest.mark.parametrize(("name", "value"), [("gap", 10.0), ("opening", 0.0), ("permeance", 30.0), ("humidity", 70.0)])
def test_each_slider_runs_the_year_again(panel, name, value):
    before, picture = said(panel), panel.picture.value
    panel.sliders[name].value = value
    assert panel.boxes[name].value == pytest.approx(value)
    assert said(panel) != before
    assert panel.picture.value != picture


def test_shut_openings_and_humid_rooms_wet_the_deck(panel):
    dry = free_water(panel)
    panel.sliders["opening"].value = 0.0
    shut = free_water(panel)
    panel.sliders["humidity"].value = 70.0
    assert dry < shut < free_water(panel)


def test_number_box_moves_the_slider(panel):
    panel.boxes["gap"].value = 80.0
    assert panel.sliders["gap"].value == 80.0
    assert "80 mm gap" in demo.hut_what_if(80.0, 200.0, 0.06, 35.0).name


def test_a_setting_that_cannot_be_is_said_aloud():
    def build(gap):
        return demo.hut_what_if(gap, 200.0, 0.06, 35.0)

    knobs = {"gap": Knob("Gap height [mm]", 0.0, 100.0, 1.0, 50.0)}
    panel = what_if(build, sample_climate("hut_valley"), layer="deck", knobs=knobs)
    panel.sliders["gap"].value = 0.0
    assert 'role="alert"' in panel.text.value
    assert "thickness" in said(panel)


def test_knob_must_start_inside_its_range():
    with pytest.raises(InputError, match="must start inside"):
        Knob("Gap [mm]", 10.0, 20.0, 1.0, 30.0)
