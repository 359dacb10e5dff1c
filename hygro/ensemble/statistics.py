"""What an ensemble says: probability of passing, bands over the season, a table. Pure functions of its Dataset.

May import: errors.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
import pandas as pd
import xarray as xr

from hygro.errors import InputError

BAND: Final = (0.05, 0.25, 0.5, 0.75, 0.95)  # [1]
CONFIDENCE: Final = 0.95  # [1]
_PIECE: Final = 32_000_000  # [B] about, of the daily values that are sorted at once


@dataclass(frozen=True, slots=True)
class Chance:
    """Share of members that pass, and how sure it is.

    Parameters
    ----------
    passing, members, unsolved : int
        Members that pass, all of them, and those whose run the solver could not finish (they count as not passing).
    low, high : float
        Ends of the interval. [1]
    confidence : float
        Of the interval. [1]
    """

    passing: int
    members: int
    unsolved: int
    low: float
    high: float
    confidence: float

    @property
    def value(self) -> float:
        """Share that passes. [1]."""
        return self.passing / self.members

    def __str__(self) -> str:
        said = (
            f"{100 * self.value:.3g} % pass ({self.passing} of {self.members} members; {100 * self.confidence:g} % "
            f"interval {100 * self.low:.3g} to {100 * self.high:.3g} %)"
        )
        return said if not self.unsolved else f"{said}; {self.unsolved} could not be solved and count as not passing"


def chance_of_passing(
    ensemble: xr.Dataset, measure: str | None = None, *, limit: float | None = None, confidence: float = CONFIDENCE
) -> Chance:
    r"""Probability that a measure is within its limit.

    .. math:: \frac{k + z^2/2 \pm z\sqrt{k(n-k)/n + z^2/4}}{n + z^2}

    Parameters
    ----------
    ensemble : Dataset
        What `run_ensemble` returned.
    measure : str, optional
        Name of a measure; all measures at once by default.
    limit : float, optional
        Another limit than its own, with a measure. [unit of the measure]
    confidence : float, optional
        Of the interval. [1]

    Returns
    -------
    Chance
        With the interval of Wilson, as if members were drawn at random.

    Raises
    ------
    InputError
        Where there is no such measure, or a limit without one.

    Notes
    -----
    Members of a Sobol sequence are spread more evenly than random ones, so that the interval is wider than need be. It
    speaks of the sampling only: not of what the stated distributions or the model leave out.

    References
    ----------
    Wilson 1927, J. Am. Stat. Assoc. 22:209-212 (from memory).
    """
    if not 0.5 <= confidence < 1.0:
        msg = f"confidence is {confidence!r}; it must be at least 0.5 and below 1."
        raise InputError(msg)
    ensemble = independent(ensemble)
    asked = measures_of(ensemble) if measure is None else [known(ensemble, measure)]
    if limit is not None and measure is None:
        msg = f"limit is {limit!r} without a measure; name the measure that it is for."
        raise InputError(msg)
    limits = [float(ensemble[name].attrs["limit"]) if limit is None else limit for name in asked]
    within = np.all([ensemble[name].to_numpy() <= most for name, most in zip(asked, limits, strict=True)], axis=0)
    n, k = within.size, int(within.sum())
    z = NormalDist().inv_cdf(0.5 + 0.5 * confidence)
    middle, half = (k + 0.5 * z**2) / (n + z**2), z * math.sqrt(k * (n - k) / n + 0.25 * z**2) / (n + z**2)
    # Rounding must not leave 0 or 1 outside where no member, or every member, passes.
    low, high = 0.0 if k == 0 else middle - half, 1.0 if k == n else middle + half
    unsolved = int((ensemble["solved"].to_numpy() == 0).sum())
    return Chance(k, n, unsolved, low, high, confidence)


def band(ensemble: xr.Dataset, shares: Iterable[float] = BAND) -> xr.DataArray:
    """Percentiles of the daily moisture content over the season.

    Parameters
    ----------
    ensemble : Dataset
        What `run_ensemble` returned.
    shares : iterable of float, optional
        Shares of members below each line. [1]

    Returns
    -------
    DataArray, dims (share, day)
        Moisture content of the layer. [%]

    Raises
    ------
    InputError
        Where a share is not between 0 and 1, or no member was solved.
    """
    listed = sorted(float(share) for share in shares)
    if not listed or not all(0.0 <= share <= 1.0 for share in listed):
        msg = f"shares are {listed}; they must lie between 0 and 1."
        raise InputError(msg)
    ensemble = independent(ensemble)
    solved = ensemble["solved"].to_numpy() == 1
    if not solved.any():
        msg = "No member of this ensemble was solved; there is no band. See its attribute 'failures'."
        raise InputError(msg)
    daily = ensemble["moisture_content"]
    at_once = max(1, _PIECE // (8 * daily.sizes["member"]))
    pieces = [
        np.nanquantile(daily[:, first : first + at_once].to_numpy()[solved].astype(float), listed, axis=0)
        for first in range(0, daily.sizes["day"], at_once)
    ]
    return xr.DataArray(
        np.concatenate(pieces, axis=1),
        dims=("share", "day"),
        coords={"share": ("share", listed, {"units": "1", "long_name": "share of members below"}), "day": daily["day"]},
        name="moisture_content",
        attrs={**daily.attrs, "layer": ensemble.attrs.get("layer", "")},
    )


def summary(ensemble: xr.Dataset) -> pd.DataFrame:
    """Each measure in one row: spread over the members, limit, and chance of passing.

    Parameters
    ----------
    ensemble : Dataset
        What `run_ensemble` returned.

    Returns
    -------
    DataFrame
        Columns name their units.
    """
    rows = []
    apart = independent(ensemble)
    for name in measures_of(ensemble):
        values, attrs = apart[name].to_numpy(), apart[name].attrs
        chance = chance_of_passing(ensemble, name)
        low, middle, high = np.nanquantile(values, (0.05, 0.5, 0.95))
        rows.append(
            {
                "measure": f"{attrs['long_name']} [{attrs['units']}]",
                "mean": float(np.nanmean(values)),
                "5 % below": low,
                "half below": middle,
                "95 % below": high,
                "limit": float(attrs["limit"]),
                "pass [%]": 100.0 * chance.value,
                "at least [%]": 100.0 * chance.low,
                "at most [%]": 100.0 * chance.high,
            }
        )
    return pd.DataFrame(rows).set_index("measure")


def measures_of(ensemble: xr.Dataset) -> list[str]:
    """Names of the measures of an ensemble."""
    if not isinstance(ensemble, xr.Dataset) or "measures" not in ensemble.attrs:
        msg = f"An ensemble is what run_ensemble returned or open_ensemble read; got {type(ensemble).__name__}."
        raise InputError(msg)
    return [str(name) for name in json.loads(ensemble.attrs["measures"])]


def inputs_varied(ensemble: xr.Dataset) -> dict[str, str]:
    """Inputs of an ensemble: the variable of each, and its path."""
    measures_of(ensemble)
    return {str(name): str(path) for name, path in json.loads(ensemble.attrs["uncertain"]).items()}


def group_size(ensemble: xr.Dataset) -> int:
    """Members in a group that share inputs; 1 where each member is a point of its own."""
    return len(inputs_varied(ensemble)) + 2 if int(ensemble.attrs.get("crossed", 0)) else 1


def independent(ensemble: xr.Dataset) -> xr.Dataset:
    """Members that share no inputs with each other: of each group the first and the last; all where there are none."""
    size = group_size(ensemble)
    if size == 1:
        return ensemble
    place = np.arange(ensemble.sizes["member"]) % size
    return ensemble.isel(member=np.flatnonzero((place == 0) | (place == size - 1)))


def known(ensemble: xr.Dataset, measure: str | None) -> str:
    """Name of a measure that an ensemble has, the first where none is asked for; others are refused."""
    names = measures_of(ensemble)
    if measure is None:
        return names[0]
    if measure not in names:
        msg = f"This ensemble has no measure {measure!r}. It has: {', '.join(map(repr, names))}."
        raise InputError(msg)
    return measure
