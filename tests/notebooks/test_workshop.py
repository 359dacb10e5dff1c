"""Workshop notebooks: an empty blank is a sentence, solutions differ by their blanks alone.

That solutions reach their aims is tested where they are run (`notebooks/conftest.py`).
"""

import re
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

from hygro.errors import InputError
from hygro.workshop import explain, fail_kindly, tell

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "notebooks" / "workshop"
NAMES = ["1-roof", "2-leaks", "3-floor"]
BLANK = re.compile(r"^.*\.\.\..*# blank (\w): (.+)$", re.MULTILINE)
FILLED = re.compile(r"^.*# blank (\w): (.+)$", re.MULTILINE)

by_name = pytest.mark.parametrize("name", NAMES)


def read(path):
    return nbformat.read(path, as_version=4)


def run(book):
    client = NotebookClient(
        book, timeout=300, kernel_name="python3", allow_errors=True, resources={"metadata": {"path": str(ROOT)}}
    )
    client.execute()
    return book


def said(cell):
    return "".join(one.text for one in cell.get("outputs", []) if one.output_type == "stream" and one.name == "stdout")


def errors(book):
    return [one for cell in book.cells for one in cell.get("outputs", []) if one.output_type == "error"]


@pytest.fixture(autouse=True)
def tree_on_path(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", str(ROOT))


def test_there_are_a_notebook_and_a_solution_of_each():
    assert sorted(path.stem for path in FOLDER.glob("*.ipynb")) == NAMES
    assert sorted(path.stem for path in (FOLDER / "solutions").glob("*.ipynb")) == NAMES


@by_name
def test_solution_differs_by_its_filled_blanks_alone(name):
    empty, solved = read(FOLDER / f"{name}.ipynb"), read(FOLDER / "solutions" / f"{name}.ipynb")
    assert [cell.id for cell in empty.cells] == [cell.id for cell in solved.cells]
    blanks = []
    for mine, other in zip(empty.cells, solved.cells, strict=True):
        assert BLANK.sub(r"\1 \2", mine.source) == FILLED.sub(r"\1 \2", other.source)
        blanks += BLANK.findall(mine.source)
        assert not BLANK.search(other.source)
        assert mine.get("outputs", []) == other.get("outputs", []) == []
    assert blanks
    assert {letter for letter, _ in blanks} <= set("ABCDEFG")


def test_blanks_left_empty_and_slips_are_sentences():
    # The cells that take no run, so that this is quick; every blank of the three notebooks is tried.
    cells = [cell for name in NAMES for cell in read(FOLDER / f"{name}.ipynb").cells]
    start = [cell for cell in cells if cell.id == "imports"][-1]
    pairs = nbformat.v4.new_code_cell('pairs = {"sealed": ("bitumen sheet 3 mm", "polyethylene 0.15 mm")}')
    empty = [cell for cell in cells if cell.id.startswith("blank-") and cell.cell_type == "code"]
    own = [cell for cell in cells if cell.id == "own-code"]
    slips = {
        'hygro.Layer("playwood", "18 mm")': "Not quite: No material 'playwood'",
        "plots.season_figure(study_z)": "'study_z' is not there yet. Run the cells above first",
        'print("unfinished)': "Python cannot read this cell",
        "demo.hut_roof(True": "Python cannot read this cell",
        "    1 +\n  2": "Python cannot read this cell",
        "1 / 0": "This did not work (ZeroDivisionError",
    }
    tried = [nbformat.v4.new_code_cell(source) for source in slips]
    book = run(nbformat.v4.new_notebook(cells=[start, pairs, *empty, *own, *tried]))
    assert errors(book) == []
    assert len(empty) == 6
    for cell in empty + own:
        letter, what = BLANK.findall(cell.source)[0]
        assert said(cell).startswith(f"Still empty: blank {letter} ({what})."), (cell.source, cell.outputs)
    for cell, sentence in zip(tried, slips.values(), strict=True):
        assert said(cell).startswith(sentence), (cell.source, cell.outputs)


def test_a_value_that_cannot_be_is_told_in_its_own_words():
    assert explain(InputError("Gap is 9 m;\nwrite 9 mm."), "x = 9") == "Not quite: Gap is 9 m; write 9 mm."
    assert explain(KeyboardInterrupt(), "x").startswith("Stopped.")


def test_kindness_is_for_notebooks():
    with pytest.raises(InputError, match="in a notebook only"):
        fail_kindly()


def test_tell_says_one_or_the_other(capsys):
    tell(True, "Well.", "No.")
    tell(False, "Well.", "No.")
    assert capsys.readouterr().out == "Yes. Well.\nNot yet. No.\n"
