"""Interstitial condensation month by month, the method of ISO 13788.

May import: assembly, variables, errors, core formulas.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import xarray as xr

from hygro.assembly import Assembly
from hygro.core.formulas import saturation_pressure_iso
from hygro.errors import InputError
from hygro.steady.months import DAYS, MONTHS, Array, MonthlyAir
from hygro.steady.path import Chain, chain
from hygro.steady.profile import vapour_profile
from hygro.variables import STEADY

FINEST: Final = 0.25  # [m2 K W-1] thermal resistance of a piece at most, ISO 13788 (from memory)
RUN_OFF: Final = 0.2  # [kg m-2] ISO 13788:2012, run-off from materials that do not absorb (from memory)
SOURCE: Final = "ISO 13788:2012, clause 6 (from memory)"
LIMITS: Final = (
    "Monthly method of ISO 13788: it knows no storage of moisture, no liquid or capillary flow, no leaking air, no "
    "sun, no cold sky, no rain, no latent heat and no change of properties with moisture. It compares build-ups; it "
    "does not prove that one stays dry, and air leaks carry far more moisture than what it counts. Local codes and a "
    "licensed professional decide."
)

_SECONDS_PER_DAY: Final = 86400.0
_TRACE: Final = 1e-9  # [kg m-2] rounding


class MonthlyOutcome(StrEnum):
    """What the monthly method says, from best to worst."""

    NONE = "no condensation"
    DRIES = "condenses and dries within the year"
    STAYS = "does not dry within the year"


@dataclass(frozen=True, slots=True, eq=False)
class MonthlyCondensation:
    """Result of the monthly method; prints as its table.

    Attributes
    ----------
    assembly : str
        Name of the build-up.
    air : MonthlyAir
        Air on both sides.
    chain : Chain
        Resistances that were counted.
    data : Dataset, dims (month, node)
        The registry's table ``STEADY``: temperature, vapour and saturation pressure at every interface, outside first,
        what condensed in the month (negative what dried) and what is held at its end. Months in the order computed.
    outcome : MonthlyOutcome
        What the method says.
    notes : tuple of str
        What was left out or assumed.
    """

    assembly: str
    air: MonthlyAir
    chain: Chain
    data: xr.Dataset
    outcome: MonthlyOutcome
    notes: tuple[str, ...]

    @property
    def planes(self) -> tuple[int, ...]:
        """Numbers of the interfaces that hold water in some month."""
        return tuple(np.flatnonzero((self.data["condensate_held"] > 0.0).any("month").to_numpy()).tolist())

    @property
    def peak(self) -> float:
        """Most water held in all interfaces together at the end of a month. [kg m-2]."""
        return float(self.data["condensate_held"].sum("node").max())

    @property
    def left(self) -> float:
        """Water left after the twelve months. [kg m-2]."""
        return float(self.data["condensate_held"].sum("node")[-1])

    @property
    def peak_month(self) -> str:
        """Month at whose end most water is held."""
        held = self.data["condensate_held"].sum("node").to_numpy()
        return str(self.data["month"].to_numpy()[int(held.argmax())])

    @property
    def runs_off(self) -> bool:
        """Whether an interface holds more than 0.2 kg/m2, from which water runs off what does not absorb."""
        return bool((self.data["condensate_held"] > RUN_OFF).any())

    @property
    def verdict(self) -> str:
        """The outcome in one or two sentences."""
        if self.outcome is MonthlyOutcome.NONE:
            return "No condensation within the build-up in any month."
        names = self.data["node_name"].to_numpy()
        where = "; ".join(str(names[plane]) for plane in self.planes)
        text = f"Condensation {where}. At most {1e3 * self.peak:.0f} g/m² at the end of {self.peak_month}"
        if self.outcome is MonthlyOutcome.DRIES:
            text += ", which dries within the year."
        else:
            text += f"; {1e3 * self.left:.0f} g/m² are left after twelve months: water gathers year by year."
        if self.runs_off:
            text += " More than 200 g/m² at one place: risk of run-off where the material does not absorb it."
        return text

    def __str__(self) -> str:
        return "\n".join([f"{self.assembly}: {self.outcome}.", *_table(self), self.verdict, *self.notes, LIMITS])

    __repr__ = __str__


def monthly_condensation(
    assembly: Assembly,
    air: MonthlyAir,
    *,
    first_month: int | None = None,
    humidity: float = 0.5,
    well_ventilated: bool | None = None,
) -> MonthlyCondensation:
    """Interstitial condensation and drying over twelve months.

    Parameters
    ----------
    assembly : Assembly
        The build-up; a well ventilated gap and what lies outside it are left out.
    air : MonthlyAir
        Monthly means on both sides; see `monthly_means` and `monthly_values`.
    first_month : int, optional
        Month to begin with, dry, 1 for January; without it the first month with condensation after one without.
    humidity : float, optional
        Relative humidity at which vapour resistances that depend on it are read; the method takes fixed ones. [1]
    well_ventilated : bool, optional
        Count the gap as well ventilated (True) or as still air (False), whatever its openings say.

    Returns
    -------
    MonthlyCondensation
        Table, outcome and limits.

    Raises
    ------
    InputError
        Where an argument cannot be.

    Notes
    -----
    Layers are cut so that no piece has more than 0.25 m2 K W-1. Vapour pressures above saturation at a surface are held
    at saturation and noted.

    References
    ----------
    ISO 13788:2012, clause 6 (from memory).
    """
    if not isinstance(air, MonthlyAir):
        msg = f"The monthly method needs MonthlyAir; got {type(air).__name__}. Use monthly_means or monthly_values."
        raise InputError(msg)
    if first_month is not None and (isinstance(first_month, bool) or first_month not in range(1, 13)):
        msg = f"first_month is {first_month!r}; write a whole number from 1 (January) to 12."
        raise InputError(msg)
    path = chain(assembly, humidity=humidity, finest=FINEST, well_ventilated=well_ventilated)
    place = np.concatenate([[0.0], np.cumsum([one.s_d for one in path.pieces])])
    months = zip(air.outdoor_temperature, air.indoor_temperature, strict=True)
    temperature = np.array([path.temperatures(outdoor, indoor) for outdoor, indoor in months])
    ceiling = saturation_pressure_iso(temperature)
    order, order_note = _order(place, ceiling, air, first_month)
    held = np.zeros(len(place))
    rows: dict[str, list[Array]] = {name: [] for name in STEADY}
    for month in order:
        outer, inner = air.outdoor_vapour_pressure[month], air.indoor_vapour_pressure[month]
        found = vapour_profile(place, ceiling[month], held > 0.0, outer, inner)
        change = np.maximum(found.gain * DAYS[month] * _SECONDS_PER_DAY, -held) + 0.0  # no -0.0
        held = np.where(held + change > _TRACE, held + change, 0.0)
        for name, row in zip(
            STEADY, (temperature[month], found.pressure, ceiling[month], change, held.copy()), strict=True
        ):
            rows[name].append(row)
    coords = {
        "month": [MONTHS[month] for month in order],
        "node_s_d": ("node", place, {"units": "m", "long_name": "s_d from the outer surface"}),
        "node_name": ("node", _names(path)),
    }
    data = xr.Dataset(
        {name: (("month", "node"), np.array(rows[name]), STEADY[name].attrs()) for name in STEADY}, coords=coords
    )
    total = data["condensate_held"].sum("node").to_numpy()
    outcome = MonthlyOutcome.NONE if not total.any() else MonthlyOutcome.STAYS if total[-1] else MonthlyOutcome.DRIES
    notes = [
        f"Air: {air.title}.",
        *path.notes,
        *([order_note] if order_note else []),
        *_surface_notes(ceiling, air),
        *_ice_note(air),
    ]
    return MonthlyCondensation(assembly.name, air, path, data, outcome, tuple(notes))


def _order(place: Array, ceiling: Array, air: MonthlyAir, first_month: int | None) -> tuple[list[int], str]:
    """Months in the order of computation, and a note where the rule for the first one finds none."""
    dry = np.zeros(len(place), dtype=bool)
    wets = [
        bool((vapour_profile(place, ceiling[m], dry, outer, inner).gain > 0.0).any())
        for m, (outer, inner) in enumerate(zip(air.outdoor_vapour_pressure, air.indoor_vapour_pressure, strict=True))
    ]
    note = "Every month condenses: the twelve months begin with January." if all(wets) and first_month is None else ""
    start = next((m for m in range(12) if wets[m] and not wets[m - 1]), 0) if first_month is None else first_month - 1
    return [(start + step) % 12 for step in range(12)], note


def _names(path: Chain) -> list[str]:
    """Where each interface is, in words."""
    names = [f"at the outer face of '{path.pieces[0].name}'"]
    for number, (one, other) in enumerate(zip(path.pieces[:-1], path.pieces[1:], strict=True), start=1):
        if one.part != other.part:
            names.append(f"between '{one.name}' and '{other.name}'")
        else:
            mates = [n for n, piece in enumerate(path.pieces) if piece.part == one.part]
            share = (number - mates[0]) / len(mates)
            names.append(f"in '{one.name}', {100.0 * share:.0f} % of its thickness from outside")
    return [*names, f"at the inner face of '{path.pieces[-1].name}'"]


def _surface_notes(ceiling: Array, air: MonthlyAir) -> Iterable[str]:
    for side, node, pressure in (("outer", 0, air.outdoor_vapour_pressure), ("inner", -1, air.indoor_vapour_pressure)):
        wet = [name for name, most, given in zip(MONTHS, ceiling[:, node], pressure, strict=True) if given > most]
        if wet:
            yield f"The {side} surface itself is at saturation in {', '.join(wet)}; its condensate is not counted."


def _ice_note(air: MonthlyAir) -> Iterable[str]:
    if max(air.outdoor_relative_humidity) > 1.0:
        yield "Below 0 °C relative humidity is over ice here, as in the standard; damp winter air may pass 100 %."


def _table(result: MonthlyCondensation) -> list[str]:
    air, data, planes = result.air, result.data, result.planes
    shown = planes if len(planes) <= 3 else ()
    names = data["node_name"].to_numpy()
    letters = {plane: chr(ord("A") + number) for number, plane in enumerate(shown)}
    head = f"{'month':<6}{'outdoors':>16}{'indoors':>16}"
    head += "".join(f"{f'at {letter}: +/-':>12}{'held':>8}" for letter in letters.values())
    head += f"{'all: +/-':>12}{'held':>8}" if len(shown) != 1 else ""
    lines = [f"{letter}: {names[plane]}" for plane, letter in letters.items()]
    lines += [head, f"{'':<6}{'°C    %':>16}{'°C    %':>16}" + f"{'g/m²':>12}{'g/m²':>8}" * (head.count("+/-"))]
    for row, month in enumerate(data["month"].to_numpy()):
        m = MONTHS.index(str(month))
        cells = f"{month:<6}"
        for warm, humid in (
            (air.outdoor_temperature[m], air.outdoor_relative_humidity[m]),
            (air.indoor_temperature[m], air.indoor_relative_humidity[m]),
        ):
            cells += f"{warm:>11.1f}{100.0 * humid:>5.0f}"
        change, held = (1e3 * data[name].to_numpy()[row] for name in ("condensate_change", "condensate_held"))
        for plane in shown:
            cells += f"{change[plane]:>12.1f}{held[plane]:>8.1f}"
        if len(shown) != 1:
            cells += f"{change.sum():>12.1f}{held.sum():>8.1f}"
        lines.append(cells)
    return lines
