"""Time exact counting against listing and drawing, and print the ratios of one run.

Run with ``python tests/benchmarks/bench_permutation.py``; pytest does not collect it.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy import stats

from rearkit.stats.compare.permutation import permutation_test


def seconds(work: Callable[[], object], repeats: int) -> float:
    """Take the fastest of some repeats."""
    best = float("inf")
    for _ in range(repeats):
        started = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - started)
    return best


def difference(first: np.ndarray, second: np.ndarray, axis: int) -> np.ndarray:
    """Subtract means along an axis, as scipy asks."""
    return first.mean(axis=axis) - second.mean(axis=axis)


def compare(arm: int, n_resamples: float, label: str) -> None:
    """Print both times, both p and the ratio for one size."""
    values = np.random.default_rng(arm).normal(size=2 * arm)
    tested = np.arange(2 * arm) < arm
    ours = permutation_test(values, tested)
    own = seconds(lambda: permutation_test(values, tested), 3)

    def scipys() -> object:
        return stats.permutation_test(
            (values[tested], values[~tested]),
            difference,
            vectorized=True,
            n_resamples=n_resamples,
            batch=20_000,
            rng=np.random.default_rng(1),
        )

    theirs = seconds(scipys, 1)
    print(
        f"{arm} v {arm} ({ours.arrangements:,} arrangements): exact p {ours.p_value:.6f} and "
        f"interval {own * 1e3:.1f} ms; {label} p alone {scipys().pvalue:.6f} "
        f"{theirs * 1e3:.1f} ms; ratio {theirs / own:.1f}"
    )


if __name__ == "__main__":
    compare(8, float("inf"), "scipy listing all")
    compare(10, float("inf"), "scipy listing all")
    compare(16, 99_999, "scipy drawing 99,999")
