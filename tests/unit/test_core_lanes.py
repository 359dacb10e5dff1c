"""Lanes of a vector register against numpy, and columns and slices in lanes against each of them alone."""

import math
from fractions import Fraction

import numba
import numpy as np
import pytest

from hygro import AirLeak, DrivingRain, FixedAirChange, Layer, Sheet, Start, VentGap, sample_climate, simulate
from hygro.core import _jit, columns, integrate, lanes
from hygro.core.lanes import WIDTH, as_lanes
from hygro.core.record import make_record
from hygro.core.work import Settings, make_work
from hygro.errors import ConvergenceError
from hygro.indoor import ConstantIndoor
from hygro.materials import AbsorptionCoefficient, Material
from hygro.simulation import pose, simulate_together

pytestmark = pytest.mark.skipif(numba.config.DISABLE_JIT, reason="lanes are compiled code")

compiled = numba.njit(error_model="numpy")
NUMBERS = np.array([-3.0, -0.5, -1e-9, 0.0, 0.25, 1.0, 7.5, 1e6])
OTHERS = np.array([2.0, -0.5, 4.0, 0.5, -1.0, 1.0, 0.125, math.nan])


def _computed(function, *given):
    """A function of lanes, of WIDTH numbers each."""
    inner = compiled(function)
    count = len(given)

    @compiled
    def run(values, out):
        wide, result = as_lanes(values), as_lanes(out)
        if count == 1:
            result[0] = inner(wide[0])
        elif count == 2:
            result[0] = inner(wide[0], wide[1])

    out = np.zeros((1, WIDTH))
    run(np.array(given), out)
    return out[0]


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (lambda a, b: a + b, lambda a, b: a + b),
        (lambda a, b: 2.0 - a * b, lambda a, b: 2.0 - a * b),
        (lambda a, b: a / b, lambda a, b: a / b),
        (lambda a, b: -a * 3 + b, lambda a, b: -a * 3 + b),
        (lambda a, b: min(a, 0.5) + b, lambda a, b: np.minimum(a, 0.5) + b),
        (lambda a, b: max(a, 0.0, 1.0) - b, lambda a, b: np.maximum(a, 1.0) - b),
        (lambda a, b: math.sqrt(abs(a)) + b, lambda a, b: np.sqrt(np.abs(a)) + b),
        (lambda a, b: lanes.where(a < b, a, 1.0), lambda a, b: np.where(a < b, a, 1.0)),
        (lambda a, b: lanes.where((a >= b) | (b != b), a, b), lambda a, b: np.where((a >= b) | (b != b), a, b)),
        (lambda a, b: lanes.where(lanes.no((a > b) & (a == a)), 5, b), lambda a, b: np.where(~(a > b), 5, b)),
    ],
)  # fmt: skip
def test_lanes_compute_like_arrays(ours, theirs):
    with np.errstate(all="ignore"):
        np.testing.assert_array_equal(_computed(ours, NUMBERS, OTHERS), theirs(NUMBERS, OTHERS))


@pytest.mark.parametrize(("ours", "theirs"), [(math.exp, math.exp), (lanes.expm1, math.expm1)])
def test_exponentials(ours, theirs):
    values = np.array([-700.0, -20.0, -1.0, -0.3, -1e-7, 0.0, 1e-3, 3.0])
    expected = [theirs(value) for value in values]
    np.testing.assert_allclose(_computed(lambda a: ours(a), values), expected, rtol=2e-15)
    single = compiled(lambda a: ours(a))
    np.testing.assert_allclose([single(value) for value in values], expected, rtol=2e-15)


