"""Estimate a survival curve when deaths are only known to lie between two ages."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.errors import DesignError, FitError

FloatArray = NDArray[np.float64]

_MAX_ROUNDS = 20_000
_GAP = 1e-12
_NEGLIGIBLE = 1e-9


@dataclass(frozen=True, kw_only=True, eq=False)
class TurnbullCurve:
    """Report the masses of the maximum likelihood curve.

    Attributes
    ----------
    left, right : (m,) array
        The intervals (left, right] that hold mass; right may be infinite, and left equals right
        where deaths of a known age hold it.
    mass : (m,) array
        Share of fish that die in each; sums to 1.
    log_likelihood : float
        Weighted by the number of fish.
    gap : float
        Most by which a better curve could raise the log-likelihood.
    rounds : int
        Rounds of the iteration.
    """

    left: FloatArray
    right: FloatArray
    mass: FloatArray
    log_likelihood: float
    gap: float
    rounds: int

    def survival_at(self, days: ArrayLike) -> FloatArray:
        """Estimate survival to each day, deaths within an interval shared by days.

        Parameters
        ----------
        days : (...) array
            Ages in days.

        Returns
        -------
        (...) array
            Survival; nan inside an interval without end, where nothing was seen.
        """
        x = np.asarray(days, dtype=np.float64)[..., np.newaxis]
        width = self.right - self.left
        with np.errstate(invalid="ignore"):
            inside = np.clip((x - self.left) / np.where(width > 0, width, 1.0), 0.0, 1.0)
        part = np.where(width > 0, inside, (x >= self.right).astype(np.float64))
        unknown = np.isinf(self.right) & (x > self.left)
        dead = np.where(unknown, np.nan, part * self.mass)
        return np.clip(1 - dead.sum(axis=-1), 0.0, 1.0)[()]

    def bounds_at(self, days: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Bound survival to each day by moving the deaths within an interval to its ends.

        Parameters
        ----------
        days : (...) array
            Ages in days.

        Returns
        -------
        (array, array)
            All deaths of the interval at its start, and at its end.
        """
        x = np.asarray(days, dtype=np.float64)[..., np.newaxis]
        begun = (x > self.left) | (x >= self.right)
        low = 1 - np.where(begun, self.mass, 0.0).sum(axis=-1)
        high = 1 - np.where(x >= self.right, self.mass, 0.0).sum(axis=-1)
        return np.clip(low, 0.0, 1.0)[()], np.clip(high, 0.0, 1.0)[()]


def turnbull(left: ArrayLike, right: ArrayLike, weights: ArrayLike | None = None) -> TurnbullCurve:
    """Estimate the curve under which what was seen is most likely.

    Parameters
    ----------
    left, right : (n,) array
        Each row died after age ``left`` and not after age ``right``; infinity for fish that were
        still alive at ``left``; equal where the age at death is known.
    weights : (n,) array, optional
        How many fish a row stands for; rows of weight zero are left out.

    Returns
    -------
    TurnbullCurve
        Intervals of no mass are left out.

    Raises
    ------
    DesignError
        If an interval runs backwards, an age is unknown, or there are no fish.
    FitError
        If the iteration does not settle.

    Notes
    -----
    Self-consistency with squared extrapolation, stopped when the gradient shows that no curve
    can be better by more than 1e-12 a fish. Intervals are open on the left and closed on the
    right, so with common look days the curve is deaths over starters at each look. When a fish was
    looked for must not depend on whether it was about to die.

    References
    ----------
    Turnbull, B. W. (1976). The empirical distribution function with arbitrarily grouped,
    censored and truncated data. Journal of the Royal Statistical Society B 38, 290-295.
    Varadhan, R. and Roland, C. (2008). Simple and globally convergent methods for accelerating
    the convergence of any EM algorithm. Scandinavian Journal of Statistics 35, 335-353.

    Examples
    --------
    >>> curve = turnbull([0, 1, 3, 7], [1, 3, 7, float("inf")], [2, 3, 1, 4])
    >>> curve.survival_at([1, 3, 7]).round(6).tolist()
    [0.8, 0.5, 0.4]
    """
    lows, highs, fish = _rows(left, right, weights)
    starts, ends = _support(lows, highs)
    known = lows == highs
    inside = (lows[:, None] <= starts) & (ends <= highs[:, None])
    exactly = (starts == ends) & (lows[:, None] == starts)
    holds = np.where(known[:, None], exactly, inside & ~exactly).astype(np.float64)
    mass, gap, rounds = _settle(holds, fish)
    keep = mass > _NEGLIGIBLE
    mass = mass[keep] / mass[keep].sum()
    return TurnbullCurve(
        left=starts[keep],
        right=ends[keep],
        mass=mass,
        log_likelihood=float(fish @ np.log(holds[:, keep] @ mass)),
        gap=gap,
        rounds=rounds,
    )


