"""Steady checks: properties of the vapour profile, the gap's rules, printed tables, figure, and bad input."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hygro import Assembly, Layer, Sheet, VentGap, climate_from_arrays
from hygro.errors import ClimateError, InputError
from hygro.gapflow import ByWindAndBuoyancy, Closed, FixedAirChange
from hygro.indoor import ConstantIndoor, HumidityClass
from hygro.plots import vapour_profile_figure
from hygro.plots.style import png
from hygro.steady import (
    AirGaps,
    BlockClimate,
    Fasteners,
    Framing,
    MonthlyOutcome,
    block_condensation,
    gap_ventilation,
    metal_part,
    monthly_condensation,
    monthly_means,
    monthly_values,
    saturation_temperature,
    surface_check,
    surface_need,
    transmittance,
)
from hygro.steady.path import chain
from hygro.steady.profile import AIR_PERMEABILITY, vapour_profile

WINTER = [-10.0, -8.0, -4.0, 2.0, 8.0, 13.0, 16.0, 15.0, 10.0, 4.0, -2.0, -7.0]
AIR = monthly_values(WINTER, 0.8, indoor_temperature=20.0, indoor_humidity=0.45)


def wall(outer="OSB", retarder=2.0, gap=None):
    parts = [Layer(outer, "12 mm"), Layer("mineral wool batt", "150 mm"), Sheet("retarder", s_d=retarder)]
    parts.append(Layer("gypsum board", "12.5 mm"))
    if gap is not None:
        parts = [Layer("softwood", "20 mm", name="cladding"), gap, *parts]
    return Assembly("my wall", parts, tilt=90, azimuth=0, finish="new wood")


@st.composite
def chains(draw):
    n = draw(st.integers(3, 9))
    steps = draw(st.lists(st.floats(0.01, 50.0), min_size=n - 1, max_size=n - 1))
    ceiling = np.sort(draw(st.lists(st.floats(100.0, 2500.0), min_size=n, max_size=n)))
    wet = np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n)))
    return np.concatenate([[0.0], np.cumsum(steps)]), ceiling, wet, draw(st.floats(50, 2000)), draw(st.floats(50, 2000))


@settings(max_examples=100, deadline=None)
@given(chains())
def test_the_profile_stays_below_saturation_and_balances(case):
    place, ceiling, wet, outer, inner = case
    found = vapour_profile(place, ceiling, wet, outer, inner)
    assert (found.pressure <= ceiling * (1 + 1e-12)).all()
    middle = wet[1:-1]
    np.testing.assert_allclose(found.pressure[1:-1][middle], ceiling[1:-1][middle], rtol=1e-12)
    # With what follows, these conditions single out the one solution: a dry plane gives off no water, and takes up some
    # only where it is saturated.
    assert (found.gain[1:-1][~middle] >= 0.0).all()
    gains = found.gain > 0.0
    np.testing.assert_allclose(found.pressure[gains], ceiling[gains], rtol=1e-12)
    flux = AIR_PERMEABILITY * np.diff(found.pressure) / np.diff(place)  # outwards, in each piece
    assert found.gain.sum() == pytest.approx(flux[-1] - flux[0], abs=1e-9 * np.abs(flux).max() + 1e-30)


@settings(max_examples=50, deadline=None)
@given(chains())
def test_the_mirror_image_gives_the_same(case):
    place, ceiling, wet, outer, inner = case
    one = vapour_profile(place, ceiling, wet, outer, inner)
    two = vapour_profile((place[-1] - place)[::-1], ceiling[::-1], wet[::-1], inner, outer)
    np.testing.assert_allclose(two.pressure[::-1], one.pressure, rtol=1e-9)
    np.testing.assert_allclose(two.gain[::-1], one.gain, rtol=1e-6, atol=1e-6 * np.abs(one.gain).max() + 1e-30)


def test_a_tighter_retarder_never_gathers_more():
    peaks = [monthly_condensation(wall(retarder=s_d), AIR, first_month=9).peak for s_d in (0.5, 2.0, 10.0, 100.0)]
    assert peaks == sorted(peaks, reverse=True)
    assert peaks[0] > 0.0


def test_what_condenses_is_what_is_held_or_dried():
    data = monthly_condensation(wall(), AIR).data
    np.testing.assert_allclose(data["condensate_change"].cumsum("month"), data["condensate_held"], atol=1e-8)
    assert float(data["condensate_held"].min()) >= 0.0


def test_the_three_outcomes():
    assert monthly_condensation(wall(retarder=1000.0), AIR).outcome is MonthlyOutcome.NONE
    assert monthly_condensation(wall(), AIR).outcome is MonthlyOutcome.DRIES
    steel = monthly_condensation(wall("steel sheet"), AIR)
    assert steel.outcome is MonthlyOutcome.STAYS
    assert "water gathers year by year" in steel.verdict
    assert "No condensation" in monthly_condensation(wall(retarder=1000.0), AIR).verdict


def test_the_first_month_is_the_first_wet_after_a_dry_one():
    result = monthly_condensation(wall(), AIR)
    first = str(result.data["month"].to_numpy()[0])
    assert float(result.data["condensate_change"].sum("node")[0]) > 0.0
    assert first in ("Sep", "Oct", "Nov", "Dec")
    frozen = monthly_values(-10.0, 0.8, indoor_temperature=20.0, indoor_humidity=0.5)
    always = monthly_condensation(wall(), frozen)
    assert str(always.data["month"].to_numpy()[0]) == "Jan"
    assert "Every month condenses" in str(always)


def test_the_table_can_be_read():
    text = str(monthly_condensation(wall(), AIR))
    assert text.startswith("my wall: condenses and dries within the year.")
    assert "A: between 'OSB' and 'mineral wool batt'" in text
    assert len([line for line in text.splitlines() if line[:3] in "JanFebMarAprMayJunJulAugSepOctNovDec"]) >= 12
    for words in ("no storage of moisture", "no liquid", "no leaking air", "Local codes"):
        assert words in text
    assert "-0.0" not in text


@pytest.mark.parametrize("openings", ["20 cm^2/m", None])
def test_a_well_ventilated_gap_cuts_off_what_lies_outside(openings):
    flow = ByWindAndBuoyancy(inlet=openings, outlet=openings) if openings else FixedAirChange(100.0)
    vented = wall(gap=VentGap("25 mm", length="2.5 m", flow=flow))
    cut, bare = chain(vented), chain(wall())
    assert [piece.name for piece in cut.pieces] == [piece.name for piece in bare.pieces]
    assert cut.outer_resistance == 0.13
    assert "left out" in cut.gap_note
    assert "'cladding'" in cut.gap_note
    closed = chain(wall(gap=VentGap("25 mm", length="2.5 m", flow=Closed())))
    assert [piece.name for piece in closed.pieces][:2] == ["cladding", "vent gap"]
    assert closed.pieces[1].s_d == 0.01
    stated = chain(vented, well_ventilated=False)
    assert stated.resistance == pytest.approx(closed.resistance)


@pytest.mark.parametrize(
    ("rate", "state"), [(10.0, "unventilated"), (50.0, "slightly ventilated"), (100.0, "well ventilated")]
)
def test_a_stated_air_change_counts_by_its_rate(rate, state):
    assert gap_ventilation(VentGap("25 mm", length="2.5 m", flow=FixedAirChange(rate)), "wall") == state


def test_resistances_that_vary_are_read_where_stated():
    smart = Assembly(
        "smart", [Layer("OSB", "12 mm"), Layer("mineral wool batt", "150 mm"), Sheet("variable retarder")],
        tilt=90, azimuth=0, finish="new wood",
    )  # fmt: skip
    dry, damp = monthly_condensation(smart, AIR, humidity=0.3), monthly_condensation(smart, AIR, humidity=0.9)
    assert dry.chain.pieces[-1].s_d == Sheet("variable retarder").s_d(0.3) > damp.chain.pieces[-1].s_d
    assert "read at 30 % relative humidity (they vary: 'OSB', 'variable retarder')" in str(dry)
    fixed = [Layer("mineral wool batt", "150 mm"), Sheet("retarder", s_d=2.0)]
    assert "they vary" not in str(
        monthly_condensation(Assembly("fixed", fixed, tilt=90, azimuth=0, finish="new wood"), AIR)
    )


def test_monthly_means_of_a_climate():
    time = pd.date_range("2021-01-01 01:00", periods=8760, freq="h")
    month = (time - pd.Timedelta(hours=1)).month.to_numpy()
    climate = climate_from_arrays(np.array(WINTER)[month - 1], np.full(8760, 0.7), start="2021-01-01")
    air = monthly_means(climate, ConstantIndoor(20.0, 0.5))
    assert air.outdoor_temperature == pytest.approx(WINTER)
    assert air.indoor_relative_humidity == pytest.approx([0.5] * 12, rel=2e-3)
    # Over liquid water in the record, so that over ice it is more.
    assert air.outdoor_relative_humidity[0] == pytest.approx(0.7 * 1.10, rel=5e-3)
    water = monthly_values(WINTER, 0.7, indoor_temperature=20, indoor_humidity=0.5, humidity_over="water")
    assert water.outdoor_vapour_pressure == pytest.approx(air.outdoor_vapour_pressure, rel=4e-3)


def test_a_climate_of_half_a_year_is_too_short():
    short = climate_from_arrays(np.zeros(4000), np.full(4000, 0.8), start="2021-01-01")
    with pytest.raises(ClimateError, match="does not cover the whole of Jun, Jul"):
        monthly_means(short, HumidityClass(2))


def test_an_interior_of_one_material_counts_by_pieces_of_a_quarter():
    pieces = chain(wall(), finest=0.25).pieces
    wool = [piece for piece in pieces if piece.name == "mineral wool batt"]
    assert len(wool) == 17
    assert sum(piece.resistance for piece in wool) == pytest.approx(0.15 / 0.036)


def test_the_figure_draws_the_wettest_month_and_all_amounts():
    result = monthly_condensation(wall("steel sheet"), AIR)
    figure = vapour_profile_figure(result)
    upper, lower = figure.axes
    lines = {line.get_label(): line for line in upper.get_lines()}
    month = upper.get_title(loc="left")[:3]
    row = result.data.sel(month=month)
    np.testing.assert_array_equal(lines["saturation"].get_ydata(), row["interface_saturation_pressure"])
    np.testing.assert_array_equal(lines["vapour pressure"].get_ydata(), row["interface_vapour_pressure"])
    assert float(row["condensate_change"].sum()) == float(result.data["condensate_change"].sum("node").max())
    heights = [bar.get_height() for bar in lower.patches]
    np.testing.assert_allclose(heights, 1e3 * result.data["condensate_held"].sum("node"))
    assert "[Pa]" in upper.get_ylabel()
    with pytest.raises(InputError, match="no month 'January'"):
        vapour_profile_figure(result, "January")
    assert vapour_profile_figure(monthly_condensation(wall(retarder=1000.0), AIR)).axes


def test_names_in_the_figure_are_text():
    odd = Assembly(
        "a $\\wall$ <b>", [Layer("OSB", "12 mm", name="$\\frac$ {board}")], tilt=90, azimuth=0, finish="new wood"
    )
    assert png(vapour_profile_figure(monthly_condensation(odd, AIR)))[:4] == b"\x89PNG"


def test_the_figure_names_all_parts_without_overlap():
    names = [
        "deck of tongue-and-groove",
        "asphalt-saturated sheathing paper",
        "mineral wool batt",
        "one",
        "two",
        "three",
    ]
    layers = [Layer("OSB", "12 mm", name=f"{name} {n}") for n, name in enumerate(names * 2)]
    figure = vapour_profile_figure(
        monthly_condensation(Assembly("many", layers, tilt=90, azimuth=0, finish="new wood"), AIR)
    )
    png(figure)
    boxes = [label.get_window_extent() for label in figure.axes[0].get_xticklabels()]
    assert len(boxes) == 12
    for left, right in pairwise(boxes):
        assert left.x1 <= right.x0 + 1.0


def test_other_results_can_be_read():
    assert "limit 80 %" in str(surface_check(wall(), AIR))
    text = str(transmittance(wall(), [Framing("softwood", "10 %", "mineral wool batt")], air_gaps=AirGaps("OSB", 0)))
    assert "softwood in mineral wool batt" in text
    assert "not for insulation bridged by metal" in text
    assert "permitted" in str(block_condensation(wall()))
    post = metal_part([Layer("steel sheet", "150 mm")], Layer("XPS", "20 mm"), **COLD)
    assert "wet without the break and dry with it" in str(post)


def test_too_cold_a_surface_is_said():
    pane = Assembly("pane", [Layer("glass pane", "4 mm")], tilt=90, azimuth=0, finish="new wood")
    check = surface_check(pane, AIR, humidity=1.0, surface_resistance=0.13)
    assert not check.passes
    assert check.verdict.startswith("Too cold")
    assert max(check.humidities) == 1.0
    assert check.critical_month == "Jan"


def test_where_indoors_is_no_warmer_no_factor_helps():
    assert surface_need(25.0, 20.0, 2300.0).factor == float("inf")
    assert surface_need(25.0, 20.0, 1000.0).factor == 0.0


def test_a_summer_block_without_drive_dries_nothing():
    damp = BlockClimate(drying_pressure=1700.0)
    assert block_condensation(wall("steel sheet"), damp).drying == 0.0
    assert block_condensation(wall(retarder=1000.0)).verdict == "No condensation in the winter block."


def test_limits_that_lie_far_apart_are_said():
    result = transmittance(
        Assembly(
            "posts", [Layer("concrete", "1 mm"), Layer("PIR board", "200 mm")], tilt=90, azimuth=0, finish="new wood"
        ),
        [Framing("concrete", 0.2, "PIR board")],
    )
    assert "does not let this method be used" in str(result)


COLD = {"outdoor_temperature": -20, "indoor_temperature": 20, "indoor_humidity": 0.4}
VENTED = wall(gap=VentGap("25 mm", length="2.5 m"))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: monthly_condensation("wall", AIR), "works on an Assembly; got str"),
        (lambda: monthly_condensation(wall(), None), "needs MonthlyAir; got NoneType"),
        (lambda: monthly_condensation(wall(), AIR, first_month=13), "first_month is 13"),
        (lambda: monthly_condensation(wall(), AIR, humidity=50), "write a fraction such as 0.5"),
        (lambda: monthly_values(WINTER[:5], 0.8, indoor_temperature=20, indoor_humidity=0.5), "has 5 values"),
        (lambda: monthly_values(WINTER, 80, indoor_temperature=20, indoor_humidity=0.5), 'Did you mean "80 %"?'),
        (lambda: monthly_values(WINTER, 0.8, indoor_temperature=20), "either indoor_humidity or humidity_class"),
        (lambda: monthly_values(WINTER, 0.8, indoor_temperature=20, humidity_class=5), "Class 5 has no limit"),
        (
            lambda: monthly_values(WINTER, 0.8, indoor_temperature=90, indoor_humidity=0.5),
            "indoor temperature in Jan is 90",
        ),
        (
            lambda: monthly_values(WINTER, 0.8, indoor_temperature=20, indoor_humidity=0.5, humidity_over="steam"),
            "must be 'ice' or 'water'",
        ),
        (lambda: monthly_means(AIR, HumidityClass(2)), "need a Climate; got MonthlyAir"),
        (lambda: surface_check(wall(), AIR, surface_resistance=0.0), "must be above 0 and at most 2"),
        (lambda: surface_check(wall(), AIR, humidity=80), 'Did you mean "80 %"?'),
        (lambda: surface_check(wall(), 3), "needs MonthlyAir; got int"),
        (lambda: saturation_temperature(0.0), "above 0"),
        (lambda: Framing("steel sheet", 0.01, "OSB"), "not for metal that bridges insulation"),
        (lambda: Framing("softwood", 10, "OSB"), 'Did you mean "10 %"?'),
        (lambda: Framing(3, 0.1, "OSB"), "give the name of one in materials.names()"),
        (lambda: transmittance(wall(), [Framing("softwood", 0.1, "wool")]), "has no layer 'wool'"),
        (lambda: transmittance(wall(), [Framing("softwood", 0.1, "OSB")] * 2), "framed twice"),
        (lambda: transmittance(VENTED, [Framing("softwood", 0.1, "cladding")]), "outside the well ventilated gap"),
        (lambda: transmittance(VENTED, air_gaps=AirGaps("cladding", 1)), "do not count. Drop them"),
        (lambda: transmittance(wall(), ["stud"]), "write Framing(material, share, layers)"),
        (lambda: AirGaps("OSB", 3), "must be 0, 1 or 2"),
        (lambda: Fasteners("OSB", 50.0, 12.6, 4.0, 0.14), "area is 12.6"),
        (lambda: BlockClimate(outdoor_humidity=80), "Did you mean 0.8?"),
        (lambda: block_condensation(wall(), 3), "needs a BlockClimate"),
        (lambda: metal_part([], Layer("XPS", "20 mm"), **COLD), "the list of parts is empty"),
        (lambda: metal_part(["steel"], Layer("XPS", "20 mm"), **COLD), "'steel' is no Layer"),
        (
            lambda: metal_part([Layer("steel sheet", "1 m")], Layer("XPS", "1 mm"), **COLD | {"indoor_humidity": 40}),
            'Did you mean "40 %"?',
        ),
        (
            lambda: metal_part(
                [Layer("steel sheet", "1 m")], Layer("XPS", "1 mm"), **COLD | {"outdoor_temperature": 30}
            ),
            "indoors must be the warmer",
        ),
        (
            lambda: metal_part([Layer("steel sheet", "1 m")], Layer("XPS", "1 mm"), **COLD, inner_area_ratio=0),
            "inner_area_ratio is 0",
        ),
        (
            lambda: metal_part([Layer("steel sheet", "1 m")], Layer("XPS", "1 mm"), **COLD, heat_flow="in"),
            "must be 'up', 'horizontal' or 'down'",
        ),
    ],
)
def test_bad_input_says_what_to_do(call, sentence):
    with pytest.raises(InputError) as caught:
        call()
    assert sentence in str(caught.value)
