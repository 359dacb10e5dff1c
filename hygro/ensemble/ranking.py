"""Which uncertain input matters: sensitivity indices from the members as they are, by SALib.

May import: statistics, errors. SALib is loaded on first use.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from hygro.ensemble.statistics import inputs_varied, measures_of
from hygro.errors import InputError

FloatArray = NDArray[np.float64]
FEWEST: Final = 64  # members, a choice of this package: below it the indices say little
_RESAMPLES: Final = 50


def ranking(ensemble: xr.Dataset, measure: str | None = None, *, seed: int = 0) -> pd.DataFrame:
    """Inputs by how much they matter for a measure, the most important first.

    Parameters
    ----------
    ensemble : Dataset
        What `run_ensemble` returned.
    measure : str, optional
        Name of a measure; the first by default.
    seed : int, optional
        Of the resampling that the intervals come from.

    Returns
    -------
    DataFrame
        See `rank_inputs`.

    Raises
    ------
    InputError
        Where there are too few members, the measure does not vary, or SALib is not installed.
    """
    names = measures_of(ensemble)
    asked = names[0] if measure is None else measure
    if asked not in names:
        msg = f"This ensemble has no measure {asked!r}. It has: {', '.join(map(repr, names))}."
        raise InputError(msg)
    solved = ensemble["solved"].to_numpy() == 1
    varied = inputs_varied(ensemble)
    points = np.column_stack([ensemble[name].to_numpy()[solved] for name in varied])
    return rank_inputs(points, ensemble[asked].to_numpy()[solved], list(varied.values()), seed=seed)


def rank_inputs(points: FloatArray, output: FloatArray, names: list[str], *, seed: int = 0) -> pd.DataFrame:
    r"""Sensitivity indices from given data.

    .. math::
        S_i = \frac{\mathrm{Var}(E[y|x_i])}{\mathrm{Var}(y)}, \qquad
        \delta_i = \tfrac12 E\!\left[\int |f_y - f_{y|x_i}| \, dy\right]

    Parameters
    ----------
    points : ndarray, shape (n_members, n_inputs)
        Values of the inputs. [any]
    output : ndarray, shape (n_members,)
        What came of them. [any]
    names : list of str
        Names of the inputs.
    seed : int, optional
        Of the resampling.

    Returns
    -------
    DataFrame
        Index ``input``; columns ``importance`` (delta, bias corrected), ``share of variance`` (first order), the half
        widths of their 95 % intervals, and ``direction`` (rank correlation: above 0 where more of the input gives
        more). Sorted by importance. All [1].

    Raises
    ------
    InputError
        Where there are fewer than 64 members, the output does not vary, or SALib is not installed.

    References
    ----------
    Borgonovo 2007, Reliab. Eng. Syst. Saf. 92:771-784; Plischke, Borgonovo and Smith 2013, Eur. J. Oper. Res.
    226:536-550 (both from memory), as implemented by SALib.
    """
    if len(output) < FEWEST:
        msg = f"A ranking needs {FEWEST} members or more; there are {len(output)}. Run more members."
        raise InputError(msg)
    if not np.isfinite(output).all() or np.ptp(output) == 0.0:
        msg = "The measure has the same value in all members, or none: nothing to rank. Ask another measure."
        raise InputError(msg)
    found = _delta(np.asarray(points, dtype=float), np.asarray(output, dtype=float), names, seed)
    table = pd.DataFrame(
        {
            "importance": found["delta"],
            "importance ±": found["delta_conf"],
            "share of variance": found["S1"],
            "share of variance ±": found["S1_conf"],
            "direction": [_rank_correlation(points[:, at], output) for at in range(len(names))],
        },
        index=pd.Index(names, name="input"),
    )
    return table.sort_values("importance", ascending=False, kind="stable")


def _delta(points: FloatArray, output: FloatArray, names: list[str], seed: int) -> Any:
    try:
        from SALib.analyze import delta
    except ImportError as error:
        msg = "A ranking needs SALib, which is not installed. Install it with: python -m pip install SALib"
        raise InputError(msg) from error
    # Ranks in place of values: the indices do not change, and neither tails nor units disturb the estimate.
    ranks = (points.argsort(axis=0, kind="stable").argsort(axis=0, kind="stable") + 0.5) / len(points)
    problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}
    return delta.analyze(problem, ranks, output, num_resamples=_RESAMPLES, seed=seed)


def _rank_correlation(one: FloatArray, other: FloatArray) -> float:
    from scipy.stats import rankdata

    first, second = rankdata(one), rankdata(other)
    if np.ptp(first) == 0.0 or np.ptp(second) == 0.0:
        return 0.0
    return float(np.corrcoef(first, second)[0, 1])
