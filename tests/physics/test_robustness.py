"""Random but valid build-ups, weather and start states: no failure, no NaN, bounds kept, books closed.

Own sampling, no outside source. Extremes are part of the draw: saturated and oven-dry starts, air at -45 degC, no wind,
a clear cold sky, cloudbursts, tight sheets on both sides, 0.2 mm metal, 400 mm wood, openings shut or wide.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import numpy as np
import pytest

import hygro
from hygro import (
    AirLeak,
    Assembly,
    ByWindAndBuoyancy,
    Closed,
    DrivingRain,
    FixedAirChange,
    Layer,
    LyingSnow,
    Sheet,
    Start,
    VentGap,
)  # fmt: skip
from hygro.errors import HygroError
from hygro.gapflow import OPEN
from hygro.indoor import ConstantIndoor

HOURS = 336
SLABS = (
    "softwood", "softwood across grain", "hardwood", "plywood 500", "plywood 700", "OSB", "OSB tight", "particleboard",
    "fibreboard 250", "fibreboard 800", "wood wool board", "cement-bonded particleboard", "fibre-cement board",
    "gypsum board", "mineral wool batt", "glass wool batt", "mineral wool board", "wood fibre insulation board",
    "loose cellulose", "EPS", "XPS", "PUR spray foam closed-cell", "PUR foam open-cell", "cork board", "sheep wool",
    "brick", "concrete", "lime plaster", "cement render", "steel sheet", "aluminium sheet", "cellular glass",
)  # fmt: skip
SHEETS = (
    "polyethylene 0.15 mm", "aluminium foil", "breather membrane", "house wrap", "variable retarder",
    "variable retarder wide", "roofing felt", "kraft facing", "EPDM 1.2 mm", "emulsion paint",
)  # fmt: skip
FINISHES = ("black membrane", "white coated metal", "galvanised steel new", "snow")


def _layer(draw: np.random.Generator) -> Layer:
    name = str(draw.choice(SLABS))
    metal = name in ("steel sheet", "aluminium sheet")
    thickness = draw.uniform(2e-4, 3e-3) if metal else float(np.exp(draw.uniform(np.log(1e-3), np.log(0.4))))
    start, chance = {}, draw.uniform()
    material = hygro.materials.get(name)
    if chance < 0.25:
        start = {"start_humidity": float(draw.choice([0.02, 0.3, 0.9, 0.99, 1.0]))}
    elif chance < 0.4 and not metal and material.saturation:
        start = {"start_moisture": float(draw.uniform(0.3, 1.0) * material.saturation / material.density)}
    return Layer(name, thickness, **start)


def _gap(draw: np.random.Generator) -> VentGap:
    flows = (
        Closed(),
        FixedAirChange(float(10 ** draw.uniform(0, 3.5))),
        ByWindAndBuoyancy(
            inlet=float(10 ** draw.uniform(-4, -1)),
            outlet=float(10 ** draw.uniform(-4, -1)),
            screen=float(draw.uniform(0.2, 1)),
        ),
        ByWindAndBuoyancy(inlet=0.02, outlet=0.02, exposure=OPEN),
    )
    thickness, length = float(draw.uniform(0.005, 0.1)), float(draw.uniform(0.5, 12))
    flow, emissivity = flows[draw.integers(4)], (float(draw.uniform(0.05, 0.95)), 0.9)
    slices = int(draw.choice([1, 1, 1, 3]))
    slices = 1 if isinstance(flow, Closed) else slices
    return VentGap(thickness, length=length, flow=flow, emissivity=emissivity, slices=slices)


def _assembly(draw: np.random.Generator) -> Assembly:
    count = int(draw.integers(1, 6))
    gap_at = int(draw.integers(1, count)) if count >= 2 and draw.uniform() < 0.6 else -1
    parts = []
    for number in range(count):
        if number == gap_at:
            parts.append(_gap(draw))
        if draw.uniform() < 0.35:
            parts.append(Sheet(str(draw.choice(SHEETS))))
        parts.append(_layer(draw))
    if draw.uniform() < 0.35:
        parts.append(Sheet(str(draw.choice(SHEETS))))
    tilt, azimuth = float(draw.choice([0, 5, 30, 90, 180])), float(draw.uniform(0, 360))
    return Assembly("drawn", parts, tilt=tilt, azimuth=azimuth, finish=str(draw.choice(FINISHES)))


@cache
def _year() -> dict[str, np.ndarray]:
    return {str(name): values.to_numpy() for name, values in hygro.sample_climate("hut_valley").data.data_vars.items()}


def _climate(draw: np.random.Generator) -> hygro.Climate:
    first = int(draw.integers(0, 8760 - HOURS))
    others = {name: values[first : first + HOURS] for name, values in _year().items()}
    warmth = np.clip(others.pop("air_temperature") + draw.choice([0, 0, -20, 15]), -45, 45)
    humidity = np.clip(others.pop("relative_humidity") + draw.choice([0, 0, 0.3, -0.3]), 0.02, 1.0)
    if draw.uniform() < 0.1:
        warmth = np.full(HOURS, -45.0)
    if draw.uniform() < 0.2:
        others["wind_speed"] = np.zeros(HOURS)
    if draw.uniform() < 0.3:
        others["rain"] = np.minimum(others["rain"] * 10.0, 60.0) + draw.choice([0.0, 0.2])
    if draw.uniform() < 0.2:
        others["longwave_down"] = np.full(HOURS, 120.0)
    place = {"latitude": 60.0, "longitude": 20.0, "elevation": 100.0, "utc_offset": 1.0}
    return hygro.climate_from_arrays(warmth, humidity, **place, **others)


def _leak(draw: np.random.Generator, assembly: Assembly) -> AirLeak | None:
    if draw.uniform() >= 0.4:
        return None
    labels = assembly.labels[:-1]
    into = str(draw.choice(labels)) if labels and draw.uniform() < 0.6 else None
    fan = float(draw.choice([0, 0, 5, -5]))
    return AirLeak(float(draw.uniform(0, 8)), height=float(draw.uniform(-2, 4)), into=into, fan_pressure=fan)


def _rain(draw: np.random.Generator, assembly: Assembly) -> DrivingRain | None:
    """None (the default of a wall), or rain on whatever it is, with a defect into a layer that takes up water."""
    if draw.uniform() < 0.5:
        return None
    takes = [
        label
        for label, layer in zip(assembly.labels[1:], assembly.layers[1:], strict=True)
        if layer.material.is_hygroscopic and not layer.material.is_vapour_tight
    ]
    into = str(draw.choice(takes)) if takes and draw.uniform() < 0.7 else None
    return DrivingRain(deposition=float(draw.choice([0.35, 1.0])), into=into, defect=float(draw.choice([0.01, 0.2])))


def _check(seed: int) -> None:
    draw = np.random.default_rng(seed)
    assembly, climate = _assembly(draw), _climate(draw)
    leak, rain = _leak(draw, assembly), _rain(draw, assembly)
    if rain is not None and not (climate.data["rain"] > 0.0).any():
        rain = None
    snow = LyingSnow(0.3, since="1 October", until="1 April") if assembly.kind == "roof" and seed % 3 == 0 else None
    indoor = ConstantIndoor(float(draw.uniform(-20, 30)), float(draw.uniform(0.02, 1.0)))
    initial = Start(float(draw.uniform(-30, 60)), float(draw.choice([0.01, 0.3, 0.7, 0.95, 1.0])))
    run = hygro.simulate(assembly, climate, indoor, initial=initial, leak=leak, rain=rain, snow=snow)
    for name, values in run.data_vars.items():
        assert np.isfinite(values.to_numpy()).all(), f"seed {seed}: {name}"
    assert run.attrs["audit_water"] <= 1e-9, f"seed {seed}"
    assert run.attrs["audit_energy"] <= 1e-9, f"seed {seed}"
    assert float(run["water_content"].min()) >= 0.0, f"seed {seed}"
    assert float(run["relative_humidity"].min()) >= 0.0, f"seed {seed}"
    assert float(run["relative_humidity"].max()) <= 1.0, f"seed {seed}"
    assert float((run["ice_content"] - run["water_content"]).max()) <= 1e-9, f"seed {seed}"


def _check_all(seeds: Iterable[int]) -> None:
    """What fails is named together, not only the first."""
    failed = []
    for seed in seeds:
        try:
            _check(seed)
        except (AssertionError, HygroError) as error:
            failed.append(f"seed {seed}: {error}")
    assert not failed, "\n".join(failed)


@pytest.mark.filterwarnings("ignore::hygro.errors.HygroWarning")
@pytest.mark.parametrize("first", range(1000, 3000, 100))
def test_any_valid_build_up_runs(first):
    """Two thousand, each for two weeks."""
    _check_all(range(first, first + 100))


@pytest.mark.filterwarnings("ignore::hygro.errors.HygroWarning")
@pytest.mark.parametrize("seed", [10799, 12218, 14249, 14695, 21213, 50141, 60098, 23038, 10693, 25759, 28171])
def test_build_ups_that_once_stopped_run(seed):
    """Found by the long test below and by more of its kind."""
    _check(seed)


@pytest.mark.long
@pytest.mark.filterwarnings("ignore::hygro.errors.HygroWarning")
@pytest.mark.parametrize("first", range(10_000, 30_000, 100))
def test_twenty_thousand_build_ups_run(first):
    """Each for two weeks."""
    _check_all(range(first, first + 100))
