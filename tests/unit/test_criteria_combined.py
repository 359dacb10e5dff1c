"""The answer in words: each outcome from a run made for it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from hygro.criteria import Level, Outcome, Verdict, combined_verdict, is_wood, layer_verdicts
from hygro.criteria.combined import is_rained_on
from hygro.criteria.trend import collects
from hygro.errors import InputError

YEAR = 8760
HOURS = np.arange(1, 2 * YEAR + 1)
WINTER = np.cos(2 * np.pi * HOURS / YEAR)  # 1 in mid-winter, -1 in mid-summer


def make_run(percent, *, humidity=0.6, wool=0.1, slices=1, sensitivity="sensitive", temperature=10.0):
    """Two years of a wooden deck over wool, one cell each."""
    percent = np.asarray(percent, dtype=float)
    percent = percent[:, None] if percent.ndim == 1 else percent
    shape = (len(HOURS), slices, 2)
    water = np.empty(shape)
    water[:, :, 0] = 4.5 * percent
    water[:, :, 1] = np.broadcast_to(np.asarray(wool, dtype=float).reshape(-1, 1), shape[:2])
    damp = np.full(shape, 0.5)
    damp[:, :, 0] = np.broadcast_to(np.asarray(humidity, dtype=float).reshape(-1, 1), shape[:2])
    cell, layer = ("time", "slice", "cell"), ("time", "slice", "layer")
    return xr.Dataset(
        {
            "temperature": (cell, np.full(shape, temperature)),
            "relative_humidity": (cell, damp),
            "water_content": (cell, water),
            "ice_content": (cell, np.zeros(shape)),
            "layer_water": (layer, water * [0.02, 0.2]),
            "outdoor_temperature": ("time", -15.0 * WINTER),
        },
        coords={
            "time": pd.date_range("2021-01-01 01:00", periods=len(HOURS), freq="h"),
            "slice": np.arange(slices),
            "layer": ["deck", "wool"],
            "cell_layer": ("cell", [0, 1]),
            "cell_thickness": ("cell", [0.02, 0.2]),
            "layer_thickness": ("layer", [0.02, 0.2]),
            "layer_density": ("layer", [450.0, 30.0]),
            "layer_bound_water": ("layer", [126.0, 0.5]),
            "layer_mould_sensitivity": ("layer", [sensitivity, ""]),
        },
    )


def test_stays_dry():
    answer = combined_verdict(make_run(12.0), "deck")
    assert (answer.outcome, answer.level) == (Outcome.DRY, Level.FINE)
    assert str(answer) == "'deck': stays dry (fine). It has no wet hour in the last year."


def test_dries_each_summer():
    answer = combined_verdict(make_run(15.0 + 7.0 * WINTER), "deck")
    assert (answer.outcome, answer.level) == (Outcome.DRIES, Level.CAUTION)
    assert answer.deciding.criterion == "moisture content"
    assert "dries each summer (caution)" in str(answer)
    assert "licensed engineer" in str(answer)


def test_dries_each_summer_but_still_fails():
    answer = combined_verdict(make_run(18.0 + 9.0 * WINTER), "deck")
    assert (answer.outcome, answer.level) == (Outcome.DRIES, Level.FAILS)


def test_wet_each_summer():
    answer = combined_verdict(make_run(15.0 - 7.0 * WINTER), "deck")
    assert (answer.outcome, answer.level) == (Outcome.SUMMER, Level.CAUTION)
    assert "wet each summer (caution)" in str(answer)


def test_stays_wet():
    answer = combined_verdict(make_run(24.0), "deck")
    assert (answer.outcome, answer.level) == (Outcome.WET, Level.CAUTION)
    assert "and its longest dry spell is 0 days" in str(answer)


def test_short_dry_spells_are_not_a_dry_summer():
    percent = np.where(HOURS % (20 * 24) < 19 * 24, 12.0, 22.0)
    assert combined_verdict(make_run(percent), "deck").outcome is Outcome.WET


def test_collects_year_by_year():
    answer = combined_verdict(make_run(12.0 + 3.0 * HOURS / YEAR), "deck")
    assert (answer.outcome, answer.level) == (Outcome.COLLECTS, Level.FAILS)
    assert answer.deciding.criterion == "yearly gain of water"
    assert "3 % of its dry mass" in str(answer)


def test_building_moisture_that_dries_out_does_not_decide_the_outcome():
    answer = combined_verdict(make_run(np.maximum(12.0, 25.0 - 13.0 * HOURS / 4000)), "deck")
    assert answer.outcome is Outcome.DRY
    assert answer.level is Level.CAUTION  # it was above 20 % at first, and the sentence says so
    assert "1 January 2021" in str(answer)


def test_one_year_is_too_short():
    answer = combined_verdict(make_run(12.0).isel(time=slice(0, YEAR)), "deck")
    assert (answer.outcome, answer.level) == (Outcome.UNKNOWN, Level.CAUTION)
    assert "too short to tell" in str(answer)
    assert "run two years or more" in str(answer)


def test_mould_makes_a_layer_with_dry_wood_wet():
    humidity = np.where(WINTER > 0.5, 0.92, 0.6)
    answer = combined_verdict(make_run(15.0, humidity=humidity, temperature=15.0), "deck")
    assert answer.outcome is Outcome.DRIES
    assert answer.deciding.criterion == "mould index"
    assert "mould can harm health" in str(answer)


@pytest.mark.parametrize("damper", ["outer", "inner"])
def test_the_worse_face_decides(damper):
    run = make_run(15.0, temperature=15.0).isel(cell=[0, 0, 1])
    run = run.assign_coords(cell_thickness=("cell", [0.01, 0.01, 0.2]))
    humidity = run["relative_humidity"].copy()
    for cell, peak in enumerate((0.95, 0.93) if damper == "outer" else (0.93, 0.95)):
        humidity[:, 0, cell] = np.where(WINTER > 0.5, peak, 0.6)
    answer = combined_verdict(run.assign(relative_humidity=humidity), "deck")
    mould = [one for one in answer.verdicts if one.criterion == "mould index"]
    assert {one.level for one in mould} == {answer.level}
    assert answer.deciding.where == f"{damper} face of 'deck'"
    assert answer.deciding.value == max(one.value for one in mould) > min(one.value for one in mould)


def test_the_worst_slice_decides():
    percent = np.full((len(HOURS), 3), 12.0)
    percent[:, 1] = 15.0 + 7.0 * WINTER
    answer = combined_verdict(make_run(percent, slices=3), "deck")
    assert answer.outcome is Outcome.DRIES
    assert "slice 2 of 3" in str(answer)


def with_a_wet_skin(rain):
    """The dry run with a outermost millimetre of the deck that is soaked."""
    run = make_run(12.0).isel(cell=[0, 0, 1])
    run = run.assign_coords(cell_thickness=("cell", [0.001, 0.02, 0.2]))
    run["water_content"] = run["water_content"] + xr.DataArray([400.0, 0.0, 0.0], dims="cell")
    return run.assign(rain_absorbed=(("time", "slice"), np.full((len(HOURS), 1), rain)))


def test_the_skin_that_rain_wets_does_not_decide():
    unexplained = combined_verdict(with_a_wet_skin(0.0), "deck")
    assert (unexplained.outcome, unexplained.level) == (Outcome.WET, Level.FAILS)
    rained_on = combined_verdict(with_a_wet_skin(1e-6), "deck")
    assert (rained_on.outcome, rained_on.level) == (Outcome.DRY, Level.FINE)
    assert is_rained_on(with_a_wet_skin(1e-6), "deck")
    assert not is_rained_on(with_a_wet_skin(1e-6), "wool")


def test_masonry_that_rain_wets_is_judged_at_its_inner_face():
    run = with_a_wet_skin(1e-6)
    assert combined_verdict(run, "deck", wood=False).outcome is Outcome.DRY
    humidity = run["relative_humidity"].copy()
    humidity[:, :, 1] = np.where(WINTER > 0.8, 1.0, 0.6)[:, None]
    wet = run.assign(relative_humidity=humidity)
    assert combined_verdict(wet, "deck", wood=False).outcome is Outcome.DRIES


def test_wet_wool():
    answer = combined_verdict(make_run(12.0, wool=np.where(WINTER > 0.8, 3.0, 0.1)), "wool")
    assert (answer.outcome, answer.level) == (Outcome.DRIES, Level.FAILS)
    assert answer.deciding.criterion == "free water and ice"
    assert [one.criterion for one in answer.verdicts] == ["yearly gain of water", "free water and ice"]


def test_a_layer_of_which_nothing_is_known_is_judged_by_its_humidity():
    run = make_run(12.0, humidity=np.where(WINTER > 0.8, 1.0, 0.6), sensitivity="")
    run = run.drop_vars("layer_bound_water")
    answer = combined_verdict(run, "deck")
    assert answer.outcome is Outcome.DRIES
    assert combined_verdict(run, "wool").outcome is Outcome.DRY


def test_layers_come_worst_first():
    answers = layer_verdicts(make_run(12.0, wool=3.0))
    assert [one.layer for one in answers] == ["wool", "deck"]


def test_wood_is_stated_or_guessed_from_mould_and_density():
    run = make_run(12.0)
    assert is_wood(run, "deck")
    assert not is_wood(run, "wool")
    stated = run.assign_coords(layer_is_wood=("layer", [False, True]))
    assert not is_wood(stated, "deck")
    assert is_wood(stated, "wool")


def test_the_order_of_outcomes():
    ranked = sorted(Outcome, key=lambda one: one.rank)
    assert ranked[0] is Outcome.DRY
    assert ranked[-1] is Outcome.COLLECTS
    assert [one.rank for one in (Level.FINE, Level.CAUTION, Level.FAILS)] == [0, 1, 2]


def test_collects_answers_for_each_slice():
    percent = np.full((len(HOURS), 2), 12.0)
    percent[:, 1] += HOURS / YEAR
    assert collects(make_run(percent, slices=2), "deck").tolist() == [False, True]


def test_a_saved_run_gives_the_same_answer(tmp_path):
    run = make_run(15.0 + 7.0 * WINTER)
    run.to_netcdf(tmp_path / "run.nc", engine="h5netcdf")
    with xr.open_dataset(tmp_path / "run.nc", engine="h5netcdf") as again:
        assert str(combined_verdict(again, "deck")) == str(combined_verdict(run, "deck"))


def test_a_verdict_takes_levels_only():
    with pytest.raises(InputError, match=r"use Level\.FINE, Level\.CAUTION or Level\.FAILS"):
        Verdict("x", "green", 1.0, "1", 2.0, None, "here", "so", "me")
