"""What the layout of a trial and its days leave open, whatever was measured on its units."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from rearkit.batch.remark import Remark
from rearkit.design.claims import Claim
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design
from rearkit.design.downgrades import missing_gap
from rearkit.design.judging_day import JudgingDay
from rearkit.logbook.logbook import Logbook

UNEVEN_SPREAD = 1.5  # the smaller arm varies this much more than the larger


def about_the_claim(
    design: Design, comparison: Comparison, level: Claim, by_unit: pd.DataFrame
) -> Iterator[Remark]:
    """Yield what keeps a comparison from being a fair test: too few, aliased, not drawn."""
    if design.tier in ("t", "pattern", "one"):
        yield too_few_units(design)
    if design.aliased:
        yield Remark(code="aliased", values={"what": list(design.aliased)})
    if design.assigned == "unknown":
        yield Remark(code="assigned_unknown")
    elif design.assigned != "random draw":
        yield Remark(code="not_random", values={"how": design.assigned})
    for code in level.downgrades:
        yield Remark(code=code, values={"gap": missing_gap(by_unit)})
    if comparison.sd_ratio is not None and comparison.sd_ratio > UNEVEN_SPREAD:
        yield Remark(code="smaller_arm_varies", values={"ratio": comparison.sd_ratio})


def about_the_looks(
    log: Logbook, design: Design, chosen: JudgingDay, earlier_looks: int
) -> Iterator[Remark]:
    """Yield how many looks at the result this makes, where it is an early or a repeated one."""
    if design.tier != "single" and (chosen.interim or earlier_looks):
        yield this_look(log, earlier_looks)


def about_the_day(log: Logbook, design: Design, chosen: JudgingDay) -> Iterator[Remark]:
    """Yield what the judging day leaves open: not declared, late first counts, units not seen."""
    if design.tier != "single":
        if not chosen.declared:
            code = "day_not_declared" if chosen.wanted is None else "day_not_reached"
            yield Remark(code=code, values={"day": chosen.day, "wanted": chosen.wanted})
        late = {b: a for b, a in chosen.firsts.items() if a > min(chosen.firsts.values())}
        if late:
            yield Remark(
                code="late_first_count",
                values={"landmark": chosen.landmark, "batches": sorted(late)},
            )
        if log.trial.get("plan_written_on") is None:
            yield Remark(code="no_plan")
    out = sorted(u for u, why in design.left_out.items() if why == "not_observed_to_day")
    counted = log.account.set_index("batch")["ever_counted"]
    never = [u for u in out if not counted.get(u, True)]
    for unit in [u for u in out if u not in never]:
        yield Remark(code="unit_left_out", values={"unit": unit, "day": chosen.day})
    if never:
        yield Remark(code="never_counted", values={"batches": never})
    if chosen.running:
        yield Remark(code="still_running", values={"running": list(chosen.running)})


def too_few_units(design: Design) -> Remark:
    """Return the remark that a design is too small for a fair test."""
    return Remark(code="too_few_units", values={"p_min": design.p_min}, variant=design.tier)


def this_look(log: Logbook, earlier_looks: int) -> Remark:
    """Return the remark that says which look at the result this is."""
    look, planned = earlier_looks + 1, log.trial.get("looks_planned")
    variant = (
        "unplanned" if planned is None else ("more" if look > float(str(planned)) else "planned")
    )
    return Remark(code="looks", values={"look": look, "planned": planned}, variant=variant)
