"""What takes a comparison down the claim ladder, one code a step."""

from __future__ import annotations

import pandas as pd

from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.logbook.logbook import Logbook


def downgrades_of(
    log: Logbook, design: Design, chosen: JudgingDay, earlier_looks: int
) -> list[str]:
    """Return a code for everything that costs this comparison a step of the claim ladder."""
    if design.tier in ("single", "one"):
        return []
    steps = []
    if unequal_clocks(log, design):
        steps.append("unequal_clocks")
    if not chosen.declared and not (chosen.interim and chosen.wanted is not None):
        steps.append("day_not_declared")
    if unplanned_look(log, chosen, earlier_looks):
        steps.append("unplanned_look")
    if plan_is_late(log):
        steps.append("plan_after_start")
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


def plan_is_late(log: Logbook) -> bool:
    """Whether the plan was written after the first batch had started."""
    written = log.trial.get("plan_written_on")
    return written is not None and bool(pd.Timestamp(str(written)) > log.batches["started"].min())
