"""Inputs by name, sweeps and searches: addressing, labels, refusals, and searches against a criterion known in closed
form."""

import math
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from hygro import AirLeak, Assembly, Layer, Sheet, Start, VentGap, constant_climate
from hygro.criteria import moisture_content
from hygro.errors import InputError
from hygro.indoor import ConstantIndoor, Household, MoistureEvent, People
from hygro.rain import DrivingRain
from hygro.snow import FallingSnow, LyingSnow
from hygro.study import Variant, compare
from hygro.vary import FREE_WATER, WETTEST, Input, Measure, find_largest, find_smallest, inputs_of, sweep
from hygro.vary.case import Case

YEAR = {"layer": "deck", "start": "1 January", "years": 1}


def variant(name="roof", leak=None, indoor=None, gap=True):
    between = [VentGap("50 mm", length="3 m"), Sheet("breather membrane")] if gap else []
    parts = [
        Layer("plywood 500", "18 mm", name="deck"),
        *between,
        Layer("mineral wool batt", "100 mm"),
        Sheet("polyethylene 0.15 mm"),
    ]
    roof = Assembly(name, [*parts, Layer("gypsum board", "12.5 mm")], tilt=5, azimuth=180, finish="new wood")
    air = leak or AirLeak(1.0, height=1.0, into="deck")
    return Variant(name, roof, indoor or ConstantIndoor(20.0, 0.5), air, Start())


def plain():
    """As little as can get wet."""
    parts = [Layer("plywood 500", "9 mm", name="deck"), Layer("mineral wool batt", "100 mm"), Sheet("house wrap")]
    roof = Assembly("plain", parts, tilt=5, azimuth=180, finish="new wood")
    return Variant("plain", roof, ConstantIndoor(20.0, 0.5), AirLeak(1.0, height=1.0, into="deck"))


@pytest.fixture(scope="module")
def cold():
    return constant_climate(0.0, 0.8, hours=8760)


def level(run, layer):
    """A number that follows from the indoor humidity alone: no time is lost on what is sought."""
    return 100.0 * float(run["indoor_relative_humidity"][0])


@pytest.fixture
def at_once(monkeypatch):
    """Runs that state their inputs and nothing else: how values are chosen and laid out needs no solver."""

    def simulated(assembly, climate, indoor, **_):
        return xr.Dataset(
            {"indoor_relative_humidity": ("time", [indoor.relative_humidity])},
            {"layer_thickness": ("layer", [layer.thickness for layer in assembly.layers])},
        )

    monkeypatch.setattr("hygro.study.simulate", simulated)


HUMIDITY = Measure("humidity", "%", "humidity indoors", level, 43.0, "stated here")


# ---------------------------------------------------------------- inputs


@pytest.mark.parametrize(
    ("path", "value", "reads"),
    [
        ("gap.thickness", "25 mm", 0.025),
        ("gap.opening", "100 cm^2/m", 0.01),
        ("gap.screen", "50 %", 0.5),
        ("leak.q50", "2 m3/(m2 hour)", 2.0),
        ("indoor.relative_humidity", "40 %", 0.4),
        ("start.temperature", "5 degC", 5.0),
        ("deck.thickness", "3/4 in", 0.01905),
        ("mineral wool batt.conductivity", "0.04 W/(m K)", 0.04),
        ("polyethylene 0.15 mm.s_d", "20 m", 20.0),
        ("polyethylene 0.15 mm.permeance", "1 perm", 57.2135e-12),
        ("tilt", "30 deg", 30.0),
        ("finish.absorptance", 0.2, 0.2),
    ],
)
def test_an_input_is_put_where_its_name_says_and_read_back_in_si(path, value, reads):
    base = variant()
    before = repr(base)
    changed = Input(path).put(base, value)
    assert Input(path).read(changed) == pytest.approx(reads, rel=1e-4)
    assert repr(base) == before
    assert Input(path).put(changed, Input(path).read(base)) == base  # nothing else has changed


def test_an_opening_is_both_openings_and_only_they():
    changed = Input("gap.opening").put(variant(), "90 cm^2/m")
    assert (changed.assembly.gap.flow.inlet, changed.assembly.gap.flow.outlet) == pytest.approx((0.009, 0.009))
    alone = Input("gap.inlet").put(variant(), "90 cm^2/m")
    assert (alone.assembly.gap.flow.inlet, alone.assembly.gap.flow.outlet) == pytest.approx((0.009, 0.002))


