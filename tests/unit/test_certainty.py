"""Uncertain inputs in a study file, the members that the command runs of them, and how the report tells it."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from reference.studies import ROOF, WEATHER

import hygro.__main__ as command
from hygro import constant_climate, report, sample_climate
from hygro.climate import Climate, write_climate
from hygro.criteria import combined_verdict
from hygro.ensemble import Choice, LogNormal, Scatter, Triangular, chance_of_passing
from hygro.errors import ClimateError, InputError
from hygro.report import of_ensemble, of_search, of_study, of_sweep
from hygro.report.certainty import section
from hygro.studyfile import (
    Uncertain,
    WeatherYears,
    files_of,
    parse_study,
    prepare_members,
    read_study,
    study_text,
    uncertain_studies,
)
from hygro.studyfile import members as members_module
from hygro.vary import FREE_WATER, WETTEST, find_smallest, sweep

TEXT = (
    """\
title = "A <roof>"
watch = ["deck"]
start = "1 October"
years = 1
members = 3
seed = 5
indoor = { kind = "constant", temperature = 20, relative_humidity = "45 %" }

"""
    + WEATHER
    + ROOF
    + """
[[variant]]
name = "tight"
assembly = "roof"

[[variant]]
name = "leaky <b>"
assembly = "roof"
leak = { q50 = 3, height = "1.2 m", into = false }

[[uncertain]]
input = "leak.q50"
spread = { kind = "lognormal", median = 2, factor = 1.5 }

