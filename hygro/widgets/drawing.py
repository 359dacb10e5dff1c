"""What the page needs to draw: a run's days with its build-up, and the colours and words of the pictures.

May import: runner, controls, plots, study, assembly.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.plots.depth import layer_look
from hygro.plots.style import DAMPNESS, GRID, INK, LIMIT_FILL, QUIET, line
from hygro.study import LIMITS
from hygro.widgets.controls import DEPTH, SPEED, Units
from hygro.widgets.runner import Ran

_DASHES: Final = {0: [], 1: [12, 4]}  # [px] of the run being changed, and of the pinned one


def drawable(ran: Ran) -> dict[str, Any]:
    """A run for the page's pictures."""
    return ran.seen.packed | {"parts": _parts(ran.assembly)}


def shown_in(units: Units) -> dict[str, Any]:
    """Units of the pictures' axes: by what an SI value is multiplied."""
    return {
        "depth": {"unit": DEPTH[units].unit, "factor": DEPTH[units].factor, "decimals": DEPTH[units].decimals},
        "speed": {"unit": SPEED[units].unit, "factor": SPEED[units].factor},
    }


def look_of(layer: str) -> dict[str, Any]:
    """Colours, limits and titles of the pictures."""
    tones = (255.0 * DAMPNESS(np.linspace(0.0, 1.0, 256))[:, :3] + 0.5).astype(np.uint8)
    return {
        "title": f"Moisture content of the {layer}, mean of the day",
        "ink": INK,
        "quiet": QUIET,
        "grid": GRID,
        "tones": tones.tobytes(),
        "lines": [{"colour": line(number).colour, "dashes": dashes} for number, dashes in _DASHES.items()],
        "limits": [
            {"value": limit.value, "text": f"{limit.value:g} %: {limit.name}", "fill": fill}
            for limit, fill in zip(LIMITS, LIMIT_FILL, strict=True)
        ],
    }


def _parts(assembly: Assembly) -> list[dict[str, Any]]:
    """Parts from outside to inside: name, kind, thickness [m], and how a layer is filled."""
    found: list[dict[str, Any]] = []
    for part in assembly.parts:
        row: dict[str, Any] = {"name": part.name, "kind": "sheet", "thickness": 0.0, "hatch": "", "fill": "#ffffff"}
        if isinstance(part, Layer):
            hatch, fill = layer_look(part.material.density)
            row |= {"kind": "layer", "thickness": part.thickness, "hatch": hatch[:1], "fill": fill}
        elif isinstance(part, VentGap):
            row |= {"kind": "gap", "thickness": part.thickness}
        else:
            assert isinstance(part, Sheet)  # noqa: S101 - there is no other kind
        found.append(row)
    return found
