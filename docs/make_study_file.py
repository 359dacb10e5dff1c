"""Write docs/study-file.md, the page of every key that a study file may have, and the demo as an example file.

python docs/make_study_file.py
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from hygro import demo
from hygro.indoor import StandardCurves
from hygro.studyfile import kinds, study_text, substances, toml, weatherkinds
from hygro.studyfile.examples import example_names
from hygro.studyfile.forms import Kind
from hygro.studyfile.trials import MOST_COMBINATIONS

PAGE = Path(__file__).parent / "study-file.md"
ROOF = Path(__file__).parents[1] / "hygro" / "studyfile" / "examples" / "roof.toml"

HEAD = """\
# The study file

<!-- Made by docs/make_study_file.py; change that, not this. -->

A study file says in plain text what is asked, how it is built, and in which weather. It needs no Python:

- `python -m hygro --example roof` copies an example into the folder you are in ({examples} are there);
- change it in any text editor and save it;
- `python -m hygro roof.toml -o my-roof` runs it and writes the folder `my-roof`: `report.html` to read and to hand on,
  pictures, the runs as NetCDF, and `study.toml`, which gives the same study again;
- `python -m hygro roof.toml -o my-roof --members 64` also runs every variant 64 times with other values of what the
  file states as uncertain, and the report says how likely each passes. Stopped, it goes on where it was; asked for more
  members, it keeps those that are there (say `--replace`, the report exists already);
- with `[[search]]` and `[[sweep]]` in the file it also seeks the smallest gap, the most leakage and the like that still
  pass, and runs combinations of inputs.

From Python: `hygro.read_study(path)`, `hygro.run_study(study)` and `hygro.write_study(study, path)`.

## How it is written

