"""How unequal the fish of one container are, and what follows from it.

Lengths within a container are taken as normal where a share or a shift is asked for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from rearkit.stats.growth.daily_means import daily_means

Floats = NDArray[np.float64]

# The tenth of the fish that are smallest lie below the mean by this many standard deviations.
SMALLEST_TENTH = -float(stats.norm.ppf(0.1))


@dataclass(frozen=True, kw_only=True, eq=False)
class DaySpread:
    """How unequal the fish of one container were on each sampled day.

    Attributes
    ----------
    days, means, n_fish : ndarray, shape (days,)
        Sampled days, mean lengths, fish measured.
    sd, cv : ndarray, shape (days,)
        Standard deviation among the fish, and its share of the mean; nan where not known.
    df : ndarray, shape (days,)
        Degrees of freedom behind ``sd``.
    """

    days: Floats
    means: Floats
    n_fish: Floats
    sd: Floats
    cv: Floats
    df: Floats

    @property
    def pooled_cv(self) -> float:
        """Give one CV for all days, weighed by degrees of freedom; nan if none is known."""
        known = self.df > 0
        if not known.any():
            return float("nan")
        weights = self.df[known]
        return float(np.sqrt(np.sum(weights * self.cv[known] ** 2) / np.sum(weights)))


@dataclass(frozen=True, kw_only=True, eq=False)
class SizeSpread:
    """What single fish of one sample tell beyond their mean and standard deviation.

    Attributes
    ----------
    skew : float
        Adjusted Fisher-Pearson skewness; above 0 when a few are much larger. nan for fewer than
        three fish or for equal fish.
    largest_to_smallest : float
        Ratio of the extremes.
    percentile_10 : float
        Length that 10 % of the fish have not reached.
    """

    skew: float
    largest_to_smallest: float
    percentile_10: float


def day_spread(
    days: ArrayLike,
    lengths: ArrayLike,
    *,
    n_fish: ArrayLike | None = None,
    sd: ArrayLike | None = None,
) -> DaySpread:
    """Describe the spread among the fish of one container on each day.

    Parameters
    ----------
    days, lengths, n_fish, sd
        As for :func:`rearkit.stats.growth.daily_means.daily_means`.

    Returns
    -------
    DaySpread
        A group row with its sd counts like the fish it stands for. A day with a group row whose
        sd is not known has none.

    Raises
    ------
    FitError
        If there is no row, or a number cannot be one.

    Examples
    --------
    >>> spread = day_spread([7, 7, 7, 14], [8.0, 10.0, 12.0, 14.0])
    >>> spread.cv.tolist()
    [0.2, nan]
    """
    day = np.asarray(days, dtype=float).ravel()
    length = np.asarray(lengths, dtype=float).ravel()
    n = np.ones(len(day)) if n_fish is None else np.asarray(n_fish, dtype=float).ravel()
    spread = np.full(len(day), np.nan) if sd is None else np.asarray(sd, dtype=float).ravel()
    found = []
    for one in np.unique(day):
        here = day == one
        data = daily_means(day[here], length[here], n_fish=n[here], sd=spread[here])
        fish, mean = float(data.n_fish[0]), float(data.means[0])
        whole = bool(np.all((n[here] == 1) | np.isfinite(spread[here]))) and fish > 1
        deviation = float(np.sqrt(data.within_ss / (fish - 1.0))) if whole else float("nan")
        found.append((one, mean, fish, deviation, deviation / mean, fish - 1.0 if whole else 0.0))
    columns = np.array(found, dtype=float).reshape(-1, 6).T
    return DaySpread(
        days=columns[0],
        means=columns[1],
        n_fish=columns[2],
        sd=columns[3],
        cv=columns[4],
        df=columns[5],
    )


def size_spread(lengths: ArrayLike) -> SizeSpread:
    """Describe the spread of the lengths of one sample of single fish.

    Parameters
    ----------
    lengths : array_like, shape (fish,)
        Lengths of one fish or more, above 0.

    Returns
    -------
    SizeSpread

    Examples
    --------
    >>> size_spread([8.0, 10.0, 12.0]).largest_to_smallest
    1.5
    """
    sizes = np.asarray(lengths, dtype=float)
    smallest, largest = float(sizes.min()), float(sizes.max())
    skewed = len(sizes) > 2 and largest > smallest
    return SizeSpread(
        skew=float(stats.skew(sizes, bias=False)) if skewed else float("nan"),
        largest_to_smallest=largest / smallest,
        percentile_10=float(np.percentile(sizes, 10)),
    )


def share_at_least(length: float, mean: ArrayLike, cv: ArrayLike) -> Floats:
    """Give the share of fish that are at least so long, from the mean and CV of a container.

    Parameters
    ----------
    length : float
        The length.
    mean, cv : array_like
        Mean length and coefficient of variation.

    Returns
    -------
    ndarray
        Shares, lengths taken as normal; a step where there is no spread, nan where it is unknown.

    Examples
    --------
    >>> share_at_least(10.0, [10.0, 12.0, 8.0], [0.1, 0.0, 0.0]).tolist()
    [0.5, 1.0, 0.0]
    """
    mean, cv = np.broadcast_arrays(np.asarray(mean, dtype=float), np.asarray(cv, dtype=float))
    sd = cv * mean
    gap = mean - length
    z = np.divide(gap, sd, out=np.where(gap >= 0, np.inf, -np.inf), where=sd > 0)
    return np.where(np.isfinite(mean) & np.isfinite(cv), stats.norm.cdf(z), np.nan)