def test_an_exponential_less_one_of_a_number_or_of_two():
    """As close as numbers can be told apart, from the least on; two at a time are the same."""
    rng = np.random.default_rng(4)
    values = rng.choice([-1.0, 1.0], 3000) * 10.0 ** rng.uniform(-18, 2.8, 3000)

    @compiled
    def run(values, out, beside):
        for i in range(len(values)):
            out[i] = lanes.expm1(values[i])
            beside[i] = lanes.second_of(lanes.expm1(lanes.twins(0.5, values[i])))

    out, beside = np.zeros_like(values), np.zeros_like(values)
    run(values, out, beside)
    np.testing.assert_allclose(out, np.expm1(values), rtol=5e-16, atol=0)
    np.testing.assert_array_equal(out, beside)
    assert lanes.expm1(-3.0) == math.expm1(-3.0)


def test_a_product_plus_a_rest_is_rounded_once():
    rng = np.random.default_rng(6)
    given = rng.normal(size=(3, WIDTH))
    given[2] = -given[0] * given[1] * (1.0 + 1e-15 * rng.integers(-3, 4, WIDTH))  # next to nothing is left of it
    exact = [float(Fraction(a) * Fraction(b) + Fraction(c)) for a, b, c in given.T]

    @compiled
    def run(values, single, out):
        wide, result = as_lanes(values), as_lanes(out)
        result[0] = lanes.fma(wide[0], wide[1], wide[2])
        for i in range(WIDTH):
            out[1, i] = lanes.fma(single[0, i], single[1, i], single[2, i])
            out[2, i] = lanes.second_of(lanes.fma(lanes.twins(1.0, single[0, i]), single[1, i], single[2, i]))

    out = np.zeros((3, WIDTH))
    run(given, given, out)
    assert (out == exact).all()
    assert lanes.fma(2.0, 3.0, 4.0) == 10.0


def _chosen(one, other):
    """What twins give where they meet a condition of each, and whether any does."""
    more = (one > other) & lanes.no(one > 4.0)
    both = (lanes.where(more, one, 0.0), lanes.where(lanes.no(more), other, one))
    return lanes.first_of(both), lanes.second_of(both), lanes.any_of(more), lanes.all_of(lanes.no(more))


def test_twins_are_chosen_between():
    expected = ((3.0, 3.0), (0.0, -2.0), True, False)

    @compiled
    def run(wide, narrow, out):
        given, result = as_lanes(wide), as_lanes(out)
        first, second, some, none = _of_kernel(lanes.twins(given[0], given[1]), lanes.twins(0.5, -2.0))
        result[0], result[1], result[2], result[3] = first[0], first[1], second[0], second[1]
        return some, none, _of_kernel(lanes.twins(narrow[0], narrow[1]), lanes.twins(0.5, -2.0))

    _of_kernel = compiled(_chosen)
    wide, out = np.array([[3.0] * WIDTH, [5.0] * WIDTH]), np.zeros((4, WIDTH))
    some, none, single = run(wide, np.array([3.0, 5.0]), out)
    assert (some, none) == (True, False)
    assert (out.T == [3.0, 3.0, 0.0, -2.0]).all()
    assert single == expected
    assert _chosen(lanes.twins(3.0, 5.0), lanes.twins(0.5, -2.0)) == expected


def test_logarithms():
    """Over all magnitudes, and near one, where few digits are left of those that go in."""
    rng = np.random.default_rng(5)
    near = 1.0 + rng.normal(size=4000) * 10.0 ** rng.uniform(-15, -1, 4000)
    values = np.concatenate([np.exp(rng.uniform(-700, 700, 4000)), near]).reshape(-1, WIDTH)

    @compiled
    def run(values, out):
        wide, result = as_lanes(values), as_lanes(out)
        for i in range(len(wide)):
            result[i] = math.log(wide[i])

    out = np.zeros_like(values)
    run(values, out)
    np.testing.assert_allclose(out, np.log(values), rtol=5e-16, atol=0)


def test_powers_and_logarithms():
    values = np.abs(NUMBERS) + 1e-3
    np.testing.assert_allclose(_computed(lambda a: math.pow(a, 0.8), values), values**0.8, rtol=1e-14)
    np.testing.assert_allclose(_computed(lambda a: math.log(a), values), np.log(values), rtol=1e-14, atol=1e-15)


