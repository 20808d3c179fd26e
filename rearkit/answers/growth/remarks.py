"""What must be said beside a growth answer, and what takes it down the claim ladder."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from rearkit.batch.remark import Remark
from rearkit.design.claims import Claim
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design
from rearkit.design.downgrades import downgrades_of, plan_is_late, unequal_clocks
from rearkit.design.layout_remarks import (
    UNEVEN_SPREAD,
    about_the_readings,
    this_look,
    too_few_units,
)
from rearkit.design.readings import agree
from rearkit.design.unit_lengths import UnitLengths
from rearkit.logbook.logbook import Logbook

if TYPE_CHECKING:
    from rearkit.answers.growth.answer import GrowthAnswer

CROWDED = 1.25  # from this ratio of fish per litre on, crowding alone may explain growth
OUTCOME = "length"


def growth_downgrades(log: Logbook, lengths: UnitLengths, earlier_looks: int) -> list[str]:
    """Return a code for everything that costs a comparison of lengths a step.

    Parameters
    ----------
    log : Logbook
        The log.
    lengths : UnitLengths
        The lengths that are compared, with survival beside them.
    earlier_looks : int
        Looks at the result before this one.

    Returns
    -------
    list of str
        Those of a survival comparison, and: a length that is extrapolated, an outcome that the
        plan did not name as the main one, a unit that nobody measured.
    """
    design = lengths.designs["length"]
    if design.tier in ("single", "one"):
        return []
    steps = _shared_steps(log, design, lengths, earlier_looks)
    if lengths.extrapolated:
        steps.append("length_extrapolated")
    main = log.trial.get("main_outcome")
    if main is not None and str(main) != OUTCOME:
        steps.append("second_outcome")
    if _not_measured(design):
        steps.append("units_not_measured")
    return list(dict.fromkeys(steps))


def _shared_steps(
    log: Logbook, design: Design, lengths: UnitLengths, earlier_looks: int
) -> list[str]:
    if lengths.beside.chosen is not None:
        steps = downgrades_of(log, design, lengths.beside.chosen, earlier_looks)
        interim = lengths.beside.chosen.interim and not lengths.interim
        return [s for s in steps if not (interim and s == "unplanned_look" and not earlier_looks)]
    steps = ["unequal_clocks"] if unequal_clocks(log, design) else []
    return [*steps, "plan_after_start"] if plan_is_late(log) else steps


def _not_measured(design: Design) -> list[str]:
    return sorted(u for u, why in design.left_out.items() if why == "not_measured")


def growth_remarks(log: Logbook, answer: GrowthAnswer, earlier_looks: int) -> Iterator[Remark]:
    """Yield every remark that a growth answer calls for, most important first.

    Parameters
    ----------
    log : Logbook
        The log.
    answer : GrowthAnswer
        The answer, still without remarks.
    earlier_looks : int
        Looks at the result before this one.
    """
    if not answer.measured.series:
        yield Remark(code="no_lengths")
        return
    if answer.comparison is not None:
        yield from _about_the_claim(answer, answer.comparison, answer.claim)
    yield from answer.design.remarks
    yield from _about_the_day(log, answer, earlier_looks)
    yield from _about_survivors(answer)
    yield from _about_the_curves(answer)
    yield from answer.measured.remarks
    yield from _about_weights(answer)
    if answer.comparison is None:
        one_method = answer.design.tested is None
        values = {"n": len(answer.by_unit)}
        yield Remark(code="nothing_to_compare" if one_method else "growth_one_arm", values=values)


def _about_the_claim(answer: GrowthAnswer, c: Comparison, level: Claim) -> Iterator[Remark]:
    design = answer.design
    own = list(about_the_readings(c))
    yield from own
    survival = answer.lengths.survival
    if survival is not None and not agree(survival.readings):
        yield Remark(code="survival_not_alike")
        said = {remark.code for remark in own}
        yield from (r for r in about_the_readings(survival) if r.code not in said)
    if design.tier in ("t", "few", "one"):
        yield too_few_units(design)
    if design.aliased:
        yield Remark(code="aliased", values={"what": list(design.aliased)})
    if design.assigned != "random draw":
        yield Remark(code="not_random", values={"how": design.assigned})
    for code in level.downgrades:
        if code not in ("day_not_declared", "units_not_measured"):  # told with the day
            yield Remark(code=code, values=_values_of(code, answer))
    if c.sd_ratio is not None and c.sd_ratio > UNEVEN_SPREAD:
        yield Remark(code="smaller_arm_varies", values={"ratio": c.sd_ratio})


def _values_of(code: str, answer: GrowthAnswer) -> dict[str, object]:
    if code == "second_outcome":
        return {"main": answer.main_outcome}
    if code == "length_extrapolated":
        return {"day": answer.days.day, "units": answer.lengths.extrapolated}
    return {}


def _about_the_day(log: Logbook, answer: GrowthAnswer, earlier_looks: int) -> Iterator[Remark]:
    design, days = answer.design, answer.days
    if design.tier == "single":
        told = answer.by_unit[answer.by_unit["length_at"].notna()]
        late = told.loc[told["extrapolated"], "unit"].tolist()
        if late:
            yield Remark(code="length_extrapolated", values={"day": days.day, "units": late})
    elif not days.declared:
        why = "declared" if days.wanted is None else "reached"
        yield Remark(code=f"length_day_not_{why}", values={"day": days.day, "wanted": days.wanted})
    elif "day_not_declared" in answer.claim.downgrades:
        yield Remark(code="day_set", values={"day": days.day})
    if design.tier != "single" and log.trial.get("plan_written_on") is None:
        yield Remark(code="no_plan")
    out = _not_measured(design)
    if out:
        yield Remark(code="units_not_measured", values={"units": out})
    gone = sorted(u for u, why in design.left_out.items() if why == "no_fish_left")
    if gone:
        yield Remark(code="units_no_fish_left", values={"units": gone, "day": days.day})
    chosen = answer.beside.chosen
    if answer.interim or (earlier_looks and design.tier != "single"):
        yield this_look(log, earlier_looks)
    if chosen is not None and chosen.together and chosen.running:
        yield Remark(code="still_running", values={"running": list(chosen.running)})


def _about_survivors(answer: GrowthAnswer) -> Iterator[Remark]:
    """Only living fish are measured: say what the loss of the smallest, and room, may have done."""
    c = answer.comparison
    table = answer.by_method.set_index("tested")
    if answer.beside.chosen is None or table["survival"].isna().any():
        yield Remark(code="growth_without_survival")
        return
    never = sorted(b for b in answer.by_container["batch"] if b not in answer.beside.by_batch)
    if never:
        yield Remark(code="never_counted", values={"batches": never})
    if c is None:
        bounds = answer.by_unit["runts_lost_high"].dropna()
        if len(bounds) and float(bounds.max()) > 0:
            yield Remark(code="runts_lost_single", values={"most": float(bounds.max())})
        return
    low, high = -table.at[False, "runts_lost_high"], table.at[True, "runts_lost_high"]
    if np.isfinite([low, high]).all() and high - low > 0:
        within = bool(low <= c.estimate <= high)
        yield Remark(
            code=f"runts_lost_{'within' if within else 'beyond'}",
            values={"low": float(low), "high": float(high)},
        )
    usual, tested = table.at[False, "fish_per_litre"], table.at[True, "fish_per_litre"]
    if usual > 0 and tested > 0 and max(usual, tested) / min(usual, tested) >= CROWDED:
        yield Remark(
            code="crowding",
            values={
                "usual": answer.design.usual,
                "tested": answer.design.tested,
                "litre_usual": float(usual),
                "litre_tested": float(tested),
            },
        )


def _about_the_curves(answer: GrowthAnswer) -> Iterator[Remark]:
    table = answer.by_container
    for why in ("one_day", "too_few_days", "no_growth", "did_not_settle"):
        batches = table.loc[table["instead"] == why, "batch"].tolist()
        if batches:
            yield Remark(
                code=f"curve_{why}", values={"batches": batches, "curve": answer.curves.curve}
            )
    bound = table.loc[table["at_bound"], "batch"].tolist()
    if bound:
        yield Remark(code="curve_at_bound", values={"batches": bound, "curve": answer.curves.curve})
    if answer.curves.by == "fewest_parameters":
        yield Remark(code="curve_not_chosen", values={"curve": answer.curves.curve})
    if answer.curves.held_length is not None:
        yield Remark(code="adult_length_given", values={"length": answer.curves.held_length})
    elif not answer.finals and answer.curves.curve is not None:
        yield Remark(code="too_young")
    elif answer.finals:
        yield Remark(code="final_size_leans", values={"curve": answer.curves.curve})
    yield from _about_the_length(answer)


def _about_the_length(answer: GrowthAnswer) -> Iterator[Remark]:
    table = answer.by_container
    if answer.days.length_mm is not None:
        known = table["curve"].notna()
        never = table.loc[known & table["day_reached"].isna(), "batch"].tolist()
        if never:
            values = {"batches": never, "length": answer.days.length_mm}
            yield Remark(code="length_never_reached", values=values)
    ahead = table.loc[table["day_extrapolated"], "batch"].tolist()
    if ahead:
        values = {"batches": ahead, "length": answer.days.length_mm}
        yield Remark(code="day_reached_extrapolated", values=values)


def _about_weights(answer: GrowthAnswer) -> Iterator[Remark]:
    weight = answer.warmth.weight
    if weight is not None and weight.unusual:
        yield Remark(code="weight_exponent_unusual", values={"b": weight.exponent})
