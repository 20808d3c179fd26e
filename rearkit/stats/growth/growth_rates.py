"""Plain growth figures: rates, warmth, and how much of a mean is only survival.

References
----------
Hopkins, K. D. (1992). Reporting fish growth: a review of the basics. Journal of the World
Aquaculture Society 23, 173-179.
Iwama, G. K. and Tautz, A. F. (1981). A simple growth model for salmonids in hatcheries.
Canadian Journal of Fisheries and Aquatic Sciences 38, 649-656.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from rearkit.errors import FitError

Floats = NDArray[np.float64]

CUBE_ROOT = 1.0 / 3.0


def specific_growth_rate(size_from: ArrayLike, size_to: ArrayLike, days: ArrayLike) -> Floats:
    """Give the specific growth rate, in % a day.

    Parameters
    ----------
    size_from, size_to : array_like
        Length or weight (of a group: its geometric mean) at the start and the end.
    days : array_like
        Days between the two.

    Returns
    -------
    ndarray
        ``100 ln(size_to / size_from) / days``.

    Raises
    ------
    FitError
        If a size or a number of days is not above 0.

    Notes
    -----
    The rate falls as fish grow: give the ages it was taken between. It holds for short spans.

    Examples
    --------
    >>> float(specific_growth_rate(0.20, 0.65, 21).round(4))
    5.6126
    """
    first = _positive(size_from, "size")
    last = _positive(size_to, "size")
    return 100.0 * np.log(last / first) / _positive(days, "number of days")


def absolute_growth_rate(size_from: ArrayLike, size_to: ArrayLike, days: ArrayLike) -> Floats:
    """Give the growth in units a day, such as mm a day.

    Parameters
    ----------
    size_from, size_to, days
        As for :func:`specific_growth_rate`.

    Returns
    -------
    ndarray

    Raises
    ------
    FitError
        If a size or a number of days is not above 0.

    Examples
    --------
    >>> float(absolute_growth_rate(5.0, 9.0, 10))
    0.4
    """
    gain = _positive(size_to, "size") - _positive(size_from, "size")
    return gain / _positive(days, "number of days")


def geometric_mean(sizes: ArrayLike, *, n_fish: ArrayLike | None = None) -> float:
    """Give the geometric mean, which is what the rate of a group without tags is taken from.

    Parameters
    ----------
    sizes : array_like, shape (rows,)
        Lengths or weights.
    n_fish : array_like, shape (rows,), optional
        Fish in each row.

    Returns
    -------
    float

    Raises
    ------
    FitError
        If there is no size, or one is not above 0.

    Examples
    --------
    >>> round(geometric_mean([2.0, 8.0]), 9)
    4.0
    """
    sizes = _positive(sizes, "size")
    if not sizes.size:
        raise FitError("There are no sizes to take a mean of", todo="Measure at least one fish.")
    weights = None if n_fish is None else np.asarray(n_fish, dtype=float)
    return float(np.exp(np.average(np.log(sizes), weights=weights)))


def degree_days(
    days: ArrayLike, temp_c: ArrayLike, *, base_c: float, from_day: float, to_day: float
) -> float:
    """Add up the warmth above a base between two days.

    Parameters
    ----------
    days, temp_c : array_like, shape (readings,)
        Days and temperatures read, in °C, in any order.
    base_c : float
        Temperature below which nothing is added. State it with the sum.
    from_day, to_day : float
        The days between which to add.

    Returns
    -------
    float
        Degree-days; nan if the readings do not span the days.

    Raises
    ------
    FitError
        If no reading is given, or one is not a number.

    Notes
    -----
    Readings of one day are averaged and joined by straight lines; the area above the base is
    exact, also where a line crosses it.

    Examples
    --------
    >>> degree_days([0, 10], [24.0, 26.0], base_c=15.0, from_day=0, to_day=10)
    100.0
    """
    day, temp = np.asarray(days, dtype=float).ravel(), np.asarray(temp_c, dtype=float).ravel()
    if not len(day) or not (np.isfinite(day).all() and np.isfinite(temp).all()):
        raise FitError("A temperature or its day is missing", todo="Leave such readings out.")
    unique, place = np.unique(day, return_inverse=True)
    mean = np.bincount(place, weights=temp) / np.bincount(place)
    if not unique[0] <= from_day <= to_day <= unique[-1]:
        return float("nan")
    inner = unique[(unique > from_day) & (unique < to_day)]
    at = np.concatenate([[from_day], inner, [to_day]])
    above = np.interp(at, unique, mean) - base_c
    left, right, width = above[:-1], above[1:], np.diff(at)
    crossing = left * right < 0
    rise = np.where(crossing, np.abs(right - left), 1.0)
    both = 0.5 * (np.maximum(left, 0.0) + np.maximum(right, 0.0))
    cut = 0.5 * np.maximum(left, right) ** 2 / rise
    return float(np.sum(width * np.where(crossing, cut, both)))


def thermal_growth_coefficient(
    weight_from: ArrayLike,
    weight_to: ArrayLike,
    warmth: ArrayLike,
    *,
    exponent: float = CUBE_ROOT,
) -> Floats:
    """Give the thermal growth coefficient, on the scale on which about 1 is usual.

    Parameters
    ----------
    weight_from, weight_to : array_like
        Weights in g.
    warmth : array_like
        Temperature in °C times days, summed (base 0 °C).
    exponent : float
        Power of the weight that grows in a straight line.

    Returns
    -------
    ndarray
        ``1000 (weight_to**exponent - weight_from**exponent) / warmth``.

    Raises
    ------
    FitError
        If a weight or the warmth is not above 0.

    Examples
    --------
    >>> float(thermal_growth_coefficient(0.01, 0.542224, 20 * 30).round(4))
    1.0
    """
    first = _positive(weight_from, "weight") ** exponent
    last = _positive(weight_to, "weight") ** exponent
    return 1000.0 * (last - first) / _positive(warmth, "sum of temperature and days")


def thermal_weight(
    weight_from: ArrayLike,
    coefficient: ArrayLike,
    warmth: ArrayLike,
    *,
    exponent: float = CUBE_ROOT,
) -> Floats:
    """Give the weight that a thermal growth coefficient leads to.

    Parameters
    ----------
    weight_from, warmth, exponent
        As for :func:`thermal_growth_coefficient`.
    coefficient : array_like
        The coefficient.

    Returns
    -------
    ndarray
        Weights in g.

    Raises
    ------
    FitError
        If a weight or the warmth is not above 0.

    Examples
    --------
    >>> float(thermal_weight(0.01, 1.0, 20 * 30).round(4))
    0.5422
    """
    first = _positive(weight_from, "weight") ** exponent
    gain = np.asarray(coefficient, dtype=float) * _positive(warmth, "sum of temperature and days")
    return (first + gain / 1000.0) ** (1.0 / exponent)


def smallest_lost_shift(share: ArrayLike) -> Floats:
    """Give how far a normal mean moves up, in standard deviations, when the smallest are lost.

    Parameters
    ----------
    share : array_like
        Share of the fish that were lost, 0 to 1.

    Returns
    -------
    ndarray
        Shift in standard deviations; 0 for nothing lost. Times the CV of the lengths it bounds
        the part of a mean's growth that the loss of runts can explain.

    Raises
    ------
    FitError
        If a share is below 0 or not below 1.

    Notes
    -----
    The mean of a normal distribution cut off below is its density at the cut over the share that
    is left.

    Examples
    --------
    >>> smallest_lost_shift([0.1, 0.3]).round(3).tolist()
    [0.195, 0.497]
    """
    lost = np.asarray(share, dtype=float)
    if np.any(~(lost >= 0) | ~(lost < 1)):
        raise FitError("A share of fish lost lies outside 0 to 1", todo="Give 0.3 for 30 %.")
    return stats.norm.pdf(stats.norm.ppf(lost)) / (1.0 - lost)


def _positive(values: ArrayLike, name: str) -> Floats:
    """Give floats above 0, or say which one is not."""
    numbers = np.asarray(values, dtype=float)
    wrong = ~(numbers > 0) | ~np.isfinite(numbers)
    if wrong.any():
        raise FitError(
            f"A {name} of {numbers[wrong].flat[0]:g} cannot be used", todo=f"A {name} is above 0."
        )
    return numbers
