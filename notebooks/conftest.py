"""Notebooks as tests: nbval runs the cells of `notebooks/` in a fresh kernel, in their own folder, as a reader does.

Any cell that raises fails, those that assert the numbers of the prose among them. When the last cell has run, what the
notebook has shown and the time that it took are looked at here.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from nbval.plugin import IPyNbCell

FOLDER = Path(__file__).parent
ROOT = FOLDER.parent
LONGEST = 60.0  # [s] of a processor, which does not depend on what else the machine does


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item):
    """The kernel, which starts before the first cell, finds the package of this tree, installed or not."""
    with pytest.MonkeyPatch.context() as patch:
        if isinstance(item, IPyNbCell):
            patch.setenv("PYTHONPATH", str(ROOT), prepend=os.pathsep)
        return (yield)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item):
    """After the last cell: was all shown, and soon enough."""
    result = yield
    if isinstance(item, IPyNbCell):
        ran = item.parent.__dict__.setdefault("ran", {})
        ran[item.cell.id] = item.test_outputs
        if list(ran) == [cell.id for cell in item.parent.nb.cells if cell.cell_type == "code"]:
            spent = _seconds(item.parent.kernel)
            assert spent < LONGEST, f"{item.path.name} takes {spent:.0f} s of a processor"
            _look_at(item.path, ran)
    return result


def _seconds(kernel):
    """Time that a kernel has used, all threads together."""
    request = kernel.execute_cell_input("print(__import__('time').process_time())", allow_stdin=False)
    kernel.await_reply(request, timeout=30)
    while True:
        message = kernel.get_message("iopub", timeout=30)
        if message["parent_header"].get("msg_id") == request and message["msg_type"] == "stream":
            return float(message["content"]["text"])


def _said(outputs):
    return "".join(one.text for one in outputs if one.output_type == "stream" and one.name == "stdout")


def _look_at(path, ran):
    """What a notebook must have shown in the end."""
    shown = {kind for outputs in ran.values() for one in outputs for kind in one.get("data", {})}
    if path.parent == FOLDER:
        assert "image/png" in shown
    if path.stem == "01-vented-or-unvented":
        assert "application/vnd.jupyter.widget-view+json" in shown
        assert any("unvented, leaky - 'deck': " in _said(outputs) for outputs in ran.values())
    if path.parent.name == "solutions":
        aims = [_said(outputs) for name, outputs in ran.items() if name.startswith("check-")]
        assert aims
        assert all(text.startswith("Yes. ") for text in aims), aims
