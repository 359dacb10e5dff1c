"""Write docs/validation.md: every check against something outside, as the tests made it, and figures of the cases.

``python docs/make_validation.py`` runs the tests that make such checks, keeps their rows in docs/validation.csv, draws
the figures, and writes the page from the rows. ``--page`` writes the page alone, ``--figures`` page and figures;
test files as arguments renew their rows alone.
The rows are pinned by the tests themselves (``tests/evidence.py``), the page by ``tests/contracts``.
"""

from __future__ import annotations

import ast
import math
import subprocess
import sys
from itertools import groupby
from pathlib import Path

ROOT = Path(__file__).parents[1]
TESTS = ROOT / "tests"
sys.path[:0] = [str(TESTS), str(TESTS / "peer"), str(ROOT)]

import evidence  # noqa: E402

TARGET = Path(__file__).with_name("validation.md")
IMAGES = Path(__file__).with_name("images")
FOLDERS = ("physics", "published", "peer")

HEAD = """# Validation

Written by `python docs/make_validation.py` from what the tests compare; change those, not this page.

Every row is a check against something outside the package, asserted by the test file named over the table in every run
of the test suite. A test fails when its row here is no longer true, so this page cannot say what the tests do not.

{count} checks of {values} values. Where many values were compared at once, the row is the worst of them, seen against
its tolerance. Every tolerance was met; {measured} rows set a measurement beside the model without one.

## How to read it

The last column names a source below the table. What a source is worth, best first:

- *exact*: a closed form or a series, evaluated in the test.
- *standard*: a formula or value that a standard or handbook lays down. All are quoted from memory.
- *published*: a value printed in a paper, from memory.
- *library*: another open-source implementation, run in the test.
- *independent*: the same specification solved another way for this project. It finds errors of solution, not of the
  specification.
- *measured*: measured in the field by others. Weather, openings and materials are then known in part only.

**What no row here shows.** The printed result bands of the international benchmark series and the printed table of
EN 15026 were not at hand: both are replaced by independent solutions of the same specification. The wall with air flow
and the response with rain are known in part only; what stands in for the rest is said at the top of
`tests/peer/in_part.py`. And no test of the solver proves that a material value is right for the product on your site.

**What does not fit.** Beside house R6 the metal roof is damper in summer than measured, its air holds more vapour, its
mould index is higher, it is warmer in the sun and colder at night: the case lacks the attic under the underlay. Under
the tiles of house R4 it is the other way round: the sensor was damper in winter than the case, with a high mould index
where the case has a low one; it stood at saturation in December and may have been wet. All three roofs are colder in
the yearly mean than measured, by less than 2 K. The boarded roof R3 has about half the hours above 90 % that were
measured. Air in the cavity behind boards is about twice as fast as in the measured hut, at a windier place and with
openings that are not those of the hut: there the wind is reckoned over the openings of opposite walls. Over two
openings of the same wall (`outlet_bearing`), which a cavity has, warmth alone drives the air, at less than half the
measured speed; the truth lies between. The weather of all of them is not that of the measurements, and nothing was
fitted. `tests/published/test_measured.py` asserts these sentences.

## Figures

{figures}
"""

FIGURES = {
    "step-change": "EN 15026: a step of temperature and humidity on a half space, against the similarity solution.",
    "drying": "Benchmark 2 of the international series: isothermal drying, against its series.",
    "insulated-roof": "Benchmark 1 with a smooth climate: water under the seal of an insulated roof.",
    "air-flow-wall": "Benchmark 3 in part: air leaves for 20 days, then enters; against CVODE on six times the cells.",
    "rain-response": "Benchmark 4 in part: two rains on a wall, against CVODE on six times the cells.",
    "inside-insulation": "Benchmark 5: capillary-active insulation inside a brick wall, after 60 days.",
    "deck-years": "A deck over three years under tight and open tops, against finite volumes on two grids.",
    "heat-wave": "A day's temperature wave into wood: amplitude and lag.",
    "gap-air": "Air along a gap under a cold sheet.",
    "peer-year": "A real year of a vented roof, against CVODE.",
    "mould": "Mould index at constant conditions, classes of sensitivity, against another evaluation of the equations.",
    "measured": "Three measured roofs beside the nearest cases that can be stated, three invented years each.",
}


def files() -> list[Path]:
    """Test files that check against something outside."""
    every = [path for folder in FOLDERS for path in sorted((TESTS / folder).glob("test_*.py"))]
    return [path for path in every if "from evidence import" in path.read_text(encoding="utf-8")]


def renew(tests: list[Path]) -> None:
    """Run test files and put their rows in place of those written, files in the order of the page."""
    every = files()
    fresh = evidence.ROWS.with_suffix(".new")
    command = [sys.executable, "-m", "pytest", "-q", *map(str, tests), f"--write-rows={fresh}"]
    subprocess.run(command, check=True, cwd=ROOT)
    found = evidence.read(fresh)
    fresh.unlink()
    ran = {path.relative_to(TESTS).as_posix() for path in tests}
    kept = [row for row in evidence.read() if row.test.split("::")[0] not in ran] if evidence.ROWS.exists() else []
    place = {path.relative_to(TESTS).as_posix(): number for number, path in enumerate(every)}
    rows = [row for row in [*kept, *found] if row.test.split("::")[0] in place]
    evidence.write(sorted(rows, key=lambda row: place[row.test.split("::")[0]]))


