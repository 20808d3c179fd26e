"""What the decision table shows, held against simulated trials whose truth is known.

Promised: at a nominal 5 % no more than 7 false alarms in 100 trials in which the methods are alike
but the containers differ, and shown intervals that hold the truth in 93 of 100 or more. Every check
allows three of its own standard errors: 3.1 points at the default 600 trials a layout, 1.0 at the
full 6,000.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from rearkit.design.comparison import compare_units
from rearkit.design.design import Design, lay_out
from tests.simulated_trials import SimulatedTrials, simulate_trials

# name: (usual, tested, clutches that are split or None, tier)
LAYOUTS = {
    "2 v 2": (2, 2, None, "few"),
    "3 v 3": (3, 3, None, "t"),
    "4 v 4": (4, 4, None, "exact"),
    "6 v 6": (6, 6, None, "exact"),
    "3 v 5": (3, 5, None, "both"),
    "4 split clutches": (1, 1, 4, "t"),
    "6 split clutches": (1, 1, 6, "exact"),
}
CORRELATIONS = (0.02, 0.08, 0.20)
RUNS, FULL_RUNS = 600, 6_000


def design_of(trials: SimulatedTrials, split: bool) -> Design:
    n = len(trials.tested)
    units = pd.DataFrame(
        {
            "unit": [f"u{i}" for i in range(n)],
            "block": [f"c{c}" for c in trials.clutch] if split else None,
            "method": np.where(trials.tested, "shaded", "open"),
            "tested": trials.tested,
            "batches": [(f"u{i}",) for i in range(n)],
        }
    )
    return lay_out(
        units,
        compare="method",
        usual="open",
        tested="shaded",
        unit="container",
        split=split,
        assigned="random draw",
    )


def run(layout: str, runs: int, seed: int) -> tuple[float | None, float]:
    """Return the share of false alarms (None where no p is shown) and of intervals that hold 0."""
    usual, tested, clutches, tier = LAYOUTS[layout]
    alarms, holds = [], []
    for i, icc in enumerate(CORRELATIONS):
        trials = simulate_trials(
            runs=runs // len(CORRELATIONS),
            seed=seed + i,
            n_usual=usual,
            n_tested=tested,
            survival_usual=0.6,
            survival_tested=0.6,
            fish=(30, 120),
            icc=icc,
            split_clutches=clutches,
            clutch_sd=0.8,
        )
        design = design_of(trials, split=clutches is not None)
        assert design.tier == tier
        names = list(design.units["unit"])
        for values in trials.survival:
            shown = compare_units(design, pd.Series(values, index=names))
            if shown.p_value is not None:
                alarms.append(shown.p_value <= 0.05)
            holds.append(shown.conf_low <= 0.0 <= shown.conf_high)
    return (float(np.mean(alarms)) if alarms else None), float(np.mean(holds))


def judge(layout: str, runs: int, seed: int) -> None:
    false_alarms, coverage = run(layout, runs, seed)
    slack = 3.0 * np.sqrt(0.07 * 0.93 / runs)
    if layout == "2 v 2":
        assert false_alarms is None
    else:
        assert false_alarms is not None
        assert false_alarms <= 0.07 + slack
    assert coverage >= 0.93 - slack


@pytest.mark.parametrize("layout", LAYOUTS)
def test_what_is_shown_keeps_its_promise(layout: str) -> None:
    judge(layout, runs=RUNS, seed=411)


@pytest.mark.slow
@pytest.mark.parametrize("layout", LAYOUTS)
def test_what_is_shown_keeps_its_promise_in_full(layout: str) -> None:
    judge(layout, runs=FULL_RUNS, seed=977)
