"""Searches and sweeps in a study file: what they find, what is refused, and how the command and the report tell it."""

import math
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from reference.studies import ROOF, WEATHER

import hygro.__main__ as command
from hygro import constant_climate, report
from hygro.climate import Climate, write_climate
from hygro.criteria import Level, combined_verdict
from hygro.errors import InputError
from hygro.report import of_trials, report_html
from hygro.study import run_of
from hygro.studyfile import (
    Sample,
    Search,
    Sweep,
    parse_study,
    read_study,
    run_study,
    run_trials,
    study_text,
    trials_of,
)
from hygro.studyfile.judging import CRITERIA, VERDICT, criterion, measures
from hygro.vary import MOULD, WETTEST, Found, Input, find_largest, sweep

FILMED = ROOF.replace('"house wrap"', '"my film", s_d = 2')
BOARDED = FILMED.replace("assembly.roof", "assembly.boarded").replace(
    'layer = "plywood 500", thickness = "12 mm", name = "deck"',
    'layer = "gypsum board", thickness = "12.5 mm", name = "board"',
)
TEXT = (
    """\
title = "A <roof>"
watch = ["deck", "board"]
start = "1 October"
years = 1

indoor = { kind = "constant", temperature = 20, relative_humidity = "45 %" }

"""
    + WEATHER
    + FILMED
    + "\n"
    + BOARDED
    + """
[[variant]]
name = "sweep 1"
assembly = "roof"
leak = { q50 = 3, height = "1.2 m", into = false }

[[variant]]
name = "still <b>"
assembly = "roof"

[[variant]]
name = "boarded"
assembly = "boarded"
"""
)
SEARCH = """
[[search]]
find = "largest"
input = "leak.q50"
between = [0.1, "10 m3/(m2 hour)"]
criterion = "moisture content"
"""
FILM = """
[[search]]
find = "smallest"
input = "my film.s_d"
between = [1, 9]
criterion = "moisture content"
"""
SWEEP = """
[[sweep]]
over = { "deck.thickness" = ["9 mm", "15 mm"], finish = ["new wood", "white coated metal"], climate = [
    { sample = "hut_valley" }, { sample = "wet_coast" },
] }
variants = ["still <b>"]
layers = ["deck"]
"""


def refused(text):
    with pytest.raises(InputError) as caught:
        parse_study(text, "roof.toml")
    return str(caught.value)


@pytest.fixture(scope="module")
def study():
    return parse_study(TEXT + SEARCH + SWEEP)


# --- stated ----------------------------------------------------------------------------------------------------------


def test_what_is_tried_is_read_and_written(study):
    assert study.searches == (Search(False, "leak.q50", (0.1, "10 m3/(m2 hour)"), "moisture content"),)
    over = {
        "deck.thickness": ["9 mm", "15 mm"],
        "finish": ["new wood", "white coated metal"],
        "climate": [Sample("hut_valley"), Sample("wet_coast")],
    }
    assert study.sweeps == (Sweep(over, ["still <b>"], ["deck"]),)
    assert study.trials == study.searches + study.sweeps
    written = study_text(study)
    assert written.index("[[search]]") < written.index("[[sweep]]")
    assert parse_study(written) == study
    assert "search" not in study_text(parse_study(TEXT))


def test_many_combinations_are_written_below_a_heading_of_their_own():
    long = {"deck.thickness": [f"{n} mm" for n in range(9, 40)], "finish": ["new wood", "white coated metal"]}
    study = replace(parse_study(TEXT), sweeps=(Sweep(long), Sweep({"deck.thickness": ["9 mm", "12 mm"]})))
    assert "[[sweep]]\n\n[sweep.over]\n" in study_text(study)
    assert parse_study(study_text(study)) == study


def test_names_of_inputs_need_no_quotes():
    plain = "\n[[sweep]]\nover.deck.thickness = [0.009, 0.015]\nover.leak.q50 = [1, 2]\n"
    quoted = '\n[[sweep]]\nover = { "deck.thickness" = [0.009, 0.015], "leak.q50" = [1, 2] }\n'
    assert parse_study(TEXT + plain) == parse_study(TEXT + quoted)


