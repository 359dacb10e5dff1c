"""Freezing, melting, films and dripping, and a face that drinks rain: amounts by hand.

Enthalpy: H = rho c T + (w - w_ice) c_w T + w_ice (c_i T - L_f). Unfrozen water: what the material binds at the activity
p_ice / p_water of its temperature. Drinking: sorptivity of the stated diffusivity by Parlange's integral
S^2 = int (w_f + w) D dw (soil physics; from memory), within 1 % for diffusivities that rise steeply.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from evidence import Grade

import hygro
from hygro import DrivingRain, FixedAirChange, FixedFilm, Layer, MoistAir, VentGap
from hygro.core.bundles import G_DRIP, G_OUT, G_RAIN, G_RUNOFF, RAIN
from hygro.core.formulas import saturation_pressure_ice, saturation_pressure_water
from hygro.core.work import Settings
from hygro.indoor import ConstantIndoor
from hygro.materials import AbsorptionCoefficient, LiquidConductivity, Material

ENTHALPY = {"grade": Grade.EXACT, "source": "enthalpy of water and ice"}
DRUNK = {"grade": Grade.EXACT, "source": "the material's own statement; estimate of Kuenzel 1995"}
DRYING = {"grade": Grade.EXACT, "source": "film and difference of vapour pressure"}
L_F, C_W, C_I = 3.336e5, 4190.0, 2000.0


def _wood():
    return Material(
        "wood", density=450, specific_heat=1600, conductivity=0.12, vapour_resistance=50.0,
        sorption=lambda u: 100 * u + 40 * u**8, saturation=650,
    )  # fmt: skip


def _stone():
    return Material(
        "stone", density=1900, specific_heat=850, conductivity=1.0, vapour_resistance=20.0,
        retention=lambda s: 180 * (1 + (2e-6 * s) ** 1.6) ** -0.375,
        liquid=LiquidConductivity(lambda s: 1e-10 * (1 + (2e-6 * s) ** 1.5) ** -1.5),
    )  # fmt: skip


SEALED = {"outside": FixedFilm(50.0, 0.0), "inside": FixedFilm(50.0, 0.0)}


def _unfrozen(material, t):
    """Water [kg m-3] that stays liquid at a temperature, by the ratio of the two saturation pressures."""
    u = min(float(saturation_pressure_ice(t) / saturation_pressure_water(t)), 1.0)
    if material.retention is None:
        return float(material.water_content(u))
    return float(material.water_content_at_suction(-1000 * 461.5 * (t + 273.15) * math.log(u)))


@pytest.mark.parametrize("kind", ["wood", "stone"])
@pytest.mark.parametrize("end", [-2.0, -10.0, -25.0])
def test_freezing_a_wet_layer(bench, evidence, kind, end):
    """Sealed layer at 5 degC and 99.5 %, cooled through: heat given off and ice formed against the closed form."""
    material = {"wood": _wood(), "stone": _stone()}[kind]
    d = 0.04
    run = bench.simulate(
        bench.build(Layer(material, d)), hygro.constant_climate(end, 0.8, hours=300), ConstantIndoor(end, 0.5),
        initial=hygro.Start(5.0, 0.995), **SEALED,
    )  # fmt: skip
    w = run["water_content"].to_numpy()[-1, 0]
    total = float((w * run["cell_thickness"]).sum())
    ice = run["ice_content"].to_numpy()[-1, 0]
    mean_w, unfrozen = total / d, _unfrozen(material, end)
    assert mean_w - unfrozen > 5.0
    # a cell that gave vapour to a colder neighbour holds less, but what it holds unfrozen is the same
    np.testing.assert_allclose(w - ice, unfrozen, rtol=2e-3)
    frozen = total - unfrozen * d
    capacity = material.density * material.specific_heat * d
    change = capacity * (end - 5) + C_W * (unfrozen * d * end - total * 5) + frozen * (C_I * end - L_F)
    passed = float((run["outdoor_heat_flux"] + run["indoor_heat_flux"]).sum()) * 3600
    evidence.check(
        f"wet {kind} frozen to {end:g} degC: heat given off",
        passed,
        change,
        within=1e-3,
        relative=True,
        unit="J m-2",
        **ENTHALPY,
    )


def test_free_water_freezes_within_its_span(bench):
    """Past what it binds, all free water is ice a fifth of a kelvin below zero."""
    wood = _wood()
    start = (140.0 + 200.0) / 450
    run = bench.simulate(
        bench.build(Layer(wood, 0.02, start_moisture=start)), hygro.constant_climate(-0.3, 0.8, hours=400),
        ConstantIndoor(-0.3, 0.5), initial=hygro.Start(2.0, 0.9), **SEALED,
    )  # fmt: skip
    liquid = run["water_content"].to_numpy()[-1, 0] - run["ice_content"].to_numpy()[-1, 0]
    assert run["layer_water"].to_numpy()[-1, 0, 0] / 0.02 == pytest.approx(340.0, rel=1e-6)
    np.testing.assert_allclose(liquid, _unfrozen(wood, -0.3), rtol=5e-3)


def test_spring_gives_all_water_back(bench):
    """Winter and spring in a sealed layer: no ice is left, no water lost, and the heat comes back."""
    hours = 24 * 30
    wave = -6 + 14 * np.cos(2 * math.pi * np.arange(1, hours + 1) / hours)
    outdoor = np.concatenate([np.full(48, 8.0), wave, np.full(200, 8.0)])
    run = bench.simulate(
        bench.build(Layer(_stone(), 0.05, start_humidity=0.999)),
        hygro.climate_from_arrays(outdoor, np.full(outdoor.size, 0.8)),
        ConstantIndoor(8.0, 0.5), initial=hygro.Start(8.0, 0.999), **SEALED,
    )  # fmt: skip
    water = run["layer_water"].to_numpy()[:, 0, 0]
    assert run["ice_content"].to_numpy().max() > 20
    assert run["ice_content"].to_numpy()[-1].max() == 0.0
    np.testing.assert_allclose(water, water[0], rtol=1e-6)
    assert float((run["outdoor_heat_flux"] + run["indoor_heat_flux"]).sum()) * 3600 == pytest.approx(0.0, abs=2e3)


def _steel_roof(rate=40.0):
    steel = Material("steel", density=7800, specific_heat=460, conductivity=50, vapour_resistance=math.inf)
    wet = Material(
        "wet board", density=500, specific_heat=1600, conductivity=0.12, vapour_resistance=3.0,
        sorption=lambda u: 120 * u, saturation=650,
    )  # fmt: skip
    gap = VentGap(0.03, length=5.0, flow=FixedAirChange(rate))
    return [Layer(steel, 0.0007), gap, Layer(wet, 0.02, start_moisture="60 %")], steel


@pytest.mark.parametrize("outdoor", [2.0, -8.0])
def test_film_under_steel_fills_and_drips(bench, outdoor):
    """Above a wet board the film fills to 0.2 kg/m2; liquid drips off at the rate it comes, books closed; ice is held
    to the same limit."""
    parts, _ = _steel_roof(rate=2.0)
    run = bench.simulate(
        bench.build(*parts, tilt=20), hygro.constant_climate(outdoor, 0.9, hours=24 * 30), ConstantIndoor(25.0, 0.8),
        initial=hygro.Start(10.0, 0.9), outside=FixedFilm(20.0, 1e-7),
    )  # fmt: skip
    film = int(np.flatnonzero(run["cell_is_film"].to_numpy())[0])
    held = run["water_content"].to_numpy()[:, 0, film] * float(run["cell_thickness"][film])
    assert held[0] < 0.1
    # the film sheds its excess within ten minutes: it holds the limit and ten minutes' worth of condensate
    dripped = run["drip"].to_numpy()[:, 0]
    assert held.max() == pytest.approx(0.2, abs=0.01)
    assert (held <= 0.2 + 600 * dripped.max() * 1.05 + 1e-6).all()
    assert dripped.sum() * 3600 > 0.5
    assert dripped[held < 0.19].max() == pytest.approx(0.0, abs=1e-9)


def test_film_belongs_to_the_gap_face_only(bench):
    parts, _ = _steel_roof()
    run = bench.simulate(bench.build(*parts), hygro.constant_climate(5.0, 0.8, hours=2), ConstantIndoor(20.0, 0.5))
    assert run["cell_is_film"].to_numpy().sum() == 1
    assert int(np.flatnonzero(run["cell_is_film"].to_numpy())[0]) == int((run["cell_layer"] == 0).sum()) - 1


def test_a_dry_night_takes_the_film_away_again(bench):
    """Condensate on steel evaporates into drier air: what came by the gap goes by the gap."""
    steel = Material("steel", density=7800, specific_heat=460, conductivity=50, vapour_resistance=math.inf)
    foam = bench.heat_only("foam", 30, 1400, 0.03)
    gap = VentGap(0.03, length=5.0, flow=FixedAirChange(100))
    outdoor = np.concatenate([np.full(48, 15.0), np.full(24 * 20, 15.0)])
    humid = np.concatenate([np.full(48, 0.99), np.full(24 * 20, 0.5)])
    forcing_start = hygro.Start(2.0, 0.9)
    run = bench.simulate(
        bench.build(Layer(steel, 0.003), gap, Layer(foam, 0.1)), hygro.climate_from_arrays(outdoor, humid),
        ConstantIndoor(15.0, 0.5), initial=forcing_start, outside=FixedFilm(3.0, 0.0),
    )  # fmt: skip
    film = int(np.flatnonzero(run["cell_is_film"].to_numpy())[0])
    held = run["water_content"].to_numpy()[:, 0, film] * float(run["cell_thickness"][film])
    assert held[:48].max() > 1e-4
    assert held[-1] < 1e-6


def _drinker(a=0.05):
    return Material(
        "drinker", density=1800, specific_heat=900, conductivity=0.8, vapour_resistance=10.0, free_saturation=200,
        saturation=260, sorption=lambda u: 200 * (1 - np.log(np.clip(u, 1e-9, 1.0)) / 0.02) ** -0.8,
        liquid=AbsorptionCoefficient(a),
    )  # fmt: skip


@pytest.mark.parametrize("a", [0.01, 0.05])
def test_absorption_coefficient_is_recovered(bench, evidence, a):
    """Rain in plenty on a dry half space: uptake A sqrt(t), A within 2 % of what the material states."""
    wall = bench.build(Layer(_drinker(a), 0.02), Layer(_drinker(a), 0.2))
    air = bench.isothermal_air()
    forcing = bench.forcing(30, air, (20.0, 0.3), (20.0, 0.3), ((50.0, 0.0), (50.0, 0.0)))
    forcing[:, RAIN] = 1.0  # far more than it can take
    kernel = bench.kernel(wall, forcing, air, 20.0, 0.3, detail=12)
    record, _, _ = kernel.run(Settings(0.05, 1e-3, newton=1e-3, unchecked=0.0, finest_step=5.0))
    taken = np.cumsum(record.fluxes[:, 0, G_RAIN]) * 3600
    hours = np.arange(1, 31)
    reached = taken < 0.5 * 200 * 0.22  # still a half space
    slopes = (taken / np.sqrt(3600 * hours))[reached]
    assert reached.sum() > 5
    evidence.check(
        f"absorption coefficient from a simulated uptake, {a} put in",
        slopes[2:],
        a,
        within=0.02,
        relative=True,
        unit="kg m-2 s-0.5",
        **DRUNK,
    )
    np.testing.assert_allclose(record.fluxes[:, 0, G_RAIN] + record.fluxes[:, 0, G_RUNOFF], 1.0, rtol=1e-9)


@pytest.mark.parametrize("a", [0.05, 0.5, None])
def test_from_oven_dry_to_capillary_saturation(bench, evidence, a):
    """A wetting front from a suction of 1e9 Pa to the wettest that a curve knows, at the usual steps and cells.

    Where A is stated it comes back from the third hour on, as long as the wall is a half space. (Of a tenth of it and
    less, what goes ahead of the front as vapour adds more than 2 %.)
    """
    dry = math.exp(-1e9 / (1000 * 461.5 * 293.15))
    material = _drinker(a) if a else _stone()
    hours, depth = 24 * 20, 0.1
    flood = hygro.climate_from_arrays(
        np.full(hours, 20.0), np.full(hours, 0.9), rain=np.full(hours, 50.0), wind_speed=10.0, wind_direction=180.0
    )
    run = bench.simulate(
        bench.build(Layer(material, depth)), flood, ConstantIndoor(20.0, 0.5), initial=hygro.Start(20.0, dry),
        outside=FixedFilm(50.0, 0.0), inside=FixedFilm(8.0, 0.0), rain=DrivingRain(deposition=1.0),
    )  # fmt: skip
    held = run["water_content"].to_numpy()[:, 0]
    assert float(material.water_content(dry)) < 0.03 * held[-1].max()
    taken = np.cumsum(run["rain_absorbed"].to_numpy()[:, 0]) * 3600
    full = float(material.water_content(1.0 - 1e-12)) * depth
    reached = (taken < 0.5 * full) & (np.arange(hours) > 1)
    if a == 0.05:
        evidence.check(
            f"absorption coefficient at the usual accuracy, from oven-dry, {a} put in",
            (taken / np.sqrt(3600 * np.arange(1, hours + 1)))[reached], a, within=0.02, relative=True,
            unit="kg m-2 s-0.5", **DRUNK,
        )  # fmt: skip
    sigma = -np.log(run["relative_humidity"].to_numpy()[-1, 0])
    assert (1000 * 461.5 * 293.15 * sigma < 1000.0).all()
    np.testing.assert_allclose(held[-1], full / depth, rtol=0.01)


def test_light_rain_is_drunk_to_the_last_drop(bench):
    air = MoistAir()
    forcing = bench.forcing(48, air, (10.0, 0.7), (20.0, 0.5), ((20.0, 1e-7), (8.0, 2e-8)))
    forcing[1:7, RAIN] = 0.5 / 3600
    kernel = bench.kernel(bench.build(Layer(_drinker(), 0.1)), forcing, air, 12.0, 0.7)
    record, _, _ = kernel.run()
    np.testing.assert_allclose(record.fluxes[:6, 0, G_RAIN], 0.5 / 3600, rtol=1e-9)
    assert np.abs(record.fluxes[:, 0, G_RUNOFF]).max() < 1e-12
    assert np.abs(record.fluxes[6:, 0, G_RAIN]).max() < 1e-15
    assert record.fluxes[:, 0, G_DRIP].max() == 0.0


def test_wet_face_dries_at_the_rate_of_its_film(bench, evidence):
    """First stage of drying: a drinking face as wet as can be loses beta (p_sat(T_s) - p_air), whatever its cells.

    The surface is fed by liquid flow, so that the vapour resistance of half a cell must not stand in the way:
    within 5 %.
    """
    air = bench.isothermal_air()
    beta = 2e-7
    losses = []
    for detail in (1.0, 4.0):
        forcing = bench.forcing(3, air, (20.0, 0.4), (20.0, 0.4), ((50.0, beta), (50.0, 0.0)))
        kernel = bench.kernel(bench.build(Layer(_drinker(0.2), 0.1)), forcing, air, 20.0, 0.9999, detail=detail)
        record, _, _ = kernel.run()
        losses.append(-record.fluxes[0, 0, G_OUT])
    expected = beta * (1 - 0.4) * float(air.over_water(20.0))
    evidence.check(
        "first stage of drying, two grids", losses, expected, within=0.05, relative=True, unit="kg m-2 s-1", **DRYING
    )
