"""Air of a household under several ways of ventilating it: how damp, and how stale.

May import: style, errors.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from hygro.errors import InputError
from hygro.plots.style import INK, QUIET, daily, label_ends, line, month_ticks, new_figure, plain_axes

NEEDED: Final = ("indoor_relative_humidity", "indoor_carbon_dioxide")
STALE: Final = 1000.0  # [1e-6] a common mark for air that people find stale; common practice, not a health limit


def indoor_air_figure(airs: Mapping[str, xr.Dataset]) -> Figure:
    """Relative humidity over the seasons, and carbon dioxide by the share of hours, one line for each household.

    Parameters
    ----------
    airs : mapping of str to Dataset
        What ``Household.conditions`` returned, by name.

    Returns
    -------
    Figure
        Daily means of the relative humidity [%] on the left; on the right the carbon dioxide [ppm] against the share of
        the hours in which it is at least as high.

    Raises
    ------
    InputError
        Where nothing is given, or one lacks carbon dioxide.
    """
    if not airs:
        msg = "No indoor air to draw; give at least one Dataset by name."
        raise InputError(msg)
    for name, air in airs.items():
        missing = [one for one in NEEDED if one not in air]
        if missing:
            msg = f"Indoor air {name!r} has no {missing[0]}; only Household(...).conditions(...) computes it."
            raise InputError(msg)
    figure = new_figure(10.0, 3.8)
    left, right = figure.subplots(1, 2, width_ratios=(1.35, 1.0))
    plain_axes(left, "relative humidity indoors [%]")
    plain_axes(right, "carbon dioxide indoors [ppm]")
    damp, stale = [], []
    for number, (name, air) in enumerate(airs.items()):
        look = line(number)
        stamps, means = daily(100.0 * air["indoor_relative_humidity"])
        left.plot(stamps, means, label=name, **look.options())
        gas = np.sort(air["indoor_carbon_dioxide"].to_numpy())[::-1]
        right.plot(100.0 * (np.arange(gas.size) + 1.0) / gas.size, gas, label=name, **look.options())
        damp.append((float(means[-1]), name, look.colour))
        stale.append((float(gas[-1]), name, look.colour))
        month_ticks(left, air["time"].to_numpy())
    left.set_ylim(0.0, 100.0)
    right.set_xlim(0.0, 100.0)
    right.set_ylim(0.0, None)
    right.axhline(STALE, color=QUIET, linewidth=0.8)
    right.text(1.0, STALE, f"{STALE:.0f}: many find it stale", fontsize=8, color="#4a4036", va="bottom")
    right.set_xlabel("share of the hours with at least this much [%]", fontsize=9.5, color=INK)
    label_ends(left, damp)
    label_ends(right, stale)
    return figure
