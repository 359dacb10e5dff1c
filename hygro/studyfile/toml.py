"""A study as a TOML file: read with every error at its line, and written so that reading gives the same study.

May import: the other modules of this folder, and all above them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Final

from hygro.errors import InputError
from hygro.study import Variant
from hygro.studyfile import kinds, substances, weatherkinds
from hygro.studyfile.forms import Kind, read_table, write_table
from hygro.studyfile.kinds import SHARED
from hygro.studyfile.lines import At, line_numbers
from hygro.studyfile.study import Study
from hygro.studyfile.trials import Search, Sweep, checks
from hygro.studyfile.uncertain import Uncertain, check_uncertain
from hygro.studyfile.values import FLAG, TEXT, TEXTS, WHOLE, Form, Shelf, shown
from hygro.studyfile.written import toml_text
from hygro.whole import refuse_existing, write_whole

# What may be defined in a file, in the order in which definitions refer to each other.
DEFINED: Final[Mapping[str, Kind]] = {
    "material": substances.MATERIAL,
    "sheet": substances.SHEET_MATERIAL,
    "finish": substances.FINISH,
    "assembly": kinds.ASSEMBLY,
}
PLAIN: Final[Mapping[str, Form]] = {
    "title": TEXT,
    "question": TEXT,
    "building": TEXT,
    "watch": TEXTS,
    "start": TEXT,
    "years": WHOLE,
    "wood": FLAG,
    "also": TEXTS,
    "members": WHOLE,
    "seed": WHOLE,
}
REQUIRED: Final = ("title", "watch", "start", "years", "climate", "assembly", "variant")
TOP: Final = (*PLAIN, "assumed", "climate", *SHARED, *DEFINED, "variant", "uncertain", "search", "sweep")

_HEAD: Final = "# A study for hygro. Every key is explained in docs/study-file.md.\n\n"


def read_study(path: str | Path) -> Study:
    """Study in a TOML file.

    Parameters
    ----------
    path : str or Path
        The file. A weather file that it names is looked for beside it.

    Returns
    -------
    Study
        Checked as far as it can be without running it.

    Raises
    ------
    InputError
        With file, line and key, where the file cannot be read or says something that cannot be.
    """
    source = Path(path)
    try:
        text = source.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        msg = f"{source} is no study file: it is not text in UTF-8. A study file is written as TOML."
        raise InputError(msg) from error
    except OSError as error:
        msg = f"{source}: the study file cannot be read ({error.strerror or error}). Check the name and the folder."
        raise InputError(msg) from error
    return parse_study(text, source.name, source.absolute().parent)


def parse_study(text: str, name: str = "study", folder: Path | None = None) -> Study:
    """Study in a TOML text.

    Parameters
    ----------
    text : str
        TOML.
    name : str, optional
        How errors name the file.
    folder : Path, optional
        Where the paths of weather files start; the current folder by default.

    Returns
    -------
    Study
        Checked as far as it can be without running it.

    Raises
    ------
    InputError
        With line and key, where the text says something that cannot be.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    try:
        stated = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        msg = f"{name} is not valid TOML: {error}. Text needs quotes, and every bracket its partner."
        raise InputError(msg) from error
    except RecursionError as error:
        msg = f"{name} is not a study file: its brackets are nested too deeply."
        raise InputError(msg) from error
    at = At(name, line_numbers(text))
    for key in stated:
        if key not in TOP:
            raise (at / key).unknown(TOP)
    missing = [key for key in REQUIRED if key not in stated]
    if missing:
        raise at.error(f"the key {missing[0]!r} is missing. A study needs: {', '.join(REQUIRED)}.")
    return _study(stated, at, folder or Path.cwd())


