"""Contract: the commands and the Python blocks of the documents are ones that work."""

from __future__ import annotations

import importlib.util
import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

from hygro.__main__ import parser

ROOT = Path(__file__).parents[2]
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
FENCE = re.compile(r"^```([^\n]*)\n(.*?)^```", re.MULTILINE | re.DOTALL)
PYTHON = re.compile(r"^```python\n(.*?)^```", re.MULTILINE | re.DOTALL)


def _script(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / ".ci" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


quick_start = _script("quick_start")


def test_quick_start_is_two_lines_that_install_show_and_test() -> None:
    install, check = quick_start.lines((ROOT / "README.md").read_text(encoding="utf-8"))
    assert "venv" in install
    assert "-m hygro" in install
    assert "[test]" in check
    assert "pytest" in check


def test_the_whole_page_has_no_other_sh_block() -> None:
    blocks = [
        body.strip() for info, body in FENCE.findall((ROOT / "README.md").read_text(encoding="utf-8")) if info == "sh"
    ]
    assert blocks == quick_start.lines((ROOT / "README.md").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "text",
    [
        "# Tool\n```sh\na\n```\n```sh\nb\n```\n",
        "# Tool\n## Quick start\n```sh\na\n```\n",
        "# Tool\n## Quick start\n```sh\na\nb\n```\n```sh\nc\n```\n",
        "# Tool\n## Quick start\n```sh\na\n```\n## Next\n```sh\nb\n```\n",
    ],
)
def test_a_quick_start_of_another_form_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="Quick start"):
        quick_start.lines(text)


def test_a_quick_start_is_read_as_it_stands() -> None:
    first, second = "```sh\nmake it && run it\n```\n", "```sh\ntest it\n```\n"
    text = f"# Tool\n\n## Quick start\nWords.\n{first}and\n{second}## Next\n```sh\nx\n```\n"
    assert quick_start.lines(text) == ["make it && run it", "test it"]


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_python_blocks_of_a_document_run_one_after_the_other(document: Path, tmp_path: Path) -> None:
    blocks = PYTHON.findall(document.read_text(encoding="utf-8"))
    if not blocks:
        return  # a document of words
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "MPLBACKEND": "Agg"}
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", "\n".join(blocks)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        env=environment,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_links_within_the_tree_lead_somewhere(document: Path) -> None:
    text = re.sub(r"```.*?```|`[^`]*`", "", document.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", text):
        if not target.startswith(("http:", "https:", "mailto:")):
            assert (document.parent / target).exists(), f"{document.name} links to {target}, which is not there"


# A command of a document is a module that is there or a script of the tree. The quick start, the linters, the wheel and
# the site are run in .ci/run; the check of the set-up and the command line in their own tests.
MODULE = re.compile(r"(?:PY|python3?|py) -m (\w+)(.*)")
SCRIPT = re.compile(r"(?:(?:PY|python3?|py) )?((?:docs/\w+\.py)|(?:\.ci/run))(?: .*)?")


def _commands(document: Path) -> list[str]:
    text = document.read_text(encoding="utf-8")
    bodies = [body for kind, body in FENCE.findall(text) if kind in ("sh", "console", "powershell")]
    lines = [line for body in bodies for line in body.splitlines()]
    parts = [part.strip() for line in lines for part in re.split(r"&&|;", line)]
    return [re.sub(r"^\.venv(/bin/|\\Scripts\\)python", "PY", part) for part in parts if part]


def _packages_of_extras() -> set[str]:
    """What the extras install beside the package; the tests run without most of them."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    stated = [one for extra in project["optional-dependencies"].values() for one in extra]
    return {re.split(r"[<>=\[ ]", one)[0] for one in stated}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_commands_of_a_document_name_what_is_there(document: Path) -> None:
    for command in _commands(document):
        module, script = MODULE.fullmatch(command), SCRIPT.fullmatch(command)
        assert module or script, f"{document.name}: {command!r} is neither a module nor a script of the tree"
        if script:
            assert (ROOT / script.group(1)).exists(), command
        elif module.group(1) == "hygro" and module.group(2) != " check":
            parser().parse_args(shlex.split(module.group(2)))
        else:
            name = module.group(1)
            assert importlib.util.find_spec(name) is not None or name in _packages_of_extras(), command


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_every_block_of_a_document_is_of_a_kind_that_is_tested_or_plain(document: Path) -> None:
    kinds = {kind for kind, _ in FENCE.findall(document.read_text(encoding="utf-8"))}
    assert kinds <= {"python", "sh", "console", "powershell", "", "{toctree}", "toml"}
