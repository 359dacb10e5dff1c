"""Shares of the variance by input, alone and with all that it does together with others, from crossed members.

May import: statistics, errors. SALib is loaded on first use.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from hygro.ensemble.statistics import group_size, inputs_varied, known
from hygro.errors import InputError

FEWEST_GROUPS: Final = 32  # a choice of this package: below it the intervals say nothing
_RESAMPLES: Final = 200


def sobol_indices(ensemble: xr.Dataset, measure: str | None = None, *, seed: int = 0) -> pd.DataFrame:
    """Sobol's indices of the inputs for a measure, the one with the largest total first.

    Parameters
    ----------
    ensemble : Dataset
        What `run_ensemble` returned for an `UncertainStudy` with ``crossed=True``.
    measure : str, optional
        Name of a measure; the first by default.
    seed : int, optional
        Of the resampling that the intervals come from.

    Returns
    -------
    DataFrame
        See `crossed_indices`.

    Raises
    ------
    InputError
        Where the members are not crossed or too few, the measure does not vary, or SALib is not installed.
    """
    size = group_size(ensemble)
    if size == 1:
        msg = (
            "Sobol's indices need members that share inputs in groups. State UncertainStudy(..., crossed=True) and run "
            "it, or use ranking, which takes any members."
        )
        raise InputError(msg)
    asked = known(ensemble, measure)
    output = ensemble[asked].to_numpy().astype(float)
    return crossed_indices(output, list(inputs_varied(ensemble).values()), seed=seed)


def crossed_indices(output: NDArray[np.float64], names: list[str], *, seed: int = 0) -> pd.DataFrame:
    r"""Sobol's indices from what came of crossed points.

    .. math::
        S_i = \frac{\mathrm{Var}(E[y|x_i])}{\mathrm{Var}(y)}, \qquad
        S_{Ti} = 1 - \frac{\mathrm{Var}(E[y|x_{\sim i}])}{\mathrm{Var}(y)}

    Parameters
    ----------
    output : ndarray, shape (n_members,)
        What came of the members, in order: in each group the first point, one for each input, the second point. Groups
        that are not whole are left out, as are groups with a value that is missing. [any]
    names : list of str
        Names of the inputs.
    seed : int, optional
        Of the resampling.

    Returns
    -------
    DataFrame
        Index ``input``; columns ``share of variance`` (S, what the input does by itself), ``with others`` (S_T, that
        and all it does together with others), each with the half width of its 95 % interval. Sorted by the latter. All
        [1].

    Raises
    ------
    InputError
        Where there are fewer than 32 whole groups, the output does not vary, or SALib is not installed.

    References
    ----------
    Sobol 2001, Math. Comput. Simul. 55:271-280; estimators of Saltelli et al. 2010, Comput. Phys. Commun. 181:259-270,
    as implemented and cited by SALib.

    Notes
    -----
    Where all S add up to nearly 1, the inputs act each for itself. An S_T of about 0 says that an input may be left as
    it is. Estimates of S may fall a little below 0, or above S_T, by chance.
    """
    group = len(names) + 2
    whole = np.asarray(output, dtype=float)[: len(output) // group * group].reshape(-1, group)
    whole = whole[np.isfinite(whole).all(axis=1)]
    if len(whole) < FEWEST_GROUPS:
        msg = (
            f"Sobol's indices of {len(names)} inputs need {FEWEST_GROUPS} groups of {group} solved members or more; "
            f"there are {len(whole)}. Run {FEWEST_GROUPS * group} members, or some times as many."
        )
        raise InputError(msg)
    if np.ptp(whole) == 0.0:
        msg = "The measure has the same value in all members: nothing to rank. Ask another measure."
        raise InputError(msg)
    try:
        from SALib.analyze import sobol
    except ImportError as error:
        msg = "Sobol's indices need SALib, which is not installed. Install it with: python -m pip install SALib"
        raise InputError(msg) from error
    problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}
    # SALib takes a seed of 0 for none.
    found = sobol.analyze(problem, whole.ravel(), calc_second_order=False, num_resamples=_RESAMPLES, seed=seed + 1)
    table = pd.DataFrame(
        {
            "share of variance": found["S1"],
            "share of variance ±": found["S1_conf"],
            "with others": found["ST"],
            "with others ±": found["ST_conf"],
        },
        index=pd.Index(names, name="input"),
        dtype=float,
    )
    return table.sort_values("with others", ascending=False, kind="stable")
