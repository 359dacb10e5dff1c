"""Sensitivity indices against a published test function, and ensemble statistics against a case in closed form.

Ishigami and Homma 1990: y = sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1 with x uniform on (-pi, pi); its indices follow from
its variance in closed form (Saltelli et al. 2008, Global Sensitivity Analysis, from memory; derived here anew).
"""

import math

import numpy as np
import pytest
import xarray as xr

from hygro import Assembly, Layer, Settings, constant_climate
from hygro.ensemble import (
    Choice,
    UncertainStudy,
    Uniform,
    band,
    chance_of_passing,
    rank_inputs,
    ranking,
    run_ensemble,
    sobol_indices,
    summary,
)
from hygro.ensemble.sobol import crossed_indices
from hygro.errors import InputError
from hygro.indoor import ConstantIndoor
from hygro.study import Variant
from hygro.vary import Measure

pytest.importorskip("SALib", reason="SALib belongs to the test extra")
A, B = 7.0, 0.1


@pytest.fixture(scope="module")
def ishigami():
    from SALib.test_functions import Ishigami
    from scipy.stats import qmc

    points = math.pi * (2.0 * qmc.Sobol(3, seed=np.random.default_rng(1)).random(4096) - 1.0)
    return points, Ishigami.evaluate(points)


def test_shares_of_variance_are_those_of_the_ishigami_function(ishigami):
    points, output = ishigami
    first = 0.5 * (1.0 + B * math.pi**4 / 5.0) ** 2
    second, both = A**2 / 8.0, B**2 * math.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    total = first + second + both
    assert output.var() == pytest.approx(total, rel=0.01)
    assert (first / total, second / total) == pytest.approx((0.3139, 0.4424), abs=1e-4)  # the published figures
    found = rank_inputs(points, output, ["x1", "x2", "x3"])["share of variance"]
    assert found["x1"] == pytest.approx(first / total, abs=0.02)
    assert found["x2"] == pytest.approx(second / total, abs=0.02)
    assert found["x3"] == pytest.approx(0.0, abs=0.02)


def closed_form():
    """Share of each input alone, and with all that it does together with others."""
    first = 0.5 * (1.0 + B * math.pi**4 / 5.0) ** 2
    second, both = A**2 / 8.0, B**2 * math.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    total = first + second + both
    return np.array([first, second, 0.0]) / total, np.array([first + both, second, both]) / total


def crossed_ishigami(groups, seed=0):
    """The function at the points that crossed members of an ensemble have."""
    from SALib.test_functions import Ishigami

    study = plate_study({name: Uniform(low, high) for name, low, high in ROOM}, seed=seed, crossed=True)
    return Ishigami.evaluate(math.pi * (2.0 * study.shares(0, 5 * groups) - 1.0))


def test_sobol_indices_are_those_of_the_ishigami_function_and_its_intervals_hold_them():
    alone, together = closed_form()
    assert together == pytest.approx([0.5576, 0.4424, 0.2437], abs=1e-4)  # the published figures
    table = crossed_indices(crossed_ishigami(1024), ["x1", "x2", "x3"])
    assert list(table.index) == ["x1", "x2", "x3"]
    assert table["share of variance"].to_numpy() == pytest.approx(alone, abs=0.02)
    assert table["with others"].to_numpy() == pytest.approx(together, abs=0.02)
    assert (abs(table["share of variance"] - alone) <= table["share of variance ±"]).all()
    assert (abs(table["with others"] - together) <= table["with others ±"]).all()


def test_sobol_indices_come_closer_with_more_members():
    """Mean error over eight sequences falls by more than half from 32 groups to 512, as it would at random."""
    alone, together = closed_form()

    def error(groups):
        tables = [crossed_indices(crossed_ishigami(groups, seed), list("abc")).loc[list("abc")] for seed in range(8)]
        columns = [("share of variance", alone), ("with others", together)]
        return np.mean([abs(one[name] - right).mean() for one in tables for name, right in columns])

    assert error(512) < 0.5 * error(32)


