"""How the panel feels in JupyterLab: time from a moved slider to new pictures, nothing queued, no memory kept.

Times depend on the machine and on what else it does: they are told, not judged.
"""

from __future__ import annotations

import json
import os
import statistics
from pathlib import Path

import pytest

MOVES = int(os.environ.get("HYGRO_PANEL_MOVES", "500"))

# Sets a slider, fires the event that a hand would, and waits until the pictures that answer it are decoded and painted.
MOVE = """async ([label, at]) => {
  const range = document.querySelector(`input[type=range][aria-label="${label}"]`);
  const panel = range.closest('.hx');
  const pictures = [...panel.querySelectorAll('img')];
  const began = performance.now(), before = panel.dataset.n, old = pictures.map((one) => one.src);
  range.value = at;
  range.dispatchEvent(new Event('input', { bubbles: true }));
  while (panel.dataset.n === before) await new Promise((done) => setTimeout(done, 2));
  while (pictures[0].src === old[0]) await new Promise((done) => setTimeout(done, 2));
  await Promise.all(pictures.map((one) => one.decode()));
  await new Promise((done) => requestAnimationFrame(done));
  return performance.now() - began;
}"""

# A drag of three seconds, an event each 16 ms; how many were answered, and whether the last one was the last answer.
DRAG = """async () => {
  const range = document.querySelector('input[type=range][aria-label="Gap height"]');
  const panel = range.closest('.hx');
  let answers = 0, events = 0;
  const count = new MutationObserver(() => { answers += 1; });
  count.observe(panel, { attributes: true, attributeFilter: ['data-n'] });
  const last = Number(range.max);
  for (const began = performance.now(); performance.now() - began < 3000;) {
    range.value = 1 + (events % last);
    range.dispatchEvent(new Event('input', { bubbles: true }));
    events += 1;
    await new Promise((done) => setTimeout(done, 16));
  }
  const released = performance.now();
  let seen = -1, quiet = 0;
  while (quiet < 60) {
    await new Promise((done) => setTimeout(done, 50));
    quiet = seen === panel.dataset.n ? quiet + 1 : 0;
    seen = panel.dataset.n;
  }
  return { events, answers, after: performance.now() - released - 50 * 60 };
}"""


def memory(process):
    """Resident memory of a process and of all that it started. [MB]."""
    total = 0.0
    for path in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((path / "stat").read_text().rsplit(")", 1)[1].split()[1])
            is_kernel = "ipykernel" in (path / "cmdline").read_text()
            if parent == process and is_kernel:
                total += int((path / "statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
        except OSError:
            continue
    return total


@pytest.mark.long
def test_moves_are_quick_and_leave_nothing_behind(serve, page, record_property):
    lab = serve("jupyterlab")
    lab.open(page)
    stops = [5 + (7 * number) % 40 for number in range(MOVES)]
    for at in stops[:20]:
        page.evaluate(MOVE, ["Inlet", at])
    before = memory(lab.process.pid)
    times = sorted(page.evaluate(MOVE, ["Inlet", at]) for at in stops)
    grown = memory(lab.process.pid) - before
    drag = page.evaluate(DRAG)
    told = {
        "moves": MOVES,
        "median [ms]": round(statistics.median(times)),
        "p95 [ms]": round(times[int(0.95 * (len(times) - 1))]),
        "kernel grew by [MB]": round(grown, 1),
        "drag": {name: round(number) for name, number in drag.items()},
        "load": os.getloadavg()[0],
    }
    record_property("panel", json.dumps(told))
    print(told)  # noqa: T201 - shown with -s
    assert before > 50.0
    assert grown < 20.0
    assert drag["answers"] < drag["events"]
    assert page.locator("[data-field=gap] input[type=range]").input_value() != "0"
