"""What takes a comparison down the claim ladder, one code a step."""

from __future__ import annotations

import pandas as pd

from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.logbook.logbook import Logbook

MISSING_DIFFERS = 0.10  # a difference of missing shares between arms that costs a step


def downgrades_of(
    log: Logbook, design: Design, by_unit: pd.DataFrame, chosen: JudgingDay, earlier_looks: int
) -> list[str]:
    """Return a code for everything that costs this comparison a step of the claim ladder."""
    if design.tier in ("single", "one"):
        return []
    steps = []
    if unequal_clocks(log, design):
        steps.append("unequal_clocks")
    if missing_gap(by_unit) > MISSING_DIFFERS:
        steps.append("missing_differs")
    if unplanned_look(log, chosen, earlier_looks):
        steps.append("unplanned_look")
    if plan_is_late(log):
        steps.append("plan_after_start")
    if left_out_units(design) and not log.trial.get("exclusions"):
        steps.append("left_out_without_rule")
    return steps


def unequal_clocks(log: Logbook, design: Design) -> bool:
    """Whether the ages of the compared batches are counted from different events."""
    batches = [b for bs in design.units["batches"] for b in bs]
    clocks = log.batches.loc[log.batches["batch"].isin(batches), "clock"]
    return bool(clocks.nunique() > 1)


def unplanned_look(log: Logbook, chosen: JudgingDay, earlier_looks: int) -> bool:
    """Whether this look at the result is one more than were planned beforehand."""
    planned = log.trial.get("looks_planned")
    look = earlier_looks + 1
    if planned is None:
        return chosen.interim or look > 1
    return look > float(str(planned))


def missing_gap(by_unit: pd.DataFrame) -> float:
    """How far the mean share of missing fish differs between the arms.

    Where nobody wrote down dead fish in either arm, all losses are missing fish and say nothing.
    """
    if not by_unit["dead_recorded"].any():
        return 0.0
    share = by_unit["missing"] / by_unit["start_best"].where(by_unit["start_best"] > 0)
    means = share.fillna(0.0).groupby(by_unit["tested"]).mean()
    return float(means.max() - means.min()) if len(means) == 2 else 0.0


def plan_is_late(log: Logbook) -> bool:
    """Whether the plan was written after the first batch had started."""
    written = log.trial.get("plan_written_on")
    return written is not None and bool(pd.Timestamp(str(written)) > log.batches["started"].min())


def left_out_units(design: Design) -> list[str]:
    """Units or batches left out for something that happened in the trial itself."""
    stopped = [b for r in design.remarks if r.code == "batch_stopped" for b in r.values["batches"]]
    out = [u for u, why in design.left_out.items() if why in ("not_observed_to_day",)]
    return sorted({*stopped, *out})
