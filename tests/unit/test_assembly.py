"""Layers, sheets, gaps, assemblies: what is refused and the sentence that says why; labels, order, summaries."""

from __future__ import annotations

import math

import numpy as np
import pytest

from hygro import Assembly, ByWindAndBuoyancy, Closed, FixedAirChange, Layer, Sheet, VentGap
from hygro.errors import HygroError, InputError, MaterialError
from hygro.materials import Finish, Material, SheetMaterial

FINISH = Finish("plain", 0.5, 0.9)
BOARD = Material(
    "board", density=500, specific_heat=1600, conductivity=0.13, vapour_resistance=50, sorption=[(0.8, 80), (1.0, 150)],
    saturation=600,
)  # fmt: skip


def _assembly(*parts, **others):
    return Assembly("roof", parts, **({"tilt": 30, "azimuth": 180, "finish": FINISH} | others))


LAYERS = [
    ({"thickness": -0.018}, "Layer 'board': thickness is -0.018; it must be above 0."),
    ({"thickness": 0}, "Leave the part out if it is not there"),
    ({"thickness": 18}, 'Did you mean "18 mm"?'),
    ({"thickness": 1e-7}, "it must lie between 0.01 mm and 3000 mm"),
    ({"thickness": float("nan")}, "it must be a finite number"),
    ({"thickness": float("inf")}, "it must be a finite number"),
    ({"thickness": "18"}, "a text without a unit"),
    ({"thickness": "18 kg"}, "could not be read as a length"),
    ({"thickness": "wide"}, "could not be read as a length"),
    ({"thickness": None}, "neither a number nor text with a unit"),
    ({"thickness": True}, "neither a number nor text with a unit"),
    ({"thickness": [0.018]}, "neither a number nor text with a unit"),
    ({"thickness": 0.018, "name": "  "}, "give it a name in plain text"),
    ({"thickness": 0.018, "name": 7}, "give it a name in plain text"),
    ({"thickness": 0.018, "start_humidity": 0.0}, "it must be above 0 and at most 1"),
    ({"thickness": 0.018, "start_humidity": 80}, 'Did you mean "80 %"?'),
    ({"thickness": 0.018, "start_humidity": -0.1}, "it must be above 0 and at most 1"),
    ({"thickness": 0.018, "start_humidity": float("nan")}, "it must be a finite number"),
    ({"thickness": 0.018, "start_moisture": 25}, 'Did you mean "25 %"?'),
    ({"thickness": 0.018, "start_moisture": 1.5}, "it must lie between 0 and 1.2"),
    ({"thickness": 0.018, "start_moisture": -0.1}, "it must lie between 0 and"),
    ({"thickness": 0.018, "start_humidity": 0.5, "start_moisture": 0.1}, "give one of them"),
]


@pytest.mark.parametrize(("values", "sentence"), LAYERS)
def test_layer_refuses(values, sentence):
    with pytest.raises(InputError) as caught:
        Layer(BOARD, **values)
    assert sentence in str(caught.value)
    assert caught.value.__class__ in (InputError, MaterialError)


def test_layer_refuses_what_is_no_material():
    with pytest.raises(InputError, match=r"A layer's material is 3; give the name of one in materials.names\(\)"):
        Layer(3, 0.02)
    with pytest.raises(HygroError, match="oak bord"):
        Layer("oak bord", 0.02)


SHEETS = [
    ({"material": "no such retarder"}, "No sheet 'no such retarder'"),
    ({"material": "house warp"}, "List all with materials.names(). For a sheet of your own state s_d or permeance."),
    ({"material": 5}, "A sheet's material is 5"),
    ({"material": "mine", "s_d": -1.0}, "s_d is -1 m; 0.001 to 100000 m is possible"),
    ({"material": "mine", "s_d": 0.0}, "0.001 to 100000 m is possible"),
    ({"material": "mine", "s_d": "2 perm"}, "could not be read as a length"),
    ({"material": "mine", "permeance": 5.0}, 'Did you mean "5 perm"?'),
    ({"material": "mine", "permeance": -1e-10}, "it cannot be negative"),
    ({"material": "mine", "s_d": 2.0, "permeance": 1e-10}, "state either s_d [m] or permeance, not both"),
    ({"material": SheetMaterial("x", s_d=1.0), "s_d": 2.0}, "its resistance is stated twice"),
    ({"material": "mine", "s_d": 2.0, "name": ""}, "give it a name in plain text"),
]


