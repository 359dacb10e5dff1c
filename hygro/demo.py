"""The demo: an invented two-person bird-observatory hut, its roof, wall, floor and household.

The hut is 2.5 m by 6.2 m inside and 2.3 m high, stands on steel skids in an invented cold valley, and has a mono-pitch
roof of 5 degrees without attic. May import: studyfile and all above it.
"""

from __future__ import annotations

from typing import Final

from hygro.assembly import Assembly, Layer, Part, Sheet, VentGap
from hygro.ensemble import Triangular, scatter
from hygro.errors import InputError
from hygro.gapflow import ByWindAndBuoyancy, Closed
from hygro.indoor import Buffer, Household, IndoorModel, MoistureEvent, People, Preheat, Ventilator
from hygro.indoor.sources import FAMILY_DINNER, SHOWER
from hygro.leakage import AirLeak
from hygro.study import Variant
from hygro.studyfile import Sample, Study, Uncertain, WeatherFile

CLIMATE: Final = "hut_valley"
START: Final = "1 October"
YEARS: Final = 2
DECK: Final = "deck"
RETARDER: Final = "polyethylene 0.15 mm"
FINISH: Final = "aluminium-zinc coated steel"

WIDTH, LENGTH, HEIGHT = 2.5, 6.2, 2.3  # [m] inside
TIGHT: Final = 0.3  # [m3 m-2 h-1] see ASSUMED
LEAKY: Final = 3.0  # [m3 m-2 h-1] see ASSUMED
WALL: Final = "sheathing"
FLOOR: Final = "bottom board"

TITLE: Final = "Does the hut's roof stay dry?"
QUESTION: Final = (
    "The hut's roof is nearly flat and has no attic: the insulation lies right under the deck. Is a vent gap under the "
    "deck needed, and what does it matter whether the ceiling is airtight?"
)
BUILDING: Final = (
    "A bird-observatory hut for two on steel skids, 2.5 m by 6.2 m inside and 2.3 m high, with a mono-pitch roof of 5 "
    "degrees that faces south. Four roofs are compared: with a 50 mm vent gap under the deck and without, each with a "
    "tight and with a leaky ceiling. The vapour retarder is polyethylene in all four."
)

ASSUMED: Final[tuple[tuple[str, str], ...]] = (
    (
        "Tight ceiling",
        "lets 0.3 m³ of air through each m² in an hour at 50 Pa (q50). For this hut that is 0.6 air changes an hour of "
        "the whole house, the target of very careful builders; common practice, not a code limit.",
    ),
    (
        "Leaky ceiling",
        "q50 of 3 m³/(m² h), ten times as much: seams not taped, cables not sealed. About 6 air changes an hour; "
        "ordinary for timber buildings without a test; common practice.",
    ),
    (
        "Way of the leak",
        "all leaking air reaches the deck (or the gap) by a short path, driven by the warmth of the house alone. "
        "That is the harsher of the two ways that can be computed.",
    ),
    ("Openings", "200 cm² a metre at eaves and ridge, insect screen with half its area free, nothing blocked."),
    (
        "Bare metal roof",
        "aluminium-zinc coated steel, clean all year: it loses little heat to the night sky. Paint, dirt and frost "
        "take that away, and a roof that is colder than the air collects more frost.",
    ),
    ("Snow and rain", "neither lies on the roof nor leaks in; snow may also block the openings."),
    (
        "Surfaces",
        "outside meets sun, sky and 0.7 of the wind at 10 m; inside the film of ISO 6946 for heat going up, 0.10 m² "
        "K/W.",
    ),
    ("Deck", "plywood that starts at 70 % relative humidity; built in wet, it needs longer."),
)

# What is not known for sure about the roof. The triangles are estimates; of the others see `scatter`.
UNCERTAIN: Final = (
    Uncertain("leak.q50", scatter.LEAK),
    Uncertain("gap.blocked", Triangular("0 %", "10 %", "60 %")),
    Uncertain("start.relative_humidity", Triangular("60 %", "70 %", "90 %")),
    Uncertain("deck.times_vapour_resistance", scatter.VAPOUR_RESISTANCE),
    Uncertain("deck.times_sorption", scatter.SORPTION),
    Uncertain("insulation.conductivity", scatter.CONDUCTIVITY),
)


