"""Liquid water in a wall of two materials that dries, against CVODE on the same equations (see ``peer_run``)."""

import cases
import compare
import peer_run
import pytest
from evidence import Grade

from hygro.indoor import ConstantIndoor
from hygro.simulation import Start

CVODE = {"grade": Grade.INDEPENDENT, "source": "CVODE on the same equations, written apart"}
INDOOR, START = ConstantIndoor(20.0, 0.45), Start(15.0, 0.8)
COLD_START = Start(5.0, 0.8)


@pytest.fixture(scope="module")
def spring():
    climate = cases.first_days(cases.cold_valley("1 May"), 21)
    return climate, peer_run.integrate(cases.plastered_brick(), climate, INDOOR, initial=START, tolerance=1e-6)


@pytest.mark.parametrize("settings", [compare.DEFAULT, compare.TIGHT])
def test_wet_brick_between_plasters(spring, evidence, settings):
    climate, peer = spring
    both = compare.pair(cases.plastered_brick(), climate, INDOOR, peer, settings, initial=START)
    render = both.moisture("render")[1]
    assert render.max() > 10.0 * render.min()  # it drinks from the brick, then dries
    steps, warmth = ("usual", 0.1) if settings is compare.DEFAULT else ("fine", 0.01)
    for layer in ("render", "brick", "plaster"):
        evidence.check(
            f"wet brick dries, {steps} steps: {layer} moisture, 21 days", *both.moisture(layer), within=0.05,
            unit="mass %", **CVODE,
        )  # fmt: skip
    evidence.check(
        f"wet brick dries, {steps} steps: RMS, worst cell",
        both.temperature_rms(),
        0.0,
        within=warmth,
        unit="K",
        **CVODE,
    )


@pytest.fixture(scope="module")
def january():
    climate = cases.first_days(cases.cold_valley("1 January"), 10)
    return climate, peer_run.integrate(cases.plastered_brick(0.999), climate, INDOOR, initial=COLD_START)


@pytest.mark.parametrize(("settings", "share"), [(compare.DEFAULT, 1.0), (compare.TIGHT, 0.1)])
def test_ice_blocks_liquid_in_a_wet_wall(january, evidence, settings, share):
    climate, peer = january
    both = compare.pair(cases.plastered_brick(0.999), climate, INDOOR, peer, settings, initial=COLD_START)
    ours, theirs = both.ice("brick")
    assert theirs.max() > 0.1  # the outer part of the brick freezes, the inner part stays wet
    steps = "usual" if share == 1.0 else "fine"
    for layer in ("render", "brick", "plaster"):
        evidence.check(
            f"ice in a wet wall, {steps} steps: {layer} moisture, 10 days", *both.moisture(layer), within=0.05 * share,
            unit="mass %", **CVODE,
        )  # fmt: skip
    evidence.check(
        f"ice in a wet wall, {steps} steps: ice, 10 days", compare.daily(ours), compare.daily(theirs),
        within=0.005 * share, unit="kg m-2", **CVODE,
    )  # fmt: skip
    assert both.temperature_rms() < 0.1 * share
