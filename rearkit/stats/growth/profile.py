"""Profile-likelihood intervals for what a fitted growth curve says of one container.

A value belongs to the interval if the best curve that is held to it fits not much worse than the
best curve of all: ``rss(held) <= rss * (1 + F(level; 1, df) / df)``. Such intervals are not
symmetric and may be open: then one end is infinite, which is the answer. The ends are found by
walking outwards from the best curve: every step is a fit with the quantity held, started from
the fit of the step before.

References
----------
Bates, D. M. and Watts, D. G. (1988). Nonlinear Regression Analysis and Its Applications, ch. 6.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from rearkit.errors import FitError
from rearkit.stats.growth.curve_fit import GrowthFit, solve
from rearkit.stats.growth.curves import CURVES
from rearkit.stats.growth.fitted_form import (
    Batch,
    Form,
    end_form,
    evaluate,
    expand,
    free_part,
    make_batch,
)

Floats = NDArray[np.float64]

FULL_GROWN = 0.8  # a final length is told if the largest mean is this share of its upper end
_FIRST_STEP = 0.02
_DOUBLINGS = 45
_SECTIONS = 24
_NARROW = 1e-10


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
        The largest measured mean as a share of the upper end of the interval.
    reported : bool
        Whether that is four fifths or more.
    """

    interval: ProfileInterval
    share_reached: float
    reported: bool


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

    Raises
    ------
    FitError
        If the asymptote was held.
    """
    _refuse_held(fit)
    estimate, low, high = float(fit.day_reached(length)), float("nan"), float("nan")
    if np.isfinite(estimate):
        scaled = length / fit.data.means.max()
        walk = _Walk.of(fit, conf_level, height=float(CURVES[fit.curve].scale.height(scaled)))
        span = fit.last_day - fit.first_day
        start = (estimate - fit.first_day) / span
        low, high = (fit.first_day + span * _edge(walk, start, way) for way in (-1.0, 1.0))
    return ProfileInterval(estimate=estimate, conf_low=low, conf_high=high, conf_level=conf_level)


def asymptote_of(fit: GrowthFit, *, conf_level: float = 0.95) -> Asymptote:
    """Give the final length of a fitted curve and whether it may be told at all.

    Parameters
    ----------
    fit : GrowthFit
        A fit with nothing held of a curve that levels off.
    conf_level : float
        Level of the interval.

    Returns
    -------
    Asymptote
        ``reported`` only if the largest measured mean has reached four fifths of the upper end of
        the profile interval.

    Raises
    ------
    FitError
        If the curve has no asymptote, or it was held.

    Notes
    -----
    Fry hardly ever show their final length: with the last mean at 26 % of it, 85 of 100 simulated
    fits had no upper limit, and a wrong curve gives tight false ones. The asymptote is walked on
    the curve's own scale, from far away if the best one is infinite; where the curve without one
    still fits well enough, the interval is open.
    """
    _refuse_held(fit)
    curve = CURVES[fit.curve]
    if not curve.levels_off:
        raise FitError(f"The curve {fit.curve!r} has no asymptote", todo="Use one that levels off.")
    estimate, low, high = fit.params[0], float("nan"), float("nan")
    walk, largest = _Walk.of(fit, conf_level), float(fit.data.means.max())
    if np.isinf(estimate):
        low = _edge(walk, float(fit.theta[1]) + curve.scale.far_above, -1.0)
        high = float("inf")
    elif np.isfinite(estimate):
        start = float(curve.scale.height(estimate / largest))
        low = _edge(walk, start, -1.0)
        high = float("inf") if walk.holds_straight() else _edge(walk, start, 1.0)
    interval = ProfileInterval(
        estimate=estimate,
        conf_low=curve.scale.top_length(low) * largest,
        conf_high=curve.scale.top_length(high) * largest,
        conf_level=conf_level,
    )
    share = largest / interval.conf_high
    told = bool(np.isfinite(interval.conf_low) and share >= FULL_GROWN)
    return Asymptote(interval=interval, share_reached=share, reported=told)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Walk:
    """One quantity of one fit, ready to be held at any value.

    The quantity is the day, in spans, of the height ``height``; or, where that is None, the
    height of the asymptote. ``form`` and ``theta``, of one series, are the fit itself, ``batch``
    its scaled means, ``within_ss`` the squares that no curve can change, ``most_rss`` the sum of
    squares up to which a value belongs to the interval.
    """

    form: Form
    theta: Floats
    batch: Batch
    height: float | None
    within_ss: float
    most_rss: float

    @classmethod
    def of(cls, fit: GrowthFit, conf_level: float, *, height: float | None = None) -> _Walk:
        """Set up the walk; without degrees of freedom nothing is excluded."""
        most = float("inf")
        if fit.df > 0:
            most = fit.rss * (1.0 + float(stats.f.ppf(conf_level, 1, fit.df)) / fit.df)
        return cls(
            form=end_form(CURVES[fit.curve], 1),
            theta=fit.theta[None, :],
            batch=make_batch([fit.data]),
            height=height,
            within_ss=fit.data.within_ss,
            most_rss=most,
        )

    def held(self, values: Floats) -> Form:
        """Write the curve with the quantity held at each of some values."""
        if self.height is None:
            return end_form(self.form.curve, len(values), hold="asymptote", value=values)
        return Form(
            curve=self.form.curve,
            knot_a=values,
            knot_b=np.where(values < 0.5, 1.0, 0.0),
            hold="point",
            value=np.full(len(values), self.height),
        )

    def holds_straight(self) -> bool:
        """Say whether the curve without a finite asymptote still fits well enough."""
        rss, _ = self.fit(end_form(self.form.curve, 1, hold="straight"), (self.form, self.theta))
        return bool(rss[0] <= self.most_rss)

    def fit(self, form: Form, near: tuple[Form, Floats]) -> tuple[Floats, Floats]:
        """Fit held curves, from a solved neighbour.

        Parameters
        ----------
        form : Form
            The held curves.
        near : (Form, ndarray of shape (1, 3))
            Form and heights and shape of a curve near by.

        Returns
        -------
        rss : ndarray, shape (values,)
        theta : ndarray, shape (values, 3)
        """
        n_values = len(form.value)
        solved = solve(form, self.batch.repeated(n_values), _reknotted(form, *near))
        rss = solved.rss * self.batch.scale[0] ** 2 * self.batch.fish[0] + self.within_ss
        return rss, expand(form, solved.values)[0]


def _reknotted(form: Form, near_form: Form, near_theta: Floats) -> Floats:
    """Give the first guess for held curves from one solved curve: the same, at other knots."""
    knots = np.stack([form.knot_a, form.knot_b], axis=-1)
    lengths, _ = evaluate(near_form, near_theta, knots.reshape(1, -1))
    theta = np.empty((len(knots), 3))
    theta[:, :2] = form.curve.scale.height(lengths).reshape(-1, 2)
    theta[:, 2] = near_theta[0, 2]
    if form.hold == "asymptote":
        below = form.value - 0.02 * np.abs(form.value - theta[:, 0])
        theta[:, 1] = np.minimum(theta[:, 1], below)
        theta[:, 0] = np.minimum(theta[:, 0], theta[:, 1])
    return free_part(form, theta)


def _edge(walk: _Walk, start: float, direction: float) -> float:
    """Find where the fit becomes too bad, going up (1) or down (-1) from the best value.

    Infinite if it never does.
    """
    beyond = float("inf") * direction
    if not np.isfinite(walk.most_rss):
        return beyond
    inside, near = start, (walk.form, walk.theta)
    step = _FIRST_STEP
    for _ in range(_DOUBLINGS):
        outside = start + direction * step
        form = walk.held(np.array([outside]))
        rss, theta = walk.fit(form, near)
        if not rss[0] <= walk.most_rss:
            return _narrowed(walk, inside, outside, near)
        inside, near = outside, (form, theta)
        step *= 2.0
    return beyond


def _narrowed(walk: _Walk, inside: float, outside: float, near: tuple[Form, Floats]) -> float:
    """Cut the stretch that holds the edge into sections until it is narrow."""
    while abs(outside - inside) > _NARROW * (abs(inside) + abs(outside) + 1e-3):
        values = np.linspace(inside, outside, _SECTIONS + 2)[1:-1]
        form = walk.held(values)
        rss, theta = walk.fit(form, near)
        within = rss <= walk.most_rss
        last = int(np.argmin(within)) if not within.all() else len(values)
        if last < len(values):
            outside = float(values[last])
        if last > 0:
            rows = np.array([last - 1])
            inside, near = float(values[last - 1]), (form.rows(rows), theta[rows])
    return 0.5 * (inside + outside)


def _refuse_held(fit: GrowthFit) -> None:
    if fit.held_asymptote is not None:
        raise FitError(
            f"The asymptote was held at {fit.held_asymptote:g}, so the interval would be too short",
            todo="Fit the curve with nothing held.",
        )