@pytest.mark.parametrize(("values", "sentence"), SHEETS)
def test_sheet_refuses(values, sentence):
    with pytest.raises(InputError) as caught:
        Sheet(**values)
    assert sentence in str(caught.value)


GAPS = [
    ({"thickness": -0.03, "length": 5.0}, "thickness is -0.03; it must be above 0"),
    ({"thickness": 30, "length": 5.0}, 'Did you mean "30 mm"?'),
    ({"thickness": 0.001, "length": 5.0}, "it must lie between 2 mm and 500 mm"),
    ({"thickness": 0.03, "length": 5000.0}, "it must lie between 100 mm and 100000 mm"),
    ({"thickness": 0.03, "length": float("nan")}, "it must be a finite number"),
    ({"thickness": 0.03, "length": 5.0, "flow": 50}, "give ByWindAndBuoyancy(...), FixedAirChange(...) or Closed()"),
    ({"thickness": 0.03, "length": 5.0, "slices": 0}, "it must be a whole number from 1 to 64"),
    ({"thickness": 0.03, "length": 5.0, "slices": 2.5}, "it must be a whole number from 1 to 64"),
    ({"thickness": 0.03, "length": 5.0, "flow": Closed(), "slices": 4}, "slices is 4, but the gap is closed"),
    ({"thickness": 0.03, "length": 5.0, "slices": True}, "it must be a whole number from 1 to 64"),
    ({"thickness": 0.03, "length": 5.0, "emissivity": (0.9,)}, "give two numbers above 0 and at most 1"),
    ({"thickness": 0.03, "length": 5.0, "emissivity": (0.9, 1.2)}, "give two numbers above 0 and at most 1"),
    ({"thickness": 0.03, "length": 5.0, "emissivity": 0.9}, "emissivity"),
    ({"thickness": 0.03, "length": 5.0, "name": None}, "give it a name in plain text"),
]


def test_gap_takes_any_pair_of_emissivities():
    assert VentGap(0.03, length=5.0, emissivity=np.array([0.9, 0.2])).emissivity == (0.9, 0.2)
    assert VentGap(0.03, length=5.0, emissivity=["90 %", 0.2]).emissivity == (0.9, 0.2)


@pytest.mark.parametrize(("values", "sentence"), GAPS)
def test_gap_refuses(values, sentence):
    with pytest.raises(InputError) as caught:
        VentGap(**values)
    assert sentence in str(caught.value)


GAP = VentGap("30 mm", length=5.0)
DECK = Layer(BOARD, 0.018)
ASSEMBLIES = [
    ((), {}, "has no layer; list at least one Layer, from outside to inside"),
    ((Sheet("paper", s_d=0.1),), {}, "has no layer"),
    ((DECK, "felt"), {}, "part 2 is 'felt'; it must be a Layer, a Sheet or a VentGap"),
    ((DECK, None), {}, "part 2 is None"),
    ((DECK, GAP, GAP, DECK), {}, "parts 2 and 3 are two gaps side by side"),
    ((DECK, GAP, Sheet("paper", s_d=0.1), GAP, DECK), {}, "two gaps side by side"),
    ((DECK, GAP, DECK, GAP, DECK), {}, "has 2 vent gaps; one is computed"),
    ((GAP, DECK), {}, "the vent gap is not between two layers"),
    ((DECK, GAP), {}, "the vent gap is not between two layers"),
    ((DECK, GAP, Sheet("paper", s_d=0.1)), {}, "the vent gap is not between two layers"),
    ((DECK,), {"tilt": 200}, "tilt is 200 degrees; it must lie between 0 (flat roof), 90 (wall) and 180 (floor)"),
    ((DECK,), {"tilt": -5}, "tilt is -5 degrees"),
    ((DECK,), {"tilt": float("nan")}, "tilt is nan; it must be a finite number"),
    ((DECK,), {"azimuth": 400}, "azimuth is 400 degrees; it must lie between 0 and 360, clockwise from north"),
    ((DECK,), {"azimuth": "south"}, "could not be read"),
    ((DECK,), {"finish": "shiny purple"}, "shiny purple"),
    ((DECK,), {"finish": 0.5}, "give the name of one in materials.names('finishes') or a Finish"),
]


