"""Growth curves as pure functions: length on a day, its slopes, and two forms of parameters.

Five curves share three straightened scales. On its own scale each is a straight line or an
exponential approach to a final value:

=================  ==============  ==========================================================
curve              scale           usual parameters
=================  ==============  ==========================================================
line               length          length_at_zero, gain_per_day
exponential        log length      length_at_zero, rate_per_day
von_bertalanffy    length          asymptote, rate_per_day, zero_day
gompertz           log length      asymptote, rate_per_day, inflection_day
logistic           1 / length      asymptote, rate_per_day, inflection_day
=================  ==============  ==========================================================

A short series of fry says little about an asymptote but much about the length at its first and
last sampled day, so fits are made in the *ends form*: those two lengths and the rate.
:func:`ends_from_params` and :func:`params_from_ends` go between the two.

References
----------
Ratkowsky, D. A. (1983). Nonlinear Regression Modeling. Marcel Dekker.
Ricker, W. E. (1979). Growth rates and models. In Fish Physiology, vol. 8. Academic Press.
"""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.errors import FitError

Floats = NDArray[np.float64]
Params = Sequence[float] | Sequence[Floats]

PARAMETERS = MappingProxyType(
    {
        "line": ("length_at_zero", "gain_per_day"),
        "exponential": ("length_at_zero", "rate_per_day"),
        "logistic": ("asymptote", "rate_per_day", "inflection_day"),
        "gompertz": ("asymptote", "rate_per_day", "inflection_day"),
        "von_bertalanffy": ("asymptote", "rate_per_day", "zero_day"),
    }
)
CURVES = tuple(PARAMETERS)

# Exponents beyond this are cut off: the curve has long reached its limit by then.
_FAR = 600.0


def check_curve(curve: str) -> None:
    """Refuse a curve that nothing here knows.

    Raises
    ------
    FitError
        If ``curve`` is not one of :data:`CURVES`.
    """
    if curve not in PARAMETERS:
        raise FitError(f"There is no growth curve called {curve!r}", todo=f"Use {_names()}.")


def curve_length(curve: str, days: ArrayLike, params: Params) -> Floats:
    """Give the length on each day.

    Parameters
    ----------
    curve : str
        One of :data:`CURVES`.
    days : array_like
        Days, any shape.
    params : sequence of float or ndarray
        The usual parameters, in the order of :data:`PARAMETERS`; arrays broadcast with ``days``.

    Returns
    -------
    ndarray
        Lengths, in the unit of the parameters, shaped like ``days``.

    Examples
    --------
    >>> curve_length("line", [0.0, 10.0], (5.0, 0.3)).tolist()
    [5.0, 8.0]
    """
    check_curve(curve)
    days = np.asarray(days, dtype=float)
    if curve == "line":
        return params[0] + params[1] * days
    if curve == "exponential":
        return params[0] * _exp(params[1] * days)
    asymptote, rate, turn = params
    decay = _exp(-rate * (days - turn))
    if curve == "logistic":
        return asymptote / (1.0 + decay)
    if curve == "gompertz":
        return asymptote * _exp(-decay)
    return asymptote * (1.0 - decay)


def curve_gradient(curve: str, days: ArrayLike, params: Params) -> Floats:
    """Give the slope of the length with respect to each usual parameter.

    Parameters
    ----------
    curve, days, params
        As for :func:`curve_length`.

    Returns
    -------
    ndarray
        Shape ``days.shape + (number of parameters,)``.
    """
    check_curve(curve)
    days = np.asarray(days, dtype=float)
    if curve == "line":
        return np.stack([np.ones_like(days), days], axis=-1)
    if curve == "exponential":
        power = _exp(params[1] * days)
        return np.stack([power, params[0] * days * power], axis=-1)
    asymptote, rate, turn = params
    decay = _exp(-rate * (days - turn))
    if curve == "logistic":
        share = 1.0 / (1.0 + decay)
        by_decay = -share * (1.0 - share)  # the slope by log(decay)
    elif curve == "gompertz":
        share = _exp(-decay)
        by_decay = -share * decay
    else:
        share = 1.0 - decay
        by_decay = -decay
    log_slope = asymptote * by_decay
    return np.stack([share, -(days - turn) * log_slope, rate * log_slope], axis=-1)


def ends_from_params(
    curve: str, params: Sequence[float], first_day: float, last_day: float
) -> tuple[float, float, float]:
    """Turn usual parameters into the length on the first and last day and the rate a day.

    Parameters
    ----------
    curve, params
        As for :func:`curve_length`.
    first_day, last_day : float
        The two days, in order.

    Returns
    -------
    tuple of float
        Length on the first day, length on the last day, rate a day (0 for the line, which has
        none, and for the exponential, whose rate follows from its two lengths).
    """
    first, last = curve_length(curve, [first_day, last_day], params)
    return float(first), float(last), float(params[1]) if len(params) == 3 else 0.0


def params_from_ends(
    curve: str, ends: Sequence[float], first_day: float, last_day: float
) -> tuple[float, ...]:
    """Turn the length on the first and last day and the rate into the usual parameters.

    Parameters
    ----------
    curve : str
        One of :data:`CURVES`.
    ends : sequence of float
        Length on the first day, length on the last day, rate a day.
    first_day, last_day : float
        The two days, in order.

    Returns
    -------
    tuple of float
        The usual parameters. An asymptote that lies at no finite length is ``inf``; a turning
        day that does not exist is nan, and so is the asymptote of a mean that does not grow.

    Examples
    --------
    >>> params_from_ends("line", (5.0, 8.0, 0.0), 0.0, 10.0)
    (5.0, 0.3)
    """
    check_curve(curve)
    first, last, rate = (float(value) for value in ends)
    span = last_day - first_day
    if curve == "line":
        gain = (last - first) / span
        return first - gain * first_day, gain
    if curve == "exponential":
        rate = np.log(last / first) / span
        return first * float(_exp(-rate * first_day)), float(rate)
    if not last > first:
        return np.nan, rate, np.nan
    reach, to_go = _reach(curve, first, last, rate * span)
    if np.isfinite(reach):
        return reach, rate, first_day + float(np.log(to_go)) / rate
    straight_zero = first_day - first * span / (last - first)
    return np.inf, rate, straight_zero if curve == "von_bertalanffy" else np.inf


def _reach(curve: str, first: float, last: float, turns: float) -> tuple[float, float]:
    """Give the asymptote and what is still to go on the first day, as exp(rate * turning day)."""
    closed = -np.expm1(-turns)
    if curve == "von_bertalanffy":
        gap = _ratio(last - first, closed)
        return first + gap, (gap / (first + gap) if gap < np.inf else 1.0)
    log_ratio = np.log(last / first)
    if curve == "gompertz":
        gap = _ratio(log_ratio, closed)
        return (first * np.exp(gap) if gap < _FAR else np.inf), gap
    left = -np.expm1(log_ratio - turns)
    return _ratio(last * closed, left), _ratio(np.expm1(log_ratio), left)


def _ratio(above: float, below: float) -> float:
    """Divide, with an infinite answer where the lower number has run out."""
    return float(above / below) if below > 0 else np.inf


def _exp(values: ArrayLike) -> Floats:
    return np.asarray(np.exp(np.clip(values, -_FAR, _FAR)))


def _names() -> str:
    return ", ".join(CURVES[:-1]) + " or " + CURVES[-1]