def test_nodes_and_rows():
    table = np.random.default_rng(1).uniform(size=(5, 8))
    tables = np.random.default_rng(2).uniform(size=(WIDTH, 3, 5, 8))
    sheets = np.random.default_rng(3).uniform(size=(WIDTH, 2, 6))
    scaled = np.array([-1.0, 0.0, 0.5, 1.0, 2.75, 3.999, 4.0, 50.0])

    @compiled
    def read(values, table, tables, sheets, out):
        wide, result = as_lanes(values), as_lanes(out)
        k, part = lanes.node_below(wide[0], 3)
        common, own, pair = lanes.table_row(table, k), lanes.material_row(tables, 2, k), lanes.neighbours(sheets, 1, k)
        for column in range(8):
            result[column], result[8 + column] = common[column], own[column]
        result[16], result[17], result[18] = part, pair[0], pair[1]

    out = np.zeros((19, WIDTH))
    read(scaled[None], table, tables, sheets, out)
    k = np.clip(np.floor(scaled), 0, 3).astype(int)
    lane = np.arange(WIDTH)
    np.testing.assert_array_equal(out[:8], table[k].T)
    np.testing.assert_array_equal(out[8:16], tables[lane, 2, k].T)
    np.testing.assert_array_equal(out[16], scaled - np.floor(scaled))
    np.testing.assert_array_equal(out[17:], [sheets[lane, 1, k], sheets[lane, 1, k + 1]])


@pytest.mark.parametrize("backwards", [False, True])
def test_what_is_handed_along_slices(backwards):
    gain, source = np.linspace(0.2, 1.1, WIDTH), np.linspace(-1.0, 2.0, WIDTH)

    @compiled
    def run(gain, source, backwards, out):
        reach, left = lanes.along(4.0, as_lanes(gain)[0], as_lanes(source)[0], backwards)
        as_lanes(out)[0] = reach
        return left

    out = np.zeros((1, WIDTH))
    left = run(gain[None], source[None], backwards, out)
    state = 4.0
    for at in reversed(range(WIDTH)) if backwards else range(WIDTH):
        assert out[0, at] == pytest.approx(state, rel=1e-15)
        state = gain[at] * state + source[at]
    assert left == pytest.approx(state, rel=1e-15)


def test_what_slices_have_in_common():
    """A sum and a least over the lanes beside a single number; lane by lane beside lanes."""
    values = np.array([3.0, -2.0, 7.0, 0.5, -1.0, 4.0, 0.25, 2.0])

    @compiled
    def run(values, out):
        wide, result = as_lanes(values)[0], as_lanes(out)
        result[0], result[1] = lanes.total_of(wide, wide), lanes.least_of(wide, wide)
        return (
            lanes.total_of(wide, 1.0),
            lanes.least_of(wide, 1.0),
            lanes.largest(wide),
            lanes.largest(wide / 0.0 * 0.0),
        )

    out = np.zeros((2, WIDTH))
    total, least, largest, unsound = run(values[None], out)
    assert (total, least, largest) == (values.sum(), -2.0, 7.0)
    assert math.isnan(unsound)
    np.testing.assert_array_equal(out, [values, values])


# ------------------------------------------------------------------------------------------------ neighbouring cells


