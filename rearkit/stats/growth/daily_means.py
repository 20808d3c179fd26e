"""Measured fish boiled down to one mean a day, and what joining those means gives.

A curve fitted to the means, each weighing as many fish as it stands for, is the curve fitted to
the fish. So fits work on days, and cost the same for ten fish as for ten thousand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.errors import FitError

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class DailyMeans:
    """Mean length (or weight) of one container on each sampled day.

    Attributes
    ----------
    days : ndarray, shape (days,)
        Sampled days, rising.
    means : ndarray, shape (days,)
        Mean of the fish of each day.
    n_fish : ndarray, shape (days,)
        Fish measured on each day.
    within_ss : float
        Sum of squares of the fish about their day's mean, as far as it is known.
    within_df : float
        Degrees of freedom of that sum.
    """

    days: Floats
    means: Floats
    n_fish: Floats
    within_ss: float
    within_df: float

    @property
    def n_days(self) -> int:
        """Number of sampled days."""
        return len(self.days)

    def length_at(self, day: ArrayLike) -> Floats:
        """Give the length read off straight lines between the daily means.

        Parameters
        ----------
        day : array_like
            Days asked for.

        Returns
        -------
        ndarray
            Lengths, shaped like ``day``; nan outside the sampled days.
        """
        day = np.asarray(day, dtype=float)
        joined = np.interp(day, self.days, self.means)
        return np.where((day < self.days[0]) | (day > self.days[-1]), np.nan, joined)

    def day_reached(self, length: float) -> float:
        """Give the first day on which straight lines between the means reach a length.

        Parameters
        ----------
        length : float
            Length asked for.

        Returns
        -------
        float
            The day, or nan if the means start above that length or never come to it.

        Examples
        --------
        >>> daily_means([0, 10, 20], [5.0, 9.0, 15.0]).day_reached(12.0)
        15.0
        """
        reached = np.flatnonzero(self.means >= length)
        if not len(reached):
            return float("nan")
        at = reached[0]
        if at == 0:
            return float(self.days[0]) if self.means[0] == length else float("nan")
        low, high = self.means[at - 1], self.means[at]
        share = (length - low) / (high - low)
        return float(self.days[at - 1] + share * (self.days[at] - self.days[at - 1]))


def daily_means(
    days: ArrayLike,
    lengths: ArrayLike,
    *,
    n_fish: ArrayLike | None = None,
    sd: ArrayLike | None = None,
) -> DailyMeans:
    """Gather rows (single fish, or means with their number and spread) by day.

    Parameters
    ----------
    days : array_like, shape (rows,)
        Day of each row.
    lengths : array_like, shape (rows,)
        Length of the fish, or mean length of the group.
    n_fish : array_like, shape (rows,), optional
        Fish in each row; 1 where not given.
    sd : array_like, shape (rows,), optional
        Standard deviation among the fish of each row; nan where not known.

    Returns
    -------
    DailyMeans
        One mean a day, and what is known of the spread within days.

    Raises
    ------
    FitError
        If there is no row, or a length, a number of fish or a spread cannot be one.

    Notes
    -----
    The spread within a day adds up ``(n - 1) sd**2`` of the rows whose sd is known and the
    weighted squares of the row means about the mean of the day. Rows with a missing day or
    length are an error, not silently dropped. The order of the rows changes nothing.
    """
    day, length, n, spread = _columns(days, lengths, n_fish, sd)
    order = np.lexsort((spread, n, length, day))
    day, length, n, spread = day[order], length[order], n[order], spread[order]
    known = np.isfinite(spread) & (n > 1)
    unique, first = np.unique(day, return_index=True)
    fish = np.add.reduceat(n, first)
    means = np.add.reduceat(n * length, first) / fish
    rows = np.diff(np.append(first, len(day)))
    about = n * (length - np.repeat(means, rows)) ** 2
    inner = np.where(known, (n - 1.0) * np.where(known, spread, 0.0) ** 2, 0.0)
    return DailyMeans(
        days=unique,
        means=means,
        n_fish=fish,
        within_ss=float(np.sum(about) + np.sum(inner)),
        within_df=float(np.sum(rows - 1) + np.sum((n - 1.0)[known])),
    )


def _columns(
    days: ArrayLike, lengths: ArrayLike, n_fish: ArrayLike | None, sd: ArrayLike | None
) -> tuple[Floats, Floats, Floats, Floats]:
    """Check the four columns and give them as floats of one size."""
    day = np.asarray(days, dtype=float).ravel()
    length = np.asarray(lengths, dtype=float).ravel()
    n = np.ones(len(day)) if n_fish is None else np.asarray(n_fish, dtype=float).ravel()
    spread = np.full(len(day), np.nan) if sd is None else np.asarray(sd, dtype=float).ravel()
    if not len(day):
        raise FitError("There are no measurements", todo="Measure some fish on two days or more.")
    if not len(day) == len(length) == len(n) == len(spread):
        sizes = f"{len(day)} days, {len(length)} lengths, {len(n)} numbers, {len(spread)} spreads"
        raise FitError(f"The columns differ in size: {sizes}", todo="Give one of each a row.")
    _refuse(length, ~np.isfinite(length) | (length <= 0), "length", "A length is above 0.")
    _refuse(day, ~np.isfinite(day), "day", "Give the day of every measurement.")
    _refuse(n, ~np.isfinite(n) | (n < 1), "number of fish", "A row stands for 1 fish or more.")
    _refuse(spread, np.isinf(spread) | (spread < 0), "standard deviation", "Leave it blank.")
    return day, length, n, spread


def _refuse(values: Floats, wrong: NDArray[np.bool_], name: str, todo: str) -> None:
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        what = f"A {name} of {values[row]:g} cannot be used"
        raise FitError(what, where=f"measurement {row + 1}", todo=todo)
