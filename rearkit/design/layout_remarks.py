"""What the layout of a trial and its days leave open, whatever was measured on its units."""

from __future__ import annotations

from collections.abc import Iterator

from rearkit.batch.remark import Remark
from rearkit.design.claims import Claim
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.design.readings import Reading, agree
from rearkit.logbook.logbook import Logbook

WORST_FIRST = ("turns", "too_few", "not_settled", "settled")
UNEVEN_SPREAD = 1.5  # the smaller arm varies this much more than the larger


def about_the_claim(design: Design, comparison: Comparison, level: Claim) -> Iterator[Remark]:
    """Yield what keeps a comparison from being a fair test, the readings that turn it first."""
    yield from about_the_readings(comparison)
    if design.tier in ("t", "few", "one"):
        yield too_few_units(design)
    if design.aliased:
        yield Remark(code="aliased", values={"what": list(design.aliased)})
    if design.assigned == "unknown":
        yield Remark(code="assigned_unknown")
    elif design.assigned != "random draw":
        yield Remark(code="not_random", values={"how": design.assigned})
    for code in level.downgrades:
        if code != "day_not_declared":  # told with the day
            yield Remark(code=code)
    if comparison.sd_ratio is not None and comparison.sd_ratio > UNEVEN_SPREAD:
        yield Remark(code="smaller_arm_varies", values={"ratio": comparison.sd_ratio})


def about_the_readings(comparison: Comparison) -> Iterator[Remark]:
    """Yield the readings that say something else than the log as counted, the worst first."""
    readings = comparison.readings
    if agree(readings) and not any(r.tier == "few" for r in readings):
        return
    base = readings[0]
    told = [(r, comes_to(base, r)) for r in readings[1:]]
    turned = [(r, how) for r, how in told if how is not None]
    if any(r.code != "all_together" for r, _ in turned):
        turned = [(r, how) for r, how in turned if r.code != "all_together"]
    turned.sort(key=lambda pair: (WORST_FIRST.index(pair[1]), -(pair[0].p_value or 0.0)))
    for reading, how in turned:
        yield Remark(
            code=f"reading_{reading.code}",
            values=reading.values | {"comes_to": how},
            variant=reading.variant,
        )


def comes_to(base: Reading, other: Reading) -> str | None:
    """Return what another reading makes of a verdict; None if it says the same."""
    if other.p_value is None and other.tier in ("few", "one"):
        return "too_few"
    if other.settled and base.settled and other.estimate * base.estimate < 0:
        return "turns"
    if other.settled == base.settled:
        return None
    return "settled" if other.settled else "not_settled"


def about_the_looks(
    log: Logbook, design: Design, chosen: JudgingDay, earlier_looks: int
) -> Iterator[Remark]:
    """Yield how many looks at the result this makes, where it is an early or a repeated one."""
    if design.tier != "single" and (chosen.interim or earlier_looks):
        yield this_look(log, earlier_looks)


def about_the_day(log: Logbook, design: Design, chosen: JudgingDay) -> Iterator[Remark]:
    """Yield what the judging day leaves open: not declared, late first counts, units not seen."""
    if design.tier != "single":
        said = {
            "all_reached": "day_before_declared",
            "set": "day_set",
            "none_declared": "day_not_declared",
        }
        if chosen.rule in said:
            values = {"day": chosen.day, "wanted": chosen.wanted}
            yield Remark(code=said[chosen.rule], values=values)
        late = {b: a for b, a in chosen.firsts.items() if a > min(chosen.firsts.values())}
        if late:
            yield Remark(
                code="late_first_count",
                values={"landmark": chosen.landmark, "batches": sorted(late)},
            )
        if log.trial.get("plan_written_on") is None:
            yield Remark(code="no_plan")
    never = sorted(u for u, why in design.left_out.items() if why == "never_counted")
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
