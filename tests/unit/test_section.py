"""The stack in words and pictures: every part shown, names escaped, drawings written or refused with a reason."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from hygro import Assembly, Layer, Sheet, VentGap
from hygro.errors import OutputError
from hygro.materials import Finish, Material

NASTY = "<script>alert('x')</script> & co"


@pytest.fixture
def roof():
    board = Material(
        "board", density=500, specific_heat=1600, conductivity=0.13, vapour_resistance=50,
        sorption=[(0.8, 80), (1.0, 150)], saturation=600,
    )  # fmt: skip
    parts = [
        Layer(board, 0.018, name="deck"), VentGap(0.03, length=5.0), Sheet("paper", s_d=0.1),
        Layer(board, 0.1, name=NASTY), Sheet("smart", s_d=[(0.3, 5.0), (0.8, 0.2)]),
    ]  # fmt: skip
    return Assembly("roof", parts, tilt=30, azimuth=180, finish=Finish("plain", 0.5, 0.9))


def test_text_names_every_part(roof):
    text = repr(roof)
    for words in (
        "roof, tilt 30 degrees",
        "deck",
        "18 mm",
        "vent gap",
        "paper",
        "smart",
        "varies with humidity",
        "total",
    ):
        assert words in text
    assert "148 mm" in text  # the gap counts
    assert "0.91" in text  # total resistance without films: 0.118 / 0.13


def test_html_escapes_names(roof):
    html = roof._repr_html_()
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


def test_drawing_is_well_formed_and_to_scale(roof):
    svg = roof.draw().svg
    root = ET.fromstring(svg)
    space = "{http://www.w3.org/2000/svg}"
    boxes = [box for box in root.iter(f"{space}rect") if box.get("x") == "10"]
    heights = [float(box.get("height")) for box in boxes]
    assert len(heights) == 3
    assert heights[2] / heights[0] == pytest.approx(0.1 / 0.018, rel=0.01)
    assert root.get("role") == "img"
    assert "deck 18 mm" in root.get("aria-label")
    assert roof.draw()._repr_svg_() == svg


def test_drawing_is_written(roof, tmp_path):
    target = roof.draw().save(tmp_path / "roof.svg")
    assert target.read_text(encoding="utf-8") == roof.draw().svg


def test_drawing_that_cannot_be_written_says_so(roof, tmp_path):
    with pytest.raises(OutputError, match=r"roof.svg' could not be written: .*Choose a folder you may write to"):
        roof.draw().save(tmp_path / "no such folder" / "roof.svg")


def test_a_drawing_interrupted_leaves_the_older_one(roof, tmp_path, monkeypatch):
    target = roof.draw().save(tmp_path / "roof.svg")
    before = target.read_bytes()

    def half(self, text, **others):
        self.write_bytes(text[:50].encode())
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "write_text", half)
    with pytest.raises(KeyboardInterrupt):
        roof.draw().save(target)
    assert target.read_bytes() == before
    assert list(tmp_path.iterdir()) == [target]


def test_a_floor_is_drawn_with_the_outside_below(roof):
    floor = Assembly("floor", roof.parts, tilt=180, azimuth=0, finish=roof.finish)
    for build, order in ((roof, ["outside", "deck, 18 mm", "inside"]), (floor, ["inside", "deck, 18 mm", "outside"])):
        drawn = ET.fromstring(build.draw().svg).iter("{http://www.w3.org/2000/svg}text")
        heights = {one.text: float(one.get("y")) for one in drawn}
        assert sorted(order, key=heights.get) == order
    assert "facing" not in floor.title
    assert "facing 180 degrees from north" in roof.title
