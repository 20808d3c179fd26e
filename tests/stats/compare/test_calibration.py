"""Simulate small trials and count false alarms and intervals that miss the truth.

What is promised: at a nominal 5 % no more than 7 false alarms in 100 trials in which the methods
are alike but containers differ, and intervals that hold the true difference in 93 of 100 or more.
A finite number of trials only estimates these shares; each check allows 3 of its own standard
errors. By default that is 3 x 800 trials a layout (an allowance of about 1.6 points); the full run
marked slow has 4,000 a layout and correlation (about 1.2 points), each judged by itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import expit, logit

from rearkit.stats.compare.permutation import permutation_test
from rearkit.stats.compare.unit_t import t_blocks, t_two
from tests.simulated_trials import SimulatedTrials, simulate_trials

CORRELATIONS = (0.02, 0.08, 0.20)
CLUTCH_SD = 0.8
RUNS, FULL_RUNS = 800, 4000
Verdict = tuple[float, float, float]
"""What is shown of one trial: p, lower end, upper end."""


def pooled(values, tested, clutch) -> Verdict:
    result = t_two(values, tested)
    return result.p_value, result.conf_low, result.conf_high


def arrangement(values, tested, clutch) -> Verdict:
    result = permutation_test(values, tested)
    return result.p_value, result.conf_low, result.conf_high


def arrangement_and_welch(values, tested, clutch) -> Verdict:
    one, two = permutation_test(values, tested), t_two(values, tested, welch=True)
    return (
        max(one.p_value, two.p_value),
        min(one.conf_low, two.conf_low),
        max(one.conf_high, two.conf_high),
    )


def split_t(values, tested, clutch) -> Verdict:
    result = t_blocks(values, tested, clutch)
    return result.p_value, result.conf_low, result.conf_high


def split_arrangement(values, tested, clutch) -> Verdict:
    result = permutation_test(values, tested, clutch)
    return result.p_value, result.conf_low, result.conf_high


@dataclass(frozen=True, kw_only=True)
class Layout:
    n_usual: int
    n_tested: int
    judge: Callable[..., Verdict]
    split: int | None = None


LAYOUTS = {
    "2 v 2": Layout(n_usual=2, n_tested=2, judge=pooled),
    "3 v 3": Layout(n_usual=3, n_tested=3, judge=pooled),
    "4 v 4": Layout(n_usual=4, n_tested=4, judge=arrangement),
    "6 v 6": Layout(n_usual=6, n_tested=6, judge=arrangement),
    "3 v 5": Layout(n_usual=5, n_tested=3, judge=arrangement_and_welch),
    "3 split": Layout(n_usual=1, n_tested=1, judge=split_t, split=3),
    "4 split": Layout(n_usual=1, n_tested=1, judge=split_t, split=4),
    "5 split": Layout(n_usual=1, n_tested=1, judge=split_t, split=5),
    "6 split": Layout(n_usual=1, n_tested=1, judge=split_arrangement, split=6),
}


def simulate(layout: Layout, icc: float, runs: int, survival_tested: float) -> SimulatedTrials:
    return simulate_trials(
        runs=runs,
        seed=round(1000 * icc) + layout.n_usual + 10 * (layout.split or 0),
        n_usual=layout.n_usual,
        n_tested=layout.n_tested,
        survival_usual=0.6,
        survival_tested=survival_tested,
        fish=(30, 400),
        icc=icc,
        split_clutches=layout.split,
        clutch_sd=CLUTCH_SD if layout.split else 0.0,
    )


def true_difference(layout: Layout, survival_tested: float) -> float:
    """Average the difference over clutches by Gauss-Hermite quadrature."""
    if not layout.split:
        return survival_tested - 0.6
    points, weights = np.polynomial.hermite_e.hermegauss(60)
    weights = weights / weights.sum()
    shifts = CLUTCH_SD * points
    return float(weights @ (expit(logit(survival_tested) + shifts) - expit(logit(0.6) + shifts)))


def measure(layout: Layout, icc: float, runs: int) -> tuple[int, int]:
    """Count false alarms without a difference, and intervals that hold a real one."""
    null = simulate(layout, icc, runs, 0.6)
    alarms = sum(
        layout.judge(values, null.tested, null.clutch.tolist())[0] <= 0.05
        for values in null.survival
    )
    real, truth = simulate(layout, icc, runs, 0.75), true_difference(layout, 0.75)
    held = 0
    for values in real.survival:
        _, low, high = layout.judge(values, real.tested, real.clutch.tolist())
        held += low <= truth <= high
    return alarms, held


def check(alarms: int, held: int, runs: int) -> None:
    allowance = 3 * math.sqrt(0.07 * 0.93 / runs)
    assert alarms / runs <= 0.07 + allowance
    assert held / runs >= 0.93 - allowance


@pytest.mark.parametrize("name", LAYOUTS)
def test_false_alarms_and_coverage_stay_near_their_promise(name):
    counts = [measure(LAYOUTS[name], icc, RUNS) for icc in CORRELATIONS]
    check(sum(a for a, _ in counts), sum(h for _, h in counts), RUNS * len(counts))


@pytest.mark.slow
@pytest.mark.parametrize("icc", CORRELATIONS)
@pytest.mark.parametrize("name", LAYOUTS)
def test_false_alarms_and_coverage_in_full(name, icc):
    check(*measure(LAYOUTS[name], icc, FULL_RUNS), FULL_RUNS)


def test_fish_as_units_would_break_the_promise_at_once():
    layout, alarms = LAYOUTS["4 v 4"], 0
    trials = simulate(layout, 0.08, 300, 0.6)
    for alive, started in zip(trials.alive, trials.started, strict=True):
        arms = [trials.tested, ~trials.tested]
        y, n = (np.array([x[arm].sum() for arm in arms]) for x in (alive, started))
        share = y.sum() / n.sum()
        error = math.sqrt(share * (1 - share) * (1 / n).sum())
        alarms += abs(y[0] / n[0] - y[1] / n[1]) > 1.96 * error
    assert alarms / 300 > 0.3