def test_what_neighbours_tell_each_other():
    """Two groups of cells: who is next, what holds for all of them, and that each may be looked at alone."""
    rows = np.random.default_rng(1).uniform(size=(2, 3, WIDTH))
    kinds = np.arange(2 * WIDTH).reshape(2, 1, WIDTH)
    rows[1, 2, 5] = 9.0

    @compiled
    def run(rows, kinds, next_to, out):
        wide, whole, result = as_lanes(rows), as_lanes(kinds), as_lanes(out)
        result[0] = lanes.inner_of(whole, wide[0, 1], wide[1, 1])
        result[1] = lanes.outer_of(whole, wide[0, 1], wide[1, 1])
        as_lanes(next_to)[0] = lanes.inner_of(whole, whole[0, 0], whole[1, 0])
        single = lanes.one_by_one(wide, 3)
        single[13, 0] += 1.0
        return (
            lanes.worst_of_cells(whole, wide[1, 2]),
            lanes.all_cells(whole, wide[1, 2] < 2.0),
            lanes.all_cells(whole, wide[0, 2] < 2.0),
            single[0][13, 2],
        )

    before, out, next_to = rows.copy(), np.zeros((2, WIDTH)), np.zeros((1, WIDTH), np.int64)
    worst, all_below, others_below, alone = run(rows, kinds, next_to, out)
    line = before[:, 1].ravel()
    np.testing.assert_array_equal(out, [line[1 : 1 + WIDTH], line[WIDTH - 1 : -1]])
    np.testing.assert_array_equal(next_to[0], np.arange(1, 1 + WIDTH))
    assert (worst, all_below, others_below, alone) == (9.0, False, True, 9.0)
    before[1, 0, 5] += 1.0
    np.testing.assert_array_equal(rows, before)


def test_twins_are_computed_with_as_one():
    """Two numbers, and two times WIDTH of them; a single number counts for both."""

    @compiled
    def run(values, out):
        one, two = lanes.twins(3.0, 5.0), lanes.twins(0.5, -2.0)
        both = 1.0 / (one * two - one) + -two
        wide, result = as_lanes(values), as_lanes(out)
        many = lanes.twins(wide[0], wide[1])
        many = (many - 2.0) * many / lanes.twins(wide[1], wide[0])
        result[0], result[1] = lanes.first_of(many), lanes.second_of(many)
        return lanes.first_of(both), lanes.second_of(both)

    out = np.zeros((2, WIDTH))
    values = np.random.default_rng(4).uniform(1.0, 2.0, size=(2, WIDTH))
    assert run(values, out) == (1.0 / (1.5 - 3.0) - 0.5, 1.0 / (-10.0 - 5.0) + 2.0)
    np.testing.assert_array_equal(out, (values - 2.0) * values / values[::-1])
    plain = 1.0 / (lanes.twins(3.0, 5.0) * 2.0)
    assert (lanes.first_of(plain), lanes.second_of(plain)) == (1.0 / 6.0, 0.1)


def test_whole_numbers_choose_rows():
    """Each cell has a material and a sheet of its own, or no sheet."""
    tables, sheets = np.random.default_rng(2).uniform(size=(3, 5, 8)), np.random.default_rng(3).uniform(size=(2, 6))
    of = np.array([[0, 2, 1, 1, 0, 2, 2, 0], [-1, 0, 1, -1, 1, 0, 0, 1]])

    @compiled
    def run(tables, sheets, of, scaled, out):
        which, result = as_lanes(of), as_lanes(out)
        k, _ = lanes.node_below(as_lanes(scaled)[0], 3)
        row, pair = lanes.material_row(tables, which[0], k), lanes.neighbours(sheets, which[1], k)
        for column in range(8):
            result[column] = row[column]
        result[8], result[9] = pair
        result[10] = lanes.where((which[0] == 2) & (which[1] >= 0), 1.0, lanes.where(which[1] < 0, -1.0, 0.0))

    k, out = np.array([0, 3, 1, 2, 2, 0, 1, 3]), np.zeros((11, WIDTH))
    run(tables, sheets, of, k[None] + 0.25, out)
    np.testing.assert_array_equal(out[:8], tables[of[0], k].T)
    row = np.maximum(of[1], 0)
    np.testing.assert_array_equal(out[8:10], [sheets[row, k], sheets[row, k + 1]])
    np.testing.assert_array_equal(out[10], np.where(of[1] < 0, -1.0, (of[0] == 2).astype(float)))


