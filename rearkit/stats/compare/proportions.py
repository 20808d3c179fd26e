"""Give intervals for one proportion and for a difference, and bounds from count ranges."""

from __future__ import annotations

from dataclasses import dataclass

from scipy.special import betaincinv, ndtri

from rearkit.errors import DesignError


@dataclass(frozen=True, kw_only=True, eq=False)
class Proportion:
    """Report a proportion, or a difference of two, with its interval.

    Attributes
    ----------
    estimate, conf_low, conf_high : float
        On the scale 0 to 1 (a difference: -1 to 1).
    conf_level : float
        Level of the interval.
    """

    estimate: float
    conf_low: float
    conf_high: float
    conf_level: float


def wilson(
    count: float, n: float, *, conf_level: float = 0.95, continuity: bool = False
) -> Proportion:
    """Estimate a proportion with the score interval.

    Parameters
    ----------
    count, n : float
        Successes and trials.
    conf_level : float
        Level of the interval.
    continuity : bool
        Widen by half a fish on either side.

    Returns
    -------
    Proportion
        Never of no width, also for 0 or n successes.

    Raises
    ------
    DesignError
        If ``count`` is not between 0 and n, or n is not above 0.

    Notes
    -----
    Fish are taken as independent; for fish that share a container this says what happened to
    these fish in this container and nothing about other containers.

    References
    ----------
    Wilson, E. B. (1927). Probable inference, the law of succession, and statistical inference.
    Journal of the American Statistical Association 22, 209-212.
    Newcombe, R. G. (1998). Two-sided confidence intervals for the single proportion: comparison
    of seven methods. Statistics in Medicine 17, 857-872.

    Examples
    --------
    >>> result = wilson(20, 20)
    >>> round(result.conf_low, 4), result.conf_high
    (0.8389, 1.0)
    """
    p = _share(count, n)
    z = float(ndtri((1 + conf_level) / 2))
    shrink = 2 * (n + z * z)
    if continuity:
        low_root = z * z - 2 - 1 / n + 4 * p * (n * (1 - p) + 1)
        high_root = z * z + 2 - 1 / n + 4 * p * (n * (1 - p) - 1)
        low = (2 * count + z * z - 1 - z * max(low_root, 0.0) ** 0.5) / shrink
        high = (2 * count + z * z + 1 + z * max(high_root, 0.0) ** 0.5) / shrink
    else:
        root = z * (z * z + 4 * count * (1 - p)) ** 0.5
        low = (2 * count + z * z - root) / shrink
        high = (2 * count + z * z + root) / shrink
    return _proportion(p, 0.0 if count == 0 else low, 1.0 if count == n else high, conf_level)


def clopper_pearson(count: float, n: float, *, conf_level: float = 0.95) -> Proportion:
    """Estimate a proportion with the exact interval from binomial tails.

    Parameters
    ----------
    count, n : float
        Successes and trials.
    conf_level : float
        Level of the interval, at least reached.

    Returns
    -------
    Proportion
        Estimate and interval.

    Raises
    ------
    DesignError
        If ``count`` is not between 0 and n, or n is not above 0.

    References
    ----------
    Clopper, C. J. and Pearson, E. S. (1934). The use of confidence or fiducial limits
    illustrated in the case of the binomial. Biometrika 26, 404-413.
    """
    p = _share(count, n)
    tail = (1 - conf_level) / 2
    low = 0.0 if count == 0 else float(betaincinv(count, n - count + 1, tail))
    high = 1.0 if count == n else float(betaincinv(count + 1, n - count, 1 - tail))
    return _proportion(p, low, high, conf_level)


def jeffreys(count: float, n: float, *, conf_level: float = 0.95) -> Proportion:
    """Estimate a proportion with the equal-tailed interval of a beta with half a fish added.

    Parameters
    ----------
    count, n : float
        Successes and trials; midpoints of ranges and effective numbers are allowed.
    conf_level : float
        Level of the interval.

    Returns
    -------
    Proportion
        The lower end is 0 if none succeeded, the upper 1 if all did.

    Raises
    ------
    DesignError
        If ``count`` is not between 0 and n, or n is not above 0.

    References
    ----------
    Brown, L. D., Cai, T. T. and DasGupta, A. (2001). Interval estimation for a binomial
    proportion. Statistical Science 16, 101-133.
    """
    p = _share(count, n)
    tail = (1 - conf_level) / 2
    low = 0.0 if count == 0 else float(betaincinv(count + 0.5, n - count + 0.5, tail))
    high = 1.0 if count == n else float(betaincinv(count + 0.5, n - count + 0.5, 1 - tail))
    return _proportion(p, low, high, conf_level)


