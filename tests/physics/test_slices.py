"""How many slices a gap needs: the demo's vented roof in winter, computed with more and more of them. Own reference."""

from __future__ import annotations

import numpy as np
import pytest

import hygro
from hygro import demo
from hygro.criteria import moisture_content
from hygro.indoor import StandardCurves

SLICES = (1, 2, 4, 8, 16)
FINEST = SLICES[-1]


@pytest.fixture(scope="module")
def decks(bench):
    """Moisture content of the deck by slice [mass per cent], shape (hours, slices), for each number of slices.

    January under a thin gap with a leaky ceiling, where the deck differs most along its length.
    """
    january = hygro.Climate(hygro.sample_climate(demo.CLIMATE).period("1 January").data.isel(time=slice(0, 24 * 30)))
    leak, damp = demo.hut_leak(demo.LEAKY), hygro.Start(5.0, 0.85)
    found = {}
    for n in SLICES:
        roof = demo.hut_roof(True, slices=n, gap="25 mm", opening="50 cm^2/m")
        run = bench.simulate(roof, january, StandardCurves(), leak=leak, initial=damp)
        found[n] = moisture_content(run, demo.DECK).to_numpy()
    return found


def _errors(decks, of):
    finest = of(decks[FINEST])
    return [np.abs(of(decks[n]) - finest).max() for n in SLICES[:-1]]


def test_the_mean_of_the_deck_needs_one_slice(decks):
    """Within a fifth of a mass per cent of 4 that the deck gains, and closer with each doubling."""
    errors = _errors(decks, lambda deck: deck.mean(axis=1))
    assert np.ptp(decks[FINEST].mean(axis=1)) > 4.0
    assert errors[0] < 0.2
    assert (np.diff(errors) < 0.0).all()
    assert errors[3] < 0.1 * errors[0]


def test_the_wettest_place_needs_eight(decks):
    """One slice knows no length: it misses several times as much of the wettest place, eight come close."""
    errors = _errors(decks, lambda deck: deck.max(axis=1))
    assert errors[0] > 3.0 * _errors(decks, lambda deck: deck.mean(axis=1))[0]
    assert (np.diff(errors) < 0.0).all()
    assert errors[3] < 0.1 * errors[0]
    assert np.ptp(decks[FINEST], axis=1).max() > 1.0  # from inlet to outlet