def test_curves_of_a_material_are_scaled_as_a_whole():
    base = variant().assembly.layers[0].material
    humid = np.array([0.3, 0.6, 0.9, 0.98])
    tight = Input("deck.times_vapour_resistance").put(variant(), 1.5).assembly.layers[0].material
    assert tight.vapour_resistance_factor(humid) == pytest.approx(1.5 * base.vapour_resistance_factor(humid))
    thirsty = Input("deck.times_sorption").put(variant(), 1.2).assembly.layers[0].material
    assert thirsty.water_content(humid) == pytest.approx(1.2 * base.water_content(humid))
    assert thirsty.saturation == base.saturation
    heavy = Input("deck.density").put(variant(), 600).assembly.layers[0].material
    assert heavy.water_content(humid) / heavy.density == pytest.approx(base.water_content(humid) / base.density)


def test_sources_of_a_household_are_named_by_their_kind():
    shower = MoistureEvent("shower", 0.5, (7,))
    home = Household(35.0, 20.0, 0.3, (People(2), shower), None)
    base = variant(indoor=home)
    assert Input("indoor.people.count").put(base, 4).indoor.sources == (People(4), shower)
    assert Input("indoor.infiltration").put(base, 0.6).indoor.infiltration == 0.6


def test_all_listed_inputs_can_be_read_and_put_back():
    base = variant()
    for path in inputs_of(base).index:
        one = Input(path)
        assert one.put(base, one.read(base)) == base or path.split(".")[-1].startswith(("times_", "s_d", "permeance"))


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("gap.thicknes", "Nearest: 'gap.thickness'"),
        ("roof.thickness", "Nearest: .*'deck.thickness'|Nearest: .*thickness"),
        ("polyethylene 0.15 mm.thickness", "has no input"),
        ("deck", "has no input|neither|Layer"),
        ("", "give a path"),
    ],
)
def test_an_input_that_does_not_exist_is_refused_with_the_nearest(path, says):
    with pytest.raises(InputError, match=says):
        Input(path).put(variant(), 0.02)


def test_an_input_of_a_part_that_is_not_there_says_so():
    with pytest.raises(InputError, match="has no gap"):
        Input("gap.thickness").put(variant(gap=False), 0.02)


def test_rain_and_snow_are_inputs_where_they_are_stated():
    snowy = replace(
        variant(), rain=DrivingRain(into="deck"), snow=LyingSnow("30 cm", since="1 December", until="1 April")
    )
    now = inputs_of(snowy)["now"]
    assert (now["rain.defect"], now["rain.deposition"], now["snow.depth"]) == ("1 %", "0.5", "0.3 m")
    assert Input("rain.defect").put(snowy, "3 %").rain == DrivingRain(into="deck", defect=0.03)
    assert Input("rain.exposure").put(snowy, 1.4).rain.exposure == 1.4
    deeper = Input("snow.depth").put(snowy, "50 cm").snow
    assert deeper == LyingSnow(0.5, since="1 December", until="1 April")
    falling = replace(snowy, snow=FallingSnow())
    assert Input("snow.melt").put(falling, 4.0).snow == FallingSnow(melt=4.0)
    for path in [name for name in now.index if name.startswith(("rain", "snow"))]:
        assert Input(path).put(snowy, Input(path).read(snowy)) == snowy, path
    with pytest.raises(InputError, match="has no rain stated"):
        Input("rain.defect").put(variant(), 0.02)
    with pytest.raises(InputError, match="depth is 9"):
        Input("snow.depth").put(snowy, 9.0)


def test_a_value_that_cannot_be_is_refused_in_the_words_of_its_part():
    with pytest.raises(InputError, match=r"thickness is -1; it must be above 0"):
        Input("gap.thickness").put(variant(), -1)
    with pytest.raises(InputError, match="multiplied by -2"):
        Input("deck.times_sorption").put(variant(), -2)


def test_a_function_of_ones_own_must_return_a_variant():
    with pytest.raises(InputError, match="gave back NoneType"):
        Input("mine", lambda *_: None).put(variant(), 1)


