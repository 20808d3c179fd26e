"""What limits an answer: one sentence for every code that a question can remark."""

from __future__ import annotations

import math
from typing import Any

from rearkit.questions.answer import Remark
from rearkit.report.wording import (
    remarks_effort,
    remarks_growth,
    remarks_interruption,
    remarks_methods,
    remarks_place_use,
)
from rearkit.report.wording.numbers import about, count, decimals, listed, number, one_in, percent

# A sentence is a template over the values of its remark, made readable by ``_readable``.
SENTENCES: dict[str, str] = {
    "too_few_units.t": "The arrangement test cannot go below {p_min} with so few units, "
    "whatever the fish did: it can hint, not settle.",
    "too_few_units.pattern": "With so few units chance alone deals out the cleanest gap in "
    "{p_min} trials, so no test is claimed.",
    "too_few_units.one": "With one unit of a method there is no telling the method from the tub, "
    "the clutch or luck.",
    "aliased": "All that had one method also had this in common, and the others did not: {what}. "
    "It cannot be told apart from the method.",
    "assigned_unknown": "The log does not say how the methods were dealt out, so whatever guided "
    "the choice may have made the difference.",
    "not_random": "The containers were not dealt out by a random draw ({how}), so whatever guided "
    "the choice may have made the difference.",
    "unequal_clocks": "The ages of some batches are counted from another event than the rest, so "
    "their days do not line up exactly.",
    "missing_differs": "The share of fish that vanished without a body differs by {gap} between "
    "the methods, and nobody can say where they went.",
    "unplanned_look": "This look at the result was not planned before the start; that takes a step "
    "off what may be said.",
    "plan_before": "The plan was written before the first batch started.",
    "plan_after_start": "The plan was written after the first batch had started, so it may have "
    "been made to fit.",
    "left_out_without_rule": "Something was left out of the comparison and no rule for leaving out "
    "was written before the start.",
    "no_finite_interval": "With so few units there is no finite range at this level of certainty.",
    "smaller_arm_varies": "The method with fewer units also varies {ratio} times as much, which "
    "makes any test of unequal groups shaky.",
    "batch_stopped": "Left out, since their rows contradict each other (see the log check): "
    "{batches}.",
    "usual_assumed": "The log does not say which method is the usual one; {usual} is taken as the "
    "usual and {tested} as the tested.",
    "mixed_layouts": "Some clutches were split between the methods and some were not; the smaller "
    "set ({batches}) is not in the comparison.",
    "one_clutch": "All containers come from one clutch ({clutch}): the answer is about that "
    "clutch.",
    "no_clutch": "For {n_batches} the log does not say which clutch it came from; containers are "
    "taken as separate, though they may share parents.",
    "shared_water": "{n} containers share water ({system}), so they are not independent of each "
    "other.",
    "block_dropped": "Clutch {block} is left with one method only and takes no part in the "
    "comparison.",
    "day_not_declared": "The judging day was not declared beforehand; day {day} is the last one "
    "that every unit reached.",
    "day_not_reached": "The declared day {wanted} has not been reached; day {day} is the last one "
    "that every unit reached.",
    "late_first_count": "Batches were first counted at different ages ({batches} later than the "
    "others), so all are compared from day {landmark} on; what died before is not in the "
    "comparison.",
    "no_plan": "The log holds no date on which the plan was written, so nobody can check that the "
    "question came before the answer.",
    "unit_left_out": "{unit} was not watched up to day {day} and is left out of the comparison.",
    "looks.planned": "This is look {look} at the result, of {planned} planned.",
    "looks.unplanned": "This is look {look} at the result, and none was planned. Looking 2, 3, 5 "
    "or 10 times turns a chance of 5 in 100 of seeing what is not there into 8, 11, 14 or 19.",
    "looks.more": "This is look {look} at the result, more than the {planned} that were planned: "
    "every look more is one more chance to see what is not there.",
    "never_counted": "Never counted, neither at the start nor later, and so left out: {batches}.",
    "still_running": "This is an interim look: {batches} still running.",
    "start_unknown": "How many fry started is not known for {batches}; counted back from later, "
    "their survival is 'at best', since fry lost before the first count cannot be seen.",
    "no_final_count": "Nobody counted all the fish on or after the judging day in {batches}; fish "
    "that vanished there cannot be seen, so survival is 'at best'.",
    "dead_not_recorded": "No dead fish were written down for {batches}: all that is known is how "
    "many were left.",
    "missing_fish": "Of {start} fry, {missing} vanished without a body; they are counted as dead, "
    "placed in time like the deaths that were seen.",
    "count_ranges.holds": "Start counts are ranges. Even with every count leaning against it, the "
    "difference keeps its sign.",
    "count_ranges.turns": "Start counts are ranges. With every count leaning against it, the "
    "difference would turn round.",
    "ill_removed": "Taken out as sick or runts, and counted as taken out, not as dead: {n}.",
    "missing_cannot_erase": "Even if all the missing fry of {arm} ({missing}) were alive "
    "somewhere, the difference would keep its sign.",
    "missing_can_erase": "If about {needed} of the missing fry of {arm} ({missing}) were in truth "
    "alive, the difference would be gone.",
    "nothing_to_compare": "There is one method only in this log, so it shows what happened, not "
    "what helped.",
    "other_method": "Batches of another method are not in this comparison: {methods}.",
}

SENTENCES |= remarks_effort.SENTENCES | remarks_interruption.SENTENCES | remarks_place_use.SENTENCES
SENTENCES |= remarks_growth.SENTENCES | remarks_methods.SENTENCES


def sentence(remark: Remark) -> str:
    """Say one remark in plain words.

    Raises
    ------
    KeyError
        If the code has no sentence.
    """
    key, values = _variant(remark.code, dict(remark.values))
    return SENTENCES[key].format(**{k: _readable(k, v) for k, v in values.items()})


def _variant(code: str, values: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """Return the key of the sentence where a code has more than one."""
    code = remarks_place_use.variant(code, values)
    code, values = remarks_methods.variant(code, values)
    if code == "too_few_units":
        return f"{code}.{values['tier']}", values
    if code == "looks":
        planned = values["planned"]
        if planned is None:
            return f"{code}.unplanned", values
        return f"{code}.{'more' if values['look'] > planned else 'planned'}", values
    if code == "count_ranges":
        return f"{code}.{'holds' if values['holds'] else 'turns'}", values
    if code == "day_not_declared" and values.get("wanted") is not None:
        return "day_not_reached", values
    if code == "no_clutch":
        return code, values | {"n_batches": count(values["n"], "batch", "batches")}
    if code == "still_running":
        names = values["batches"]
        verb = "is" if len(names) == 1 else "are"
        return code, values | {"batches": f"{listed(names)} {verb}"}
    if code == "ill_removed":
        return code, values | {"n": f"{about(values['n'])} fish"}
    return code, values


def _readable(name: str, value: Any) -> str:
    """Write one value of a remark by its name and type."""
    if isinstance(value, list | tuple):
        return listed([str(v) for v in value])
    if value is None:
        return "not known"
    if name == "curve":
        return remarks_growth.CURVES_IN_WORDS[str(value)]
    if name == "p_min":
        return one_in(float(value))
    if name in ("missing", "start"):
        return about(float(value))
    if name == "gap":
        return f"{number(100 * float(value), 2)} points"
    if name == "share":
        return percent(float(value))
    if name == "needed":
        return str(math.ceil(float(value)))
    if isinstance(value, float):
        return decimals(value, 1)
    return str(value)
