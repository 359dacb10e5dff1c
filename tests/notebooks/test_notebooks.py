"""Notebooks: their form. That they run from top to bottom is tested by themselves (`notebooks/conftest.py`)."""

import re
from pathlib import Path

import nbformat
import pytest

ROOT = Path(__file__).parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
HEADINGS = [
    "The question",
    "The building",
    "The weather",
    "Run",
    "What it says",
    "What if",
    "Cautions",
    "Exercises",
]

by_name = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def read(path):
    return nbformat.read(path, as_version=4)


def test_there_are_notebooks():
    assert [path.stem for path in NOTEBOOKS] == [
        "01-vented-or-unvented",
        "02-how-much-air-does-a-gap-move",
        "03-retarders-and-leaks",
        "04-walls-behind-ventilated-cladding",
        "05-floors-that-cannot-dry",
        "06-air-inside-a-tight-box",
        "07-how-sure-am-i",
        "08-is-the-solver-right",
    ]


@by_name
def test_is_committed_without_outputs_counts_or_metadata(path):
    book = read(path)
    nbformat.validate(book)
    assert book.metadata.pop("kernelspec") == {"name": "python3", "display_name": "Python 3", "language": "python"}
    assert book.metadata == {"language_info": {"name": "python"}}
    for cell in book.cells:
        assert set(cell.metadata) <= {"tags"}
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None


@by_name
def test_cells_have_ids_that_say_what_they_are(path):
    names = [cell.id for cell in read(path).cells]
    assert len(set(names)) == len(names)
    assert all(name.replace("-", "").isalpha() for name in names)


@by_name
def test_headings_come_in_order(path):
    lines = [line for cell in read(path).cells if cell.cell_type == "markdown" for line in cell.source.splitlines()]
    assert [line[3:] for line in lines if line.startswith("## ")] == HEADINGS


@by_name
def test_cells_are_short_and_define_nothing(path):
    for cell in read(path).cells:
        if cell.cell_type == "code":
            assert len(cell.source.splitlines()) <= 10
            assert "def " not in cell.source
            assert "matplotlib" not in cell.source


@by_name
def test_numbers_in_the_prose_are_asserted(path):
    checks = [cell.source for cell in read(path).cells if "check" in cell.metadata.get("tags", [])]
    assert checks
    assert all("assert" in source for source in checks)


@by_name
def test_cautions_defer_to_those_who_decide(path):
    cautions = next(cell.source for cell in read(path).cells if cell.id == "cautions")
    assert re.search(r"[Ll]ocal codes", cautions)
