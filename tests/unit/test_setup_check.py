"""The set-up check: each thing that can be missing gets a sentence and a remedy, and the exit code says so."""

from importlib import metadata
from types import SimpleNamespace

import pytest

import hygro.__main__ as command
from hygro import setup_check
from hygro.setup_check import Finding, package, python_version, report, requirements, trial_run


def test_this_computer_is_ready(capsys):
    for name in ("jupyterlab", "voila"):
        pytest.importorskip(name, reason="the tests run without the notebooks: pip install -e '.[lab]'")
    assert command.main(["check"]) == 0
    said = capsys.readouterr().out
    assert "MISSING" not in said
    assert "ok       numba: " in said
    assert "a year of the demo's roof in" in said
    assert said.endswith("All is there. Start the notebooks with: python -m jupyterlab notebooks\n")


def test_requirements_are_those_of_the_project():
    needed, notebooks = dict(requirements()), dict(requirements("lab"))
    assert {"numpy", "numba", "pvlib", "ipywidgets"} <= set(needed)
    assert set(notebooks) == {"jupyterlab", "voila", "ipykernel"}
    assert all(version[0].isdigit() and version != "0" for version in (needed | notebooks).values())


def test_requirements_of_an_installed_package_are_read_from_its_metadata(monkeypatch):
    lines = ["numpy>=1.26", "h5py[x]>=3.10", 'jupyterlab>=4.2; extra == "lab"', "pytest>=8.2; extra == 'test'"]
    monkeypatch.setattr(setup_check, "__file__", "/nowhere/hygro/setup_check.py")
    monkeypatch.setattr(metadata, "requires", {"hygro": lines}.get)
    assert requirements() == (("numpy", "1.26"), ("h5py", "3.10"))
    assert requirements("lab") == (("jupyterlab", "4.2"),)


def test_an_old_python_is_told_what_to_do():
    assert python_version((3, 11, 0)).is_good
    assert python_version((4, 0, 0)).is_good
    old = python_version((3, 10, 12))
    assert not old.is_good
    assert "3.10.12 is too old; 3.11 or later" in old.words
    assert old.remedy.startswith("Install Python 3.11")


def test_a_package_that_is_not_there_comes_with_its_command():
    found = package("no-such-package-of-anybody", "1.2")
    assert found == Finding(
        "no-such-package-of-anybody",
        False,
        "is not installed.",
        'python -m pip install "no-such-package-of-anybody>=1.2"',
    )


def test_a_package_that_is_too_old_is_told_from_one_that_is_not():
    assert package("numpy", "1.9").is_good
    found = package("numpy", "99.0")
    assert not found.is_good
    assert "is too old; 99.0 or later is needed" in found.words


@pytest.mark.parametrize("error", [ImportError("no library"), OSError("bad image"), RuntimeError("two\nlines")])
def test_a_package_that_breaks_when_loaded_is_a_sentence(monkeypatch, error):
    def broken(name):
        raise error

    monkeypatch.setattr(setup_check.importlib, "import_module", broken)
    found = package("numpy", "1.0")
    assert not found.is_good
    assert "cannot be loaded" in found.words
    assert "--force-reinstall numpy" in found.remedy


def test_the_check_goes_on_after_a_missing_package_and_ends_with_one(monkeypatch):
    def one(name, oldest):
        return Finding(name, name != "scipy", "is not installed.", "install it")

    monkeypatch.setattr(setup_check, "package", one)
    said = []
    assert setup_check.main(said.append) == 1
    text = "".join(said)
    assert "MISSING  scipy: is not installed." in text
    assert "ok       jupyterlab" in text
    assert "MISSING  trial run: not tried" in text
    assert "2 thing(s) to put right:" in text
    assert '--no-index --find-links wheels "hygro[lab]"' in text
    assert "Traceback" not in text


def test_missing_notebooks_do_not_stop_the_trial_run(monkeypatch):
    def one(name, oldest):
        return Finding(name, name != "jupyterlab", "is not installed.", "install it")

    monkeypatch.setattr(setup_check, "package", one)
    monkeypatch.setattr(setup_check, "trial_run", _trial)
    said = []
    assert setup_check.main(said.append) == 1
    assert "ok       trial run: fast" in "".join(said)


def _trial():
    return Finding("trial run", True, "fast")


def test_a_cache_that_cannot_be_written_is_said(monkeypatch):
    from hygro.core import _jit

    monkeypatch.setattr(_jit, "CACHE_FOLDER", None)
    found = setup_check.compiler_cache()
    assert not found.is_good
    assert "HYGRO_CACHE_DIR" in found.remedy


def test_a_run_that_does_not_close_its_books_is_not_good(monkeypatch):
    import hygro

    def simulate(*arguments, **options):
        return SimpleNamespace(attrs={"audit_water": 1e-3, "audit_energy": 0.0})

    monkeypatch.setattr(hygro, "simulate", simulate)
    assert not trial_run().is_good


def test_a_run_that_breaks_is_a_sentence(monkeypatch):
    import hygro

    def broken(*arguments, **options):
        msg = "it\nbroke"
        raise RuntimeError(msg)

    monkeypatch.setattr(hygro, "simulate", broken)
    found = setup_check._safely(trial_run)
    assert found.what == "trial run"
    assert found.words == "stopped with RuntimeError: it broke"


def test_a_report_names_each_thing_once_with_its_remedy():
    text = report([Finding("Python", True, "3.12"), Finding("numba", False, "is not installed.", "install it")])
    assert text.startswith("1 thing(s) to put right:\n  - numba: is not installed.\n      install it")
    assert 'python -m pip install "hygro[lab]"' in text
