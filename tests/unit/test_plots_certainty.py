"""Pictures of sweeps, searches and ensembles, by what they draw. Numbers are made here; no solver is needed."""

import json
import math

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from hygro import plots
from hygro.ensemble import band
from hygro.errors import InputError
from hygro.vary import WETTEST, Found, Input, Measure


@pytest.fixture
def ensemble():
    days = np.datetime64("2023-10-01T12:00", "ns") + np.arange(365) * np.timedelta64(24, "h")
    values = 15.0 + 5.0 * np.cos(2.0 * np.pi * np.arange(365) / 365.0) * np.linspace(0.5, 1.5, 41)[:, None]
    dataset = xr.Dataset(
        {
            "moisture_content": (("member", "day"), values.astype(np.float32)),
            "wettest": ("member", values.max(axis=1), WETTEST.attrs()),
            "solved": ("member", np.ones(41, dtype=np.int8)),
        },
        {"day": days},
    )
    return dataset.assign_attrs(layer="deck", title="ensemble of x", measures='["wettest"]', uncertain=json.dumps({}))


@pytest.fixture
def table():
    made = pd.DataFrame(
        {
            "influence": [0.5, 0.08], "share of variance": [0.8, -0.01], "share of variance ±": [0.1, 0.05],
            "direction": [0.9, -0.2],
        },
        index=pd.Index(["leak.q50", "gap.thickness"], name="input"),
    )  # fmt: skip
    made.attrs["noise"] = 0.1
    return made


@pytest.fixture
def swept():
    numbers = np.array([[24.0, 19.0, 16.0], [30.0, 26.0, 21.0]])
    coords = {
        "leak_q50": ("leak_q50", [0.3, 3.0], {"input": "leak.q50", "units": "m3 m-2 h-1"}),
        "gap_thickness": ("gap_thickness", [0.02, 0.03, 0.05], {"input": "gap.thickness", "units": "m"}),
    }
    return xr.Dataset({"wettest": (("leak_q50", "gap_thickness"), numbers, WETTEST.attrs())}, coords, {"layer": "deck"})


def texts(axes):
    return [one.get_text() for one in axes.texts]


def test_a_band_draws_its_percentiles_and_says_the_chance(ensemble):
    axes = plots.band_figure(ensemble).axes[0]
    drawn = {one.get_label(): one for one in axes.get_lines()}
    assert drawn["half below"].get_ydata() == pytest.approx(band(ensemble, [0.5]).to_numpy()[0])
    assert {"5 % below", "half below", "95 % below"} <= set(texts(axes))
    passing = int((ensemble["wettest"] <= 20.0).sum())
    assert f"{100 * passing / 41:.3g} % of 41 members pass" in axes.get_title(loc="left")
    assert "[%]" in axes.get_ylabel()
    assert "20 %: design limit for safety from decay" in texts(axes)


def test_a_ranking_tells_influence_from_noise_without_colour(table):
    left, right = plots.ranking_figure(table).axes
    widths = [bar.get_width() for bar in left.patches]
    assert widths == [0.5, 0.08]
    assert [bar.get_facecolor() == (1.0, 1.0, 1.0, 1.0) for bar in left.patches] == [False, True]
    assert [label.get_text() for label in left.get_yticklabels()] == ["leak.q50", "gap.thickness"]
    assert left.patches[0].get_y() > left.patches[1].get_y()  # the first on top
    assert texts(left)[:2] == ["more gives more", ""]
    assert "95 % interval" in right.get_xlabel()
    with pytest.raises(InputError, match="needs the table"):
        plots.ranking_figure(pd.DataFrame({"a": [1]}))


def test_a_sweep_draws_a_line_for_each_value_in_units_of_the_trade(swept):
    axes = plots.sweep_figure(swept).axes[0]
    drawn = {one.get_label(): one for one in axes.get_lines()}
    line = drawn["3 m³/(m² h)"]
    assert line.get_xdata() == pytest.approx([20.0, 30.0, 50.0])
    assert line.get_ydata() == pytest.approx([30.0, 26.0, 21.0])
    assert axes.get_xlabel() == "gap.thickness [mm]"
    assert "limit 20 %" in texts(axes)
    alone = plots.sweep_figure(swept.sel(leak_q50=0.3)).axes[0]
    assert alone.get_lines()[0].get_ydata() == pytest.approx([24.0, 19.0, 16.0])
    with pytest.raises(InputError, match=r"no measure 'mould'\. It has: 'wettest'"):
        plots.sweep_figure(swept, "mould")
    with pytest.raises(InputError, match="has 3"):
        plots.sweep_figure(swept.expand_dims("tilt"))


def test_a_map_marks_what_does_not_pass(swept):
    axes = plots.sweep_map(swept).axes[0]
    assert [text for text in texts(axes) if "✕" in text] == ["24\n✕", "30\n✕", "26\n✕", "21\n✕"]
    assert axes.get_xlabel() == "gap.thickness [mm]"
    assert [label.get_text() for label in axes.get_xticklabels()] == ["20", "30", "50"]
    with pytest.raises(InputError, match="two inputs that are numbers"):
        plots.sweep_map(swept.sel(leak_q50=0.3))


def test_a_long_answer_is_broken_into_lines_and_whole_figures_have_whole_ticks():
    trail = pd.DataFrame({"value": [0.1, 1.0, 10.0], "verdict": [0.0, 1.0, 2.0], "passes": [True, True, False]})
    measure = Measure("verdict", "1", "verdict", lambda *_: 0.0, 1.0, "stated here")
    answer = "It is 1 m³/(m² h), which is a good deal of air; 10 m³/(m² h) is not. " + 20 * "Look at the trail again. "
    axes = plots.trail_figure(Found(Input("leak.q50"), measure, False, 1.0, trail, True, answer)).axes[0]
    lines = axes.get_title(loc="left").split("\n")
    assert len(lines) > 4
    assert max(map(len, lines)) <= 105
    assert " ".join(lines) == answer.strip()
    assert all(tick == round(tick) for tick in axes.get_yticks())


@pytest.mark.parametrize("value", [0.01, None])
def test_a_trail_draws_what_passes_and_what_does_not(value):
    trail = pd.DataFrame({"value": [0.001, 0.01, 0.005], "wettest": [30.0, 18.0, 22.0], "passes": [False, True, False]})
    found = Found(Input("gap.opening"), WETTEST, True, value, trail, True, "It is 100; 50 is not.")
    axes = plots.trail_figure(found).axes[0]
    drawn = {one.get_label(): one for one in axes.get_lines()}
    assert drawn["passes"].get_xdata() == pytest.approx([100.0])
    assert drawn["does not pass"].get_ydata() == pytest.approx([30.0, 22.0])
    assert drawn["passes"].get_marker() != drawn["does not pass"].get_marker()
    assert axes.get_xlabel() == "gap.opening [cm²/m]"
    assert axes.get_xscale() == "log"
    assert axes.get_title(loc="left") == "It is 100;\n50 is not."
    assert math.isclose(axes.get_ylim()[0], 0.0)
