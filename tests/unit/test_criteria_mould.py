"""Mould index on runs: sensitivity, places, reopened files, order and bounds."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from hygro.criteria import decay_verdict, mould_index, mould_index_series, mould_verdict
from hygro.criteria.mould import (
    CLASSES,
    PINE_SAPWOOD,
    VERY_SENSITIVE,
    MouldSensitivity,
    critical_relative_humidity,
)
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


def test_a_sensitivity_is_a_value():
    twin = MouldSensitivity("very sensitive", 1.0, 2.0, (1.0, 7.0, 2.0), 0.80, spruce=False)
    assert twin == VERY_SENSITIVE
    assert hash(twin) == hash(VERY_SENSITIVE)


@pytest.mark.parametrize(("hours", "level"), [(50, "fine"), (150, "caution"), (400, "fails")])
def test_decay_verdict(hours, level):
    verdict = decay_verdict(make_run(20.0, np.full(hours, 1.0)), "deck")
    assert verdict.level == level
    assert ("cost strength" in str(verdict)) == (level != "fine")