The file is [TOML](https://toml.io): `key = value`, text in quotes, tables under a heading in brackets, and `#` before a
remark. Plain keys of the study come before the first heading. A quantity is text with its unit, such as `"18 mm"`,
`"3/4 in"`, `"5 perm"` or `"45 %"`, or a bare number in the unit in square brackets. `false` says that there is none,
where that can be said. Something wrong is named with its line and key, and the nearest key that exists.

```toml
{small}```

## The study

{top}
"""

SMALL = """\
title = "Does my wall stay dry?"
watch = ["sheathing"]
start = "1 October"
years = 3
indoor = { kind = "constant", temperature = "20 degC", relative_humidity = "45 %" }

[climate]
sample = "hut_valley"

[assembly.wall]
tilt = "90 deg"
azimuth = "180 deg"
finish = "new wood"
parts = [
    { layer = "softwood across grain", thickness = "22 mm", name = "cladding" },
    { gap = "25 mm", length = "2.4 m", flow = { kind = "fixed air change", rate = "50 1/hour" } },
    { sheet = "breather membrane" },
    { layer = "OSB", thickness = "12 mm", name = "sheathing" },
    { layer = "mineral wool batt", thickness = "140 mm" },
    { sheet = "my retarder", permeance = "0.5 perm" },
    { layer = "gypsum board", thickness = "12.5 mm" },
]

[[variant]]
name = "tight"
assembly = "wall"

[[variant]]
name = "leaky"
assembly = "wall"
leak = { q50 = "3 m3/(m2 hour)", height = "1.2 m", into = "sheathing" }
"""

UNSURE = """\
[[uncertain]]
input = "leak.q50"
spread = { kind = "lognormal", median = "1 m3/(m2 hour)", factor = 2 }
variants = ["leaky"]

[[uncertain]]
input = "sheathing.times_sorption"
spread = { kind = "scatter", variation = "10 %", source = "density of wood, Wood Handbook" }
"""

UNSURE_WEATHER = """\
[climate]
file = "twelve-winters.csv"

[[uncertain]]
input = "climate"
spread = { kind = "weather years", first = 2010, last = 2020 }
"""

SEVERE = """\
[climate]
file = "thirty-years.csv"
severe_year = "cold"
shift = { temperature = "2 K", keep = "relative humidity", rain = 1.2 }
"""

TRIED = """\
[[search]]
find = "smallest"
input = "gap.thickness"
between = ["5 mm", "50 mm"]

[[search]]
find = "largest"
input = "leak.q50"
between = ["0.1 m3/(m2 hour)", "10 m3/(m2 hour)"]
criterion = "mould index"
variants = ["leaky"]

[[sweep]]
over = { "my retarder.permeance" = ["0.1 perm", "0.5 perm", "2 perm"], "leak.q50" = [0.3, 3] }
"""

TOP = {
    "title": "Heading of the report.",
    "question": "What is asked, in plain words.",
    "building": "What stands there, in plain words.",
    "watch": "Names of the layers that are judged. Each is in at least one variant, and each variant has at least one.",
    "start": 'First day, such as `"1 October"`.',
    "years": "Years to run, 1 to 20. One is too short to tell whether water collects.",
    "wood": "Whether the limits for wood apply to the layers watched; what their materials say unless stated.",
    "also": "Criteria that the report gives besides: `30-day humidity`, `fasteners` (do they rust), and `summer "
    "condensation` (for the layer against the outside of the vapour retarder). They do not change the verdict.",
    "members": "How many members are run of each variant with an uncertain input, each with other values of it; a "
    "power of two is best, 64 or more rank the inputs. None unless stated, here or with `--members`.",
    "seed": "Which of the scrambled sequences the members are from, a whole number; 0 unless stated.",
    "assumed": "Table of names and words: what you chose without being asked. It goes into the report.",
    "climate": "Table: the weather, see below.",
    "indoor": "The air indoors of every variant that states none of its own, see below.",
    "leak": "The air that leaks in every variant that states nothing of its own, see below.",
    "initial": "The state at the first hour in every variant that states none of its own, see below.",
    "rain": "The rain on every variant that states none of its own, see below.",
    "snow": "The snow on every variant that states none of its own, see below.",
    "material": 'Tables `[material."my board"]`: yours, see below. They go before those of the library.',
    "sheet": 'Tables `[sheet."my membrane"]`: sheets of your own, see below.',
    "finish": 'Tables `[finish."my paint"]`: outer faces of your own, see below.',
    "assembly": 'Tables `[assembly."my roof"]`: build-ups, see below.',
    "variant": "Headings `[[variant]]`: the ways of building that are compared, see below.",
    "uncertain": "Headings `[[uncertain]]`: inputs that are not known for sure, see below.",
    "search": "Headings `[[search]]`: smallest or largest values that are sought, see below.",
    "sweep": "Headings `[[sweep]]`: combinations of inputs that are run, see below.",
}

SECTIONS: tuple[tuple[str, str, tuple[Kind, ...]], ...] = (
    ("A variant", "Each `[[variant]]` differs from every other in more than its name.", (kinds.VARIANT,)),
    (
        "The weather",
        "`[climate]` has the key `sample` (hut_valley, wet_coast or subarctic, all invented) or the key `file`. "
        "A file is looked for beside the study. EPW, TMY3 and the CSV that this package writes need no more.",
        (weatherkinds.WEATHER,),
    ),
    (
        "A weather file with columns of its own",
        "Any hourly CSV will do once `columns` says which column is what.",
        (weatherkinds.WEATHER_COLUMNS,),
    ),
    (
        "A severe year, another climate",
        "Beside `sample` or `file`. `severe_year` takes the year of a record of ten or more that is exceeded once in "
        "ten: by how `cold` it is (heating degree days, for what gets wet from indoors), how `warm`, how `rainy` or "
        "how `damp` (relative humidity). `shift` is a table of changes for a what-if; of a severe year where both are "
        "stated. Records of weather in `[[sweep]]` and `[[uncertain]]` take them too, so that two climates can be set "
        f"side by side.\n\n```toml\n{SEVERE}```",
        (weatherkinds.SHIFT,),
    ),
    ("A build-up", 'Under `[assembly."its name"]`.', (kinds.ASSEMBLY,)),
    ("A layer", "A part with the key `layer`.", (kinds.LAYER,)),
    ("A sheet", "A part with the key `sheet`: a membrane, foil, felt or coat.", (kinds.SHEET,)),
    ("A vent gap", "A part with the key `gap`. At most one in a build-up, between two layers.", (kinds.GAP,)),
    ("What drives the air in a gap", "`flow`, by its `kind`.", kinds.FLOWS),
    ("The air that leaks", "`leak`, for all variants or for one.", (kinds.LEAK,)),
    ("Rain on the outer face", "`rain`, for all variants or for one, by its `kind`.", kinds.RAIN),
    ("Snow on the roof", "`snow`, for all variants or for one, by its `kind`.", kinds.SNOW),
    ("The state at the start", "`initial`, for all variants or for one.", (kinds.START,)),
    (
        "The air indoors",
        'By its `kind`. Where nothing more is stated, the word alone will do: `indoor = "standard curves"`.',
        kinds.INDOOR,
    ),
    ("The airtightness test of a household", "`infiltration` as a table.", (kinds.INFILTRATION,)),
    ("What gives off moisture in a household", "`sources`, a list of tables, by their `kind`.", kinds.SOURCES),
    ("The ventilator of a household", "`ventilator`.", (kinds.VENTILATOR,)),
    ("Its frost protection", "`frost_protection`, by its `kind`.", kinds.FROST),
    ("The extract fan of a household", "`extract`.", (kinds.EXTRACT,)),
    ("Surfaces that buffer", "`buffers`, a list of tables.", (kinds.BUFFER,)),
    ("The dehumidifier of a household", "`dehumidifier`.", (kinds.DEHUMIDIFIER,)),
    (
        "What is not known for sure",
        "Each `[[uncertain]]` is one input, spread independently of the others. Inputs are named as "
        "`python -m hygro my-study.toml --inputs` lists them: a layer or a sheet by its name, then `gap`, `leak`, "
        "`rain` and `snow` where they are stated, `indoor`, `start`; and `climate`, the weather. Curves of materials "
        "are changed as a whole by `times_...`, which is 1 as stated. One ensemble is run for each variant and each "
        "layer watched in it; a member passes where its verdict does not fail.\n\n"
        f"```toml\n{UNSURE}```",
        (kinds.uncertain_kind(None),),
    ),
    ("How an uncertain input is spread", "`spread`, by its `kind`.", kinds.SPREADS),
    (
        "Weather that is not known for sure",
        "`spread` of the input `climate`, by its `kind`. What the study states under `[climate]` is the weather of the "
        "single run.\n\n"
        f"```toml\n{UNSURE_WEATHER}```",
        weatherkinds.weather_spreads(None),
    ),
    (
        "The smallest or the largest that still passes",
        "Each `[[search]]` runs one variant again and again with other values of one input, until the last that passes "
        "and the first that does not lie within 2 % of the range (of the value, where the range is wide). It is done "
        "for each variant that has the input and each layer watched in it. Inputs are named as for `[[uncertain]]`. "
        "The report shows the answer and every value that was tried, and says where it does not go one way.\n\n"
        f"```toml\n{TRIED}```",
        (kinds.SEARCH,),
    ),
    (
        "Combinations of inputs",
        "Each `[[sweep]]` runs every combination of the values listed, at most "
        f"{MOST_COMBINATIONS}, for each variant that has all of the inputs and each layer watched in it. The report "
        "shows them as a table and a curve, and says which pass; `sweep-1.nc` and so on hold them for xarray.",
        (kinds.sweep_kind(None),),
    ),
    ("A material of your own", 'Under `[material."its name"]`. Rows are written `[[0.5, 40], [0.8, 70], [1.0, 300]]`.',
     (substances.MATERIAL,)),
    ("A sheet of your own", 'Under `[sheet."its name"]`.', (substances.SHEET_MATERIAL,)),
    ("An outer face of your own", 'Under `[finish."its name"]`.', (substances.FINISH,)),
)  # fmt: skip

CURVES = (
    ("Vapour resistance from a data sheet", "`vapour_resistance` as a table.", substances.RESISTANCE),
    ("Other ways to state sorption", "`sorption` as a table.", substances.SORPTION),
    ("How liquid water moves", "`liquid`, a table.", substances.LIQUID),
)


def page() -> str:
    """The page."""
    top = _table(
        (
            f"`{name}`", "needed" if name in toml.REQUIRED else "",
            toml.PLAIN[name].words if name in toml.PLAIN else "table", TOP[name],
        )
        for name in toml.TOP
    )  # fmt: skip
    examples = " and ".join(f"`{name}`" for name in example_names())
    parts = [HEAD.format(examples=examples, small=SMALL, top=top)]
    for title, intro, listed in SECTIONS:
        parts.append(f"## {title}\n\n{intro}\n")
        parts += [_kind(one, f'`kind = "{one.word}"`' if one.word else "") for one in listed]
    for title, intro, models in CURVES:
        parts.append(f"## {title}\n\n{intro}\n")
        parts += [_kind(one, "") for one in models.values()]
    return "\n".join(parts)


def roof() -> str:
    """The demo as a study file."""
    head, _, rest = study_text(demo.hut_study(StandardCurves())).partition("\n\n")
    return f"{head}\n# Change what you like and run it:  python -m hygro roof.toml -o my-roof\n\n{rest}"


def _kind(kind: Kind, heading: str) -> str:
    about = _plain((kind.make.__doc__ or "").strip().split("\n")[0]) if kind.word else ""
    head = f"{heading}: {about[:1].lower()}{about[1:]}\n\n" if heading else ""
    rows = []
    for key in kind.keys.values():
        usual = "needed" if key.required else _usual(key.default)
        if key.name == "name" and kind in toml.DEFINED.values():
            usual = "that of its heading"
        if kind is kinds.VARIANT and key.name in kinds.SHARED:
            usual = "that at the top"
        form = key.form.words + (", or `false` for none" if key.nullable else "")
        rows.append((f"`{key.name}`", usual, _plain(form), _plain(key.words, none=key.nullable)))
    return head + (_table(rows) if rows else "No further key.\n")


def _usual(default: object) -> str:
    if default is None:
        return ""
    if isinstance(default, tuple):
        return f"`{list(default)}`"
    if hasattr(default, "name"):
        return f"`{default.name!r}`"
    return f"`{str(default).lower() if isinstance(default, bool) else default}`"


def _plain(words: str, *, none: bool = False) -> str:
    """Words of a docstring for somebody who writes no Python; `none` where false can be said."""
    words = words.replace("math.inf", "inf").replace("``", "`").replace("|", "\\|")
    if none:
        words = re.sub(r"\bNone\b", "`false`", words)
    words = words.replace("True or False", "true or false").replace("'", "`") if words.startswith("one of '") else words
    return re.sub(r"`materials\.names\(\"finishes\"\)`", "the library", words)


def _table(rows: Iterable[tuple[str, str, str, str]]) -> str:
    lines = ["| key | needed, or usual value | written as | meaning |", "| --- | --- | --- | --- |"]
    return "\n".join([*lines, *(f"| {' | '.join(row)} |" for row in rows)]) + "\n"


if __name__ == "__main__":
    for path, text in ((PAGE, page()), (ROOF, roof())):
        path.write_text(text, encoding="utf-8")
        print(f"Written: {path}")