def newcombe(
    count1: float, n1: float, count0: float, n0: float, *, conf_level: float = 0.95
) -> Proportion:
    """Estimate a difference of two proportions, first minus second, from two score intervals.

    Parameters
    ----------
    count1, n1 : float
        Successes and trials of the first sample.
    count0, n0 : float
        Successes and trials of the second.
    conf_level : float
        Level of the interval.

    Returns
    -------
    Proportion
        The difference; its interval has a width also for 0 of n against 0 of n.

    Raises
    ------
    DesignError
        If a count is not between 0 and its n, or an n is not above 0.

    References
    ----------
    Newcombe, R. G. (1998). Interval estimation for the difference between independent
    proportions: comparison of eleven methods. Statistics in Medicine 17, 873-890.
    """
    one = wilson(count1, n1, conf_level=conf_level)
    two = wilson(count0, n0, conf_level=conf_level)
    estimate = one.estimate - two.estimate
    down = ((one.estimate - one.conf_low) ** 2 + (two.conf_high - two.estimate) ** 2) ** 0.5
    up = ((one.conf_high - one.estimate) ** 2 + (two.estimate - two.conf_low) ** 2) ** 0.5
    return Proportion(
        estimate=estimate,
        conf_low=max(-1.0, estimate - down),
        conf_high=min(1.0, estimate + up),
        conf_level=conf_level,
    )


def count_range_survival(
    alive_low: float, alive_high: float, start_low: float, start_high: float
) -> tuple[float, float]:
    """Bound survival by arithmetic when survivors and starters were counted as ranges.

    Parameters
    ----------
    alive_low, alive_high : float
        Fewest and most fish alive; with missing fish, the low end takes them as dead and the
        high end as alive.
    start_low, start_high : float
        Fewest and most fish at the start.

    Returns
    -------
    (float, float)
        Lowest and highest survival that the counts allow, at most 1.

    Raises
    ------
    DesignError
        If a range runs backwards, or the start may have been zero.

    Examples
    --------
    >>> count_range_survival(270, 288, 300, 300)
    (0.9, 0.96)
    """
    _check_ranges(alive_low, alive_high, start_low, start_high)
    return min(1.0, alive_low / start_high), min(1.0, alive_high / start_low)


def count_range_from_dead(
    dead_low: float, dead_high: float, start_low: float, start_high: float
) -> tuple[float, float]:
    """Bound survival by arithmetic when the dead and the starters were counted as ranges.

    Parameters
    ----------
    dead_low, dead_high : float
        Fewest and most fish dead.
    start_low, start_high : float
        Fewest and most fish at the start.

    Returns
    -------
    (float, float)
        Lowest and highest survival that the counts allow, at least 0.

    Raises
    ------
    DesignError
        If a range runs backwards, or the start may have been zero.

    Notes
    -----
    The extremes pair the most dead with the smallest start and the fewest dead with the largest;
    taking survivors and starters from different ends of one start range counts it twice.
    """
    _check_ranges(dead_low, dead_high, start_low, start_high)
    return max(0.0, 1 - dead_high / start_low), max(0.0, 1 - dead_low / start_high)


def _share(count: float, n: float) -> float:
    """Divide, refusing what is not a share."""
    if not (n > 0 and 0 <= count <= n):
        raise DesignError(f"{count:g} of {n:g} is not a proportion")
    return count / n


def _proportion(estimate: float, low: float, high: float, conf_level: float) -> Proportion:
    """Keep the ends within 0 and 1."""
    return Proportion(
        estimate=estimate,
        conf_low=max(0.0, low),
        conf_high=min(1.0, high),
        conf_level=conf_level,
    )


def _check_ranges(low: float, high: float, start_low: float, start_high: float) -> None:
    """Refuse ranges that run backwards and starts that may be zero."""
    if not (0 <= low <= high and 0 < start_low <= start_high):
        raise DesignError(
            f"{low:g} to {high:g} fish out of {start_low:g} to {start_high:g} is not a pair of "
            "count ranges"
        )
