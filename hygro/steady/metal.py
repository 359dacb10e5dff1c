r"""How cold metal gets that reaches from outdoors to indoors, with and without a thermal break: one line through it.

.. math::

    f_{Rsi} = 1 - \frac{R_{si} / a_i}{R_{se} / a_e + \sum d/\lambda + R_{si} / a_i}, \qquad
    \theta_{si} = \theta_e + f_{Rsi} (\theta_i - \theta_e)

with :math:`a` the surface that touches the air over the metal's cross-section.

May import: assembly, surfaces, units, errors, core formulas.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from hygro.assembly import Layer
from hygro.core.formulas import saturation_pressure_iso
from hygro.errors import InputError
from hygro.steady.path import OUTER_RESISTANCE
from hygro.steady.surface import saturation_temperature, surface_need
from hygro.surfaces import INDOOR_RESISTANCE
from hygro.units import to_si

LIMITS: Final = (
    "One line through the metal, steady: heat that flows in from the sides, from linings, studs or a warm frame, is "
    "not counted, and may warm the metal or chill what lies around it. Bolts and edges that bridge the break are not "
    "counted either. A fastener, a frame or a corner needs a three-dimensional calculation or a measurement; strength "
    "and fire of a break are for a licensed engineer."
)


@dataclass(frozen=True, slots=True)
class MetalSurface:
    """Inner surface of the metal.

    Attributes
    ----------
    temperature : float
        Of the surface. [degC]
    factor : float
        Temperature factor. [1]
    humidity : float
        Relative humidity at the surface, 1 where it is wet. [1]
    highest_indoor_humidity : float
        Relative humidity of the indoor air up to which the metal stays free of condensate. [1]
    """

    temperature: float
    factor: float
    humidity: float
    highest_indoor_humidity: float

    @property
    def is_wet(self) -> bool:
        """Whether vapour condenses on it."""
        return self.humidity >= 1.0


@dataclass(frozen=True, slots=True)
class MetalPart:
    """Result for a metal part; prints as a table.

    Attributes
    ----------
    path : str
        The parts from outside to inside, in words.
    thermal_break : str
        The break in words.
    outdoor_temperature, indoor_temperature : float
        Of the air. [degC]
    indoor_humidity : float
        Relative humidity of the indoor air. [1]
    dew_point : float
        Of the indoor air. [degC]
    without, with_break : MetalSurface
        The metal as it is, and with the break in the path.
    needed_factor : float
        Temperature factor that keeps the surface free of condensate. [1]
    """

    path: str
    thermal_break: str
    outdoor_temperature: float
    indoor_temperature: float
    indoor_humidity: float
    dew_point: float
    without: MetalSurface
    with_break: MetalSurface
    needed_factor: float

    def __str__(self) -> str:
        lines = [
            f"Metal part, outside to inside: {self.path}; break: {self.thermal_break}.",
            f"Outdoors {self.outdoor_temperature:.1f} °C; indoors {self.indoor_temperature:.1f} °C and "
            f"{100.0 * self.indoor_humidity:.0f} %, dew point {self.dew_point:.1f} °C.",
            f"{'':<16}{'surface °C':>12}{'factor':>8}{'humidity %':>12}{'dry up to indoor %':>20}",
        ]
        for name, one in (("without break", self.without), ("with break", self.with_break)):
            lines.append(
                f"{name:<16}{one.temperature:>12.1f}{one.factor:>8.2f}{100.0 * one.humidity:>12.0f}"
                f"{100.0 * one.highest_indoor_humidity:>20.0f}"
            )
        says = [
            f"{'wet' if one.is_wet else 'dry'} {name}"
            for name, one in (("without the break", self.without), ("with it", self.with_break))
        ]
        return "\n".join(
            [*lines, f"The metal is {says[0]} and {says[1]} (factor needed {self.needed_factor:.2f}).", LIMITS]
        )

    __repr__ = __str__


def metal_part(
    parts: Iterable[Layer],
    thermal_break: Layer,
    *,
    outdoor_temperature: float | str,
    indoor_temperature: float | str,
    indoor_humidity: float | str,
    inner_area_ratio: float = 1.0,
    outer_area_ratio: float = 1.0,
    heat_flow: str = "horizontal",
) -> MetalPart:
    """Temperature of the inner surface of a metal part, with and without a thermal break.

    Parameters
    ----------
    parts : iterable of Layer
        What the line through the metal passes, from outside to inside, at its length along the line.
    thermal_break : Layer
        What is put into the line; on one line its place does not matter.
    outdoor_temperature, indoor_temperature : float or str
        Of the air. [degC]
    indoor_humidity : float or str
        Relative humidity of the indoor air. [1]
    inner_area_ratio, outer_area_ratio : float
        Surface that touches the air over the cross-section of the metal, 1 for a plain end, more for a flange. [1]
    heat_flow : {"up", "horizontal", "down"}
        Direction of the heat flow, which sets the inner surface's resistance.

    Returns
    -------
    MetalPart
        Both cases.

    Raises
    ------
    InputError
        Where an argument cannot be, or it is no warmer indoors than outdoors.

    References
    ----------
    Fourier's law on a line; surface resistances of ISO 6946.
    """
    path = tuple(parts)
    for one in (*path, thermal_break):
        if not isinstance(one, Layer):
            msg = f"Metal part: {one!r} is no Layer; list layers such as Layer('steel sheet', '100 mm'), outside first."
            raise InputError(msg)
    if not path:
        msg = "Metal part: the list of parts is empty; list what the line through the metal passes, outside first."
        raise InputError(msg)
    if heat_flow not in INDOOR_RESISTANCE:
        msg = f"Metal part: heat_flow is {heat_flow!r}; it must be 'up', 'horizontal' or 'down'."
        raise InputError(msg)
    for name, ratio in (("inner", inner_area_ratio), ("outer", outer_area_ratio)):
        if not 0.1 <= ratio <= 1000.0:
            msg = f"Metal part: {name}_area_ratio is {ratio!r}; it must lie between 0.1 and 1000 (1 for a plain end)."
            raise InputError(msg)
    outdoors = to_si(outdoor_temperature, "temperature", "Metal part: outdoor_temperature")
    indoors = to_si(indoor_temperature, "temperature", "Metal part: indoor_temperature")
    humid = to_si(indoor_humidity, "fraction", "Metal part: indoor_humidity")
    if not 0.0 < humid <= 1.0:
        hint = f' Did you mean "{humid:g} %"?' if 1.0 < humid <= 100.0 else ""
        msg = f"Metal part: indoor_humidity is {humid:g}; it must be above 0 and at most 1.{hint}"
        raise InputError(msg)
    if not -60.0 <= outdoors < indoors <= 60.0:
        msg = (
            f"Metal part: outdoors {outdoors:g} degC and indoors {indoors:g} degC; indoors must be the warmer, and "
            "both lie within -60 and 60 degC."
        )
        raise InputError(msg)
    pressure = humid * float(saturation_pressure_iso(indoors))
    inner, outer = INDOOR_RESISTANCE[heat_flow] / inner_area_ratio, OUTER_RESISTANCE / outer_area_ratio
    plain = sum(one.thermal_resistance for one in path)

    def surface(resistance: float) -> MetalSurface:
        factor = 1.0 - inner / (outer + resistance + inner)
        warm = outdoors + factor * (indoors - outdoors)
        most = float(saturation_pressure_iso(warm))
        return MetalSurface(
            warm, factor, min(pressure / most, 1.0), min(most / float(saturation_pressure_iso(indoors)), 1.0)
        )

    return MetalPart(
        ", ".join(_words(one) for one in path),
        _words(thermal_break),
        outdoors,
        indoors,
        humid,
        saturation_temperature(pressure),
        surface(plain),
        surface(plain + thermal_break.thermal_resistance),
        surface_need(outdoors, indoors, pressure, humidity=1.0).factor,
    )


def _words(layer: Layer) -> str:
    return f"{layer.name} {1e3 * layer.thickness:g} mm"
