"""What limits an answer: one template for every code that several answers can remark.

What only one question says stands in its own ``words.py``; an answer joins the two.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from rearkit.batch.remark import Remark
from rearkit.words.numbers import about, count, decimals, listed, number, one_in, percent

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
    "still_running": "This is an interim look: {running} still running.",
    "missing_fish": "Of {start} fry, {missing} vanished without a body; they are counted as dead, "
    "placed in time like the deaths that were seen.",
    "missing_cannot_erase": "Even if all the missing fry of {arm} ({missing}) were alive "
    "somewhere, the difference would keep its sign.",
    "missing_can_erase": "If about {needed} of the missing fry of {arm} ({missing}) were in truth "
    "alive, the difference would be gone.",
    "nothing_to_compare": "There is one method only in this log, so it shows what happened, not "
    "what helped.",
    "other_method": "Batches of another method are not in this comparison: {methods}.",
    "lengths_in_cm": "The lengths of this log are too small for fry in millimetres (half of them "
    "are below {typical}), so they are read as centimetres.",
    "two_kinds_of_length": "Total and standard length are mixed; {n_fish} fish that were not "
    "measured in {kept} length are left out ({batches}).",
    "spread_left_out": "A standard deviation of more than half the mean was taken for a slip and "
    "left out ({batches}).",
    "too_few_survivors": "Fewer than two fry were left in {units}: nothing is divided by next to "
    "nothing, so minutes a survivor are not compared.",
}
"""The templates; a code with variants has a key for each, joined by a dot."""

WRITTEN: dict[str, Callable[[Any], str]] = {
    "p_min": lambda p: one_in(float(p)),
    "missing": lambda n: about(float(n)),
    "start": lambda n: about(float(n)),
    "gap": lambda share: f"{number(100 * float(share), 2)} points",
    "share": lambda share: percent(float(share)),
    "needed": lambda n: str(math.ceil(float(n))),
    "n_batches": lambda n: count(n, "batch", "batches"),
    "running": lambda names: f"{listed(names)} {'is' if len(names) == 1 else 'are'}",
}
"""How a value is written, by its name; others are written by their type."""


def sentence(
    remark: Remark,
    sentences: Mapping[str, str] = SENTENCES,
    written: Mapping[str, Callable[[Any], str]] = WRITTEN,
) -> str:
    """Say one remark in plain words.

    Parameters
    ----------
    remark : Remark
        What is to be said.
    sentences : mapping of str to str
        One template a code (and variant).
    written : mapping of str to callable
        How to write a value, by its name.

    Raises
    ------
    KeyError
        If the code has no sentence.
    """
    key = f"{remark.code}.{remark.variant}" if remark.variant else remark.code
    values = {name: _written(name, value, written) for name, value in remark.values.items()}
    return sentences[key].format(**values)


def _written(name: str, value: Any, written: Mapping[str, Callable[[Any], str]]) -> str:
    if value is None:
        return "not known"
    if name in written:
        return written[name](value)
    if isinstance(value, list | tuple):
        return listed([str(v) for v in value])
    return decimals(value, 1) if isinstance(value, float) else str(value)
