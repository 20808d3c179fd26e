"""Many small nonlinear least-squares problems solved side by side (Levenberg-Marquardt).

References
----------
Marquardt, D. W. (1963). An algorithm for least-squares estimation of nonlinear parameters.
Journal of the Society for Industrial and Applied Mathematics 11, 431-441.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]
Bools = NDArray[np.bool_]
Residuals = Callable[[Floats, Rows], tuple[Floats, Floats]]

_STEP_TOLERANCE = 1e-10
_PROMISE_TOLERANCE = 1e-12
_NOTHING = 1e-28
_DAMP_FIRST, _DAMP_MOST, _DAMP_LEAST = 1e-3, 1e10, 1e-14
_ROUNDING = 1.0 + 1e-14


@dataclass(frozen=True, kw_only=True, eq=False)
class Solved:
    """Where each of the problems ended.

    Attributes
    ----------
    values : ndarray, shape (problems, parameters)
        The parameters at the smallest sum of squares that was found.
    rss : ndarray, shape (problems,)
        That sum of squares.
    converged : ndarray of bool, shape (problems,)
        Whether the last free step was negligible, or promised no more than a millionth of a
        millionth of that sum.
    """

    values: Floats
    rss: Floats
    converged: Bools


def solve_many(
    residuals: Residuals,
    start: Floats,
    *,
    lower: Floats,
    upper: Floats,
    max_steps: int = 200,
) -> Solved:
    """Minimise many sums of squares at once, each within its own bounds.

    Parameters
    ----------
    residuals : callable
        ``residuals(values, rows)`` gives, for the problems numbered ``rows``, their residuals
        (rows, observations) and slopes (rows, observations, parameters).
    start, lower, upper : ndarray, shape (problems, parameters)
        First guesses and bounds. Parameters should be of the order of one.
    max_steps : int
        Steps after which a problem that still moves is given up.

    Returns
    -------
    Solved
        Values, sums of squares, and whether each problem settled.

    Notes
    -----
    Steps solve the damped normal equations, damped in proportion to their diagonal. A parameter
    on a bound that the slope pushes against is held there for that step. A problem leaves the
    batch as soon as its steps are negligible, or no step however short leads downhill, so a hard
    one does not slow the others.
    """
    values = np.clip(start, lower, upper)
    going = np.arange(len(values))
    error, slope = residuals(values, going)
    rss = np.sum(error**2, axis=-1)
    damping = np.full(len(values), _DAMP_FIRST)
    growth = np.full(len(values), 2.0)
    converged = np.zeros(len(values), dtype=bool)
    for _ in range(max_steps):
        low, high = values[going] <= lower[going], values[going] >= upper[going]
        step, expected, promised = _damped_step(error, slope, damping[going], low, high)
        trial = np.clip(values[going] + step, lower[going], upper[going])
        moved = np.max(np.abs(trial - values[going]), axis=-1)
        idle = promised <= _PROMISE_TOLERANCE * rss[going] + _NOTHING
        trial_error, trial_slope = residuals(trial, going)
        trial_rss = np.sum(trial_error**2, axis=-1)
        before = rss[going]
        better = trial_rss <= rss[going] * _ROUNDING
        values[going[better]] = trial[better]
        rss[going[better]] = trial_rss[better]
        error[better], slope[better] = trial_error[better], trial_slope[better]
        still = moved <= _STEP_TOLERANCE * (1.0 + np.max(np.abs(trial), axis=-1))
        converged[going] = idle | (still & better & (damping[going] < _DAMP_FIRST))
        gain = (before - trial_rss) / np.maximum(expected, _NOTHING)
        damping[going] = np.where(
            better, damping[going] * _eased(gain), damping[going] * growth[going]
        )
        growth[going] = np.where(better, 2.0, 2.0 * growth[going])
        keep = ~still & (damping[going] <= _DAMP_MOST)
        going, error, slope = going[keep], error[keep], slope[keep]
        if not len(going):
            break
    return Solved(values=values, rss=rss, converged=converged)


def _damped_step(
    error: Floats, slope: Floats, damping: Floats, at_lower: Bools, at_upper: Bools
) -> tuple[Floats, Floats, Floats]:
    """Solve the damped normal equations with parameters held where a bound stops them.

    Also give the decreases that this step and the undamped one promise.
    """
    across = np.swapaxes(slope, -1, -2)
    normal = across @ slope
    downhill = -(across @ error[..., None])[..., 0]
    held = (at_lower & (downhill < 0)) | (at_upper & (downhill > 0))
    free = ~held
    normal = normal * (free[..., :, None] & free[..., None, :])
    downhill = downhill * free
    diagonal = np.einsum("...ii->...i", normal)
    floor = 1e-20 + 1e-14 * np.max(diagonal, axis=-1, keepdims=True)
    added = np.stack([0.0 * diagonal, damping[..., None] * diagonal]) + np.where(held, 1.0, floor)
    both = normal + np.eye(normal.shape[-1]) * added[..., None, :]
    undamped, damped = np.linalg.solve(both, np.stack([downhill, downhill])[..., None])[..., 0]
    expected = np.sum(damped * (downhill + damping[..., None] * diagonal * damped), axis=-1)
    return damped, expected, np.sum(undamped * downhill, axis=-1)


def _eased(gain: Floats) -> Floats:
    """Give the factor on the damping after a step that gained so much of what it promised."""
    return np.maximum(1.0 / 5.0, 1.0 - (2.0 * np.clip(gain, 0.0, 1.0) - 1.0) ** 3)