@pytest.mark.parametrize("part", ["vented", "wall"])
def test_cells_in_lanes_are_those_computed_one_by_one(bench, part):
    """The same formulas on the same cells: apart by round-off that the hours have let grow."""
    roof, more = (_vented if part == "vented" else _wall)(bench, 2)
    given = pose(roof, WEATHER, ConstantIndoor(20.0, 0.5), **more).column
    one = given._replace(temperature=given.temperature.copy(), x=given.x.copy())
    found = columns.solve(given)
    shape = one.temperature.shape
    record = make_record(len(one.forcing) - 1, *shape)
    assert integrate.run(*one[:-1], make_work(*shape), record, one.settings)[0] == integrate.OK
    assert shape[1] % WIDTH
    for name, close in (("temperature", 1e-6), ("activity", 1e-7), ("water", 1e-5), ("ice", 1e-5), ("speed", 1e-9)):
        np.testing.assert_allclose(getattr(found.record, name), getattr(record, name), rtol=0, atol=close)
    np.testing.assert_allclose(found.record.counts.sum(axis=0), record.counts.sum(axis=0), rtol=0.01)
    np.testing.assert_allclose(given.temperature, one.temperature, rtol=0, atol=1e-6)


# ------------------------------------------------------------------------------------------------- several columns

BOARD = Material(
    "board", density=600, specific_heat=1600, conductivity=0.13, conductivity_moisture=5e-4, vapour_resistance=80.0,
    sorption=[(0.3, 35), (0.8, 90), (1.0, 180)], saturation=650,
)  # fmt: skip
RENDER = Material(
    "render", density=1300, specific_heat=900, conductivity=0.6, vapour_resistance=12.0,
    sorption=[(0.5, 8), (0.8, 20), (0.95, 60), (1.0, 220)], free_saturation=220, saturation=320,
    liquid=AbsorptionCoefficient(0.03),
)  # fmt: skip
WEATHER = sample_climate("hut_valley").period("10 December", 1)
WEATHER = type(WEATHER)(WEATHER.data.isel(time=slice(0, 24 * 30)))


def _vented(bench, number, gap=None):
    wool = Layer("mineral wool batt", 0.15 + 0.002 * number)
    gap = gap or VentGap(0.03 + 0.002 * number, length=4.0, flow=FixedAirChange(20 + 30 * number))
    layers = [Layer("steel sheet", 0.0006), gap, Layer(BOARD, 0.018), wool, Sheet("polyethylene 0.15 mm")]
    return bench.build(*layers, tilt=8), {"leak": AirLeak(0.2 + 0.2 * number, height=1.2, into="board")}


def _wall(bench, number):
    layers = [Layer(RENDER, 0.02), Layer(BOARD, 0.02), Layer("mineral wool batt", 0.1), Layer("gypsum board", 0.0125)]
    wet = Start(8.0, 0.7 + 0.02 * number)
    return bench.build(*layers, tilt=90, azimuth=90 + 10 * number), {"rain": DrivingRain(), "initial": wet}


@pytest.mark.parametrize("build", [_vented, _wall])
@pytest.mark.parametrize("count", [2, 7, 11])
def test_columns_together_are_what_they_are_alone(bench, build, count):
    """To a hundredth of what the steps' own errors are; eleven need two groups."""
    finer = Settings(temperature_error=0.01, water_error=2e-4, newton=0.01, unchecked=0.02)
    stated = [build(bench, number) for number in range(count)]
    room = ConstantIndoor(20.0, 0.5)
    questions = [pose(roof, WEATHER, room, settings=finer, **more) for roof, more in stated]
    together = dict(simulate_together(questions))
    assert sorted(together) == list(range(count))
    for number in {0, 1, count - 1}:
        roof, more = stated[number]
        alone = simulate(roof, WEATHER, room, settings=finer, **more)
        for name, close in (("temperature", 0.02), ("relative_humidity", 2e-3), ("layer_water", 2e-3)):
            ours, theirs = together[number][name].to_numpy(), alone[name].to_numpy()
            assert np.sqrt(np.mean((ours - theirs) ** 2)) < close, name
        assert together[number].attrs["assembly"] == alone.attrs["assembly"]
        assert abs(together[number].attrs["audit_water"]) < 1e-9


