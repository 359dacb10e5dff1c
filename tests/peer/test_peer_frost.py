"""Frost, thaw and leaking air against CVODE on the same equations (see ``peer_run``)."""

import cases
import compare
import numpy as np
import peer_run
import pytest

from hygro.indoor import ConstantIndoor
from hygro.leakage import AirLeak

INDOOR = ConstantIndoor(20.0, 0.45)


@pytest.fixture(scope="module")
def winter():
    climate = cases.first_days(cases.cold_valley("1 November"), 120)
    return climate, peer_run.integrate(cases.unvented_roof(), climate, INDOOR, leak=cases.leak_to_the_deck())


@pytest.mark.parametrize(("settings", "share"), [(compare.DEFAULT, 1.0), (compare.TIGHT, 0.1)])
def test_a_leak_to_the_deck_over_a_winter(winter, settings, share):
    climate, peer = winter
    both = compare.pair(cases.unvented_roof(), climate, INDOOR, peer, settings, leak=cases.leak_to_the_deck())
    for layer in ("deck", "insulation", "lining"):
        assert both.moisture_error(layer) < 0.05 * share
    ours, theirs = both.ice("deck")
    assert theirs.max() > 0.1  # there is frost
    assert theirs[-24:].min() < 0.5 * theirs.max()  # and thaw
    assert np.abs(compare.daily(ours - theirs)).max() < 0.005 * share
    assert both.temperature_rms() < 0.1 * share


@pytest.mark.parametrize("height", [1.0, -1.0])
def test_air_that_seeps_through_a_wall(height):
    climate = cases.first_days(cases.cold_valley("1 January"), 45)
    leak = AirLeak("1 m3/(m2 hour)", height=height, into=None)
    peer = peer_run.integrate(cases.framed_wall(), climate, INDOOR, leak=leak)
    both = compare.pair(cases.framed_wall(), climate, INDOOR, peer, leak=leak)
    assert both.moisture_error("sheathing") < 0.05
    assert both.moisture_error("insulation") < 0.05
    assert both.temperature_rms() < 0.1


def test_frost_and_dew_under_a_metal_sheet():
    climate = cases.first_days(cases.cold_valley("1 January"), 40)
    peer = peer_run.integrate(cases.metal_roof(), climate, INDOOR)
    both = compare.pair(cases.metal_roof(), climate, INDOOR, peer)
    ours, theirs = both.ice("metal")
    assert theirs.max() > 0.02
    assert np.abs(compare.daily(ours - theirs)).max() < 0.005
    assert both.moisture_error("insulation") < 0.05
