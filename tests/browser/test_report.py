"""The report in a real browser: it needs nothing from elsewhere, shows every figure, prints, and can be read by all."""

from __future__ import annotations

import json
import re
from itertools import pairwise

import pytest

import hygro.__main__ as command

EVIL = "<script>window.harmed = 1</script>\"'><img src=x onerror='window.harmed = 1'>"
STUDY = f"""\
title = '''Wall {EVIL}'''
question = '''{EVIL}'''
building = '''{EVIL}'''
watch = ['''sheathing {EVIL}''']
start = "1 October"
years = 1
members = 2

[climate]
sample = "hut_valley"

[assumed]
'a <script>window.harmed = 1</script>' = '''{EVIL}'''

[assembly.wall]
name = '''wall {EVIL}'''
tilt = 90
azimuth = 0
finish = "new wood"
parts = [
    {{ layer = "softwood across grain", thickness = "22 mm", name = "cladding" }},
    {{ gap = "25 mm", length = "2.4 m" }},
    {{ sheet = '''membrane {EVIL}''', s_d = 0.2 }},
    {{ layer = "OSB", thickness = "9 mm", name = '''sheathing {EVIL}''' }},
    {{ layer = "mineral wool batt", thickness = "140 mm" }},
]

[[variant]]
name = '''first {EVIL}'''
assembly = "wall"
indoor = "standard curves"

[[variant]]
name = "second, costs $5 to $6 \\\\frac"
assembly = "wall"
indoor = {{ kind = "constant", temperature = 20, relative_humidity = "60 %" }}

[[uncertain]]
input = '''sheathing {EVIL}.thickness'''
spread = {{ kind = "scatter", variation = "10 %", source = '''{EVIL}''' }}

[[search]]
find = "smallest"
input = "gap.thickness"
between = ["15 mm", "35 mm"]

[[sweep]]
over = {{ {json.dumps(f"sheathing {EVIL}.thickness")} = ["9 mm", "12 mm"] }}
"""
LAPTOP = {"width": 1366, "height": 768}


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    """Report of a study whose every name tries to break out."""
    folder = tmp_path_factory.mktemp("evil")
    (folder / "evil.toml").write_text(STUDY, encoding="utf-8")
    assert command.main([str(folder / "evil.toml"), "-o", str(folder / "out")]) == 0
    return folder / "out" / "report.html"


@pytest.fixture(scope="module")
def page(browser, report):
    """The report at a laptop's size; what it says and asks for is kept."""
    opened = browser.new_page(viewport=LAPTOP)
    opened.said, opened.asked = [], []
    opened.on("console", lambda message: opened.said.append(message.text))
    opened.on("pageerror", lambda error: opened.said.append(str(error)))
    opened.on("request", lambda request: opened.asked.append(request.url))
    opened.goto(report.as_uri())
    opened.wait_for_load_state("load")
    yield opened
    opened.close()


def test_the_console_is_silent_and_nothing_is_fetched(page, report):
    assert page.said == []
    assert [url for url in page.asked if not url.startswith("data:")] == [report.as_uri()]


def test_no_name_becomes_code(page):
    assert page.evaluate("window.harmed") is None
    assert page.locator("script").count() == 0
    assert page.title().startswith("Wall <script>")
    assert EVIL in page.locator("h1").inner_text()


def test_every_figure_is_there_and_is_told_in_words(page):
    figures = page.evaluate("[...document.images].map(i => [i.complete, i.naturalWidth, i.clientWidth, i.alt.length])")
    # Section; air of two models; seasons, depth and gap; search, sweep and members of two variants.
    assert len(figures) == 1 + 2 + 3 + 3 * 2
    for complete, natural, shown, words in figures:
        assert complete
        assert natural > 0
        assert 300 < shown <= LAPTOP["width"]
        assert words > 40


def test_nothing_runs_out_of_the_window(page):
    assert page.evaluate("document.documentElement.scrollWidth") <= LAPTOP["width"]


def test_headings_come_in_order(page):
    levels = [int(tag[1]) for tag in page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4')].map(h => h.tagName)")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints(page, paper):
    pdf = page.pdf(format=paper)
    assert pdf.startswith(b"%PDF-")
    assert 5 < len(re.findall(rb"/Type\s*/Page\b", pdf)) < 60


def test_print_leaves_nothing_wider_than_the_paper(browser, report):
    paper = browser.new_page(viewport={"width": 680, "height": 960})  # A4 less its margins, in CSS pixels
    paper.goto(report.as_uri())
    paper.emulate_media(media="print")
    assert paper.evaluate("document.documentElement.scrollWidth") <= 680
    paper.close()


def test_nobody_is_shut_out(browser, report):
    """Rules of the open checker axe-core; contrast, names, order and structure are among them."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="no axe: pip install -e '.[test]'")
    # The checker comes in as a script, which the page itself forbids.
    context = browser.new_context(viewport=LAPTOP, bypass_csp=True)
    opened = context.new_page()
    opened.goto(report.as_uri())
    found = axe.Axe().run(opened).response["violations"]
    context.close()
    assert [(one["id"], one["impact"], one["nodes"][0]["html"][:200]) for one in found] == []
