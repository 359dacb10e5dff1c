"""Mould index on runs: sensitivity, places, reopened files, order and bounds."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from hygro.criteria import decay_verdict, mould_index, mould_index_series, mould_verdict
from hygro.criteria.decay import RECOVERY, critical_time, decay_series, mass_loss_rate
from hygro.criteria.mould import (
    CLASSES,
    PINE_SAPWOOD,
    VERY_SENSITIVE,
    MouldSensitivity,
    critical_relative_humidity,
)
from hygro.criteria.spells import spells
from hygro.errors import InputError


def make_run(temperature, humidity, sensitivity="very sensitive"):
    """Two layers of one cell each; the second is dry."""
    hours = len(humidity)
    shape = (hours, 1, 2)
    humidity = np.broadcast_to(np.asarray(humidity, dtype=float).reshape(hours, 1, 1), shape).copy()
    humidity[:, :, 1] = 0.4
    return xr.Dataset(
        {
            "temperature": (("time", "slice", "cell"), np.full(shape, float(temperature))),
            "relative_humidity": (("time", "slice", "cell"), humidity),
        },
        coords={
            "time": pd.date_range("2022-03-01 01:00", periods=hours, freq="h"),
            "slice": [0],
            "layer": ["deck", "lining"],
            "cell_layer": ("cell", [0, 1]),
            "layer_mould_sensitivity": ("layer", [sensitivity, ""]),
        },
    )


@pytest.mark.parametrize(("weeks", "level"), [(3, "fine"), (6, "caution"), (10, "fails")])
def test_verdict(weeks, level):
    verdict = mould_verdict(make_run(20.0, np.full(168 * weeks, 0.90)), "deck")
    assert verdict.level == level
    assert verdict.limit == 3.0
    assert verdict.when == pd.Timestamp("2022-03-01") + pd.Timedelta(weeks=weeks)
    assert ("Caution: mould can harm health" in str(verdict)) == (level != "fine")
    assert "outer face of 'deck'" in str(verdict)


def test_a_dry_face_has_no_hour_to_name():
    verdict = mould_verdict(make_run(20.0, np.full(100, 0.5)), "deck")
    assert verdict.when is None
    assert verdict.value == 0.0


def test_a_reopened_file_gives_the_same(tmp_path):
    run = make_run(15.0, 0.85 + 0.1 * np.sin(np.arange(2000) / 50.0))
    run.to_netcdf(tmp_path / "run.nc", engine="h5netcdf")
    with xr.open_dataset(tmp_path / "run.nc", engine="h5netcdf") as again:
        assert mould_index(again, "deck").identical(mould_index(run, "deck"))
        assert str(mould_verdict(again, "deck")) == str(mould_verdict(run, "deck"))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda run: mould_index(run, "lining"), "'lining' has no mould sensitivity in this run. Pass sensitivity=..."),
        (lambda run: mould_index(run, "deck", sensitivity="sensitiv"), "Nearest: 'sensitive'"),
        (lambda _: mould_index(make_run(20, [0.5, 0.5], "odd"), "deck"), "no mould sensitivity 'odd'"),
        (lambda _: mould_index_series([20.0], [85.0], VERY_SENSITIVE), "must be a fraction (0.8, not 80)"),
        (
            lambda _: mould_index_series([20.0], [0.8, 0.8], VERY_SENSITIVE),
            "has shape (1,) and relative humidity (2,)",
        ),
        (lambda _: mould_index_series([np.nan], [0.8], VERY_SENSITIVE), "every hour is needed"),
        (lambda _: mould_index_series([20.0], [0.8], VERY_SENSITIVE, start=7.0), "between 0 (none) and 6"),
        (lambda _: replace(VERY_SENSITIVE, decline=2.0), "write 0 (none) to 1 (pine)"),
        (lambda _: replace(VERY_SENSITIVE, early_rate=0.0), "it must be above 0"),
        (lambda _: replace(VERY_SENSITIVE, lowest_relative_humidity=80.0), "write a fraction"),
    ],
)
def test_bad_input_says_what_to_do(call, sentence):
    with pytest.raises(InputError) as caught:
        call(make_run(20.0, np.full(10, 0.5)))
    assert sentence in str(caught.value)


def test_classes_are_ordered_from_sensitive_to_resistant():
    humidity, temperature = np.full(4000, 0.95), np.full(4000, 20.0)
    last = [mould_index_series(temperature, humidity, CLASSES[name])[-1] for name in CLASSES if name != "pine sapwood"]
    assert last == sorted(last, reverse=True)
    assert len(set(last)) == 4


def test_kiln_dried_surfaces_grow_sooner():
    humidity, temperature = np.full(500, 0.95), np.full(500, 20.0)
    sawn = mould_index_series(temperature, humidity, PINE_SAPWOOD)
    dried = mould_index_series(temperature, humidity, replace(PINE_SAPWOOD, kiln_dried=True))
    assert dried[100] / sawn[100] == pytest.approx(np.exp(0.33), rel=0.02)


@pytest.mark.parametrize(("temperature", "humidity"), [(0.0, 1.0), (-5.0, 1.0), (50.0, 1.0), (20.0, 0.79)])
def test_nothing_grows_outside_the_range(temperature, humidity):
    assert mould_index_series(np.full(2000, temperature), np.full(2000, humidity), VERY_SENSITIVE).max() == 0.0


@settings(max_examples=50)
@given(
    temperature=st.floats(1.0, 45.0),
    humidity=arrays(float, 300, elements=st.floats(0.0, 1.0)),
    more=arrays(float, 300, elements=st.floats(0.0, 0.2)),
    start=st.floats(0.0, 6.0),
)
def test_wetter_favourable_hours_never_give_a_lower_index(temperature, humidity, more, start):
    # Only hours that are favourable anyway are made wetter: elsewhere the published count of dry hours, which a short
    # favourable spell restarts, can turn the order round.
    favourable = mould_index_series(np.full(300, temperature), humidity, VERY_SENSITIVE, start=start)
    grows = humidity >= critical_relative_humidity(temperature, VERY_SENSITIVE)
    wetter = np.where(grows, np.minimum(humidity + more, 1.0), humidity)
    index = mould_index_series(np.full(300, temperature), wetter, VERY_SENSITIVE, start=start)
    assert (index >= favourable - 1e-12).all()
    assert index.min() >= 0.0
    assert index.max() <= 6.0


@settings(max_examples=30)
@given(temperature=st.floats(1.0, 45.0), humidity=st.floats(0.7, 1.0), more=st.floats(0.0, 0.1))
def test_steady_and_wetter_never_gives_a_lower_index(temperature, humidity, more):
    steady = [
        mould_index_series(np.full(2000, temperature), np.full(2000, value), VERY_SENSITIVE)
        for value in (humidity, min(humidity + more, 1.0))
    ]
    assert (steady[1] >= steady[0] - 1e-12).all()


def test_slices_do_not_touch_each_other():
    rng = np.random.default_rng(3)
    temperature, humidity = rng.uniform(-5, 30, (3000, 4)), rng.uniform(0.6, 1.0, (3000, 4))
    together = mould_index_series(temperature, humidity, PINE_SAPWOOD)
    for s in range(4):
        alone = mould_index_series(temperature[:, s], humidity[:, s], PINE_SAPWOOD)
        np.testing.assert_array_equal(together[:, s], alone)


def test_time_grows_in_proportion_to_the_hours():
    rng = np.random.default_rng(4)

    def seconds(hours):
        T, rh = rng.uniform(5, 25, hours), rng.uniform(0.7, 1.0, hours)
        best = np.inf
        for _ in range(5):
            began = time.perf_counter()
            mould_index_series(T, rh, VERY_SENSITIVE)
            best = min(best, time.perf_counter() - began)
        return best

    assert seconds(35040) < 8.0 * seconds(17520)


@settings(deadline=None, max_examples=60)
@given(
    arrays(float, 400, elements=st.floats(-5.0, 35.0)),
    arrays(float, 400, elements=st.floats(0.6, 1.0)),
    st.sampled_from([*CLASSES.values(), replace(VERY_SENSITIVE, decline=0.0)]),
    st.sampled_from([0.0, 0.002, 2.5]),
    st.integers(1, 60),
)
def test_spells_give_to_the_last_bit_what_a_walk_hour_by_hour_gives(temperature, humidity, sensitivity, start, held):
    """The equations at the head of the module, one hour after the other; each weather holds for some hours."""
    temperature, humidity = (np.repeat(one, held)[:400] for one in (temperature, humidity))
    expected, index, dry = [], start, 0
    for T, percent in zip(temperature.tolist(), (100.0 * humidity).tolist(), strict=True):
        critical = 100.0 * float(critical_relative_humidity(T, sensitivity))
        if percent >= critical and 0.0 < T < 50.0:
            dry, wood, planed = 0, float(sensitivity.spruce), float(sensitivity.kiln_dried)
            log_T, log_rh = np.log(np.array([T])), np.log(np.array([percent]))
            t_m = np.exp(-0.68 * log_T - 13.9 * log_rh + 0.14 * wood - 0.33 * planed + 66.02)
            t_v = np.exp(-0.74 * log_T - 12.72 * log_rh + 0.06 * wood + 61.50)
            pace = 1.0 / (168.0 * t_m)
            late = pace * 2.0 / (t_v / t_m - 1.0) if sensitivity.late_rate is None else pace * sensitivity.late_rate
            A, B, C = sensitivity.ceiling
            r = np.array([(critical - percent) / min(critical - 100.0, -1e-9)])
            highest = float((A + B * r - C * r**2)[0])
            if index < highest:
                rate = pace * sensitivity.early_rate if index < 1.0 else late
                index += float(rate[0]) * (1.0 - math.exp(2.3 * (index - highest)))
        else:
            dry += 1
            falls = 0.00133 if dry <= 6 else 0.000667 if dry > 24 else 0.0
            index = max(index - falls * sensitivity.decline, 0.0)
        expected.append(index)
    found = mould_index_series(temperature, humidity, sensitivity, start=start)
    assert found.tolist() == expected


@settings(deadline=None, max_examples=60)
@given(
    arrays(float, (50, 2), elements=st.floats(-5.0, 35.0)),
    arrays(float, (50, 2), elements=st.floats(0.9, 1.0)),
    st.integers(1, 200),
)
def test_decay_by_spells_is_decay_hour_by_hour(temperature, humidity, held):
    temperature, humidity = (np.repeat(one, held, axis=0) for one in (temperature, humidity))
    activation, lost = decay_series(temperature, humidity)
    time, loss = critical_time(temperature, humidity), mass_loss_rate(temperature, humidity)
    for s in range(2):
        active, total, expected = 0.0, 0.0, []
        for hours, rate in zip(time[:, s].tolist(), loss[:, s].tolist(), strict=True):
            active = min(max(active + (1.0 / hours if math.isfinite(hours) else -1.0 / RECOVERY), 0.0), 1.0)
            total = min(total + rate, 100.0) if active >= 1.0 else total
            expected.append((active, total))
        assert list(zip(activation[:, s].tolist(), lost[:, s].tolist(), strict=True)) == expected


@given(arrays(bool, st.integers(0, 60)))
def test_spells_follow_each_other_and_are_as_long_as_they_can_be(holds):
    found = list(spells(holds))
    assert [hour for first, last, _ in found for hour in range(first, last)] == list(range(len(holds)))
    assert [flag for first, last, flag in found for _ in range(first, last)] == holds.tolist()
    assert all(one[2] != other[2] for one, other in pairwise(found))


def test_a_sensitivity_is_a_value():
    twin = MouldSensitivity("very sensitive", 1.0, 2.0, (1.0, 7.0, 2.0), 0.80, spruce=False)
    assert twin == VERY_SENSITIVE
    assert hash(twin) == hash(VERY_SENSITIVE)


@pytest.mark.parametrize(("hours", "level"), [(50, "fine"), (150, "caution"), (400, "fails")])
def test_decay_verdict(hours, level):
    verdict = decay_verdict(make_run(20.0, np.full(hours, 1.0)), "deck")
    assert verdict.level == level
    assert ("cost strength" in str(verdict)) == (level != "fine")
