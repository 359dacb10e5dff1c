"""Criteria on synthetic runs: picking places, moisture content, 30-day mean, corrosion, condensate, trend, drying."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from hygro import criteria
from hygro.criteria import select
from hygro.criteria.series import LayerSeries
from hygro.criteria.wood import DECAY_ONSET, DECAY_SAFETY, DRY_LUMBER, LIMITS, MoistureLimit
from hygro.errors import InputError
from hygro.variables import CRITERION, RUN
from hygro.vary import FREE_WATER, LEVEL, MOULD, WETTEST, WETTEST_FACE

LABELS = ["deck", "wool", "retarder", "lining"]
CELL_LAYER = np.array([0, 0, 0, 1, 1, 3, 3])
CELL_THICKNESS = np.array([0.002, 0.014, 0.002, 0.1, 0.1, 0.006, 0.006])
DENSITY = np.array([450.0, 30.0, 900.0, 700.0])
BOUND = np.array([126.0, 0.5, np.nan, 20.0])
WARM = (4, 5, 6, 7, 8, 9)


def make_run(hours=48, *, start="2021-01-01 01:00", slices=1, **fields):
    """A run of four layers: three cells of deck, two of wool, a sheet without cells, two of lining."""
    shape = (hours, slices, CELL_LAYER.size)
    given_fields = {"temperature": 20.0, "relative_humidity": 0.5, "water_content": 45.0, "ice_content": 0.0} | fields
    data = {}
    for name, value in given_fields.items():
        dims = RUN[name].dims
        numbers = np.asarray(value, dtype=float)
        full = shape if dims[-1] == "cell" else shape[: len(dims)]
        data[name] = (dims, np.broadcast_to(numbers.reshape(numbers.shape + (1,) * (len(full) - numbers.ndim)), full))
    water = data["water_content"][1] * CELL_THICKNESS
    layers = np.stack([water[:, :, number == CELL_LAYER].sum(axis=2) for number in range(4)], axis=2)
    data.setdefault("layer_water", (RUN["layer_water"].dims, layers))
    return xr.Dataset(
        data,
        coords={
            "time": pd.date_range(start, periods=hours, freq="h"),
            "slice": np.arange(slices),
            "slice_position": ("slice", np.arange(slices) + 0.5),
            "layer": LABELS,
            "cell_layer": ("cell", CELL_LAYER),
            "cell_thickness": ("cell", CELL_THICKNESS),
            "layer_thickness": ("layer", [0.018, 0.2, 0.0002, 0.012]),
            "layer_density": ("layer", DENSITY),
            "layer_bound_water": ("layer", BOUND),
            "layer_mould_sensitivity": ("layer", ["sensitive", "", "", "medium resistant"]),
        },
    )


def by_cell(*numbers):
    return np.broadcast_to(np.array(numbers, dtype=float), (48, 1, 7))


# --- picking -------------------------------------------------------------------------------------------------------


def test_faces_are_the_outermost_and_innermost_cells():
    run = make_run()
    assert select.face_cell(run, "deck", "outer") == 0
    assert select.face_cell(run, "deck", "inner") == 2
    assert select.face_cell(run, "lining", "inner") == 6
    assert select.layer_cells(run, "wool").tolist() == [3, 4]
    assert select.storing_layers(run) == ["deck", "wool", "lining"]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda run: criteria.moisture_content(run, "dek"), "No layer 'dek' in this run. Nearest: 'deck'."),
        (lambda run: criteria.moisture_content(run, "xyz"), "Layers of this run: 'deck', 'wool', 'retarder', 'lining'"),
        (lambda run: criteria.moisture_content(run, 3), "A layer is picked by its label; got 3."),
        (lambda run: criteria.moisture_content(run, "retarder"), "has no cells in this run"),
        (lambda run: criteria.moisture_content(run, "deck", "top"), 'Write "mean", "outer" or "inner"'),
        (lambda run: criteria.frost(run, "retarder"), "Choose one of 'deck', 'wool', 'lining'"),
        (lambda run: criteria.mould_index(run, "deck", "left"), "there is no face 'left'"),
        (
            lambda run: criteria.mould_index(run.drop_vars("temperature"), "deck"),
            "The run has no variable 'temperature'",
        ),
        (lambda run: criteria.mould_index(run.drop_vars("cell_layer"), "deck"), "no coordinate 'cell_layer'"),
        (lambda run: criteria.mould_index(run.isel(slice=0), "deck"), "no dimension 'slice'"),
        (lambda run: criteria.mould_index(run.isel(time=slice(0, 1)), "deck"), "holds 1 hour"),
        (lambda run: criteria.mould_index(run.isel(time=[0, 1, 3]), "deck"), "2021-01-01 02:00 is followed by"),
        (lambda _: criteria.mould_index({}, "deck"), "got dict"),
        (lambda run: criteria.mould_index(run.assign_coords(time=np.arange(48)), "deck"), "not dates"),
        (
            lambda run: criteria.frost(run.assign(ice_content=run.ice_content.isel(slice=0)), "deck"),
            "has the dimensions",
        ),
        (lambda run: criteria.thirty_day_verdict(run, "deck"), "needs at least 720"),
        (lambda run: criteria.condensate(run.drop_vars("layer_bound_water"), "deck"), "Pass bound_water=..."),
        (lambda run: criteria.condensate(run, "deck", -1.0), "condensate needs 0 or more"),
        (lambda run: criteria.seasons(run), "no hours in the months [2, 3"),
        (lambda run: criteria.warm_months(run, (13,)), "write some but not all"),
        (lambda run: criteria.warm_months(run, (1, 3)), "must follow each other without a gap"),
        (lambda run: criteria.yearly_gain(run, "deck"), "The run holds 2 days"),
        (lambda run: criteria.drying_time(run, "deck", below=-3.0), "write a moisture content such as 18"),
        (lambda run: criteria.drying_time(run, "deck", below=18.0, since="someday"), "'someday' is no date"),
        (lambda run: criteria.drying_time(run, "deck", below=18.0, since="2025-01-01"), "outside the run"),
        (lambda run: criteria.drying_verdict(run, "deck", below=18.0, within=0.0), "write hours above 0"),
        (lambda run: criteria.drying_time_of_excess(run, run, "deck"), "it must hold more than 0"),
        (lambda run: criteria.drying_time_of_excess(run, run, "deck", remaining=2.0), "write a fraction such as 0.1"),
        (lambda run: criteria.excess_water(run, make_run(50), "deck"), "the reference 50"),
        (lambda run: criteria.inward_verdict(run, "retarder", WARM), "has no cells"),
        (lambda run: criteria.inward_verdict(run, "wool", WARM), "no hour in the warm months"),
        (lambda _: MoistureLimit(-1.0, "x", "y"), "must lie between 0 and 500 %"),
    ],
)
def test_bad_input_says_what_to_do(call, sentence):
    with pytest.raises(InputError) as caught:
        call(make_run())
    assert sentence in str(caught.value)


def test_a_gap_in_the_run_names_its_hour():
    humidity = np.full(48, 0.5)
    humidity[30] = np.nan
    with pytest.raises(InputError, match="'relative_humidity' is not a number at 2021-01-02 07:00"):
        criteria.mould_index(make_run(relative_humidity=humidity), "deck")


def test_no_density_no_percent():
    run = make_run().assign_coords(layer_density=("layer", np.zeros(4)))
    with pytest.raises(InputError, match="needs a density"):
        criteria.moisture_content(run, "deck")


# --- moisture content ----------------------------------------------------------------------------------------------


def test_moisture_content_of_parts():
    run = make_run(water_content=by_cell(90, 45, 0, 0, 0, 0, 0))
    outer = (90 * 0.002 + 45 * 0.001) / 0.003 / 450 * 100
    assert criteria.moisture_content(run, "deck", "outer").to_numpy() == pytest.approx(outer)
    assert criteria.moisture_content(run, "deck", "inner").to_numpy() == pytest.approx(45 * 0.001 / 0.003 / 450 * 100)
    mean = (90 * 0.002 + 45 * 0.014) / 0.018 / 450 * 100
    result = criteria.moisture_content(run, "deck")
    assert result.to_numpy() == pytest.approx(mean)
    assert result.attrs["units"] == "%"
    assert result.dims == ("time", "slice")


def test_a_face_is_a_third_of_a_thin_layer():
    thin = CELL_THICKNESS.copy()
    thin[:3] = 0.001, 0.001, 0.0016  # a third of 3.6 mm is 1.2 mm
    run = make_run(water_content=by_cell(90, 45, 9, 0, 0, 0, 0)).assign_coords(cell_thickness=("cell", thin))
    outer = (90 * 0.001 + 45 * 0.0002) / 0.0012 / 450 * 100
    assert criteria.moisture_content(run, "deck", "outer").to_numpy() == pytest.approx(outer)
    assert criteria.moisture_content(run, "deck", "inner").to_numpy() == pytest.approx(9 / 450 * 100)


def test_hoarfrost_on_a_face_counts_against_three_millimetres():
    """0.6 mm that holds 70 % of its mass, mostly ice, before 2.4 mm at 12 %; the ice is counted, not dropped."""
    run = make_run(
        water_content=by_cell(54, 54, 315, 0, 0, 0, 0), ice_content=by_cell(0, 0, 250, 0, 0, 0, 0)
    ).assign_coords(cell_thickness=("cell", [0.002, 0.0154, 0.0006, 0.1, 0.1, 0.006, 0.006]))
    mixed = (70 * 0.6 + 12 * 2.4) / 3.0
    assert criteria.moisture_content(run, "deck", "inner").to_numpy() == pytest.approx(mixed)


@given(scale=st.floats(0.0, 3.0), water=st.floats(0.1, 300.0))
def test_moisture_content_scales_with_the_water(scale, water):
    one = criteria.moisture_content(make_run(3, water_content=water), "deck").to_numpy()
    other = criteria.moisture_content(make_run(3, water_content=scale * water), "deck").to_numpy()
    assert other == pytest.approx(scale * one, abs=1e-9)


def test_hours_above_limits():
    percent = np.concatenate([np.full(10, 17.0), np.full(20, 19.5), np.full(18, 27.0)])
    hours = criteria.hours_above(make_run(water_content=4.5 * percent), "deck")
    assert dict(zip(hours["limit"].to_numpy(), hours.to_numpy()[:, 0], strict=True)) == {
        16.0: 48, 18.0: 38, 19.0: 38, 20.0: 18, 26.0: 18, 28.0: 0,
    }  # fmt: skip
    assert len(hours["limit_name"]) == len(LIMITS)


def test_a_layer_that_was_built_wet_says_when_it_is_dry():
    """Above 20 % of 450 kg/m3 in the first ten hours; then in the last as well."""
    water = np.where(np.arange(48) < 10, 95.0, 60.0)
    said = criteria.moisture_content_verdict(make_run(water_content=water), "deck").because
    assert said.endswith("in 10 of 48 hours, for the last time on 1 January 2021 10:00.")
    water[-1] = 95.0
    said = criteria.moisture_content_verdict(make_run(water_content=water), "deck").because
    assert said.endswith("in 11 of 48 hours, at the end still.")


@pytest.mark.parametrize(("percent", "level"), [(20.0, "fine"), (20.1, "caution"), (26.0, "caution"), (26.1, "fails")])
def test_moisture_content_verdict(percent, level):
    water = np.full((48, 2), 45.0)
    water[7, 1] = 4.5 * percent
    verdict = criteria.moisture_content_verdict(make_run(slices=2, water_content=water), "deck", "inner")
    assert verdict.level == level
    assert verdict.value == pytest.approx(percent)
    assert verdict.when == pd.Timestamp("2021-01-01 08:00")
    assert "inner face of 'deck', slice 2 of 2 from the inlet" in str(verdict)
    assert ("licensed engineer" in str(verdict)) == (level != "fine")


def test_another_limit():
    run = make_run(water_content=4.5 * 19.5)
    assert criteria.moisture_content_verdict(run, "deck", limit=DRY_LUMBER).level == "caution"
    assert criteria.moisture_content_verdict(run, "deck", limit=DECAY_SAFETY).level == "fine"
    assert criteria.moisture_content_verdict(run, "deck", limit=DECAY_ONSET).level == "fine"


# --- 30 days and corrosion -----------------------------------------------------------------------------------------


def test_thirty_day_mean_is_the_mean_of_the_last_720_hours():
    humidity = np.linspace(0.2, 0.9, 1500)
    result = criteria.relative_humidity_30_day(make_run(1500, relative_humidity=humidity), "deck").to_numpy()[:, 0]
    assert np.isnan(result[:719]).all()
    assert result[719] == pytest.approx(humidity[:720].mean())
    assert result[-1] == pytest.approx(humidity[-720:].mean())


@pytest.mark.parametrize(
    ("temperature", "humidity", "level"),
    [(20.0, 0.79, "fine"), (20.0, 0.80, "fails"), (4.9, 0.95, "fine"), (5.0, 0.95, "fails"), (40.1, 0.95, "fine")],
)
def test_thirty_day_verdict(temperature, humidity, level):
    run = make_run(800, temperature=temperature, relative_humidity=humidity + 1e-9)
    verdict = criteria.thirty_day_verdict(run, "deck")
    assert verdict.level == level
    assert verdict.value == pytest.approx(100 * humidity)


def test_thirty_day_means_of_a_step_by_hand():
    # 70 % for 720 hours, then 88 %: k hours after the step the mean is 70 + 18 k / 720 %: 80 % at k = 400.
    # It is 3 degC until 200 hours after the step and 23 degC from then on: the 30-day mean reaches 5 degC with
    # 3 + 20 m / 720, at m = 72, so that all hours from k = 400 on count.
    hours = 720 + 720
    humidity = np.repeat([0.70, 0.88], 720)
    warmth = np.where(np.arange(hours) < 720 + 200, 3.0, 23.0)
    run = make_run(hours, temperature=warmth, relative_humidity=humidity)
    mean = criteria.relative_humidity_30_day(run, "deck").to_numpy()[:, 0]
    assert mean[720 + 180 - 1] == pytest.approx(0.70 + 0.18 * 180 / 720)
    warm = criteria.temperature_30_day(run, "deck").to_numpy()[:, 0]
    assert warm[720 + 200 + 72 - 1] == pytest.approx(5.0)
    verdict = criteria.thirty_day_verdict(run, "deck")
    assert verdict.level == "fails"
    assert verdict.value == pytest.approx(88.0)
    assert verdict.when == pd.Timestamp(run["time"].to_numpy()[-1])
    short = run.isel(time=slice(0, 720 + 350))  # until k = 350: 78.75 %
    assert criteria.thirty_day_verdict(short, "deck").level == "fine"
    assert criteria.thirty_day_verdict(short, "deck").value == pytest.approx(78.75)
    corrosion = criteria.corrosion_verdict(run, "deck", wood=False)
    assert corrosion.value == pytest.approx(100.0 * 321 / hours, abs=100.0 / hours + 1e-9)  # k from 400 to 720
    assert corrosion.limit == 0.0


def test_corrosion_by_humidity_and_by_wood_moisture():
    damp = make_run(800, relative_humidity=0.85)
    assert criteria.corrosion_verdict(damp, "deck").level == "caution"
    assert criteria.corrosive(damp, "deck").to_numpy().sum() == 81
    wet = make_run(800, water_content=4.5 * 18.1)
    assert criteria.corrosion_verdict(wet, "deck").value == pytest.approx(100.0)
    assert criteria.corrosion_verdict(wet, "deck", wood=False).level == "fine"


# --- water, ice, seasons -------------------------------------------------------------------------------------------


def test_condensate_counts_only_what_is_past_the_bound_water():
    run = make_run(water_content=by_cell(0, 0, 0, 0.4, 2.5, 0, 0))
    assert criteria.condensate(run, "wool").to_numpy() == pytest.approx(0.2)
    assert criteria.condensate(run, "wool", 0.0).to_numpy() == pytest.approx(0.29)
    assert criteria.condensate(run, "deck").to_numpy() == pytest.approx(0.0)


def test_a_material_that_binds_none_has_only_free_water():
    run = make_run(water_content=by_cell(0, 0, 0, 0, 0, 10, 10)).assign_coords(
        layer_bound_water=("layer", [np.nan] * 4)
    )
    assert criteria.condensate(run, "lining").to_numpy() == pytest.approx(0.12)


def test_a_film_is_free_water_and_no_part_of_the_material():
    run = make_run(water_content=by_cell(90, 45, 45, 0, 0, 0, 0), ice_content=by_cell(80, 0, 0, 0, 0, 0, 0))
    run = run.assign_coords(cell_is_film=("cell", [1, 0, 0, 0, 0, 0, 0]))
    assert criteria.moisture_content(run, "deck").to_numpy() == pytest.approx(10.0)
    assert criteria.moisture_content(run, "deck", "outer").to_numpy() == pytest.approx(10.0)
    assert criteria.condensate(run, "deck").to_numpy() == pytest.approx(90 * 0.002)
    assert criteria.frost(run, "deck").to_numpy() == pytest.approx(80 * 0.002)


@pytest.mark.parametrize(("free", "level"), [(0.005, "fine"), (0.1, "caution"), (0.21, "fails")])
def test_condensate_verdict(free, level):
    water = np.full(48, 0.5)
    water[40] += free / 0.2
    verdict = criteria.condensate_verdict(make_run(water_content=water), "wool")
    assert verdict.level == level
    assert verdict.value == pytest.approx(free)
    assert verdict.when == pd.Timestamp("2021-01-02 17:00")


def yearly(hours, amplitude=15.0, mean=5.0, start="2021-01-01 01:00"):
    begins = pd.date_range(start, periods=hours, freq="h") - pd.Timedelta(hours=1)
    return mean - amplitude * np.cos(2 * np.pi * (begins.day_of_year.to_numpy() - 1) / 365)


def test_warm_months_in_both_hemispheres():
    assert criteria.warm_months(make_run(8760, temperature=yearly(8760))) == WARM
    assert criteria.warm_months(make_run(8760, temperature=-yearly(8760))) == (10, 11, 12, 1, 2, 3)


def test_the_outdoor_air_decides_where_the_run_has_it():
    run = make_run(8760, temperature=-yearly(8760), outdoor_temperature=yearly(8760))
    assert criteria.warm_months(run) == WARM


def test_an_hour_belongs_to_the_season_in_which_it_begins():
    run = make_run(3 * 24, start="2021-03-31 01:00")
    label = criteria.seasons(run, WARM)
    assert label[23] == "winter 2020/21"  # stamp 1 April 00:00
    assert label[24] == "summer 2021"
    assert set(criteria.seasons(run, (10, 11, 12, 1, 2, 3))) == {"summer 2020/21", "winter 2021"}


def test_frost_and_drip_by_season():
    hours = 2 * 8760
    ice = np.zeros(hours)
    ice[100], ice[8000], ice[9000] = 1.0, 2.0, 3.0
    run = make_run(hours, ice_content=ice, drip=np.full(hours, 1e-6))
    winters = criteria.frost_by_winter(run, "wool", WARM)
    assert winters["winter"].to_numpy().tolist() == ["winter 2020/21", "winter 2021/22", "winter 2022/23"]
    assert winters.to_numpy()[:, 0] == pytest.approx([0.2, 0.6, 0.0])
    drips = criteria.drip_by_season(run, WARM)
    assert float(drips.sum()) == pytest.approx(hours * 3600 * 1e-6)
    assert drips.sel(season="summer 2021").item() == pytest.approx(183 * 24 * 3600e-6)
    assert drips["hours"].sum().item() == hours


def test_condensate_by_season():
    # What the deck binds is 126 kg/m3: 136 in all 18 mm are 0.18 kg/m2 free, in the winter that begins the record.
    water = np.full(2 * 8760, 45.0)
    water[50], water[5000] = 136.0, 131.0
    most = criteria.condensate_by_season(make_run(2 * 8760, water_content=water), "deck", WARM)
    assert most.sel(season="winter 2020/21").item() == pytest.approx(0.18)
    assert most.sel(season="summer 2021").item() == pytest.approx(0.09)
    assert most.sel(season="winter 2021/22").item() == 0.0


@pytest.mark.parametrize(("kilograms", "level"), [(0.005, "fine"), (0.1, "caution"), (0.25, "fails")])
def test_drip_verdict(kilograms, level):
    hours = 8760
    drip = np.zeros((hours, 2))
    drip[5000:5010, 1] = kilograms / 10.0 / 3600.0
    drip[5005, 1] *= 1.001
    verdict = criteria.drip_verdict(make_run(hours, slices=2, drip=drip), WARM)
    assert verdict.level == level
    assert verdict.value == pytest.approx(kilograms, rel=1e-3)
    assert verdict.limit == 0.2
    assert verdict.when == pd.Timestamp("2021-01-01 01:00") + pd.Timedelta(hours=5005)
    assert "slice 2 of 2" in verdict.where
    assert ("worst half year is summer 2021" in verdict.because) == (level != "fine")
    nothing = criteria.drip_verdict(make_run(hours, drip=np.zeros(hours)), WARM)
    assert nothing.level == "fine"
    assert nothing.when is None


def test_frost_verdict():
    ice = np.zeros(2 * 8760)
    ice[100], ice[8000], ice[9000] = 0.5, 1.5, 0.4
    run = make_run(2 * 8760, ice_content=ice)
    verdict = criteria.frost_verdict(run, "wool", WARM)
    assert (verdict.level, verdict.limit) == ("caution", 0.2)
    assert verdict.value == pytest.approx(0.3)
    assert verdict.when == pd.Timestamp("2021-01-01 01:00") + pd.Timedelta(hours=8000)
    assert "winter 2020/21 0.1, winter 2021/22 0.3" in verdict.because
    assert "run off when it melts" in verdict.because
    assert criteria.frost_verdict(run, "lining", WARM).level == "fine"  # 12 mm: 0.018 kg/m2
    assert criteria.frost_verdict(make_run(2 * 8760), "wool", WARM).because == "No frost to speak of."


# --- trend ---------------------------------------------------------------------------------------------------------


def water_of_years(gains, swing=10.0):
    """Water content that swings each year and gains what is stated, linearly within the year."""
    hours = 8760 * len(gains)
    base = np.interp(
        np.arange(1, hours + 1), 8760 * np.arange(len(gains) + 1), np.concatenate([[45], 45 + np.cumsum(gains)])
    )
    return base + swing * np.sin(2 * np.pi * np.arange(1, hours + 1) / 8760)


@pytest.mark.parametrize(
    ("gains", "level", "sentence"),
    [
        ([0, 0], "fine", "holds the same water each year"),
        ([8, 8], "fails", "more water than the last"),
        ([8, 8, 8], "fails", "full in about"),
        ([8, 2], "fine", "settling, not collecting"),
        ([-4, -2], "fine", "drying from year to year"),
        ([-4, 4], "caution", "can bind it for about"),
        ([-4, -4, 4], "fine", "no trend. Run more years"),
        ([1, 1], "caution", "can bind it for about"),
    ],
)
def test_trend(gains, level, sentence):
    run = make_run(8760 * len(gains), water_content=water_of_years(gains))
    assert criteria.yearly_gain(run, "deck").to_numpy()[1:, 0] == pytest.approx(0.018 * np.array(gains[1:]), abs=1e-4)
    verdict = criteria.trend_verdict(run, "deck")
    assert verdict.level == level
    assert sentence in str(verdict)


@pytest.mark.parametrize(
    ("gains", "year"),
    [([0, 0], 1), ([8, 0, 0], 2), ([8, 2, 0.5, 0.1, 0.05], 4), ([-4, 0, -4], np.inf), ([8, 8], np.inf)],
)
def test_the_year_from_which_on_all_years_are_alike(gains, year):
    # 18 mm of deck swing by +-10 kg/m3, or 0.36 kg/m2: changes up to 0.005 kg/m2 count as none, 0.28 kg/m3.
    run = make_run(8760 * len(gains), water_content=water_of_years(gains))
    assert criteria.settled_year(run, "deck").item() == year
    verdict = criteria.trend_verdict(run, "deck")
    assert (f"from year {year} on" in verdict.because) == np.isfinite(year)
    assert verdict.limit == pytest.approx(0.005)
    assert verdict.when == pd.Timestamp(run["time"].to_numpy()[-1])


def test_trend_over_a_leap_year():
    hours = 8760 + 8784
    run = make_run(hours, start="2023-01-01 01:00", water_content=45.0)
    gain = criteria.yearly_gain(run, "deck")
    assert gain.sizes["year"] == 2
    assert gain["year_end"].to_numpy()[0] == np.datetime64("2024-01-01")


def test_one_year_cannot_show_a_trend():
    with pytest.raises(InputError, match="from two years or more"):
        criteria.trend_verdict(make_run(8760), "deck")


# --- drying --------------------------------------------------------------------------------------------------------


def test_drying_time_counts_to_the_last_wet_hour():
    percent = np.array([25.0] * 5 + [17.0] * 3 + [19.0] * 2 + [10.0] * 10)
    run = make_run(20, water_content=4.5 * percent)
    assert criteria.drying_time(run, "deck", below=18.0).item() == 10
    assert criteria.drying_time(run, "deck", below=22.0).item() == 5
    assert criteria.drying_time(run, "deck", below=26.0).item() == 0
    assert np.isinf(criteria.drying_time(run, "deck", below=5.0).item())
    assert criteria.drying_time(run, "deck", below=18.0, since="2021-01-01 06:00").item() == 5


def test_drying_verdict():
    run = make_run(20, water_content=4.5 * np.linspace(30.0, 11.0, 20))
    in_time = criteria.drying_verdict(run, "deck", below=20.5, within=12.0)
    assert in_time.level == "fine"
    assert in_time.when == pd.Timestamp("2021-01-01 11:00")
    assert criteria.drying_verdict(run, "deck", below=20.5, within=9.0).level == "fails"
    assert "still at or above 5 %" in str(criteria.drying_verdict(run, "deck", below=5.0, within=9.0))


def test_drying_of_what_a_wetting_added():
    decay = 45.0 + 20.0 * np.exp(-np.arange(200) / 40.0)
    time = criteria.drying_time_of_excess(make_run(200, water_content=decay), make_run(200), "deck", remaining=0.1)
    assert time.item() == np.ceil(40.0 * np.log(10.0))


# --- summer condensation -------------------------------------------------------------------------------------------


def test_summer_condensation_is_looked_for_just_outside_the_retarder():
    humidity = np.full((48, 1, 7), 0.5)
    humidity[5, 0, 4] = 0.97
    run = make_run(start="2021-07-01 01:00", relative_humidity=humidity)
    verdict = criteria.inward_verdict(run, "wool", WARM)
    assert verdict.level == "caution"
    assert "inner face of 'wool'" in str(verdict)
    assert "in 1 hours of the warm half year" in str(verdict)
    assert criteria.inward_verdict(run, "deck", WARM).level == "fine"


# --- all -----------------------------------------------------------------------------------------------------------


def test_every_verdict_tells_value_limit_when_where_and_why():
    ice = np.zeros(2 * 8760)
    ice[300] = 1.0
    run = make_run(
        2 * 8760, water_content=np.linspace(60.0, 130.0, 2 * 8760), relative_humidity=0.9, ice_content=ice,
        drip=np.full(2 * 8760, 1e-9),
    )  # fmt: skip
    verdicts = [
        criteria.moisture_content_verdict(run, "deck"),
        criteria.mould_verdict(run, "deck"),
        criteria.thirty_day_verdict(run, "deck"),
        criteria.frost_verdict(run, "deck", WARM),
        criteria.condensate_verdict(run, "deck"),
        criteria.drip_verdict(run, WARM),
        criteria.decay_verdict(make_run(2000, relative_humidity=1.0), "deck"),
        criteria.corrosion_verdict(run, "deck"),
        criteria.drying_verdict(
            make_run(20, water_content=4.5 * np.linspace(30.0, 11.0, 20)), "deck", below=20.0, within=20.0
        ),
        criteria.trend_verdict(run, "deck"),
        criteria.inward_verdict(run, "wool", WARM),
    ]
    assert len({one.criterion for one in verdicts}) == 11
    for one in verdicts:
        assert np.isfinite(one.value), one.criterion
        assert np.isfinite(one.limit), one.criterion
        assert isinstance(one.when, pd.Timestamp), one.criterion
        assert "'" in one.where or "build-up" in one.where
        assert one.because.endswith(".")
        assert one.source
        assert "(limit " in str(one)


def test_every_series_carries_registered_attributes():
    run = make_run(800, water_content=4.5 * 25.0)
    series = [
        criteria.moisture_content(run, "deck"),
        criteria.mould_index(run, "deck"),
        criteria.condensate(run, "deck"),
        criteria.frost(run, "deck"),
        criteria.relative_humidity_30_day(run, "deck"),
        criteria.temperature_30_day(run, "deck"),
        criteria.decay_activation(run, "deck"),
        criteria.decay_mass_loss(run, "deck"),
        criteria.corrosive(run, "deck"),
        criteria.retarder_relative_humidity(run, "wool"),
    ]
    for one in series:
        entry = CRITERION[one.name]
        assert one.dims == entry.dims
        assert entry.attrs().items() <= one.attrs.items()
        assert "slice_position" in one.coords


def test_dimensions_in_another_order_change_nothing():
    run = make_run(slices=3, water_content=np.random.default_rng(1).uniform(0, 90, (48, 3)))
    turned = run.transpose("cell", "slice", "layer", "time")
    xr.testing.assert_identical(criteria.moisture_content(run, "deck"), criteria.moisture_content(turned, "deck"))


# --- what criteria share -------------------------------------------------------------------------------------------


def test_series_are_those_of_the_criteria_and_are_found_once():
    rng = np.random.default_rng(4)
    run = make_run(
        800, slices=2, temperature=rng.uniform(5.0, 30.0, (800, 2, 7)),
        water_content=rng.uniform(0.0, 200.0, (800, 2, 7)), relative_humidity=rng.uniform(0.7, 1.0, (800, 2, 7)),
    )  # fmt: skip
    series = LayerSeries(run, "deck")
    for part in ("mean", "outer", "inner"):
        assert (series.content(part) == criteria.moisture_content(run, "deck", part).to_numpy()).all()
    for face in ("outer", "inner"):
        assert (series.mould(face)[0] == criteria.mould_index(run, "deck", face).to_numpy()).all()
    assert (series.free_water() == criteria.condensate(run, "deck").to_numpy()).all()
    run["water_content"] = 2.0 * run["water_content"]
    assert series.content("mean") is series.content("mean")
    assert series.mould("outer")[0] is series.mould("outer")[0]
    assert series.free_water() is series.free_water()
    for measure in (WETTEST, WETTEST_FACE, MOULD, FREE_WATER, LEVEL):
        assert measure.of_series(LayerSeries(run, "deck")) == measure.of(run, "deck"), measure.name
