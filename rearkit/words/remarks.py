"""What limits an answer: one template for every code that several answers can remark.

What only one question says stands in its own ``words.py``; an answer joins the two.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from rearkit.batch.remark import Remark
from rearkit.words.numbers import about, count, decimals, listed, one_in, percent

SENTENCES: dict[str, str] = {
    "too_few_units.t": "The arrangement test cannot go below {p_min} with so few units, "
    "whatever the fish did: it can hint, not settle.",
    "too_few_units.few": "With so few units chance alone deals out the cleanest gap in {p_min} "
    "trials, so no test is claimed.",
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
    "unplanned_look": "This look at the result was not planned before the start; that takes a step "
    "off what may be said.",
    "plan_before": "The plan was written before the first batch started.",
    "plan_after_start": "The plan was written after the first batch had started, so it may have "
    "been made to fit.",
    "left_out_without_rule": "Left out by the keeper ({reasons}), with no rule for it written "
    "before the start: {batches}.",
    "left_out_by_rule": "Left out by a rule written before the start ({rule}): {batches} "
    "({reasons}).",
    "which_methods": "The log has several methods ({methods}) and does not say which two to "
    "compare: fill in usual and tested on the Trial sheet.",
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
    "on which every unit that has a say was counted.",
    "day_set": "Day {day} was set for this page; it is not a day that was declared beforehand.",
    "day_before_declared": "Day {wanted} was wanted; not all were counted then, so all are judged "
    "on day {day}, the last day that all reached.",
    "late_first_count": "Batches were first counted at different ages ({batches} later than the "
    "others), so all are compared from day {landmark} on; what died before is not in the "
    "comparison.",
    "no_plan": "The log holds no date on which the plan was written, so nobody can check that the "
    "question came before the answer.",
    "looks.planned": "This is look {look} at the result, of {planned} planned.",
    "looks.unplanned": "This is look {look} at the result, and none was planned. Looking 2, 3, 5 "
    "or 10 times turns a chance of 5 in 100 of seeing what is not there into 8, 11, 14 or 19.",
    "looks.more": "This is look {look} at the result, more than the {planned} that were planned: "
    "every look more is one more chance to see what is not there.",
    "never_counted": "Never counted, neither at the start nor later, and so left out: {batches}.",
    "still_running": "This is an interim look: {running} still running.",
    "missing_fish": "Of {start} fry, {missing} vanished without a body; they are counted as dead, "
    "some time between the two counts that they vanished between.",
    "missing_cannot_erase": "Even if all the missing fry of {arm} ({missing}) were alive "
    "somewhere, the difference would keep its sign.",
    "missing_can_erase": "If about {needed} of the missing fry of {arm} ({missing}) were in truth "
    "alive, the difference would be gone.",
    "reading_open_units": "Not counted on the judging day, or stopped before it: {batches}. With "
    "these as bad, or as good, as the log allows, {comes_to}. Count every fish on the day.",
    "reading_missing_by_arm.unlike": "The fry were not counted alike at the start of the two "
    "methods, so those that are missing with {worse} ({missing}) may never have been there. Read "
    "in that way, {comes_to}. Count every start in the same way and at the same age.",
    "reading_missing_by_arm.rough": "Starts were counted roughly and by somebody who knew the "
    "method, and more fry are missing with {worse} ({missing}). If those were never there, "
    "{comes_to}. Count the start exactly, or have it counted by somebody who does not know.",
    "reading_taken_out": "Fry were taken out as sick, as runts or without a reason ({batches}). If "
    "all of these had died, {comes_to}. Write down why fish are taken out, and keep the weak ones.",
    "reading_pairs": "The clutches come from a few pairs, each with one method: {n_tested} against "
    "{n_usual}. With pairs as the units, {comes_to}. Give every pair both methods.",
    "reading_water": "The containers share a few water systems, each with one method: {n_tested} "
    "against {n_usual}. With systems as the units, {comes_to}. Give every system both methods.",
    "reading_same_clutch": "Names that may be one clutch: {clutches}. Read as one, {comes_to}. "
    "Write the name of a clutch in one way.",
    "reading_put_back": "Left out with no rule written before, or with rows that contradict each "
    "other: {batches}. Put back in, as bad or as good as they may have been, {comes_to}. Write "
    "down before the start what will be left out.",
    "reading_all_together": "Each of the other readings of this log by itself changes nothing; "
    "taken together, {comes_to}.",
    "nothing_to_compare": "There is one method only in this log, so it shows what happened, not "
    "what helped.",
    "other_method": "Batches of another method are not in this comparison: {methods}.",
    "two_kinds_of_length": "Total and standard length are mixed; {n_fish} fish that were not "
    "measured in {kept} length are left out ({batches}).",
    "spread_left_out": "A standard deviation of more than half the mean was taken for a slip and "
    "left out ({batches}).",
    "too_few_survivors": "Fewer than two fry were left in {units}: nothing is divided by next to "
    "nothing, so minutes a survivor are not compared.",
}
"""The templates; a code with variants has a key for each, joined by a dot."""

COMES_TO = {
    "too_few": "there are too few to tell anything",
    "not_settled": "the difference is not settled",
    "turns": "the difference turns round",
    "settled": "the difference would look settled",
}

WRITTEN: dict[str, Callable[[Any], str]] = {
    "comes_to": COMES_TO.__getitem__,
    "p_min": lambda p: one_in(float(p)),
    "missing": lambda n: about(float(n)),
    "start": lambda n: about(float(n)),
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
