"""Sums over cells."""

from __future__ import annotations

import numpy as np
import pytest

from hygro.sums import over_cells


def test_sums_over_the_last_axis():
    rng = np.random.default_rng(1)
    values, weights = rng.normal(size=(50, 3, 7)), rng.normal(size=7)
    np.testing.assert_allclose(over_cells(values, weights), (values * weights).sum(axis=-1), rtol=1e-12)
    assert over_cells(values[..., :0], weights[:0]) == pytest.approx(np.zeros((50, 3)))
