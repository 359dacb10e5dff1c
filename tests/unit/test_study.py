"""Comparing variants: order, judging, progress, refusals. A plain year without sun serves all."""

import time
from dataclasses import replace

import numpy as np
import pytest

from hygro import Assembly, Layer, Sheet, climate_from_arrays
from hygro.criteria import Level, Outcome, combined_verdict, hours_above, moisture_content
from hygro.errors import InputError
from hygro.indoor import ConstantIndoor
from hygro.study import Variant, compare

HUMID, DRY = ConstantIndoor(20.0, 0.8), ConstantIndoor(20.0, 0.2)


@pytest.fixture(scope="module")
def weather():
    day = np.sin(2.0 * np.pi * np.arange(8760) / 24.0)
    return climate_from_arrays(5.0 * day - 5.0, np.full(8760, 0.8))


def roof(name="roof"):
    parts = [Layer("plywood 500", "18 mm", name="deck"), Sheet("house wrap"), Layer("mineral wool batt", "100 mm")]
    return Assembly(name, parts, tilt=5, azimuth=180, finish="new wood")


@pytest.fixture(scope="module")
def done():
    return []


@pytest.fixture(scope="module")
def study(weather, done):
    variants = [Variant("humid", roof(), HUMID), Variant("dry", roof(), DRY)]

    def progress(number, total, result):
        done.append((number, total, result.name))

    return compare(variants, weather, layer="deck", start="1 January", years=1, progress=progress)


def test_results_keep_the_order_of_the_variants(study):
    assert [result.name for result in study.results] == ["humid", "dry"]
    assert list(study.runs) == ["humid", "dry"]


def test_progress_names_every_variant_once(study, done):
    assert [(number, total) for number, total, _ in done] == [(1, 2), (2, 2)]
    assert {name for _, _, name in done} == {"humid", "dry"}


def test_one_variant_goes_first_where_the_solver_is_not_compiled(weather, study, monkeypatch):
    """Else each thread would compile it, and say so."""
    met, running = [], []

    def simulated(assembly, *_, **__):
        running.append(assembly.name)
        met.append(len(running))
        time.sleep(0.05)
        running.remove(assembly.name)
        return study["dry"].run

    monkeypatch.setattr("hygro.study.simulate", simulated)
    monkeypatch.setattr("hygro.study._jit.is_compiled", lambda: False)
    said = []
    again = compare(
        [Variant(name, roof(name), ConstantIndoor(19 + place, 0.2)) for place, name in enumerate("abc")],
        weather, layer="deck", start="1 January", years=1,
        progress=lambda *what: said.append((*what[:2], what[2].name)),
    )  # fmt: skip
    assert list(again.runs) == ["a", "b", "c"]
    assert said[0] == (1, 3, "a")
    assert [number for number, _, _ in said] == [1, 2, 3]
    assert met[0] == met[1] == 1


def test_humid_rooms_wet_the_deck(study):
    wettest = {name: float(moisture_content(run, "deck").max()) for name, run in study.runs.items()}
    assert wettest["humid"] > wettest["dry"] + 1.0
    assert study.driest.name == "dry"


def test_of_two_that_start_equally_wet_the_one_that_dries_is_the_driest(study):
    slow = study["humid"]
    water = slow.run["water_content"]
    wettest = moisture_content(slow.run, "deck").max("slice").idxmax("time")
    drying = slow.run.assign(water_content=water.where(water["time"] == wettest, 0.9 * water))
    quick = replace(slow, variant=replace(slow.variant, name="quick"), run=drying)
    assert float(moisture_content(drying, "deck").max()) == float(moisture_content(slow.run, "deck").max())
    assert replace(study, results=(slow, quick)).driest.name == "quick"


def test_answer_is_that_of_the_criteria(study):
    assert study["humid"].answer == combined_verdict(study["humid"].run, "deck")
    assert study["humid"].answer.outcome is Outcome.UNKNOWN
    assert isinstance(study["humid"].answer.level, Level)


def test_table_holds_the_numbers_of_the_criteria(study):
    table, run = study.table(), study["humid"].run
    assert list(table.index) == ["humid", "dry"]
    row = table.loc["humid"]
    assert row["wettest mean [%]"] == float(moisture_content(run, "deck").max())
    at_face = hours_above(run, "deck", "inner")
    assert row["inner face, hours above 20 %"] == int(at_face.sel(limit=20.0).item()) > 0
    assert row["hours above 26 %"] <= row["hours above 20 %"]
    assert row["outcome"] == "too short to tell"


def test_shows_itself_in_words_and_as_a_table(study):
    assert "humid: too short to tell" in repr(study)
    assert "<table" in study._repr_html_()


def test_unknown_name_lists_the_known(study):
    with pytest.raises(InputError, match=r"No variant 'wet'. Variants: 'humid', 'dry'."):
        study["wet"]


def test_two_runs_of_the_same_variant_are_equal(weather, study):
    again = compare([Variant("dry", roof(), DRY)], weather, layer="deck", start="1 January", years=1)
    assert again["dry"].run.identical(study["dry"].run)


@pytest.mark.parametrize(
    ("variants", "message"),
    [
        ([], "No variants to compare; give at least one Variant."),
        ([Variant("a", roof(), DRY), Variant("a", roof(), HUMID)], "Two variants are named 'a'"),
        ([roof()], "Variant 1 is Assembly; give Variant"),
    ],
)
def test_refuses_what_cannot_be_compared(weather, variants, message):
    with pytest.raises(InputError, match=message):
        compare(variants, weather, layer="deck", start="1 January", years=1)


def test_refuses_a_layer_that_a_variant_lacks(weather):
    with pytest.raises(InputError, match=r"has no layer 'dekc'\. Nearest: 'deck'"):
        compare([Variant("a", roof(), DRY)], weather, layer="dekc", start="1 January", years=1)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("", roof(), DRY), "A variant's name is ''"),
        (("a", "roof", DRY), "its assembly is str; give an Assembly"),
        (("a", roof(), 0.5), "indoor is 0.5; give a model such as"),
    ],
)
def test_variant_refuses_what_cannot_be(arguments, message):
    with pytest.raises(InputError, match=message):
        Variant(*arguments)
