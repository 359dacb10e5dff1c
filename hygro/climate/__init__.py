"""Outdoor weather: the `Climate` record, its readers, checks, invented samples and their generator.

May import: errors, constants, units, variables.
"""

from __future__ import annotations

from hygro.climate.boundary import climate_from_arrays, constant_climate
from hygro.climate.record import Climate

__all__ = ["Climate", "climate_from_arrays", "constant_climate"]
