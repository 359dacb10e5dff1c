"""Outdoor weather: the `Climate` record, its readers, checks, invented samples and their generator.

May import: errors, constants, units, variables, core formulas.
"""

from __future__ import annotations

from hygro.climate.boundary import climate_from_arrays, constant_climate
from hygro.climate.columns import read_csv
from hygro.climate.epw import read_epw
from hygro.climate.generator import generate_climate
from hygro.climate.places import PLACES, Place
from hygro.climate.reading import read_climate
from hygro.climate.record import Climate
from hygro.climate.samples import sample_climate, sample_names, write_sample
from hygro.climate.severity import (
    dampness_severity,
    heating_severity,
    rain_severity,
    severe_year,
    warmth_severity,
    year_severities,
)
from hygro.climate.shift import shifted
from hygro.climate.tmy3 import read_tmy3
from hygro.climate.written import write_climate

__all__ = [
    "PLACES",
    "Climate",
    "Place",
    "climate_from_arrays",
    "constant_climate",
    "dampness_severity",
    "generate_climate",
    "heating_severity",
    "rain_severity",
    "read_climate",
    "read_csv",
    "read_epw",
    "read_tmy3",
    "sample_climate",
    "sample_names",
    "severe_year",
    "shifted",
    "warmth_severity",
    "write_climate",
    "write_sample",
    "year_severities",
]