def test_a_column_has_the_same_bits_whatever_its_neighbours_are_asked_for(bench):
    def runs():
        return [pose(_vented(bench, number)[0], WEATHER, ConstantIndoor(20.0, 0.5)) for number in range(4)]

    first, again = dict(simulate_together(runs())), dict(simulate_together(runs()))
    for number in range(4):
        assert first[number].identical(again[number])


def test_one_that_cannot_go_on_leaves_the_others_alone(bench, monkeypatch):
    """A group in which one stops is solved column by column; the error belongs to that column."""
    questions = [pose(_vented(bench, number)[0], WEATHER, ConstantIndoor(20.0, 0.5)) for number in range(3)]
    hopeless = questions[1].column
    monkeypatch.setattr(
        columns, "solve", lambda column, solve=columns.solve: (
            columns.Solved(solve(column).record, (integrate.NO_CONVERGENCE, 3, 1, 0.05))
            if column.forcing is hopeless.forcing else solve(column)
        ),
    )  # fmt: skip
    monkeypatch.setattr(
        columns, "_solve_in_lanes", lambda _: columns.Solved(None, (integrate.NO_CONVERGENCE, 3, 1, 0.05))
    )
    found = dict(simulate_together(questions))
    assert isinstance(found[1], ConvergenceError)
    assert "layer" in str(found[1])
    assert float(found[0].temperature.mean()) < 20.0
    assert found[2].sizes["time"] == 24 * 30


# ---------------------------------------------------------------------------------------------------------- slices


@pytest.mark.parametrize("slices", [2, 5, 8, 11])
@pytest.mark.parametrize("change", [3.0, 60.0])
def test_slices_in_lanes_are_those_solved_one_after_the_other(bench, monkeypatch, slices, change):
    finer = Settings(temperature_error=0.01, water_error=2e-4, newton=0.01, unchecked=0.02)
    gap = VentGap(0.03, length=6.0, flow=FixedAirChange(change), slices=slices)
    roof, more = _vented(bench, 1, gap)
    room = ConstantIndoor(20.0, 0.5)
    in_lanes = simulate(roof, WEATHER, room, settings=finer, **more)
    monkeypatch.setattr(_jit, "compiles", lambda: False)
    one_by_one = simulate(roof, WEATHER, room, settings=finer, **more)
    assert one_by_one.attrs["evaluations"] > in_lanes.attrs["evaluations"]
    for name, close in (
        ("temperature", 0.01), ("relative_humidity", 2e-3), ("layer_water", 2e-3), ("gap_air_temperature", 0.01),
        ("gap_vapour_pressure", 0.5), ("gap_heat_flux", 0.1), ("gap_moisture_flux", 2e-8),
    ):  # fmt: skip
        ours, theirs = in_lanes[name].to_numpy(), one_by_one[name].to_numpy()
        assert ours.shape == theirs.shape
        assert np.sqrt(np.mean((ours - theirs) ** 2)) < close, name


def test_newton_takes_slices_as_one(bench):
    """Linear but for the tables: a stage needs hardly more than one evaluation however strongly the air couples."""
    gap = VentGap(0.03, length=6.0, flow=FixedAirChange(40.0), slices=8)
    roof, _ = _vented(bench, 1, gap)
    run = simulate(roof, WEATHER, ConstantIndoor(20.0, 0.5), settings=Settings(unchecked=0.5))
    steps = 24 * 30 + run.attrs["rejected_steps"]
    assert run.attrs["newton_steps"] < 2 * 2.6 * steps
