"""Draw the pictures of the documents anew: ``python docs/make_pictures.py`` from the root of the tree."""

from __future__ import annotations

import warnings
from pathlib import Path

import hygro
from hygro import Variant, compare, demo, plots
from hygro.errors import HygroWarning
from hygro.indoor import StandardCurves
from hygro.study import Comparison

FOLDER = Path(__file__).with_name("images")
VALLEY = hygro.sample_climate("hut_valley")
AIR = StandardCurves()


def roofs() -> Comparison:
    """Retarders and leaks: four roofs that need no more than a glance."""
    tight, leaky = demo.hut_leak(demo.TIGHT), demo.hut_leak(demo.LEAKY)
    variants = [
        Variant("tight sheet, tight ceiling", demo.hut_roof(False), AIR, tight),
        Variant("tight sheet, leaky ceiling", demo.hut_roof(False), AIR, leaky),
        Variant("variable sheet, tight ceiling", demo.hut_roof(False, retarder="variable retarder"), AIR, tight),
        Variant("vent gap, leaky ceiling", demo.hut_roof(True), AIR, leaky),
    ]
    return compare(variants, VALLEY, layer="deck", start="1 October", years=2)


def gaps() -> Comparison:
    """What moves air in a gap, and what does not."""
    changes = {
        "50 mm, 200 cm² a metre": {},
        "100 mm, 200 cm²": {"gap": "100 mm"},
        "10 mm, 200 cm²": {"gap": "10 mm"},
        "50 mm, 50 cm²": {"opening": "50 cm^2/m"},
        "50 mm, 500 cm²": {"opening": "500 cm^2/m"},
    }
    leak = demo.hut_leak(demo.LEAKY)
    variants = [Variant(name, demo.hut_roof(True, **change), AIR, leak) for name, change in changes.items()]
    return compare(variants, VALLEY, layer="deck", start="1 October", years=1)


def floors() -> Comparison:
    """A wet board between sheets."""
    pairs = {
        "tight below and above": ("bitumen sheet 3 mm", "polyethylene 0.15 mm"),
        "open below": ("breather membrane", "polyethylene 0.15 mm"),
    }
    variants = [Variant(name, demo.hut_floor(*pair, wet="30 %"), AIR) for name, pair in pairs.items()]
    return compare(variants, VALLEY, layer="bottom board", start="1 October", years=2)


def main() -> None:
    """Draw and write all pictures."""
    some = roofs()
    plots.save_png(plots.small_multiples(some), FOLDER / "sheets-and-leaks.png")
    plots.save_png(plots.depth_time_map(some["tight sheet, leaky ceiling"].run), FOLDER / "depth-by-time.png")
    plots.save_png(plots.air_moved_figure(gaps()), FOLDER / "air-moved.png")
    plots.save_png(plots.small_multiples(floors()), FOLDER / "wet-floor.png")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", HygroWarning)
        airs = {f"{flow} l/s": demo.hut_household(flow).conditions(VALLEY.data) for flow in (3, 6, 10, 20)}
    plots.save_png(plots.indoor_air_figure(airs), FOLDER / "indoor-air.png")
    demo.hut_roof(True).draw().save(FOLDER / "section.svg")


if __name__ == "__main__":
    main()