[[uncertain]]
input = "deck.thickness"
spread = { kind = "triangular", low = "9 mm", likeliest = "12 mm", high = "15 mm" }
variants = ["leaky <b>"]
"""
)
WEATHER = 'input = "climate"\nspread = '
YEARS = '{ kind = "weather years", first = 2010, last = 2020 }'
TWICE = '{ kind = "records", records = [{ sample = "subarctic" }, { sample = "subarctic" }] }'
BOTH = '{ kind = "records", records = [{ sample = "hut_valley" }, { sample = "subarctic" }], weights = [3, 1] }'
Q50 = 'input = "leak.q50"\nspread = { kind = "lognormal", median = 2, factor = 1.5 }'


def refused(text):
    with pytest.raises(InputError) as error:
        parse_study(text, "roof.toml")
    return str(error.value)


def changed(old, new):
    assert TEXT.count(old) == 1, old
    return TEXT.replace(old, new)


# --- the study file --------------------------------------------------------------------------------------------------


def test_a_file_says_what_is_uncertain_where():
    study = parse_study(TEXT)
    assert (study.members, study.seed) == (3, 5)
    assert study.uncertain == (
        Uncertain("leak.q50", LogNormal(2, 1.5)),
        Uncertain("deck.thickness", Triangular("9 mm", "12 mm", "15 mm"), ("leaky <b>",)),
    )
    # Without names it holds where the input is: the tight roof has no leak.
    assert [[one.name for one in each.among(study.variants)] for each in study.uncertain] == [["leaky <b>"]] * 2


@pytest.mark.parametrize(
    "spread",
    [
        '{ kind = "uniform", low = 1, high = 2 }',
        '{ kind = "normal", mean = 2, deviation = 0.5, low = 0.1 }',
        '{ kind = "scatter", variation = "30 %", source = "made up" }',
        '{ kind = "choice", values = [1, "2 m3/(m2 hour)"], weights = [1, 3] }',
        '{ kind = "triangular", low = 1, likeliest = 2, high = 4 }',
    ],
)
def test_every_spread_comes_back_the_same(spread):
    study = parse_study(changed('{ kind = "lognormal", median = 2, factor = 1.5 }', spread))
    assert parse_study(study_text(study)) == study


@pytest.mark.parametrize("spread", [YEARS, BOTH])
def test_uncertain_weather_comes_back_the_same_and_holds_for_every_variant(spread):
    study = parse_study(changed(Q50, f"{WEATHER}{spread}"))
    assert parse_study(study_text(study)) == study
    assert len(study.uncertain[0].among(study.variants)) == 2
    with pytest.raises(InputError, match="uncertain 2, input: input 'climate' is uncertain twice"):
        parse_study(changed(Q50, f"{WEATHER}{spread}\n[[uncertain]]\n{WEATHER}{spread}"))


def test_a_weather_file_among_the_records_is_looked_for_beside_the_study(tmp_path):
    write_climate(sample_climate("subarctic"), tmp_path / "cold.csv")
    text = changed(Q50, WEATHER + BOTH.replace('sample = "subarctic"', 'file = "cold.csv"'))
    (tmp_path / "roof.toml").write_text(text, encoding="utf-8")
    study = read_study(tmp_path / "roof.toml")
    assert study.uncertain[0].spread.records[1].path == tmp_path / "cold.csv"
    assert 'file = "cold.csv"' in study_text(study, tmp_path)
    assert parse_study(study_text(study, tmp_path), "x", tmp_path) == study


def test_uncertain_records_are_what_the_members_run_in():
    studies = uncertain_studies(parse_study(changed(Q50, f"{WEATHER}{BOTH}")))
    assert set(studies) == {("tight", "deck"), ("leaky <b>", "deck")}
    one = studies["tight", "deck"]
    drawn = [one.member(share).climate for share in one.shares(0, 64)]
    assert {climate.title for climate in drawn} == {sample_climate(n).title for n in ("hut_valley", "subarctic")}
    assert sum(climate == sample_climate("hut_valley") for climate in drawn) == 48  # three quarters of an even sequence


def test_uncertain_weather_years_are_those_of_the_record_that_is_stated(tmp_path):
    plain = constant_climate(0.0, 0.8, hours=3 * 8760)  # 2023, which is no leap year, and two years on
    year = xr.DataArray(np.repeat([-5.0, 0.0, 5.0], 8760), dims="time")
    warmer = plain.data.assign(air_temperature=plain.data["air_temperature"] + year)
    with pytest.raises(ClimateError, match="has no latitude"):
        write_climate(Climate(warmer), tmp_path / "long.csv")
    warmer = warmer.assign_attrs(latitude=60.0, longitude=0.0, elevation=0.0, utc_offset=0.0)
    write_climate(Climate(warmer), tmp_path / "long.csv")
    text = changed('sample = "hut_valley"', 'file = "long.csv"').replace(Q50, f"{WEATHER}{YEARS}")
    text = text.replace("first = 2010, last = 2020", "first = 2023, last = 2024").replace("1 October", "1 January")
    (tmp_path / "roof.toml").write_text(text, encoding="utf-8")
    one = uncertain_studies(read_study(tmp_path / "roof.toml"))["tight", "deck"]
    drawn = [one.member(share) for share in one.shares(0, 16)]
    assert {round(float(case.climate.data["air_temperature"].mean())) for case in drawn} == {-5, 0}
    late = read_study(tmp_path / "roof.toml")
    with pytest.raises(InputError, match="the record covers"):
        uncertain_studies(replace(late, uncertain=(Uncertain("climate", WeatherYears(2023, 2026)),)))


def test_every_distribution_that_there_is_can_be_stated():
    stated = {kind.make for kind in members_kinds()}
    assert {Choice, LogNormal, Scatter, Triangular} < stated
    assert len(stated) == 6


def members_kinds():
    from hygro.studyfile import kinds

    return kinds.SPREADS


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ('input = "leak.q50"', 'input = "leak.q5"', 'input = "leak.q5"', "uncertain 1, input: Variant 'tight' has no"),
        ('input = "deck.thickness"', 'input = "deck.thicknes"', "deck.thicknes", "Nearest: 'deck.thickness'"),
        ("median = 2, factor = 1.5", "median = 2, factor = 0.5", "factor = 0.5", "uncertain 1, spread, factor: "),
        ('high = "15 mm"', 'high = "15 m"', 'high = "15 m"', "uncertain 2, spread: "),
        ('variants = ["leaky <b>"]', 'variants = ["lea"]', 'variants = ["lea"]', "uncertain 2, variants: "),
        ('variants = ["leaky <b>"]', 'variant = ["leaky <b>"]', "variant = [", "Did you mean 'variants'?"),
        (Q50, f"{Q50}\n[[uncertain]]\n{Q50}", None, "uncertain 2, input: input 'leak.q50' is uncertain twice"),
        ('input = "leak.q50"', 'input = "climate"', "spread = ", "uncertain 1, spread: spread: the input 'climate' is"),
        (
            Q50,
            f"{Q50.split('spread')[0]}spread = {YEARS}",
            "weather years",
            "uncertain 1, spread: spread: weather years",
        ),
        (Q50, f"{WEATHER}{YEARS.replace('2020', '2010')}", "weather years", "whole numbers that rise"),
        (Q50, f"{WEATHER}{YEARS.replace('2020', '2.5')}", "weather years", "spread, last: is 2.5; a whole number"),
        (Q50, f"{WEATHER}{TWICE}", "records", "uncertain 1, spread, records: Records: records needs at least two"),
        (Q50, f"{WEATHER}{TWICE.replace('sub', 'sup', 1)}", "records", "uncertain 1, spread, records 1, sample: "),
        (Q50, f"{WEATHER}{TWICE.replace('sample', 'file', 1)}", "records", "records 1, file: there is no file"),
        (
            'kind = "lognormal"',
            'kind = "lognorm"',
            'kind = "lognorm"',
            "no spread of the kind 'lognorm'. Did you mean 'lognormal'",
        ),
        ("members = 3", "members = 0", "members = 0", "members: members is 0; a whole number from 1"),
        ("seed = 5", "seed = -1", "seed = -1", "seed: seed is -1; a whole number from 0"),
        ("members = 3", 'members = "3"', "members = ", "members: is '3'; a whole number is needed"),
    ],
)
def test_what_cannot_be_is_named_with_line_and_key(old, new, line, says):
    text = changed(old, new)
    message = refused(text)
    assert says in message
    if line is not None:
        number = next(n for n, one in enumerate(text.splitlines(), 1) if line in one)
        assert message.startswith(f"roof.toml, line {number}, "), message


def test_members_of_nothing_uncertain_are_refused():
    message = refused(TEXT[: TEXT.index("[[uncertain]]")])
    assert message.startswith("roof.toml, line 5, members: ")
    assert "nothing is uncertain" in message
    assert "each uncertain input has the heading [[uncertain]]" in refused(
        TEXT[: TEXT.index("[[uncertain]]")].replace("[climate]", "[uncertain]\na = 1\n[climate]")
    )


# --- members ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module", autouse=True)
def _no_pictures_of_the_runs():
    """Those are tested elsewhere and take longer than all else here."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(report, "pictures_of", lambda _: ())
        patch.setattr(command, "_picture_names", lambda _: [])
        yield


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    folder = tmp_path_factory.mktemp("members")
    (folder / "roof.toml").write_text(TEXT, encoding="utf-8")
    code = command.main([str(folder / "roof.toml"), "-o", str(folder / "out")])
    return folder, code


