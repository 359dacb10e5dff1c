"""A material: what a layer's substance stores and lets through. Frozen, SI inside, checked when it is made.

May import: errors, constants, units, and the curves of this folder.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hygro.constants import GAS_CONSTANT_VAPOUR, REFERENCE_TEMPERATURE, WATER_DENSITY
from hygro.errors import MaterialError
from hygro.materials import check
from hygro.materials.curve import LOWEST_ACTIVITY, LOWEST_SUCTION, Array, Function, Rows, evaluate
from hygro.materials.liquid import Liquid, LiquidConductivity
from hygro.materials.provenance import Quoted

SUCTION_SCALE: Final = WATER_DENSITY * GAS_CONSTANT_VAPOUR * REFERENCE_TEMPERATURE  # [Pa] s = -scale ln(phi), Kelvin


@dataclass(frozen=True, slots=True, init=False)
class Material:
    """A homogeneous material.

    Every number is SI or text with a unit (``"35 mW/(m K)"``). A curve is rows or a function of a numpy array.

    Parameters
    ----------
    name : str
        What errors, figures and reports call it.
    density : float or str
        Dry density. [kg m-3]
    specific_heat : float or str
        Specific heat of the dry material. [J kg-1 K-1]
    conductivity : float or str
        Thermal conductivity, dry and at 10 degC. [W m-1 K-1]
    vapour_resistance : float, rows or callable
        Vapour resistance factor mu: how many times tighter than still air. A number of at least 1, ``math.inf`` for
        vapour-tight, rows ``[(relative humidity, mu), ...]`` (the logarithm is interpolated, the outer rows hold
        beyond), a function of relative humidity, or `cup_values`. [1]
    sorption : rows or callable, optional
        Water content over relative humidity at 20 degC, ``[(relative humidity, kg m-3), ...]`` or a function. Rows run
        to 1; where they stop short `free_saturation` closes them. See also `sorption_by_mass`, `WoodSorption` and
        `PoreAir`. Exclusive with `retention`; a vapour-tight material needs neither.
    retention : rows or callable, optional
        Water content over suction at 20 degC, ``[(suction Pa, kg m-3), ...]`` or a function.
    saturation : float or str, optional
        Water content with every open pore full. Required with `sorption`; with `retention` the value at no suction
        unless stated. [kg m-3]
    free_saturation : float or str, optional
        Water content reached by drinking. Required with `liquid` where `sorption` is stated; with `retention` the value
        at no suction. [kg m-3]
    conductivity_moisture : float or str
        Rise of the thermal conductivity with water content. [W m2 K-1 kg-1]
    conductivity_temperature : float or str
        Relative rise of the thermal conductivity per kelvin above 10 degC. [K-1]
    liquid : LiquidConductivity, LiquidDiffusivity, AbsorptionCoefficient, optional
        How liquid water moves; None where it does not.
    mould_sensitivity : str, optional
        One of "very sensitive", "sensitive", "medium resistant", "resistant".
    is_wood : bool
        Whether the limits for wood apply: solid wood and boards of wood bound by glue or by their own fibres.
    provenance : iterable of Quoted
        Where each value comes from; the library fills it.

    Raises
    ------
    MaterialError
        Where a value cannot be, is out of the range of building materials, or two values contradict each other.

    Examples
    --------
    >>> from hygro.materials import WoodSorption, cup_values
    >>> board = Material("my board", density=600, specific_heat="1.7 kJ/(kg K)", conductivity=0.13,
    ...                  vapour_resistance=cup_values(dry=150, wet=50), sorption=WoodSorption(600), saturation=550)
    >>> round(float(board.water_content(0.8)))
    96
    """

    name: str
    density: float
    specific_heat: float
    conductivity: float
    vapour_resistance: float | Function
    sorption: Function | None
    retention: Function | None
    saturation: float
    free_saturation: float | None
    conductivity_moisture: float
    conductivity_temperature: float
    liquid: Liquid | None
    mould_sensitivity: str | None
    is_wood: bool
    provenance: tuple[Quoted, ...] = field(compare=False, repr=False)

    def __init__(
        self,
        name: str,
        *,
        density: float | str,
        specific_heat: float | str,
        conductivity: float | str,
        vapour_resistance: float | str | Rows | Function,
        sorption: Rows | Function | None = None,
        retention: Rows | Function | None = None,
        saturation: float | str | None = None,
        free_saturation: float | str | None = None,
        conductivity_moisture: float | str = 0.0,
        conductivity_temperature: float | str = 0.0,
        liquid: Liquid | None = None,
        mould_sensitivity: str | None = None,
        is_wood: bool = False,
        provenance: Iterable[Quoted] = (),
    ) -> None:
        if not isinstance(name, str) or not name.strip():
            msg = f'Material name is {name!r}; give it a name, such as "my board".'
            raise MaterialError(msg)
        where = f"Material {name!r}"
        rho = check.density(density, where)
        lam = check.conductivity(conductivity, rho, where)
        mu = check.vapour_resistance(vapour_resistance, where)
        check.one_storage(sorption, retention, mu, where)
        free = None if free_saturation is None else check.water(free_saturation, f"{where}: free_saturation")
        w_curve = None if sorption is None else check.sorption(sorption, rho, free, where)
        s_curve = None if retention is None else check.retention(retention, where)
        retained = None if s_curve is None else float(evaluate(s_curve, np.asarray(LOWEST_SUCTION)))
        free = retained if free is None else free
        full = check.saturation(saturation, w_curve, retained, rho, where)
        check.free_saturation(free, full, w_curve, s_curve, where)
        for attribute, value in (
            ("name", name.strip()),
            ("density", rho),
            ("specific_heat", check.specific_heat(specific_heat, where)),
            ("conductivity", lam),
            ("vapour_resistance", mu),
            ("sorption", w_curve),
            ("retention", s_curve),
            ("saturation", full),
            ("free_saturation", free),
            ("conductivity_moisture", check.conductivity_moisture(conductivity_moisture, where)),
            ("conductivity_temperature", check.conductivity_temperature(conductivity_temperature, where)),
            ("liquid", check.liquid(liquid, free, w_curve, s_curve, where)),
            ("mould_sensitivity", check.mould_sensitivity(mould_sensitivity, where)),
            ("is_wood", check.flag(is_wood, f"{where}: is_wood")),
            ("provenance", tuple(provenance)),
        ):
            object.__setattr__(self, attribute, value)

    @property
    def is_vapour_tight(self) -> bool:
        """No vapour passes at any humidity."""
        return isinstance(self.vapour_resistance, float) and math.isinf(self.vapour_resistance)

    @property
    def is_suction_based(self) -> bool:
        """Storage is stated over suction rather than over relative humidity."""
        return self.retention is not None

    @property
    def is_hygroscopic(self) -> bool:
        """It stores water at all."""
        return self.sorption is not None or self.retention is not None

    @property
    def transports_liquid(self) -> bool:
        """Liquid water moves through it."""
        return self.liquid is not None

    def water_content(self, activity: ArrayLike) -> Array:
        """Water content [kg m-3] in equilibrium with a water activity (relative humidity) [1] at 20 degC, any shape.

        Activities are taken from 1e-6 to 1; free water past 1 is not a matter of the material alone. Zero where nothing
        is stored.
        """
        phi = np.clip(np.asarray(activity, dtype=float), LOWEST_ACTIVITY, 1.0)
        if self.sorption is not None:
            return evaluate(self.sorption, phi)
        if self.retention is not None:
            return self.water_content_at_suction(-SUCTION_SCALE * np.log(phi))
        return np.zeros_like(phi)

    def water_content_at_suction(self, suction: ArrayLike) -> Array:
        """Water content [kg m-3] in equilibrium with a suction [Pa] at 20 degC, any shape; held below 1 Pa."""
        s = np.maximum(np.asarray(suction, dtype=float), LOWEST_SUCTION)
        if self.retention is not None:
            return evaluate(self.retention, s)
        return self.water_content(np.exp(-s / SUCTION_SCALE))

    def vapour_resistance_factor(self, activity: ArrayLike) -> Array:
        """Vapour resistance factor mu [1] at a relative humidity [1], any shape; infinite where nothing passes."""
        phi = np.clip(np.asarray(activity, dtype=float), 0.0, 1.0)
        if isinstance(self.vapour_resistance, float):
            return np.full_like(phi, self.vapour_resistance)
        return evaluate(self.vapour_resistance, phi)

    def liquid_conductivity(self, suction: ArrayLike) -> Array:
        r"""Liquid conductivity [kg m-1 s-1 Pa-1] at a suction [Pa] at 20 degC, any shape.

        A stated conductivity is returned as it is; a diffusivity becomes

        .. math:: K(s) = D_w(w)\,\left|\frac{dw}{ds}\right|

        Held below 1 Pa. Zero where no liquid moves.
        """
        s = np.maximum(np.asarray(suction, dtype=float), LOWEST_SUCTION)
        if self.liquid is None or self.free_saturation is None:
            return np.zeros_like(s)
        if isinstance(self.liquid, LiquidConductivity):
            return self.liquid.conductivity(s)
        diffusivity = self.liquid.diffusivity(self.water_content_at_suction(s), self.free_saturation)
        return np.asarray(diffusivity * self.moisture_capacity(s))

    def thermal_conductivity(self, water_content: ArrayLike, temperature: ArrayLike) -> Array:
        r"""Thermal conductivity [W m-1 K-1] at a water content [kg m-3] and a temperature [degC], broadcastable.

        .. math:: \lambda = (\lambda_0 + b\,w) (1 + a (T - 10))
        """
        moist = self.conductivity + self.conductivity_moisture * np.asarray(water_content, dtype=float)
        warming = self.conductivity_temperature * (np.asarray(temperature, dtype=float) - 10.0)
        return np.asarray(moist * (1.0 + warming))

    def moisture_capacity(self, suction: ArrayLike) -> Array:
        r"""Slope of the retention curve, :math:`|dw/ds|` [kg m-3 Pa-1], at a suction [Pa] at 20 degC, any shape.

        A central difference over a thousandth of the suction: capillary curves are smooth in its logarithm, and
        curves over relative humidity are as well through Kelvin's relation.
        """
        s = np.maximum(np.asarray(suction, dtype=float), LOWEST_SUCTION)
        step = 1.0e-3
        low, high = s * math.exp(-step), s * math.exp(step)
        if self.retention is not None:
            difference = evaluate(self.retention, low) - evaluate(self.retention, high)
        elif self.sorption is not None:
            phi_low = np.maximum(np.exp(-high / SUCTION_SCALE), LOWEST_ACTIVITY)
            phi_high = np.maximum(np.exp(-low / SUCTION_SCALE), LOWEST_ACTIVITY)
            difference = evaluate(self.sorption, phi_high) - evaluate(self.sorption, phi_low)
        else:
            return np.zeros_like(s)
        return np.asarray(np.maximum(difference, 0.0) / (high - low))