def test_each_is_meant_for_the_variants_that_have_its_inputs_and_the_layers_watched(study):
    assert [(variant.name, layer) for _, variant, layer in trials_of(study)] == [
        ("sweep 1", "deck"),
        ("still <b>", "deck"),
    ]
    everywhere = parse_study(TEXT + FILM.replace("moisture content", "verdict"))
    names = [(variant.name, layer) for _, variant, layer in trials_of(everywhere)]
    assert names == [("sweep 1", "deck"), ("still <b>", "deck"), ("boarded", "board")]


@pytest.mark.parametrize(
    ("block", "old", "new", "line", "says"),
    [
        (SEARCH, 'input = "leak.q50"', 'input = "leak.q5"', "leak.q5", "search 1, input: Variant 'sweep 1' has no"),
        (SEARCH, 'input = "leak.q50"', 'input = "leak.q5"', "leak.q5", "Nearest: 'leak.q50'"),
        (SEARCH, '"leak.q50"', '"finish"', '"finish"', "search 1, input: 'finish' is no number"),
        (SEARCH, '"leak.q50"', '"climate"', '"climate"', "search 1, input: 'climate' is no number"),
        (SEARCH, "input =", "inptu =", "inptu", "search 1, inptu: there is no such key here. Did you mean 'input'"),
        (SEARCH, '[0.1, "10 m3/(m2 hour)"]', "[10, 0.1]", "between", "between: Search over 'leak.q50': between 10 "),
        (SEARCH, '[0.1, "10 m3/(m2 hour)"]', "[1]", "between", "give the lowest and the highest value"),
        (SEARCH, '[0.1, "10 m3/(m2 hour)"]', "[-1, 1]", "between", "search 1, between: "),
        (SEARCH, '[0.1, "10 m3/(m2 hour)"]', '[0.1, "9 mm"]', "between", "air permeability"),
        (SEARCH, '[0.1, "10 m3/(m2 hour)"]', "3", "between", "between: is 3; a list of numbers or texts is needed"),
        (SEARCH, '"largest"', '"biggest"', '"biggest"', "find: is 'biggest'; one of 'smallest', 'largest' is needed"),
        (SEARCH, 'find = "largest"', "", "[[search]]", "search 1: the key 'find' is missing"),
        (
            SEARCH,
            '"moisture content"',
            '"mold"',
            '"mold"',
            "criterion: is 'mold'; one of 'verdict', 'moisture content'",
        ),
        (SEARCH, "between", 'variants = ["none"]\nbetween', '["none"]', "variants: 'none' is no variant. There are: "),
        (
            SEARCH,
            "between",
            'layers = ["film"]\nbetween',
            '["film"]',
            "layers: 'film' is no layer watched. There are: ",
        ),
        (SEARCH, "between", 'layers = ["board"]\nbetween', '["board"]', "layers: no variant has all the inputs"),
        (FILM, "[1, 9]", "[2, 9]", '"moisture content"', "limit for wood, which 'board' is not"),
        (SWEEP, '"9 mm", "15 mm"', '"9 mm", "9 mm"', "over", "over, deck.thickness: Sweep over 'deck.thickness'"),
        (SWEEP, '"9 mm", "15 mm"', '"9 mm", "15 kg"', "over", "over, deck.thickness: "),
        (SWEEP, '"9 mm", "15 mm"', "", "over", "sweep 1, over: makes 0 combinations"),
        (
            SWEEP,
            '"9 mm", "15 mm"',
            str([0.001 * n for n in range(1, 300)])[1:-1],
            "over",
            "over: makes 1196 combinations",
        ),
        (SWEEP, '"white coated metal"', '"no paint"', "over", "over, finish: "),
        (SWEEP, '"deck.thickness"', '"deck.thicknes"', "over", "Nearest: 'deck.thickness'"),
        (SWEEP, '"wet_coast"', '"hut_valley"', "over", "over, climate: climate takes records of weather that "),
        (SWEEP, '"wet_coast"', '"wet_cost"', "wet_cost", "over, climate 2, sample: "),
        (SWEEP, '{ sample = "wet_coast" }', '"wet_coast"', "wet_coast", "a table with the key sample or file"),
        (SWEEP, "variants", "variant", "variant = [", "Did you mean 'variants'?"),
    ],
)
def test_what_cannot_be_tried_is_named_with_line_and_key(block, old, new, line, says):
    assert old in block
    text = TEXT + block.replace(old, new, 1)
    message = refused(text)
    assert says in message
    lines = text.splitlines()
    number = max(n for n, one in enumerate(lines, 1) if line in one and n > TEXT.count("\n"))
    assert message.startswith(f"roof.toml, line {number}, "), message


