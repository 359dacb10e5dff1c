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
FILES = NETCDF | {"season.png", "depth-by-time.png", "gap-air.png", "summary.html"}


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
    page = (folder / "hygro-results" / "summary.html").read_text(encoding="utf-8")
    headings = re.findall(r"<h2>(.*?)</h2>", page)
    assert headings[:2] == ["The question", "The building"]
    assert {"What was assumed", "Results", "Verdicts", "Cautions"} <= set(headings)
    assert not re.search(r"(?:src|href)='(?!data:)", page)
    assert "<script" not in page
    assert page.count("<img ") == page.count("alt='") == 5
    for words in ("q50", "StandardCurves", "70 %", "local codes", "Climate digest", "numba"):
        assert words in page


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
    before = (target / "summary.html").stat().st_mtime_ns
    assert command.main(["--output", str(target)]) == 2
    assert "exists already" in one_line(capsys)
    assert (target / "summary.html").stat().st_mtime_ns == before


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

    monkeypatch.setattr("hygro.study.compare", stopped)
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
        (["--colour", "red"], "Unrecognized arguments: --colour red"),
        (["--climate"], "Argument --climate: expected one argument"),
    ],
)
def test_wrong_arguments_give_one_line_and_code_2(arguments, words, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert command.main(arguments) == 2
    assert words in one_line(capsys)
    assert list(tmp_path.iterdir()) == []


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
            logging.getLogger("hygro").warning("Compiling the solver for this machine: a minute or two, once.")
        warnings.warn(HygroWarning("two hours of wind were\nfilled"), stacklevel=1)
    assert capsys.readouterr().err.splitlines() == [
        "Compiling the solver for this machine: a minute or two, once.",
        "Note: two hours of wind were filled",
    ]
    assert logging.getLogger("hygro").handlers == []
