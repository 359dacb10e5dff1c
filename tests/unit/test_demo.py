"""The demo hut: what stands there, and that its roofs come out as physics demands, not as numbers of yesterday."""

import numpy as np
import pytest

from hygro import demo
from hygro.climate import sample_climate
from hygro.criteria import Outcome, moisture_content
from hygro.errors import InputError
from hygro.indoor import StandardCurves
from hygro.rain import DrivingRain
from hygro.study import Variant, compare


@pytest.fixture(scope="module")
def study():
    return compare(
        demo.hut_variants(StandardCurves()),
        sample_climate(demo.CLIMATE),
        layer=demo.DECK,
        start=demo.START,
        years=demo.YEARS,
    )


def test_vented_and_unvented_roofs_differ_by_gap_and_breather_alone():
    vented, unvented = demo.hut_roof(True), demo.hut_roof(False)
    assert vented.gap is not None
    assert unvented.gap is None
    assert vented.labels == unvented.labels == ("roof sheet", "deck", "insulation", "lining")
    assert [part for part in vented if part in unvented.parts] == list(unvented)


def test_no_slices_without_a_gap():
    with pytest.raises(InputError, match="there is no gap to divide"):
        demo.hut_roof(False, slices=4)
    assert demo.hut_roof(True, slices=4).gap.slices == 4


def test_tight_ceiling_is_that_of_the_stated_air_change():
    volume = demo.WIDTH * demo.LENGTH * demo.HEIGHT
    envelope = 2.0 * demo.WIDTH * demo.LENGTH + 2.0 * (demo.WIDTH + demo.LENGTH) * demo.HEIGHT
    assert demo.TIGHT * envelope / volume == pytest.approx(0.6, abs=0.01)
    assert demo.LEAKY * envelope / volume == pytest.approx(6.0, abs=0.05)


def test_every_choice_is_named():
    said = " ".join(f"{name} {words}" for name, words in demo.ASSUMED)
    for word in ("0.3", "q50 of 3", "200 cm²", "aluminium-zinc", "70 %", "common practice"):
        assert word in said


def test_water_and_energy_close(study):
    for result in study.results:
        assert abs(result.run.attrs["audit_water"]) < 1e-10
        assert abs(result.run.attrs["audit_energy"]) < 1e-10


def test_leaks_wet_and_gaps_dry(study):
    wettest = {name: float(moisture_content(run, "deck").max()) for name, run in study.runs.items()}
    assert wettest["vented, tight"] < wettest["vented, leaky"] < wettest["unvented, leaky"]
    assert wettest["vented, tight"] < wettest["unvented, tight"] < wettest["unvented, leaky"]
    assert study.driest.name == "vented, tight"


def test_vented_decks_end_each_year_as_dry_as_the_last(study):
    for name in ("vented, tight", "vented, leaky"):
        end = moisture_content(study[name].run, "deck").isel(time=[8783, -1], slice=0).to_numpy()
        assert end[1] == pytest.approx(end[0], abs=0.2)


def test_unvented_leaky_deck_never_dries(study):
    answer = study["unvented, leaky"].answer
    assert answer.outcome is Outcome.COLLECTS
    assert str(answer.level) == "fails"
    face = moisture_content(study["unvented, leaky"].run, "deck", "inner").isel(slice=0).to_numpy()
    assert np.mean(face > 20.0) > 0.5


def test_no_roof_of_the_demo_drips(study):
    """Water in a full cell stays in the build-up as long as the layer has room."""
    assert {name: float(run["drip"].sum()) for name, run in study.runs.items()} == dict.fromkeys(study.runs, 0.0)


def test_gap_breathes(study):
    speed = np.abs(study["vented, tight"].run["gap_air_speed"].to_numpy())
    assert 0.01 < np.median(speed) < 1.0


def test_walls_differ_by_their_cavity_alone_and_look_north():
    vented, shut = demo.hut_wall(True), demo.hut_wall(False)
    assert vented.kind == shut.kind == "wall"
    assert vented.azimuth == 0.0
    assert vented.gap.is_vented
    assert not shut.gap.is_vented
    assert vented.labels == shut.labels == ("cladding", "sheathing", "insulation", "lining")
    assert vented.gap.thickness == shut.gap.thickness
    assert demo.wall_leak(1.0).into == demo.WALL
    assert demo.wall_leak(1.0).height == pytest.approx(0.25 * demo.HEIGHT)


def test_floor_takes_its_sheets_and_its_wet_board_as_stated():
    floor = demo.hut_floor("breather membrane", None, wet="25 %")
    assert floor.kind == "floor"
    assert floor.labels == ("bottom board", "insulation", "floor board")
    assert [part.name for part in floor if not hasattr(part, "thickness")] == ["breather membrane"]
    assert floor.layers[0].start_moisture == pytest.approx(0.25)
    assert demo.hut_floor("breather membrane", "kraft facing").layers[0].start_moisture is None


def test_household_balance_by_hand():
    # 2 people: 8 h asleep, 8 h away, 8 h awake; two showers; half a dinner. [kg d-1]
    given = 2 * (8 * 0.04 + 8 * 0.05) + 2 * 0.24 + 0.5 * 0.57
    home = demo.hut_household(12.0)
    assert sum(float(one.vapour().sum()) for one in home.sources) * 3600.0 / 7.0 == pytest.approx(given)
    assert home.ventilator.flow == pytest.approx(0.012)
    assert home.volume == pytest.approx(2.5 * 6.2 * 2.3)


def test_pitch_raises_the_outlet():
    assert demo.hut_roof(True, tilt="45 deg").rise > 5.0 * demo.hut_roof(True).rise


@pytest.mark.filterwarnings("ignore:Household")  # stale air, for which such a ventilator is too small
def test_a_household_of_more_people_is_more_humid_and_more_air_is_drier():
    weather = sample_climate(demo.CLIMATE).data
    one, two = (
        demo.hut_household(12.0, people=n).conditions(weather)["indoor_relative_humidity"].mean() for n in (1, 2)
    )
    aired = demo.hut_household(24.0, people=2).conditions(weather)["indoor_relative_humidity"].mean()
    assert one < two
    assert aired < two


def test_a_cavity_without_wind_still_dries_rain_better_than_a_shut_one():
    """The answer to the last exercise of notebook 04: less air, yet enough."""
    climate, joint = sample_climate("wet_coast"), DrivingRain(into=demo.WALL, defect="1 %")
    walls = {
        "wind": demo.hut_wall(True),
        "warmth": demo.hut_wall(True, outlet_bearing=0),
        "shut": demo.hut_wall(False),
    }
    leak, air = demo.wall_leak(demo.TIGHT), StandardCurves()
    variants = [Variant(name, wall, air, leak, rain=joint) for name, wall in walls.items()]
    table = compare(variants, climate, layer=demo.WALL, start="1 October", years=2).table()
    wettest = table["wettest mean [%]"]
    assert wettest["wind"] < wettest["warmth"] < wettest["shut"] - 1.0
    assert table.loc["warmth", "outcome"] == "wet each summer"
    assert table.loc["shut", "outcome"] == "stays wet"
