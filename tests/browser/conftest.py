"""A real browser, and servers that show a notebook; the tests that need one are skipped where it is missing."""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
SIZE = {"width": 1366, "height": 768}  # a small laptop


@pytest.fixture(scope="package")
def browser():
    """Headless Chromium of the system."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="no playwright: pip install -e '.[browser]'")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this computer: install it, on Debian with apt-get install chromium")
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield opened
        opened.close()


@pytest.fixture(scope="package")
def new_page(browser):
    """Makes empty pages of a laptop's size; what goes wrong in a page's scripts is kept in its ``errors``."""

    def make():
        opened = browser.new_context(viewport=SIZE, accept_downloads=True).new_page()
        opened.errors = []
        opened.on("pageerror", lambda error: opened.errors.append(str(error)))
        return opened

    return make


@pytest.fixture
def page(new_page):
    """An empty page."""
    opened = new_page()
    yield opened
    opened.context.close()


ARGUMENTS = {
    "voila": ("voila", "what-if.ipynb", "--no-browser", "--port={port}", "--show_tracebacks=True"),
    "jupyterlab": ("jupyterlab", "--LabApp.expose_app_in_browser=True"),
    "notebook": ("notebook", "--JupyterNotebookApp.expose_app_in_browser=True"),
}
COMMON = (
    "--no-browser", "--allow-root", "--port={port}", "--ServerApp.port_retries=0", "--IdentityProvider.token=",
    "--ServerApp.root_dir={folder}", "--LabApp.news_url=None",
)  # fmt: skip


class Server:
    """A notebook server on this computer, in a folder of its own."""

    def __init__(self, kind: str, folder: Path) -> None:
        self.kind, self.folder = kind, folder
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        shutil.copy(ROOT / "notebooks" / "pages" / "what-if.ipynb", folder)
        quiet = folder / "config" / "lab" / "user-settings" / "@jupyterlab" / "apputils-extension"
        quiet.mkdir(parents=True)
        (quiet / "notification.jupyterlab-settings").write_text(
            json.dumps({"fetchNews": "false", "checkForUpdates": False}), encoding="utf-8"
        )
        arguments = ARGUMENTS[kind] + (() if kind == "voila" else COMMON)
        environment = os.environ | {
            "PYTHONPATH": str(ROOT),
            "JUPYTER_CONFIG_DIR": str(folder / "config"),
            "IPYTHONDIR": str(folder / "ipython"),
            "JUPYTER_RUNTIME_DIR": str(folder / "runtime"),
            "JUPYTERLAB_SETTINGS_DIR": str(folder / "config" / "lab" / "user-settings"),
            "MPLBACKEND": "Agg",
        }
        self.log = (folder / "server.log").open("w", encoding="utf-8")
        self.process = subprocess.Popen(
            [sys.executable, "-m", *(one.format(port=self.port, folder=folder) for one in arguments)],
            cwd=folder,
            env=environment,
            stdout=self.log,
            stderr=subprocess.STDOUT,
        )

    @property
    def address(self) -> str:
        path = {"voila": "/", "jupyterlab": "/lab/tree/what-if.ipynb", "notebook": "/notebooks/what-if.ipynb"}
        return f"http://127.0.0.1:{self.port}{path[self.kind]}"

    def wait(self, seconds: float = 90.0) -> None:
        end = time.monotonic() + seconds
        probe = f"http://127.0.0.1:{self.port}/" + ("voila/static/" if self.kind == "voila" else "api/status")
        while time.monotonic() < end:
            if self.process.poll() is not None:
                break
            try:
                urllib.request.urlopen(probe, timeout=2).close()
            except urllib.error.HTTPError as answer:
                answer.close()
                return  # it answers, if only that there is nothing here
            except OSError:
                time.sleep(0.2)
            else:
                return
        raise AssertionError((self.folder / "server.log").read_text(encoding="utf-8")[-3000:])

    def open(self, page) -> None:
        """Show the notebook with all its cells run."""
        page.goto(self.address, wait_until="commit")
        if self.kind != "voila":
            page.wait_for_function(
                "() => window.jupyterapp && document.querySelector('.jp-Notebook .jp-CodeCell')", timeout=90_000
            )
            # Without a kernel there is nothing to run on. The command's promise may never be kept: none is waited for.
            self._wait_for_kernel(page)
            page.evaluate("() => { window.jupyterapp.commands.execute('notebook:run-all-cells'); }")
        page.locator(".hx canvas.hx-season").first.wait_for(timeout=120_000)

    def _wait_for_kernel(self, page, seconds=90.0) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            sessions = page.request.get(f"http://127.0.0.1:{self.port}/api/sessions").json()
            if any(one["kernel"]["execution_state"] == "idle" and one["kernel"]["connections"] for one in sessions):
                page.wait_for_timeout(500)  # the page hears of it a moment later
                return
            page.wait_for_timeout(200)
        raise AssertionError("The notebook's kernel did not come up.")

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.log.close()


@pytest.fixture(scope="package")
def serve(tmp_path_factory):
    """Start a server of a kind once, or skip where it is not installed."""
    running = {}

    def start(kind):
        if importlib.util.find_spec(kind) is None:
            pytest.skip(f"no {kind}: pip install -e '.[browser]'")
        if kind not in running:
            running[kind] = Server(kind, tmp_path_factory.mktemp(kind))
            running[kind].wait()
        return running[kind]

    yield start
    for server in running.values():
        server.stop()