def test_influence_sees_what_acts_only_together_with_others(ishigami):
    """The third input has no share of its own and yet 24 % of the variance together with the first."""
    points, output = ishigami
    idle = np.random.default_rng(2).uniform(size=len(points))
    table = rank_inputs(np.column_stack([points, idle]), output, ["x1", "x2", "x3", "idle"])
    assert list(table.index) == ["x2", "x1", "x3", "idle"]
    assert table["influence"]["x3"] > 1.5 * table.attrs["noise"]
    assert table["influence"]["idle"] < 1.5 * table.attrs["noise"]
    assert table["direction"]["x1"] > 0.3


def test_the_interval_covers_the_share_it_is_for():
    """A linear function of two inputs, 4 : 1 in variance, from many small samples: 95 % of intervals, binomially."""
    hits = 0
    for seed in range(40):
        x = np.random.default_rng(seed).uniform(size=(128, 2))
        row = rank_inputs(x, 2.0 * x[:, 0] + x[:, 1], ["a", "b"], seed=seed, evenly=False).loc["a"]
        hits += abs(row["share of variance"] - 0.8) <= row["share of variance ±"]
    assert hits >= 34  # 38 expected; fewer than 34 twice in a hundred sets of seeds


def test_shares_of_few_members_are_not_off_to_one_side():
    """Of 64 even members, three inputs 9 : 4 : 1 in variance and one idle: the mean over sixteen sequences."""
    right = np.array([9.0, 4.0, 1.0, 0.0]) / 14.0
    found = []
    for seed in range(16):
        x = plate_study(FOUR, seed=seed).shares(0, 64)
        found.append(rank_inputs(x, x @ [3.0, 2.0, 1.0, 0.0], list("abcd"))["share of variance"].loc[list("abcd")])
    assert np.mean(found, axis=0) == pytest.approx(right, abs=0.02)


@pytest.mark.parametrize("members", [64, 100, 160, 192, 200, 224, 256, 288, 300, 320, 1000])
def test_any_number_of_members_can_be_ranked(members):
    """Some numbers of slices are a rounding more than whole where their shares are added up."""
    x = np.random.default_rng(3).uniform(size=(members, 2))
    table = rank_inputs(x, x @ [3.0, 1.0], ["a", "b"])
    assert list(table.index) == ["a", "b"]
    assert table["influence"].between(0.0, 1.0).all()


@pytest.mark.parametrize(
    ("output", "says"), [(np.ones(100), "same value"), (np.arange(20.0), "64 members"), (np.full(100, np.nan), "none")]
)
def test_a_ranking_of_nothing_is_refused(output, says):
    with pytest.raises(InputError, match=says):
        rank_inputs(np.random.default_rng(0).uniform(size=(len(output), 1)), output, ["a"])


# ---------------------------------------------------------------- a linear case

WARMTH, SPAN = 15.0, 10.0  # [degC, K] indoors, uniform
COLD, MILD = -10.0, 0.0  # [degC] outdoors, either
N = 64
THICKNESS, CONDUCTIVITY = 0.002, 50.0
INSIDE, OUTSIDE, PLATE = 0.10, 0.25, THICKNESS / CONDUCTIVITY  # [m2 K W-1] ISO 6946 up; 1/(4 + 4 v) in still air
WEIGHT = (OUTSIDE + 0.5 * PLATE) / (INSIDE + PLATE + OUTSIDE)  # of the indoor temperature, in the plate's middle
GROUPS = 32
LIMIT = 12.0
FOUR = {name: Uniform(10.0, 20.0) for name in ("indoor.temperature", "start.temperature", "tilt", "azimuth")}
ROOM = (("indoor.temperature", 15.0, 25.0), ("indoor.relative_humidity", 0.2, 0.6), ("tilt", 0.0, 45.0))


def middle(run, layer):
    """Temperature in the middle of the plate in steady state: linear in both inputs."""
    cells = run["temperature"].isel(slice=0, time=-1)
    return float(np.interp(0.5 * THICKNESS, run["cell_position"], cells))


