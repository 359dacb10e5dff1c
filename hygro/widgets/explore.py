"""`explore`: the door to the panel.

May import: panel, subject, controls, demo, assembly, climate, indoor, leakage, errors.
"""

from __future__ import annotations

from collections.abc import Iterable

from hygro import demo
from hygro.assembly import Assembly
from hygro.climate import Climate, sample_climate, sample_names
from hygro.climate.places import PLACES
from hygro.errors import InputError
from hygro.indoor import IndoorModel
from hygro.leakage import AirLeak
from hygro.widgets.controls import Units, moved
from hygro.widgets.panel import Panel
from hygro.widgets.subject import Household, Subject


def explore(
    assembly: Assembly | None = None,
    climate: Climate | Iterable[Climate] | None = None,
    *,
    layer: str | None = None,
    leak: AirLeak | None = None,
    household: Household | None = None,
    years: int = 2,
    units: str = "mm, s_d",
    **settings: object,
) -> Panel:
    """Panel of controls over a build-up: move one, see the seasons again.

    Parameters
    ----------
    assembly : Assembly, optional
        The build-up; the demo's vented hut roof, with its leak and household, where nothing is given.
    climate : Climate or iterable of Climate, optional
        Weathers to choose from, the first one to begin with; the samples follow them.
    layer : str, optional
        Label of the layer that is judged; needed with an assembly of your own.
    leak : AirLeak, optional
        The leak whose size is a control; none, and no control, for an assembly of your own.
    household : callable, optional
        Takes the number of people [1] and the outdoor air of a ventilator [m3 s-1], returns an indoor model; no such
        choice for an assembly of your own.
    years : int, optional
        Length of the run. [a]
    units : str, optional
        ``"mm, s_d"`` or ``"inch, perm"``.
    **settings : str or float
        Where controls begin, as typed into them: ``gap="30 mm"``, ``permeance="1 perm"``, ``air="a household"``.
        [of the panel, where a number has none]

    Returns
    -------
    Panel
        Shown where it is the last line of a cell. ``.set(...)`` moves controls from Python, ``.said`` is the answer,
        ``.as_python()`` the present variant as a script.

    Raises
    ------
    InputError
        Where the layer is missing or unknown, the gap's flow has no openings, or a setting cannot be.
    """
    if assembly is None:
        assembly, layer = demo.hut_roof(vented=True), layer or demo.DECK
        leak, household = leak or demo.hut_leak(demo.TIGHT), household or _in_the_hut
    if layer is None:
        msg = f"Panel: say which layer is judged, such as explore(..., layer={assembly.labels[0]!r})."
        raise InputError(msg)
    if units not in list(Units):
        msg = f"Panel: units are {units!r}; write {' or '.join(repr(str(one)) for one in Units)}."
        raise InputError(msg)
    subject = Subject(assembly, layer, _climates(climate), leak, household, years)
    state = subject.at_first()
    for field, stated in settings.items():
        state = moved(subject, state, field, stated, Units(units))
    return Panel(subject, state, Units(units))


def _in_the_hut(people: float, supply: float) -> IndoorModel:
    return demo.hut_household(1e3 * supply, people=people)


def _climates(climate: Climate | Iterable[Climate] | None) -> dict[str, Climate | str]:
    """Weathers by title: those given first, then the samples by name, each once."""
    own = () if climate is None else (climate,) if isinstance(climate, Climate) else tuple(climate)
    found: dict[str, Climate | str] = {one.title: one for one in own}
    for name in sample_names():
        title = PLACES[name].title
        given = found.get(title)
        if given is not None and given != sample_climate(name):
            title = f"{title}, sample"
        found[title] = name
    return found