def _study(stated: Mapping[str, Any], at: At, folder: Path) -> Study:
    shelf: Shelf = {sort: {} for sort in DEFINED}
    for sort, kind in DEFINED.items():
        for key, table in _named_tables(stated.get(sort, {}), at / sort).items():
            shelf[sort][key] = read_table(kind, _with_name(key, table), at / sort / key, shelf)
    plain = {key: form.read(stated[key], at / key, {}) for key, form in PLAIN.items() if key in stated}
    variants = _variants(stated, at, shelf)
    climate = weatherkinds.climate_form(folder).read(stated["climate"], at / "climate", shelf)
    assumed = [
        (key, TEXT.read(words, at / "assumed" / key, {}))
        for key, words in _table(stated.get("assumed", {}), at / "assumed").items()
    ]
    uncertain = _uncertain(stated.get("uncertain", []), at / "uncertain", variants, folder)
    searches = _tables(stated, at / "search", kinds.SEARCH)
    sweeps = _tables(stated, at / "sweep", kinds.sweep_kind(folder))
    try:
        study = Study(variants=variants, climate=climate, assumed=tuple(assumed), uncertain=uncertain, **plain)
    except InputError as error:
        raise _place_of(str(error), at, variants).error(str(error)) from error
    for key, trials in (("search", searches), ("sweep", sweeps)):
        for number, one in enumerate(trials):
            _check_trial(one, study, at / key / number)
    return replace(study, searches=searches, sweeps=sweeps)


def _tables(stated: Mapping[str, Any], at: At, kind: Kind) -> tuple[Any, ...]:
    listed, heading = stated.get(str(at.path[-1]), []), f"[[{at.path[-1]}]]"
    if not isinstance(listed, list) or not all(isinstance(one, dict) for one in listed):
        raise at.error(f"is not a list of tables; each has the heading {heading}.")
    return tuple(read_table(kind, one, at / number, {}) for number, one in enumerate(listed))


def _check_trial(one: Search | Sweep, study: Study, at: At) -> None:
    for keys, check in checks(one, study.variants, study.watch, wood=study.wood):
        try:
            check()
        except InputError as error:
            for key in keys:
                at = at / key
            raise at.error(str(error)) from error


def _place_of(message: str, at: At, variants: tuple[Variant, ...]) -> At:
    """Where the study as a whole was found wanting."""
    first = next(
        (
            key
            for key in ("watch", "years", "title", "start", "also", "members", "seed")
            if key in message.split(";")[0].split()
        ),
        None,
    )
    if first is not None:
        return at / first
    # Of two variants that clash, the later one is named.
    numbers = [number for number, one in enumerate(variants) if repr(one.name) in message]
    return at / "variant" / numbers[-1] if numbers else at


def _table(value: Any, at: At) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise at.error(f"is {shown(value)}; a table is needed, as [{at.path[-1]}].")
    return value


def _named_tables(value: Any, at: At) -> dict[str, Any]:
    sort = at.path[-1]
    if not isinstance(value, dict) or not all(isinstance(one, dict) for one in value.values()):
        raise at.error(f'is not a table of tables; each {sort} has a heading of its own, as [{sort}."my {sort}"].')
    return value


def _with_name(key: str, table: dict[str, Any]) -> dict[str, Any]:
    return table if "name" in table else {"name": key, **table}


def _variants(stated: Mapping[str, Any], at: At, shelf: Shelf) -> tuple[Variant, ...]:
    listed = stated["variant"]
    if not isinstance(listed, list) or not all(isinstance(one, dict) for one in listed):
        raise (at / "variant").error("is not a list of tables; each variant has the heading [[variant]].")
    shared = {key: form.read(stated[key], at / key, shelf) for key, form in SHARED.items() if key in stated}
    found: list[Variant] = []
    for number, table in enumerate(listed):
        here = at / "variant" / number
        inherited = {key for key in shared if key not in table}
        # What is shared has been read already: it goes in as an object, past the reading.
        forms = {key: Form("", lambda value, _, __: value, SHARED[key].write) for key in inherited}
        full = {**table, **{key: shared[key] for key in inherited}}
        found.append(read_table(kinds.VARIANT, full, here, shelf, forms))
    return tuple(found)


