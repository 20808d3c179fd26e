"""Time the batched growth fits against a loop over scipy's curve_fit, in the same run.

Run with ``python tests/benchmarks/bench_curve_fit.py [containers]``. Both fit five curves to the
same daily means (six days a container); the loop gets analytic slopes and the true parameters as
its start, which the batched fits do without. Profile intervals of one container are timed too.
"""

from __future__ import annotations

import sys
import warnings
from time import perf_counter

import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

from rearkit.stats.growth.curve_fit import fit_many
from rearkit.stats.growth.curves import CURVES
from rearkit.stats.growth.daily_means import DailyMeans, daily_means
from rearkit.stats.growth.profile import asymptote_of, day_interval

DAYS = np.array([0.0, 7.0, 14.0, 28.0, 42.0, 60.0])
STARTS = {
    "line": (5.0, 0.3),
    "exponential": (6.0, 0.024),
    "logistic": (32.0, 0.055, 33.0),
    "gompertz": (40.0, 0.0234, 31.0),
    "von_bertalanffy": (60.0, 0.008, -10.0),
}


def make_containers(n: int, seed: int = 1) -> list[DailyMeans]:
    """Draw containers around one Gompertz curve, 15 fish a day."""
    rng = np.random.default_rng(seed)
    lengths = CURVES["gompertz"].length(DAYS, STARTS["gompertz"]) * rng.normal(1, 0.08, (n, 1))
    means = lengths * rng.normal(1, 0.12 / np.sqrt(15), lengths.shape)
    return [daily_means(DAYS, row, n_fish=np.full(len(DAYS), 15)) for row in means]


def loop(curve: str, data: list[DailyMeans]) -> np.ndarray:
    """Fit one container after the other with scipy; nan where it gives up."""
    rss = np.full(len(data), np.nan)
    for row, series in enumerate(data):
        try:
            params, _ = curve_fit(
                lambda day, *params: CURVES[curve].length(day, params),
                series.days,
                series.means,
                p0=STARTS[curve],
                sigma=1.0 / np.sqrt(series.n_fish),
                jac=lambda day, *params: CURVES[curve].slopes(day, params),
                maxfev=2000,
            )
        except RuntimeError:
            continue
        error = CURVES[curve].length(series.days, params) - series.means
        rss[row] = np.sum(series.n_fish * error**2)
    return rss


def main() -> None:
    """Print seconds, the ratio, and how far the two agree."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    data = make_containers(n)
    warnings.simplefilter("ignore", OptimizeWarning)
    warnings.simplefilter("ignore", RuntimeWarning)
    total = np.zeros(2)
    print(f"{n} containers x {len(DAYS)} days")
    print(
        f"{'curve':16}{'batched s':>10}{'loop s':>9}{'ratio':>7}{'scipy gave up':>15}{'worse':>7}"
    )
    for curve in CURVES:
        began = perf_counter()
        fits = fit_many(curve, data)
        batched = perf_counter() - began
        began = perf_counter()
        rss = loop(curve, data)
        looped = perf_counter() - began
        total += batched, looped
        ours = np.array([fit.rss for fit in fits])
        free = np.array([not fit.at_bound for fit in fits])
        worse = np.sum(free & (ours > rss * (1 + 1e-6)))
        gave_up = np.isnan(rss).sum()
        ratio = looped / batched
        print(f"{curve:16}{batched:10.3f}{looped:9.2f}{ratio:7.0f}{gave_up:15d}{worse:7d}")
    print(f"{'all':16}{total[0]:10.3f}{total[1]:9.2f}{total[1] / total[0]:7.0f}")
    fit = fit_many("gompertz", data[:1])[0]
    began = perf_counter()
    day_interval(fit, 20.0)
    asymptote_of(fit)
    print(f"two profile intervals of one container: {perf_counter() - began:.3f} s")


if __name__ == "__main__":
    main()
