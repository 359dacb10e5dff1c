"""The panel as Python sees it: what it says, what it pins, what it refuses, and that redrawing leaks nothing."""

import asyncio
import time

import numpy as np
import pytest

import hygro
from hygro.errors import InputError
from hygro.widgets import panel as panel_module
from hygro.widgets.panel import NOW, PINNED
from hygro.widgets.runner import Kept, Newest

PNG = b"\x89PNG"


@pytest.fixture(scope="module")
def panel():
    return hygro.explore(years=1)


@pytest.fixture(autouse=True)
def _as_at_first(panel):
    panel.unpin()
    panel.reset()
    panel.use("mm, s_d")


def send(panel, **message):
    panel._take(None, message, [])


def told(panel):
    return panel.front.told


def test_it_says_why_and_defers(panel):
    assert panel.said.startswith("The deck cannot be judged: the run is too short")
    assert "Local codes and a licensed professional decide." in told(panel)["caution"]
    assert set(told(panel)["alts"]) == {"season", "depth", "speed"}
    assert "at most" in told(panel)["alts"]["season"]
    assert panel.front.now["days"] == 366
    assert [part["name"] for part in panel.front.now["parts"]][2:4] == ["deck", "vent gap"]
    assert panel.front.pinned == {}


def test_a_move_is_looked_at_and_without_a_loop_run_in_full(panel, monkeypatch):
    def none():
        raise RuntimeError

    monkeypatch.setattr(asyncio, "get_running_loop", none)  # tests before may have left one
    before = panel.front.now
    send(panel, kind="move", n=7, changes={"inlet": "0", "outlet": 0})
    assert told(panel)["n"] == 7
    assert told(panel)["level"] != "moving"
    assert panel.state.inlet == panel.state.outlet == 0.0
    assert panel.front.now["content"] != before["content"]
    assert panel.front.now["speed"] != before["speed"]
    assert panel.front.values["inlet"] == {"text": "0", "at": 0, "off": False}


def test_what_cannot_be_is_said_on_the_panel(panel):
    send(panel, kind="move", n=8, changes={"gap": "400"})
    assert told(panel)["error"].startswith("Gap height is 400 mm; it must be 0 (no gap) or between 5 and 150 mm.")
    assert told(panel)["wrong"] == "gap"
    assert told(panel)["n"] == 8
    assert panel.state.gap == 0.05
    send(panel, kind="move", n=9, changes={"gap": "40"})
    assert told(panel)["error"] == ""
    send(panel, kind="dance")
    assert "could not be done" in told(panel)["error"]
    with pytest.raises(InputError, match="Vapour retarder is '9 kg'"):
        panel.set(permeance="9 kg")


def test_pinned_stands_beside_now(panel):
    panel.set(inlet=0)
    panel.pin()
    panel.set(inlet=500)
    assert '<th scope="col">pinned</th>' in told(panel)["table"]
    assert "Pinned: at most" in told(panel)["alts"]["season"]
    assert panel._numbers[PINNED].wettest > panel._numbers[NOW].wettest
    panel.unpin()
    assert "pinned" not in told(panel)["table"]


def test_what_the_household_warns_of_is_told_on_the_panel(panel):
    panel.set(air="a household", people=8, supply=2)
    assert "Household: the indoor air is at saturation" in told(panel)["caution"]
    assert panel.front.values["humidity"]["off"]
    assert not panel.front.values["people"]["off"]


def test_undo_and_reset(panel):
    first = panel.state
    panel.set(gap=20)
    panel.set(inlet=0)
    panel.undo()
    assert (panel.state.gap, panel.state.inlet) == (0.02, 0.02)
    panel.reset()
    assert panel.state == first
    panel.undo()
    assert panel.state.gap == 0.02


def test_units_change_what_is_shown_and_nothing_else(panel):
    state = panel.state
    send(panel, kind="units", units="inch, perm")
    assert panel.front.values["gap"]["text"] == "1.97"
    assert panel.front.values["permeance"]["text"] == "0.0682"
    assert {row["field"]: row.get("unit") for row in panel.front.form["controls"]}["gap"] == "in"
    assert "ft/min" in told(panel)["table"]
    assert "lb/ft²" in told(panel)["table"]
    assert "ft/min" in told(panel)["alts"]["speed"]
    assert panel.front.form["shown"]["depth"]["unit"] == "in"
    speed = panel._numbers[NOW].speed
    assert f"{speed / 0.3048 * 60:.0f} ft/min" in told(panel)["table"]
    assert panel.state == state
    send(panel, kind="units", units="mm, s_d")
    assert f"{100 * speed:.0f} cm/s" in told(panel)["table"]
    assert panel.front.values["gap"]["text"] == "50"


def test_the_export_holds_three_pictures_and_words(panel):
    picture = panel.figure()
    assert picture.startswith(PNG)
    assert len(picture) > 100_000
    panel.pin()
    panel.set(inlet=0)
    assert panel.figure() != picture


@pytest.mark.parametrize(
    ("units", "depth", "speed"),
    [("mm, s_d", ("mm", 1e3), ("cm/s", 100.0)), ("inch, perm", ("in", 39.37), ("ft/min", 196.85))],
)
def test_the_saved_figure_has_the_units_of_the_panel(panel, monkeypatch, units, depth, speed):
    saved = []
    monkeypatch.setattr(panel_module, "png", lambda figure, **_: saved.append(figure) or b"")
    send(panel, kind="units", units=units)
    panel.figure()
    axes = {ax.get_ylabel(): ax for ax in saved[0].axes}
    deepest = float((panel._ran.run["cell_position"] + 0.5 * panel._ran.run["cell_thickness"]).max())
    low, high = axes[f"depth from outside [{depth[0]}]"].get_ylim()
    assert (low, high) == pytest.approx((deepest * depth[1], 0.0), rel=1e-4)
    (line,) = axes[f"air speed in the gap [{speed[0]}]"].get_lines()
    fastest = float(np.abs(panel._ran.run["gap_air_speed"]).max())
    assert line.get_ydata().max() == pytest.approx(fastest * speed[1], rel=1e-4)
    assert not [label for label in axes if label.endswith("[mm]") and depth[0] != "mm"]


def test_a_figure_after_a_quick_look_is_of_the_full_run(panel, monkeypatch):
    monkeypatch.setattr(panel, "_later", lambda: None)
    send(panel, kind="move", n=3, changes={"inlet": "0"})
    assert told(panel)["level"] == "moving"
    assert "weather every 4 hours" in told(panel)["headline"]
    assert "within 0.8 points" in told(panel)["reason"]
    assert panel.figure().startswith(PNG)
    assert told(panel)["level"] != "moving"


def test_pinned_days_are_sent_beside_those_of_now(panel):
    panel.pin()
    kept = panel.front.pinned
    panel.set(inlet=0)
    assert panel.front.pinned == kept != panel.front.now


def test_what_is_kept_is_made_once_and_the_oldest_goes():
    kept, made = Kept(2), []

    def make(name):
        return kept.get(name, lambda: made.append(name) or name.upper())

    assert [make(name) for name in "abacab"] == list("ABACAB")
    assert made == ["a", "b", "c", "b"]


def test_only_the_newest_waiting_task_is_run():
    newest, done = Newest(), []
    for number in range(5):
        newest.submit(lambda number=number: (time.sleep(0.05), number)[1], lambda future: done.append(future.result()))
    end = time.monotonic() + 5.0
    while len(done) < 2 and time.monotonic() < end:
        time.sleep(0.01)
    time.sleep(0.15)
    assert done == [0, 4]