# ---------------------------------------------------------------- sweeps


def test_a_sweep_is_a_dataset_with_a_labelled_dimension_for_each_input(cold):
    found = sweep(
        plain(),
        {"indoor.relative_humidity": ["40 %", "45 %"], "deck.thickness": ["12 mm", "15 mm"]},
        cold, **YEAR, measures=(HUMIDITY, WETTEST), daily=True,
    )  # fmt: skip
    assert dict(found.sizes) == {"indoor_relative_humidity": 2, "deck_thickness": 2, "day": 365}
    assert found["deck_thickness"].to_numpy() == pytest.approx([0.012, 0.015])
    assert found["deck_thickness"].attrs["units"] == "m"
    assert found["deck_thickness"].attrs["input"] == "deck.thickness"
    assert found["humidity"].sel(indoor_relative_humidity=0.4).to_numpy() == pytest.approx([40.0] * 2)
    assert found["humidity"].attrs == {
        "units": "%", "long_name": "humidity indoors", "limit": 43.0, "limit_source": "stated here",
    }  # fmt: skip
    assert found["passes"].to_numpy().tolist() == [[True] * 2, [False] * 2]
    # One corner by the plain road.
    put = Input("deck.thickness").put(Input("indoor.relative_humidity").put(plain(), 0.45), "12 mm")
    content = moisture_content(Case(put, cold, **YEAR).run(), "deck")
    corner = found.sel(indoor_relative_humidity=0.45, deck_thickness=0.012)
    assert float(corner["wettest"]) == float(content.max())
    assert corner["moisture_content"][10] == pytest.approx(float(content[240:264].mean()), rel=1e-6)


def test_a_sweep_takes_words_and_climates(cold, at_once):
    warm = constant_climate(10.0, 0.8, hours=8760)
    found = sweep(
        variant(),
        {"climate": [cold, warm], "finish": ["new wood", "dark coated metal"]},
        cold,
        **YEAR,
        measures=[HUMIDITY],
    )
    assert found["finish"].to_numpy().tolist() == ["new wood", "dark coated metal"]
    assert found.sizes["climate"] == 2


@pytest.mark.parametrize(
    ("over", "says"),
    [
        ({}, "give inputs and their values"),
        ({"gap.thickness": []}, "no value"),
        ({"gap.thickness": ["25 mm", 0.025]}, "nothing differs"),
        ({"gap.thickness": "25 mm"}, "give a list"),
        ({"gap.thick": ["25 mm"]}, "Nearest: 'gap.thickness'"),
        ({3: [1]}, "does not name an input"),
        ({"gap.thickness": ["25 mm"], Input("gap thickness", lambda v, _: v): [1]}, "same name"),
        ({"tilt": list(range(150)), "azimuth": list(range(150))}, "at most 20000"),
    ],
)
def test_sweeps_that_make_no_sense_are_refused(over, says, cold):
    with pytest.raises(InputError, match=says):
        sweep(variant(), over, cold, **YEAR)


def test_a_layer_that_is_not_there_is_refused_before_any_run(cold):
    with pytest.raises(InputError, match=r"no layer 'dekc'\. Nearest: 'deck'"):
        sweep(variant(), {"gap.thickness": ["25 mm"]}, cold, layer="dekc", start="1 January", years=1)


# ---------------------------------------------------------------- searches


def test_a_search_closes_in_on_the_value_that_is_known(cold, at_once):
    found = find_largest(
        variant(), "indoor.relative_humidity", ("20 %", "80 %"), cold, **YEAR, measure=HUMIDITY, closeness=0.001
    )
    assert 0.43 - 0.001 * 0.6 <= found.value <= 0.43
    assert found.goes_one_way
    assert "the largest indoor.relative_humidity that passes is 4" in found.answer
    assert list(found.trail.columns) == ["value", "humidity", "passes"]
    assert (found.trail["humidity"] / 100.0).to_numpy() == pytest.approx(found.trail["value"].to_numpy())
    assert "indoor.relative_humidity" in repr(found)


def dry_when_wide(run, layer):
    """Falls with the thickness of the deck, over decades: 1/d."""
    return 1.0 / float(run["layer_thickness"][0])