def _uncertain(listed: Any, at: At, variants: tuple[Variant, ...], folder: Path) -> tuple[Uncertain, ...]:
    if not isinstance(listed, list) or not all(isinstance(one, dict) for one in listed):
        raise at.error("is not a list of tables; each uncertain input has the heading [[uncertain]].")
    found: list[Uncertain] = []
    kind = kinds.uncertain_kind(folder)
    for number, table in enumerate(listed):
        here = at / number
        one: Uncertain = read_table(kind, table, here, {})
        try:
            if variants:
                check_uncertain(one, found, variants)
        except InputError as error:
            # What cannot be is the name of a variant, the input, or the values that it reaches.
            key = "variants" if str(error).startswith("variants") else "spread" if "reaches" in str(error) else "input"
            raise (here / key).error(str(error)) from error
        found.append(one)
    return tuple(found)


def study_text(study: Study, folder: str | Path | None = None) -> str:
    """TOML that states a study; reading it gives the same study.

    Parameters
    ----------
    study : Study
        What is to be written.
    folder : str or Path, optional
        Folder from which a weather file's path is stated; its full path without.

    Returns
    -------
    str
        TOML.

    Raises
    ------
    InputError
        Where something is set that a study file cannot state, such as a material with a Python function.
    """
    shelf: Shelf = {sort: {} for sort in DEFINED}
    variants = [write_table(kinds.VARIANT, one, shelf) for one in study.variants]
    first = variants[0]
    shared = {key: first[key] for key in SHARED if key in first and all(one.get(key) == first[key] for one in variants)}
    variants = [{key: one for key, one in table.items() if key not in shared} for table in variants]
    # Writing an assembly puts its materials on the shelf; they are written after it and stand before it.
    assemblies = {key: _definition("assembly", key, one, shelf) for key, one in shelf["assembly"].items()}
    tables = {
        **{sort: {key: _definition(sort, key, one, shelf) for key, one in shelf[sort].items()} for sort in DEFINED},
        "assembly": assemblies,
    }
    usual = {one.name: one.default for one in fields(Study)}
    here = None if folder is None else Path(folder)
    lists = {
        "uncertain": [write_table(kinds.uncertain_kind(here), one, shelf) for one in study.uncertain],
        "search": [write_table(kinds.SEARCH, one, shelf) for one in study.searches],
        "sweep": [write_table(kinds.sweep_kind(here), one, shelf) for one in study.sweeps],
    }
    stated: dict[str, Any] = {
        **{key: _listed(value) for key in PLAIN if (value := getattr(study, key)) != usual[key]},
        "climate": weatherkinds.climate_form(here).write(study.climate, shelf),
        **shared,
        **({"assumed": dict(study.assumed)} if study.assumed else {}),
        **{sort: table for sort, table in tables.items() if table},
        "variant": variants,
        **{key: listed for key, listed in lists.items() if listed},
    }
    text = _HEAD + toml_text(stated)
    if parse_study(text, study.title, None if here is None else here.absolute()) != study:
        msg = f"Study {study.title!r} cannot be written as a file that gives it back. Keep it as Python."
        raise InputError(msg)
    return text


def _definition(sort: str, key: str, thing: Any, shelf: Shelf) -> dict[str, Any]:
    return write_table(DEFINED[sort], thing, shelf, leave_out=("name",) if thing.name == key else ())


def _listed(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def write_study(study: Study, path: str | Path, *, replace: bool = False) -> Path:
    """Write a study as a TOML file.

    Parameters
    ----------
    study : Study
        What is to be written.
    path : str or Path
        File to write, ending in ``.toml``. It appears under this name only when it is complete.
    replace : bool
        Whether an existing file may be replaced.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError
        Where something is set that a study file cannot state.
    OutputError
        Where the file exists and may not be replaced, or cannot be written.
    """
    target = Path(path)
    refuse_existing(target, replace)
    text = study_text(study, target.absolute().parent)
    write_whole(target, lambda part: part.write_text(text, encoding="utf-8", newline="\n"))
    return target