def hut_roof(
    vented: bool,
    *,
    gap: str | float = "50 mm",
    opening: str | float = "200 cm^2/m",
    screen: str | float = 0.5,
    insulation: str | float = "220 mm",
    retarder: Sheet | str = RETARDER,
    finish: str = FINISH,
    slices: int = 1,
    tilt: str | float = "5 deg",
) -> Assembly:
    """Roof of the hut, from outside to inside.

    Parameters
    ----------
    vented : bool
        Whether there is a vent gap, and a breather membrane, under the deck.
    gap : str or float, optional
        Clear height of the gap. [m]
    opening : str or float, optional
        Open area per metre at eaves and at ridge, screen not yet taken off. [m2 m-1]
    screen : str or float, optional
        Free share of the insect screens. [1]
    insulation : str or float, optional
        Thickness of the mineral wool. [m]
    retarder : Sheet or str, optional
        Vapour retarder on the warm side.
    finish : str, optional
        Name of the outer finish.
    slices : int, optional
        Pieces of the gap along the flow.
    tilt : str or float, optional
        Pitch. [degree]

    Returns
    -------
    Assembly
        With the layers ``deck``, ``insulation`` and ``lining``.

    Raises
    ------
    InputError
        Where a value cannot be.
    """
    if slices != 1 and not vented:
        msg = f"Hut roof: slices is {slices!r}, but the roof is unvented: there is no gap to divide. Leave slices out."
        raise InputError(msg)
    outside: list[Part] = [Layer("steel sheet", "0.6 mm", name="roof sheet"), Sheet("synthetic underlay")]
    deck = Layer("plywood 500", "18 mm", name=DECK)
    wool = Layer("mineral wool batt", insulation, name="insulation")
    sheet = Sheet(retarder) if isinstance(retarder, str) else retarder
    inside: list[Part] = [wool, sheet, Layer("gypsum board", "12.5 mm", name="lining")]
    between: list[Part] = []
    if vented:
        flow = ByWindAndBuoyancy(inlet=opening, outlet=opening, screen=screen)
        between = [VentGap(gap, length="3 m", flow=flow, slices=slices), Sheet("breather membrane")]
    name = "vented hut roof" if vented else "unvented hut roof"
    return Assembly(name, [*outside, deck, *between, *inside], tilt=tilt, azimuth="180 deg", finish=finish)


def hut_leak(q50: str | float) -> AirLeak:
    """Air leaking through the ceiling of the hut to the deck, or into the gap under it.

    Parameters
    ----------
    q50 : str or float
        Air permeability of the ceiling at 50 Pa. [m3 m-2 h-1]

    Returns
    -------
    AirLeak
        Driven by the warmth of the house alone, wind left out: the ceiling is half the height of the room above the
        neutral level.
    """
    return AirLeak(q50, height=0.5 * HEIGHT, into=DECK, pressure_coefficient=0.0)


def hut_variants(indoor: IndoorModel) -> tuple[Variant, ...]:
    """The four roofs of the demo: vented and unvented, each with a tight and a leaky ceiling.

    Parameters
    ----------
    indoor : indoor model
        Air indoors.

    Returns
    -------
    tuple of Variant
        Vented tight, vented leaky, unvented tight, unvented leaky.
    """
    return tuple(
        Variant(f"{'vented' if vented else 'unvented'}, {name}", hut_roof(vented), indoor, hut_leak(q50))
        for vented in (True, False)
        for name, q50 in (("tight", TIGHT), ("leaky", LEAKY))
    )


def hut_study(
    indoor: IndoorModel, climate: Sample | WeatherFile | None = None, *, start: str = START, years: int = YEARS
) -> Study:
    """The demo as a study.

    Parameters
    ----------
    indoor : indoor model
        Air indoors.
    climate : Sample or WeatherFile, optional
        Which weather; the hut's own valley by default.
    start : str, optional
        First day.
    years : int, optional
        How long. [a]

    Returns
    -------
    Study
        The four roofs, the deck watched; what is uncertain counts where members are asked for.
    """
    return Study(
        title=TITLE,
        variants=hut_variants(indoor),
        climate=Sample(CLIMATE) if climate is None else climate,
        watch=(DECK,),
        start=start,
        years=years,
        question=QUESTION,
        building=BUILDING,
        assumed=ASSUMED,
        uncertain=UNCERTAIN,
    )


