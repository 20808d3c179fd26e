"""Compare two death rates a fry-day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv
from scipy.stats import binomtest

from rearkit.errors import DesignError


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
    first share of the time; p sums all outcomes no more likely than the one seen. Deaths are taken
    as independent: where one container holds most of them the interval is too narrow.

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
    total, tail = first + second, (1 - conf_level) / 2
    low = float(betaincinv(first, second + 1, tail)) if first else 0.0
    high = float(betaincinv(first + 1, second, 1 - tail)) if second else 1.0
    scale = time0 / time1
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = float(np.float64(first / time1) / (second / time0))
        conf_high = float(np.float64(high) / (1 - high)) * scale
    share = time1 / (time1 + time0)
    return RateRatio(
        ratio=ratio,
        rate1=first / time1,
        rate0=second / time0,
        conf_low=low / (1 - low) * scale,
        conf_high=conf_high,
        conf_level=conf_level,
        p_value=float(binomtest(first, total, share).pvalue) if total else 1.0,
    )