@pytest.mark.parametrize("key", ["search", "sweep"])
def test_a_heading_in_single_brackets_is_refused(key):
    assert f"is not a list of tables; each has the heading [[{key}]]" in refused(f"{TEXT}\n[{key}]\na = 1\n")


def test_the_same_is_refused_in_python(study):
    with pytest.raises(InputError, match="is no variant"):
        replace(study, searches=(Search(True, "leak.q50", (1, 2), variants=("none",)),))
    with pytest.raises(InputError, match="there are: 'verdict'"):
        replace(study, searches=(Search(True, "leak.q50", (1, 2), criterion="dryness"),))
    with pytest.raises(InputError, match="makes 0 combinations"):
        replace(study, sweeps=(Sweep({}),))
    with pytest.raises(InputError, match="climate takes records"):
        replace(study, sweeps=(Sweep({"climate": ["hut_valley", "wet_coast"]}),))


def test_a_criterion_is_refused_where_it_has_no_limit(study):
    deck, board = study.variants[0], study.variants[2]
    assert criterion("moisture content", board, "board", wood=True) is WETTEST
    with pytest.raises(InputError, match="limit for wood"):
        criterion("moisture content", deck, "deck", wood=False)
    assert criterion("mould index", deck, "deck", None) is MOULD
    bare = deck.assembly.layers[0].material
    unstated = Input("deck.material").put(deck, replace(bare, mould_sensitivity=None))
    with pytest.raises(InputError, match="states no mould sensitivity"):
        criterion("mould index", unstated, "deck", None)
    assert all(criterion(name, deck, "deck", None).limit < math.inf for name in CRITERIA)


# --- run -------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def tried(study):
    return run_trials(study)


def test_a_search_of_a_file_is_that_of_python(study, tried):
    found = tried[0].found
    same = find_largest(
        study.variants[0], "leak.q50", (0.1, 10), study.climate.load(), layer="deck", start="1 October", years=1,
        measure=WETTEST,
    )  # fmt: skip
    assert isinstance(found, Found)
    assert found.trail.equals(same.trail)
    assert found.answer == same.answer
    assert found.value is not None


def test_a_sweep_of_a_file_is_that_of_python_and_passes_where_the_verdict_does_not_fail(study, tried):
    swept = tried[1].found
    base, climate = study.variants[1], study.climate.load()
    other = Sample("wet_coast").load()
    over = {
        "deck.thickness": ["9 mm", "15 mm"],
        "finish": ["new wood", "white coated metal"],
        "climate": [climate, other],
    }
    same = sweep(
        base, over, climate, layer="deck", start="1 October", years=1, measures=measures(base, "deck", None)
    )  # fmt: skip
    assert swept.identical(same)
    assert swept["passes"].equals(swept[VERDICT] <= Level.CAUTION.rank)
    thick = Input("deck.thickness").put(base, "15 mm")
    verdict = combined_verdict(run_of(thick, other.period("1 October", 1)), "deck")
    at = swept.isel(deck_thickness=1, finish=0, climate=1)
    assert at[VERDICT].item() == verdict.level.rank
    assert at["wettest"].item() != swept.isel(deck_thickness=1, finish=0, climate=0)["wettest"].item()


def test_unless_stated_a_search_is_held_to_the_verdict_of_the_report(study):
    asked = replace(study, searches=(Search(False, "leak.q50", ("0.1 m3/(m2 hour)", 10)),), sweeps=())
    found = run_trials(asked)[0].found
    assert found.measure.name == VERDICT
    assert found.value is not None
    climate = study.climate.load().period("1 October", 1)

    def level(q50):
        run = run_of(Input("leak.q50").put(study.variants[0], q50), climate)
        return combined_verdict(run, "deck").level

    assert level(found.value) is not Level.FAILS
    fails = found.trail.loc[~found.trail["passes"], "value"].min()
    assert level(fails) is Level.FAILS
    assert found.value < fails < 1.03 * found.value
    said = of_trials(run_trials(asked))[0]
    assert {row[1] for row in said.tables[0].rows} >= {"✗\u00a0fails"}


# --- told ------------------------------------------------------------------------------------------------------------


