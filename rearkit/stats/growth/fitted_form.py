"""The well-conditioned form in which curves are fitted, for many series at once.

Lengths are scaled by their largest mean and days by the sampled span, so a series runs from 0 to
1. A curve is then three numbers: its height at two knots (for a start the first and last sampled
day) on its own scale, and a shape that is 0 where the asymptote lies at infinity. A short series
of fry says little about an asymptote but much about its ends. With the shape at 0 the von
Bertalanffy curve is a straight line, the others are exponential. A shape of 0 thus is the one
bound of every fit, and nothing overflows near it.

A *hold* fixes one quantity (an asymptote, the length on a day) and leaves one parameter fewer;
:func:`expand` does the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rearkit.stats.growth.curves import Curve, Ends
from rearkit.stats.growth.daily_means import DailyMeans

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

_NEAR_STRAIGHT = 1e-3
_FAR = 100.0
_TINY = 1e-300
# At this many turns between two sampled days a curve is a step as far as the data can tell.
_TURNS_A_STEP = 12.0
_MOST_TURNS = 250.0
# Rates per sampled span that are tried for a first guess: from nearly straight to all growth
# within a fortieth of the span.
_RATES = (0.05, 0.3, 0.7, 1.5, 2.5, 4.0, 6.0, 9.0, 14.0, 22.0, 40.0)
_LEAST_SHAPE = 0.02


@dataclass(frozen=True, kw_only=True, eq=False)
class Batch:
    """Scaled daily means, padded with days of no weight to a common number.

    Attributes
    ----------
    u, lengths, weights : ndarray, shape (series, days)
        Days in sampled spans from the first, means over their largest, fish over all fish.
    first_day, span, scale, fish : ndarray, shape (series,)
        What undoes the scaling.
    most_shape : ndarray, shape (series,)
        Upper bound of the shape.
    """

    u: Floats
    lengths: Floats
    weights: Floats
    first_day: Floats
    span: Floats
    scale: Floats
    fish: Floats
    most_shape: Floats

    @property
    def days(self) -> Floats:
        """The days as they were, shape (series, days)."""
        return self.first_day[:, None] + self.u * self.span[:, None]

    def repeated(self, times: int) -> Batch:
        """Lay a batch of one series side by side with itself."""
        rows = np.zeros(times, dtype=np.intp)
        return Batch(**{name: value[rows] for name, value in vars(self).items()})


def make_batch(data: Sequence[DailyMeans]) -> Batch:
    """Lay series of two days or more side by side.

    Parameters
    ----------
    data : sequence of DailyMeans
        The series.

    Returns
    -------
    Batch
    """
    shape = (len(data), max(series.n_days for series in data))
    u, lengths, weights = np.zeros(shape), np.ones(shape), np.zeros(shape)
    first = np.array([series.days[0] for series in data])
    span = np.array([series.days[-1] for series in data]) - first
    scale = np.array([series.means.max() for series in data])
    fish = np.array([series.n_fish.sum() for series in data])
    closest = np.empty(len(data))
    for row, series in enumerate(data):
        days = (series.days - first[row]) / span[row]
        u[row, : series.n_days] = days
        lengths[row, : series.n_days] = series.means / scale[row]
        weights[row, : series.n_days] = series.n_fish / fish[row]
        closest[row] = np.diff(days).min()
    return Batch(
        u=u,
        lengths=lengths,
        weights=weights,
        first_day=first,
        span=span,
        scale=scale,
        fish=fish,
        most_shape=np.minimum(_TURNS_A_STEP / closest, _MOST_TURNS),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Form:
    """How a batch of curves is written down while it is fitted.

    Attributes
    ----------
    curve : Curve
        The curve.
    knot_a, knot_b : ndarray, shape (series,)
        Where the two heights are taken, in spans from the first sampled day.
    hold : str
        What is held: "" (nothing), "point" (the height at the first knot), "asymptote" (its
        height; the knots are the ends) or "straight" (the shape, at 0).
    value : ndarray, shape (series,)
        The height that is held.
    """

    curve: Curve
    knot_a: Floats
    knot_b: Floats
    hold: str = ""
    value: Floats

    @property
    def free_rows(self) -> tuple[int, ...]:
        """Which of the two heights (0, 1) and the shape (2) are free."""
        heights = (1,) if self.hold == "point" else (0, 1)
        shaped = self.curve.levels_off and self.hold not in ("asymptote", "straight")
        return (*heights, 2) if shaped else heights

    def rows(self, rows: Rows) -> Form:
        """Keep some of the series."""
        return Form(
            curve=self.curve,
            knot_a=self.knot_a[rows],
            knot_b=self.knot_b[rows],
            hold=self.hold,
            value=self.value[rows],
        )


def end_form(curve: Curve, n_series: int, *, hold: str = "", value: Floats | None = None) -> Form:
    """Write curves with knots at their first and last sampled day, with nothing held by default."""
    zero = np.zeros(n_series)
    held = zero if value is None else value
    return Form(curve=curve, knot_a=zero, knot_b=zero + 1.0, hold=hold, value=held)


def evaluate(form: Form, theta: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Give scaled lengths and their slopes by the two heights and the shape.

    Parameters
    ----------
    form : Form
        Curve and knots.
    theta : ndarray, shape (series, 3)
        Heights at the knots, and shape.
    u : ndarray, shape (series, days)
        Days in spans.

    Returns
    -------
    lengths : ndarray, shape (series, days)
    slopes : ndarray, shape (series, days, 3)
    """
    scale = form.curve.scale
    share, by_rate = _progress(u, form, _turns(form, theta))
    lengths, by_a, by_b, by_share = scale.between(theta[:, :1], theta[:, 1:2], share)
    by_shape = by_share * by_rate
    by_lean = scale.lean * by_shape / (form.knot_b - form.knot_a)[:, None]
    return lengths, np.stack([by_a - by_lean, by_b + by_lean, by_shape], axis=-1)


