"""Hygrothermal what-if studies of small cold-climate buildings."""

from __future__ import annotations

__version__ = "0.1.0"
