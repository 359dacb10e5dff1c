"""Runs on disk: back as they were, whole or not at all, refused in words; verdicts survive the way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import hygro
from hygro import Layer, Sheet
from hygro.criteria import layer_verdicts
from hygro.errors import InputError, OutputError
from hygro.indoor import ConstantIndoor
from hygro.materials import Material


@pytest.fixture(scope="module")
def run(bench):
    board = Material(
        "board", density=500, specific_heat=1600, conductivity=0.13, vapour_resistance=50,
        sorption=[(0.5, 40), (0.8, 80), (1.0, 150)], saturation=600, mould_sensitivity="sensitive",
    )  # fmt: skip
    wool = Material(
        "wool", density=40, specific_heat=1030, conductivity=0.036, vapour_resistance=1.5, sorption=lambda u: 0.8 * u,
        saturation=900,
    )  # fmt: skip
    return bench.simulate(
        bench.build(Layer(board, 0.018), Layer(wool, 0.1), Sheet("retarder", s_d=0.5)),
        hygro.constant_climate(-5.0, 0.9, hours=24 * 60, start="2023-12-01"), ConstantIndoor(20.0, 0.6),
    )  # fmt: skip


def test_round_trip_keeps_every_bit(run, tmp_path):
    path = hygro.save_run(run, tmp_path / "run.nc")
    back = hygro.open_run(path)
    assert set(back.data_vars) == set(run.data_vars)
    assert set(back.coords) == set(run.coords)
    for name in [*run.data_vars, *run.coords]:
        if run[name].dtype.kind == "f":
            assert back[name].to_numpy().tobytes() == run[name].to_numpy().tobytes(), name
        else:
            assert (back[name].to_numpy() == run[name].to_numpy()).all(), name
        assert back[name].attrs == {k: v for k, v in run[name].attrs.items() if k not in ("units", "calendar")} or (
            back[name].attrs == run[name].attrs
        )
    assert {k: str(v) for k, v in back.attrs.items()} == {k: str(v) for k, v in run.attrs.items()}


def test_round_trip_gives_the_same_verdicts(run, tmp_path):
    back = hygro.open_run(hygro.save_run(run, tmp_path / "run.nc"))
    there, again = layer_verdicts(run), layer_verdicts(back)
    assert len(there) == 2
    assert [str(v) for v in there] == [str(v) for v in again]
    assert there == again


def test_an_existing_file_is_kept_unless_told(run, tmp_path):
    path = tmp_path / "run.nc"
    path.write_text("precious")
    with pytest.raises(OutputError, match=r"exists already. Choose another name, or say replace=True"):
        hygro.save_run(run, path)
    assert path.read_text() == "precious"
    hygro.save_run(run, path, replace=True)
    assert "temperature" in hygro.open_run(path)


def test_unwritable_places_are_named(run, tmp_path):
    with pytest.raises(OutputError, match=r"could not be written: .*Choose a folder you may write to"):
        hygro.save_run(run, tmp_path / "no such folder" / "run.nc")
    folder = tmp_path / "folder.nc"
    folder.mkdir()
    with pytest.raises(OutputError):
        hygro.save_run(run, folder, replace=True)
    assert list(tmp_path.iterdir()) == [folder]


@pytest.mark.parametrize("what", [OSError(28, "No space left on device"), KeyboardInterrupt(), ValueError("bad")])
def test_an_interrupted_write_leaves_nothing_behind(run, tmp_path, monkeypatch, what):
    """Neither a half file under the name, nor a part beside it, and an older file stays."""
    path = tmp_path / "run.nc"
    hygro.save_run(run, path)
    before = path.read_bytes()

    def broken(self, target, **others):
        with Path(target).open("wb") as handle:
            handle.write(b"half")
        raise what

    monkeypatch.setattr(xr.Dataset, "to_netcdf", broken)
    expected = OutputError if isinstance(what, OSError) else type(what)
    with pytest.raises(expected) as caught:
        hygro.save_run(run, path, replace=True)
    if isinstance(what, OSError):
        assert "No space left on device" in str(caught.value)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_only_runs_are_saved(tmp_path):
    with pytest.raises(InputError, match=r"Only a run \(an xarray.Dataset\) can be saved, not dict"):
        hygro.save_run({}, tmp_path / "run.nc")


def test_what_is_not_a_run_is_not_opened(tmp_path):
    with pytest.raises(InputError, match=r"There is no file .*Check the name and the folder"):
        hygro.open_run(tmp_path / "missing.nc")
    with pytest.raises(InputError, match="There is no file"):
        hygro.open_run(tmp_path)
    text = tmp_path / "text.nc"
    text.write_text("not a run")
    with pytest.raises(InputError, match=r"is not a run saved as NetCDF .*Save runs with save_run\(run, path\)"):
        hygro.open_run(text)
    other = tmp_path / "other.nc"
    xr.Dataset({"a": ("x", np.arange(3.0))}).to_netcdf(other, engine="h5netcdf")
    with pytest.raises(InputError, match="is a NetCDF file but not a run of this toolkit"):
        hygro.open_run(other)


def test_a_truncated_file_is_refused(run, tmp_path):
    path = hygro.save_run(run, tmp_path / "run.nc")
    path.write_bytes(path.read_bytes()[:5000])
    with pytest.raises(InputError, match="is not a run saved as NetCDF"):
        hygro.open_run(path)