def _turns(form: Form, theta: Floats) -> Floats:
    """Give the rate per sampled span of each series, from heights and shape."""
    rise = (theta[..., 1] - theta[..., 0]) / (form.knot_b - form.knot_a)
    return theta[..., 2] + form.curve.scale.lean * rise


def _progress(u: Floats, form: Form, rate: Floats) -> tuple[Floats, Floats]:
    """Give how far each day lies on the way between the knots, and its slope by the rate.

    That is ``(1 - exp(-rate (u - a))) / (1 - exp(-rate (b - a)))``, by its series where the rate
    is nearly 0.
    """
    width = (form.knot_b - form.knot_a)[:, None]
    x = (u - form.knot_a[:, None]) / width
    t = rate[:, None] * width
    straight = np.abs(t) < _NEAR_STRAIGHT
    safe = np.where(straight, 1.0, t)
    below = np.expm1(np.clip(-safe, -_FAR, _FAR))
    above = np.expm1(np.clip(-safe * x, -_FAR, _FAR))
    share = above / below
    slope = (share * (below + 1.0) - x * (above + 1.0)) / below
    bow = x * (1.0 - x)
    near = np.where(straight, t, 0.0)
    near_share = x + bow * near * (0.5 + near * (1.0 - 2.0 * x) / 12.0 - near**2 * bow / 24.0)
    near_slope = bow * (0.5 + near * (1.0 - 2.0 * x) / 6.0 - near**2 * bow / 8.0)
    return np.where(straight, near_share, share), np.where(straight, near_slope, slope) * width


def day_of(form: Form, theta: Floats, heights: Floats) -> Floats:
    """Give the day, in spans, on which one curve has each height; nan where it never has.

    Parameters
    ----------
    form : Form
        A form of one series.
    theta : ndarray, shape (1, 3)
        Its heights and shape.
    heights : ndarray
        Heights asked for.

    Returns
    -------
    ndarray
        Shaped like ``heights``.
    """
    a, b = float(theta[0, 0]), float(theta[0, 1])
    if a == b:
        return np.full(heights.shape, np.nan)
    share = form.curve.scale.share(a, b, heights)
    width = float(form.knot_b[0] - form.knot_a[0])
    t = float(_turns(form, theta)[0]) * width
    inside = share * np.expm1(-t)
    reached = np.where(inside > -1.0, inside, np.nan)
    x = share if t == 0 else -np.log1p(reached) / t
    return float(form.knot_a[0]) + width * x


def expand(form: Form, phi: Floats) -> tuple[Floats, Floats]:
    """Give heights and shape from the parameters left free by the hold, with the slopes.

    Parameters
    ----------
    form : Form
        Curve, knots and hold.
    phi : ndarray, shape (series, free)
        Free parameters: those of heights and shape that ``form.free_rows`` names.

    Returns
    -------
    theta : ndarray, shape (series, 3)
    slopes : ndarray, shape (series, 3, free)
    """
    n_series, n_free = phi.shape
    theta = np.zeros((n_series, 3))
    slopes = np.zeros((n_series, 3, n_free))
    for column, row in enumerate(form.free_rows):
        theta[:, row] = phi[:, column]
        slopes[:, row, column] = 1.0
    if form.hold == "point":
        theta[:, 0] = form.value
    elif form.hold == "asymptote":
        left_a, by_a = form.curve.scale.to_go(theta[:, 0], form.value)
        left_b, by_b = form.curve.scale.to_go(theta[:, 1], form.value)
        theta[:, 2] = np.log(left_a / left_b)
        slopes[:, 2] = np.stack([by_a / left_a, -by_b / left_b], axis=-1)
    return theta, slopes


