"""The command line: one whole run, and every wrong argument as one line and exit code 2."""

import logging
import os
import re
import subprocess
import sys
import warnings
from pathlib import Path

import pytest
import xarray as xr

import hygro.__main__ as command
from hygro.errors import HygroWarning, OutputError
from hygro.files import open_run

ROOT = Path(__file__).parents[2]
NETCDF = {"vented-tight.nc", "vented-leaky.nc", "unvented-tight.nc", "unvented-leaky.nc"}
FILES = NETCDF | {"air.png", "season.png", "depth-by-time.png", "gap-air.png", "report.html", "study.toml"}


def run_in(folder, *arguments):
    search = os.pathsep.join(part for part in (str(ROOT), os.environ.get("PYTHONPATH", "")) if part)
    return subprocess.run(
        [sys.executable, "-m", "hygro", *arguments],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": search},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    return folder, run_in(folder, "--years", "1")


def test_run_ends_well_and_says_where_its_results_are(finished):
    folder, result = finished
    assert result.returncode == 0, result.stderr
    assert {path.name for path in (folder / "hygro-results").iterdir()} == FILES
    assert "Written to hygro-results/" in result.stdout


def test_table_gives_every_roof_a_verdict_in_words(finished):
    _, result = finished
    for name in ("vented, tight", "vented, leaky", "unvented, tight", "unvented, leaky"):
        assert re.search(rf"^{name} +too short to tell +(fine|caution|fails) +\d+ %", result.stdout, re.M)
    words = " ".join(result.stdout.split())
    assert "Cautions:" in words
    assert "licensed professional" in words


def test_progress_goes_to_the_error_stream(finished):
    _, result = finished
    assert [line.strip()[:6] for line in result.stderr.splitlines() if " of 4: " in line] == [
        "1 of 4",
        "2 of 4",
        "3 of 4",
        "4 of 4",
    ]
    assert "Traceback" not in result.stderr


def test_runs_are_saved_whole(finished):
    folder, _ = finished
    run = open_run(folder / "hygro-results" / "unvented-leaky.nc")
    assert isinstance(run, xr.Dataset)
    assert run.sizes["time"] == 8784
    assert run.attrs["title"] == "unvented hut roof"


def test_page_stands_alone_and_names_what_was_assumed(finished):
    folder, _ = finished
    page = (folder / "hygro-results" / "report.html").read_text(encoding="utf-8")
    headings = re.findall(r"<h2[^>]*>(.*?)</h2>", page)
    assert headings[:3] == ["The question", "The answer in short", "The building"]
    assert {"What was assumed", "Results", "Verdicts", "Cautions"} <= set(headings)
    assert not re.search(r"src='(?!data:)", page)
    assert "<script" not in page
    assert page.count("<img ") == page.count(" alt='") == 6
    for words in ("q50", "standard curves", "70 %", "local codes", "Climate digest", "numba"):
        assert words in page


def test_what_was_run_can_be_run_again_as_a_file(finished):
    from hygro import demo
    from hygro.indoor import StandardCurves
    from hygro.studyfile import read_study

    folder, _ = finished
    assert read_study(folder / "hygro-results" / "study.toml") == demo.hut_study(StandardCurves(), years=1)


def test_next_run_takes_the_next_free_folder(finished, monkeypatch):
    folder, _ = finished
    monkeypatch.chdir(folder)
    from hygro.folder import results_folder

    with results_folder(None, "hygro-results", ("a.txt",), replace=False) as part:
        (part / "a.txt").write_text("whole")
    assert (folder / "hygro-results-2" / "a.txt").read_text() == "whole"
    assert {path.name for path in (folder / "hygro-results").iterdir()} == FILES


def test_nothing_is_overwritten_unasked(finished, capsys):
    folder, _ = finished
    target = folder / "hygro-results"
    before = (target / "report.html").stat().st_mtime_ns
    assert command.main(["--output", str(target)]) == 2
    assert "exists already" in one_line(capsys)
    assert (target / "report.html").stat().st_mtime_ns == before


def test_replacing_leaves_strange_files_alone(tmp_path):
    from hygro.folder import results_folder

    (tmp_path / "a.txt").write_text("old")
    (tmp_path / "mine.txt").write_text("mine")
    with results_folder(tmp_path, "x", ("a.txt",), replace=True) as part:
        (part / "a.txt").write_text("new")
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"a.txt": "new", "mine.txt": "mine"}


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError(28, "No space left on device")])
def test_a_run_that_is_cut_short_leaves_nothing(tmp_path, stop):
    from hygro.folder import results_folder

    wanted = KeyboardInterrupt if stop is KeyboardInterrupt else OutputError

    def cut_short():
        with results_folder(tmp_path / "new", "x", ("a.txt",), replace=False) as part:
            (part / "a.txt").write_text("half")
            raise stop

    with pytest.raises(wanted):
        cut_short()
    assert list(tmp_path.iterdir()) == []


