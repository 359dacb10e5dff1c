"""`simulate` at its door: what is refused and why, what a run carries, and that starts are what was stated."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

import hygro
from hygro import AirLeak, FixedAirChange, FixedFilm, Layer, Sheet, Start, VentGap
from hygro.core import integrate
from hygro.core.columns import Solved
from hygro.core.record import make_record
from hygro.errors import HygroError, HygroWarning, InputError
from hygro.indoor import ConstantIndoor, Flame, Household, IndoorArrays, People
from hygro.materials import LiquidConductivity, Material

ROOM = ConstantIndoor(20.0, 0.5)


def _board():
    return Material(
        "board", density=500, specific_heat=1600, conductivity=0.13, vapour_resistance=50,
        sorption=[(0.5, 40), (0.8, 80), (1.0, 150)], saturation=600,
    )  # fmt: skip


STARTS = [
    ({"temperature": 200}, "Start: temperature is 200 degC; it must lie between -50 and 70"),
    ({"temperature": float("nan")}, "it must be a finite number"),
    ({"temperature": "warm"}, "could not be read"),
    ({"relative_humidity": 70}, 'Did you mean "70 %"?'),
    ({"relative_humidity": 0.0}, "it must be above 0 and at most 1"),
    ({"relative_humidity": -0.2}, "it must be above 0 and at most 1"),
]


@pytest.mark.parametrize(("values", "sentence"), STARTS)
def test_start_refuses(values, sentence):
    with pytest.raises(InputError) as caught:
        Start(**values)
    assert sentence in str(caught.value)


FILMS = [
    ((-5.0, 1e-8), "film is -5.0; a film coefficient must be positive"),
    ((0.0, 1e-8), "film is 0.0; a film coefficient must be positive"),
    ((8.0, -1e-8), "vapour_film is -1e-08"),
    ((float("nan"), 1e-8), "it must be a finite number"),
    (("thick", 1e-8), "could not be read"),
]


@pytest.mark.parametrize(("values", "sentence"), FILMS)
def test_film_refuses(values, sentence):
    with pytest.raises(InputError) as caught:
        FixedFilm(*values)
    assert sentence in str(caught.value)


def test_film_with_a_unit_of_films():
    """A film coefficient may be stated as text with its unit, like every other quantity."""
    assert FixedFilm("25 W/(m2 K)", 1e-7).film == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("others", "sentence"),
    [
        ({"detail": 0.0}, "detail is 0; it multiplies the number of cells and must lie between 0.25 and 20"),
        ({"detail": 1e6}, "must lie between 0.25 and 20"),
        ({"detail": "fine"}, "could not be read"),
        ({"start": "31 February"}, "31 February"),
        ({"start": "1 January", "years": 0}, "years"),
        ({"start": "1 January", "years": 99999}, "a whole number from 1 on, at most 200, is needed"),
        ({"leak": AirLeak(1.0, height=2.0, into="no such layer")}, "has no layer 'no such layer'"),
        ({"leak": AirLeak(1.0, height=2.0, into="board")}, "is the innermost layer; leaking air reaches it by no path"),
    ],
)
def test_simulate_refuses(bench, others, sentence):
    with pytest.raises(HygroError) as caught:
        hygro.simulate(bench.build(Layer(_board(), 0.02)), hygro.constant_climate(0.0, 0.8, hours=8760), ROOM, **others)
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    "what", ["assembly", "climate", "indoor", "initial", "leak", "rain", "snow", "outside", "inside", "air", "settings"]
)
def test_simulate_refuses_things_of_another_kind(bench, what):
    """A wrong argument is named in a sentence; no traceback from the depths."""
    arguments = {
        "assembly": bench.build(Layer(_board(), 0.02)),
        "climate": hygro.constant_climate(0.0, 0.8, hours=24), "indoor": ROOM,
    }  # fmt: skip
    arguments[what] = "nonsense"
    with pytest.raises(InputError, match=what):
        hygro.simulate(arguments.pop("assembly"), arguments.pop("climate"), arguments.pop("indoor"), **arguments)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"temperature_error": -1}, "temperature_error is -1; it must be a number above 0. Leave it out for 0.35"),
        ({"water_error": float("nan")}, "water_error is nan; it must be a number above 0"),
        ({"newton": "small"}, "newton is 'small'; it must be a number above 0"),
        ({"unchecked": -0.1}, "unchecked is -0.1; it must be a number from 0 on"),
        ({"finest_step": float("inf")}, "finest_step is inf"),
        (
            {"largest_iterations": 0},
            "largest_iterations is 0; it must be a whole number from 1 on. Leave it out for 25",
        ),
        ({"largest_iterations": 2.5}, "a whole number from 1 on"),
    ],
)
def test_settings_that_cannot_be(bench, given, sentence):
    with pytest.raises(InputError) as caught:
        hygro.simulate(
            bench.build(Layer(_board(), 0.02)), hygro.constant_climate(0.0, 0.8, hours=24), ROOM,
            settings=hygro.Settings(**given),
        )  # fmt: skip
    assert sentence in str(caught.value)


def test_indoor_arrays_of_another_length(bench):
    room = IndoorArrays((20.0,) * 10, (0.5,) * 10)
    with pytest.raises(InputError, match="10"):
        hygro.simulate(bench.build(Layer(_board(), 0.02)), hygro.constant_climate(0.0, 0.8, hours=24), room)


def test_years_without_a_start_are_refused(bench):
    """They were passed over before, and the run was shorter than asked for."""
    deck, air = bench.build(Layer(_board(), 0.02)), hygro.constant_climate(0.0, 0.8, hours=24)
    with pytest.raises(InputError, match=r"years is 2, but no start is stated, .* \(24 hours\). State start, such as"):
        hygro.simulate(deck, air, ROOM, years=2)


def _stopping(reach):
    """A solver that stops in hour 5, cell 3; ``reach`` fills in what it had reached by then."""

    def stops(column):
        record = make_record(len(column.forcing) - 1, *column.temperature.shape)
        reach(record)
        return Solved(record, (integrate.NO_CONVERGENCE, 5, 3, 0.01))

    return stops


def test_failure_names_hour_and_layer(bench, monkeypatch):
    monkeypatch.setattr(hygro.simulation, "solve", _stopping(lambda _: None))
    with pytest.raises(hygro.errors.ConvergenceError) as caught:
        hygro.simulate(
            bench.build(Layer(_board(), 0.02)), hygro.constant_climate(0.0, 0.8, hours=24, start="2023-05-01"), ROOM
        )
    assert "01 May 2023 06:00 in layer 'board'" in str(caught.value)
    assert "Check the curves of 'board' and the start state" in str(caught.value)


def test_a_run_that_cannot_go_on_says_where_and_why(bench):
    """A solver held to two iterations and half an hour fails where rain first wets the brick; no run comes back."""
    rain = np.where(np.arange(72) > 24, 2.0, 0.0)
    wet = hygro.climate_from_arrays(
        np.full(72, 8.0), np.full(72, 0.85), rain=rain, wind_speed=5.0, wind_direction=180.0
    )  # fmt: skip
    wall = bench.build(Layer("brick", "100 mm"), Layer("mineral wool batt", "100 mm"))
    hasty = hygro.Settings(smallest_step=1800.0, largest_iterations=2)
    with pytest.raises(hygro.errors.ConvergenceError) as caught:
        hygro.simulate(wall, wet, ROOM, settings=hasty)
    message = str(caught.value)
    assert "Did not converge at 02 January 2023 02:00 in layer 'brick'" in message
    assert "Likely: rain on a material whose liquid transport rises too steeply" in message
    assert np.isfinite(bench.simulate(wall, wet, ROOM)["layer_water"].to_numpy()).all()


CAUSES = [
    ({"start_moisture": "119 %"}, 0, "wetter than its pores can hold"),
    ({}, 20, "outdoor air that jumps by 20 K within the hour"),
    ({}, 0, "a material curve that jumps"),
]


@pytest.mark.parametrize(("start", "jump", "cause"), CAUSES)
def test_the_likely_cause_follows_the_state(bench, monkeypatch, start, jump, cause):
    def reach(record):
        record.temperature[:] = 10.0
        record.water[:] = 650.0 if start else 50.0

    monkeypatch.setattr(hygro.simulation, "solve", _stopping(reach))
    warmth = np.where(np.arange(24) < 5, 0.0, float(jump))
    with pytest.raises(hygro.errors.ConvergenceError, match=cause):
        hygro.simulate(
            bench.build(Layer(_board(), 0.02, **start)), hygro.climate_from_arrays(warmth, np.full(24, 0.8)), ROOM
        )


def test_a_leak_that_nothing_drives(bench):
    """The floor of an unheated space: indoor air as cold as outdoor air moves nothing; a fan, or heat, does."""
    floor = bench.build(Layer(_board(), 0.02), Layer(_board(), 0.02), tilt=180)
    cold, unheated = hygro.constant_climate(5.0, 0.8, hours=24), ConstantIndoor(5.0, 0.6)
    leak = AirLeak(1.0, height=-1.0, into=None)
    with pytest.raises(InputError) as caught:
        hygro.simulate(floor, cold, unheated, leak=leak)
    assert "but no air moves: indoor air is as warm as outdoor air in every hour" in str(caught.value)
    with pytest.raises(InputError, match="its height above the neutral level is 0"):
        hygro.simulate(floor, cold, ROOM, leak=AirLeak(1.0, height=0.0, into=None))
    bench.simulate(floor, cold, unheated, leak=AirLeak(1.0, height=-1.0, into=None, fan_pressure=2.0))
    bench.simulate(floor, cold, ROOM, leak=leak)


def test_start_humidity_and_moisture_are_kept(bench):
    """A layer's own statement, as humidity or as mass, is what it holds before the first hour."""
    board = _board()
    parts = [Layer(board, 0.02), Layer(board, 0.02, start_humidity=0.9), Layer(board, 0.02, start_moisture="24 %")]
    run = bench.simulate(
        bench.build(Sheet("tight", s_d=1e4), *parts, Sheet("tight", s_d=1e4)),
        hygro.constant_climate(10.0, 0.7, hours=2), ROOM, initial=Start(10.0, 0.6),
    )  # fmt: skip
    u = run["relative_humidity"].to_numpy()[0, 0]
    owner = run["cell_layer"].to_numpy()
    middle = {n: u[np.flatnonzero(owner == n)[len(np.flatnonzero(owner == n)) // 2]] for n in range(3)}
    assert middle[0] == pytest.approx(0.6, abs=0.01)
    assert middle[1] == pytest.approx(0.9, abs=0.01)
    w = run["water_content"].to_numpy()[0, 0][owner == 2]
    assert w[len(w) // 2] == pytest.approx(0.24 * 500, rel=0.01)


def test_start_moisture_of_a_suction_curve_at_another_temperature(bench):
    """Stated water is held whatever the start temperature; the curve is stated at 20 degC, its suction is not."""
    stone = Material(
        "stone", density=1900, specific_heat=850, conductivity=1.0, vapour_resistance=20.0,
        retention=lambda s: 180 * (1 + (2e-6 * s) ** 1.6) ** -0.375,
        liquid=LiquidConductivity(lambda s: 1e-12 * (1 + (2e-6 * s) ** 1.5) ** -1.5),
    )  # fmt: skip
    run = bench.simulate(
        bench.build(Layer(stone, 0.05, start_moisture=100 / 1900)), hygro.constant_climate(-5.0, 0.8, hours=2),
        ConstantIndoor(-5.0, 0.5), initial=Start(5.0, 0.8), outside=FixedFilm(0.01, 0.0), inside=FixedFilm(0.01, 0.0),
    )  # fmt: skip
    assert float(run["layer_water"][0, 0, 0]) == pytest.approx(100 * 0.05, rel=1e-4)


def test_a_run_says_what_it_was(bench):
    wall = bench.build(Layer(_board(), 0.02))
    climate = hygro.constant_climate(0.0, 0.8, hours=8760)
    run = bench.simulate(wall, climate, ROOM, start="1 October", years=1, leak=AirLeak(1.0, height=2.0, into=None))
    assert run.attrs["title"] == "test wall"
    assert run.attrs["hygro_version"] == hygro.__version__
    assert "board" in run.attrs["assembly"]
    assert "ConstantIndoor" in run.attrs["indoor"]
    assert "q50 1" in run.attrs["leak"]
    assert run.attrs["climate_digest"] == climate.period("1 October", 1).digest
    assumed = json.loads(run.attrs["assumed"])
    assert assumed["start"].startswith("10 degC and 70 %")
    assert pd.Timestamp(run["time"].to_numpy()[0]).strftime("%d %B %H") == "01 October 01"
    assert run.sizes["time"] in (8760, 8784)


@pytest.mark.filterwarnings("ignore:Household. carbon dioxide exceeds guidance")
def test_a_run_keeps_what_the_household_said_about_its_air(bench):
    home = Household(40.0, 20.0, 0.5, (People(1), Flame("propane", 500.0, (18,))), None)
    with pytest.warns(HygroWarning, match="can kill by carbon monoxide"):
        run = bench.simulate(bench.build(Layer(_board(), 0.02)), hygro.constant_climate(0.0, 0.8, hours=24), home)
    assert "Fit an alarm" in run.attrs["indoor_caution"]
    assert "comfort: " in run.attrs["indoor_carbon_dioxide_guidance"]


def test_a_vent_gap_shows_in_the_run(bench):
    gap = VentGap(0.03, length=5.0, flow=FixedAirChange(50), slices=3)
    run = bench.simulate(
        bench.build(Layer(_board(), 0.02), gap, Layer(_board(), 0.02)), hygro.constant_climate(0.0, 0.8, hours=24), ROOM
    )
    assert run.sizes["slice"] == 3
    np.testing.assert_allclose(run["slice_position"], [5 / 6, 2.5, 25 / 6])
    assert "gap_air_temperature" in run
    np.testing.assert_allclose(np.diff(run["cell_position"]).max(), 0.03, atol=0.002)


def test_years_repeat_a_year(bench):
    run = bench.simulate(
        bench.build(Layer(_board(), 0.02)),
        hygro.constant_climate(0.0, 0.8, hours=8760),
        ROOM,
        start="1 January",
        years=2,
    )
    assert run.sizes["time"] in (2 * 8760, 2 * 8760 + 24)
