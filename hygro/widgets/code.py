"""A state as Python, or as a study file, that gives the same run outside the panel.

May import: subject, state, assembly, indoor, leakage, gapflow, materials, studyfile,
errors.
"""

from __future__ import annotations

import re
from dataclasses import fields
from typing import Any, Final

from hygro import indoor, materials
from hygro.assembly import Layer, Part, Sheet
from hygro.errors import HygroError, InputError
from hygro.gapflow import OPEN, SEMI_SHELTERED, SHELTERED, ByWindAndBuoyancy
from hygro.leakage import AirLeak
from hygro.studyfile import Sample, Study
from hygro.studyfile.toml import study_text
from hygro.widgets.state import State
from hygro.widgets.subject import Subject

_EXPOSURES: Final = {"OPEN": OPEN, "SEMI_SHELTERED": SEMI_SHELTERED, "SHELTERED": SHELTERED}
_OWN: Final = "  # your own: put it here"


def as_python(subject: Subject, state: State) -> str:
    """Python that builds the variant of a state, runs it and prints the answer.

    Parameters
    ----------
    subject : Subject
        What is explored.
    state : State
        Setting of the controls.

    Returns
    -------
    str
        A whole script. Materials, sheets, finishes and weather that are not in the library are called by a name, with a
        remark that they have to be put there.
    """
    variant = subject.built(state, "as explored")
    roof = variant.assembly
    parts = "".join(f"        {_part(part)}\n" for part in roof.parts)
    air = repr(variant.indoor)
    used = sorted(set(re.findall(r"\b[A-Z]\w+(?=\()", air)) & set(dir(indoor)))
    finish, remark = _named(roof.finish, materials.finish)
    leak = "" if variant.leak is None else f"leak = {_leak(variant.leak)}\n"
    names = ["Assembly", "Layer", "Sheet", "Variant"]
    if variant.leak is not None:
        names.append("AirLeak")
    lines = "from hygro.indoor import " + ", ".join(used) + "\n"
    sites = {_exposure(one) for one in (None if roof.gap is None else roof.gap.flow, variant.leak) if one is not None}
    if roof.gap is not None:
        names += ["ByWindAndBuoyancy", "VentGap"]
    if sites & set(_EXPOSURES):
        lines = f"from hygro.gapflow import {', '.join(sorted(sites & set(_EXPOSURES)))}\n" + lines
    return (
        f"import hygro\nfrom hygro import {', '.join(sorted(names))}\n{lines}\n"
        f"climate = {_climate(subject, state)}\n"
        f"build_up = Assembly(\n    {roof.name!r},\n    [\n{parts}    ],\n"
        f"    tilt={roof.tilt!r},\n    azimuth={roof.azimuth!r},\n    finish={finish},{remark}\n)\n"
        f"air = {air}\n{leak}"
        f"variant = Variant({variant.name!r}, build_up, air{', leak' if leak else ''})\n"
        f"study = hygro.compare([variant], climate, layer={subject.layer!r}, start={subject.start(state)!r}, "
        f"years={subject.years})\nprint(study[{variant.name!r}].answer)\n"
    )


def as_study(subject: Subject, state: State) -> str:
    """A study file (TOML) with the variant of a state.

    Parameters
    ----------
    subject : Subject
        What is explored.
    state : State
        Setting of the controls.

    Returns
    -------
    str
        What ``hygro.read_study`` and the command read.

    Raises
    ------
    InputError
        Where the weather is not a sample, so that the file could not name it, or a part cannot be written down.
    """
    stated = subject.climates[state.climate]
    if not isinstance(stated, str):
        msg = f"The weather {state.climate!r} is no sample, so a study file cannot name it. Copy as Python instead."
        raise InputError(msg)
    study = Study(
        title=f"{subject.assembly.name}, as explored",
        variants=(subject.built(state, "as explored"),),
        climate=Sample(stated),
        watch=(subject.layer,),
        start=subject.start(state),
        years=subject.years,
    )
    return study_text(study)


def _climate(subject: Subject, state: State) -> str:
    stated = subject.climates[state.climate]
    return f"hygro.sample_climate({stated!r})" if isinstance(stated, str) else f"climate{_OWN} ({state.climate})"


def _part(part: Part) -> str:
    if isinstance(part, Layer):
        what, remark = _named(part.material, materials.get)
        start = "" if part.start_humidity is None else f", start_humidity={part.start_humidity!r}"
        start += "" if part.start_moisture is None else f", start_moisture={part.start_moisture!r}"
        return f"Layer({what}, {part.thickness!r}, name={part.name!r}{start}),{remark}"
    if isinstance(part, Sheet):
        what, remark = _named(part.material, materials.sheet)
        if remark and not part.material.is_variable:
            resistance = float(part.material.vapour_resistance(0.5))
            return f"Sheet({part.material.name!r}, permeance={1.0 / resistance!r}, name={part.name!r}),"
        return f"Sheet({what}, name={part.name!r}),{remark}"
    flow = part.flow
    assert isinstance(flow, ByWindAndBuoyancy)  # noqa: S101 - a subject has no other
    driven = _call("ByWindAndBuoyancy", flow, exposure=_exposure(flow))
    return _call("VentGap", part, flow=driven) + ","


def _call(name: str, thing: Any, **written: str) -> str:
    """The call that makes a frozen thing again, field by field; `written` says how to write some of them."""
    stated = {one.name: written.get(one.name, repr(getattr(thing, one.name))) for one in fields(thing)}
    return f"{name}({', '.join(f'{field}={text}' for field, text in stated.items())})"


def _named(thing: Any, look_up: Any) -> tuple[str, str]:
    """A library thing's name in quotes, or a name of its own with a remark."""
    try:
        known = look_up(thing.name) == thing
    except HygroError:
        known = False
    if known:
        return repr(thing.name), ""
    return re.sub(r"\W+", "_", thing.name.lower()).strip("_") or "own", f"{_OWN} ({thing.name})"


def _leak(leak: AirLeak) -> str:
    return _call("AirLeak", leak, exposure=_exposure(leak))


def _exposure(thing: Any) -> str:
    """Name of a site's exposure; one of the user's own is called by its name and has to be put there."""
    own = re.sub(r"\W+", "_", thing.exposure.name.upper())
    return next((name for name, one in _EXPOSURES.items() if one == thing.exposure), own)
