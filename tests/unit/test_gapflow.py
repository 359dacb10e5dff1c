"""How a gap's air is driven: what is refused, what the words say."""

from __future__ import annotations

import numpy as np
import pytest

from hygro import ByWindAndBuoyancy, Closed, FixedAirChange
from hygro.errors import InputError
from hygro.gapflow import OPEN, SEMI_SHELTERED, SHELTERED, SHUT

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
    ({"outlet_bearing": "left"}, "Gap opening: outlet_bearing is 'left', which could not be read"),
    ({"inlet_coefficient": 5.0}, "inlet_coefficient is 5; a wind pressure coefficient lies between -3 and 3."),
    ({"outlet_coefficient": "much"}, "outlet_coefficient is 'much', which could not be read"),
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


WINDS = np.arange(0.0, 360.0, 15.0)


def pressures(**stated):
    flow = ByWindAndBuoyancy(**OPENINGS, **stated)
    return flow.wind_pressure(np.full_like(WINDS, 4.0), WINDS, np.full_like(WINDS, 1.25), 90.0)


def test_the_outlet_is_opposite_unless_stated():
    plain = pressures(inlet_bearing=30.0)
    np.testing.assert_allclose(pressures(inlet_bearing=30.0, outlet_bearing=210.0), plain, rtol=0.0, atol=1e-12)
    assert np.ptp(plain) > 1.0


def test_openings_in_one_wall_feel_no_wind_between_them():
    assert (pressures(outlet_bearing=0.0) == 0.0).all()
    assert (pressures(inlet_bearing=90.0, outlet_bearing="90 deg") == 0.0).all()


def test_coefficients_stated_for_each_opening():
    """By hand: half the density times the square of the wind at the opening times the difference."""
    at_opening = 0.5 * 1.25 * (SEMI_SHELTERED.speed_share * 4.0) ** 2
    np.testing.assert_allclose(pressures(inlet_coefficient=0.5, outlet_coefficient=0.2), 0.3 * at_opening, rtol=1e-12)
    ridge = pressures(outlet_coefficient=-0.6) / at_opening
    np.testing.assert_allclose(ridge, SEMI_SHELTERED.pressure_coefficient(WINDS - 90.0) + 0.6, rtol=1e-12)
    eaves = pressures(inlet_coefficient=0.1) / at_opening
    np.testing.assert_allclose(eaves, 0.1 - SEMI_SHELTERED.pressure_coefficient(WINDS - 270.0), rtol=1e-12)


def test_words_of_the_wind():
    def words(**stated):
        return ByWindAndBuoyancy(**OPENINGS, **stated).describe_wind()

    assert words() == "inlet in a wall that looks 0 degrees from the face, outlet in the wall opposite"
    assert words(outlet_bearing=0) == (
        "inlet in a wall that looks 0 degrees from the face, outlet in a wall that looks 0 degrees from the face"
    )
    assert words(inlet_bearing=90, outlet_coefficient=-0.6) == (
        "inlet in a wall that looks 90 degrees from the face, outlet under a pressure coefficient of -0.6 from every "
        "side"
    )
    assert words(inlet_coefficient=0.2).endswith("from every side, outlet in the wall opposite")


def test_words():
    text = ByWindAndBuoyancy(inlet="200 cm^2/m", outlet="50 cm^2/m", screen="50 %", blocked="25 %").describe()
    assert "openings 200 and 50 cm² per m" in text
    assert "screen 50 % free" in text
    assert "25 % blocked" in text
    assert "semi-sheltered site" in text
    assert FixedAirChange(36).describe() == "36 air changes per hour, fixed"
    assert Closed().describe() == "closed, still air"
