"""The command ``python -m hygro``: a study file, or the demo in your own weather, as a folder of results.

Everything heavy is loaded after the arguments are read. May import: everything.
"""

from __future__ import annotations

import argparse
import gc
import itertools
import logging
import sys
import textwrap
import warnings
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn

from hygro import __version__
from hygro.errors import HygroError, HygroWarning, InputError, OutputError

if TYPE_CHECKING:
    import xarray as xr

    from hygro.indoor import IndoorModel
    from hygro.study import Progress, Result, Variant
    from hygro.studyfile import Sample, Search, Study, Sweep, Tried, WeatherFile

FOLDER: Final = "hygro-results"
REPORT, STUDY = "report.html", "study.toml"
MOST_YEARS: Final = 20
INDOOR_TEMPERATURE: Final = 20.0  # [degC] where a constant humidity is asked for
_OF_THE_DEMO: Final[dict[str, Any]] = {
    "climate": "hut_valley",
    "indoor_humidity": "normal",
    "start": "1 October",
    "years": 2,
}

_EPILOG: Final = """\
Without a study file it runs the demo: the low-pitched roof of an invented hut, vented and unvented, each with a tight
and a leaky ceiling, heat and moisture hour by hour, and says for each whether the roof deck stays dry.

A study of your own needs no Python: copy an example, change it in any text editor, run it.
  python -m hygro --example roof
  python -m hygro roof.toml -o my-roof
What may stand in the file: docs/study-file.md. Examples: roof, floor-and-wall.

The smallest gap, the most leakage that still passes, combinations of inputs: state [[search]] and [[sweep]].

How sure it is: state [[uncertain]] inputs in the file, and ask for members. Stopped, it goes on where it was.
  python -m hygro roof.toml --inputs
  python -m hygro roof.toml -o my-roof --members 64

The demo in other weather:
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
        description="Does a roof, wall or floor of a small building stay dry? Runs a study file, or the demo.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    made.add_argument("study", nargs="?", type=Path, metavar="STUDY", help="a study file (TOML); the demo without")
    for flags, options in _options().items():
        made.add_argument(*flags.split(), **options)
    return made


def _options() -> dict[str, dict[str, Any]]:
    return {
        "-o --output": {
            "metavar": "FOLDER",
            "type": Path,
            "help": f"folder for the results; default: {FOLDER} (or that of the study file's name), with -2 and so on "
            "where that exists",
        },
        "--replace": {"action": "store_true", "help": "replace files that exist already"},
        "--example": {"metavar": "NAME", "help": "copy an example study into this folder and stop"},
        "--members": {
            "metavar": "N",
            "type": _members,
            "help": "members of the ensemble of each variant with an uncertain input, each with other values of it; "
            "64 or more rank the inputs; 0 runs none; default: what the study file says",
        },
        "--inputs": {"action": "store_true", "help": "list the inputs of each variant by name and stop"},
        "--climate": {
            "metavar": "FILE_OR_SAMPLE",
            "help": "demo: a weather file (EPW, TMY3, or a CSV that hygro wrote), or one of the invented samples "
            "hut_valley, wet_coast and subarctic; default: hut_valley",
        },
        "--indoor-humidity": {
            "metavar": "HUMIDITY",
            "help": "demo: 'normal' or 'high' for the humidity of a dwelling, which follows the outdoor temperature, "
            "or a constant such as '45 %%' (at 20 degC); default: normal",
        },
        "--start": {"metavar": "DAY", "help": "demo: first day; default: '1 October'"},
        "--years": {
            "metavar": "N",
            "type": _years,
            "help": f"demo: years to run, 1 to {MOST_YEARS}; one is too short to tell whether water collects; "
            "default: 2",
        },
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
    gc.set_threshold(1_000_000)  # much is made and little of it in circles: looking for those took half a second
    if listed == ["check"]:
        from hygro import setup_check

        return setup_check.main()
    try:
        with _messages():
            options = parser().parse_args(listed)
            if options.example is not None:
                return _copy_example(options)
            return _list_inputs(options) if options.inputs else _run(options)
    except HygroError as error:
        print(f"hygro: {' '.join(str(error).split())}", file=sys.stderr)
        return 2 if isinstance(error, (ValueError, OSError)) else 1
    except KeyboardInterrupt as stopped:
        print(f"hygro: interrupted; {str(stopped) or 'nothing was written.'}", file=sys.stderr)
        return 130


def _copy_example(options: argparse.Namespace) -> int:
    from hygro.studyfile.examples import example_text
    from hygro.whole import write_whole

    if options.study is not None:
        msg = f"--example copies a file and runs nothing; leave {str(options.study)!r} out."
        raise InputError(msg)
    text, target = example_text(options.example), (options.output or Path()) / f"{options.example}.toml"
    if target.exists() and not options.replace:
        msg = f"{str(target)!r} exists already. Name another folder with --output, or say --replace."
        raise OutputError(msg)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        msg = f"{str(target)!r} could not be written: {error.strerror or error}. Name a folder with --output."
        raise OutputError(msg) from error
    write_whole(target, lambda part: part.write_text(text, encoding="utf-8"))
    print(f"Copied to {target}. Change it in a text editor and run: python -m hygro {target} -o {options.example}")
    return 0


def _list_inputs(options: argparse.Namespace) -> int:
    from hygro.vary import inputs_of

    for variant in _study(options).variants:
        print(f"{variant.name}\n{inputs_of(variant)[['now']].to_string(header=False, index_names=False)}\n")
    return 0


def _run(options: argparse.Namespace) -> int:
    from hygro.folder import results_folder
    from hygro.report import CAUTIONS, DEFER, of_trials, pictures_of, report_html
    from hygro.report.certainty import of_study
    from hygro.report.page import counted
    from hygro.report.plain import results_text
    from hygro.studyfile import run_study, study_text

    study = _study(options)
    _check_climate(study, options)
    runs = _file_names([variant.name for variant in study.variants])
    sweeps = _sweep_names(study, runs.values())
    default = FOLDER if options.study is None else f"{options.study.stem}-results"
    fixed = (REPORT, STUDY, *sweeps, *(f"{name}.png" for name in _picture_names(study)))
    with results_folder(options.output, default, (*runs.values(), *fixed), replace=options.replace) as folder:
        # Written before anything is computed: what cannot be written is then known at once.
        (folder / STUDY).write_text(study_text(study, folder.parent), encoding="utf-8")
        members = _Members(study, options, runs, folder.parent)
        print(
            f"Running {counted(len(runs), 'variant')} for {counted(study.years, 'year')} from {study.start} ...",
            file=sys.stderr,
        )
        comparisons = run_study(study, _saver(folder, runs))
        pictures = pictures_of(comparisons)
        for picture in pictures:
            (folder / f"{picture.name}.png").write_bytes(picture.png)
        tried = of_trials(_tried(study, folder, sweeps))
        with members.kept():
            certainty = of_study(study, members.run())
            page = report_html(
                study, comparisons, pictures=pictures, tried=tried, sensitivity=certainty, folder=folder.parent
            )
        (folder / REPORT).write_text(page, encoding="utf-8")
    print(results_text(study.title, comparisons, (*CAUTIONS, DEFER)))
    for said in (*tried, *certainty[:1]):
        print("\n" + "\n".join(textwrap.wrap(said.short, 100)))
    names = ", ".join(f"{picture.name}.png" for picture in pictures)
    print(
        f"\nWritten to {folder.parent}/: {REPORT} (open it in a browser), {names}, {STUDY} (the study as text) and one "
        f".nc for each variant{' and each sweep' if sweeps else ''}."
    )
    return 0


def _sweep_names(study: Study, taken: Iterable[str]) -> list[str]:
    """A file for each sweep, in the order in which they run."""
    from hygro.studyfile import Sweep, trials_of

    count = sum(isinstance(one, Sweep) for one, _, _ in trials_of(study))
    free = (name for number in itertools.count(1) if (name := f"sweep-{number}.nc") not in taken)
    return list(itertools.islice(free, count))


def _tried(study: Study, folder: Path, names: Sequence[str]) -> tuple[Tried, ...]:
    """Run what is to be tried besides; each sweep is saved, since a table holds little of it."""
    import xarray as xr

    from hygro.studyfile import Search, run_trials

    def say(asked: tuple[Search | Sweep, Variant, str]) -> None:
        one, variant, layer = asked
        what = f"searching {one.input}" if isinstance(one, Search) else f"sweeping {', '.join(one.inputs)}"
        print(f"  {what} in {variant.name}, {layer}", file=sys.stderr)

    tried = run_trials(study, each=say, progress=True)
    sweeps = [one.found for one in tried if isinstance(one.found, xr.Dataset)]
    for name, swept in zip(names, sweeps, strict=True):
        swept.to_netcdf(folder / name, engine="netcdf4")
    return tried


class _Members:
    """The members that are asked for; what is wrong with them is said when this is made, before anything runs."""

    def __init__(self, study: Study, options: argparse.Namespace, runs: dict[str, str], folder: Path) -> None:
        from hygro.studyfile import files_of, prepare_members, uncertain_studies

        self.folder = folder
        self.count = (study.members or 0) if options.members is None else options.members
        if options.members and not study.uncertain:
            msg = "--members needs to know what is uncertain; state [[uncertain]] inputs in the study file."
            raise InputError(msg)
        try:
            self.studies = uncertain_studies(study) if self.count else {}
            self.files = files_of(self.studies, {name: Path(file).stem for name, file in runs.items()}, folder)
            prepare_members(self.studies, self.files, self.count, replace=options.replace)
        except InputError as error:
            msg = f"{'the demo' if options.study is None else options.study.name}, uncertain: {error}"
            raise InputError(msg) from error

    def run(self) -> dict[tuple[str, str], xr.Dataset]:
        """Results of all members; what was finished before is not run again."""
        from hygro.studyfile import run_members

        def say(key: tuple[str, str]) -> None:
            print(f"  {self.count} members of {key[0]}, {key[1]}", file=sys.stderr)

        return run_members(self.studies, self.files, self.count, each=say)

    @contextmanager
    def kept(self) -> Iterator[None]:
        """Say on an interrupt that what was finished is not lost."""
        try:
            yield
        except KeyboardInterrupt:
            if not self.studies:
                raise
            msg = f"the members that were finished are kept; to go on, run the same with -o {self.folder}"
            raise KeyboardInterrupt(msg) from None


def _study(options: argparse.Namespace) -> Study:
    from hygro import demo
    from hygro.studyfile import read_study

    if options.study is None:
        chosen = {name: usual if getattr(options, name) is None else getattr(options, name)
                  for name, usual in _OF_THE_DEMO.items()}  # fmt: skip
        return demo.hut_study(
            _indoor(chosen["indoor_humidity"]),
            _climate(chosen["climate"]),
            start=chosen["start"],
            years=chosen["years"],
        )
    stated = next((name for name in _OF_THE_DEMO if getattr(options, name) is not None), None)
    if stated is not None:
        msg = f"--{stated.replace('_', '-')} is for the demo; with a study file, state it in {options.study.name}."
        raise InputError(msg)
    return read_study(options.study)


def _check_climate(study: Study, options: argparse.Namespace) -> None:
    """Refuse a record that is too short before a folder is made."""
    swept = [one for trial in study.sweeps for name, values in trial.over if name == "climate" for one in values]
    for place, record in [("climate", study.climate), *(("sweep, over, climate", one) for one in swept)]:
        try:
            record.load().period(study.start, study.years)
        except InputError as error:
            if options.study is None:
                raise
            msg = f"{options.study.name}, {place}: {error}"
            raise InputError(msg) from error


def _file_names(variants: Sequence[str]) -> dict[str, str]:
    """A file for each variant, named after it in letters that every system takes."""
    from hygro.report.page import file_stem

    names: dict[str, str] = {}
    for variant in variants:
        stem = file_stem(variant) or "variant"
        number, candidate = 2, stem
        while f"{candidate}.nc" in names.values():
            number, candidate = number + 1, f"{stem}-{number}"
        names[variant] = f"{candidate}.nc"
    return names


def _picture_names(study: Study) -> list[str]:
    """Files of the figures, as `pictures_of` will name them."""
    models = list(dict.fromkeys(repr(variant.indoor) for variant in study.variants))
    names = ["air"] if len(models) == 1 else [f"air-{number}" for number in range(1, len(models) + 1)]
    for number, layer in enumerate(study.watch, start=1):
        ending = "" if len(study.watch) == 1 else f"-{number}"
        names += [f"season{ending}", f"depth-by-time{ending}"]
        if any(variant.assembly.gap is not None for variant in study.variants_with(layer)):
            names.append(f"gap-air{ending}")
    return names


def _saver(folder: Path, runs: dict[str, str]) -> Progress:
    """What saves each run while the others still run on the other threads."""
    from hygro.files import save_run

    def save(number: int, total: int, result: Result) -> None:
        save_run(result.run, folder / runs[result.name])
        print(f"  {number} of {total}: {result.name}", file=sys.stderr)

    return save


def _years(text: str) -> int:
    if text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_YEARS:
        return int(text)
    msg = f"{text!r} is not a whole number of years from 1 to {MOST_YEARS}"
    raise argparse.ArgumentTypeError(msg)


def _members(text: str) -> int:
    from hygro.studyfile.study import MOST_MEMBERS

    if text.isascii() and text.isdigit() and int(text) <= MOST_MEMBERS:
        return int(text)
    msg = f"{text!r} is not a whole number of members from 0 to {MOST_MEMBERS}; a power of two is best, such as 64"
    raise argparse.ArgumentTypeError(msg)


def _climate(name: str) -> Sample | WeatherFile:
    from hygro.climate import sample_names
    from hygro.studyfile import Sample, WeatherFile

    if name in sample_names():
        return Sample(name)
    if Path(name).exists():
        return WeatherFile(Path(name))
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
