"""Wall with air flow and response with rain, against CVODE on finer cells; what is known of them: ``in_part``."""

from __future__ import annotations

import in_part
import numpy as np
import pytest
from evidence import Grade

SOURCE = "Hagentoft et al. 2004, benchmark {} (specification in part, from memory); CVODE, six times the cells"
AT_AIR = np.array([0.05, 0.10, 0.15])  # [m] from outside: the series' own depths
AT_RAIN = np.array([0.002, 0.02, 0.05, 0.09, 0.11, 0.119])


@pytest.fixture(scope="module")
def with_air(bench):
    return in_part.wall_with_air_flow(bench.kernel)


@pytest.fixture(scope="module")
def with_rain(bench):
    return in_part.response_with_rain(bench.kernel)


def _check(evidence, case, name, number, hours, at, within):
    row = {"grade": Grade.INDEPENDENT, "source": SOURCE.format(number)}
    temperature, water = case.profiles(hours, at)
    evidence.check(f"{name}: temperature after {hours} h", *temperature, within=0.02, unit="degC", **row)
    evidence.check(f"{name}: water content after {hours} h", *water, within=within, unit="kg m-3", **row)
    evidence.check(
        f"{name}: water in each layer after {hours} h, usual cells", *case.water(hours), within=0.02, relative=True,
        unit="kg m-2", **row,
    )  # fmt: skip


@pytest.mark.parametrize("days", [10, 20, 21, 30, 60, 100])
def test_wall_with_air_flow(with_air, evidence, days):
    _check(evidence, with_air, "wall with air flow", 3, 24 * days, AT_AIR, 0.1)


def test_air_that_leaves_wets_and_air_that_enters_dries(with_air):
    _, _, water = with_air.runs[0]
    total = water.mean(axis=1)
    assert total[479] > 2 * total[0]
    assert (np.diff(total[600:]) < 0).all()


@pytest.mark.parametrize("hours", [24, 48, 74, 96, 120])
def test_response_with_rain(with_rain, evidence, hours):
    _check(evidence, with_rain, "response with rain", 4, hours, AT_RAIN, 0.5)


def test_the_front_passes_the_joint_of_the_two_layers(with_rain):
    """Rain of the second storm has reached the finish by the end."""
    grid, _, water = with_rain.runs[0]
    first = np.flatnonzero(grid.cell_layer == 1)[0]
    assert water[119, first] > 2 * water[60, first]
