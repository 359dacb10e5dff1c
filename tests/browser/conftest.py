"""A real browser, shared by all browser tests, which are skipped where it lacks."""

from __future__ import annotations

import shutil

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@pytest.fixture(scope="session")
def browser():
    """Headless Chromium of the system."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="no playwright: pip install -e '.[test]'")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this computer: install it, on Debian with apt-get install chromium")
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield opened
        opened.close()
