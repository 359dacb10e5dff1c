"""Pictures, by what they draw: data, labels, units. One wetted deck under a short year serves them all."""

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from hygro import Assembly, ByWindAndBuoyancy, Layer, VentGap, climate_from_arrays, demo, plots
from hygro.criteria import condensate, moisture_content, mould_index
from hygro.errors import InputError, OutputError
from hygro.indoor import ConstantIndoor
from hygro.plots import style
from hygro.study import Comparison, Variant, compare


def roof(name, vented):
    flow = ByWindAndBuoyancy(inlet="100 cm^2/m", outlet="100 cm^2/m")
    gap = [VentGap("40 mm", length="3 m", flow=flow)] if vented else []
    parts = [Layer("plywood 500", "18 mm", name="deck"), *gap, Layer("mineral wool batt", "100 mm", name="wool")]
    return Assembly(name, parts, tilt=5, azimuth=180, finish="new wood")


@pytest.fixture(scope="module")
def study():
    swing = np.cos(2.0 * np.pi * np.arange(8760) / 8760.0)
    weather = climate_from_arrays(5.0 - 12.0 * swing, np.full(8760, 0.8), wind_speed=2.0 + swing)
    indoor = ConstantIndoor(20.0, 0.5)
    variants = [Variant("open", roof("open roof", True), indoor), Variant("shut", roof("shut roof", False), indoor)]
    return compare(variants, weather, layer="deck", start="1 January", years=1)


def axes():
    return style.new_figure(8.0, 3.0).subplots()


def lines(ax):
    return {one.get_label(): one for one in ax.get_lines() if not one.get_label().startswith("_")}


def texts(ax):
    return [one.get_text() for one in ax.texts]


def test_moisture_curves_draw_daily_means_of_the_criterion(study):
    ax = axes()
    plots.moisture_curves(ax, study.runs, layer="deck")
    wanted = moisture_content(study["shut"].run, "deck").to_numpy()[:, 0].reshape(-1, 24).mean(axis=1)
    np.testing.assert_allclose(lines(ax)["shut"].get_ydata(), wanted)
    assert ax.get_ylabel() == "moisture content,\nmean of deck [%]"
    assert "20 %: design limit for safety from decay" in texts(ax)
    assert {"open", "shut"} <= set(texts(ax))


def test_every_line_fits_into_its_panel(study):
    for figure in (plots.season_figure(study), plots.small_multiples(study)):
        for ax in figure.axes:
            low, high = ax.get_ylim()
            for one in ax.get_lines():
                numbers = np.asarray(one.get_ydata(), dtype=float)
                assert low <= numbers.min()
                assert numbers.max() <= high


def test_mould_and_free_water_draw_their_criteria(study):
    ax = axes()
    plots.mould_curves(ax, study.runs, layer="deck", face="outer")
    wanted = mould_index(study["shut"].run, "deck", "outer").to_numpy()[:, 0].reshape(-1, 24).mean(axis=1)
    np.testing.assert_allclose(lines(ax)["shut"].get_ydata(), wanted)
    assert ax.get_ylabel() == "mould index,\nouter face of deck"
    ax = axes()
    plots.free_water_curves(ax, study.runs, layer="deck")
    wanted = condensate(study["shut"].run, "deck").to_numpy()[:, 0].reshape(-1, 24).mean(axis=1)
    np.testing.assert_allclose(lines(ax)["shut"].get_ydata(), wanted)
    assert "[kg/m²]" in ax.get_ylabel()


def test_variants_differ_without_colour(study):
    ax = axes()
    plots.moisture_curves(ax, study.runs, layer="deck")
    looks = [(one.get_linestyle(), str(one._dash_pattern), one.get_marker()) for one in lines(ax).values()]
    assert len(set(looks)) == len(looks)


def test_season_figure_shows_the_three_criteria_over_months(study):
    figure = plots.season_figure(study)
    figure.draw_without_rendering()
    assert [ax.get_ylabel().split(",")[0].split("\n")[0] for ax in figure.axes] == [
        "moisture content",
        "mould index",
        "free water and ice",
    ]
    ticks = [tick.get_text() for tick in figure.axes[-1].get_xticklabels()]
    assert ticks[0] == "Jan\n2023"
    assert ticks[1:4] == ["Feb", "Mar", "Apr"]


def test_small_multiples_name_each_answer(study):
    figure = plots.small_multiples(study)
    titles = [ax.get_title(loc="left") for ax in figure.axes]
    assert titles == [f"{one.name}: {one.answer.outcome} ({one.answer.level})" for one in study.results]


def test_depth_map_holds_the_run_and_leaves_the_gap_empty(study):
    run = study["open"].run
    figure = plots.depth_time_map(run)
    picture = next(ax for ax in figure.axes if ax.collections and ax.get_title(loc="left"))
    drawn = np.ma.filled(picture.collections[0].get_array().astype(float), np.nan)
    empty = np.isnan(drawn).all(axis=1)
    assert empty.sum() == 1
    wanted = 100.0 * run["relative_humidity"].to_numpy()[:, 0, :].reshape(365, 24, -1).mean(axis=1)
    np.testing.assert_allclose(drawn[~empty], wanted.T)
    assert "air in the vent gap" in texts(picture)
    section = figure.axes[0]
    assert section.get_ylabel() == "depth from outside [mm]"
    assert texts(section) == ["deck", "vent gap", "wool"]
    low, high = section.get_ylim()
    assert (low, high) == pytest.approx((158.0, 0.0))