def test_interruption_is_said_in_one_line(tmp_path, monkeypatch, capsys):
    def stopped(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("hygro.studyfile.study.compare", stopped)
    assert command.main(["--output", str(tmp_path / "new")]) == 130
    assert "interrupted; nothing was written." in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def one_line(capsys):
    shown = capsys.readouterr()
    assert shown.out == ""
    assert len(shown.err.splitlines()) == 1
    assert "Traceback" not in shown.err
    return shown.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--climate", "atlantis"], "neither a file nor a sample. Samples: hut_valley, wet_coast, subarctic"),
        (["--years", "0"], "'0' is not a whole number of years from 1 to 20"),
        (["--years", "two"], "'two' is not a whole number of years"),
        (["--years", "1000000"], "from 1 to 20"),
        (["--start", "30 February"], "the period's start is '30 February'"),
        (["--indoor-humidity", "45"], "a text without a unit"),
        (["--indoor-humidity", "damp"], "write 'normal', 'high' or a percentage"),
        (["--indoor-humidity", "nan"], "write 'normal', 'high' or a percentage"),
        (["--colour", "red"], "Unrecognized arguments: --colour"),
        (["--climate"], "Argument --climate: expected one argument"),
    ],
)
def test_wrong_arguments_give_one_line_and_code_2(arguments, words, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert command.main(arguments) == 2
    assert words in one_line(capsys)
    assert list(tmp_path.iterdir()) == []


SMALL = """\
title = "A board"
watch = ["board"]
start = "1 October"
years = 1
indoor = { kind = "constant", temperature = 20, relative_humidity = "50 %" }

[climate]
file = "mine.csv"

[assembly.board]
tilt = 90
azimuth = 180
finish = "new wood"
parts = [{ layer = "OSB", thickness = "18 mm", name = "board" }]

[[variant]]
name = "only"
assembly = "board"
"""


@pytest.fixture
def small(tmp_path, monkeypatch):
    from hygro.climate import sample_climate, write_climate

    monkeypatch.chdir(tmp_path)
    write_climate(sample_climate("hut_valley"), tmp_path / "mine.csv")
    (tmp_path / "board.toml").write_text(SMALL)
    return tmp_path


def test_a_study_file_runs_with_the_weather_beside_it(small, capsys):
    assert command.main(["board.toml"]) == 0
    target = small / "board-results"
    assert {path.name for path in target.iterdir()} == {
        "air.png", "season.png", "depth-by-time.png", "only.nc", "report.html", "study.toml",
    }  # fmt: skip
    assert 'file = "../mine.csv"' in (target / "study.toml").read_text()
    shown = capsys.readouterr().out
    assert "A board" in shown
    assert "Written to board-results/: report.html" in shown
    assert command.main(["board.toml", "-o", "board-results"]) == 2
    assert "exists already" in capsys.readouterr().err
    assert command.main([str(target / "study.toml"), "-o", "again"]) == 0
    assert open_run(small / "again" / "only.nc").identical(open_run(target / "only.nc"))


@pytest.mark.parametrize("cut", [False, True])
def test_a_weather_file_that_is_too_short_leaves_nothing(small, capsys, cut):
    from hygro.climate import Climate, sample_climate, write_climate

    if cut:
        lines = (small / "mine.csv").read_text().splitlines(keepends=True)
        (small / "mine.csv").write_text("".join(lines[:3000]))
    else:
        write_climate(
            Climate(sample_climate("hut_valley").data.isel(time=slice(0, 3000))), small / "mine.csv", replace=True
        )
    assert command.main(["board.toml", "-o", "out"]) == 2
    said = one_line(capsys)
    assert "board.toml, climate: " in said
    assert ("cut short" if cut else "less than a year") in said
    assert not (small / "out").exists()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("years = 1", "yeers = 1", "board.toml, line 4, yeers: there is no such key here. Did you mean 'years'?"),
        ('thickness = "18 mm"', 'thickness = "18 kg"', "board.toml, line 14, assembly, board, parts 1, thickness: "),
        ('"1 October"', '"31 February"', "board.toml, climate: "),
        ('name = "board" }', 'name = "<script>" }', "watch names 'board', which is a layer of no variant"),
    ],
)
def test_a_wrong_study_file_gives_one_line_and_nothing_on_disk(small, capsys, old, new, words):
    assert SMALL.count(old) == 1
    (small / "board.toml").write_text(SMALL.replace(old, new))
    assert command.main(["board.toml", "-o", "out"]) == 2
    assert words in one_line(capsys)
    assert {path.name for path in small.iterdir()} == {"mine.csv", "board.toml"}


