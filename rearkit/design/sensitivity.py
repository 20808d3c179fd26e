"""The same fish, counted in other ways, and whether the difference keeps its sign."""

from __future__ import annotations

import math
from bisect import bisect_left

import numpy as np
import pandas as pd

from rearkit.batch.fates import accounts_of, fates_of
from rearkit.batch.history import history_of, what_if
from rearkit.batch.remark import Remark
from rearkit.batch.survival import BatchSurvival
from rearkit.design.comparison import Comparison, arm_means, unit_means
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.logbook.logbook import Logbook

LEANS_USUAL = "lean_usual"
LEANS_TESTED = "lean_tested"
WAYS = {
    "as_counted": ("survival", "survival"),
    "placed_by_likelihood": ("by_likelihood", "by_likelihood"),
    "never_there": ("if_never_there", "if_never_there"),
    "all_alive": ("if_missing_alive", "if_missing_alive"),
    "ill_died": ("if_ill_died", "if_ill_died"),
    LEANS_USUAL: ("count_high", "count_low"),
    LEANS_TESTED: ("count_low", "count_high"),
}


def ways_of_counting(design: Design, by_batch: dict[str, BatchSurvival]) -> pd.DataFrame:
    """Return the contrast under every way of counting; the first row is the headline's."""
    if design.tier == "single":
        return _ways_of_each(by_batch)
    rows = []
    for way, (for_usual, for_tested) in WAYS.items():
        value = {
            b: float(getattr(by_batch[b], for_tested if u.tested else for_usual))
            for u in design.units.itertuples(index=False)
            for b in u.batches
        }
        arms = arm_means(design, unit_means(design, value))
        rows.append(
            {
                "way": way,
                "survival_usual": arms[0],
                "survival_tested": arms[1],
                "difference": arms[1] - arms[0],
            }
        )
    return pd.DataFrame(rows)


def _ways_of_each(by_batch: dict[str, BatchSurvival]) -> pd.DataFrame:
    """Survival of every batch under every way of counting, where nothing is compared."""
    names = {way: low for way, (low, high) in WAYS.items() if low == high}
    names |= {"worst": "count_low", "best": "count_high"}
    rows = [
        {"way": way, "unit": b, "survival": float(getattr(s, name))}
        for way, name in names.items()
        for b, s in by_batch.items()
    ]
    return pd.DataFrame(rows, columns=["way", "unit", "survival"])


def what_would_erase_it(
    log: Logbook,
    design: Design,
    by_batch: dict[str, BatchSurvival],
    chosen: JudgingDay,
    comparison: Comparison | None,
) -> list[Remark]:
    """Say how many missing fish of the worse arm must be alive to erase the difference."""
    if comparison is None or comparison.estimate == 0:
        return []
    worse_is_tested = comparison.estimate < 0
    worse = [
        b
        for u in design.units.itertuples(index=False)
        if bool(u.tested) == worse_is_tested
        for b in u.batches
    ]
    missing = sum(by_batch[b].missing for b in worse)
    if missing < 0.5 or not any(by_batch[b].dead_recorded for b in by_batch):
        return []
    fates, accounts = fates_of(log, design.compare), accounts_of(log, design.compare)
    histories = {b: history_of(fates[b], accounts.loc[b], until=chosen.day_of(b)) for b in worse}
    base = {b: by_batch[b].survival for b in by_batch}

    def gap(alive: int) -> float:
        """Return how far the better arm is ahead if so many of the missing were alive."""
        found = {
            b: what_if(
                h, chosen.landmark, chosen.day_of(b), missing_alive=min(alive / missing, 1.0)
            )
            for b, h in histories.items()
        }
        usual, tested = arm_means(design, unit_means(design, base | found))
        return (tested - usual) * float(np.sign(comparison.estimate))

    values = {"missing": missing, "arm": design.tested if worse_is_tested else design.usual}
    most = math.ceil(missing)
    if gap(most) > 0:
        return [Remark(code="missing_cannot_erase", values=values)]
    needed = bisect_left(range(most + 1), True, key=lambda alive: gap(alive) <= 0)
    return [Remark(code="missing_can_erase", values=values | {"needed": needed})]