def _number(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.4g}".replace("e-0", "e-").replace("e+0", "e")


def _reference(row: evidence.Row) -> str:
    return _number(row.low) if row.low == row.high else f"{_number(row.low)} to {_number(row.high)}"


def _line(row: evidence.Row, numbers: dict[tuple[str, str], int]) -> str:
    worst = f" (worst of {row.count})" if row.count > 1 else ""
    spread = f" ± {row.spread:.2g}" if row.spread > 0.0 else ""
    tolerance = _number(row.tolerance) or "not asserted"
    small = abs(row.difference) < 1e-6 * max(abs(row.low), abs(row.high))
    difference = "0" if row.difference == 0.0 else "< 1e-6 of it" if small else f"{row.difference:+.2g}"
    source = numbers[row.grade, row.source]
    unit = "" if row.unit == "1" else row.unit
    cells = (row.check + worst, unit, _number(row.ours) + spread, _reference(row), difference, tolerance, str(source))
    return "| " + " | ".join(cells) + " |"


def _section(path: str, rows: list[evidence.Row]) -> list[str]:
    """A test file's rows as a table under the first line of what it says of itself."""
    doc = ast.get_docstring(ast.parse((TESTS / path).read_text(encoding="utf-8"))) or path
    title = doc.split("\n\n")[0].replace("\n", " ").split(": ")[0].rstrip(".")
    numbers = {pair: n for n, pair in enumerate(dict.fromkeys((row.grade, row.source) for row in rows), start=1)}
    lines = [f"### {title}", "", f"`tests/{path}`", ""]
    lines += ["| check | unit | hygro | reference | difference | tolerance | source |", "|" + " --- |" * 7]
    lines += [_line(row, numbers) for row in rows]
    return [*lines, "", *(f"{n}. *{grade}*: {source}" for (grade, source), n in numbers.items()), ""]


def page(rows: list[evidence.Row] | None = None) -> str:
    """The whole page."""
    rows = evidence.read() if rows is None else rows
    figures = "\n\n".join(f"![{text}](images/validation-{name}.png)\n\n*{text}*" for name, text in FIGURES.items())
    head = HEAD.format(
        count=len(rows), values=sum(row.count for row in rows), figures=figures,
        measured=sum(math.isnan(row.tolerance) for row in rows),
    )  # fmt: skip
    lines = [head, "## Checks", ""]
    for path, group in groupby(rows, key=lambda row: row.test.split("::")[0]):
        lines += _section(path, list(group))
    return "\n".join(lines).rstrip() + "\n"


def figures() -> None:
    """Draw every figure of the page."""
    import cases
    import compare
    import conftest
    import in_part
    import numpy as np
    import peer_run
    from physics import test_gap, test_heat
    from published import test_criteria_mould
    from reference import houses, pictures, series, step_change

    from hygro.indoor import StandardCurves
    from hygro.plots.style import save_png

    bench = conftest.Bench
    year = peer_run.integrate(cases.vented_roof(), cases.marine_year(), StandardCurves(), tolerance=5e-6)
    both = compare.pair(cases.vented_roof(), cases.marine_year(), StandardCurves(), year)
    deck = [np.ravel(values) for values in both.moisture("deck")]
    decks = {case: series.deck_over_years({"tight": 0.0, "open": 1.5e-7}[case[0]], case[1]) for case in series.DECKS}
    drawn = {
        "step-change": pictures.step_change_figure(step_change.run(), step_change.Similarity()),
        "drying": pictures.drying_figure(series.drying()),
        "insulated-roof": pictures.roof_figure(series.insulated_roof()),
        "air-flow-wall": pictures.profiles_figure(
            in_part.wall_with_air_flow(bench.kernel), (240, 480, 720, 2400), "Wall with air flow"
        ),
        "rain-response": pictures.profiles_figure(
            in_part.response_with_rain(bench.kernel), (24, 48, 74, 120), "Response with rain"
        ),
        "inside-insulation": pictures.inside_insulation_figure(series.inside_insulation()),
        "deck-years": pictures.deck_figure(decks),
        "heat-wave": pictures.wave_figure(*test_heat.wave_in_wood(bench)),
        "gap-air": pictures.gap_figure(*test_gap.along_a_cold_sheet()),
        "peer-year": pictures.peer_figure(np.arange(1, 366), *deck),
        "mould": pictures.mould_figure(test_criteria_mould.curves()),
        "measured": pictures.measured_figure({house: houses.modelled(house) for house in houses.ROOFS}),
    }
    for name, figure in drawn.items():
        save_png(figure, IMAGES / f"validation-{name}.png")


if __name__ == "__main__":
    named = [Path(argument).resolve() for argument in sys.argv[1:] if not argument.startswith("--")]
    if not {"--page", "--figures"} & set(sys.argv):
        renew(named or files())
    if not named and "--page" not in sys.argv:
        figures()
    TARGET.write_text(page(), encoding="utf-8")
    print(f"wrote {TARGET}")
