"""One set of plausible parameters for every growth curve, and fits of one container."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from rearkit.stats.growth.curve_fit import GrowthFit, fit_many
from rearkit.stats.growth.curves import CURVES, Curve
from rearkit.stats.growth.daily_means import DailyMeans, daily_means

# Lengths in mm, days from 0 to 60.
EXAMPLES = MappingProxyType(
    {
        "line": (4.8, 0.31),
        "exponential": (5.1, 0.024),
        "logistic": (36.0, 0.06, 31.0),
        "gompertz": (48.0, 0.031, 27.0),
        "von_bertalanffy": (61.0, 0.011, -7.5),
    }
)


def lengths_of(name: str, days: ArrayLike, params: ArrayLike | None = None) -> np.ndarray:
    """Give the lengths of a curve on some days, by default with the parameters of its example."""
    known = EXAMPLES[name] if params is None else params
    return CURVES[name].length(np.asarray(days, dtype=float), known)


def fit_one(
    name: str,
    days: ArrayLike,
    lengths: ArrayLike,
    *,
    n_fish: ArrayLike | None = None,
    sd: ArrayLike | None = None,
    asymptote: float | None = None,
) -> GrowthFit:
    """Fit one curve to one container."""
    series = daily_means(days, lengths, n_fish=n_fish, sd=sd)
    return fit_many(name, [series], asymptote=asymptote)[0]


def noisy(name: str, seed: int, n_series: int, noise: float = 0.03) -> list[DailyMeans]:
    """Draw weekly means of 8 to 19 fish around a curve that differs between containers."""
    rng = np.random.default_rng(seed)
    days = np.arange(0.0, 61.0, 7.0)
    series = []
    for _ in range(n_series):
        params = np.array(EXAMPLES[name])
        params[:2] *= np.exp(rng.normal(0, 0.1, 2))
        lengths = CURVES[name].length(days, params) * (1 + rng.normal(0, noise, len(days)))
        series.append(daily_means(days, lengths, n_fish=rng.integers(8, 20, len(days))))
    return series


def theta_of(curve: Curve, params: ArrayLike, days: ArrayLike, span: float) -> np.ndarray:
    """Give heights on two days, and shape, from the usual parameters: shape (1, 3)."""
    a, b = curve.scale.height(curve.length(np.asarray(days, dtype=float), params))
    shape = params[1] * span - curve.scale.lean * (b - a) if curve.levels_off else 0.0
    return np.array([[a, b, shape]])
