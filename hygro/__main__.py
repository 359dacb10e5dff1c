"""The command ``python -m hygro``: the demo, or the same roofs in your own weather, as a folder of results.

Everything heavy is loaded after the arguments are read. May import: everything.
"""

from __future__ import annotations

import argparse
import logging
import sys
import textwrap
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn

from hygro import __version__
from hygro.errors import HygroError, HygroWarning, InputError

if TYPE_CHECKING:
    from hygro.climate import Climate
    from hygro.indoor import IndoorModel
    from hygro.study import Comparison, Result, Variant

FOLDER: Final = "hygro-results"
SEASON, DEPTH, GAP, SUMMARY = "season.png", "depth-by-time.png", "gap-air.png", "summary.html"
MOST_YEARS: Final = 20
INDOOR_TEMPERATURE: Final = 20.0  # [degC] where a constant humidity is asked for

_EPILOG: Final = """\
What it does: takes the low-pitched roof of an invented hut, vented and unvented, each with a tight and a leaky
ceiling, runs heat and moisture through it hour by hour, and says for each whether the roof deck stays dry.

Examples:
  python -m hygro
  python -m hygro --climate my-weather.epw --indoor-humidity "45 %"
  python -m hygro --climate subarctic --years 3 --output subarctic-roof
  python -m hygro check    (is everything there that is needed?)

Results are indicative; local codes and a licensed professional decide.
"""


class _Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one line."""

    def error(self, message: str) -> NoReturn:
        raise InputError(f"{message[:1].upper()}{message[1:]}. Try: python -m hygro --help")


def parser() -> argparse.ArgumentParser:
    """Parser of the command line."""
    made = _Parser(
        prog="python -m hygro",
        description="Does a small hut's roof stay dry, vented or unvented, tight or leaky?",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    for flag, options in _options().items():
        made.add_argument(flag, **options)
    return made


def _options() -> dict[str, dict[str, Any]]:
    return {
        "--climate": {
            "metavar": "FILE_OR_SAMPLE",
            "default": "hut_valley",
            "help": "a weather file (EPW, TMY3 or CSV), or one of the invented samples hut_valley, wet_coast and "
            "subarctic; default: hut_valley",
        },
        "--indoor-humidity": {
            "metavar": "HUMIDITY",
            "default": "normal",
            "help": "'normal' or 'high' for the humidity of a dwelling, which follows the outdoor temperature, or a "
            "constant such as '45 %%' (at 20 degC); default: normal",
        },
        "--start": {"metavar": "DAY", "default": "1 October", "help": "first day; default: '1 October'"},
        "--years": {
            "metavar": "N",
            "type": _years,
            "default": 2,
            "help": f"years to run, 1 to {MOST_YEARS}; one is too short to tell whether water collects; default: 2",
        },
        "--output": {
            "metavar": "FOLDER",
            "type": Path,
            "help": f"folder for the results; default: {FOLDER}, or {FOLDER}-2 and so on where that exists",
        },
        "--replace": {"action": "store_true", "help": "replace result files that exist already"},
        "--version": {"action": "version", "version": f"hygro {__version__}"},
    }


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the command line by default.

    Returns
    -------
    int
        0 done, 2 where something asked for cannot be, 1 where the computation failed, 130 where it was interrupted.
    """
    listed = list(sys.argv[1:] if arguments is None else arguments)
    if listed == ["check"]:
        from hygro import setup_check

        return setup_check.main()
    try:
        with _messages():
            return _run(parser().parse_args(listed))
    except HygroError as error:
        print(f"hygro: {' '.join(str(error).split())}", file=sys.stderr)
        return 2 if isinstance(error, (ValueError, OSError)) else 1
    except KeyboardInterrupt:
        print("hygro: interrupted; nothing was written.", file=sys.stderr)
        return 130


def _run(options: argparse.Namespace) -> int:
    from hygro import demo
    from hygro.folder import results_folder

    climate, indoor = _climate(options.climate), _indoor(options.indoor_humidity)
    climate.period(options.start, options.years)
    variants = demo.hut_variants(indoor)
    files = {variant.name: f"{variant.name.replace(', ', '-').replace(' ', '-')}.nc" for variant in variants}
    names = (*files.values(), SEASON, DEPTH, GAP, SUMMARY)
    with results_folder(options.output, FOLDER, names, replace=options.replace) as folder:
        comparison = _compare(options, variants, climate, folder, files)
        _write(comparison, folder)
    print(table(comparison))
    print(
        f"\nWritten to {folder.parent}/: {SUMMARY} (open it in a browser), {SEASON}, {DEPTH}, {GAP} and one .nc each."
    )
    return 0


def _compare(
    options: argparse.Namespace, variants: Sequence[Variant], climate: Climate, folder: Path, files: dict[str, str]
) -> Comparison:
    from hygro import demo
    from hygro.files import save_run
    from hygro.study import compare

    def done(number: int, total: int, result: Result) -> None:
        # Saved here, while the other variants still run on the other threads.
        save_run(result.run, folder / files[result.name])
        print(f"  {number} of {total}: {result.name}", file=sys.stderr)

    print(f"Running {len(variants)} roofs for {options.years} year(s) from {options.start} ...", file=sys.stderr)
    return compare(
        variants,
        climate,
        layer=demo.DECK,
        start=options.start,
        years=options.years,
        progress=done,
    )


