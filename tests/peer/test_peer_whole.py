"""The whole of the model at once, over a whole real year, against CVODE on the same equations (see ``peer_run``).

Liquid water in brick and board, two slices of a gap whose air turns, a leak whose air turns, frost in wet brick, a
retarder that opens with humidity. Measured by what each layer goes through in the year.
"""

import cases
import compare
import numpy as np
import peer_run
import pytest
from evidence import Grade

from hygro.indoor import StandardCurves

CVODE = {"grade": Grade.INDEPENDENT, "source": "CVODE on the same equations, written apart"}
LAYERS = ("brick", "sheathing", "insulation", "lining")


@pytest.fixture(scope="module")
def year():
    return peer_run.integrate(
        cases.clad_wall(), cases.marine_year(), StandardCurves(), leak=cases.leak_to_the_sheathing()
    )


@pytest.mark.parametrize(("settings", "share"), [(compare.DEFAULT, 1.0), (compare.TIGHT, 0.2)])
def test_all_parts_of_the_model_over_a_real_year(year, evidence, settings, share):
    both = compare.pair(
        cases.clad_wall(), cases.marine_year(), StandardCurves(), year, settings, leak=cases.leak_to_the_sheathing()
    )
    assert both.ice("brick")[1].max() > 5.0
    assert float(both.run["leak_air_flow"].min()) < 0.0 < float(both.run["leak_air_flow"].max())
    assert year.speed.min() < -0.3
    assert year.speed.max() > 0.3
    steps = "usual" if share == 1.0 else "fine"
    for layer in LAYERS:
        ours, theirs = both.moisture(layer)
        per_range = 100.0 / np.ptp(theirs)
        evidence.check(
            f"whole model, real year, {steps} steps: {layer} moisture, 365 days", ours * per_range,
            theirs * per_range, within=0.5 * share, unit="% of its range", **CVODE,
        )  # fmt: skip
    evidence.check(
        f"whole model, real year, {steps} steps: RMS, worst cell", both.temperature_rms(), 0.0, within=0.1 * share,
        unit="K", **CVODE,
    )  # fmt: skip
