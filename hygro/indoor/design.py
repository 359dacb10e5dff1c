"""Indoor air from a steady balance of moisture production and ventilation.

May import: errors, units, variables.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import xarray as xr

from hygro.errors import InputError
from hygro.indoor.air import from_vapour_pressure, outdoor_values, outdoor_vapour_pressure, running_mean
from hygro.indoor.curves import DAY, design_temperature
from hygro.indoor.limits import within

VAPOUR_FACTOR: Final = 1.36e5  # [Pa m3 kg-1] R_v T at 21.5 degC, ASHRAE 160 (from memory)
TIGHT: Final = 0.1  # [h-1] ASHRAE 160, default for airtight construction (from memory)
STANDARD: Final = 0.2  # [h-1] ASHRAE 160, default for standard construction (from memory)

_FIRST_BEDROOMS: Final = (8.0, 12.0, 14.0, 15.0)  # [kg day-1] ASHRAE 160, 1 to 4 bedrooms (from memory)


def design_moisture_production(bedrooms: int) -> float:
    """Design moisture production of a dwelling.

    Parameters
    ----------
    bedrooms : int
        Number of bedrooms, at least 1. [1]

    Returns
    -------
    float
        Production. [kg day-1]

    Raises
    ------
    InputError
        Where the number is not a whole number from 1 to 20.

    References
    ----------
    ASHRAE 160, table of residential design moisture generation (from memory).
    """
    if isinstance(bedrooms, bool) or not isinstance(bedrooms, int) or not 1 <= bedrooms <= 20:
        msg = f"Number of bedrooms is {bedrooms!r}; it must be a whole number from 1 to 20 (a studio counts as 1)."
        raise InputError(msg)
    return _FIRST_BEDROOMS[min(bedrooms, 4) - 1] + max(bedrooms - 4, 0)


@dataclass(frozen=True, slots=True)
class IntermediateDesign:
    r"""Design indoor air after the intermediate method of ASHRAE 160, a steady balance.

    .. math:: p_i = p_{o,24h} + c \, \dot m / Q

    Temperatures are those of the simplified method. No buffering, no dehumidifier.

    Parameters
    ----------
    moisture_production : float
        Vapour given off indoors; see `design_moisture_production`. [kg day-1]
    volume : float
        Air volume of the building. [m3]
    air_change_rate : float
        Ventilation and infiltration; the standard's defaults are 0.2, and 0.1 where airtight (from memory). [h-1]
    cooling : bool, optional
        Whether the building is cooled in summer.
    """

    moisture_production: float
    volume: float
    air_change_rate: float
    cooling: bool = False

    def __post_init__(self) -> None:
        within(self.moisture_production, 0.0, 200.0, "Intermediate design: moisture production", "kg day-1")
        within(self.volume, 1.0, 1e5, "Intermediate design: volume", "m3")
        within(self.air_change_rate, 0.01, 50.0, "Intermediate design: air change rate", "h-1")
        if not isinstance(self.cooling, bool):
            msg = f"Intermediate design: cooling is {self.cooling!r}; write True or False."
            raise InputError(msg)

    @property
    def excess(self) -> float:
        """Excess of the indoor over the outdoor vapour pressure. [Pa]."""
        flow = self.air_change_rate * self.volume * DAY  # [m3 day-1]
        return VAPOUR_FACTOR * self.moisture_production / flow

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air for each hour of an outdoor record.

        Parameters
        ----------
        outdoor : xarray.Dataset
            Hourly record with ``air_temperature`` [degC] and ``relative_humidity`` over liquid water [1].

        Returns
        -------
        xarray.Dataset, dims (time,)
            ``indoor_temperature`` [degC] and ``indoor_relative_humidity`` [1], held at 1 with a warning.

        Raises
        ------
        InputError
            Where the record is not hourly or lacks a variable.

        References
        ----------
        ASHRAE 160, intermediate method (from memory).
        """
        temperature = running_mean(outdoor_values(outdoor, "air_temperature"), DAY)
        pressure = running_mean(outdoor_vapour_pressure(outdoor), DAY) + self.excess
        return from_vapour_pressure(outdoor, design_temperature(temperature, self.cooling), pressure, self)
