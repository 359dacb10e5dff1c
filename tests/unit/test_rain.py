"""Rain in runs: what reaches the face is taken up, runs off or gets in, and the books close; what is refused."""

from __future__ import annotations

import numpy as np
import pytest

import hygro
from hygro import AirfieldRain, DrivingRain, FixedFilm, Layer, Sheet, Variant
from hygro.errors import InputError
from hygro.indoor import ConstantIndoor

ROOM = ConstantIndoor(20.0, 0.5)
HOURS = 24 * 7


def _wet_week(rain=1.0, temperature=8.0, direction=180.0):
    """Rain in every third hour, wind straight onto a south wall."""
    falls = np.where(np.arange(HOURS) % 3 == 0, rain, 0.0)
    return hygro.climate_from_arrays(
        np.full(HOURS, temperature), np.full(HOURS, 0.85), rain=falls, wind_speed=4.0, wind_direction=direction
    )


def _render(bench, outer="lime plaster"):
    inner = (Layer("mineral wool batt", "100 mm"), Layer("plywood 500", "12 mm", name="sheathing"))
    return bench.build(Layer(outer, "20 mm"), *inner)


def _total(run, *names):
    return sum(float(run[name].sum()) for name in names) * 3600


def test_a_wall_meets_the_design_rain_by_default(bench):
    """All rain on the face is taken up or runs off; 0.2 x 0.5 x 4 m/s of what falls."""
    run = bench.simulate(_render(bench), _wet_week(), ROOM)
    assert _total(run, "rain_absorbed", "rain_run_off") == pytest.approx(0.2 * 0.5 * 4.0 * HOURS / 3, rel=1e-9)
    assert _total(run, "rain_absorbed") > 1.0
    assert _total(run, "rain_leak") == 0.0
    assert "exposure 1, deposition 0.5" in run.attrs["rain"]
    dry = bench.simulate(_render(bench), _wet_week(direction=0.0), ROOM)
    assert _total(dry, "rain_absorbed", "rain_run_off") == 0.0
    assert float(run["layer_water"][-1, 0, 0]) > float(dry["layer_water"][-1, 0, 0]) + 1.0


@pytest.mark.parametrize("kind", ["roof", "fixed film", "no rain", "kept off"])
def test_no_rain_unless_asked(bench, kind):
    parts = (Layer("lime plaster", "20 mm"), Layer("mineral wool batt", "100 mm"))
    wall = bench.build(*parts, tilt=20 if kind == "roof" else 90)
    others = {"outside": FixedFilm(25.0, 1e-7)} if kind == "fixed film" else {}
    if kind == "kept off":
        others = {"rain": DrivingRain(deposition=0.0)}
    run = bench.simulate(wall, _wet_week(rain=0.0 if kind == "no rain" else 1.0), ROOM, **others)
    assert _total(run, "rain_absorbed", "rain_run_off", "rain_leak") == 0.0


def test_a_roof_that_is_asked_takes_rain(bench):
    roof = bench.build(Layer("lime plaster", "20 mm"), Layer("mineral wool batt", "100 mm"), tilt=0)
    run = bench.simulate(roof, _wet_week(), ROOM, rain=DrivingRain())
    assert _total(run, "rain_absorbed", "rain_run_off") == pytest.approx(HOURS / 3, rel=1e-9)


def test_a_defect_wets_the_layer_that_is_named(bench):
    """1 % of the rain on the face goes to the outer face of the sheathing, whatever lies before it."""
    wall = bench.build(
        Layer("fibre-cement board", "8 mm"), Sheet("aluminium foil"), Layer("plywood 500", "12 mm", name="sheathing"),
        Sheet("aluminium foil"), Layer("mineral wool batt", "100 mm"),
    )  # fmt: skip
    load = DrivingRain(deposition=1.0, into="sheathing")
    leaky = bench.simulate(wall, _wet_week(), ROOM, rain=load)
    tight = bench.simulate(wall, _wet_week(), ROOM, rain=DrivingRain(deposition=1.0))
    on_face = 0.2 * 4.0 * HOURS / 3
    assert _total(leaky, "rain_leak") == pytest.approx(0.01 * on_face, rel=1e-9)
    assert _total(leaky, "rain_absorbed", "rain_run_off") == pytest.approx(0.99 * on_face, rel=1e-9)
    gained = float((leaky["layer_water"] - tight["layer_water"]).sel(layer="sheathing")[-1, 0])
    assert gained == pytest.approx(0.01 * on_face, rel=0.02)
    assert "1 % of it gets to the outer face of 'sheathing'" in leaky.attrs["rain"]


