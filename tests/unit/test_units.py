"""The door: trade notation in, SI out, and a sentence for everything else."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hygro import units
from hygro.errors import InputError

READ = [
    (0.019, "length", 0.019), ("19 mm", "length", 0.019), ("3/4 in", "length", 0.01905), ("1 1/2 in", "length", 0.0381),
    ('3/4"', "length", 0.01905), ("1e-3 m", "length", 0.001), ("2 ft", "length", 0.6096), ("0.5 cm", "length", 0.005),
    ("68 degF", "temperature", 20.0), ("20 °C", "temperature", 20.0), ("-10 degC", "temperature", -10.0),
    ("293.15 K", "temperature", 20.0), ("80 %", "fraction", 0.8), (0.8, "fraction", 0.8),
    ("1 perm", "permeance", 57.2135e-12), ("60 ng/(Pa s m2)", "permeance", 60e-12),
    ("1 perm-in", "permeability", 1.45322e-12), ("2 perm inch", "permeability", 2.90644e-12),
    ("2 perm-inch", "permeability", 2.90644e-12), ("1-1/2 in", "length", 0.0381), ("5 degC", "temperature", 5.0),
    ("\N{MINUS SIGN}5 °C", "temperature", -5.0), ("20 cfm", "volume flow", 9.43895e-3),
    ("0.5 ACH", "air change rate", 0.5),
    ("200 cm^2/m", "area per width", 0.02), ("200 mm2/m", "area per width", 0.0002),
    ("50 1/hour", "air change rate", 50.0),
    ("50 1/h", "air change rate", 50.0), ("30 deg", "angle", 30.0), ("10 mph", "speed", 4.4704),
    ("1.0 m3/(m2 hour)", "air permeability", 1.0), ("35 mW/(m K)", "conductivity", 0.035),
    ("1.7 kJ/(kg K)", "specific heat", 1700.0), (np.float64(0.5), "fraction", 0.5), (np.int64(2), "length", 2.0),
]  # fmt: skip


@pytest.mark.parametrize(("stated", "dimension", "expected"), READ)
def test_reads(stated, dimension, expected):
    assert units.to_si(stated, dimension, "It") == pytest.approx(expected, rel=1e-5)


REFUSED = [
    ("19", "length", "a text without a unit"), ("mm", "length", "could not be read"),
    ("", "length", "could not be read"),
    ("19 kg", "length", "could not be read as a length"), ("nineteen mm", "length", "could not be read"),
    ("19 furlongs per", "length", "could not be read"), (math.nan, "length", "must be a finite number"),
    (-math.inf, "length", "must be a finite number"), ("1e999 m", "length", "could not be read"),
    (None, "length", "neither a number"),
    (True, "fraction", "neither a number"), ({}, "length", "neither a number"),
    ("1/0 m", "length", "could not be read"),
    ("leaky", "air permeability", 'Write "1.5 m3/(m2 h)" or 1.5'),
    ("some", "volume flow", 'Write "10 l/s", "36 m3/h",'),
    ("20 percent of", "fraction", "could not be read"), ("5 perm", "length", "could not be read"),
    ("10 degC", "length", "could not be read"), ("__import__('os')", "length", "could not be read"),
]  # fmt: skip


@pytest.mark.parametrize(("stated", "dimension", "sentence"), REFUSED)
def test_refuses_with_what_where_and_how(stated, dimension, sentence):
    with pytest.raises(InputError) as caught:
        units.to_si(stated, dimension, "Layer 'deck': thickness")
    message = str(caught.value)
    assert message.startswith("Layer 'deck': thickness is")
    assert sentence in message
    assert "Write " in message


@pytest.mark.parametrize(
    ("dimension", "noun"),
    [
        ("angle", "an angle"),
        ("area per width", "an area per width"),
        ("air permeability", "an air permeability"),
        ("length", "a length"),
        ("film coefficient", "a film coefficient"),
    ],
)
def test_the_article_fits(dimension, noun):
    with pytest.raises(InputError, match=f"could not be read as {noun}\\."):
        units.to_si("3 nonsense", dimension, "It")


@given(st.floats(1e-6, 1e6))
def test_text_and_number_agree(value):
    assert units.to_si(f"{value!r} mm", "length", "It") == pytest.approx(value / 1000, rel=1e-12)


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_a_sentence(text):
    try:
        length, said = units.to_si(text, "length", "It"), None
    except InputError as error:
        length, said = None, str(error)
    assert "It is" in said if length is None else math.isfinite(length)


def test_perm_from_its_definition():
    """One grain (64.79891 mg) per hour, square foot and inch of mercury at 0 degC (3386.389 Pa)."""
    by_definition = 64.79891e-6 / 3600 / 0.3048**2 / 3386.389
    assert pytest.approx(by_definition, rel=1e-5) == units.PERM
    assert pytest.approx(by_definition * 0.0254, rel=1e-5) == units.PERM_INCH


@pytest.mark.parametrize(("s_d", "perm"), [(50.0, 0.0682), (0.2, 17.04)])
def test_s_d_and_perm(s_d, perm):
    assert units.to_perm(units.permeance_from_s_d(s_d)) == pytest.approx(perm, rel=1e-3)
    assert units.s_d_from_permeance(units.permeance_from_s_d(s_d)) == pytest.approx(s_d)


def test_one_perm_is_about_3_4_metres():
    assert units.s_d_from_permeance(units.to_si("1 perm", "permeance", "It")) == pytest.approx(3.408, rel=1e-3)
    assert units.s_d_from_permeance(0.0) == math.inf
    assert units.permeance_from_s_d(0.0) == math.inf
    assert units.to_inch(0.0254) == pytest.approx(1.0)


def test_common_units_are_what_the_library_of_units_says_and_exact():
    """A number that is divided once lies within a last digit of the library's, which multiplies by a rounded factor."""
    for dimension, unit in units._COMMON:
        for number in (18.0, 0.6, 37.3, -4.0):
            right = units._converted(number, unit, units._DIMENSIONS[dimension])
            assert units.to_si(f"{number} {unit}", dimension, "x") == pytest.approx(right, rel=1e-15), (dimension, unit)
    assert units.to_si("18 mm", "length", "x") == 0.018
    assert units.to_si("200 cm^2/m", "area per width", "x") == 0.02


def test_a_study_in_common_units_is_read_and_written_without_the_library_of_units():
    code = (
        "import sys; from hygro.studyfile import parse_study, study_text\n"
        "from hygro.studyfile.examples import example_text\n"
        "study_text(parse_study(example_text('roof'))); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=Path(__file__).parents[2], check=False).returncode == 0
