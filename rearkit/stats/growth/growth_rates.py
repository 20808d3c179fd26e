"""Plain growth figures: rates, warmth, and how weight goes with length.

References
----------
Froese, R. (2006). Cube law, condition factor and weight-length relationships: history,
meta-analysis and recommendations. Journal of Applied Ichthyology 22, 241-253.
Hopkins, K. D. (1992). Reporting fish growth: a review of the basics. Journal of the World
Aquaculture Society 23, 173-179.
Iwama, G. K. and Tautz, A. F. (1981). A simple growth model for salmonids in hatcheries.
Canadian Journal of Fisheries and Aquatic Sciences 38, 649-656.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from rearkit.errors import FitError

Floats = NDArray[np.float64]

CUBE_ROOT = 1.0 / 3.0
USUAL_EXPONENTS = (2.5, 3.5)


@dataclass(frozen=True, kw_only=True, eq=False)
class LengthWeight:
    """The straight line of log weight on log length.

    Attributes
    ----------
    intercept, exponent : float
        ``log(weight) = intercept + exponent * log(length)``, natural logs.
    unusual : bool
        Whether the exponent lies outside 2.5 to 3.5.
    """

    intercept: float
    exponent: float
    unusual: bool


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
    weight_from: ArrayLike, weight_to: ArrayLike, warmth: ArrayLike
) -> Floats:
    """Give the thermal growth coefficient, on the scale on which about 1 is usual.

    Parameters
    ----------
    weight_from, weight_to : array_like
        Weights in g.
    warmth : array_like
        Temperature in °C times days, summed (base 0 °C).

    Returns
    -------
    ndarray
        ``1000 (weight_to**(1/3) - weight_from**(1/3)) / warmth``.

    Raises
    ------
    FitError
        If a weight or the warmth is not above 0.

    Examples
    --------
    >>> float(thermal_growth_coefficient(0.01, 0.542224, 20 * 30).round(4))
    1.0
    """
    first = _positive(weight_from, "weight") ** CUBE_ROOT
    last = _positive(weight_to, "weight") ** CUBE_ROOT
    return 1000.0 * (last - first) / _positive(warmth, "sum of temperature and days")


def fit_length_weight(lengths: ArrayLike, weights: ArrayLike) -> LengthWeight:
    """Fit log weight on log length.

    Parameters
    ----------
    lengths, weights : array_like, shape (fish,)
        Length and weight of each fish.

    Returns
    -------
    LengthWeight

    Raises
    ------
    FitError
        If there are fewer than three fish, all are of one length, or a number is not above 0.

    Notes
    -----
    The exponent has no unit; the intercept depends on those of length and weight. Exponents
    outside 2.5 to 3.5 mostly come from a narrow range of lengths or a wrong unit (Froese 2006).
    """
    x = np.log(_positive(lengths, "length"))
    y = np.log(_positive(weights, "weight"))
    if len(x) != len(y):
        raise FitError(f"There are {len(x)} lengths and {len(y)} weights", todo="Pair them.")
    if len(x) < 3 or np.ptp(x) == 0:
        raise FitError(
            f"{len(x)} fish of {len(np.unique(x))} different lengths give no length-weight line",
            todo="Weigh at least three fish of different lengths.",
        )
    line = stats.linregress(x, y)
    exponent = float(line.slope)
    return LengthWeight(
        intercept=float(line.intercept),
        exponent=exponent,
        unusual=not USUAL_EXPONENTS[0] <= exponent <= USUAL_EXPONENTS[1],
    )


def _positive(values: ArrayLike, name: str) -> Floats:
    """Give floats above 0, or say which one is not."""
    numbers = np.asarray(values, dtype=float)
    wrong = ~(numbers > 0) | ~np.isfinite(numbers)
    if wrong.any():
        raise FitError(
            f"A {name} of {numbers[wrong].flat[0]:g} cannot be used", todo=f"A {name} is above 0."
        )
    return numbers
