"""A state as Python that gives the same run outside the panel.

May import: subject, state, assembly, indoor, leakage, gapflow, materials, errors.
"""

from __future__ import annotations

import re
from typing import Any, Final

from hygro import indoor, materials
from hygro.assembly import Layer, Part, Sheet
from hygro.errors import HygroError
from hygro.gapflow import OPEN, SEMI_SHELTERED, SHELTERED, ByWindAndBuoyancy
from hygro.leakage import AirLeak
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
    if roof.gap is not None:
        names += ["ByWindAndBuoyancy", "VentGap"]
        lines = f"from hygro.gapflow import {_exposure(roof.gap.flow)}\n" + lines
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
    driven = (
        f"ByWindAndBuoyancy(inlet={flow.inlet!r}, outlet={flow.outlet!r}, screen={flow.screen!r}, "
        f"blocked={flow.blocked!r}, exposure={_exposure(flow)}, inlet_bearing={flow.inlet_bearing!r})"
    )
    return (
        f"VentGap({part.thickness!r}, length={part.length!r}, flow={driven}, emissivity={part.emissivity!r}, "
        f"slices={part.slices!r}, name={part.name!r}),"
    )


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
    return (
        f"AirLeak({leak.q50!r}, height={leak.height!r}, into={leak.into!r}, exponent={leak.exponent!r}, "
        f"fan_pressure={leak.fan_pressure!r}, pressure_coefficient={leak.pressure_coefficient!r})"
    )


def _exposure(flow: Any) -> str:
    return next((name for name, one in _EXPOSURES.items() if one == getattr(flow, "exposure", None)), "SEMI_SHELTERED")
