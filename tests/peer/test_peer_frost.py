"""Frost, thaw and leaking air against CVODE on the same equations (see ``peer_run``)."""

import cases
import compare
import peer_run
import pytest
from evidence import Grade

from hygro.indoor import ConstantIndoor
from hygro.leakage import AirLeak

CVODE = {"grade": Grade.INDEPENDENT, "source": "CVODE on the same equations, written apart"}
INDOOR = ConstantIndoor(20.0, 0.45)


@pytest.fixture(scope="module")
def winter():
    climate = cases.first_days(cases.cold_valley("1 November"), 120)
    return climate, peer_run.integrate(cases.unvented_roof(), climate, INDOOR, leak=cases.leak_to_the_deck())


@pytest.mark.parametrize(("settings", "share"), [(compare.DEFAULT, 1.0), (compare.TIGHT, 0.1)])
def test_a_leak_to_the_deck_over_a_winter(winter, evidence, settings, share):
    climate, peer = winter
    both = compare.pair(cases.unvented_roof(), climate, INDOOR, peer, settings, leak=cases.leak_to_the_deck())
    steps = "usual" if share == 1.0 else "fine"
    for layer in ("deck", "insulation", "lining"):
        evidence.check(
            f"leak to the deck, {steps} steps: {layer} moisture, 120 days", *both.moisture(layer), within=0.05 * share,
            unit="mass %", **CVODE,
        )  # fmt: skip
    ours, theirs = both.ice("deck")
    assert theirs.max() > 0.1  # there is frost
    assert theirs[-24:].min() < 0.5 * theirs.max()  # and thaw
    evidence.check(
        f"leak to the deck, {steps} steps: ice, 120 days", compare.daily(ours), compare.daily(theirs),
        within=0.005 * share, unit="kg m-2", **CVODE,
    )  # fmt: skip
    evidence.check(
        f"leak to the deck, {steps} steps: RMS, worst cell", both.temperature_rms(), 0.0, within=0.1 * share, unit="K",
        **CVODE,
    )  # fmt: skip


@pytest.mark.parametrize("height", [1.0, -1.0])
def test_air_that_seeps_through_a_wall(evidence, height):
    climate = cases.first_days(cases.cold_valley("1 January"), 45)
    leak = AirLeak("1 m3/(m2 hour)", height=height, into=None)
    peer = peer_run.integrate(cases.framed_wall(), climate, INDOOR, leak=leak)
    both = compare.pair(cases.framed_wall(), climate, INDOOR, peer, leak=leak)
    way = "out" if height > 0 else "in"
    for layer in ("sheathing", "insulation"):
        evidence.check(
            f"air that seeps {way}: {layer} moisture, 45 days",
            *both.moisture(layer),
            within=0.05,
            unit="mass %",
            **CVODE,
        )
    evidence.check(f"air that seeps {way}: RMS, worst cell", both.temperature_rms(), 0.0, within=0.1, unit="K", **CVODE)


def test_frost_and_dew_under_a_metal_sheet(evidence):
    climate = cases.first_days(cases.cold_valley("1 January"), 40)
    peer = peer_run.integrate(cases.metal_roof(), climate, INDOOR)
    both = compare.pair(cases.metal_roof(), climate, INDOOR, peer)
    ours, theirs = both.ice("metal")
    assert theirs.max() > 0.02
    evidence.check(
        "frost under a metal sheet, 40 days", compare.daily(ours), compare.daily(theirs), within=0.005, unit="kg m-2",
        **CVODE,
    )  # fmt: skip
    assert both.moisture_error("insulation") < 0.05