def test_the_report_tells_what_was_tried_before_how_sure_it_is(study, tried):
    said = of_trials(tried)
    assert [one.title for one in said] == [
        "sweep 1, deck: the largest leak.q50 that passes",
        "still <b>, deck: combinations of deck.thickness, finish, climate",
    ]
    assert [one.title for one in of_trials((tried[0], tried[0]))][1].endswith("that passes (2)")
    captions = [table.caption for one in of_trials(tried * 2) for table in one.tables]
    assert len(set(captions)) == len(captions)
    assert said[0].words == tried[0].found.answer
    assert said[0].short == f"sweep 1: {tried[0].found.answer}"
    assert "limit" not in "".join(said[1].tables[0].head[:-2])  # the verdict alone decides
    assert len(said[1].tables[0].rows) == 8
    small = replace(study, watch=("deck",), variants=study.variants[:2])
    page = report_html(small, run_study(small), pictures=(), tried=said)
    assert page.index("id='tried'") < page.index("id='sensitivity'")
    assert "still &lt;b&gt;, deck: combinations" in page
    assert "still <b>" not in page
    assert page.index("the largest leak.q50 that passes is") < page.index("id='building'")  # in the answer in short
    assert "beyond the variants themselves and what was tried besides" in page
    assert "[[search]]" in page
    bare = report_html(small, run_study(small), pictures=())
    assert "id='tried'" not in bare
    assert "what was tried besides" not in bare


def test_what_just_fails_is_told_from_what_just_passes(tried):
    rows = of_trials(tried)[0].tables[0].rows
    passing = [float(row[1]) for row in rows if row[2] == "✓"]
    failing = [float(row[1]) for row in rows if row[2] == "✗"]
    assert max(passing) <= WETTEST.limit < min(failing)


@pytest.fixture
def without_pictures_of_the_runs(monkeypatch):
    monkeypatch.setattr(report, "pictures_of", lambda _: ())
    monkeypatch.setattr(command, "_picture_names", lambda _: [])


def test_the_command_tries_tells_and_keeps(tmp_path, capsys, tried, without_pictures_of_the_runs):
    (tmp_path / "roof.toml").write_text(TEXT + SEARCH + SWEEP, encoding="utf-8")
    out = tmp_path / "out"
    assert command.main([str(tmp_path / "roof.toml"), "-o", str(out)]) == 0
    said = capsys.readouterr()
    assert "searching leak.q50 in sweep 1, deck" in said.err
    assert "sweeping deck.thickness, finish, climate in still <b>, deck" in said.err
    assert "the largest leak.q50 that passes is" in said.out
    # The variant 'sweep 1' has its run under its own name, the sweep the next that is free.
    assert {path.name for path in out.iterdir()} == {
        "sweep-1.nc", "sweep-2.nc", "still-b.nc", "boarded.nc", "report.html", "study.toml",
    }  # fmt: skip
    kept = xr.load_dataset(out / "sweep-2.nc", engine="h5netcdf")
    assert np.array_equal(kept["wettest"], tried[1].found["wettest"])
    assert kept["deck_thickness"].attrs["units"] == "m"
    assert "temperature" in xr.load_dataset(out / "sweep-1.nc", engine="h5netcdf")
    again = read_study(out / "study.toml")
    assert again.trials == read_study(tmp_path / "roof.toml").trials


def test_weather_of_a_sweep_that_is_too_short_is_refused_before_a_folder_is_made(tmp_path, capsys):
    place = {"latitude": 60.0, "longitude": 0.0, "elevation": 0.0, "utc_offset": 0.0}
    short = constant_climate(0.0, 0.8, hours=1000).data.assign_attrs(place)
    write_climate(Climate(short), tmp_path / "short.csv")
    text = TEXT + SWEEP.replace('{ sample = "wet_coast" }', '{ file = "short.csv" }')
    (tmp_path / "roof.toml").write_text(text, encoding="utf-8")
    assert command.main([str(tmp_path / "roof.toml"), "-o", str(tmp_path / "out")]) == 2
    assert "roof.toml, sweep, over, climate: " in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_interrupted_while_it_tries_nothing_is_written(tmp_path, capsys, monkeypatch, without_pictures_of_the_runs):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("hygro.studyfile.run_trials", stop)
    (tmp_path / "roof.toml").write_text(TEXT + SEARCH, encoding="utf-8")
    assert command.main([str(tmp_path / "roof.toml"), "-o", str(tmp_path / "out")]) == 130
    assert "nothing was written" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
