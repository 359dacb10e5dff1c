"""Whatever is stated, the answer is an object that works or a `MaterialError` with a sentence: never anything else."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from hygro.errors import MaterialError
from hygro.materials import (
    AbsorptionCoefficient,
    Finish,
    LiquidConductivity,
    LiquidDiffusivity,
    Material,
    PoreAir,
    SheetMaterial,
    cup_values,
    equilibrium_moisture_content,
    relative_humidity_of_wood,
    sorption_by_mass,
)

ODD = [
    None,
    True,
    0,
    -1,
    1,
    0.5,
    70,
    600,
    1e300,
    10**400,
    -0.0,
    math.nan,
    math.inf,
    -math.inf,
    1j,
    Decimal("0.2"),
    "",
    "abc",
    "5",
    "5 %",
    "19 mm",
    "1e400 kg/m3",
    "nan kg/m3",
    "5 perm",
    "35 mW/(m K)",
    b"5",
    [],
    [()],
    [1],
    [[0.2, 3]],
    [[0.2, 3], [1.0, 90.0]],
    [[0.2, 3], [0.1, 90.0]],
    [[0.2, None], [1, "x"]],
    [(1e3, 90), (1e7, 3)],
    [[0.5, 1j], [1, 2]],
    {},
    {0.5: 3, 1.0: 9},
    {3},
    object(),
    range(4),
    np.array([]),
    np.array([0.2, 0.8]),
    np.array([[0.5, 4.0], [1.0, 90.0]]),
    np.array(5.0),
    np.float32(3),
    np.datetime64("2020-01-01"),
    pd.Series([1.0, 2.0]),
    pd.DataFrame({"a": [0.5, 1.0], "b": [4.0, 90.0]}),
    pd.DataFrame({"a": ["x", "y"]}),
    pd.NA,
    len,
    str,
    repr,
    math.sqrt,
    np.exp,
    lambda: 1,
    lambda *_: None,
    lambda x: x,
    lambda x: 1j * x,
    lambda x: x[0],
    lambda x: x / 0.0,
    lambda *_: [1, 2],
    lambda *_: "x",
    lambda x: np.log(x),
    lambda x: 100 * x,
    lambda x: 90 / (1 + 1e-6 * x),
    LiquidDiffusivity(1e-9),
    AbsorptionCoefficient(0.1),
    LiquidConductivity([(1, 1e-9), (9, 1e-10)]),
]
odd = st.sampled_from(ODD)
FIELDS = {
    "density": 500,
    "specific_heat": 1600,
    "conductivity": 0.13,
    "vapour_resistance": 70,
    "sorption": [[0.5, 40], [1.0, 120]],
    "retention": None,
    "saturation": 500,
    "free_saturation": None,
    "conductivity_moisture": 0.0,
    "conductivity_temperature": 0.0,
    "liquid": None,
    "mould_sensitivity": None,
    "is_wood": False,
}


def _attempt(make):
    """What was made, or the sentence of the refusal; any other exception fails the test."""
    try:
        return make(), ""
    except MaterialError as error:
        return None, str(error)


def _works(material):
    phi, s = np.array([0.0, 0.3, 0.9, 1.0]), np.array([0.0, 1e4, 1e8])
    assert np.isfinite(material.water_content(phi)).all()
    assert np.isfinite(material.water_content_at_suction(s)).all()
    assert (material.vapour_resistance_factor(phi) >= 1).all()
    k = material.liquid_conductivity(s)
    assert np.isfinite(k).all()
    assert (k >= 0).all()
    hash(material)


@given(st.dictionaries(st.sampled_from(sorted(FIELDS)), odd, min_size=1, max_size=3))
@settings(max_examples=400, deadline=None)
def test_a_material(changes):
    material, sentence = _attempt(lambda: Material("x", **{**FIELDS, **changes}))
    if material is None:
        assert sentence.startswith("Material 'x'")
    else:
        _works(material)


@given(odd, odd)
@settings(max_examples=150, deadline=None)
def test_everything_else(one, two):
    for make in (
        lambda: SheetMaterial("x", s_d=one, permeance=two),
        lambda: SheetMaterial("x", s_d=one),
        lambda: SheetMaterial("x", permeance=one),
        lambda: Finish("x", one, two),
        lambda: cup_values(one, two),
        lambda: sorption_by_mass(one, two),
        lambda: PoreAir(one),
        lambda: LiquidDiffusivity(one),
        lambda: LiquidConductivity(one),
        lambda: AbsorptionCoefficient(one),
        lambda: equilibrium_moisture_content(one, two),
        lambda: relative_humidity_of_wood(one, two),
    ):
        made, sentence = _attempt(make)
        assert made is not None or len(sentence) > 20
        if isinstance(made, SheetMaterial):
            assert (made.vapour_resistance([0.0, 0.5, 1.0]) > 0).all()
