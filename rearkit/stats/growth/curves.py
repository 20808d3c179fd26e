"""The growth curves, one object each: its formula, its parameters, and the scale it is fitted on.

Between two days a curve runs, on its own scale, either straight or in an exponential approach
to its asymptote:

=================  ==============  ==========================================================
curve              scale           usual parameters
=================  ==============  ==========================================================
line               length          length_at_zero, gain_per_day
exponential        log length      length_at_zero, rate_per_day
von_bertalanffy    length          asymptote, rate_per_day, zero_day
gompertz           log length      asymptote, rate_per_day, inflection_day
logistic           1 / length      asymptote, rate_per_day, inflection_day
=================  ==============  ==========================================================

The formula of a curve is written twice, in two ways that tests hold against each other: by its
usual parameters here, and by its scale in :mod:`rearkit.stats.growth.fitted_form`, where it is
fitted. A new curve is one more :class:`Curve` in :data:`CURVES`; starting values, limits, fits
and intervals follow from its scale.

References
----------
Ratkowsky, D. A. (1983). Nonlinear Regression Modeling. Marcel Dekker.
Ricker, W. E. (1979). Growth rates and models. In Fish Physiology, vol. 8. Academic Press.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.errors import FitError

Floats = NDArray[np.float64]
Params = Sequence[float] | Sequence[Floats]

# Exponents beyond this are cut off: the curve has long reached its limit by then.
_FAR = 600.0
# The same for lengths in parts of the largest mean, which are squared on the way.
_FAR_HEIGHT = 100.0
_FARTHEST_TOP = 700.0
_NO_LENGTH = 1e-12


class Scale:
    """Plain lengths, on which a curve is straight or approaches its asymptote exponentially.

    What a curve is fitted by are its *heights* at two days: on this scale the lengths, on the
    others their logs. Lengths are parts of the largest mean.
    """

    #: What the rise between two days adds to the rate of the approach, besides the shape.
    lean = 0.0
    #: Least height on the first day.
    least_height = -np.inf
    #: So far above the last height, an asymptote is as good as at infinity.
    far_above = 1e6

    def height(self, lengths: ArrayLike) -> Floats:
        """Turn lengths into heights."""
        return np.asarray(lengths, dtype=float)

    def length(self, heights: ArrayLike) -> Floats:
        """Turn heights back into lengths."""
        return np.asarray(heights, dtype=float)

    def top_length(self, height: float) -> float:
        """Give the length of an asymptote; infinite where it is too far up for a number."""
        return height

    def between(self, a: Floats, b: Floats, share: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Give the length at some share of the way from height a to height b, and its slopes.

        Parameters
        ----------
        a, b : ndarray, shape (series, 1)
            The two heights.
        share : ndarray, shape (series, days)
            Shares of the way, on this scale.

        Returns
        -------
        length, by_a, by_b, by_share : ndarray, shape (series, days)
        """
        return a + (b - a) * share, 1.0 - share, share, (b - a) + 0.0 * share

    def share(self, a: float, b: float, heights: Floats) -> Floats:
        """Give the share of the way from height a to height b at which each height lies."""
        return (heights - a) / (b - a)

    def to_go(self, heights: Floats, top: Floats) -> tuple[Floats, Floats]:
        """Give what is still to go from each height to the asymptote, and its slope by height."""
        return np.maximum(top - heights, _NO_LENGTH), np.full(len(heights), -1.0)

    def least_gap(self, top: Floats) -> Floats:
        """Give how far below a held asymptote the first guess of the last height stays."""
        return 0.02 * np.abs(top)

    def straightened(self, lengths: Floats) -> tuple[Floats, Floats]:
        """Give lengths on this scale, and the factor of their weights there."""
        return lengths, np.ones_like(lengths)

    def height_of_straightened(self, values: Floats) -> Floats:
        """Turn values on this scale into heights."""
        return values


