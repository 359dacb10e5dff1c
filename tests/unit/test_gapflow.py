"""How a gap's air is driven: what is refused, what the words say."""

from __future__ import annotations

import numpy as np
import pytest

from hygro import ByWindAndBuoyancy, Closed, FixedAirChange
from hygro.errors import InputError
from hygro.gapflow import OPEN, SHELTERED, SHUT

OPENINGS = {"inlet": 0.02, "outlet": 0.02}
REFUSED = [
    ({"inlet": 200}, 'inlet is 200 m2 per metre; it must lie between 0 and 1. Write "200 cm^2/m"'),
    ({"inlet": -0.01}, "it must lie between 0 and 1"),
    ({"outlet": "20 mm^2"}, "could not be read"),
    ({"outlet": float("nan")}, "it must be a finite number"),
    ({"screen": 0.0}, "the screen's free share is 0; it must lie between 0.05 and 1 (no screen)"),
    ({"screen": 50}, "it must lie between 0.05 and 1"),
    ({"blocked": 1.5}, "the blocked share is 1.5; it must lie between 0 and 1"),
    ({"blocked": -0.5}, "the blocked share is -0.5"),
    ({"exposure": "windy"}, "give OPEN, SEMI_SHELTERED, SHELTERED or an Exposure"),
    ({"inlet_bearing": "left"}, "could not be read"),
]


@pytest.mark.parametrize(("values", "sentence"), REFUSED)
def test_openings_refuse(values, sentence):
    with pytest.raises(InputError) as caught:
        ByWindAndBuoyancy(**(OPENINGS | values))
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    ("rate", "sentence"), [(-1, "between 0 and 20000"), (1e6, "between 0 and 20000"), ("fast", "could not")]
)
def test_rate_refuses(rate, sentence):
    with pytest.raises(InputError, match=sentence):
        FixedAirChange(rate)


def test_shut_openings_shut():
    for values in ({"inlet": 0.0}, {"outlet": 0.0}, {"blocked": 1.0}):
        assert ByWindAndBuoyancy(**(OPENINGS | values)).loss_coefficient(0.03) == SHUT
    assert Closed().loss_coefficient(0.03) == SHUT
    assert Closed().fixed_speed(5.0) == 0.0


def test_snow_and_screens_only_add_resistance():
    free = ByWindAndBuoyancy(**OPENINGS).loss_coefficient(0.03)
    losses = [ByWindAndBuoyancy(**OPENINGS, blocked=b).loss_coefficient(0.03) for b in (0.0, 0.3, 0.6, 0.9)]
    assert losses[0] == free
    assert (np.diff(losses) > 0).all()
    screens = [ByWindAndBuoyancy(**OPENINGS, screen=s).loss_coefficient(0.03) for s in (1.0, 0.7, 0.4)]
    assert (np.diff(screens) > 0).all()


def test_exposed_sites_get_more_wind():
    def pressure(exposure):
        flow = ByWindAndBuoyancy(**OPENINGS, exposure=exposure)
        return flow.wind_pressure(np.array([5.0]), np.array([0.0]), np.array([1.25]), 0.0)[0]

    assert pressure(OPEN) > pressure(SHELTERED) > 0


def test_fixed_rate_becomes_a_speed():
    assert FixedAirChange("36 1/hour").fixed_speed(10.0) == pytest.approx(0.1)
    assert FixedAirChange(36).wind_pressure(np.ones(2), np.ones(2), np.ones(2), 0.0).sum() == 0.0


def test_words():
    text = ByWindAndBuoyancy(inlet="200 cm^2/m", outlet="50 cm^2/m", screen="50 %", blocked="25 %").describe()
    assert "openings 200 and 50 cm² per m" in text
    assert "screen 50 % free" in text
    assert "25 % blocked" in text
    assert "semi-sheltered site" in text
    assert FixedAirChange(36).describe() == "36 air changes per hour, fixed"
    assert Closed().describe() == "closed, still air"
