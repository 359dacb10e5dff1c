"""Which uncertain input matters: sensitivity indices from the members as they are, by SALib.

May import: statistics, errors. SALib is loaded on first use.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from hygro.ensemble.statistics import independent, inputs_varied, known
from hygro.errors import InputError

FloatArray = NDArray[np.float64]
FEWEST: Final = 64  # members, a choice of this package: below it the indices say little
_RESAMPLES: Final = 100
_TWO_SIDED: Final = 1.959964  # standard normal deviate of a 95 % interval
_IDLE: Final = 5  # inputs made up to see what no influence looks like


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
    asked = known(ensemble, measure)
    ensemble = independent(ensemble)
    solved = ensemble["solved"].to_numpy() == 1
    varied = inputs_varied(ensemble)
    points = np.column_stack([ensemble[name].to_numpy()[solved] for name in varied])
    return rank_inputs(points, ensemble[asked].to_numpy()[solved], list(varied.values()), seed=seed)


def rank_inputs(
    points: FloatArray, output: FloatArray, names: list[str], *, seed: int = 0, evenly: bool = True
) -> pd.DataFrame:
    r"""Sensitivity indices from given data.

    .. math::
        S_i = \frac{\mathrm{Var}(E[y|x_i])}{\mathrm{Var}(y)}, \qquad
        T_i = \mathrm{median}_k \max_y |F(y) - F(y | x_i \in I_k)|

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
    evenly : bool, optional
        Whether the points are spread as evenly as those of an ensemble, which are a Sobol sequence; False for points
        that were drawn at random.

    Returns
    -------
    DataFrame
        Index ``input``; columns ``influence`` (T, over slices I of equally many members), ``share of variance`` (S,
        first order) with the half width of its 95 % interval, and ``direction`` (rank correlation: above 0 where
        more of the input gives more). Sorted by influence. ``attrs["noise"]`` is the influence that an input would
        seem to have which has none. All [1].

    Raises
    ------
    InputError
        Where there are fewer than 64 members, the output does not vary, or SALib is not installed.

    References
    ----------
    S by the correlation ratio over slices: Pearson 1905; of points at random with the correction of Kelley 1935, Proc.
    Natl. Acad. Sci. 21:554-559 (both from memory). T: Pianosi and Wagener 2018, Environ. Model. Softw. 108:197-207, as
    implemented and cited by SALib. Methods that read the members as a walk (such as RBD-FAST) do not suit a Sobol
    sequence, whose points are ordered themselves.

    Notes
    -----
    Slices of points at random differ by chance, which the correction takes away. In slices of an even sequence the
    other inputs are as even as in the whole, so that there is next to nothing to take away: corrected, an input without
    influence would come out at -0.12 with 64 members (measured; uncorrected within 0.02). The interval is that of
    points at random, so that it is wider than need be.

    S leaves out what an input does only together with others; T has it in, but cannot be added up. For shares of the
    variance with what inputs do together, `sobol_indices` needs members of its own.
    """
    if len(output) < FEWEST:
        msg = f"A ranking needs {FEWEST} members or more; there are {len(output)}. Run more members."
        raise InputError(msg)
    if not np.isfinite(output).all() or np.ptp(output) == 0.0:
        msg = "The measure has the same value in all members, or none: nothing to rank. Ask another measure."
        raise InputError(msg)
    x, y = np.asarray(points, dtype=float), np.asarray(output, dtype=float)
    # Ranks in place of values: the indices do not change, and ties of a choice fall into slices of equal size.
    ranks = (x.argsort(axis=0, kind="stable").argsort(axis=0, kind="stable") + 0.5) / len(x)
    influence, noise = _influence(ranks, y, seed)
    shares = [
        _first_order(_places(x[:, at], ranks[:, at]), y, np.random.default_rng((seed, at)), corrected=not evenly)
        for at in range(len(names))
    ]
    table = pd.DataFrame(
        {
            "influence": influence,
            "share of variance": [share for share, _ in shares],
            "share of variance ±": [width for _, width in shares],
            "direction": [_rank_correlation(x[:, at], y) for at in range(len(names))],
        },
        index=pd.Index(names, name="input"),
    )
    table.attrs["noise"] = noise
    return table.sort_values("influence", ascending=False, kind="stable")


def _influence(ranks: FloatArray, output: FloatArray, seed: int) -> tuple[FloatArray, float]:
    """Influence of each input, and the most that inputs seem to have which have none."""
    try:
        from SALib.analyze import pawn
    except ImportError as error:
        msg = "A ranking needs SALib, which is not installed. Install it with: python -m pip install SALib"
        raise InputError(msg) from error
    n, inputs = ranks.shape
    idle = np.random.default_rng(seed).permuted(np.tile(np.arange(n), (_IDLE, 1)), axis=1).T
    both = np.column_stack([ranks, (idle + 0.5) / n])
    problem = {"num_vars": both.shape[1], "names": [f"x{at}" for at in range(both.shape[1])]}
    median = np.asarray(pawn.analyze(problem, both, output, S=_slices(n))["median"], dtype=float)
    return median[:inputs], float(median[inputs:].max())


def _places(values: FloatArray, ranks: FloatArray) -> NDArray[np.intp]:
    """Slice of each member: the values themselves where there are few, else as many members in each."""
    n = len(values)
    slices = min(48, max(4, round(2.0 * n ** (1.0 / 3.0))))
    distinct, codes = np.unique(values, return_inverse=True)
    return codes if len(distinct) <= slices else np.minimum((ranks * slices).astype(np.intp), slices - 1)


def _first_order(
    place: NDArray[np.intp], output: FloatArray, random: np.random.Generator, *, corrected: bool
) -> tuple[float, float]:
    """Share of variance, and the half width of its interval from resampled members."""
    n = len(output)
    resampled = [_between(place[rows], output[rows], True) for rows in random.integers(n, size=(_RESAMPLES, n))]
    return _between(place, output, corrected), _TWO_SIDED * float(np.std(resampled, ddof=1))


def _between(place: NDArray[np.intp], output: FloatArray, corrected: bool) -> float:
    """Share of the variance that lies between slices, without what chance puts there (Kelley 1935) where asked."""
    n = len(output)
    count = np.bincount(place)
    inside = count > 0
    total = float(((output - output.mean()) ** 2).sum())
    means = np.bincount(place, weights=output)[inside] / count[inside]
    between = float((count[inside] * (means - output.mean()) ** 2).sum())
    if total == 0.0:
        return 0.0
    if not corrected:
        return between / total
    return 1.0 - (total - between) / (n - int(inside.sum())) * (n - 1) / total


def _slices(members: int) -> int:
    """Slices of at least 32 members, of a number whose shares add up to 1 and no more."""
    # SALib adds up shares of a slice until they reach 1; six and nine times theirs is more by a rounding, and refused.
    return max(number for number in (4, 5, 7, 8, 10) if number <= max(4, members // 32))


def _rank_correlation(one: FloatArray, other: FloatArray) -> float:
    from scipy.stats import rankdata

    first, second = rankdata(one), rankdata(other)
    if np.ptp(first) == 0.0 or np.ptp(second) == 0.0:
        return 0.0
    return float(np.corrcoef(first, second)[0, 1])
