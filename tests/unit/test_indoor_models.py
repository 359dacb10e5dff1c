"""Indoor models: averaging, saturation, bad input, and one shape of result for all."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from hygro.core.formulas import saturation_pressure_water
from hygro.errors import HygroWarning, InputError
from hygro.indoor import (
    ConstantIndoor,
    HumidityClass,
    IndoorArrays,
    IntermediateDesign,
    SimplifiedDesign,
    StandardCurves,
    design_moisture_production,
)
from hygro.indoor.air import running_mean
from hygro.variables import RUN

MODELS = [
    ConstantIndoor(20.0, 0.5),
    IndoorArrays([20.0] * 72, [0.4] * 72),
    StandardCurves(),
    HumidityClass(2),
    HumidityClass(3, averaging_days=30),
    SimplifiedDesign(),
    IntermediateDesign(4.0, 75.0, 0.5),
]


def outdoor(temperature=-5.0, humidity=0.8, hours=72, start="2021-01-01 01:00"):
    return xr.Dataset(
        {
            "air_temperature": ("time", np.broadcast_to(np.asarray(temperature, dtype=float), hours)),
            "relative_humidity": ("time", np.broadcast_to(np.asarray(humidity, dtype=float), hours)),
        },
        coords={"time": pd.date_range(start, periods=hours, freq="h")},
    )


@pytest.mark.parametrize("model", MODELS, ids=repr)
def test_every_model_gives_the_same_shape_of_result(model):
    record = outdoor()
    air = model.conditions(record)
    assert set(air.data_vars) == {"indoor_temperature", "indoor_relative_humidity"}
    for name in air.data_vars:
        assert air[name].dims == ("time",)
        assert RUN[name].attrs().items() <= air[name].attrs.items()
        assert np.isfinite(air[name]).all()
    assert (air["time"] == record["time"]).all()
    assert air.attrs["indoor_model"] == repr(model)
    assert hash(model) == hash(model)


def test_trade_units_at_the_door():
    model = ConstantIndoor("68 degF", "50 %")
    assert model.temperature == pytest.approx(20.0)
    assert model == ConstantIndoor(model.temperature, 0.5)


def test_arrays_pass_through():
    temperature, humidity = np.linspace(18, 22, 72), np.linspace(0.3, 0.5, 72)
    air = IndoorArrays(temperature, humidity).conditions(outdoor())
    np.testing.assert_array_equal(air["indoor_temperature"], temperature)
    np.testing.assert_array_equal(air["indoor_relative_humidity"], humidity)


def test_running_mean_uses_the_hours_so_far_at_first():
    series = np.arange(50.0)
    mean = running_mean(series, 24)
    assert mean[0] == 0.0
    assert mean[10] == pytest.approx(series[:11].mean())
    assert mean[40] == pytest.approx(series[17:41].mean())


def test_standard_curves_follow_the_last_24_hours():
    temperature = np.where(np.arange(72) < 36, -10.0, 20.0)
    humidity = StandardCurves().conditions(outdoor(temperature))["indoor_relative_humidity"].to_numpy()
    assert humidity[35] == pytest.approx(0.30)
    assert humidity[47] == pytest.approx(0.45)
    assert humidity[60] == pytest.approx(0.60)


def test_humidity_class_by_calendar_month():
    record = outdoor(np.where(np.arange(72) < 24, -5.0, 5.0), start="2021-01-31 01:00")
    humidity = HumidityClass(2).conditions(record)["indoor_relative_humidity"].to_numpy()
    assert humidity[:24] == pytest.approx(
        (0.8 * saturation_pressure_water(-5.0) + 540) / saturation_pressure_water(20.0)
    )
    assert humidity[24:] == pytest.approx(
        (0.8 * saturation_pressure_water(5.0) + 405) / saturation_pressure_water(20.0)
    )


def test_share_of_the_limit():
    half = HumidityClass(3, share_of_limit=0.5).conditions(outdoor())["indoor_relative_humidity"]
    dry = HumidityClass(3, share_of_limit=0.0).conditions(outdoor())["indoor_relative_humidity"]
    full = HumidityClass(3).conditions(outdoor())["indoor_relative_humidity"]
    np.testing.assert_allclose(half, 0.5 * (dry + full))


def test_saturation_is_capped_and_reported():
    model = IntermediateDesign(30.0, 75.0, 0.1)
    with pytest.warns(HygroWarning, match="above saturation in 72 of 72 hours"):
        air = model.conditions(outdoor())
    assert (air["indoor_relative_humidity"] == 1.0).all()
    assert air.attrs["hours_at_saturation"] == 72
    surplus = 0.8 * saturation_pressure_water(-5.0) + model.excess - saturation_pressure_water(21.1)
    assert air.attrs["largest_surplus_vapour_pressure"] == pytest.approx(surplus)


@given(low=st.floats(0.0, 5.0), more=st.floats(0.0, 3.0), change=st.floats(0.5, 5.0))
def test_more_moisture_or_less_air_is_never_drier(low, more, change):
    def humidity(production, rate):
        air = IntermediateDesign(production, 75.0, rate).conditions(outdoor(hours=30))
        return air["indoor_relative_humidity"].to_numpy()

    assert (humidity(low + more, change) >= humidity(low, change)).all()
    assert (humidity(low, change) >= humidity(low, 2.0 * change) - 1e-12).all()


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: ConstantIndoor(20.0, 50.0), 'Did you mean "50 %"?'),
        (lambda: ConstantIndoor(68.0, 0.5), 'Did you mean degF? Write "68 degF"'),
        (
            lambda: ConstantIndoor(20.0, 45),
            'relative humidity is 45; it must be a fraction from 0 to 1. Did you mean "45 %"?',
        ),
        (lambda: ConstantIndoor(20.0, "145 %"), "relative humidity is '145 %'; it must be a fraction from 0 to 1."),
        (
            lambda: ConstantIndoor(293.0, 0.5),
            'temperature is 293.0; it must be from -50 to 50 degC. Did you mean "293 K"?',
        ),
        (lambda: ConstantIndoor("warm", 0.5), "Constant indoor air: temperature is 'warm'"),
        (lambda: ConstantIndoor(20.0, float("nan")), "it must be a finite number"),
        (lambda: IndoorArrays([20.0], [0.5, 0.5]), "1 temperatures but 2 relative humidities"),
        (lambda: IndoorArrays([20.0], [50.0]), "relative humidity is 50 in hour 1"),
        (lambda: IndoorArrays([20.0, float("nan")], [0.5, 0.5]), "temperature is nan in hour 2"),
        (lambda: IndoorArrays("ab", [0.5, 0.5]), "give a list of numbers"),
        (lambda: IndoorArrays([[20.0, 21.0]], [0.5]), "give one number for each hour"),
        (lambda: IndoorArrays(20.0, 0.5), "give a list of numbers"),
        (lambda: IndoorArrays([20.0], [0.5]).conditions(outdoor()), "has 1 hours, the outdoor record 72"),
        (lambda: StandardCurves("high"), "write True or False"),
        (lambda: SimplifiedDesign(1), "write True or False"),
        (lambda: HumidityClass(0), "it must be 1, 2, 3 or 4"),
        (lambda: HumidityClass(5), "has no upper limit"),
        (lambda: HumidityClass(2, share_of_limit=1.5), "share of the limit is 1.5"),
        (lambda: HumidityClass(2, averaging_days=0), "it must be a number from 1 to 366"),
        (lambda: IntermediateDesign(-1.0, 75.0, 0.5), "moisture production is -1.0"),
        (lambda: IntermediateDesign(4.0, 75.0, 0.0), "air change rate is 0.0; it must be a number from 0.01 to 50"),
        (lambda: IntermediateDesign(4.0, "big", 0.5), "volume is 'big'"),
        (lambda: design_moisture_production(0), "a studio counts as 1"),
        (lambda: StandardCurves().conditions([1, 2]), "got list"),
        (lambda: StandardCurves().conditions(outdoor().isel(time=[0, 2])), "not one hour apart"),
        (lambda: StandardCurves().conditions(outdoor().drop_vars("air_temperature")), "has no 'air_temperature'"),
        (lambda: HumidityClass(2).conditions(outdoor(humidity=80.0)), "'relative_humidity' is 80 at 2021-01-01 01:00"),
        (lambda: StandardCurves().conditions(outdoor(np.full(72, np.nan))), "Repair the climate first"),
    ],
)
def test_bad_input_says_what_to_do(call, sentence):
    with pytest.raises(InputError) as caught:
        call()
    assert sentence in str(caught.value)


def test_no_percentage_is_offered_to_one_who_wrote_one():
    with pytest.raises(InputError, match=r"is '145 %'; it must be a fraction from 0 to 1\.$"):
        ConstantIndoor(20.0, "145 %")
