"""A gap in slices along the flow against CVODE on the same equations (see ``peer_run``)."""

import cases
import compare
import numpy as np
import peer_run
import pytest
from evidence import Grade

from hygro.indoor import StandardCurves

CVODE = {"grade": Grade.INDEPENDENT, "source": "CVODE on the same equations, written apart"}


@pytest.fixture(scope="module")
def fortnight():
    climate = cases.first_days(cases.marine_year(), 14)
    return climate, peer_run.integrate(cases.vented_roof(4), climate, StandardCurves())


@pytest.mark.parametrize(("settings", "share"), [(compare.DEFAULT, 1.0), (compare.TIGHT, 0.1)])
def test_four_slices(fortnight, evidence, settings, share):
    climate, peer = fortnight
    both = compare.pair(cases.vented_roof(4), climate, StandardCurves(), peer, settings)
    assert np.ptp(peer.temperature[:, :, 9], axis=1).max() > 1.0  # the slices differ
    assert peer.speed.max() > 0.1
    assert peer.speed.min() < -0.1  # and the flow turns
    steps = "usual" if share == 1.0 else "fine"
    evidence.check(
        f"gap in four slices, {steps} steps: deck moisture", *both.moisture("deck"), within=0.05 * share, unit="mass %",
        **CVODE,
    )  # fmt: skip
    evidence.check(
        f"gap in four slices, {steps} steps: RMS, worst cell", both.temperature_rms(), 0.0, within=0.1 * share,
        unit="K", **CVODE,
    )  # fmt: skip