def test_depth_map_refuses_what_it_cannot_draw(study):
    with pytest.raises(InputError, match=r"There is no map of 'drip'\. Choose one of 'relative_humidity'"):
        plots.depth_time_map(study["open"].run, "drip")
    with pytest.raises(InputError, match="there is no slice 3"):
        plots.depth_time_map(study["open"].run, place=3)


def test_duration_curve_falls_and_covers_all_hours(study):
    ax = axes()
    plots.speed_duration(ax, study.runs)
    (drawn,) = lines(ax).values()
    share, speed = drawn.get_data()
    assert (np.diff(speed) <= 0.0).all()
    assert share[-1] == 100.0
    assert speed.sum() == pytest.approx(np.abs(study["open"].run["gap_air_speed"].to_numpy()).sum())
    assert ax.get_ylabel() == "air speed in the gap [m/s]"


def test_duration_curve_needs_a_gap(study):
    with pytest.raises(InputError, match="None of the runs has a vent gap"):
        plots.speed_duration(axes(), {"shut": study["shut"].run})


def test_air_strip_shows_outdoors_and_indoors(study):
    figure = plots.air_strip(study["open"].run)
    top, bottom = figure.axes
    assert top.get_ylabel() == "temperature [°C]"
    assert bottom.get_ylabel() == "relative humidity [%]"
    np.testing.assert_allclose(lines(top)["indoors"].get_ydata(), 20.0)
    np.testing.assert_allclose(lines(bottom)["indoors"].get_ydata(), 50.0)


def test_dampness_darkens_all_the_way():
    steps = style.DAMPNESS(np.linspace(0.0, 1.0, 64))[:, :3]
    assert (np.diff(steps @ np.array([0.2126, 0.7152, 0.0722])) < 0.0).all()


def test_neighbouring_lines_differ_in_lightness():
    light = [np.array(to_rgb(style.line(number).colour)) @ np.array([0.2126, 0.7152, 0.0722]) for number in range(6)]
    assert (np.abs(np.diff(light)) > 0.08).all()


@pytest.mark.parametrize("wanted", [[0.5, 0.5, 0.5], [0.0, 0.0, 0.01], [0.1, 0.12, 0.9, 0.95, 1.0]])
def test_labels_are_spread_without_changing_their_order(wanted):
    places = style.spread(np.array(wanted), 0.08)
    assert (np.diff(places) >= 0.08 - 1e-12).all()
    assert places[0] >= 0.0
    assert places[-1] <= 1.0


def test_labels_with_room_stay_where_they_belong():
    np.testing.assert_allclose(style.spread(np.array([0.2, 0.5, 0.8]), 0.1), [0.2, 0.5, 0.8])


def test_saving_writes_a_png_whole_or_not_at_all(study, tmp_path):
    path = plots.save_png(plots.air_strip(study["open"].run), tmp_path / "air.png")
    assert path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    with pytest.raises(OutputError, match="could not be written"):
        plots.save_png(plots.air_strip(study["open"].run), tmp_path / "missing" / "air.png")
    assert [one.name for one in tmp_path.iterdir()] == ["air.png"]


def test_figure_shows_itself_in_a_notebook(study):
    assert plots.air_strip(study["open"].run)._repr_png_()[:4] == b"\x89PNG"


def test_air_moved_shows_the_usual_range_and_the_middle_hour(study):
    figure = plots.air_moved_figure(study)
    left, right = figure.axes
    speed = np.abs(study["open"].run["gap_air_speed"].to_numpy())
    low, middle, high = np.quantile(speed, [0.1, 0.5, 0.9])
    for ax, factor in ((left, 0.04 * 3600.0), (right, 1.0)):
        (bar,) = ax.patches
        assert bar.get_x() == pytest.approx(factor * low)
        assert bar.get_x() + bar.get_width() == pytest.approx(factor * high)
        assert lines(ax)["middle hour"].get_xdata() == pytest.approx([factor * middle])
    assert [one.get_text() for one in left.get_yticklabels()] == ["open"]
    assert left.get_xlabel() == "air moved [m³/h per metre of width]"
    assert right.get_xlabel() == "air speed in the gap [m/s]"


def test_air_moved_without_a_gap_is_refused(study):
    shut = Comparison((study["shut"],), "deck", study.climate, study.start, study.years)
    with pytest.raises(InputError, match="no air is moved"):
        plots.air_moved_figure(shut)


def test_indoor_air_is_drawn_as_daily_means_and_as_a_falling_curve(study):
    home = demo.hut_household(15.0)
    air = home.conditions(study.climate.period("1 January", 1).data)
    left, right = plots.indoor_air_figure({"15 l/s": air}).axes
    wanted = 100.0 * air["indoor_relative_humidity"].to_numpy()[:8760].reshape(-1, 24).mean(axis=1)
    np.testing.assert_allclose(lines(left)["15 l/s"].get_ydata()[:365], wanted)
    gas = lines(right)["15 l/s"].get_ydata()
    assert (np.diff(gas) <= 0.0).all()
    assert gas[0] == float(air["indoor_carbon_dioxide"].max())
    assert right.get_ylabel() == "carbon dioxide indoors [ppm]"


def test_indoor_air_of_another_kind_is_refused(study):
    with pytest.raises(InputError, match="at least one"):
        plots.indoor_air_figure({})
    with pytest.raises(InputError, match="'stated' has no indoor_relative_humidity"):
        plots.indoor_air_figure({"stated": study["open"].run[["temperature"]]})
