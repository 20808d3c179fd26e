"""First guesses for every curve, found by trying a range of shapes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rearkit.stats.ends_form import Form, evaluate, expand, free_rows

Floats = NDArray[np.float64]

# Rates per sampled span: from nearly straight to all growth within a fortieth of the span.
_RATES = (0.05, 0.3, 0.7, 1.5, 2.5, 4.0, 6.0, 9.0, 14.0, 22.0, 40.0)
_LEAST_SHAPE = 0.02


def starting_values(form: Form, u: Floats, lengths: Floats, weights: Floats) -> Floats:
    """Give one or two first guesses of the free parameters of every series.

    Parameters
    ----------
    form : Form
        The curves, with nothing held, or an asymptote, a rate or a turn.
    u, lengths, weights : ndarray, shape (series, days)
        Days in spans, scaled mean lengths, and numbers of fish (0 for padding).

    Returns
    -------
    ndarray, shape (guesses, series, free)

    Notes
    -----
    For a given rate the two heights follow from a weighted straight line on the curve's own
    scale, in closed form. Of a range of rates, that with the smallest sum of squares on the
    scale of lengths is taken.
    """
    guesses = [_guess(form, rate, u, lengths, weights) for rate in _RATES]
    if not form.shaped:
        return guesses[0][None]
    misfits = []
    for guess in guesses:
        fitted, _ = evaluate(form, expand(form, guess)[0], u)
        misfits.append(np.sum(weights * (fitted - lengths) ** 2, axis=-1))
    best = _two_valleys(np.stack(misfits))
    return np.stack(guesses)[best, np.arange(len(u))]


def _two_valleys(misfits: Floats) -> NDArray[np.intp]:
    """Pick the deepest and the next valley along the first axis (the same one if it is alone)."""
    beyond = np.full((1, misfits.shape[1]), np.inf)
    padded = np.concatenate([beyond, misfits, beyond])
    valley = (padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:])
    depth = np.where(valley, misfits, np.inf)
    order = np.argsort(depth, axis=0, kind="stable")[:2]
    alone = ~np.isfinite(np.take_along_axis(depth, order[1:], axis=0))
    return np.concatenate([order[:1], np.where(alone, order[:1], order[1:])])


def _guess(form: Form, rate: float, u: Floats, lengths: Floats, weights: Floats) -> Floats:
    """Guess all free parameters at one rate per span."""
    first, last = _ends_at(form, rate, u, lengths, weights)
    if form.hold == "turn":
        return np.stack([last, np.full(len(u), rate)], axis=-1)
    if form.hold == "asymptote":
        gap = 0.02 if form.link != "identity" else 0.02 * np.abs(form.value)
        last = np.minimum(last, form.value - gap)
        return np.stack([np.minimum(first, last - gap), last], axis=-1)
    shape = np.full(len(u), rate)
    if form.link == "reciprocal":
        shape = np.maximum(rate - (last - first), _LEAST_SHAPE)
    return np.stack([first, last, shape], axis=-1)[:, free_rows(form)]


def _ends_at(
    form: Form, rate: float, u: Floats, lengths: Floats, weights: Floats
) -> tuple[Floats, Floats]:
    """Give the heights at the two ends that fit best at one rate, on the curve's own scale."""
    share = -np.expm1(-rate * u) / -np.expm1(-rate) if form.shaped else u
    if form.link == "identity":
        scaled = lengths
    elif form.link == "log":
        scaled, weights = np.log(lengths), weights * lengths**2
    else:
        scaled, weights = 1.0 / lengths, weights * lengths**4
    total = np.sum(weights, axis=-1)
    middle = np.sum(weights * share, axis=-1) / total
    centre = np.sum(weights * scaled, axis=-1) / total
    offset = share - middle[:, None]
    spread = np.maximum(np.sum(weights * offset**2, axis=-1), 1e-300)
    slope = np.sum(weights * offset * scaled, axis=-1) / spread
    first, last = centre - slope * middle, centre + slope * (1.0 - middle)
    if form.link != "reciprocal":
        return first, last
    return -np.log(np.maximum(first, 1e-3)), -np.log(np.maximum(last, 1e-3))
