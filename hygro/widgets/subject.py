"""What is explored, and what becomes of it in a state: pure functions from settings to a variant.

May import: study, climate, assembly, indoor, leakage, gapflow, units, errors, state.
"""

from __future__ import annotations

import calendar
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from hygro.assembly import Assembly, Part, Sheet, VentGap
from hygro.climate import Climate, sample_climate
from hygro.errors import InputError
from hygro.gapflow import ByWindAndBuoyancy
from hygro.indoor import ConstantIndoor, IndoorModel, StandardCurves
from hygro.leakage import AirLeak
from hygro.study import Variant
from hygro.widgets.state import Air, State

ROOM: Final = 20.0  # [degC] with a steady humidity
Household = Callable[[float, float], IndoorModel]


@dataclass(frozen=True, slots=True)
class Subject:
    """What is explored.

    Parameters
    ----------
    assembly : Assembly
        The build-up that the controls change.
    layer : str
        Label of the layer that is judged.
    climates : mapping of str to Climate or str
        The weathers to choose from, by title; a text is the name of a sample, read when it is chosen.
    leak : AirLeak or None
        The leak whose size is a control; None for no leak and no control.
    household : callable or None
        Takes the number of people and the outdoor air [m3 s-1], returns the indoor air; None for no such choice.
    years : int
        Length of the run. [a]

    Raises
    ------
    InputError
        Where the layer is unknown, or nothing is left to explore.
    """

    assembly: Assembly
    layer: str
    climates: Mapping[str, Climate | str]
    leak: AirLeak | None
    household: Household | None
    years: int

    def __post_init__(self) -> None:
        self.assembly.layer_number(self.layer)
        if isinstance(self.years, bool) or not isinstance(self.years, int) or not 1 <= self.years <= 10:
            msg = f"Panel: years is {self.years!r}; it must be a whole number from 1 to 10. Two show a trend."
            raise InputError(msg)
        gap = self.assembly.gap
        if gap is not None and not isinstance(gap.flow, ByWindAndBuoyancy):
            msg = (
                f"Panel: the vent gap {gap.name!r} is {gap.flow.describe()}; its openings cannot be explored. "
                "Give the gap ByWindAndBuoyancy(...)."
            )
            raise InputError(msg)

    @property
    def retarder(self) -> Sheet | None:
        """The sheet that the permeance is set of: the innermost one."""
        return next((part for part in reversed(self.assembly.parts) if isinstance(part, Sheet)), None)

    def has(self, field: str) -> bool:
        """Whether a field of the state changes anything in this subject."""
        if field in ("gap", "inlet", "outlet", "screen"):
            return self.assembly.gap is not None
        if field == "permeance":
            return self.retarder is not None
        if field == "q50":
            return self.leak is not None
        return self.household is not None if field in ("people", "supply") else True

    def at_first(self) -> State:
        """State that leaves the build-up as it was given."""
        gap, retarder = self.assembly.gap, self.retarder
        flow = None if gap is None else gap.flow
        known = flow if isinstance(flow, ByWindAndBuoyancy) else ByWindAndBuoyancy(inlet=0.0, outlet=0.0)
        return State(
            gap=0.0 if gap is None else gap.thickness,
            inlet=known.inlet,
            outlet=known.outlet,
            screen=known.screen,
            permeance=0.0 if retarder is None else 1.0 / float(retarder.material.vapour_resistance(0.5)),
            q50=0.0 if self.leak is None else self.leak.q50,
            air=Air.STANDARD,
            humidity=0.35,
            people=2.0,
            supply=0.010,
            finish=self.assembly.finish.name,
            climate=next(iter(self.climates)),
            month=10,
        )

    def built(self, state: State, name: str) -> Variant:
        """The variant that a state describes."""
        return Variant(name, self._assembly(state), self._indoor(state), self._leak(state))

    def climate(self, state: State) -> Climate:
        """The weather of a state."""
        stated = self.climates[state.climate]
        return sample_climate(stated) if isinstance(stated, str) else stated

    def start(self, state: State) -> str:
        """First day of a state's run."""
        return f"1 {calendar.month_name[state.month]}"

    def _assembly(self, state: State) -> Assembly:
        base, first, parts = self.assembly, self.at_first(), list[Part]()
        skip_sheet = False
        for part in base.parts:
            if isinstance(part, VentGap):
                # Without the gap, the membrane that faces it has nothing to keep out.
                skip_sheet = state.gap == 0.0
                if not skip_sheet:
                    parts.append(_gap(part, state))
                continue
            if not (skip_sheet and isinstance(part, Sheet)):
                parts.append(part)
            skip_sheet = False
        retarder = self.retarder
        if retarder is not None and state.permeance != first.permeance:
            number = next(n for n in range(len(parts) - 1, -1, -1) if isinstance(parts[n], Sheet))
            parts[number] = Sheet("vapour retarder", permeance=state.permeance)
        finish = base.finish if state.finish == base.finish.name else state.finish
        return Assembly(base.name, parts, tilt=base.tilt, azimuth=base.azimuth, finish=finish)

    def _indoor(self, state: State) -> IndoorModel:
        if state.air is Air.HOUSEHOLD and self.household is not None:
            return self.household(state.people, state.supply)
        return ConstantIndoor(ROOM, state.humidity) if state.air is Air.STEADY else StandardCurves()

    def _leak(self, state: State) -> AirLeak | None:
        return None if self.leak is None else replace(self.leak, q50=state.q50)


def _gap(gap: VentGap, state: State) -> VentGap:
    flow = gap.flow
    assert isinstance(flow, ByWindAndBuoyancy)  # noqa: S101
    moved = replace(flow, inlet=state.inlet, outlet=state.outlet, screen=state.screen)
    return replace(gap, thickness=state.gap, flow=moved)
