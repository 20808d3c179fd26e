"""The minutes in words, by claim level and never above it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from rearkit.design.comparison import Comparison
from rearkit.words.blocks import Said, listed_prose
from rearkit.words.comparisons import days_of, p_or_why, too_few_words, units_of
from rearkit.words.numbers import count, decimals, listed, more_or_fewer, number, span_words

if TYPE_CHECKING:
    from rearkit.answers.effort.answer import EffortAnswer

SENTENCES: dict[str, str] = {
    "no_minutes": "No minutes were written down for {units}.",
    "minutes_partly": "Not every visit was timed ({units}, as few as {share} of them), so the sums "
    "are the least that it took.",
    "no_price": "How many more fry lived is not settled, so minutes for every extra fry are not "
    "worked out: divided by next to nothing, any number comes out.",
    "survival_not_alike": "The log can be read in ways that do not say the same of how many fry "
    "lived, so the minutes are told beside it and no more is claimed of them.",
    "minutes_beside_main": "The main outcome is {main}; minutes stand beside it as an estimate, "
    "not as a second test.",
}
"""What limits this answer, one template a code."""


HEADLINES: dict[str, str] = {
    "none": "The log holds no minutes, so it cannot say what the fry cost the keeper; that is what "
    "the column minutes of the sheet Daily is for.",
    "lacking": "Minutes were written down for one of the methods only, so their work cannot be "
    "compared; a container that was timed took {minutes_a_day} minutes a day.",
    "diary": "A container took about {minutes_a_day} minutes a day{per_survivor}, over {batches}.",
    "0.one": "{days}, this {tested} container took {minutes_tested} minutes, with {alive_tested} "
    "fry alive at the end, and this {usual} container {minutes_usual} minutes, with {alive_usual}; "
    "one of each says nothing of the methods.",
    "0.few": "{days}, a container took {minutes_tested} minutes with {tested}, with {alive_tested} "
    "fry alive at the end, and {minutes_usual} minutes with {usual}, with {alive_usual}, in "
    "{units}; a single one of either says nothing of the methods.",
    "interim": "Interim look, no verdict: so far, {days_inside}, a container took {minutes_tested} "
    "minutes with {tested} and {minutes_usual} minutes with {usual}, in {units}.",
    "1.few": "Too few to tell: {days_inside}, a container took {minutes_tested} minutes with "
    "{tested}, with {alive_tested} fry alive at the end, and {minutes_usual} minutes with {usual}, "
    "with {alive_usual}, in {units}. {reach}",
    "1.weak": "Too little to go on: {days_inside}, a container took {minutes_tested} minutes with "
    "{tested}, with {alive_tested} fry alive at the end, and {minutes_usual} minutes with {usual}, "
    "with {alive_usual}, in {units}.",
    "2.settled": "{days}, a container took {gap} minutes where the method was {tested} ({span}), "
    "in {units}; at the end {alive_tested} fry were alive in it against {alive_usual}. The two go "
    "together; that one made the other cannot be told.",
    "2.open": "Whether {tested} goes with more or less work than {usual} is not settled: {gap} "
    "minutes a container {days_inside} ({span}), in {units}, with {alive_tested} fry alive at the "
    "end against {alive_usual}.",
    "2.estimate": "{days}, a container took about {gap} minutes where the method was {tested} "
    "({span}), in {units}; at the end {alive_tested} fry were alive in it against {alive_usual}. "
    "That is an estimate, and what went along with the method may be behind it.",
    "3.settled": "A hint: {days_inside}, a container took {gap} minutes with {tested} than with "
    "{usual} ({span}), in {units}, with {alive_tested} fry alive at the end against {alive_usual}.",
    "3.open": "Not settled: {gap} minutes a container with {tested} than with {usual} "
    "{days_inside} ({span}), in {units}, with {alive_tested} fry alive at the end against "
    "{alive_usual}. The layout was fair but too small.",
    "3.estimate": "An estimate, not a test: {days_inside}, a container took about {gap} minutes "
    "with {tested} than with {usual} ({span}), in {units}, with {alive_tested} fry alive at the "
    "end against {alive_usual}.",
    "4.settled": "With {tested}, a container took {gap} minutes {days_inside} than with {usual} "
    "({span}), in a fair test of {units}; at the end {alive_tested} fry were alive in it against "
    "{alive_usual}.",
    "4.open": "This fair test of {units} did not settle which of {tested} and {usual} is more "
    "work: {gap} minutes a container {days_inside} ({span}), with {alive_tested} fry alive at the "
    "end against {alive_usual}.",
    "4.estimate": "An estimate beside the main outcome: {days_inside}, a container took about "
    "{gap} minutes with {tested} than with {usual} ({span}), in {units}; at the end {alive_tested} "
    "fry were alive in it against {alive_usual}.",
}

OLDER = {
    "rule": "The older way of rearing by hand asked for a feed and a water change every {hours} "
    "hours, day and night (common practice, no source): {rounds} rounds a day. "
    "Whether as many fry would have lived with it, this log cannot say.",
    "compare": "{method}{own_feeds} feeds a day at {a_feed} minutes each. The older way would have "
    "taken about {older} minutes a container over the same days, instead of {own}.",
    "not_compared": "Not compared with it, since no feed was timed or there was less than one a "
    "day: {methods}.",
    "not_asked": "The older way of rearing by hand, a feed every few hours, is not compared with; "
    "set older_every_hours to have it.",
}

SURVIVORS = {
    "survivor": "Minutes for every fry alive at the end: {tested_minutes} with {tested}, "
    "{usual_minutes} with {usual}, {gap} ({span}).",
    "price": "Every fry more at the end came with {price} more of work.",
    "saving": "More fry and less work went together: {price} less for every fry more.",
    "p": "Minutes are the main outcome that was declared. {p}",
}


def headline(answer: EffortAnswer) -> str:
    """Say in one sentence what the fry cost, with the survivors beside it."""
    c, table = answer.minutes, answer.work.by_unit
    timed = table[table["minutes"].notna()]
    if timed.empty:
        return HEADLINES["none"]
    a_day = number(timed["minutes_a_day"].mean(), 2)
    if c is None or answer.alive is None:
        if answer.design.tested is not None:
            return HEADLINES["lacking"].format(minutes_a_day=a_day)
        return HEADLINES["diary"].format(
            minutes_a_day=a_day,
            per_survivor=_each(answer),
            batches=count(len(timed), "batch", "batches"),
        )
    return HEADLINES[_key(answer, c)].format(**_values(answer, c, answer.alive))


def _each(answer: EffortAnswer) -> str:
    each = answer.work.by_unit["minutes_per_survivor"].dropna()
    return f", {number(each.mean(), 2)} in all for every fry still alive" if len(each) else ""


def _key(answer: EffortAnswer, c: Comparison) -> str:
    level = answer.claim.level
    if answer.day.interim:
        return "interim"
    if level == 0:
        return "0.one" if c.n_usual == c.n_tested == 1 else "0.few"
    if level == 1:
        return "1.few" if answer.small is not None else "1.weak"
    if not answer.tested:
        return f"{level}.estimate"
    return f"{level}.{'settled' if c.settled else 'open'}"


def _values(answer: EffortAnswer, c: Comparison, alive: Comparison) -> dict[str, str]:
    days = days_of(answer.day)
    return {
        "days": days[0].upper() + days[1:],
        "days_inside": days,
        "tested": str(answer.design.tested),
        "usual": str(answer.design.usual),
        "units": units_of(answer.design),
        "gap": more_or_fewer(c.estimate, 0),
        "span": span_words(c.conf_low, c.conf_high, 0),
        "reach": _reach(answer),
        "minutes_tested": decimals(c.mean_tested, 0),
        "minutes_usual": decimals(c.mean_usual, 0),
        "alive_tested": decimals(alive.mean_tested, 0),
        "alive_usual": decimals(alive.mean_usual, 0),
    }


def _reach(answer: EffortAnswer) -> str:
    if answer.small is None:
        return ""
    return too_few_words(answer.design, answer.small, lambda x: f"{decimals(x, 0)} minutes")


def survivor_words(answer: EffortAnswer) -> list[str]:
    """Say the minutes a survivor, the price of a survivor, and the p if there is one."""
    lines, d = [], answer.design
    c = answer.per_survivor
    if c is not None:
        lines.append(
            SURVIVORS["survivor"].format(
                tested=d.tested,
                usual=d.usual,
                tested_minutes=decimals(c.mean_tested, 1),
                usual_minutes=decimals(c.mean_usual, 1),
                gap=more_or_fewer(c.estimate, 1),
                span=span_words(c.conf_low, c.conf_high, 1),
            )
        )
    if answer.price is not None:
        key = "price" if answer.price >= 0 else "saving"
        lines.append(SURVIVORS[key].format(price=_minutes(answer.price)))
    if answer.tested and answer.minutes is not None:
        lines.append(SURVIVORS["p"].format(p=p_or_why(d, answer.minutes)))
    return lines or ["No minutes a survivor can be compared here."]


def _minutes(x: float) -> str:
    return f"about {count(round(abs(x)), 'minute')}" if abs(x) >= 1 else "less than a minute"


def older_words(answer: EffortAnswer) -> list[str]:
    """Say what the older way would have taken, and that it has no source."""
    if not answer.older and not answer.not_older:
        return [OLDER["not_asked"]]
    lines = []
    for i, o in enumerate(answer.older):
        if i == 0:
            hours, rounds = decimals(o.every_hours, 1), decimals(o.rounds_a_day, 1)
            lines.append(OLDER["rule"].format(hours=hours, rounds=rounds))
        text = OLDER["compare"].format(
            method=f"{o.method}: " if o.method else "Here there were ",
            own_feeds=decimals(o.own_feeds_a_day, 1),
            a_feed=number(o.minutes_a_feed, 2),
            older=decimals(o.minutes, 0),
            own=decimals(o.own_minutes, 0),
        )
        lines.append(text)
    if answer.not_older:
        lines.append(OLDER["not_compared"].format(methods=listed(answer.not_older)))
    return lines


PARTS: dict[str, Callable[[EffortAnswer], Said]] = {
    "survivors": lambda answer: listed_prose(survivor_words(answer)),
    "older": lambda answer: listed_prose(older_words(answer)),
}
