"""Contract: the page about the material library says what the library says."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

from hygro import materials

DOCS = Path(__file__).parents[2] / "docs"


def _maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_materials", DOCS / "make_materials.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_current() -> None:
    written = (DOCS / "materials.md").read_text(encoding="utf-8")
    assert written == _maker().page(), "run: python docs/make_materials.py"


def test_every_entry_and_every_source_is_on_the_page() -> None:
    page = _maker().page()
    for name in materials.names():
        assert f"\n| {name} |" in page
    for key in materials.sources():
        assert f"`{key}`" in page
