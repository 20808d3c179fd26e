"""Daily means of many containers laid side by side, scaled, and fitted at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rearkit.stats.daily_means import DailyMeans
from rearkit.stats.ends_form import Form, evaluate, expand
from rearkit.stats.least_squares import Solved, solve_many

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

# At this many turns between two sampled days a curve is a step as far as the data can tell.
_TURNS_A_STEP = 12.0
_MOST_TURNS = 250.0
_LEAST_RATE = 1e-6
# The log of the smallest length on the first day, as a part of the largest mean.
_LEAST_HEIGHT = -14.0


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


def solve(form: Form, batch: Batch, start: Floats) -> Solved:
    """Fit the free parameters of every series to its means.

    Parameters
    ----------
    form : Form
        The curves and what is held.
    batch : Batch
        The scaled means.
    start : ndarray, shape (series, free)
        First guesses.

    Returns
    -------
    Solved
        Free parameters and scaled, weighted sums of squares.
    """
    root = np.sqrt(batch.weights)

    def residuals(phi: Floats, rows: Rows) -> tuple[Floats, Floats]:
        part = form.rows(rows)
        theta, by_phi = expand(part, phi)
        fitted, by_theta = evaluate(part, theta, batch.u[rows])
        error = (fitted - batch.lengths[rows]) * root[rows]
        return error, (by_theta @ by_phi) * root[rows][..., None]

    lower, upper = bounds(form, batch, start.shape[1])
    return solve_many(residuals, start, lower=lower, upper=upper)


def solve_best(form: Form, batch: Batch, starts: Floats) -> Solved:
    """Fit from several first guesses and keep the best of each series.

    Parameters
    ----------
    form, batch
        As for :func:`solve`.
    starts : ndarray, shape (guesses, series, free)
        First guesses.

    Returns
    -------
    Solved
    """
    best = solve(form, batch, starts[0])
    for start in starts[1:]:
        other = solve(form, batch, start)
        better = other.rss < best.rss * (1.0 - 1e-9)
        best = Solved(
            values=np.where(better[:, None], other.values, best.values),
            rss=np.where(better, other.rss, best.rss),
            converged=np.where(better, other.converged, best.converged),
        )
    return best


def bounds(form: Form, batch: Batch, n_free: int) -> tuple[Floats, Floats]:
    """Give the bounds of the free parameters.

    Parameters
    ----------
    form : Form
        The curves and what is held.
    batch : Batch
        The scaled means.
    n_free : int
        Number of free parameters.

    Returns
    -------
    lower, upper : ndarray, shape (series, free)
        A shape or rate, a first height on the log scale, and heights under a held asymptote
        are bounded.
    """
    upper = np.full((len(form.value), n_free), np.inf)
    lower = -upper
    if form.link != "identity" and form.hold in ("", "rate", "asymptote"):
        lower[:, 0] = _LEAST_HEIGHT
    if form.hold == "asymptote":
        upper[:] = form.value[:, None] - 1e-9
    elif form.shaped and (form.hold != "rate" or form.link == "reciprocal"):
        lower[:, -1] = _LEAST_RATE if form.hold == "turn" else 0.0
        upper[:, -1] = batch.most_shape
    return lower, upper
