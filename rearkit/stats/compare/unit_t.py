"""Compare two methods by Student's t, with containers, clutches or block differences as units."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr, stdtrit
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW

from rearkit.errors import DesignError
from rearkit.stats.compare.layout import FloatArray, read_layout, read_values

_ROUNDING = 1e-12


@dataclass(frozen=True, kw_only=True, eq=False)
class TTest:
    """Report a difference, its standard error and what Student's t says of it.

    Attributes
    ----------
    estimate, std_error : float
        In units of the values.
    df : float
        Degrees of freedom.
    statistic, p_value : float
        Estimate over standard error, and the two-sided p; nan where the units show no spread
        about a difference that is not zero.
    conf_low, conf_high, conf_level : float
        The interval; nan where the units show no spread at all.
    """

    estimate: float
    std_error: float
    df: float
    statistic: float
    p_value: float
    conf_low: float
    conf_high: float
    conf_level: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Equivalence:
    """Report whether a difference lies within a margin on both sides.

    Attributes
    ----------
    p_value : float
        The larger of the two one-sided p.
    p_lower, p_upper : float
        Against a difference of at most -margin, and of at least +margin.
    conf_low, conf_high : float
        Interval of level 1 - 2 alpha; equivalence is this interval lying inside the margin.
    equivalent : bool
        Whether both one-sided p are below alpha.
    """

    p_value: float
    p_lower: float
    p_upper: float
    conf_low: float
    conf_high: float
    equivalent: bool


def t_two(
    values: ArrayLike, tested: ArrayLike, *, welch: bool = False, conf_level: float = 0.95
) -> TTest:
    """Estimate the difference of two arm means, tested minus usual.

    Parameters
    ----------
    values : (n,) array
        One value a unit.
    tested : (n,) bool array
        True for the tested method.
    welch : bool
        Let each arm have its own variance; otherwise one pooled variance and n - 2 degrees of
        freedom.
    conf_level : float
        Level of the interval.

    Returns
    -------
    TTest
        Two-sided.

    Raises
    ------
    DesignError
        If an arm is missing, there are only two units, or Welch has an arm of one.

    Notes
    -----
    Null hypothesis: both methods have the same mean; units are independent and roughly normal.
    If all values agree within each arm there is no spread to judge by: the interval is nan, p is
    1 when the arms agree too, and nan when they do not (a p of zero would not be honest).

    References
    ----------
    Student (1908). The probable error of a mean. Biometrika 6, 1-25.
    Welch, B. L. (1947). The generalization of "Student's" problem when several different
    population variances are involved. Biometrika 34, 28-35.

    Examples
    --------
    >>> import numpy as np
    >>> result = t_two([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], np.arange(6) >= 3)
    >>> result.estimate, result.df, round(result.p_value, 4)
    (3.0, 4.0, 0.0213)
    """
    numbers = read_values(values)
    labels = read_layout(tested, None, numbers.size).tested
    sizes = (int(labels.sum()), int((~labels).sum()))
    if numbers.size < 3 or (welch and min(sizes) < 2):
        raise DesignError(
            f"{sizes[0]} tested and {sizes[1]} usual units leave no spread to judge a difference by"
        )
    arms = CompareMeans(DescrStatsW(numbers[labels]), DescrStatsW(numbers[~labels]))
    estimate = float(arms.d1.mean - arms.d2.mean)
    std_error = float(arms.std_meandiff_separatevar if welch else arms.std_meandiff_pooledvar)
    scale = float(np.abs(numbers).max())
    if std_error <= _ROUNDING * scale:
        return _without_spread(estimate, 0.0, numbers.size - 2.0, conf_level, scale)
    spread: Literal["unequal", "pooled"] = "unequal" if welch else "pooled"
    return _as_result(
        estimate,
        std_error,
        arms.ttest_ind(usevar=spread),
        arms.tconfint_diff(alpha=1 - conf_level, usevar=spread),
        conf_level,
    )


def t_blocks(
    values: ArrayLike,
    tested: ArrayLike,
    blocks: Sequence[Hashable],
    *,
    conf_level: float = 0.95,
) -> TTest:
    """Estimate the mean over blocks of the difference of arm means within the block.

    Parameters
    ----------
    values : (n,) array
        One value a unit.
    tested : (n,) bool array
        True for the tested method.
    blocks : sequence of n labels
        The block (split clutch) of each unit.
    conf_level : float
        Level of the interval.

    Returns
    -------
    TTest
        With blocks - 1 degrees of freedom.

    Raises
    ------
    DesignError
        If a block lacks an arm, or there is only one block.

    Notes
    -----
    A block is the unit, and blocks weigh the same however many containers they hold. Without
    spread between the block differences p and interval are as in ``t_two``.
    """
    numbers = read_values(values)
    layout = read_layout(tested, blocks, numbers.size)
    scale = float(np.abs(numbers).max())
    return _one(layout.differences(numbers), 0.0, conf_level, scale=scale)


def t_one(values: ArrayLike, *, null: float = 0.0, conf_level: float = 0.95) -> TTest:
    """Estimate the mean of units and compare it with a stated value.

    Parameters
    ----------
    values : (n,) array
        One value a unit.
    null : float
        The value to compare with.
    conf_level : float
        Level of the interval.

    Returns
    -------
    TTest
        ``estimate`` and interval are those of the mean itself, not of its distance from ``null``.

    Raises
    ------
    DesignError
        If there are fewer than two units.
    """
    numbers = read_values(values)
    scale = max(float(np.abs(numbers).max()), abs(null))
    return _one(numbers, null, conf_level, scale=scale)


def empirical_logit(alive: ArrayLike, n: ArrayLike) -> FloatArray:
    """Turn survivors out of n into log((alive + 1/2) / (n - alive + 1/2)).

    Parameters
    ----------
    alive : array
        Survivors; midpoints of ranges are allowed.
    n : array
        Fish at the start.

    Returns
    -------
    array
        Log odds, finite also where all or none survive.

    Raises
    ------
    DesignError
        If more survive than started, or a number is negative.

    Examples
    --------
    >>> empirical_logit([10, 5], [10, 10]).round(3).tolist()
    [3.045, 0.0]
    """
    survivors = np.asarray(alive, dtype=np.float64)
    started = np.asarray(n, dtype=np.float64)
    if (survivors < 0).any() or (survivors > started).any():
        raise DesignError("More fish survive than there were at the start, or fewer than none")
    return np.asarray(np.log((survivors + 0.5) / (started - survivors + 0.5)))


def equivalence(
    estimate: float, std_error: float, df: float, margin: float, *, alpha: float = 0.05
) -> Equivalence:
    """Judge by two one-sided t tests whether a difference is smaller than a margin.

    Parameters
    ----------
    estimate, std_error, df : float
        As a ``TTest`` holds them.
    margin : float
        Largest difference that would not matter, in units of the estimate; above zero.
    alpha : float
        Level of each one-sided test.

    Returns
    -------
    Equivalence
        All p nan, and not equivalent, if there is no spread to judge by.

    Raises
    ------
    DesignError
        If the margin is not above zero.

    References
    ----------
    Schuirmann, D. J. (1987). A comparison of the two one-sided tests procedure and the power
    approach. Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680.
    """
    if not margin > 0:
        raise DesignError(f"A margin of {margin} leaves no room for a difference")
    std_error = std_error if std_error > 0 else float("nan")
    p_lower = float(stdtr(df, -(estimate + margin) / std_error))
    p_upper = float(stdtr(df, (estimate - margin) / std_error))
    half = float(stdtrit(df, 1 - alpha)) * std_error
    return Equivalence(
        p_value=max(p_lower, p_upper),
        p_lower=p_lower,
        p_upper=p_upper,
        conf_low=estimate - half,
        conf_high=estimate + half,
        equivalent=max(p_lower, p_upper) < alpha,
    )


def holm(p_values: Sequence[float]) -> list[float]:
    """Adjust several p for having looked at all of them, step by step from the smallest.

    Parameters
    ----------
    p_values : sequence of float
        One p an outcome.

    Returns
    -------
    list of float
        Adjusted p in the same order; one alone stays as it is.

    References
    ----------
    Holm, S. (1979). A simple sequentially rejective multiple test procedure. Scandinavian
    Journal of Statistics 6, 65-70.

    Examples
    --------
    >>> [round(p, 6) for p in holm([0.01, 0.04, 0.03])]
    [0.03, 0.06, 0.06]
    """
    from statsmodels.stats.multitest import multipletests  # the trial report does without

    if len(p_values) < 2:
        return list(p_values)
    adjusted: list[float] = multipletests(p_values, method="holm")[1].tolist()
    return adjusted


def _one(numbers: FloatArray, null: float, conf_level: float, *, scale: float) -> TTest:
    """Judge the mean of units against ``null``."""
    if numbers.size < 2:
        raise DesignError(f"{numbers.size} unit leaves no spread to judge a mean by")
    units = DescrStatsW(numbers)
    estimate, std_error = float(units.mean), float(units.std_mean)
    if std_error <= _ROUNDING * scale:
        return _without_spread(estimate, null, numbers.size - 1.0, conf_level, scale)
    return _as_result(
        estimate,
        std_error,
        units.ttest_mean(null),
        units.tconfint_mean(alpha=1 - conf_level),
        conf_level,
    )


def _as_result(
    estimate: float,
    std_error: float,
    test: tuple[float, float, float],
    interval: tuple[float, float],
    conf_level: float,
) -> TTest:
    """Put together what statsmodels found: statistic, p and degrees of freedom, and both ends."""
    return TTest(
        estimate=estimate,
        std_error=std_error,
        df=float(test[2]),
        statistic=float(test[0]),
        p_value=float(test[1]),
        conf_low=float(interval[0]),
        conf_high=float(interval[1]),
        conf_level=conf_level,
    )


def _without_spread(
    estimate: float, null: float, df: float, conf_level: float, scale: float
) -> TTest:
    """Say what units without any spread allow: p of 1 if they agree with ``null``, else nothing."""
    same = abs(estimate - null) <= _ROUNDING * scale
    nothing = float("nan")
    return TTest(
        estimate=estimate,
        std_error=0.0,
        df=df,
        statistic=0.0 if same else nothing,
        p_value=1.0 if same else nothing,
        conf_low=nothing,
        conf_high=nothing,
        conf_level=conf_level,
    )
