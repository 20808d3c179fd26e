"""Containers that grow along a known curve, measured as a keeper does, up to some day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.answers.moving.outgrown import WINDOW_LEVEL, size_window
from rearkit.batch.growth import grow_containers
from rearkit.batch.lengths import MeasuredLengths
from rearkit.stats.growth.curves import CURVES
from rearkit.stats.growth.daily_means import daily_means
from rearkit.stats.growth.size_spread import SMALLEST_TENTH, day_spread

DAYS = np.array([7.0, 14.0, 21.0, 28.0])
CV, FISH, CONTAINERS = 0.12, 12, 4
AHEAD = (1.0, 10.0)  # days after the last measuring on which the smallest tenth is long enough
SHARE = 1.0 - SMALLEST_TENTH * CV
# Usual parameters, and by how much of each containers differ (one standard deviation).
TRUTHS: Mapping[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "line": ((4.5, 0.27), (0.04, 0.08)),
    "exponential": ((4.8, 0.034), (0.04, 0.06)),
    "logistic": ((22.0, 0.085, 24.0), (0.05, 0.04, 0.05)),
    "gompertz": ((30.0, 0.045, 22.0), (0.05, 0.04, 0.05)),
    "von_bertalanffy": ((30.0, 0.018, -8.0), (0.05, 0.05, 0.05)),
}


@dataclass(frozen=True, kw_only=True)
class Coverage:
    """How often windows held the true day, over all containers of all logs.

    Attributes
    ----------
    held : float
        Share of the windows that held it.
    closed_held : float
        The same, of the windows that have an end.
    given : float
        Share of the containers that were given a window (the others: measure again).
    left_open : float
        Share of the windows without an end.
    """

    held: float
    closed_held: float
    given: float
    left_open: float


def measured_once(curve: str, rng: np.random.Generator) -> tuple[MeasuredLengths, np.ndarray]:
    """Measure a few containers of one log; return what was measured and their true parameters."""
    middle, spread = (np.array(part) for part in TRUTHS[curve])
    params = middle * (1.0 + spread * rng.normal(size=(CONTAINERS, len(middle))))
    series, spreads = {}, {}
    for i, own in enumerate(params):
        means = np.array(CURVES[curve].length(DAYS, own))
        fish = np.repeat(means, FISH) * (1.0 + CV * rng.normal(size=means.size * FISH))
        days, fish = np.repeat(DAYS, FISH), np.maximum(fish, 0.5)
        series[f"tub {i}"] = daily_means(days, fish)
        spreads[f"tub {i}"] = day_spread(days, fish)
    found = MeasuredLengths(rows=pd.DataFrame(), series=series, spreads=spreads, remarks=())
    return found, params


def true_day(curve: str, params: np.ndarray, mean: float) -> float:
    """Return the day on which a container's mean has a length, by bisection on its own curve."""
    low, high = 0.0, 300.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if float(CURVES[curve].length(np.array([middle]), params)[0]) < mean:
            low = middle
        else:
            high = middle
    return low


def windows(curve: str, n_logs: int, seed: int) -> Coverage:
    """Give windows for every container of many logs, and say how often they held.

    Parameters
    ----------
    curve : str
        The curve that containers grow along.
    n_logs : int
    seed : int
    """
    rng = np.random.default_rng(seed)
    held, left_open, asked = [], [], 0
    for _ in range(n_logs):
        measured, params = measured_once(curve, rng)
        middle = np.array(TRUTHS[curve][0])
        wanted = float(CURVES[curve].length(np.array([DAYS[-1] + rng.uniform(*AHEAD)]), middle)[0])
        curves = grow_containers(measured)
        for name, own in zip(measured.series, params, strict=True):
            truth = true_day(curve, own, wanted)
            window = size_window(name, curves, wanted * SHARE, level=WINDOW_LEVEL)
            if truth <= DAYS[-1]:
                continue
            asked += 1
            if window.state != "ahead":
                continue
            held.append(window.low <= truth and not window.high < truth)
            left_open.append(np.isnan(window.high))
    closed = ~np.array(left_open)
    return Coverage(
        held=float(np.mean(held)),
        closed_held=float(np.mean(np.array(held)[closed])),
        given=len(held) / asked,
        left_open=float(np.mean(left_open)),
    )