def _write(comparison: Comparison, folder: Path) -> None:
    from hygro import demo, plots
    from hygro.plots.style import png
    from hygro.report import Picture, summary_html

    worst = max(comparison.results, key=lambda one: (one.answer.level.rank, one.answer.outcome.rank))
    pictures = {
        SEASON: (
            plots.season_figure(comparison),
            "Moisture content, mould index and free water of the deck, daily means, one line for each roof.",
        ),
        DEPTH: (
            plots.depth_time_map(worst.run),
            f"Relative humidity over depth and time in the roof '{worst.name}', outside at the top; dark is damp.",
        ),
        GAP: (
            plots.speed_duration_figure(comparison.runs),
            "Air speed in the vent gap against the share of hours in which it is at least that fast.",
        ),
    }
    shown = []
    for name, (figure, words) in pictures.items():
        shown.append(Picture(png(figure), words))
        (folder / name).write_bytes(shown[-1].png)
    page = summary_html(
        comparison,
        title="Does the hut's roof stay dry?",
        question=demo.QUESTION,
        building=demo.BUILDING,
        assumed=demo.ASSUMED,
        pictures=shown,
    )
    (folder / SUMMARY).write_text(page, encoding="utf-8")


def table(comparison: Comparison) -> str:
    """Results as a builder reads them: a table, a sentence for each roof, and the cautions.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.

    Returns
    -------
    str
        Several lines of plain text.
    """
    from hygro.report import CAUTIONS, DEFER

    rows = [_HEAD, *(_cells(str(name), row) for name, row in comparison.table().to_dict("index").items())]
    widths = [max(len(row[column]) for row in rows) for column in range(len(_HEAD))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    said = [f"{result.name} - {result.answer}" for result in comparison.results]
    caution = "Cautions: " + " ".join((*CAUTIONS, DEFER))
    period = f"{comparison.climate.title}, {comparison.years} year(s) from {comparison.start}"
    blocks = ["\n".join(textwrap.wrap(text, 100)) for text in (_LEGEND, *said, caution)]
    head = f"The deck of the hut's roof. {period}\n\n{lines[0]}\n{'-' * (sum(widths) + 2 * len(widths) - 2)}"
    return "\n".join([head, *lines[1:], "", "\n\n".join(blocks)])


_HEAD: Final = ("roof", "the deck ...", "verdict", "wettest", "hours >20 %", "mould", "water/ice")
_LEGEND: Final = (
    "wettest: highest moisture content, mean of the deck; hours >20 %: hours above the design limit for safety from "
    "decay; mould: index at the inner face, 3 is seen by eye; water/ice: most free water and ice, kg/m2."
)


def _cells(name: str, row: dict[Any, Any]) -> tuple[str, ...]:
    mould = next(value for key, value in row.items() if key.startswith("mould"))
    return (
        name,
        row["outcome"],
        row["level"],
        f"{row['wettest mean [%]']:.0f} %",
        f"{row['hours above 20 %']}",
        f"{mould:.1f}",
        f"{row['free water and ice [kg/m2]']:.2f}",
    )


def _years(text: str) -> int:
    if text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_YEARS:
        return int(text)
    msg = f"{text!r} is not a whole number of years from 1 to {MOST_YEARS}"
    raise argparse.ArgumentTypeError(msg)


def _climate(name: str) -> Climate:
    from hygro.climate import read_climate, sample_climate, sample_names

    if name in sample_names():
        return sample_climate(name)
    if Path(name).exists():
        return read_climate(name)
    msg = f"--climate {name!r} is neither a file nor a sample. Samples: {', '.join(sample_names())}."
    raise InputError(msg)


def _indoor(stated: str) -> IndoorModel:
    from hygro.indoor import ConstantIndoor, StandardCurves

    if stated in ("normal", "high"):
        return StandardCurves(high_occupancy=stated == "high")
    try:
        return ConstantIndoor(INDOOR_TEMPERATURE, stated)  # type: ignore[arg-type]
    except InputError as error:
        msg = f"--indoor-humidity {stated!r}: write 'normal', 'high' or a percentage such as '45 %'. {error}"
        raise InputError(msg) from error


@contextmanager
def _messages() -> Iterator[None]:
    """Show what the package says on the way on stderr, each message once."""
    log, seen = logging.getLogger("hygro"), set[str]()
    handler = logging.StreamHandler(sys.stderr)

    def is_new(record: logging.LogRecord) -> bool:
        # Two threads may both find the solver not yet compiled.
        known = record.getMessage() in seen
        seen.add(record.getMessage())
        return not known

    handler.addFilter(is_new)
    log.addHandler(handler)
    propagate, log.propagate = log.propagate, False

    def show(message: Warning | str, *_: object, **__: object) -> None:
        log.warning("Note: %s", " ".join(str(message).split()))

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("always", HygroWarning)
            warnings.showwarning = show
            yield
    finally:
        log.propagate = propagate
        log.removeHandler(handler)


if __name__ == "__main__":
    sys.exit(main())
