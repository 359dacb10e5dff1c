"""Which way things go: statements that must hold whatever the numbers are. Each compares two runs."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

import hygro
from hygro import AirLeak, ByWindAndBuoyancy, FixedFilm, Layer, Sheet, VentGap
from hygro.indoor import ConstantIndoor
from hygro.materials import Finish, Material

BOARD = Material(
    "deck", density=450, specific_heat=1600, conductivity=0.12, vapour_resistance=[(0.3, 150.0), (0.9, 30.0)],
    sorption=[(0.3, 28), (0.65, 54), (0.8, 72), (0.9, 92), (0.95, 108), (1.0, 130)], saturation=650,
)  # fmt: skip
WOOL = Material(
    "wool", density=30, specific_heat=1030, conductivity=0.036, vapour_resistance=1.2, sorption=lambda u: 0.6 * u,
    saturation=900,
)  # fmt: skip
DAYS = 60


def _wave(mean, swing):
    return mean + swing * np.sin(2 * math.pi * np.arange(24 * DAYS) / 24)


def _roof(bench, s_d=2.0, outdoor_humidity=0.8, indoor=0.4, leak=None, finish=None, gap=None, cold=-8.0):
    parts = [Layer(BOARD, 0.018), Layer(WOOL, 0.2), Sheet("retarder", s_d=s_d)]
    if gap is not None:
        steel = Material("steel", density=7800, specific_heat=460, conductivity=50, vapour_resistance=math.inf)
        parts = [Layer(steel, 0.0007), gap, *parts]
    climate = hygro.climate_from_arrays(_wave(cold, 5.0), np.full(24 * DAYS, outdoor_humidity), wind_speed=2.0)
    return bench.simulate(
        bench.build(*parts, tilt=30, finish=finish), climate, ConstantIndoor(20.0, indoor), leak=leak,
        initial=hygro.Start(5.0, 0.75),
    )  # fmt: skip


def _deck(run):
    return run["layer_water"].sel(layer="deck").to_numpy()[:, 0]


@pytest.mark.parametrize("gap", [None, VentGap(0.04, length=6.0, flow=ByWindAndBuoyancy(inlet=0.02, outlet=0.02))])
def test_wetter_outdoor_air_never_gives_a_drier_deck(bench, gap):
    runs = [_deck(_roof(bench, outdoor_humidity=u, gap=gap)) for u in (0.6, 0.75, 0.9)]
    for drier, wetter in itertools.pairwise(runs):
        assert (wetter >= drier - 1e-9).all()
        assert wetter[-1] > drier[-1] + 1e-4


def test_tighter_retarder_passes_no_more(bench):
    """In winter; the vapour that enters from indoors falls with every step of s_d, in each hour of the last days."""
    passed = [_roof(bench, s_d=s_d)["indoor_moisture_flux"].to_numpy()[-240:, 0] for s_d in (0.1, 1.0, 10.0, 100.0)]
    for opener, tighter in itertools.pairwise(passed):
        assert (tighter < opener).all()
    assert passed[-1].mean() > 0


def test_tighter_retarder_never_passes_more_in_steady_state(bench):
    """Constant weather until what enters from indoors changes no more; every step of s_d lets less of it in."""
    passed = []
    for s_d in (0.05, 0.5, 5.0, 50.0, 500.0):
        run = bench.simulate(
            bench.build(Layer(BOARD, 0.018), Layer(WOOL, 0.2), Sheet("retarder", s_d=s_d)),
            hygro.constant_climate(12.0, 0.6, hours=24 * 90), ConstantIndoor(20.0, 0.5),
            initial=hygro.Start(14.0, 0.6), outside=FixedFilm(20.0, 1.4e-7), detail=0.5,
        )  # fmt: skip
        before, last = run["indoor_moisture_flux"].to_numpy()[-480:, 0].reshape(2, 240).mean(axis=1)
        assert abs(last - before) < 0.01 * last
        passed.append(last)
    assert (np.diff(passed) < 0).all()
    assert passed[-1] > 0


def test_tighter_retarder_keeps_the_deck_drier_in_winter(bench):
    decks = [_deck(_roof(bench, s_d=s_d))[-1] for s_d in (0.1, 1.0, 10.0, 100.0)]
    assert (np.diff(decks) < 0).all()


def test_doubling_the_indoor_excess_never_dries(bench):
    saturation = float(hygro.MoistAir().over_water(20.0))
    outdoors = 0.8 * float(hygro.MoistAir().over_water(-8.0))
    runs = [_deck(_roof(bench, indoor=(outdoors + excess) / saturation)) for excess in (200.0, 400.0, 800.0)]
    for less, more in itertools.pairwise(runs):
        assert (more >= less - 1e-9).all()
        assert more[-1] > less[-1]


def test_more_leakage_never_dries_in_a_humid_heated_winter(bench):
    runs = [
        _deck(_roof(bench, s_d=20.0, indoor=0.5, leak=AirLeak(q50, height=2.5, into="deck") if q50 else None))
        for q50 in (0.0, 0.3, 1.0, 3.0)
    ]
    for tight, leaky in itertools.pairwise(runs):
        assert (leaky >= tight - 1e-9).all()
        assert leaky[-1] > tight[-1]


def test_leaks_into_a_vented_gap_wet_the_sheet_not_the_deck(bench):
    """Air that reaches the gap goes with the gap's air; the deck's inside sees none of it by the short path."""
    gap = VentGap(0.04, length=6.0, flow=ByWindAndBuoyancy(inlet=0.005, outlet=0.005))
    leaky = _roof(bench, s_d=20.0, indoor=0.5, gap=gap, leak=AirLeak(3.0, height=2.5, into="steel"))
    tight = _roof(bench, s_d=20.0, indoor=0.5, gap=gap)
    assert float(leaky["gap_vapour_pressure"].mean()) > float(tight["gap_vapour_pressure"].mean())
    assert float(leaky["gap_air_temperature"].mean()) > float(tight["gap_air_temperature"].mean())


def test_darker_roofs_never_cool_by_day(bench):
    climate = hygro.sample_climate("hut_valley")
    data = climate.data.isel(time=slice(24 * 120, 24 * 150))
    few = hygro.climate_from_arrays(
        data["air_temperature"].to_numpy(), data["relative_humidity"].to_numpy(), start="2023-05-01",
        latitude=climate.latitude, longitude=climate.longitude, elevation=climate.elevation,
        utc_offset=climate.utc_offset,
        **{str(n): data[n].to_numpy() for n in data.data_vars if n not in ("air_temperature", "relative_humidity")},
    )  # fmt: skip
    surfaces = []
    for absorptance in (0.2, 0.5, 0.9):
        run = bench.simulate(
            bench.build(Layer(BOARD, 0.018), Layer(WOOL, 0.2), Sheet("retarder", s_d=2.0), tilt=20,
                        finish=Finish("f", absorptance, 0.9)),
            few, ConstantIndoor(20.0, 0.4),
        )  # fmt: skip
        surfaces.append(run["outer_surface_temperature"].to_numpy()[:, 0])
    by_day = data["global_horizontal_irradiance"].to_numpy() > 50
    for lighter, darker in itertools.pairwise(surfaces):
        assert (darker[by_day] > lighter[by_day] - 0.05).all()  # evaporation may lag by hundredths
        assert (darker - lighter)[by_day].mean() > 1.0


def test_more_insulation_makes_the_outside_colder_and_wetter(bench):
    runs = [
        bench.simulate(
            bench.build(Layer(BOARD, 0.018), Layer(WOOL, thickness), Sheet("retarder", s_d=2.0)),
            hygro.constant_climate(-5.0, 0.8, hours=24 * 40), ConstantIndoor(20.0, 0.4),
            outside=FixedFilm(20.0, 1.4e-7),
        )
        for thickness in (0.1, 0.2, 0.4)
    ]  # fmt: skip
    temperatures = [float(r["temperature"][-1, 0, 0]) for r in runs]
    humidities = [float(r["relative_humidity"][-1, 0, 0]) for r in runs]
    assert (np.diff(temperatures) < 0).all()
    assert (np.diff(humidities) > 0).all()


def test_opener_vents_move_more_air(bench):
    speeds = []
    for opening in (0.002, 0.005, 0.02):
        gap = VentGap(0.04, length=6.0, flow=ByWindAndBuoyancy(inlet=opening, outlet=opening))
        speeds.append(float(np.abs(_roof(bench, gap=gap)["gap_air_speed"]).mean()))
    assert (np.diff(speeds) > 0).all()


def test_a_taller_gap_never_slows_the_air(bench):
    """Openings as tall as the gap, buoyancy and wind: hour by hour, at least as fast and more of it."""
    speeds = []
    for thickness in (0.015, 0.03, 0.06, 0.12):
        flow = ByWindAndBuoyancy(inlet=thickness, outlet=thickness)
        gap = VentGap(thickness, length=6.0, flow=flow)
        speeds.append(np.abs(_roof(bench, gap=gap)["gap_air_speed"].to_numpy()))
    for lower, taller in itertools.pairwise(speeds):
        assert (taller >= lower - 1e-4).all()
        assert taller.mean() > lower.mean()


def test_a_taller_gap_behind_the_same_openings_never_passes_less_air(bench):
    """The speed falls as the gap widens, since the openings rule; what counts for drying, the amount, does not."""
    flow = ByWindAndBuoyancy(inlet=0.01, outlet=0.01, screen=0.5)
    heights = (0.01, 0.02, 0.04, 0.08, 0.16)
    runs = [_roof(bench, gap=VentGap(height, length=6.0, flow=flow)) for height in heights]
    amounts = [height * np.abs(run["gap_air_speed"].to_numpy()) for height, run in zip(heights, runs, strict=True)]
    for lower, taller in itertools.pairwise(amounts):
        assert (taller >= lower * (1.0 - 1e-3)).all()
        assert taller.mean() > lower.mean()
