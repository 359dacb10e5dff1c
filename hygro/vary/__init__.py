"""Trying things out: every combination of some inputs, and the least or the most that still passes.

May import: study and all above it.
"""

from __future__ import annotations

from hygro.vary.inputs import Input, inputs_of
from hygro.vary.measures import FREE_WATER, GAIN, LEVEL, MOULD, WETTEST, WETTEST_FACE, Measure
from hygro.vary.search import Found, find_largest, find_smallest
from hygro.vary.sweep import sweep

__all__ = [
    "FREE_WATER",
    "GAIN",
    "LEVEL",
    "MOULD",
    "WETTEST",
    "WETTEST_FACE",
    "Found",
    "Input",
    "Measure",
    "find_largest",
    "find_smallest",
    "inputs_of",
    "sweep",
]
