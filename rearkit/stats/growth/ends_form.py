"""The well-conditioned form in which curves are fitted, for many series at once.

Lengths are scaled by their largest mean and days by the sampled span, so a series runs from 0 to
1. A curve is then three numbers: its height at two knots (for a start the first and last sampled
day) on its own scale, and a shape that is 0 where the asymptote lies at infinity. With the shape
at 0 the von Bertalanffy curve is a straight line, the others are exponential. A shape of 0 thus
is the one bound of every fit, and nothing overflows near it.

A *hold* fixes one quantity (a length on a day, a day of a length, an asymptote, ...) and leaves
one parameter fewer. Most need only a knot at the right day; :func:`expand` does the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LINKS = {
    "line": "identity",
    "von_bertalanffy": "identity",
    "exponential": "log",
    "gompertz": "log",
    "logistic": "reciprocal",
}
SHAPED = ("von_bertalanffy", "gompertz", "logistic")

_NEAR_STRAIGHT = 1e-3
_FAR = 100.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Form:
    """How a batch of curves is written down while it is fitted.

    Attributes
    ----------
    curve : str
        The curve.
    knot_a, knot_b : ndarray, shape (series,)
        Where the two heights are taken, in spans from the first sampled day.
    hold : str
        What is held: "" (nothing), "height" (at the first knot), "ratio" (log of the second
        height over the first), "rise" (their difference), "rate", "asymptote" or "turn".
    value : ndarray, shape (series,)
        The value it is held at, in scaled units.
    """

    curve: str
    knot_a: Floats
    knot_b: Floats
    hold: str = ""
    value: Floats

    @property
    def link(self) -> str:
        """The scale on which this curve is straightened."""
        return LINKS[self.curve]

    @property
    def shaped(self) -> bool:
        """Whether the curve has a shape besides its two heights."""
        return self.curve in SHAPED

    def rows(self, rows: NDArray[np.intp]) -> Form:
        """Keep some of the series."""
        return Form(
            curve=self.curve,
            knot_a=self.knot_a[rows],
            knot_b=self.knot_b[rows],
            hold=self.hold,
            value=self.value[rows],
        )


def free_form(curve: str, n_series: int) -> Form:
    """Write curves with knots at their first and last sampled day and nothing held."""
    zero = np.zeros(n_series)
    return Form(curve=curve, knot_a=zero, knot_b=zero + 1.0, value=zero)


def height(link: str, lengths: Floats) -> Floats:
    """Turn scaled lengths into heights, which are logs on all but the plain scale."""
    return lengths if link == "identity" else np.log(lengths)


def length_of(link: str, heights: Floats) -> Floats:
    """Turn heights back into scaled lengths."""
    return heights if link == "identity" else np.exp(np.clip(heights, -_FAR, _FAR))


def turns(form: Form, theta: Floats) -> Floats:
    """Give the rate per sampled span of each series, from heights and shape."""
    if form.link != "reciprocal":
        return theta[..., 2]
    return theta[..., 2] + (theta[..., 1] - theta[..., 0]) / (form.knot_b - form.knot_a)


def progress(u: Floats, form: Form, rate: Floats) -> tuple[Floats, Floats]:
    """Give how far each day lies on the way between the knots, and its slope by the rate.

    Parameters
    ----------
    u : ndarray, shape (series, days)
        Days in spans.
    form : Form
        Where the knots lie.
    rate : ndarray, shape (series,)
        Rate per span.

    Returns
    -------
    share, slope : ndarray, shape (series, days)
        ``(1 - exp(-rate (u - a))) / (1 - exp(-rate (b - a)))`` and its derivative by the rate.
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
    share, by_rate = progress(u, form, turns(form, theta))
    a, b = theta[:, :1], theta[:, 1:2]
    if form.link == "identity":
        return a + (b - a) * share, np.stack([1.0 - share, share, (b - a) * by_rate], axis=-1)
    if form.link == "log":
        length = length_of("log", a + (b - a) * share)
        parts = [1.0 - share, share, (b - a) * by_rate]
        return length, np.stack([length * part for part in parts], axis=-1)
    inv_a, inv_b = length_of("log", -a), length_of("log", -b)
    length = 1.0 / np.maximum(inv_a + (inv_b - inv_a) * share, 1e-12)
    by_shape = -(inv_b - inv_a) * by_rate
    lean = by_shape / (form.knot_b - form.knot_a)[:, None]
    parts = [inv_a * (1.0 - share) - lean, inv_b * share + lean, by_shape]
    return length, np.stack([length**2 * part for part in parts], axis=-1)


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
    rate = float(turns(form, theta)[0])
    a, b = float(theta[0, 0]), float(theta[0, 1])
    if a == b:
        return np.full(heights.shape, np.nan)
    if form.link == "reciprocal":
        share = np.expm1(a - heights) / np.expm1(a - b)
    else:
        share = (heights - a) / (b - a)
    width = float(form.knot_b[0] - form.knot_a[0])
    t = rate * width
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
        Free parameters. Nothing held: heights, then shape. "height": the other height, shape.
        "ratio" or "rise": first height, shape. "asymptote": both heights. "rate": both heights,
        but first height and shape for the logistic. "turn": last height and rate. Curves without
        a shape leave it out.

    Returns
    -------
    theta : ndarray, shape (series, 3)
    slopes : ndarray, shape (series, 3, free)
    """
    n_series, n_free = phi.shape
    theta = np.zeros((n_series, 3))
    slopes = np.zeros((n_series, 3, n_free))
    rows = free_rows(form)
    for column, row in enumerate(rows):
        theta[:, row] = phi[:, column]
        slopes[:, row, column] = 1.0
    held = form.value
    if form.hold == "height":
        theta[:, 0] = held
    elif form.hold == "rise" or (form.hold == "ratio" and form.link != "identity"):
        theta[:, 1] = theta[:, 0] + held
        slopes[:, 1, 0] = 1.0
    elif form.hold == "ratio":
        theta[:, 1] = theta[:, 0] * np.exp(held)
        slopes[:, 1, 0] = np.exp(held)
    elif form.hold == "rate":
        _hold_rate(form, theta, slopes)
    elif form.hold == "asymptote":
        _hold_asymptote(form, theta, slopes)
    elif form.hold == "turn":
        _hold_turn(form, theta, slopes)
    return theta, slopes


def free_rows(form: Form) -> tuple[int, ...]:
    """Say which of the two heights and the shape are free; a held turn frees the rate instead."""
    if form.hold == "asymptote" or (form.hold == "rate" and form.link != "reciprocal"):
        return (0, 1)
    rows = {"": (0, 1), "height": (1,), "turn": (1,)}.get(form.hold, (0,))
    return (*rows, 2) if form.shaped else rows


def _hold_rate(form: Form, theta: Floats, slopes: Floats) -> None:
    """Keep a given rate per span, by the shape or (logistic) the last height."""
    if form.link == "reciprocal":
        theta[:, 1] = theta[:, 0] + form.value - theta[:, 2]
        slopes[:, 1] = (1.0, -1.0)
    else:
        theta[:, 2] = form.value


def _hold_asymptote(form: Form, theta: Floats, slopes: Floats) -> None:
    """Set the shape so that the curve levels off at a given height; the knots are the ends."""
    a, b = theta[:, 0], theta[:, 1]
    if form.link == "reciprocal":
        left_a, left_b = (np.maximum(-np.expm1(end - form.value), 1e-12) for end in (a, b))
        by_a, by_b = 1.0 - 1.0 / left_a, 1.0 / left_b - 1.0
    else:
        left_a, left_b = (np.maximum(form.value - end, 1e-12) for end in (a, b))
        by_a, by_b = -1.0 / left_a, 1.0 / left_b
    theta[:, 2] = np.log(left_a / left_b)
    slopes[:, 2] = np.stack([by_a, by_b], axis=-1)


def _hold_turn(form: Form, theta: Floats, slopes: Floats) -> None:
    """Set the first height (and shape) so that the curve turns, or is zero, on a given day."""
    b, rate, turn = theta[:, 1].copy(), theta[:, 2].copy(), form.value
    before, after = (np.clip(rate * day, -_FAR, 50.0) for day in (turn, turn - 1.0))
    if form.link == "identity":
        top, bottom = -np.expm1(before), -np.expm1(after)
        ratio = top / bottom
        theta[:, 0] = b * ratio
        by_rate = (-turn * (1.0 - top) + ratio * (turn - 1.0) * (1.0 - bottom)) / bottom
        slopes[:, 0] = np.stack([ratio, b * by_rate], axis=-1)
        return
    if form.link == "log":
        drop = np.exp(before) - np.exp(after)
        by_rate = turn * np.exp(before) - (turn - 1.0) * np.exp(after)
    else:
        drop = np.logaddexp(0.0, before) - np.logaddexp(0.0, after)
        by_rate = turn / (1.0 + np.exp(-before)) - (turn - 1.0) / (1.0 + np.exp(-after))
        theta[:, 2] = rate - drop
        slopes[:, 2] = np.stack([np.zeros_like(drop), 1.0 - by_rate], axis=-1)
    theta[:, 0] = b - drop
    slopes[:, 0] = np.stack([np.ones_like(drop), -by_rate], axis=-1)
