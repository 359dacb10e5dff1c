"""Ensembles: distributions by their quantiles, members, refusals, resuming after a kill, the same bits everywhere.

The study that is run again and again is text, so that another process can make the very same one.
"""

import json
import os
import re
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from scipy.stats import lognorm, norm, triang

from hygro import constant_climate, open_run, simulation
from hygro.core.bundles import IN_TEMPERATURE, IN_VAPOUR
from hygro.core.formulas import saturation_pressure_water
from hygro.core.lanes import WIDTH
from hygro.ensemble import (
    Choice,
    LogNormal,
    Normal,
    Scatter,
    Triangular,
    UncertainStudy,
    Uniform,
    chance_of_passing,
    open_ensemble,
    run_ensemble,
    scatter,
    weather_years,
    workmanship,
)
from hygro.ensemble import run as running
from hygro.ensemble.identity import digest_of
from hygro.errors import ConvergenceError, InputError
from hygro.indoor import ConstantIndoor
from hygro.vary import WETTEST, Input

ROOT = Path(__file__).parents[2]
STUDY = """
from hygro import AirLeak, Assembly, Layer, Sheet, constant_climate
from hygro.ensemble import LogNormal, Scatter, UncertainStudy, Uniform
from hygro.vary import WETTEST
from hygro.indoor import ConstantIndoor
from hygro.study import Variant

parts = [Layer("plywood 500", "6 mm", name="deck"), Sheet("house wrap")]
roof = Assembly("plain", parts, tilt=5, azimuth=180, finish="new wood")
base = Variant("plain", roof, ConstantIndoor(20.0, 0.4), AirLeak(1.0, height=1.0, into=None))
uncertain = {
    "leak.q50": LogNormal(0.3, 2.0),
    "indoor.relative_humidity": Uniform("30 %", "50 %"),
    "deck.times_sorption": Scatter("10 %", "stated here"),
}
climate = constant_climate(2.0, 0.8, hours=8760)
study = UncertainStudy(base, uncertain, climate, layer="deck", start="1 January", years=1, measures=(WETTEST,), seed=3)
"""


