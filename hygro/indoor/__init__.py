"""What the air indoors is like, hour by hour: one frozen object per model, one method each.

Every model turns the outdoor record into ``indoor_temperature`` and ``indoor_relative_humidity`` over the same hours.
May import: errors, constants, units, variables, core.
"""

from __future__ import annotations

from hygro.indoor.air import IndoorModel
from hygro.indoor.curves import HumidityClass, SimplifiedDesign, StandardCurves
from hygro.indoor.design import IntermediateDesign, design_moisture_production
from hygro.indoor.stated import ConstantIndoor, IndoorArrays

__all__ = [
    "ConstantIndoor",
    "HumidityClass",
    "IndoorArrays",
    "IndoorModel",
    "IntermediateDesign",
    "SimplifiedDesign",
    "StandardCurves",
    "design_moisture_production",
]
