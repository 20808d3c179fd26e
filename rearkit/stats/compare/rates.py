"""Compare two death rates a fry-day, and the change of one rate with the change of another."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gammaln
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import test_poisson_2indep

from rearkit.errors import DesignError

Floats = NDArray[np.float64]

_WIDEST = 60.0  # log ratios beyond this are no longer told from none or without limit


@dataclass(frozen=True, kw_only=True, eq=False)
class RateRatio:
    """Report a ratio of two rates with its exact interval.

    Attributes
    ----------
    ratio : float
        First rate over second; infinite if only the second has no events, nan if both have none.
    rate1, rate0 : float
        Events over time.
    conf_low, conf_high, conf_level : float
        Exact conditional interval of the ratio.
    p_value : float
        Exact two-sided p, 1 if there are no events.
    """

    ratio: float
    rate1: float
    rate0: float
    conf_low: float
    conf_high: float
    conf_level: float
    p_value: float


def rate_ratio(
    events1: int, time1: float, events0: int, time0: float, *, conf_level: float = 0.95
) -> RateRatio:
    """Estimate the ratio of two rates, first over second, given the total number of events.

    Parameters
    ----------
    events1, events0 : int
        Deaths, whole numbers.
    time1, time0 : float
        Fry-days over which they were counted.
    conf_level : float
        Level of the interval.

    Returns
    -------
    RateRatio
        Exact interval and p.

    Raises
    ------
    DesignError
        If a count is not a whole number, or a time is not above zero.

    Notes
    -----
    Null hypothesis: both rates are equal. Given the total, the first count is binomial with the
    first share of the time; p sums all outcomes no more likely than the one seen, and the interval
    is that of Clopper and Pearson for the share. Deaths are taken as independent: where one
    container holds most of them the interval is too narrow.

    References
    ----------
    Przyborowski, J. and Wilenski, H. (1940). Homogeneity of results in testing samples from
    Poisson series. Biometrika 31, 313-323.

    Examples
    --------
    >>> result = rate_ratio(9, 120, 3, 200)
    >>> round(result.ratio, 6), round(result.conf_low, 2), round(result.conf_high, 1)
    (5.0, 1.25, 28.7)
    """
    if events1 != int(events1) or events0 != int(events0) or min(events1, events0) < 0:
        raise DesignError(f"{events1:g} and {events0:g} deaths are not whole numbers of fish")
    if not (time1 > 0 and time0 > 0):
        raise DesignError(f"{time1:g} and {time0:g} fry-days leave no rate to compare")
    first, second = int(events1), int(events0)
    total, scale = first + second, time0 / time1
    if not total:
        return RateRatio(
            ratio=math.nan,
            rate1=0.0,
            rate0=0.0,
            conf_low=0.0,
            conf_high=math.inf,
            conf_level=conf_level,
            p_value=1.0,
        )
    low, high = proportion_confint(first, total, alpha=1 - conf_level, method="beta")
    with np.errstate(divide="ignore"):
        test = test_poisson_2indep(first, time1, second, time0, method="exact-cond")
        conf_high = np.float64(high) / (1 - high) * scale
    return RateRatio(
        ratio=float(test.ratio),
        rate1=first / time1,
        rate0=second / time0,
        conf_low=float(low / (1 - low) * scale),
        conf_high=float(conf_high),
        conf_level=conf_level,
        p_value=float(test.pvalue),
    )


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