def test_a_study_that_fails_on_the_way_leaves_nothing(small, capsys, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("hygro.report.report_html", full)
    assert command.main(["board.toml", "-o", "out"]) == 2
    assert "No space left on device" in capsys.readouterr().err
    assert not (small / "out").exists()


def test_what_a_study_file_states_is_not_stated_twice(small, capsys):
    assert command.main(["board.toml", "--years", "3"]) == 2
    assert "--years is for the demo; with a study file, state it in board.toml" in one_line(capsys)


@pytest.mark.parametrize(("name", "words"), [("none.toml", "cannot be read"), (".", "cannot be read")])
def test_a_study_file_that_is_not_there_gives_one_line(small, capsys, name, words):
    assert command.main([name]) == 2
    assert words in one_line(capsys)


def test_an_example_is_copied_once(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert command.main(["--example", "roof"]) == 0
    assert "python -m hygro roof.toml -o roof" in capsys.readouterr().out
    (tmp_path / "roof.toml").write_text("mine")
    assert command.main(["--example", "roof"]) == 2
    assert "exists already" in one_line(capsys)
    assert (tmp_path / "roof.toml").read_text() == "mine"
    assert command.main(["--example", "rof"]) == 2
    assert "There is no example 'rof'. Examples: floor-and-wall, roof." in one_line(capsys)
    assert command.main(["roof.toml", "--example", "roof"]) == 2
    assert "leave 'roof.toml' out" in one_line(capsys)
    assert [path.name for path in tmp_path.iterdir()] == ["roof.toml"]


def test_a_file_that_is_no_weather_gives_one_line(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "poem.csv").write_text("roses are red\nviolets are blue\n")
    assert command.main(["--climate", "poem.csv"]) == 2
    assert "poem.csv" in one_line(capsys)


def test_a_folder_that_cannot_be_made_gives_one_line(tmp_path, capsys):
    (tmp_path / "file").write_text("in the way")
    assert command.main(["--output", str(tmp_path / "file" / "results")]) == 2
    assert "cannot be written" in one_line(capsys)
    assert command.main(["--output", str(tmp_path / "file")]) == 2
    assert "a file of that name exists" in one_line(capsys)


def test_wrong_arguments_leave_the_process_with_code_2(tmp_path):
    result = run_in(tmp_path, "--years", "none")
    assert (result.returncode, result.stdout) == (2, "")
    assert len(result.stderr.splitlines()) == 1


def test_help_explains(capsys):
    with pytest.raises(SystemExit) as left:
        command.main(["--help"])
    assert left.value.code == 0
    text = capsys.readouterr().out
    for words in ("--climate", "--indoor-humidity", "--start", "--years", "--output", "--replace", "Examples:"):
        assert words in text


def test_package_and_help_load_nothing_heavy():
    code = (
        "import sys, hygro, hygro.__main__ as command; command.parser(); "
        "print(sorted({'numpy', 'pandas', 'xarray', 'matplotlib', 'numba', 'pvlib'} & set(sys.modules)))"
    )
    search = os.pathsep.join(part for part in (str(ROOT), os.environ.get("PYTHONPATH", "")) if part)
    shown = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | {"PYTHONPATH": search},
        capture_output=True,
        text=True,
        check=True,
    )
    assert shown.stdout.strip() == "[]"


def test_what_the_package_says_on_the_way_is_shown_once_and_plainly(capsys):
    with command._messages():
        for _ in range(2):
            logging.getLogger("hygro").warning("Compiling the solver for this machine: about half a minute, once.")
        warnings.warn(HygroWarning("two hours of wind were\nfilled"), stacklevel=1)
    assert capsys.readouterr().err.splitlines() == [
        "Compiling the solver for this machine: about half a minute, once.",
        "Note: two hours of wind were filled",
    ]
    assert logging.getLogger("hygro").handlers == []