def hut_wall(
    vented: bool,
    *,
    cavity: str | float = "25 mm",
    opening: str | float = "100 cm^2/m",
    sheathing: str = "OSB",
    retarder: str = RETARDER,
    azimuth: str | float = "0 deg",
    outlet_bearing: float | None = None,
) -> Assembly:
    """Wall of the hut behind timber cladding, from outside to inside.

    Parameters
    ----------
    vented : bool
        Whether the cavity behind the cladding is open at bottom and top; otherwise it is shut.
    cavity : str or float, optional
        Depth of the cavity. [m]
    opening : str or float, optional
        Open area per metre at bottom and at top, behind insect screens of half free area. [m2 m-1]
    sheathing : str, optional
        Material of the 12 mm board outside the insulation.
    retarder : str, optional
        Vapour retarder on the warm side.
    azimuth : str or float, optional
        Where it looks to; north by default. [degree]
    outlet_bearing : float, optional
        0 puts both openings of the cavity under the same wind, so that warmth alone drives its air; else as over
        opposite walls. [degree]

    Returns
    -------
    Assembly
        With the layers ``cladding``, ``sheathing``, ``insulation`` and ``lining``.

    Raises
    ------
    InputError
        Where a value cannot be.
    """
    openings = ByWindAndBuoyancy(inlet=opening, outlet=opening, screen=0.5, outlet_bearing=outlet_bearing)
    flow = openings if vented else Closed()
    parts: list[Part] = [
        Layer("softwood", "20 mm", name="cladding"),
        VentGap(cavity, length=HEIGHT, flow=flow, name="cavity"),
        Sheet("breather membrane"),
        Layer(sheathing, "12 mm", name=WALL),
        Layer("mineral wool batt", "140 mm", name="insulation"),
        Sheet(retarder),
        Layer("gypsum board", "12.5 mm", name="lining"),
    ]
    name = f"hut wall, cavity {'open' if vented else 'shut'}"
    return Assembly(name, parts, tilt="90 deg", azimuth=azimuth, finish="weathered wood")


def wall_leak(q50: str | float) -> AirLeak:
    """Air leaking through the upper part of a wall of the hut to its sheathing.

    Parameters
    ----------
    q50 : str or float
        Air permeability of the wall's lining at 50 Pa. [m3 m-2 h-1]

    Returns
    -------
    AirLeak
        Driven by the warmth of the house alone, wind left out, a quarter of the room's height above the neutral level.
    """
    return AirLeak(q50, height=0.25 * HEIGHT, into=WALL, pressure_coefficient=0.0)


def hut_floor(below: str, above: str | None, *, wet: str | float | None = None) -> Assembly:
    """Floor of the hut over open air, from outside (below) to inside.

    Parameters
    ----------
    below : str
        Sheet under the bottom board.
    above : str or None
        Vapour retarder under the floor board; None for none.
    wet : str or float, optional
        Water per dry mass of the bottom board at the start, for instance ``"30 %"``; as dry as the rest otherwise.
        [kg kg-1]

    Returns
    -------
    Assembly
        With the layers ``bottom board``, ``insulation`` and ``floor board``.

    Raises
    ------
    InputError
        Where a value cannot be.
    """
    parts: list[Part] = [
        Sheet(below),
        Layer("plywood 500", "9 mm", name=FLOOR, start_moisture=wet),
        Layer("mineral wool batt", "150 mm", name="insulation"),
        *([Sheet(above)] if above else []),
        Layer("plywood 500", "18 mm", name="floor board"),
    ]
    return Assembly("hut floor", parts, tilt="180 deg", azimuth="180 deg", finish="weathered wood")


def hut_household(flow: float, *, people: float = 2.0, moisture_recovery: float = 0.0) -> Household:
    """People in the tight hut: they sleep, wash and cook there, and are out from nine to five.

    Parameters
    ----------
    flow : float
        Outdoor air of the ventilator. [l s-1]
    people : float, optional
        How many. [1]
    moisture_recovery : float, optional
        Effectiveness of the ventilator for moisture. [1]

    Returns
    -------
    Household
        At 20 degC, with 0.03 air changes an hour of leakage (0.6 at 50 Pa over twenty, common practice), a shower each
        at seven, a quarter of a family's dinner each at six, 80 % heat recovery with frost protection, and 60 m2 of
        surfaces that buffer like plain gypsum board (0.05 kg m-2, an estimate).

    Raises
    ------
    InputError
        Where a value cannot be.
    """
    return Household(
        volume=WIDTH * LENGTH * HEIGHT,
        set_point=20.0,
        infiltration=0.03,
        sources=(
            People(people, away=tuple(range(9, 17))),
            MoistureEvent("showers", SHOWER * people, (7,)),
            MoistureEvent("dinner", 0.25 * FAMILY_DINNER * people, (18,)),
        ),
        ventilator=Ventilator(1e-3 * flow, 0.8, moisture_recovery, Preheat()),
        buffers=(Buffer(60.0, 0.05),),
    )
