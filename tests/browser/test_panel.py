"""The panel in a real browser, in the three places that show notebooks: move, read, pin, compare, copy, err."""

from __future__ import annotations

import re

import pytest

PLACES = pytest.mark.parametrize("kind", ["voila", "jupyterlab", "notebook"])
SECOND = 1000.0


def status(page, words):
    """Wait until the announced answer has these words."""
    page.locator(".hx [role=status]").filter(has_text=words).wait_for(state="attached", timeout=90 * SECOND)


def field(page, name):
    return page.get_by_label(name, exact=True)


def cells(page, row):
    found = page.locator(".hx-numbers tr").filter(has_text=row).locator("td").all_inner_texts()
    return [float(re.search(r"[\d.]+", text)[0]) for text in found]


def pictures(page):
    names = ("season", "depth", "speed")
    return {name: page.locator(f"canvas.hx-{name}").evaluate("one => one.toDataURL()") for name in names}


@pytest.fixture(scope="module")
def shots(tmp_path_factory):
    return tmp_path_factory.mktemp("shots")


@PLACES
def test_move_read_pin_compare_and_go_back(kind, serve, page, shots):
    serve(kind).open(page)
    status(page, "stays dry: fine")
    before = pictures(page)

    field(page, "Inlet").focus()
    page.keyboard.press("Home")
    assert field(page, "Inlet in cm²/m").input_value() == "0"
    status(page, "collects water year by year: fails")
    for name, picture in pictures(page).items():
        assert picture != before[name], name
        assert len(picture) > 5000, name  # more than an empty sheet

    page.get_by_role("button", name="Pin", exact=True).click()
    page.locator(".hx-numbers th").filter(has_text="pinned").wait_for(timeout=60 * SECOND)
    field(page, "Inlet").focus()
    page.keyboard.press("End")
    status(page, "stays dry: fine")
    now, pinned = cells(page, "deck, wettest day")
    assert now < pinned
    assert "Pinned: at most" in page.get_by_role("img", name="moisture content of the deck").get_attribute("aria-label")
    assert len(page.screenshot(path=shots / f"{kind}.png")) > 50_000

    page.get_by_role("button", name="Undo").click()
    status(page, "collects water year by year: fails")
    assert field(page, "Inlet in cm²/m").input_value() == "0"
    assert page.errors == [] or kind == "notebook", page.errors


# What is chosen in each list of the panel, and by how much its words are wider than the room left of the arrow.
TOO_WIDE = """lists => lists.map(list => {
  const look = getComputedStyle(list), pen = document.createElement("canvas").getContext("2d"), arrow = 20;
  pen.font = look.font;
  const room = list.clientWidth - parseFloat(look.paddingLeft) - parseFloat(look.paddingRight) - arrow;
  const words = list.options[list.selectedIndex].text;
  return [words, pen.measureText(words).width - room];
})"""


@PLACES
def test_what_is_chosen_is_shown_whole_on_a_small_laptop(kind, serve, page):
    serve(kind).open(page)
    status(page, "stays dry: fine")
    found = page.locator(".hx select").evaluate_all(TOO_WIDE)
    assert "Hut valley (invented): cold continental valley" in [words for words, _ in found]
    assert [words for words, excess in found if excess > 0.0] == []
    assert field(page, "Climate").get_attribute("title") == "Hut valley (invented): cold continental valley"


@pytest.fixture(scope="module")
def opened(serve, new_page):
    """One page of the stand-alone panel for the tests below, which take it as they find it after a reset."""
    page = new_page()
    serve("voila").open(page)
    yield page
    page.context.close()


@pytest.fixture
def panel(opened):
    opened.get_by_label("Units").select_option("mm, s_d")
    opened.get_by_role("button", name="Reset").click()
    field(opened, "Gap height in mm").wait_for()
    status(opened, "stays dry: fine")
    return opened


def test_a_value_that_cannot_be_is_refused_in_a_sentence(panel):
    box = field(panel, "Gap height in mm")
    box.fill("400")
    box.press("Enter")
    panel.get_by_role("alert").filter(
        has_text="Gap height is 400 mm; it must be 0 (no gap) or between 5 and 150"
    ).wait_for()
    assert box.input_value() == "400"
    assert box.get_attribute("aria-invalid") == "true"
    assert "Traceback" not in panel.inner_text("body")
    box.fill("3/4 in")
    box.press("Enter")
    panel.get_by_role("alert").wait_for(state="hidden")
    panel.wait_for_function("box => box.value === '19.1' || box.value === '19'", arg=box.element_handle())


def test_units_of_the_whole_panel_change_at_once(panel):
    panel.get_by_label("Units").select_option("inch, perm")
    panel.wait_for_function("() => document.querySelector('[data-field=gap] .hx-unit').textContent === 'in'")
    shown = {
        name: float(panel.locator(f"[data-field={name}] input[type=text]").input_value()) for name in ("gap", "inlet")
    }
    assert shown["gap"] == pytest.approx(50 / 25.4, abs=0.01)
    assert shown["inlet"] == pytest.approx(200 / (2.54**2 / 0.3048), rel=0.01)
    assert float(field(panel, "Vapour retarder in perm").input_value()) == pytest.approx(0.0682, abs=1e-4)
    assert "ft/min" in panel.locator(".hx-numbers").inner_text()


def test_copied_python_and_saved_figure(panel):
    panel.get_by_role("button", name="Copy as Python").click()
    panel.locator(".hx-sheet textarea").wait_for()
    text = panel.locator(".hx-sheet textarea").input_value()
    assert "hygro.sample_climate('hut_valley')" in text
    compile(text, "copied", "exec")
    panel.get_by_role("button", name="Copy as study file").click()
    panel.locator(".hx-sheet").filter(has_text="study file").wait_for()
    assert 'sample = "hut_valley"' in panel.locator(".hx-sheet textarea").input_value()
    with panel.expect_download() as saved:
        panel.get_by_role("button", name="Save figure").click()
    assert saved.value.suggested_filename == "what-if.png"
    assert saved.value.path().read_bytes().startswith(b"\x89PNG")


def test_every_control_has_a_name_a_key_and_an_explanation(panel):
    panel.get_by_label("Indoor air").select_option("a household")
    field(panel, "People").wait_for()
    for row in panel.locator(".hx-row:visible").all():
        assert row.locator(".hx-about").inner_text().strip()
        for control in row.locator("input, select").all():
            assert control.evaluate("node => [...node.labels].length + (node.ariaLabel ? 1 : 0)") > 0
            about = control.get_attribute("aria-describedby")
            assert panel.locator(f"#{about}").inner_text().strip()
    people = field(panel, "People")
    people.focus()
    panel.keyboard.press("ArrowRight")
    assert people.get_attribute("aria-valuetext") == "3 people"
    retarder = field(panel, "Vapour retarder")
    retarder.focus()
    panel.keyboard.press("End")
    assert retarder.get_attribute("aria-valuetext").endswith("open")


def test_nothing_serious_for_those_who_cannot_see_or_point(panel):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="no axe: pip install -e '.[browser]'")
    found = axe.Axe().run(panel, context=".hx").response
    assert len(found["passes"]) > 15
    serious = [(one["id"], one["impact"], [node["html"] for node in one["nodes"]]) for one in found["violations"]]
    assert [one for one in serious if one[1] in {"serious", "critical"}] == []