def test_a_search_over_decades_steps_by_shares(cold, at_once):
    measure = Measure("inverse", "m-1", "inverse thickness", dry_when_wide, 1.0 / 0.0371, "stated here")
    found = find_smallest(
        variant(), "deck.thickness", ("3 mm", "300 mm"), cold, **YEAR, measure=measure, closeness=0.01
    )
    assert 0.0371 <= found.value <= 0.0371 * 1.01
    tried = found.trail["value"].to_numpy()[:5]
    assert tried[1:] / tried[:-1] == pytest.approx(np.full(4, math.sqrt(10.0)))
    assert (tried[0], tried[-1]) == (0.003, 0.3)


@pytest.mark.parametrize(
    ("search", "limit", "says"),
    [
        (find_largest, 90.0, "everything passes from 20 % to 80 %, 80 % too"),
        (find_smallest, 90.0, "everything passes from 20 % to 80 %, 20 % too"),
        (find_largest, 10.0, "nothing passes between 20 % and 80 %. The best is 20 %"),
        (find_smallest, 43.0, "passing goes the other way"),
    ],
)
def test_a_search_without_an_edge_says_so_in_words(search, limit, says, cold, at_once):
    measure = Measure("humidity", "%", "humidity indoors", level, limit, "stated here")
    found = search(variant(), "indoor.relative_humidity", (0.2, 0.8), cold, **YEAR, measure=measure)
    assert found.value is None
    assert says in found.answer


def humped(run, layer):
    """Highest at 50 % indoors."""
    return 1.0 - 4.0 * (float(run["indoor_relative_humidity"][0]) - 0.5) ** 2


def test_a_criterion_that_turns_is_reported_and_nothing_beyond_a_failure_is_recommended(cold, at_once):
    measure = Measure("hump", "1", "hump", humped, 0.84, "stated here")  # passes up to 0.3 and from 0.7 on
    found = find_largest(
        variant(), "indoor.relative_humidity", (0.1, 0.9), cold, **YEAR, measure=measure, closeness=1e-3
    )
    assert found.value == pytest.approx(0.3, abs=0.001)
    assert not found.goes_one_way
    assert "does not go one way" in found.answer


def test_a_real_search_brackets_the_limit(cold):
    """The wettest deck rises with the leak; the value found passes, and the next one tried does not."""
    limit = Measure("wettest", "%", "moisture content", WETTEST.value, 18.0, "stated here")
    found = find_largest(plain(), "leak.q50", (0.05, 5.0), cold, **YEAR, measure=limit, closeness=0.2)
    ordered = found.trail.sort_values("value")
    passes = ordered["passes"].to_numpy()
    assert found.goes_one_way
    assert found.value == ordered["value"][passes].max()
    assert ordered["value"].to_numpy()[passes.sum()] / found.value <= math.exp(0.2)
    assert not passes[passes.sum() :].any()


@pytest.mark.parametrize(
    ("between", "options", "says"),
    [
        (("80 %", "20 %"), {}, "no range"),
        ("20 %", {}, "give the lowest and the highest"),
        ((0.2, 0.8), {"measure": Measure("x", "1", "x", level, math.inf, "")}, "with a limit"),
        ((0.2, 0.8), {"closeness": 0.0}, "closeness is 0"),
        ((0.2, 1.8), {}, "1.8"),
    ],
)
def test_searches_that_make_no_sense_are_refused(between, options, says, cold):
    with pytest.raises(InputError, match=says):
        find_largest(variant(), "indoor.relative_humidity", between, cold, **YEAR, **options)


def test_a_measure_needs_a_name_a_function_and_a_limit():
    for wrong, says in (
        ({"name": "two words"}, "one word"),
        ({"value": 3}, "give a function"),
        ({"limit": math.nan}, "give a number"),
    ):
        with pytest.raises(InputError, match=says):
            Measure(**({"name": "x", "unit": "1", "words": "x", "value": level, "limit": 1.0, "source": ""} | wrong))
    assert FREE_WATER.passes(0.2)
    assert not FREE_WATER.passes(0.21)


def test_variants_that_differ_in_nothing_are_refused(cold):
    with pytest.raises(InputError, match="'a' and 'b' differ in nothing"):
        compare([variant("a"), variant("b")], cold, **YEAR)
