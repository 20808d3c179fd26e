"""Compare a change of a death rate in one group with the change in another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gammaln

from rearkit.errors import DesignError

_WIDEST = 60.0  # log ratios beyond this are no longer told from none or without limit


@dataclass(frozen=True, kw_only=True, eq=False)
class RatioOfRatios:
    """Report how many times more one rate changed than another.

    Attributes
    ----------
    ratio : float
        Change of the first rate over change of the second; infinite or nan where zeros leave no
        number.
    conf_low, conf_high, conf_level : float
        Exact conditional interval.
    p_value : float
        Exact two-sided p; 1 if the deaths cannot tell anything.
    """

    ratio: float
    conf_low: float
    conf_high: float
    conf_level: float
    p_value: float


def ratio_of_ratios(
    after1: int,
    time_after1: float,
    before1: int,
    time_before1: float,
    after0: int,
    time_after0: float,
    before0: int,
    time_before0: float,
    *,
    conf_level: float = 0.95,
) -> RatioOfRatios:
    """Estimate the change of one rate (after over before) relative to the change of another.

    Parameters
    ----------
    after1, before1, after0, before0 : int
        Deaths of the first and of the second group.
    time_after1, time_before1, time_after0, time_before0 : float
        Fry-days over which they were counted.
    conf_level : float
        Level of the interval.

    Returns
    -------
    RatioOfRatios
        Exact interval and p.

    Raises
    ------
    DesignError
        If a count is not a whole number, or a time is not above zero.

    Notes
    -----
    Null hypothesis: both rates changed by the same factor. Given the deaths of each group and
    those after, the first count has Fisher's noncentral hypergeometric distribution, whose odds
    are the ratio times the fry-days; p sums all outcomes no more likely than the one seen. Deaths
    are taken as independent of each other.

    References
    ----------
    Fisher, R. A. (1935). The logic of inductive inference. Journal of the Royal Statistical
    Society 98, 39-82.

    Examples
    --------
    >>> same = ratio_of_ratios(8, 100, 4, 100, 6, 100, 3, 100)
    >>> same.ratio, same.p_value
    (1.0, 1.0)
    """
    counts = (after1, before1, after0, before0)
    times = (time_after1, time_before1, time_after0, time_before0)
    if any(x != int(x) or x < 0 for x in counts):
        raise DesignError(f"{', '.join(f'{x:g}' for x in counts)} are not whole numbers of deaths")
    if not all(t > 0 for t in times):
        raise DesignError("a window without fry-days leaves no rate to compare")
    a, b, c, d = (int(x) for x in counts)
    scale = float(np.log(time_after1 * time_before0 / (time_before1 * time_after0)))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = float(np.float64(a) * d / (np.float64(b) * c) / np.exp(scale))
    x, logs = _outcomes(a + b, c + d, a + c)
    tail = (1.0 - conf_level) / 2.0
    low = -np.inf if a == x[0] else _solve(x, logs, a, tail, upper=True)
    high = np.inf if a == x[-1] else _solve(x, logs, a, tail, upper=False)
    null = _probabilities(x, logs, scale)
    seen = null[x == a][0]
    return RatioOfRatios(
        ratio=ratio,
        conf_low=float(np.exp(low - scale)),
        conf_high=float(np.exp(high - scale)),
        conf_level=conf_level,
        p_value=float(min(null[null <= seen * (1 + 1e-7)].sum(), 1.0)),
    )


Floats = NDArray[np.float64]


def _outcomes(first: int, second: int, after: int) -> tuple[Floats, Floats]:
    """List all possible counts of the first group after, and the logs of their numbers of ways."""
    x = np.arange(max(0, after - second), min(first, after) + 1, dtype=float)
    ways = -(gammaln(x + 1) + gammaln(first - x + 1))
    ways -= gammaln(after - x + 1) + gammaln(second - after + x + 1)
    return x, np.asarray(ways)


def _probabilities(x: Floats, logs: Floats, log_odds: float) -> Floats:
    weight = logs + x * log_odds
    weight = np.exp(weight - weight.max())
    return np.asarray(weight / weight.sum())


def _solve(x: Floats, logs: Floats, seen: int, tail: float, *, upper: bool) -> float:
    """Find the log odds at which the tail beyond what was seen has this probability."""
    far = x >= seen if upper else x <= seen

    def gap(log_odds: float) -> float:
        return float(_probabilities(x, logs, log_odds)[far].sum()) - tail

    return float(brentq(gap, -_WIDEST, _WIDEST, xtol=1e-12))
