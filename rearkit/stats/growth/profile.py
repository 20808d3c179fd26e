"""Profile-likelihood intervals for what a fitted growth curve says of one container.

A value belongs to the interval if the best curve that is held to it fits not much worse than the
best curve of all: ``rss(held) <= rss * (1 + F(level; 1, df) / df)``. Such intervals are not
symmetric and may be open: then one end is infinite, which is the answer.

References
----------
Bates, D. M. and Watts, D. G. (1988). Nonlinear Regression Analysis and Its Applications, ch. 6.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rearkit.errors import FitError
from rearkit.stats.curve_fit import fit_many
from rearkit.stats.curves import PARAMETERS
from rearkit.stats.ends_form import SHAPED, free_form, height, length_of
from rearkit.stats.growth_fit import GrowthFit
from rearkit.stats.profile_walk import Profile, find_edge, held_rise

Floats = NDArray[np.float64]

# Turns per sampled span at which a curve is as good as straight.
_NEARLY_STRAIGHT = 1e-4


@dataclass(frozen=True, kw_only=True, eq=False)
class ProfileInterval:
    """A quantity of one container with its profile interval.

    Attributes
    ----------
    estimate : float
        Its value on the best curve.
    conf_low, conf_high : float
        Ends of the interval; infinite where the data set no limit.
    conf_level : float
        Its level.
    """

    estimate: float
    conf_low: float
    conf_high: float
    conf_level: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Asymptote:
    """A final length and whether it may be told.

    Attributes
    ----------
    interval : ProfileInterval
        Estimate and interval.
    share_reached : float
        Fitted length on the last sampled day as a share of the estimate.
    reported : bool
        Whether the interval is finite and the data reach past half of the estimate.
    """

    interval: ProfileInterval
    share_reached: float
    reported: bool


def param_interval(fit: GrowthFit, name: str, *, conf_level: float = 0.95) -> ProfileInterval:
    """Give the profile interval of one usual parameter.

    Parameters
    ----------
    fit : GrowthFit
        A fit with nothing held.
    name : str
        One of ``PARAMETERS[fit.curve]``.
    conf_level : float
        Level of the interval.

    Returns
    -------
    ProfileInterval

    Raises
    ------
    FitError
        If the curve has no such parameter, or one was held.
    """
    if name not in PARAMETERS[fit.curve]:
        known = ", ".join(PARAMETERS[fit.curve])
        raise FitError(f"The curve {fit.curve!r} has no parameter {name!r}", todo=f"Use {known}.")
    if name == "length_at_zero":
        return length_interval(fit, 0.0, conf_level=conf_level)
    span = fit.last_day - fit.first_day
    estimate = fit.param(name)
    if name == "asymptote":
        return _asymptote_interval(fit, conf_level)
    if name in ("inflection_day", "zero_day"):
        profile = _profile(fit, "turn", conf_level)
        open_up = name == "inflection_day" and _open_at_limit(fit, profile)
        ends = _both_ends(profile, (estimate - fit.first_day) / span, open_up=open_up)
        return _interval(estimate, [fit.first_day + end * span for end in ends], conf_level)
    if fit.curve == "line":
        scale = fit.data.means.max()
        ends = _both_ends(_profile(fit, "rise", conf_level), estimate * span / scale)
        return _interval(estimate, [end * scale / span for end in ends], conf_level)
    if fit.curve == "exponential":
        ends = _both_ends(_profile(fit, "ratio", conf_level), estimate * span)
        return _interval(estimate, [end / span for end in ends], conf_level)
    return _rate_interval(fit, conf_level)


def length_interval(fit: GrowthFit, day: float, *, conf_level: float = 0.95) -> ProfileInterval:
    """Give the profile interval of the curve's length on a day.

    Parameters
    ----------
    fit : GrowthFit
        A fit with nothing held.
    day : float
        The day.
    conf_level : float
        Level of the interval.

    Returns
    -------
    ProfileInterval
    """
    estimate = float(fit.length_at(day))
    u = (day - fit.first_day) / (fit.last_day - fit.first_day)
    profile = _profile(fit, "height", conf_level, at=(u,))
    link, scale = profile.form.link, fit.data.means.max()
    start = float(height(link, np.array(estimate / scale)))
    ends = [float(length_of(link, np.array(end))) for end in _both_ends(profile, start)]
    return _interval(estimate, [end * scale for end in ends], conf_level)


def day_interval(fit: GrowthFit, length: float, *, conf_level: float = 0.95) -> ProfileInterval:
    """Give the profile interval of the day on which the curve reaches a length.

    Parameters
    ----------
    fit : GrowthFit
        A fit with nothing held.
    length : float
        The length.
    conf_level : float
        Level of the interval.

    Returns
    -------
    ProfileInterval
        All nan if the best curve never has that length.
    """
    estimate = float(fit.day_reached(length))
    span = fit.last_day - fit.first_day
    scaled = np.array(length / fit.data.means.max())
    at = float(height(free_form(fit.curve, 1).link, scaled)) if length > 0 else float("nan")
    profile = _profile(fit, "day", conf_level, at=(at,))
    ends = _both_ends(profile, (estimate - fit.first_day) / span)
    return _interval(estimate, [fit.first_day + end * span for end in ends], conf_level)


def growth_rate_interval(
    fit: GrowthFit, from_day: float, to_day: float, *, conf_level: float = 0.95
) -> ProfileInterval:
    """Give the profile interval of the specific growth rate between two days, in % a day.

    Parameters
    ----------
    fit : GrowthFit
        A fit with nothing held.
    from_day, to_day : float
        The days, in order.
    conf_level : float
        Level of the interval.

    Returns
    -------
    ProfileInterval
    """
    estimate = fit.growth_rate(from_day, to_day)
    span = fit.last_day - fit.first_day
    knots = ((from_day - fit.first_day) / span, (to_day - fit.first_day) / span)
    profile = _profile(fit, "ratio", conf_level, at=knots)
    per = 100.0 / (to_day - from_day)
    return _interval(
        estimate, [end * per for end in _both_ends(profile, estimate / per)], conf_level
    )


def asymptote_of(fit: GrowthFit, *, conf_level: float = 0.95) -> Asymptote:
    """Give the final length of a fitted curve and whether it may be told at all.

    Parameters
    ----------
    fit : GrowthFit
        A logistic, Gompertz or von Bertalanffy fit with nothing held.
    conf_level : float
        Level of the interval.

    Returns
    -------
    Asymptote
        ``reported`` only if the profile interval is finite and the fitted length on the last
        sampled day is more than half of the estimate.

    Raises
    ------
    FitError
        If the curve has no asymptote.

    Notes
    -----
    Fry hardly ever show their final length: with the last mean at 26 % of it, 85 of 100 simulated
    fits had no upper limit, and a wrong curve gives tight false ones.
    """
    interval = param_interval(fit, "asymptote", conf_level=conf_level)
    share = float(fit.length_at(fit.last_day)) / interval.estimate
    finite = np.isfinite(interval.conf_low) and np.isfinite(interval.conf_high)
    return Asymptote(interval=interval, share_reached=share, reported=bool(finite and share > 0.5))


def _rate_interval(fit: GrowthFit, conf_level: float) -> ProfileInterval:
    """Walk the log of the rate; a rate of 0 belongs to the curve without an asymptote."""
    profile = _profile(fit, "rate", conf_level)
    span = fit.last_day - fit.first_day
    rate = fit.param("rate_per_day")
    start = float(np.log(max(rate * span, _NEARLY_STRAIGHT))) if rate >= 0 else float("nan")
    open_down = rate == 0.0 or (fit.curve != "logistic" and _open_at_limit(fit, profile))
    ends = _both_ends(profile, start, open_down=open_down)
    return _interval(rate, [_exp(end) / span for end in ends], conf_level)


def _asymptote_interval(fit: GrowthFit, conf_level: float) -> ProfileInterval:
    """Walk the asymptote on the curve's own scale, from far away if the best one is infinite."""
    profile = _profile(fit, "asymptote", conf_level)
    link, scale = profile.form.link, fit.data.means.max()
    estimate = fit.param("asymptote")
    open_up = _open_at_limit(fit, profile)
    if np.isinf(estimate):
        ends = [find_edge(profile, _far_asymptote(fit), -1.0), np.inf]
    else:
        start = float(height(link, np.array(estimate / scale)))
        ends = _both_ends(profile, start, open_up=open_up)
    values = [end if link == "identity" else _exp(end) for end in ends]
    return _interval(estimate, [value * scale for value in values], conf_level)


