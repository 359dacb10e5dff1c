"""The whole real year of a vented roof, every day of it, against CVODE on the same equations (see ``peer_run``)."""

import cases
import compare
import numpy as np
import peer_run
import pytest
from evidence import Grade

from hygro.grid import build
from hygro.indoor import StandardCurves

CVODE = {"grade": Grade.INDEPENDENT, "source": "CVODE on the same equations, written apart"}
DAILY, RMS = CVODE | {"unit": "mass %"}, CVODE | {"unit": "K"}
MOISTURE, WARMTH = 0.05, 0.1  # [mass per cent] each day, [K] rms in each cell: what a run is trusted for
DECK_CELLS = 10


@pytest.fixture(scope="module")
def year():
    return peer_run.integrate(cases.vented_roof(), cases.marine_year(), StandardCurves(), tolerance=5e-6)


def test_every_day_of_a_real_year_at_the_default_accuracy(year, evidence):
    both = compare.pair(cases.vented_roof(), cases.marine_year(), StandardCurves(), year)
    ours, theirs = both.moisture("deck")
    assert len(ours) == 365
    assert np.ptp(theirs) > 3.0  # the seasons wet and dry it
    evidence.check("vented roof, real year: deck moisture, 365 days", ours, theirs, within=MOISTURE, **DAILY)
    evidence.check(
        "vented roof, real year: lining moisture, 365 days", *both.moisture("lining"), within=MOISTURE, **DAILY
    )
    evidence.check("vented roof, real year: RMS, worst cell", both.temperature_rms(), 0.0, within=WARMTH, **RMS)


def test_the_solver_closes_on_the_peer(year, evidence):
    both = compare.pair(cases.vented_roof(), cases.marine_year(), StandardCurves(), year, compare.TIGHT)
    evidence.check(
        "vented roof, real year, fine steps: deck moisture", *both.moisture("deck"), within=0.1 * MOISTURE, **DAILY
    )
    evidence.check(
        "vented roof, real year, fine steps: RMS, worst cell", both.temperature_rms(), 0.0, within=0.1 * WARMTH, **RMS
    )


def test_the_air_speed_is_that_of_the_peer(year, evidence):
    both = compare.pair(cases.vented_roof(), cases.marine_year(), StandardCurves(), year, compare.TIGHT)
    assert np.ptp(year.speed) > 0.5  # it blows both ways
    evidence.check(
        "vented roof, real year: air speed, 8760 hours", both.run.gap_air_speed.values, year.speed, within=0.005,
        unit="m s-1", **CVODE,
    )  # fmt: skip


def test_the_peer_does_not_depend_on_its_tolerance(year):
    hours = 40 * 24
    finer = peer_run.integrate(
        cases.vented_roof(), cases.marine_year(), StandardCurves(), tolerance=1e-6, anew=True, hours=hours
    )
    mass = build(cases.vented_roof()).thickness[:DECK_CELLS] / 0.018 / 5.0  # per cent of 500 kg m-3
    change = ((finer.water - year.water[:hours])[:, 0, :DECK_CELLS] * mass).sum(axis=1)
    assert np.abs(change).max() < 0.005
    assert np.abs(finer.temperature - year.temperature[:hours]).max() < 0.1 * WARMTH