@pytest.mark.parametrize("parts", [None, 3, "OSB"])
def test_assembly_refuses_what_is_no_list(parts):
    with pytest.raises(InputError, match="list layers, sheets and at most one gap, from outside to inside"):
        Assembly("wall", parts, tilt=90, azimuth=0, finish="weathered wood")


@pytest.mark.parametrize(("parts", "others", "sentence"), ASSEMBLIES)
def test_assembly_refuses(parts, others, sentence):
    with pytest.raises(InputError) as caught:
        _assembly(*parts, **others)
    assert sentence in str(caught.value)


def test_assembly_needs_a_name():
    with pytest.raises(InputError, match="An assembly's name is ''; give it a name in plain text"):
        Assembly("", [DECK], tilt=0, azimuth=0, finish=FINISH)


def test_labels_tell_twins_apart():
    roof = _assembly(DECK, DECK, Layer(BOARD, 0.01, name="lining"))
    assert roof.labels == ("board", "board (2)", "lining")
    assert roof.layer_number("board (2)") == 1
    with pytest.raises(InputError, match=r"has no layer 'bord'. Nearest: 'board'"):
        roof.layer_number("bord")


@pytest.mark.parametrize(
    ("tilt", "kind", "heat_flow"),
    [
        (0, "roof", "up"),
        (59, "roof", "up"),
        (60, "wall", "horizontal"),
        (120, "wall", "horizontal"),
        (180, "floor", "down"),
    ],
)
def test_kind_follows_the_tilt(tilt, kind, heat_flow):
    assert (_assembly(DECK, tilt=tilt).kind, _assembly(DECK, tilt=tilt).heat_flow) == (kind, heat_flow)


def test_rise_of_the_gap():
    assert _assembly(DECK, GAP, DECK, tilt=30).rise == pytest.approx(2.5)
    assert _assembly(DECK, tilt=30).rise == 0.0


def test_trade_units_arrive_in_si():
    assert Layer(BOARD, "3/4 in").thickness == pytest.approx(0.01905)
    assert Layer(BOARD, "18 mm", start_moisture="25 %").start_moisture == pytest.approx(0.25)
    assert Sheet("felt", permeance="5 perm").s_d() == pytest.approx(1.95e-10 / (5 * 57.2135e-12))
    assert Layer(BOARD, "18 mm").s_d() == pytest.approx(0.9)
    assert Layer(BOARD, "18 mm").thermal_resistance == pytest.approx(0.018 / 0.13)


def test_parts_are_values():
    assert Layer(BOARD, "18 mm") == Layer(BOARD, "18 mm", name="board")
    assert hash(_assembly(DECK)) == hash(_assembly(DECK))
    with pytest.raises(AttributeError):
        DECK.thickness = 0.02
    assert list(_assembly(DECK, GAP, DECK)) == [DECK, GAP, DECK]


@pytest.mark.parametrize(
    ("flow", "vented"),
    [(Closed(), False), (FixedAirChange(50), True), (ByWindAndBuoyancy(inlet=0.01, outlet=0.01), True)],
)
def test_vented_or_not(flow, vented):
    assert VentGap(0.03, length=5.0, flow=flow).is_vented is vented


def test_sheet_with_infinite_resistance():
    assert math.isinf(Sheet("foil", s_d=math.inf).s_d())
