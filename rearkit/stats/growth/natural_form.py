"""Between the scaled form in which curves are fitted and their usual parameters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rearkit.stats.curves import curve_gradient, curve_length, ends_from_params, params_from_ends
from rearkit.stats.ends_form import (
    Form,
    evaluate,
    free_form,
    free_rows,
    height,
    length_of,
    turns,
)
from rearkit.stats.fit_batch import Batch

Floats = NDArray[np.float64]

_SINGULAR = 1e-13
_TINY = 1e-300


def natural_params(curve: str, batch: Batch, theta: Floats) -> Floats:
    """Give the usual parameters of every series.

    Parameters
    ----------
    curve : str
        The curve.
    batch : Batch
        The scaling.
    theta : ndarray, shape (series, 3)
        Heights at the first and last day, and shape.

    Returns
    -------
    ndarray, shape (series, parameters)
    """
    form = free_form(curve, len(theta))
    ends = length_of(form.link, theta[:, :2]) * batch.scale[:, None]
    rates = turns(form, theta) / batch.span
    rows = zip(ends, rates, batch.first_day, batch.span, strict=True)
    params = np.array(
        [
            params_from_ends(curve, (first, last, rate), day, day + span)
            for (first, last), rate, day, span in rows
        ]
    )
    if form.link == "reciprocal":
        at_limit = theta[:, 2] <= 0
        params[at_limit, 0] = params[at_limit, 2] = np.inf
    return params


def scaled_theta(curve: str, batch: Batch, params: Sequence[float]) -> Floats:
    """Give heights and shape from one set of usual parameters, for every series.

    Parameters
    ----------
    curve : str
        The curve.
    batch : Batch
        The scaling.
    params : sequence of float
        The usual parameters.

    Returns
    -------
    ndarray, shape (series, 3)
    """
    form = free_form(curve, len(batch.span))
    theta = np.zeros((len(batch.span), 3))
    for row, (day, span, scale) in enumerate(
        zip(batch.first_day, batch.span, batch.scale, strict=True)
    ):
        first, last, rate = ends_from_params(curve, params, day, day + span)
        theta[row, :2] = height(form.link, np.array([first, last]) / scale)
        theta[row, 2] = rate * span
    if form.link == "reciprocal":
        theta[:, 2] -= theta[:, 1] - theta[:, 0]
    return theta


def free_part(form: Form, theta: Floats) -> Floats:
    """Pick the free parameters out of heights and shape.

    Parameters
    ----------
    form : Form
        The curve and what is held.
    theta : ndarray, shape (series, 3)
        Heights at the knots, and shape.

    Returns
    -------
    ndarray, shape (series, free)
    """
    phi = theta[:, free_rows(form)]
    if form.hold == "turn":
        phi[:, 1] = turns(form, theta)
    return phi


def natural_spread(
    form: Form, batch: Batch, theta: Floats, by_phi: Floats, params: Floats
) -> Floats:
    """Give the covariance of the usual parameters for a residual variance of one.

    Parameters
    ----------
    form : Form
        The curves and what is held.
    batch : Batch
        The scaled means.
    theta : ndarray, shape (series, 3)
        Heights and shape.
    by_phi : ndarray, shape (series, 3, free)
        Their slopes by the free parameters.
    params : ndarray, shape (series, parameters)
        The usual parameters.

    Returns
    -------
    ndarray, shape (series, parameters, parameters)
        nan where the curve does not determine its parameters.
    """
    _, by_theta = evaluate(form, theta, batch.u)
    slope = (by_theta @ by_phi) * np.sqrt(batch.weights)[..., None]
    inner, known = _inverse(np.swapaxes(slope, -1, -2) @ slope)
    usable = known & np.all(np.isfinite(params), axis=-1)
    params = np.where(usable[:, None], params, 1.0)
    size = np.maximum(np.abs(params), _TINY)
    relative = _theta_by_params(form, batch, params) * size[:, None, :]
    longest = np.maximum(np.abs(relative).max(axis=-2, keepdims=True), _TINY)
    usable &= np.linalg.svd(relative / longest, compute_uv=False)[:, -1] > _SINGULAR
    relative[~usable] = np.eye(size.shape[1])
    back = np.linalg.inv(relative) * size[..., None]
    outer = back @ by_phi[:, : size.shape[1]]
    spread = outer @ inner @ np.swapaxes(outer, -1, -2)
    spread[~usable] = np.nan
    return spread / (batch.scale**2 * batch.fish)[:, None, None]


def _theta_by_params(form: Form, batch: Batch, params: Floats) -> Floats:
    """Give the slopes of heights and shape by the usual parameters."""
    n_params = params.shape[1]
    ends = np.stack([batch.first_day, batch.first_day + batch.span], axis=-1)
    columns = [params[:, [column]] for column in range(n_params)]
    slopes = np.zeros((len(params), n_params, n_params))
    slopes[:, :2] = curve_gradient(form.curve, ends, columns) / batch.scale[:, None, None]
    if form.link != "identity":
        lengths = curve_length(form.curve, ends, columns) / batch.scale[:, None]
        slopes[:, :2] /= np.maximum(lengths, _TINY)[..., None]
    if form.shaped:
        slopes[:, 2, 1] = batch.span
    if form.link == "reciprocal":
        slopes[:, 2] -= slopes[:, 1] - slopes[:, 0]
    return slopes


def _inverse(normal: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Invert symmetric matrices, saying which could be."""
    size = np.sqrt(np.maximum(np.einsum("...ii->...i", normal), _TINY))
    values, vectors = np.linalg.eigh(normal / (size[..., :, None] * size[..., None, :]))
    known = values[..., 0] > _SINGULAR
    values = np.where(known[..., None], values, 1.0)
    inner = (vectors / values[..., None, :]) @ np.swapaxes(vectors, -1, -2)
    return inner / (size[..., :, None] * size[..., None, :]), known
