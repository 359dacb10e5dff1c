"""What the air indoors is like, hour by hour: one frozen object per model, one method each.

Every model turns the outdoor record into ``indoor_temperature`` and ``indoor_relative_humidity`` over the same hours.
May import: errors, constants, units, variables, core.
"""

from __future__ import annotations

from hygro.indoor.air import IndoorModel
from hygro.indoor.appliances import Buffer, Dehumidifier, ExtractFan, Preheat, Recirculate, Ventilator
from hygro.indoor.curves import HumidityClass, SimplifiedDesign, StandardCurves
from hygro.indoor.design import IntermediateDesign, design_moisture_production
from hygro.indoor.guidance import Concern, Guideline, GuidelineCheck, carbon_dioxide_guidance
from hygro.indoor.household import Household
from hygro.indoor.infiltration import Infiltration
from hygro.indoor.sources import Flame, MoistureEvent, People, cooking, drying_laundry, plants, showers
from hygro.indoor.stated import ConstantIndoor, IndoorArrays
from hygro.indoor.targets import WorstWeeks, flow_for_targets, worst_weeks

__all__ = [
    "Buffer",
    "Concern",
    "ConstantIndoor",
    "Dehumidifier",
    "ExtractFan",
    "Flame",
    "Guideline",
    "GuidelineCheck",
    "Household",
    "HumidityClass",
    "IndoorArrays",
    "IndoorModel",
    "Infiltration",
    "IntermediateDesign",
    "MoistureEvent",
    "People",
    "Preheat",
    "Recirculate",
    "SimplifiedDesign",
    "StandardCurves",
    "Ventilator",
    "WorstWeeks",
    "carbon_dioxide_guidance",
    "cooking",
    "design_moisture_production",
    "drying_laundry",
    "flow_for_targets",
    "plants",
    "showers",
    "worst_weeks",
]