def plate_study(uncertain=None, **options):
    plate = Assembly("plate", [Layer("steel sheet", THICKNESS, name="plate")], tilt=0, azimuth=180, finish="new wood")
    outdoors = [constant_climate(t, 0.01, hours=8760) for t in (COLD, MILD)]
    return UncertainStudy(
        Variant("plate", plate, ConstantIndoor(20.0, 0.01)),
        uncertain or {"indoor.temperature": Uniform(WARMTH, WARMTH + SPAN), "climate": Choice(outdoors)},
        outdoors[0], layer="plate", start="1 January", years=1,
        measures=(Measure("middle", "degC", "temperature of the plate", middle, LIMIT, "stated here"),), **options,
    )  # fmt: skip


@pytest.fixture(scope="module")
def linear(tmp_path_factory):
    return run_ensemble(plate_study(), N, tmp_path_factory.mktemp("linear") / "x.nc", progress=False)


@pytest.fixture(scope="module")
def crossed(tmp_path_factory):
    """Groups of four: both inputs from the first point, one or the other from the second, both."""
    path = tmp_path_factory.mktemp("crossed") / "x.nc"
    return run_ensemble(plate_study(crossed=True), 4 * GROUPS, path, progress=False)


def below(temperature):
    """Distribution function of the plate's temperature."""
    indoors = [(temperature - (1.0 - WEIGHT) * t) / WEIGHT for t in (COLD, MILD)]
    return np.mean([np.clip((t - WARMTH) / SPAN, 0.0, 1.0) for t in indoors])


def test_members_follow_the_line(linear):
    outdoors = np.array([COLD, MILD])[linear["climate"].to_numpy().astype(int)]
    expected = WEIGHT * linear["indoor_temperature"].to_numpy() + (1.0 - WEIGHT) * outdoors
    left_over = Settings().newton * Settings().temperature_error  # what the solver may leave over, 0.006 K
    assert linear["middle"].to_numpy() == pytest.approx(expected, abs=left_over)


def test_statistics_are_those_of_the_line(linear):
    """The first two dimensions of a scrambled Sobol sequence are a net: each choice meets each of the n/2 equal parts
    of the other input exactly once. So no share is off by more than 2/n, whatever the scrambling."""
    slack = 2.0 / N
    chance = chance_of_passing(linear)
    assert chance.value == pytest.approx(below(LIMIT), abs=slack)
    assert chance.low < below(LIMIT) < chance.high
    row = summary(linear).iloc[0]
    mean = WEIGHT * (WARMTH + 0.5 * SPAN) + (1.0 - WEIGHT) * 0.5 * (COLD + MILD)
    assert row["mean"] == pytest.approx(mean, abs=WEIGHT * SPAN * slack)
    for column, share in (("5 % below", 0.05), ("half below", 0.5), ("95 % below", 0.95)):
        assert below(row[column]) == pytest.approx(share, abs=slack), column


def test_shares_of_variance_are_those_of_the_line(linear):
    inside, outside = (WEIGHT * SPAN) ** 2 / 12.0, ((1.0 - WEIGHT) * (MILD - COLD)) ** 2 / 4.0
    table = ranking(linear, "middle")
    shares = table["share of variance"]
    assert shares["indoor.temperature"] == pytest.approx(inside / (inside + outside), abs=0.02)
    assert shares["climate"] == pytest.approx(outside / (inside + outside), abs=0.02)
    assert list(table.index) == ["indoor.temperature", "climate"]
    assert (table["direction"] > 0.0).all()


def test_sobol_indices_are_those_of_the_line_and_nothing_acts_together(crossed):
    inside, outside = (WEIGHT * SPAN) ** 2 / 12.0, ((1.0 - WEIGHT) * (MILD - COLD)) ** 2 / 4.0
    right = np.array([inside, outside]) / (inside + outside)
    table = sobol_indices(crossed, "middle")
    assert list(table.index) == ["indoor.temperature", "climate"]
    for column in ("share of variance", "with others"):
        assert table[column].to_numpy() == pytest.approx(right, abs=0.06), column