def _rows(
    left: ArrayLike, right: ArrayLike, weights: ArrayLike | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Refuse rows that cannot be, and add up equal ones."""
    lows, highs = np.asarray(left, dtype=np.float64), np.asarray(right, dtype=np.float64)
    fish = np.ones(lows.size) if weights is None else np.asarray(weights, dtype=np.float64)
    if not (lows <= highs).all() or not np.isfinite(lows).all():
        raise DesignError("An interval ends before it begins, or its ends are not known")
    if not (fish >= 0).all() or not (fish > 0).any():
        raise DesignError("A curve needs at least one fish, and no row less than none")
    seen = fish > 0
    pairs, place = np.unique(
        np.stack((lows[seen], highs[seen]), axis=1), axis=0, return_inverse=True
    )
    counts: FloatArray = np.bincount(place.ravel(), weights=fish[seen]).astype(np.float64)
    return pairs[:, 0], pairs[:, 1], counts


def _support(lows: FloatArray, highs: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Find the innermost intervals: a left end followed at once by a right end.

    At one age come first the left end of a known age at death, then right ends, then left ends
    of intervals, which begin just after it.
    """
    known = lows == highs
    ages = np.concatenate((lows, highs))
    rank = np.concatenate((np.where(known, 0, 2), np.ones(highs.size)))
    order = np.lexsort((rank, ages))
    ages, is_right = ages[order], (np.arange(ages.size) >= lows.size)[order]
    inner = np.flatnonzero(~is_right[:-1] & is_right[1:])
    return ages[inner], ages[inner + 1]


def _settle(holds: FloatArray, fish: FloatArray) -> tuple[FloatArray, float, int]:
    """Iterate until the gradient proves that no curve is better by more than the gap."""
    total = float(fish.sum())

    def gradient(mass: FloatArray) -> FloatArray:
        return np.asarray((fish / (holds @ mass)) @ holds / total)

    mass: FloatArray = np.full(holds.shape[1], 1 / holds.shape[1])
    for done in range(_MAX_ROUNDS):
        slope = gradient(mass)
        gap = float(slope.max()) - 1
        if gap < _GAP:
            return mass, max(gap, 0.0) * total, done
        once = mass * slope
        twice = once * gradient(once)
        mass = _extrapolate(mass, once, twice, holds, fish)
    raise FitError(f"The curve did not settle in {_MAX_ROUNDS} rounds")


def _extrapolate(
    mass: FloatArray,
    once: FloatArray,
    twice: FloatArray,
    holds: FloatArray,
    fish: FloatArray,
) -> NDArray[np.float64]:
    """Leap along two steps, unless that leaves the simplex or lowers the likelihood."""
    step, bend = once - mass, twice - 2 * once + mass
    length = float(np.sqrt((step @ step) / (bend @ bend))) if bend.any() else 1.0
    leap = mass + 2 * length * step + length**2 * bend
    leap = np.where(leap < 0, twice * 1e-3, leap)
    leap /= leap.sum()
    better = fish @ np.log(holds @ leap) >= fish @ np.log(holds @ twice)
    return leap if better else twice
