"""Compare deaths with the deaths expected if labels made no difference to the rate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtrc

from rearkit.errors import DesignError
from rearkit.stats.layout import FloatArray
from rearkit.stats.product_limit import read_counts, share_dying

Weighting = Literal["none", "gehan", "tarone-ware", "peto-peto"]


@dataclass(frozen=True, kw_only=True, eq=False)
class LogRank:
    """Report a two-sample log-rank test of single fish.

    Attributes
    ----------
    observed, expected : (2,) array
        Deaths of the first and second group, not weighted.
    variance : float
        Hypergeometric variance of the weighted difference.
    statistic, p_value : float
        Chi-square with one degree of freedom, and its p. Never a verdict on methods: fish of
        one container share its fate.
    """

    observed: FloatArray
    expected: FloatArray
    variance: float
    statistic: float
    p_value: float


def expected_deaths(at_risk: ArrayLike, deaths: ArrayLike) -> FloatArray:
    """Estimate the deaths each container would have had at the death rate of all together.

    Parameters
    ----------
    at_risk, deaths : (c, k) array
        Containers by common intervals.

    Returns
    -------
    (c,) array
        Expected deaths. They do not depend on labels, and over containers they sum to the
        observed deaths.

    Raises
    ------
    DesignError
        If the counts are impossible.
    """
    n, d = read_counts(at_risk, deaths)
    return np.asarray((n * share_dying(n.sum(axis=0), d.sum(axis=0))).sum(axis=1))


def log_rank(
    durations: ArrayLike,
    died: ArrayLike,
    group: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    weighting: Weighting = "none",
) -> LogRank:
    """Estimate how far deaths of single fish in two groups are from those expected.

    Parameters
    ----------
    durations : (n,) array
        Age at death or when last seen, in days.
    died : (n,) bool array
        False for fish that were removed or alive at the end.
    group : (n,) bool array
        False for the first group, True for the second.
    weights : (n,) array, optional
        How many fish a row stands for.
    weighting : {"none", "gehan", "tarone-ware", "peto-peto"}
        Weight of a death age: 1, fish at risk, its square root, or the survival of all fish
        just before.

    Returns
    -------
    LogRank
        For lessons on what goes wrong when fish are taken as units.

    Raises
    ------
    DesignError
        If a group is empty.

    Notes
    -----
    Null hypothesis: both groups share one hazard, and every fish is independent of every other.
    With fry sharing containers that is false, and the test raises false alarms in 30 to 70 of
    100 trials.

    References
    ----------
    Mantel, N. (1966). Evaluation of survival data and two new rank order statistics arising in
    its consideration. Cancer Chemotherapy Reports 50, 163-170.
    Peto, R. and Peto, J. (1972). Asymptotically efficient rank invariant test procedures.
    Journal of the Royal Statistical Society A 135, 185-206.
    """
    ages, second = np.asarray(durations, dtype=np.float64), np.asarray(group, dtype=bool)
    counts = np.ones(ages.size) if weights is None else np.asarray(weights, dtype=np.float64)
    if second.all() or not second.any():
        raise DesignError("A log-rank test needs fish in both groups")
    dead = np.asarray(died, dtype=bool)
    at = np.unique(ages[dead])
    n = np.stack(
        [((ages >= at[:, None]) * counts)[:, arm].sum(axis=1) for arm in (~second, second)]
    )
    d = np.stack(
        [((ages == at[:, None]) * counts * dead)[:, arm].sum(axis=1) for arm in (~second, second)]
    )
    n_all, d_all = n.sum(axis=0), d.sum(axis=0)
    w = _WEIGHTS[weighting](n_all, d_all)
    difference = float((w * (d[1] - n[1] * d_all / n_all)).sum())
    room = np.maximum(n_all - 1, 1)
    variance = float((w**2 * d_all * n[0] * n[1] * (n_all - d_all) / (n_all**2 * room)).sum())
    statistic = difference**2 / variance if variance > 0 else 0.0
    return LogRank(
        observed=d.sum(axis=1),
        expected=(n * d_all / n_all).sum(axis=1),
        variance=variance,
        statistic=statistic,
        p_value=float(chdtrc(1, statistic)),
    )


def _survival_before(at_risk: FloatArray, deaths: FloatArray) -> FloatArray:
    """Estimate survival of all fish just before each age of death."""
    return np.concatenate(([1.0], np.cumprod(1 - deaths / at_risk)[:-1]))


_WEIGHTS: dict[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
    "none": lambda at_risk, deaths: np.ones_like(at_risk),
    "gehan": lambda at_risk, deaths: at_risk,
    "tarone-ware": lambda at_risk, deaths: np.sqrt(at_risk),
    "peto-peto": _survival_before,
}