KEY = ("leaky <b>", "deck")


@pytest.fixture(scope="module")
def study(ran):
    return read_study(ran[0] / "roof.toml")


@pytest.fixture(scope="module")
def ensemble(ran):
    return xr.load_dataset(ran[0] / "out" / "leaky-b-members.nc", engine="h5netcdf")


def test_a_member_is_judged_as_the_report_judges(study, ensemble):
    uncertain = uncertain_studies(study)
    assert list(uncertain) == [KEY]
    case = uncertain[KEY].member(uncertain[KEY].shares(0, 3)[1])
    verdict = combined_verdict(case.run(), "deck")
    assert float(ensemble["verdict"][1]) == verdict.level.rank
    assert float(ensemble["deck_thickness"][1]) == case.variant.assembly.layers[0].thickness
    assert chance_of_passing(ensemble).passing == int((ensemble["verdict"] <= 1).sum())
    assert chance_of_passing(ensemble, "verdict", limit=0).passing == int((ensemble["verdict"] == 0).sum())


def test_the_command_runs_the_members_and_the_report_tells(ran, ensemble):
    folder, code = ran
    assert code == 0
    assert ensemble.sizes["member"] == 3
    page = (folder / "out" / "report.html").read_text(encoding="utf-8")
    assert "How sure this is: of 3 members of each variant" in page
    assert "so many do not fail: leaky &lt;b&gt; " in page
    assert "Nothing is stated as uncertain in: tight." in page
    assert "half below 2 m³/(m² h), two thirds between 1.333" in page
    assert "A ranking needs 64 members or more; there are 3." in page
    assert page.count("alt='Band of the moisture content") == 1


