"""Contract: a study file can state all that Python can, its page is current, and what ships is the demo."""

from __future__ import annotations

import importlib.util
import inspect
import re
from pathlib import Path
from types import ModuleType

import pytest

from hygro import demo, indoor
from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.indoor import StandardCurves
from hygro.leakage import AirLeak
from hygro.materials import Finish, Material, SheetMaterial
from hygro.simulation import Start
from hygro.study import Variant, compare
from hygro.studyfile import Study, judging, kinds, parse_study, read_study, study_text, substances, toml, weatherkinds
from hygro.studyfile.examples import example_names, example_text

DOCS = Path(__file__).parents[2] / "docs"


def _maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_study_file", DOCS / "make_study_file.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_current() -> None:
    written = (DOCS / "study-file.md").read_text(encoding="utf-8")
    assert written == _maker().page(), "run: python docs/make_study_file.py"


def test_the_study_on_the_page_can_be_read() -> None:
    text = re.search(r"```toml\n(.*?)```", (DOCS / "study-file.md").read_text(encoding="utf-8"), re.DOTALL)
    assert text is not None
    assert len(parse_study(text[1]).variants) == 2


def test_what_is_tried_on_the_page_fits_the_study_on_the_page() -> None:
    maker = _maker()
    assert maker.TRIED in (DOCS / "study-file.md").read_text(encoding="utf-8")
    study = parse_study(f"{maker.SMALL}\n{maker.TRIED}\n{maker.UNSURE}")
    assert len(study.searches) == 2
    assert len(study.sweeps) == 1


def test_a_shifted_severe_year_on_the_page_can_be_read(tmp_path: Path) -> None:
    maker = _maker()
    assert maker.SEVERE in (DOCS / "study-file.md").read_text(encoding="utf-8")
    (tmp_path / "thirty-years.csv").touch()
    plain = '[climate]\nsample = "hut_valley"\n'
    study = parse_study(maker.SMALL.replace(plain, maker.SEVERE), "x", tmp_path)
    assert study.climate.shift is not None
    assert study.climate.severe_year == "cold"


def test_every_criterion_of_a_search_is_explained_on_the_page() -> None:
    told = next(key.words for key in kinds.SEARCH.keys.values() if key.name == "criterion")
    assert [name for name in judging.CRITERIA if f"'{name}'" not in told] == []


def test_the_build_up_in_the_readme_can_be_read() -> None:
    readme = (DOCS.parent / "README.md").read_text(encoding="utf-8")
    text = re.search(r"```toml\n(.*?)```", readme, re.DOTALL)
    assert text is not None
    frame = 'title = "t"\nwatch = ["deck"]\nstart = "1 October"\nyears = 1\nindoor = "standard curves"\n'
    frame += f'climate = {{ sample = "hut_valley" }}\n{text[1]}\n[[variant]]\nname = "v"\nassembly = "vented roof"\n'
    assert parse_study(frame).variants[0].assembly.gap is not None


def test_every_key_of_every_kind_has_a_meaning() -> None:
    empty = [
        f"{kind.make.__name__}.{key.name}"
        for _, _, listed in _maker().SECTIONS
        for kind in listed
        for key in kind.keys.values()
        if not key.words
    ]
    assert empty == []
    assert list(_maker().TOP) == list(toml.TOP)


STATED = {
    Variant: kinds.VARIANT,
    Assembly: kinds.ASSEMBLY,
    Layer: kinds.LAYER,
    Sheet: kinds.SHEET,
    VentGap: kinds.GAP,
    AirLeak: kinds.LEAK,
    Start: kinds.START,
    Material: substances.MATERIAL,
    SheetMaterial: substances.SHEET_MATERIAL,
    Finish: substances.FINISH,
    **{one.make: one for one in (*kinds.INDOOR, *kinds.SOURCES, *kinds.FLOWS, *kinds.FROST)},
    **{one.make: one for one in (kinds.uncertain_kind(None), kinds.SEARCH, kinds.sweep_kind(None), weatherkinds.SHIFT)},
    **{one.make: one for one in (kinds.VENTILATOR, kinds.EXTRACT, kinds.BUFFER, kinds.DEHUMIDIFIER)},
}


@pytest.mark.parametrize("made", STATED, ids=lambda made: made.__name__)
def test_every_parameter_can_be_stated(made: type) -> None:
    parameters = [name for name in inspect.signature(made).parameters if name != "provenance"]
    assert [key.parameter for key in STATED[made].keys.values()] == parameters


def test_every_object_of_the_air_indoors_can_be_stated() -> None:
    listed = {one for name in indoor.__all__ if inspect.isclass(one := getattr(indoor, name))} - {indoor.IndoorModel}
    stated = {one for one in listed if hasattr(one, "conditions") or hasattr(one, "vapour")}
    assert len(stated) >= 10
    assert stated <= set(STATED)


def test_a_study_states_what_compare_takes() -> None:
    taken = set(inspect.signature(compare).parameters) - {"layer", "progress"}
    assert taken <= set(inspect.signature(Study).parameters)


def test_the_roof_that_ships_is_the_demo() -> None:
    assert example_text("roof") == _maker().roof(), "run: python docs/make_study_file.py"
    assert parse_study(example_text("roof")) == demo.hut_study(StandardCurves())


@pytest.mark.parametrize("name", ["floor-and-wall", "roof"])
def test_what_ships_is_read_and_written_the_same(name: str) -> None:
    assert name in example_names()
    study = parse_study(example_text(name), name)
    assert parse_study(study_text(study)) == study


def test_the_floor_and_the_wall_of_the_hut_are_there() -> None:
    study = parse_study(example_text("floor-and-wall"))
    assert {variant.assembly.kind for variant in study.variants} == {"floor", "wall"}
    assert all(study.variants_with(layer) for layer in study.watch)


def test_what_is_copied_can_be_run(tmp_path: Path) -> None:
    (tmp_path / "roof.toml").write_text(example_text("roof"), encoding="utf-8")
    assert read_study(tmp_path / "roof.toml").watch == (demo.DECK,)
