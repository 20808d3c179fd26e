"""How unequal the fish of a sample are, and how their weight goes with their length.

References
----------
Froese, R. (2006). Cube law, condition factor and weight-length relationships: history,
meta-analysis and recommendations. Journal of Applied Ichthyology 22, 241-253.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from rearkit.errors import FitError

Floats = NDArray[np.float64]

USUAL_EXPONENTS = (2.5, 3.5)
# K compares only fish of about one length: largest over smallest at most this.
NARROW_RANGE = 1.25


@dataclass(frozen=True, kw_only=True, eq=False)
class SizeSpread:
    """How unequal the fish of one sample are.

    Attributes
    ----------
    n_fish : int
        Fish measured.
    mean, sd, cv : float
        Mean, standard deviation, and their ratio.
    skew : float
        Adjusted Fisher-Pearson skewness; above 0 when a few are much larger.
    smallest, largest, largest_to_smallest : float
        Extremes and their ratio.
    percentile_10 : float
        Length that 10 % of the fish have not reached.
    """

    n_fish: int
    mean: float
    sd: float
    cv: float
    skew: float
    smallest: float
    largest: float
    largest_to_smallest: float
    percentile_10: float


@dataclass(frozen=True, kw_only=True, eq=False)
class LengthWeight:
    """The straight line of log weight on log length.

    Attributes
    ----------
    intercept, exponent : float
        ``log(weight) = intercept + exponent * log(length)``, natural logs.
    std_error, conf_low, conf_high, conf_level : float
        Of the exponent, by t with ``df`` degrees of freedom.
    df : int
        Fish less two.
    r_squared : float
        Share of the spread of log weight that goes with log length.
    unusual : bool
        Whether the exponent lies outside 2.5 to 3.5.
    """

    intercept: float
    exponent: float
    std_error: float
    conf_low: float
    conf_high: float
    conf_level: float
    df: int
    r_squared: float
    unusual: bool

    def weight_at(self, length: ArrayLike) -> Floats:
        """Give the (median) weight at each length."""
        return np.exp(self.intercept + self.exponent * np.log(np.asarray(length, dtype=float)))


def size_spread(lengths: ArrayLike) -> SizeSpread:
    """Describe the spread of the lengths of one sample.

    Parameters
    ----------
    lengths : array_like, shape (fish,)
        Lengths of single fish.

    Returns
    -------
    SizeSpread
        Spread is nan for one fish, skew for fewer than three or for equal fish.

    Raises
    ------
    FitError
        If there is no fish, or a length is not above 0.

    Examples
    --------
    >>> size_spread([8.0, 10.0, 12.0]).cv
    0.2
    """
    sizes = _above_zero(lengths, "length")
    if not len(sizes):
        raise FitError("No fish was measured", todo="Measure single fish to see their spread.")
    n, mean = len(sizes), float(np.mean(sizes))
    smallest, largest = float(sizes.min()), float(sizes.max())
    sd = float(np.std(sizes, ddof=1)) if n > 1 else float("nan")
    skew = float("nan")
    if n > 2 and largest > smallest:
        skew = float(stats.skew(sizes, bias=False))
    return SizeSpread(
        n_fish=n,
        mean=mean,
        sd=sd,
        cv=sd / mean,
        skew=skew,
        smallest=smallest,
        largest=largest,
        largest_to_smallest=largest / smallest,
        percentile_10=float(np.percentile(sizes, 10)),
    )


def fit_length_weight(
    lengths: ArrayLike, weights: ArrayLike, *, conf_level: float = 0.95
) -> LengthWeight:
    """Fit log weight on log length.

    Parameters
    ----------
    lengths, weights : array_like, shape (fish,)
        Length and weight of each fish.
    conf_level : float
        Level of the interval of the exponent.

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
    x = np.log(_above_zero(lengths, "length"))
    y = np.log(_above_zero(weights, "weight"))
    if len(x) != len(y):
        raise FitError(f"There are {len(x)} lengths and {len(y)} weights", todo="Pair them.")
    if len(x) < 3 or np.ptp(x) == 0:
        raise FitError(
            f"{len(x)} fish of {len(np.unique(x))} different lengths give no length-weight line",
            todo="Weigh at least three fish of different lengths.",
        )
    line = stats.linregress(x, y)
    df = len(x) - 2
    half = float(stats.t.ppf(0.5 + conf_level / 2.0, df)) * float(line.stderr)
    exponent = float(line.slope)
    return LengthWeight(
        intercept=float(line.intercept),
        exponent=exponent,
        std_error=float(line.stderr),
        conf_low=exponent - half,
        conf_high=exponent + half,
        conf_level=conf_level,
        df=df,
        r_squared=float(line.rvalue) ** 2,
        unusual=not USUAL_EXPONENTS[0] <= exponent <= USUAL_EXPONENTS[1],
    )


def condition_factor(weight_g: ArrayLike, length_cm: ArrayLike) -> Floats:
    """Give Fulton's condition factor of each fish of a narrow range of lengths.

    Parameters
    ----------
    weight_g, length_cm : array_like, shape (fish,)
        Weight in g and length in cm.

    Returns
    -------
    ndarray
        ``100 weight / length**3``.

    Raises
    ------
    FitError
        If the longest fish is more than a quarter longer than the shortest: K then compares
        lengths, not condition. Also if a number is not above 0.

    Examples
    --------
    >>> condition_factor([1.0], [4.0]).tolist()
    [1.5625]
    """
    length = _above_zero(length_cm, "length")
    weight = _above_zero(weight_g, "weight")
    if len(length) and length.max() > NARROW_RANGE * length.min():
        raise FitError(
            f"Lengths from {length.min():g} to {length.max():g} are too unequal to compare K",
            todo="Compare fish of about one length, or fit the length-weight line.",
        )
    return 100.0 * weight / length**3


def _above_zero(values: ArrayLike, name: str) -> Floats:
    sizes = np.asarray(values, dtype=float).ravel()
    wrong = ~(sizes > 0) | ~np.isfinite(sizes)
    if wrong.any():
        raise FitError(
            f"A {name} of {sizes[wrong][0]:g} cannot be used", todo=f"A {name} is above 0."
        )
    return sizes