def made(**changes):
    names = {}
    exec(STUDY, names)
    stated = {"uncertain": names["uncertain"], "seed": 3, "measures": (WETTEST,)} | changes
    return UncertainStudy(
        names["base"], stated["uncertain"], names["climate"], layer="deck", start="1 January", years=1,
        measures=stated["measures"], seed=stated["seed"],
    )  # fmt: skip


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The uninterrupted one: one thread, blocks of three."""
    path = tmp_path_factory.mktemp("whole") / "whole.nc"
    with ThreadPoolExecutor(1) as one:
        return run_ensemble(made(), MEMBERS, path, executor=one, block=3, progress=False)


MEMBERS = 12


def same_bits(one, other):
    assert one.identical(other)
    for name in one.variables:
        assert one[name].to_numpy().tobytes() == other[name].to_numpy().tobytes(), name


# ---------------------------------------------------------------- distributions


@pytest.mark.parametrize(
    ("spread", "reference"),
    [
        (Uniform(2.0, 6.0), lambda u: 2.0 + 4.0 * u),
        (Triangular(1.0, 2.0, 5.0), triang(0.25, 1.0, 4.0).ppf),
        (Normal(5.0, 2.0), norm(5.0, 2.0).ppf),
        (LogNormal(3.0, 2.0), lognorm(np.log(2.0), scale=3.0).ppf),
    ],
)
def test_quantiles_are_those_of_the_distribution(spread, reference):
    for share in (1e-6, 0.1, 0.25, 0.5, 0.9, 1.0 - 1e-6):
        assert spread.at(share, None) == pytest.approx(float(reference(share)), rel=1e-9)


def test_scatter_keeps_the_mean_and_has_the_coefficient_of_variation():
    shares = (np.arange(20_000) + 0.5) / 20_000
    values = np.array([Scatter(0.25).at(share, 4.0) for share in shares])
    assert values.mean() == pytest.approx(4.0, rel=1e-4)
    assert values.std() / values.mean() == pytest.approx(0.25, rel=2e-3)
    assert values.min() > 0.0


def test_a_normal_distribution_that_is_cut_stays_inside_and_keeps_its_shape():
    cut = Normal(0.0, 1.0, low=-1.0, high=2.0)
    assert cut.at(1e-12, None) == pytest.approx(-1.0, abs=1e-6)
    assert cut.at(1.0 - 1e-12, None) == pytest.approx(2.0, abs=1e-6)
    inside = norm.cdf(2.0) - norm.cdf(-1.0)
    assert cut.at((norm.cdf(0.5) - norm.cdf(-1.0)) / inside, None) == pytest.approx(0.5)


def test_a_choice_falls_on_each_value_as_often_as_its_weight_says():
    choice = Choice(["a", "b", "c"], [1, 2, 1])
    assert [choice.at(share, None) for share in (0.0, 0.24, 0.26, 0.74, 0.76, 1.0)] == ["a", "a", "b", "b", "c", "c"]


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Uniform(2.0, 1.0), "numbers that rise"),
        (lambda: Uniform(1.0, float("nan")), "numbers that rise"),
        (lambda: Triangular(1.0, 5.0, 2.0), "numbers that rise"),
        (lambda: Normal(1.0, 0.0), "above 0"),
        (lambda: Normal(1.0, 1.0, low=2.0), "numbers that rise"),
        (lambda: LogNormal(0.0, 2.0), "median is 0"),
        (lambda: LogNormal(1.0, 0.5), "factor is 0.5"),
        (lambda: Scatter(10.0), 'Did you mean "10 %"'),
        (lambda: Scatter(-0.1), "above 0 and at most 1"),
        (lambda: Choice(["a"]), "at least two that differ"),
        (lambda: Choice(["a", "a"]), "at least two that differ"),
        (lambda: Choice(["a", "b"], [1.0]), "one number above 0 for each"),
        (lambda: workmanship(-1.0), "median is -1"),
    ],
)
def test_distributions_that_cannot_be_are_refused(make, says):
    with pytest.raises(InputError, match=says):
        make()


def test_what_is_said_of_scatter_is_what_it_is():
    """Each names a publication and how sure it is; what is derived follows from what it is derived from."""
    known = {name: one for name, one in vars(scatter).items() if isinstance(one, Scatter)}
    assert set(known) == {"TIMBER_DENSITY", "CONDUCTIVITY", "SORPTION", "VAPOUR_RESISTANCE", "THICKNESS", "LEAK"}
    for one in known.values():
        assert "from memory" in one.source
        assert "estimated" not in one.source
        assert re.search(r"Handbook|\b(19|20)\d\d\b|\bEN \d", one.source)
    assert scatter.SORPTION.variation == scatter.TIMBER_DENSITY.variation
    unsanded, sanded = 0.8 / 2, (0.2 + 0.4 + 2 * 0.03 * 18) / 4  # [mm] half of the mean tolerance to either side
    for one_sigma in (unsanded, sanded):
        assert scatter.THICKNESS.variation == pytest.approx(one_sigma / 18.0, abs=0.005)
    factor = lognorm(np.log(1.75))
    assert scatter.LEAK.variation == pytest.approx(factor.std() / factor.mean(), abs=0.01)


# ---------------------------------------------------------------- studies


@pytest.mark.parametrize(
    ("uncertain", "says"),
    [
        ({}, "give inputs and their distributions"),
        ({"leak.q5": Uniform(1, 2)}, "Nearest: 'leak.q50'"),
        ({"gap.thickness": Uniform("20 mm", "50 mm")}, "has no gap"),
        ({"deck.thickness": Uniform("-5 mm", "20 mm")}, r"(?s)deck.thickness.*reaches a value that cannot be.*above 0"),
        ({"deck.thickness": Normal("6 mm", "6 mm")}, r"(?s)anything|standard deviation 6 mm.*cannot be"),
        ({"indoor.relative_humidity": Normal(0.9, 0.1)}, "cannot be"),
        ({"leak.q50": Uniform("1 mm", "2 mm")}, "could not be read as an air permeability"),
        ({"leak.q50": 3.0}, "give one such as Uniform"),
        ({"leak.q50": Uniform}, "give one such as Uniform"),
        ({"finish": Scatter(0.1)}, "needs a number to scatter around"),
        ({"leak.fan_pressure": Scatter(0.1)}, "needs a value above 0"),
        ({"finish": Choice(["new wood", "no such finish"])}, "cannot be"),
        ({"leak.q50": Uniform(1, 2), Input("leak q50", lambda v, _: v): Uniform(1, 2)}, "named twice"),
    ],
)
def test_studies_that_cannot_be_are_refused_before_any_run(uncertain, says):
    with pytest.raises(InputError, match=says):
        made(uncertain=uncertain)


def test_values_far_out_that_few_members_reach_are_refused_before_any_run(tmp_path):
    study = made(uncertain={"deck.thickness": Normal("6 mm", "1.9 mm")})  # 0.1 % lie below 0.13 mm: still a thickness
    assert study.shares(0, 4096)[:, 0].min() < 5e-4
    with pytest.raises(InputError, match=r"(?s)deck.thickness.*reaches a value that cannot be"):
        run_ensemble(study, 4096, tmp_path / "x.nc", progress=False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("members", "name", "options", "says"),
    [
        (0, "x.nc", {}, "members is 0"),
        (2.5, "x.nc", {}, "members is 2.5"),
        (4, "x.txt", {}, "ends in .nc"),
        (4, "x.nc", {"block": 0}, "block is 0"),
        (4, "x.nc", {"executor": 3}, "executor is 3"),
    ],
)
def test_orders_that_make_no_sense_are_refused(members, name, options, says, tmp_path):
    with pytest.raises(InputError, match=says):
        run_ensemble(made(), members, tmp_path / name, progress=False, **options)


def test_members_are_the_same_however_many_are_drawn_and_from_wherever():
    study = made()
    many = study.shares(0, 100)
    assert (study.shares(0, 1) == many[:1]).all()
    assert (study.shares(0, 37) == many[:37]).all()
    assert (study.shares(37, 64) == many[37:64]).all()
    assert not (made(seed=4).shares(0, 8) == many[:8]).any()


def test_the_digest_tells_studies_apart_and_knows_its_own():
    assert made().fingerprint == made().fingerprint
    others = [
        made(seed=4),
        made(uncertain={"leak.q50": LogNormal(0.3, 2.1)}),
        made(measures=(WETTEST, WETTEST.__class__("x", "1", "x", lambda *_: 1.0, 1.0, ""))),
        made(measures=(WETTEST, WETTEST.__class__("x", "1", "x", lambda *_: 2.0, 1.0, ""))),
    ]
    assert len({one.fingerprint for one in [made(), *others]}) == 5
    assert digest_of(0.1) != digest_of(0.1 + 1e-17 + 2e-17)
    with pytest.raises(InputError, match="cannot be told"):
        digest_of(iter([]))


def test_weather_years_are_single_years_of_a_long_record():
    record = constant_climate(1.0, 0.8, hours=4 * 8760)
    choice = weather_years(record, "1 October", 2023, 2025)
    assert [str(one.start.date()) for one in choice.values] == ["2023-10-01", "2024-10-01", "2025-10-01"]
    with pytest.raises(InputError, match="earlier one first"):
        weather_years(record, "1 October", 2025, 2023)


# ---------------------------------------------------------------- running


def test_an_ensemble_holds_inputs_measures_and_the_season(whole):
    assert dict(whole.sizes) == {"member": MEMBERS, "day": 365}
    assert whole["indoor_relative_humidity"].attrs["units"] == "1"
    assert 0.3 <= float(whole["indoor_relative_humidity"].min()) < float(whole["indoor_relative_humidity"].max()) <= 0.5
    assert (whole["solved"] == 1).all()
    assert np.isfinite(whole["moisture_content"]).all()
    assert (whole["moisture_content"].max("day") <= whole["wettest"] + 1e-4).all()
    assert json.loads(whole.attrs["uncertain"])["leak_q50"] == "leak.q50"
    assert str(whole["day"].to_numpy()[0]).startswith("2023-01-01T12:00")


def test_a_member_is_what_a_plain_run_gives(whole):
    study = made()
    case = study.member(study.shares(0, MEMBERS)[5])
    assert case.variant.leak.q50 == float(whole["leak_q50"][5])
    # to the solver's tolerance: members share their steps with seven others
    assert WETTEST.of(case.run(), "deck") == pytest.approx(float(whole["wettest"][5]), abs=0.02)


@dataclass(frozen=True)
class Counted:
    """Indoor air that keeps count of how often it is asked."""

    asked: list[int] = field(default_factory=list, compare=False)

    def conditions(self, outdoor):
        self.asked.append(outdoor.sizes["time"])
        return ConstantIndoor(20.0, 0.4).conditions(outdoor)


def test_indoor_air_that_no_input_changes_is_found_once_for_a_block_and_is_that_of_a_plain_run():
    study = made(uncertain={"leak.q50": LogNormal(0.3, 2.0)})
    model = Counted()
    base = replace(study.case.variant, indoor=model)
    once = UncertainStudy(
        base, {"leak.q50": LogNormal(0.3, 2.0)}, study.case.climate, layer="deck", start="1 January", years=1,
        measures=(WETTEST,), seed=3,
    )  # fmt: skip
    block = running._members(once, (0, 2 * WIDTH))
    assert model.asked == [8760]
    same_bits(block, running._members(study, (0, 2 * WIDTH)))


def test_all_cores_give_the_same_bits_as_one(whole, tmp_path):
    same_bits(run_ensemble(made(), MEMBERS, tmp_path / "x.nc", block=5, progress=False), whole)


def test_processes_give_the_same_bits(whole, tmp_path):
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        same_bits(run_ensemble(made(), MEMBERS, tmp_path / "x.nc", executor=pool, progress=False), whole)


def test_a_dask_cluster_gives_the_same_bits(whole, tmp_path):
    distributed = pytest.importorskip("distributed", reason="dask.distributed belongs to the test extra")
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", local_directory=str(tmp_path)
    )
    with cluster, distributed.Client(cluster) as client:
        same_bits(run_ensemble(made(), MEMBERS, tmp_path / "x.nc", executor=client, block=4, progress=False), whole)
        same_bits(
            run_ensemble(made(), 4, tmp_path / "y.nc", executor=client.get_executor(), progress=False),
            open_ensemble(tmp_path / "x.nc").isel(member=slice(4)),
        )


def test_killed_half_way_and_resumed_it_is_the_same_and_nothing_is_done_twice(whole, tmp_path):
    path = tmp_path / "x.nc"
    code = f"{STUDY}\nfrom hygro.ensemble import run_ensemble\nrun_ensemble(study, {MEMBERS}, {str(path)!r}, block=1)"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    process = subprocess.Popen([sys.executable, "-c", code], env=environment, stderr=subprocess.DEVNULL)
    parts, end = tmp_path / "x.nc.parts", time.monotonic() + 120.0
    while len(list(parts.glob("members-*.nc"))) < 3 and time.monotonic() < end:
        assert process.poll() is None, "it ended before it could be killed"
        time.sleep(0.005)
    process.send_signal(signal.SIGKILL)
    process.wait()
    there = {one.name: one.stat().st_mtime_ns for one in parts.glob("members-*.nc")}
    assert 3 <= len(there) < MEMBERS
    assert not path.exists()
    with pytest.raises(InputError, match="not finished"):
        open_ensemble(path)

    class Stopped(Exception):
        pass

    class Once(ThreadPoolExecutor):
        """Hands out as it should, and breaks off when two more blocks are kept."""

        def submit(self, *what, **options):
            if len(list(parts.glob("members-*.nc"))) >= len(there) + 2:
                raise Stopped
            return super().submit(*what, **options)

    with pytest.raises(Stopped), Once(1) as pool:
        run_ensemble(made(), MEMBERS, path, executor=pool, block=1, progress=False)
    assert {name: (parts / name).stat().st_mtime_ns for name in there} == there  # what was there is as it was
    same_bits(run_ensemble(made(), MEMBERS, path, block=2, progress=False), whole)
    assert [one.name for one in tmp_path.iterdir()] == ["x.nc"]


def test_more_members_later_are_the_same_as_all_at_once(whole, tmp_path):
    path = tmp_path / "x.nc"
    few = run_ensemble(made(), 7, path, progress=False)
    same_bits(few, whole.isel(member=slice(7)))
    same_bits(run_ensemble(made(), 9, path, progress=False), whole.isel(member=slice(9)))
    same_bits(run_ensemble(made(), 3, path, progress=False), whole.isel(member=slice(3)))  # opened, not run
    same_bits(open_ensemble(path), whole.isel(member=slice(9)))


def test_stopped_between_the_last_block_and_the_gathering_nothing_is_missing(whole, tmp_path, monkeypatch):
    """A finished file of fewer members lies beside blocks that complete it."""
    path = tmp_path / "x.nc"
    run_ensemble(made(), 2, path, progress=False)

    def stopped(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("hygro.ensemble.store.Store.gather", stopped)
        with pytest.raises(KeyboardInterrupt):
            run_ensemble(made(), 5, path, progress=False)
    assert open_ensemble(path).sizes["member"] == 2
    same_bits(run_ensemble(made(), 5, path, progress=False), whole.isel(member=slice(5)))


def test_results_of_another_study_are_not_mixed(tmp_path):
    run_ensemble(made(), 2, tmp_path / "x.nc", progress=False)
    with pytest.raises(InputError, match="results of another study"):
        run_ensemble(made(seed=4), 2, tmp_path / "x.nc", progress=False)
    (tmp_path / "y.nc.parts").mkdir()
    (tmp_path / "y.nc.parts" / "study.json").write_text('{"study": "other"}')
    with pytest.raises(InputError, match="results of another study"):
        run_ensemble(made(), 2, tmp_path / "y.nc", progress=False)


@pytest.mark.parametrize("size", [0, 5000])
def test_a_block_that_the_disk_has_damaged_is_run_again(whole, tmp_path, monkeypatch, size):
    path = tmp_path / "x.nc"

    def stopped(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("hygro.ensemble.store.Store.gather", stopped)
        with pytest.raises(KeyboardInterrupt):
            run_ensemble(made(), 4, path, block=2, progress=False)
    blocks = sorted((tmp_path / "x.nc.parts").glob("members-*.nc"))
    assert len(blocks) == 2
    os.truncate(blocks[1], size)
    same_bits(run_ensemble(made(), 4, path, block=2, progress=False), whole.isel(member=slice(4)))
    assert [one.name for one in tmp_path.iterdir()] == ["x.nc"]


@pytest.mark.parametrize("note", ["", '{"stu', "[]", '"study"', "{}"])
def test_a_note_that_cannot_be_read_is_of_no_study(tmp_path, note):
    (tmp_path / "x.nc.parts").mkdir()
    (tmp_path / "x.nc.parts" / "study.json").write_text(note)
    with pytest.raises(InputError, match=r"results of another study.*unknown"):
        run_ensemble(made(), 2, tmp_path / "x.nc", progress=False)


def test_files_that_are_no_ensemble_are_refused(tmp_path):
    (tmp_path / "x.nc").write_text("no")
    with pytest.raises(InputError, match="is not an ensemble saved as NetCDF"):
        run_ensemble(made(), 2, tmp_path / "x.nc", progress=False)
    with pytest.raises(InputError, match="is not an ensemble saved as NetCDF"):
        open_ensemble(tmp_path / "x.nc")
    with pytest.raises(InputError, match="There is no file"):
        open_ensemble(tmp_path / "y.nc")
    xr.Dataset({"a": 1}).to_netcdf(tmp_path / "z.nc", engine="h5netcdf")
    with pytest.raises(InputError, match="not an ensemble of this toolkit"):
        open_ensemble(tmp_path / "z.nc")
    assert callable(open_run)


def test_a_member_that_cannot_be_solved_is_counted_and_explained(tmp_path, monkeypatch):
    answer = simulation.Question.answer

    def sometimes(question, found):
        warmth, vapour = question.column.forcing[0, [IN_TEMPERATURE, IN_VAPOUR]]
        if vapour > 0.4 * saturation_pressure_water(warmth):
            msg = "Did not converge at noon."
            raise ConvergenceError(msg)
        return answer(question, found)

    monkeypatch.setattr(simulation.Question, "answer", sometimes)
    found = run_ensemble(made(), 4, tmp_path / "x.nc", block=2, progress=False)
    wrong = found["indoor_relative_humidity"].to_numpy() > 0.4
    assert wrong.sum() == 2
    assert (found["solved"].to_numpy() == ~wrong).all()
    assert np.isnan(found["wettest"].to_numpy()[wrong]).all()
    assert set(json.loads(found.attrs["failures"])) == {str(member) for member in np.flatnonzero(wrong)}
    chance = chance_of_passing(found)
    assert (chance.unsolved, chance.passing) == (2, int((found["wettest"].to_numpy() <= 20.0).sum()))
    assert "2 could not be solved and count as not passing" in str(chance)
