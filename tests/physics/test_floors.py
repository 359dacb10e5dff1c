"""Floors over ventilated air, by hand and by directions: what the underside meets, wetness locked in, what to open."""

from __future__ import annotations

import numpy as np
import pytest

import hygro
from hygro import AirLeak, Layer, Sheet, Underfloor, Weathered
from hygro.constants import STEFAN_BOLTZMANN
from hygro.errors import InputError
from hygro.indoor import ConstantIndoor
from hygro.opening import NONE, compare_openings

ROOM = ConstantIndoor(20.0, 0.4)


def _floor(bench, below="polyethylene 0.15 mm", above="polyethylene 0.15 mm", **wet):
    parts = [
        Sheet(below, name="lower sheet"), Layer("plywood 500", "9 mm", name="bottom board", **wet),
        Layer("mineral wool batt", "150 mm", name="insulation"), Sheet(above, name="upper sheet"),
        Layer("plywood 500", "18 mm", name="floor board"),
    ]  # fmt: skip
    return bench.build(*parts, tilt=180, name="floor")


def _sunny(hours=24 * 20, **others):
    data = hygro.sample_climate("hut_valley").data.isel(time=slice(24 * 150, 24 * 150 + hours))
    given = {name: data[name].to_numpy() for name in data.data_vars}
    place = {"latitude": 62.4, "longitude": 14.2, "elevation": 520.0, "utc_offset": 1.0}
    return hygro.climate_from_arrays(
        given.pop("air_temperature"), given.pop("relative_humidity"), start="2023-05-31", **place, **(given | others)
    )


def test_underside_exchanges_with_air_and_what_lies_below_at_air_temperature(bench):
    """Steady: 4 + 4 x 0.3 x 2 m/s by convection and eps sigma (T_s^4 - T_a^4) carry what conduction brings."""
    floor = bench.build(Layer(bench.heat_only(conductivity=0.04), "100 mm"), tilt=180)
    run = bench.simulate(
        floor, hygro.constant_climate(-10.0, 0.8, hours=24 * 10, wind_speed=2.0), ROOM, initial=hygro.Start(0.0, 0.5),
        settings=bench.tight,
    )  # fmt: skip
    surface = float(run["outer_surface_temperature"][-1, 0])
    flux = -float(run["outdoor_heat_flux"][-1, 0])
    radiated = 0.9 * STEFAN_BOLTZMANN * ((surface + 273.15) ** 4 - 263.15**4)
    assert flux == pytest.approx((4.0 + 4.0 * 0.3 * 2.0) * (surface + 10.0) + radiated, rel=1e-5)
    outer = 1.0 / (6.4 + 4 * 0.9 * STEFAN_BOLTZMANN * 263.5**3)
    assert flux == pytest.approx(30.0 / (0.17 + 2.5 + outer), rel=1e-3)


def test_neither_sun_nor_sky_reach_the_underside(bench):
    """Another sky and another sun change nothing under a floor; with the exposed surface asked for they do."""
    clear, dull = _sunny(), _sunny(longwave_down=250.0, global_horizontal_irradiance=0.0,
                                   direct_normal_irradiance=0.0, diffuse_horizontal_irradiance=0.0)  # fmt: skip
    floor = _floor(bench)
    one, two = (bench.simulate(floor, weather, ROOM) for weather in (clear, dull))
    np.testing.assert_array_equal(one["temperature"], two["temperature"])
    exposed = bench.simulate(floor, clear, ROOM, outside=Weathered())
    assert float(exposed["outer_surface_temperature"].max()) > float(one["outer_surface_temperature"].max()) + 1.0
    assert "Underfloor(wind_share=0.3)" in one.attrs["assumed"]
    assert float(one["rain_run_off"].max()) == 0.0


@pytest.mark.parametrize("share", [-0.1, 1.5, float("nan"), "some"])
def test_wind_share_under_the_floor(share):
    with pytest.raises(InputError, match="wind_share"):
        Underfloor(share)


