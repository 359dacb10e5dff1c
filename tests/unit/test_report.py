"""The report: what it says is what was stated and found, every text is escaped, and the study can be had back."""

import html
import re
import warnings
from html.parser import HTMLParser

import pytest

import hygro.__main__ as command
from hygro.assembly import Assembly, Layer, VentGap
from hygro.core.work import Settings
from hygro.errors import HygroWarning, InputError
from hygro.gapflow import FixedAirChange
from hygro.indoor import (
    ConstantIndoor,
    Flame,
    Household,
    People,
    StandardCurves,
    Ventilator,
    flow_for_targets,
)
from hygro.leakage import AirLeak
from hygro.report import CAUTIONS, DEFER, Picture, Sensitivity, Table, checks, inputs, pictures_of, report_html
from hygro.report.plain import results_text
from hygro.steady import monthly_condensation, monthly_means, surface_check, transmittance
from hygro.steady.condensation import LIMITS as CONDENSATION_LIMITS
from hygro.steady.surface import LIMITS as SURFACE_LIMITS
from hygro.steady.transmittance import LIMITS as HEAT_LIMITS
from hygro.study import Variant
from hygro.studyfile import Sample, Study, parse_study, run_study

NAME = 'a & b <i>"it\'s"</i>'


def wall(*inside):
    parts = [
        Layer("softwood", "20 mm", name="cladding"),
        VentGap("25 mm", length="2.4 m", flow=FixedAirChange(30)),
        Layer("OSB", "12 mm", name=NAME),
        *inside,
    ]
    return Assembly("wall", parts, tilt=90, azimuth=0, finish="new wood")


@pytest.fixture(scope="module")
def study():
    variants = (
        Variant("bare", wall(), ConstantIndoor(20.0, 0.4), AirLeak(1.0, height=1.0, into=None)),
        Variant(NAME, wall(Layer("mineral wool batt", "60 mm")), StandardCurves()),
    )
    return Study(
        f"Title {NAME}", variants, Sample("hut_valley"), (NAME, "cladding"), "1 October", 1,
        also=("30-day humidity", "fasteners"), question=f"Question {NAME}?", building=f"Building {NAME}.",
        assumed=((f"Choice {NAME}", f"words {NAME}"),),
    )  # fmt: skip


@pytest.fixture(scope="module")
def found(study):
    return run_study(study)


@pytest.fixture(scope="module")
def pictures(found):
    return pictures_of(found)


@pytest.fixture(scope="module")
def page(study, found, pictures):
    return report_html(study, found, pictures=pictures)