def test_more_members_keep_those_that_are_there(ran, ensemble, monkeypatch, capsys):
    folder, _ = ran
    new = []
    real = members_module.run_ensemble

    def watched(one, members, path, **options):
        before = xr.load_dataset(path, engine="h5netcdf").sizes["member"] if path.exists() else 0
        new.append(members - before)
        return real(one, members, path, **options)

    monkeypatch.setattr(members_module, "run_ensemble", watched)
    asked = [str(folder / "roof.toml"), "-o", str(folder / "out"), "--members", "4"]
    assert command.main(asked) == 2  # the report is there already
    assert command.main([*asked, "--replace"]) == 0
    assert new == [1]
    grown = xr.load_dataset(folder / "out" / "leaky-b-members.nc", engine="h5netcdf")
    assert np.array_equal(grown["wettest"][:3], ensemble["wettest"])
    assert "How sure this is: of 4 members" in capsys.readouterr().out


def test_results_of_another_study_are_not_taken_for_this_one(study, ran, tmp_path):
    uncertain = uncertain_studies(study)
    path = tmp_path / "one.nc"
    note = tmp_path / "one.nc.parts" / "study.json"
    note.parent.mkdir()
    note.write_text(json.dumps({"study": "another"}), encoding="utf-8")
    with pytest.raises(InputError, match="results of another study"):
        prepare_members(uncertain, {KEY: path}, 2, replace=False)
    prepare_members(uncertain, {KEY: path}, 2, replace=True)
    assert not note.exists()


def test_results_of_members_never_take_the_file_of_a_run():
    uncertain = dict.fromkeys([("leaky", "deck"), ("leaky", "lining"), ("leaky members", "deck")], None)
    stems = {"leaky": "leaky", "leaky members": "leaky-members", "third": "leaky-members-3"}
    files = files_of(uncertain, stems, Path("out"))
    names = [path.name for path in files.values()]
    assert names == ["leaky-members-2.nc", "leaky-members-4.nc", "leaky-members-members.nc"]
    with pytest.raises(InputError, match="no file name for the variant 'leaky'"):
        files_of(uncertain, {}, Path("out"))


def test_stopped_it_says_how_to_go_on(ran, tmp_path, monkeypatch, capsys):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(members_module, "run_ensemble", stop)
    monkeypatch.setattr("hygro.studyfile.run_study", lambda *_: ())
    assert command.main([str(ran[0] / "roof.toml"), "-o", str(tmp_path / "out")]) == 130
    assert f"to go on, run the same with -o {tmp_path / 'out'}" in capsys.readouterr().err


def test_stopped_while_the_report_is_made_it_says_the_same(ran, tmp_path, monkeypatch, capsys):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(report, "report_html", stop)
    out = tmp_path / "out"
    assert command.main([str(ran[0] / "roof.toml"), "-o", str(out), "--members", "1"]) == 130
    assert "the members that were finished are kept" in capsys.readouterr().err
    assert [path.name for path in out.iterdir()] == ["leaky-b-members.nc"]
    assert command.main([str(ran[0] / "roof.toml"), "-o", str(tmp_path / "none"), "--members", "0"]) == 130
    assert "nothing was written" in capsys.readouterr().err


def test_no_members_are_run_where_none_are_asked_for(study, tmp_path):
    options = command.parser().parse_args(["roof.toml", "--members", "0"])
    assert command._Members(study, options, {"tight": "tight.nc", "leaky <b>": "leaky-b.nc"}, tmp_path).run() == {}
    said = section(study, ())
    assert "Stated as uncertain, but no members were run: leak.q50 and deck.thickness." in said
    assert "Nothing was varied" in said


@pytest.mark.parametrize("count", ["-1", "2.5", "many", "1000000"])
def test_a_number_of_members_that_cannot_be_is_refused(ran, count, capsys):
    assert command.main([str(ran[0] / "roof.toml"), f"--members={count}"]) == 2
    assert "is not a whole number of members from 0 to" in capsys.readouterr().err


def test_members_of_a_file_without_anything_uncertain_are_refused_before_a_folder_is_made(tmp_path, capsys):
    text = TEXT[: TEXT.index("[[uncertain]]")].replace("members = 3\n", "")
    (tmp_path / "roof.toml").write_text(text, encoding="utf-8")
    assert command.main([str(tmp_path / "roof.toml"), "-o", str(tmp_path / "out"), "--members", "8"]) == 2
    assert "state [[uncertain]] inputs" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_inputs_are_listed_by_name(ran, capsys):
    assert command.main([str(ran[0] / "roof.toml"), "--inputs"]) == 0
    said = capsys.readouterr().out
    assert said.index("tight") < said.index("leaky <b>") < said.index("leak.q50")
    assert "12 mm" in said