def test_wetness_locked_in_stays_between_tight_sheets(bench):
    """Mass per cent or humidity, what is stated at building time is there; two tight sheets let next to nothing go."""
    year = hygro.sample_climate("hut_valley")
    by_mass = bench.simulate(_floor(bench, start_moisture="25 %"), year, ROOM, start="1 September")
    water = by_mass["layer_water"].isel(slice=0)
    held = float(water.sel(layer="bottom board")[0])
    assert held == pytest.approx(0.25 * 500 * 0.009, rel=0.02)
    locked = float(water.sel(layer=["bottom board", "insulation"])[0].sum())
    left = float(water.sel(layer=["bottom board", "insulation"])[-1].sum())
    assert left > 0.9 * locked
    by_humidity = bench.simulate(_floor(bench, start_humidity="95 %"), year.period("1 September"), ROOM)
    dry = bench.simulate(_floor(bench), year.period("1 September"), ROOM)
    first = [float(run["layer_water"].sel(layer="bottom board")[0, 0]) for run in (dry, by_humidity)]
    assert first[1] > 1.5 * first[0]


def test_which_part_to_open(bench):
    """Over cold air an open lower sheet dries the bottom board, an open upper one does not; the table says so."""
    year = hygro.sample_climate("hut_valley")
    floor = _floor(bench, start_moisture="25 %")
    table = compare_openings(floor, year, ROOM, "bottom board", below=18.0, start="1 May")
    assert set(table.index) == {NONE, "lower sheet", "upper sheet", "floor board"}
    assert table.index[0] == "lower sheet"
    assert table.loc["lower sheet", "days until dry"] < 120
    assert np.isinf(table.loc[NONE, "days until dry"])
    assert np.isnan(table.loc[NONE, "s_d [m]"])
    assert table.loc["lower sheet", "at the end [%]"] < table.loc[NONE, "at the end [%]"] - 5.0
    as_stated = bench.simulate(floor, year, ROOM, start="1 May")
    content = hygro.criteria.moisture_content(as_stated, "bottom board")
    assert table.loc[NONE, "at the end [%]"] == pytest.approx(float(content[-1, 0]), rel=1e-12)


def test_layers_are_opened_as_well_as_sheets(bench):
    """A metal tray lets vapour out once it is opened; an open board on the warm side lets more in."""
    floor = bench.build(
        Layer("steel sheet", "1 mm", name="tray"), Layer("plywood 500", "12 mm", name="board", start_humidity=0.95),
        Layer("OSB", "18 mm", name="top"), tilt=180,
    )  # fmt: skip
    weather = hygro.constant_climate(0.0, 0.7, hours=8760)
    table = compare_openings(floor, weather, ROOM, "board", below=18.0, start="1 January", opened="5 cm")
    assert set(table.index) == {NONE, "tray", "top"}
    assert table.loc["tray", "s_d [m]"] == np.inf
    assert table.loc["tray", "days until dry"] < 10.0
    assert np.isinf(table.loc[NONE, "days until dry"])
    # the room is the wetter side: to open the top lets vapour in rather than out
    assert table.loc["top", "at the end [%]"] > table.loc[NONE, "at the end [%]"] + 1.0
    with pytest.raises(InputError, match="an opened part has an s_d of 50 m"):
        compare_openings(floor, weather, ROOM, "board", below=10.0, start="1 January", opened=50.0)


def test_cold_air_comes_in_through_a_floor_and_out_again_when_the_house_is_the_colder(bench):
    """A floor below the neutral level: infiltration in winter, exfiltration when outdoor air is the warmer."""
    leak = AirLeak(3.0, height=-1.2, into=None)
    floor = _floor(bench, below="breather membrane", above="kraft facing")
    flows, boards = {}, {}
    for outdoors in (-15.0, 35.0):
        weather = hygro.constant_climate(outdoors, 0.5, hours=24 * 10)
        run = bench.simulate(floor, weather, ROOM, leak=leak)
        tight = bench.simulate(floor, weather, ROOM)
        flows[outdoors] = float(run["leak_air_flow"][-1])
        boards[outdoors] = float((run["temperature"] - tight["temperature"])[-1, 0, -6])
    assert flows[-15.0] < 0.0 < flows[35.0]
    assert boards[-15.0] < -0.5  # cold air cools the boards on its way in
    assert boards[35.0] < 0.0  # and room air cools them on its way out