def free_part(form: Form, theta: Floats) -> Floats:
    """Pick the free parameters, shape (series, free), out of heights and shape."""
    return theta[:, form.free_rows]


def bounds(form: Form, batch: Batch) -> tuple[Floats, Floats]:
    """Give the bounds of the free parameters.

    Parameters
    ----------
    form : Form
        The curves and what is held.
    batch : Batch
        The scaled means.

    Returns
    -------
    lower, upper : ndarray, shape (series, free)
        A shape, a first height, and heights under a held asymptote are bounded.
    """
    upper = np.full((len(form.value), len(form.free_rows)), np.inf)
    lower = -upper
    if form.hold != "point":
        lower[:, 0] = form.curve.scale.least_height
    if form.hold == "asymptote":
        upper[:] = form.value[:, None] - 1e-9
    if 2 in form.free_rows:
        lower[:, -1], upper[:, -1] = 0.0, batch.most_shape
    return lower, upper


def usual_params(curve: Curve, batch: Batch, theta: Floats) -> Floats:
    """Give the usual parameters of every series.

    Parameters
    ----------
    curve : Curve
        The curve.
    batch : Batch
        The scaling.
    theta : ndarray, shape (series, 3)
        Heights at the first and last day, and shape.

    Returns
    -------
    ndarray, shape (series, parameters)
    """
    lengths = curve.scale.length(theta[:, :2]) * batch.scale[:, None]
    rows = zip(*lengths.T, theta[:, 2], batch.first_day, batch.span, strict=True)
    return np.array(
        [
            curve.usual(Ends(first=first, last=last, shape=shape, first_day=day, span=span))
            for first, last, shape, day, span in rows
        ]
    )


def starting_values(form: Form, batch: Batch) -> Floats:
    """Give one or two first guesses of the free parameters of every series.

    Parameters
    ----------
    form : Form
        The curves, with nothing held or an asymptote.
    batch : Batch
        The scaled means.

    Returns
    -------
    ndarray, shape (guesses, series, free)

    Notes
    -----
    For a given rate the two heights follow from a weighted straight line on the curve's own
    scale, in closed form. Of a range of rates, that with the smallest sum of squares on the
    scale of lengths is taken, and the next best that has worse ones on both sides.
    """
    guesses = [_guess(form, rate, batch) for rate in _RATES]
    if not form.curve.levels_off:
        return guesses[0][None]
    misfits = []
    for guess in guesses:
        fitted, _ = evaluate(form, expand(form, guess)[0], batch.u)
        misfits.append(np.sum(batch.weights * (fitted - batch.lengths) ** 2, axis=-1))
    best = _two_valleys(np.stack(misfits))
    return np.stack(guesses)[best, np.arange(len(batch.u))]


def _two_valleys(misfits: Floats) -> Rows:
    """Pick the deepest and the next valley along the first axis (the same one if it is alone)."""
    beyond = np.full((1, misfits.shape[1]), np.inf)
    padded = np.concatenate([beyond, misfits, beyond])
    valley = (padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:])
    depth = np.where(valley, misfits, np.inf)
    order = np.argsort(depth, axis=0, kind="stable")[:2]
    alone = ~np.isfinite(np.take_along_axis(depth, order[1:], axis=0))
    return np.concatenate([order[:1], np.where(alone, order[:1], order[1:])])


def _guess(form: Form, rate: float, batch: Batch) -> Floats:
    """Guess all free parameters at one rate per span."""
    scale = form.curve.scale
    first, last = _ends_at(form.curve, rate, batch)
    if form.hold == "asymptote":
        gap = scale.least_gap(form.value)
        last = np.minimum(last, form.value - gap)
        return np.stack([np.minimum(first, last - gap), last], axis=-1)
    leaning = np.maximum(rate - scale.lean * (last - first), _LEAST_SHAPE)
    return free_part(form, np.stack([first, last, leaning], axis=-1))


def _ends_at(curve: Curve, rate: float, batch: Batch) -> tuple[Floats, Floats]:
    """Give the heights at the two ends that fit best at one rate, on the curve's own scale."""
    share = batch.u
    if curve.levels_off:
        share = -np.expm1(-rate * batch.u) / -np.expm1(-rate)
    values, factor = curve.scale.straightened(batch.lengths)
    weights = batch.weights * factor
    total = np.sum(weights, axis=-1)
    middle = np.sum(weights * share, axis=-1) / total
    centre = np.sum(weights * values, axis=-1) / total
    offset = share - middle[:, None]
    spread = np.maximum(np.sum(weights * offset**2, axis=-1), _TINY)
    slope = np.sum(weights * offset * values, axis=-1) / spread
    ends = centre - slope * middle, centre + slope * (1.0 - middle)
    first, last = (curve.scale.height_of_straightened(end) for end in ends)
    return first, last