def test_frozen_ground_and_snow_wet_nothing(bench):
    run = bench.simulate(_render(bench), _wet_week(temperature=-4.0), ROOM)
    assert _total(run, "rain_absorbed", "rain_run_off") == 0.0


def test_variants_carry_their_rain(bench):
    year = hygro.climate_from_arrays(
        np.full(8760, 8.0), np.full(8760, 0.85), rain=0.1, wind_speed=4.0, wind_direction=180.0
    )
    wall = _render(bench, "fibre-cement board")
    load = DrivingRain(into="sheathing")
    variants = [Variant("leaky", wall, ROOM, rain=load), Variant("tight", wall, ROOM)]
    found = hygro.compare(variants, year, layer="sheathing", start="1 January", years=1)
    assert float(found["leaky"].run["rain_leak"].sum()) > 0.0
    assert float(found["tight"].run["rain_leak"].sum()) == 0.0


REFUSED = [
    (lambda: DrivingRain(exposure=9), "exposure is 9; it must lie between 0.1 and 3"),
    (lambda: DrivingRain(deposition=-1), "deposition is -1; it must lie between 0 and 2"),
    (lambda: DrivingRain(defect=50), "defect is 50; it must lie between 0 and 1"),
    (lambda: DrivingRain(defect="a bit"), "could not be read"),
    (lambda: DrivingRain(into=3), "into is 3; give the label of the layer"),
    (lambda: DrivingRain(by_drop_size="yes"), "by_drop_size is 'yes'; it must be True or False"),
    (lambda: AirfieldRain(wall_factor=0.4, terrain=7, height=5), "terrain is 7; it must be 1, 2, 3 or 4"),
    (lambda: AirfieldRain(wall_factor=0.4, terrain=2, height=5, obstruction=1), "it must lie between 4 and"),
    (lambda: AirfieldRain(wall_factor=0.4, terrain=2, height=-5), "height is -5; it must lie between 0 and 300 m."),
]


@pytest.mark.parametrize(("make", "sentence"), REFUSED)
def test_rain_refuses(make, sentence):
    with pytest.raises(InputError) as caught:
        make()
    assert sentence in str(caught.value)


LEAKS = [
    ("steel sheet", "rain is to leak into 'inner', but steel sheet is impermeable"),
    ("cellular glass", "rain is to leak into 'inner', but cellular glass is impermeable"),
    ("no such", "has no layer 'no such'"),
    ("outer", "'outer' is the outermost layer, which rain wets without a defect"),
]


@pytest.mark.parametrize(("what", "sentence"), LEAKS)
def test_rain_that_cannot_get_there(bench, what, sentence):
    """A defect into a layer that takes up no water, or where rain is anyway, contradicts itself."""
    inner = what if what in ("steel sheet", "cellular glass") else "plywood 500"
    wall = bench.build(
        Layer("fibre-cement board", "8 mm", name="outer"), Layer(inner, "2 mm", name="inner"),
        Layer("plywood 500", "12 mm", name="sheathing"),
    )  # fmt: skip
    load = DrivingRain(into="inner" if inner == what else what)
    with pytest.raises(InputError) as caught:
        hygro.simulate(wall, _wet_week(), ROOM, rain=load)
    assert sentence in str(caught.value)
    if "impermeable" in sentence:
        assert "Name one that does: 'sheathing'." in str(caught.value)


def test_rain_that_the_climate_does_not_hold(bench):
    with pytest.raises(InputError, match="has no rain in any hour"):
        hygro.simulate(_render(bench), hygro.constant_climate(5.0, 0.8, hours=24), ROOM, rain=DrivingRain())