def test_crossed_members_count_for_the_chance_only_where_they_share_no_input(crossed):
    chance = chance_of_passing(crossed)
    assert chance.members == 2 * GROUPS
    assert chance.value == pytest.approx(below(LIMIT), abs=4.0 / GROUPS)
    first, last = crossed["indoor_temperature"].to_numpy()[::4], crossed["indoor_temperature"].to_numpy()[3::4]
    assert (first != last).all()
    assert (crossed["indoor_temperature"].to_numpy()[1::4] == last).all()
    assert (crossed["climate"].to_numpy()[1::4] == crossed["climate"].to_numpy()[::4]).all()
    assert band(crossed).sizes["share"] == 5
    assert summary(crossed).iloc[0]["pass [%]"] == pytest.approx(100.0 * chance.value)
    assert set(ranking(crossed, "middle").index) == {"indoor.temperature", "climate"}


def test_crossed_members_are_the_same_from_wherever_they_are_drawn():
    study = plate_study(crossed=True)
    many = study.shares(0, 40)
    for first, last in ((0, 1), (0, 5), (3, 4), (4, 8), (7, 22), (39, 40)):
        assert (study.shares(first, last) == many[first:last]).all(), (first, last)
    assert plate_study().fingerprint != study.fingerprint


def test_sobol_indices_of_members_that_are_not_crossed_are_refused(linear, crossed):
    with pytest.raises(InputError, match="crossed=True"):
        sobol_indices(linear)
    with pytest.raises(InputError, match="has no measure 'x'"):
        sobol_indices(crossed, "x")
    with pytest.raises(InputError, match=r"32 groups of 4 .* there are 15"):
        sobol_indices(crossed.isel(member=slice(4 * 15 + 3)))
    with pytest.raises(InputError, match="same value in all"):
        crossed_indices(np.ones(400), ["a", "b"])


def test_a_member_without_a_result_takes_its_group_with_it_and_no_other():
    output = crossed_ishigami(40)
    without = crossed_indices(np.delete(output, range(10, 15)), ["a", "b", "c"])
    output[12] = np.nan
    assert crossed_indices(output, ["a", "b", "c"]).equals(without)


def test_a_dry_plate_has_a_band_of_no_width(linear):
    lines = band(linear, (0.1, 0.9))
    assert lines.dims == ("share", "day")
    assert float(lines.max()) < 1e-3


def test_a_band_holds_the_stated_share_of_members():
    """On numbers made here: on each day one percent more, in members that are shuffled."""
    values = np.random.default_rng(0).permuted(np.arange(101.0)[:, None] + np.arange(3.0), axis=0)
    attrs = {"measures": "[]", "uncertain": "{}", "layer": "deck"}
    made = xr.Dataset(
        {"moisture_content": (("member", "day"), values.astype(np.float32)), "solved": ("member", np.ones(101))},
        {"day": np.arange(3)}, attrs,
    )  # fmt: skip
    assert band(made).to_numpy() == pytest.approx(np.array([5.0, 25.0, 50.0, 75.0, 95.0])[:, None] + np.arange(3.0))
    with pytest.raises(InputError, match="between 0 and 1"):
        band(made, [5.0])


def test_the_interval_is_that_of_wilson():
    """n = 20, k = 4, 95 %: 0.0807 to 0.4160 (by hand from the formula with z = 1.959964)."""
    values = np.where(np.arange(20) < 4, 1.0, 3.0)
    made = xr.Dataset(
        {"m": ("member", values, {"limit": 2.0}), "solved": ("member", np.ones(20))}, attrs={"measures": '["m"]'}
    )
    chance = chance_of_passing(made, "m")
    assert (chance.low, chance.high) == pytest.approx((0.0807, 0.4160), abs=1e-4)
    assert chance_of_passing(made.assign(m=made["m"] * 0.0)).high == 1.0
    with pytest.raises(InputError, match=r"no measure 'x'\. It has: 'm'"):
        chance_of_passing(made, "x")
    with pytest.raises(InputError, match="confidence is 95"):
        chance_of_passing(made, confidence=95)
