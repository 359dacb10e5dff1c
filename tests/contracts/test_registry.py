"""A real run against the registry of names, both ways: no name, dimension or unit unregistered, none missing."""

from __future__ import annotations

import pytest

import hygro
from hygro import AirLeak, FixedAirChange, Layer, VentGap
from hygro.indoor import ConstantIndoor
from hygro.materials import Material
from hygro.variables import CLIMATE, COORDINATES, CRITERION, INDOOR, RUN

EXTRA_COORDINATES = {"time", "layer", "cell_is_film", "layer_is_wood", "layer_mould_sensitivity"}


@pytest.fixture(scope="module")
def runs(bench):
    board = Material(
        "board", density=500, specific_heat=1600, conductivity=0.13, vapour_resistance=50,
        sorption=[(0.5, 40), (0.8, 80), (1.0, 150)], saturation=600,
    )  # fmt: skip
    gap = VentGap(0.03, length=5.0, flow=FixedAirChange(50), slices=2)
    outdoors, room = hygro.constant_climate(-5.0, 0.8, hours=24 * 14), ConstantIndoor(20.0, 0.5)
    vented = bench.build(Layer(board, 0.02), gap, Layer(board, 0.02, name="inner"))
    leak = AirLeak(1.0, height=2.0, into="board")
    return {
        "vented": bench.simulate(vented, outdoors, room, leak=leak),
        "plain": bench.simulate(bench.build(Layer(board, 0.02)), outdoors, room),
    }


@pytest.mark.parametrize("kind", ["vented", "plain"])
def test_all_that_a_run_carries_is_registered(runs, kind):
    for name, variable in runs[kind].data_vars.items():
        assert name in RUN, f"{name} is not registered"
        row = RUN[name]
        assert variable.dims == row.dims, name
        assert variable.attrs == row.attrs(), name
        assert float(variable.min()) >= row.lowest - 1e-12, name
        assert float(variable.max()) <= row.highest + 1e-12, name
        assert variable.dtype == "float64", name
    for name, coordinate in runs[kind].coords.items():
        assert name in COORDINATES or name in EXTRA_COORDINATES, f"{name} is not registered"
        if name in COORDINATES:
            assert coordinate.dims == COORDINATES[name].dims
            assert coordinate.attrs == COORDINATES[name].attrs()


def test_all_that_is_registered_is_carried(runs):
    """With a gap all of it; without one all but what the gap alone can have."""
    assert set(runs["vented"].data_vars) == set(RUN)
    assert {name for name in RUN if not name.startswith("gap_air") and name != "gap_vapour_pressure"} == {
        name for name in runs["plain"].data_vars if not name.startswith("gap_air") and name != "gap_vapour_pressure"
    }
    assert not any(name.startswith("gap_air") for name in runs["plain"].data_vars)
    for kind in runs:
        assert set(COORDINATES) <= set(runs[kind].coords)


def test_names_are_used_once():
    """The same name in two tables means the same thing."""
    tables = (CLIMATE, RUN, COORDINATES, INDOOR, CRITERION)
    seen = {}
    for table in tables:
        for name, row in table.items():
            assert name == row.name
            assert row.lowest < row.highest
            if name in seen:
                assert seen[name].unit == row.unit, name
            seen[name] = row


def test_climate_carries_the_registered_names():
    climate = hygro.constant_climate(0.0, 0.8, hours=24)
    assert set(climate.data.data_vars) == set(CLIMATE)
    for name, row in CLIMATE.items():
        assert climate.data[name].dims == row.dims
        assert climate.data[name].attrs["units"] == row.unit