# --- the report ------------------------------------------------------------------------------------------------------


def many(members=256):
    """An ensemble of figures that were made up: the first input decides, the second does nothing."""
    random = np.random.default_rng(5)
    first = random.random(members)
    second = random.random(members)
    rank = np.where(first > 0.75, 2.0, np.where(first > 0.5, 1.0, 0.0))
    days = np.datetime64("2024-01-01T12", "ns") + np.arange(365) * np.timedelta64(24, "h")
    endless = {"limit": float("inf"), "units": "%", "long_name": "highest moisture content"}
    return xr.Dataset(
        {
            "leak_q50": ("member", first, {"distribution": "anything <x>"}),
            "gap_blocked": ("member", second, {"distribution": "anything"}),
            "wettest": ("member", 10.0 + 10.0 * first, endless),
            "verdict": ("member", rank, {"limit": 1.0, "units": "1", "long_name": "verdict"}),
            "moisture_content": (("member", "day"), np.outer(10.0 + first, np.ones(365)), {"units": "%"}),
            "solved": ("member", np.ones(members, dtype=np.int8)),
        },
        {"day": days},
        {
            "measures": json.dumps(["wettest", "verdict"]), "layer": "deck", "title": "ensemble of x", "seed": 0,
            "uncertain": json.dumps({"leak_q50": "leak.q50", "gap_blocked": "gap.blocked"}), "start": "1 October",
            "years": 2, "climate": "a valley",
        },
    )  # fmt: skip


def test_what_decides_and_what_does_not_are_told():
    made = many()
    said = of_ensemble(made, title="mine")
    ranked = said.tables[-1]
    assert [row[0] for row in ranked.rows] == ["leak.q50", "gap.blocked"]
    assert "not told from chance" in ranked.rows[1][1]
    assert ranked.rows[0][3] == "more gives more"
    assert "What matters most for the highest moisture content: leak.q50." in said.words
    passing = int((made["verdict"] <= 1).sum())
    assert f"{passing} of them pass: {100 * passing / 256:.3g} %" in said.words
    assert [one.name for one in said.pictures] == ["band-mine", "ranking-mine"]
    assert all(one.png.startswith(b"\x89PNG") for one in said.pictures)


def test_members_are_counted_by_their_verdict(study):
    made = many()
    first, each = of_study(study, {KEY: made})
    row = first.tables[0].rows[0]
    counts = [int((made["verdict"] == rank).sum()) for rank in range(3)]
    assert list(row[2:5]) == counts
    assert sum(counts) == 256
    assert each.title == "leaky <b>, deck"
    assert of_study(study, {}) == ()


def test_a_sweep_is_told_with_every_combination(study):
    climate = study.climate.load()
    base = study.variants[1]
    swept = sweep(
        base, {"deck.thickness": ["9 mm", "15 mm"]}, climate, layer="deck", start="1 October", years=1,
        measures=(WETTEST, FREE_WATER),
    )  # fmt: skip
    said = of_sweep(swept)
    rows = said.tables[0].rows
    assert [row[0] for row in rows] == ["9 mm", "15 mm"]
    assert [row[-1] for row in rows] == ["✓" if one else "✗" for one in swept["passes"].to_numpy()]
    assert f"{int(swept['passes'].sum())} of 2 pass" in said.words
    assert len(said.pictures) == 1
    with pytest.raises(InputError, match="A sweep is what"):
        of_sweep(xr.Dataset())


def test_a_search_is_told_with_its_trail(study):
    found = find_smallest(
        study.variants[1], "deck.thickness", ("9 mm", "15 mm"), study.climate.load(), layer="deck",
        start="1 October", years=1, closeness=0.5,
    )  # fmt: skip
    said = of_search(found)
    assert said.words == found.answer
    assert len(said.tables[0].rows) == len(found.trail)
    assert [row[2] == "✓" for row in said.tables[0].rows] == list(found.trail.sort_values("value")["passes"])
    with pytest.raises(InputError, match="A search is what"):
        of_search("9 mm")