class _Reader(HTMLParser):
    """Collects tags and text; a tag that is closed in the wrong order is an error."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.open, self.words, self.attributes = [], [], [], []
        self.feed(page)
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes.append((tag, dict(attrs)))
        if tag not in {"meta", "img", "br"}:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture(scope="module")
def read(page):
    return _Reader(page)


def test_the_page_is_whole_and_needs_nothing_from_elsewhere(read):
    assert not {"script", "link", "iframe", "object", "form"} & set(read.tags)
    for tag, attributes in read.attributes:
        for key in ("src", "href"):
            assert attributes.get(key, "#").startswith(("#", "data:image/")), (tag, attributes)
        assert not [key for key in attributes if key.startswith("on")]


def test_every_text_of_the_study_is_shown_and_none_is_markup(read, page):
    words = "".join(read.words)
    for start in ("Title", "Question", "Building", "Choice", "words"):
        assert f"{start} {NAME}" in words
    assert "<i>" not in page


def test_sections_stand_in_the_order_of_a_reviewer(page):
    assert re.findall(r"<h2[^>]*>(.*?)</h2>", page) == [
        "The question", "The answer in short", "The building", "The materials", "The weather and the air indoors",
        "What was assumed", "Results", "Verdicts", "Steady checks beside the runs", "How sure this is", "Cautions",
        "How it was made", "The study as text",
    ]  # fmt: skip


def test_the_text_in_it_gives_the_same_study_again(page, study):
    text = html.unescape(re.search(r"<pre>(.*?)</pre>", page, re.DOTALL)[1])
    assert parse_study(text) == study


def test_every_default_is_named(read):
    words = " ".join("".join(read.words).split())
    settings = Settings()
    for value in (
        f"{settings.temperature_error:g} K", f"{settings.water_error:g} of the moisture",
        f"{settings.finest_step:g} s",
        f"{settings.largest_iterations} steps", "10 °C and 70 % relative humidity", "0.13 m² K/W",
        "0.7 of that at 10 m",
        "reflects 0.2 of the sun", "0.95 of a black body", "0.9 (outer) and 0.9 (inner)",
        "to the power 0.65", "-0.55 on a low roof", "Murphy and Koop",
        "20 % of the dry mass",
        "high occupancy: no", "ISO 13788", "Viitanen", "30 air changes per hour, fixed",
    ):  # fmt: skip
        assert value in words, value


def test_cautions_versions_and_the_digest_are_there(read, found):
    words = "".join(read.words)
    for one in (*CAUTIONS, DEFER, found[0].climate.digest, "numba", "unaccounted"):
        assert one in words


def test_each_layer_watched_has_its_results_verdicts_and_figures(page, found, pictures):
    assert [one.layer for one in found] == [NAME, "cladding"]
    assert len({one.name for one in pictures}) == len(pictures) == 2 + 2 * 3
    assert page.count("<img ") == len(pictures) + 2
    for comparison in found:
        assert html.escape(f"All criteria for {comparison.layer} in bare") in page
        for result in comparison.results:
            assert html.escape(str(result.answer), quote=True) in page


def test_criteria_asked_besides_are_reported_with_their_source(read):
    words = "".join(read.words)
    assert words.count("Asked besides for") == 4
    assert words.count("30-day mean below 80 % where") >= 8
    assert "Share of hours in which fasteners rust" in words


def test_each_run_is_computed_once(study):
    told = []
    run_study(study, lambda number, total, result: told.append((number, total, result.name)))
    assert sorted(told) == sorted([(1, 2, told[0][2]), (2, 2, told[1][2])])
    assert {name for _, _, name in told} == {"bare", NAME}


def test_a_study_from_text_runs_to_the_same_bits(page, found):
    text = html.unescape(re.search(r"<pre>(.*?)</pre>", page, re.DOTALL)[1])
    again = run_study(parse_study(text))
    for one, other in zip(found[0].results, again[0].results, strict=True):
        assert one.run.identical(other.run)
        assert str(one.answer) == str(other.answer)


def test_the_command_knows_the_names_of_the_figures(study, pictures):
    assert set(command._picture_names(study)) == {one.name for one in pictures}


def test_files_of_variants_are_safe_and_apart():
    names = ["../../etc/passwd", "a/b", "a b", "A?b", "é", "CON", "x" * 300]
    files = command._file_names(names)
    assert list(files) == names
    assert len(set(files.values())) == len(names)
    assert all(re.fullmatch(r"[a-z0-9-]+\.nc", one) for one in files.values())


def test_without_sensitivity_it_says_what_was_not_varied(read):
    words = " ".join("".join(read.words).split())
    assert "Nothing was varied beyond the variants themselves" in words
    assert "The variants differ in the build-up, the air indoors and the air that leaks" in words
    assert "the same in all: the state at the start, the rain and the snow" in words


def test_steady_checks_are_those_of_each_build_up(read, study, found):
    words = " ".join("".join(read.words).split())
    air = monthly_means(found[0].climate.period("1 October", 1), study.variants[1].indoor)
    for variant in study.variants:
        assert f"{transmittance(variant.assembly).U:.3f}" in words
    checked = monthly_condensation(study.variants[1].assembly, air)
    assert checked.verdict in words
    assert surface_check(study.variants[1].assembly, air).critical_month in words
    for limits in (CONDENSATION_LIMITS, SURFACE_LIMITS, HEAT_LIMITS):
        assert limits in words


def test_where_no_steady_check_applies_it_says_so(found, monkeypatch):
    def refuse(_):
        msg = "No <heat> here."
        raise InputError(msg)

    monkeypatch.setattr(checks, "transmittance", refuse)
    page = checks.steady_checks(found)
    assert "bare: no steady check. No &lt;heat&gt; here." in page
    assert "month by month" not in page


def test_rain_and_snow_are_told_once_where_there_are_any(read):
    words = " ".join("".join(read.words).split())
    assert words.count("driving rain (ASHRAE 160), exposure 1, deposition 0.5") == 1
    assert "Rain that soaks in" in words
    assert "Snow on the outer face" not in words


def test_sensitivity_is_shown_where_it_is_given(study, found, pictures):
    table = Table("Weights", ("input", "weight"), (("leak <q50>", 0.7),))
    given = Sensitivity(f"Varied {NAME}.", (table,), (Picture("x", b"png", "alt <w>", "cap"),), "Title <t>")
    page = report_html(study, found, pictures=pictures, sensitivity=given)
    assert html.escape(f"Varied {NAME}.", quote=True) in page
    assert "leak &lt;q50&gt;" in page
    assert "alt='alt &lt;w&gt;'" in page
    assert "<h3>Title &lt;t&gt;</h3>" in page
    assert "Nothing was varied" not in page
    assert report_html(study, found, pictures=pictures, sensitivity=[given]) == page


def test_a_report_of_nothing_is_refused(study):
    with pytest.raises(InputError, match="no results to report"):
        report_html(study, ())


def test_verdicts_are_told_without_colour(page, found):
    for comparison in found:
        for result in comparison.results:
            mark = {"fine": "✓", "caution": "!", "fails": "✗"}[str(result.answer.level)]
            assert f"({mark}\u00a0{result.answer.level})" in page


def test_objects_tell_all_their_settings():
    words = inputs.in_words(ConstantIndoor("68 degF", 0.45))
    assert words == "constant indoor (temperature: 20; relative humidity: 0.45)"
    assert inputs.in_words(StandardCurves()) == "standard curves (high occupancy: no)"


def test_the_terminal_shows_a_table_for_each_layer(found):
    text = results_text("Title", found, ["Mind this."])
    assert text.count("variant ") == 2
    assert f"the {NAME} ..." in text
    assert text.endswith("Cautions: Mind this.")


# --- the air that people breathe ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def smoky():
    sources = (People(2), Flame("propane", 800.0, (18,)))
    home = Household(35.0, 19.0, infiltration=0.1, sources=sources, ventilator=Ventilator(0.01, 0.75, 0.0))
    study = Study("Hut", (Variant("home", wall(), home),), Sample("hut_valley"), (NAME,), "1 October", 1)
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always", HygroWarning)
        comparisons = run_study(study)
        page = report_html(study, comparisons, pictures=())
    assert any("carbon monoxide" in str(one.message) for one in said)
    return study, comparisons, page


def test_a_flame_and_stale_air_are_said_on_the_screen_and_twice_in_the_report(smoky):
    """What can kill stands in the short answer and among the cautions, not in a log alone."""
    _, comparisons, page = smoky
    answer = page[page.index("id='answer'") : page.index("id='building'")]
    cautions = page[page.index("id='cautions'") : page.index("id='versions'")]
    for words in ("an unvented flame can kill by carbon monoxide", "Fit an alarm"):
        assert words in answer
        assert words in cautions
        assert words in " ".join(results_text("t", comparisons, ()).split())
    assert "Carbon dioxide indoors: " in answer
    assert "is exceeded in" in answer
    assert "EN 16798-1:2019" in page


def test_the_report_says_what_the_ventilator_would_have_to_move(smoky):
    study, _, page = smoky
    assert "now 10 l/s (36 m³/h)" in page
    home = study.variants[0].indoor
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", HygroWarning)
        flow = flow_for_targets(
            home, study.climate.load().period(study.start, 1).data, relative_humidity=1.0, carbon_dioxide=1000.0
        )
    assert f"at most 1000 ppm carbon dioxide</th><td>{1e3 * flow:.3g} l/s" in page


def test_without_a_household_nothing_is_said_of_its_air(read):
    assert "carbon monoxide" not in " ".join(read.words)
    assert "Carbon dioxide indoors" not in " ".join(read.words)