class LogScale(Scale):
    """Logs of lengths."""

    least_height = -14.0

    def height(self, lengths: ArrayLike) -> Floats:
        """Turn lengths into heights, their logs."""
        return np.log(np.asarray(lengths, dtype=float))

    def length(self, heights: ArrayLike) -> Floats:
        """Turn heights back into lengths."""
        return np.exp(np.clip(np.asarray(heights, dtype=float), -_FAR_HEIGHT, _FAR_HEIGHT))

    def top_length(self, height: float) -> float:
        """Give the length of an asymptote; infinite where it is too far up for a number."""
        return float("inf") if height >= _FARTHEST_TOP else float(np.exp(height))

    def between(self, a: Floats, b: Floats, share: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Give the length at some share of the way between two heights, and its slopes."""
        height, *slopes = super().between(a, b, share)
        length = self.length(height)
        by_a, by_b, by_share = (length * slope for slope in slopes)
        return length, by_a, by_b, by_share

    def least_gap(self, top: Floats) -> Floats:
        """Give how far below a held asymptote the first guess of the last height stays."""
        return np.full_like(top, 0.02)

    def straightened(self, lengths: Floats) -> tuple[Floats, Floats]:
        """Give the logs of lengths, and the factor of their weights there."""
        return np.log(lengths), lengths**2


class ReciprocalScale(LogScale):
    """One over lengths, though heights are their logs.

    The approach to the asymptote is faster than the growth of the first fish by the shape, so
    that here too a shape of 0 is a curve without an end.
    """

    lean = 1.0
    far_above = 25.0

    def between(self, a: Floats, b: Floats, share: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Give the length at some share of the way between two heights, and its slopes."""
        inverse_a, inverse_b = self.length(-a), self.length(-b)
        rise = inverse_b - inverse_a
        length = 1.0 / np.maximum(inverse_a + rise * share, _NO_LENGTH)
        square = length**2
        return (
            length,
            square * (inverse_a * (1.0 - share)),
            square * (inverse_b * share),
            -square * rise,
        )

    def share(self, a: float, b: float, heights: Floats) -> Floats:
        """Give the share of the way from height a to height b at which each height lies."""
        return np.expm1(a - heights) / np.expm1(a - b)

    def to_go(self, heights: Floats, top: Floats) -> tuple[Floats, Floats]:
        """Give what is still to go from each height to the asymptote, and its slope by height."""
        left = np.maximum(-np.expm1(heights - top), _NO_LENGTH)
        return left, left - 1.0

    def straightened(self, lengths: Floats) -> tuple[Floats, Floats]:
        """Give one over lengths, and the factor of their weights there."""
        return 1.0 / lengths, lengths**4

    def height_of_straightened(self, values: Floats) -> Floats:
        """Turn values on this scale into heights."""
        return -np.log(np.maximum(values, 1e-3))


PLAIN, LOG, RECIPROCAL = Scale(), LogScale(), ReciprocalScale()


@dataclass(frozen=True, kw_only=True, eq=False)
class Ends:
    """One fitted curve, by its ends.

    Attributes
    ----------
    first, last : float
        Lengths on the first and the last sampled day.
    shape : float
        Its shape: 0 if it does not level off.
    first_day, span : float
        The first sampled day, and the days from there to the last.
    """

    first: float
    last: float
    shape: float
    first_day: float
    span: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Curve:
    """One kind of growth curve.

    Attributes
    ----------
    name : str
        Its code.
    parameters : tuple of str
        Its usual parameters, in order; ``asymptote`` comes first in a curve that levels off.
    scale : Scale
        The scale on which it is straight, or approaches its asymptote exponentially.
    length : callable
        ``length(days, params)``: lengths on some days (ndarray) by the usual parameters, which
        may be arrays that broadcast with the days.
    slopes : callable
        ``slopes(days, params)``: slopes of the length by each usual parameter, along a last axis.
    usual : callable
        ``usual(ends)``: the usual parameters of a curve given by its :class:`Ends`. An asymptote
        that lies at no finite length is ``inf``, and its turning day what the limit has; both
        are nan for a mean that does not grow.
    """

    name: str
    parameters: tuple[str, ...]
    scale: Scale
    length: Callable[[Floats, Params], Floats]
    slopes: Callable[[Floats, Params], Floats]
    usual: Callable[[Ends], tuple[float, ...]]

    @property
    def levels_off(self) -> bool:
        """Whether it has an asymptote, and so a shape besides its two heights."""
        return self.parameters[0] == "asymptote"


def _line_length(days: Floats, params: Params) -> Floats:
    return params[0] + params[1] * days


def _line_slopes(days: Floats, params: Params) -> Floats:
    return np.stack([np.ones_like(days), days], axis=-1)


def _line_usual(ends: Ends) -> tuple[float, ...]:
    gain = (ends.last - ends.first) / ends.span
    return ends.first - gain * ends.first_day, gain


LINE = Curve(
    name="line",
    parameters=("length_at_zero", "gain_per_day"),
    scale=PLAIN,
    length=_line_length,
    slopes=_line_slopes,
    usual=_line_usual,
)


def _exponential_length(days: Floats, params: Params) -> Floats:
    return params[0] * _exp(params[1] * days)


def _exponential_slopes(days: Floats, params: Params) -> Floats:
    power = _exp(params[1] * days)
    return np.stack([power, params[0] * days * power], axis=-1)


def _exponential_usual(ends: Ends) -> tuple[float, ...]:
    rate = float(np.log(ends.last / ends.first)) / ends.span
    return ends.first * float(_exp(-rate * ends.first_day)), rate


EXPONENTIAL = Curve(
    name="exponential",
    parameters=("length_at_zero", "rate_per_day"),
    scale=LOG,
    length=_exponential_length,
    slopes=_exponential_slopes,
    usual=_exponential_usual,
)


def _logistic_length(days: Floats, params: Params) -> Floats:
    return params[0] / (1.0 + _decay(days, params))


def _logistic_slopes(days: Floats, params: Params) -> Floats:
    share = 1.0 / (1.0 + _decay(days, params))
    return _levelling_slopes(days, params, share, -share * (1.0 - share))


def _logistic_usual(ends: Ends) -> tuple[float, ...]:
    growth, left = np.log(ends.last / ends.first), -np.expm1(-ends.shape)
    turns = ends.shape + growth
    top = _ratio(ends.last * -np.expm1(-turns), left)
    return _levelling_usual(ends, turns, top, to_go=_ratio(np.expm1(growth), left))


LOGISTIC = Curve(
    name="logistic",
    parameters=("asymptote", "rate_per_day", "inflection_day"),
    scale=RECIPROCAL,
    length=_logistic_length,
    slopes=_logistic_slopes,
    usual=_logistic_usual,
)


def _gompertz_length(days: Floats, params: Params) -> Floats:
    return params[0] * _exp(-_decay(days, params))


def _gompertz_slopes(days: Floats, params: Params) -> Floats:
    decay = _decay(days, params)
    share = _exp(-decay)
    return _levelling_slopes(days, params, share, -share * decay)


def _gompertz_usual(ends: Ends) -> tuple[float, ...]:
    to_go = _ratio(np.log(ends.last / ends.first), -np.expm1(-ends.shape))
    top = ends.first * float(np.exp(to_go)) if to_go < _FAR else float("inf")
    return _levelling_usual(ends, ends.shape, top, to_go=to_go)


GOMPERTZ = Curve(
    name="gompertz",
    parameters=("asymptote", "rate_per_day", "inflection_day"),
    scale=LOG,
    length=_gompertz_length,
    slopes=_gompertz_slopes,
    usual=_gompertz_usual,
)


def _von_bertalanffy_length(days: Floats, params: Params) -> Floats:
    return params[0] * (1.0 - _decay(days, params))


def _von_bertalanffy_slopes(days: Floats, params: Params) -> Floats:
    decay = _decay(days, params)
    return _levelling_slopes(days, params, 1.0 - decay, -decay)


def _von_bertalanffy_usual(ends: Ends) -> tuple[float, ...]:
    rise = ends.last - ends.first
    gap = _ratio(rise, -np.expm1(-ends.shape))
    to_go = gap / (ends.first + gap) if np.isfinite(gap) else 1.0
    straight_zero = ends.first_day - ends.first * ends.span / rise if rise > 0 else float("nan")
    return _levelling_usual(ends, ends.shape, ends.first + gap, to_go=to_go, else_day=straight_zero)


VON_BERTALANFFY = Curve(
    name="von_bertalanffy",
    parameters=("asymptote", "rate_per_day", "zero_day"),
    scale=PLAIN,
    length=_von_bertalanffy_length,
    slopes=_von_bertalanffy_slopes,
    usual=_von_bertalanffy_usual,
)


def _decay(days: Floats, params: Params) -> Floats:
    """Give what is left of the way to the asymptote: 1 on the turning day."""
    return _exp(-params[1] * (days - params[2]))


def _levelling_slopes(days: Floats, params: Params, share: Floats, by_log_decay: Floats) -> Floats:
    """Give the slopes of asymptote * share by asymptote, rate and turning day."""
    log_slope = params[0] * by_log_decay
    return np.stack([share, -(days - params[2]) * log_slope, params[1] * log_slope], axis=-1)


def _levelling_usual(
    ends: Ends, turns: float, top: float, *, to_go: float, else_day: float = float("inf")
) -> tuple[float, ...]:
    """Give asymptote, rate and turning day, from the decay that is to go on the first day."""
    rate = turns / ends.span
    if not ends.last > ends.first:
        return float("nan"), rate, float("nan")
    if np.isfinite(top):
        return top, rate, ends.first_day + float(np.log(to_go)) / rate
    return float("inf"), rate, else_day


def _ratio(above: float, below: float) -> float:
    """Divide, with an infinite answer where the lower number has run out."""
    return float(above / below) if below > 0 else float("inf")


def _exp(values: ArrayLike) -> Floats:
    return np.asarray(np.exp(np.clip(values, -_FAR, _FAR)))


#: Every curve by its name, in the order in which they are shown.
CURVES: Mapping[str, Curve] = MappingProxyType(
    {curve.name: curve for curve in (LINE, EXPONENTIAL, LOGISTIC, GOMPERTZ, VON_BERTALANFFY)}
)
#: Those with an asymptote.
LEVELLING_OFF = tuple(name for name, curve in CURVES.items() if curve.levels_off)


def find_curve(name: str) -> Curve:
    """Give the curve of a name.

    Parameters
    ----------
    name : str
        One of :data:`CURVES`.

    Returns
    -------
    Curve

    Raises
    ------
    FitError
        If there is no such curve.

    Examples
    --------
    >>> find_curve("line").length(np.array([0.0, 10.0]), (5.0, 0.3)).tolist()
    [5.0, 8.0]
    """
    if name not in CURVES:
        *most, last = CURVES
        raise FitError(
            f"There is no growth curve called {name!r}", todo=f"Use {', '.join(most)} or {last}."
        )
    return CURVES[name]