def _far_asymptote(fit: GrowthFit) -> float:
    """Give an asymptote so far away that the curve is at its limit within the data."""
    return float(fit.theta[1]) + 1e6 if fit.curve != "logistic" else float(fit.theta[1]) + 25.0


def _profile(
    fit: GrowthFit, kind: str, conf_level: float, *, at: tuple[float, ...] = ()
) -> Profile:
    """Set up the walk along one quantity."""
    if fit.held is not None:
        raise FitError(
            f"{fit.held[0]} was held at {fit.held[1]:g}, so the interval would be too short",
            todo="Fit the curve with nothing held.",
        )
    return Profile.of(fit, kind, at, held_rise(fit, conf_level))


def _open_at_limit(fit: GrowthFit, profile: Profile) -> bool:
    """Say whether the curve without a finite asymptote still fits well enough."""
    if fit.curve not in SHAPED or fit.problem:
        return False
    limit = "line" if fit.curve == "von_bertalanffy" else "exponential"
    return fit_many(limit, [fit.data])[0].rss <= profile.most_rss


def _both_ends(
    profile: Profile, start: float, *, open_down: bool = False, open_up: bool = False
) -> list[float]:
    """Find both ends of an interval in scaled units."""
    if not np.isfinite(start):
        return [np.nan, np.nan]
    low = -np.inf if open_down else find_edge(profile, start, -1.0)
    high = np.inf if open_up else find_edge(profile, start, 1.0)
    return [low, high]


def _interval(estimate: float, ends: list[float], conf_level: float) -> ProfileInterval:
    return ProfileInterval(
        estimate=estimate,
        conf_low=float(ends[0]),
        conf_high=float(ends[1]),
        conf_level=conf_level,
    )


def _exp(value: float) -> float:
    return float("inf") if value >= 700.0 else float(np.exp(value))
