"""What an interruption cost, in words that never say more than that two things went together."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.words.blocks import Said, listed_prose
from rearkit.words.numbers import count, decimals, listed, number, p_is

if TYPE_CHECKING:
    from rearkit.answers.interruption.answer import InterruptionAnswer
    from rearkit.answers.interruption.before_and_after import Happening
    from rearkit.answers.interruption.verdict import Verdict

SENTENCES: dict[str, str] = {
    "several_events": "The log has {n} events; this page is about number {number} of the sheet "
    "Events.",
    "not_dealt_out": "Nobody drew lots for when the event came and on whom, so whatever else went "
    "on in those days may be behind a change.",
    "told_not_tested": "Tested is only what fell on at least four clutches while four others "
    "passed all the same ages without it (here: {n_hit} and {n_beside}). Counting fish instead "
    "would take every outbreak, and the fall of deaths with age, for the event.",
    "other_reading": "Bodies of single clutches would make the change look settled; with those "
    "that vanished counted as dead, or with pairs or water systems as the units, it is not.",
    "no_dead_written": "No dead fish were written down for {batches}, so they are not in it.",
    "no_controls.all": "No other batch was watched through the same ages without such an event, so "
    "what the age of the fry alone would have done cannot be told.",
    "no_controls.some": "Nothing stands beside {batches}: no other batch was watched through the "
    "same ages without such an event.",
    "controls_on_other_days": "Some containers it is compared with ({batches}) passed the same "
    "ages on other days, with whatever those days brought.",
    "controls_without_deaths": "In the containers of the same age nobody died in either window, so "
    "they cannot serve as a measure.",
    "deaths_shared": "Some dead fish were found in looks that reach over the edge of a window; "
    "they are shared out by days (deaths in such looks: {n}).",
    "missing_around": "Around the event {missing} vanished without a body; nobody knows when they "
    "died, so they are not in the rates.",
    "one_container_holds_most": "One container ({batch}) has {share} of the deaths after the "
    "event.",
    "first_week": "The days before the event lie in the first week of some batches ({batches}), "
    "when losses are said to be heaviest (common practice, no source): a fall was due anyway.",
    "other_events_inside": "Another interruption fell into the windows of {batches}.",
    "growth_not_measured": "No container was measured on both sides of the event.",
}
"""What limits this answer, one template a code."""


HEADLINES: dict[str, str] = {
    "none": "The log has no event, so as far as it says nothing interrupted the rearing.",
    "unwatched": "No batch was watched both before and after {event}, so what it cost cannot be "
    "told.",
    "quiet": "No fry were found dead in the days before or after {event}, so the record shows no "
    "change in deaths.",
    "0.alone": "In this one container, after {event}, {deaths}. That is told, not tested: no other "
    "batch was watched through the same ages, so what age alone brings cannot be told.",
    "0.beside": "In this one container, after {event}, {deaths}; in {others} at the same age it "
    "was {beside}. That is told, not tested.",
    "1.alone": "In {units}, after {event}, {deaths}. That is told, not tested: no other batch was "
    "watched through the ages of all of them, so what age alone brings cannot be told.",
    "1.beside": "In {units}, after {event}, {deaths}; in {others} at the same ages it was "
    "{beside}. That is told, not tested.",
    "2.clear": "In {units}, after {event}, {deaths}. The death rate changed to {ratio} what it "
    "changed to in those of the same ages that were spared ({span}), {against}. The two go "
    "together; nobody dealt the event out.",
    "2.open": "In {units}, after {event}, {deaths}. Whether the death rate changed otherwise than "
    "in those of the same ages that were spared is not settled: {ratio} theirs ({span}), "
    "{against}.",
}

WHATS = {"heater off": "heater outage", "moved": "move", "other": "event"}

EXPECTED = (
    "Had they lost as many a day as the others at these ages, about {n} fry would have been found "
    "dead after it; {found} were."
)

NO_P = "no p, since the log can be read in ways that have too few units or point the other way"

PRACTICE: dict[str, tuple[str, ...]] = {
    "feed": (
        "Eight hours without food at one to two weeks of age are said to be within what fry stand "
        "(common practice, no source).",
        "A stand-by culture is said to bridge up to two days (common practice, no source): two or "
        "three, apart from each other and of different ages, are the usual safeguard.",
    ),
    "air": (
        "Hatching jars left without air for a few hours are said to be lost whole (common "
        "practice, no source).",
        "Before hands go into the water, heaters are switched off and unplugged.",
    ),
    "any": (
        "Losses are said to be heaviest in the first week anyway (common practice, no source), so "
        "the age of the fry matters more than the day of the year.",
    ),
}
KINDS = {"feed gap": "feed", "culture crash": "feed", "heater off": "air", "power cut": "air"}


def event_words(event: Happening) -> str:
    """Name an event: "the power cut of 22 April 2025"."""
    what = str(event.what or "other")
    return f"the {WHATS.get(what, what)} of {date_words(event.started)}"


def date_words(date: pd.Timestamp) -> str:
    """Write a date: "22 April 2025"."""
    return f"{date.day} {date:%B %Y}"


def headline(answer: InterruptionAnswer) -> str:
    """Say in plain words how many died around the event, and how far that is told or tested."""
    if answer.event is None:
        return HEADLINES["none"]
    event = event_words(answer.event)
    hit, v = answer.affected, answer.verdict
    if hit.empty:
        return HEADLINES["unwatched"].format(event=event)
    if hit["deaths_before"].sum() + hit["deaths_after"].sum() < 0.5:
        return HEADLINES["quiet"].format(event=event)
    if v is not None:
        key = "clear" if v.settled else "open"
    else:
        key = "alone" if answer.expected is None else "beside"
    return HEADLINES[f"{answer.level}.{key}"].format(
        event=event,
        units=count(len(hit), "container"),
        deaths=deaths_words(answer),
        others=count(len(answer.controls), "other batch", "other batches"),
        beside=beside_words(answer),
        ratio="" if v is None else times(v.ratio),
        span="" if v is None else times_span(v.conf_low, v.conf_high),
        against="" if v is None else against_words(v),
    )


def against_words(verdict: Verdict) -> str:
    """Say how many units were held against how many."""
    noun = "clutches" if verdict.unit == "clutch" else "containers"
    return f"{verdict.n_hit} against {verdict.n_beside} {noun}"


def pooled(table: pd.DataFrame, when: str) -> float | None:
    """Return deaths a day of every 100 fry, all batches of a table together."""
    days = float(table[f"fry_days_{when}"].sum())
    return 100.0 * float(table[f"deaths_{when}"].sum()) / days if days > 0 else None


def deaths_words(answer: InterruptionAnswer) -> str:
    """Say how many of 100 fry died a day after and before, and how many that were."""
    hit = answer.affected
    after, early = (decimals(hit[f"deaths_{w}"].sum(), 0) for w in ("after", "before"))
    return (
        f"{number(pooled(hit, 'after'), 2)} of every 100 fry were found dead a day ({after} in "
        f"all), against {number(pooled(hit, 'before'), 2)} before it ({early})"
    )


def beside_words(answer: InterruptionAnswer) -> str:
    """Say the same of the others, weighed as the fry that it fell on: "1.2 against 1.9"."""
    t = answer.by_event
    t = t[(t["event"] == (answer.event and answer.event.number)) & (t["n_beside"] > 0)]
    rates = []
    for when in ("after", "before"):
        days = t[f"fry_days_{when}"]
        known = float(days.sum()) > 0
        mean = (t[f"beside_per_100_{when}"] * days).sum() / days.sum() if known else None
        rates.append(number(mean, 2))
    return f"{rates[0]}, against {rates[1]} before"


def times_span(low: float | None, high: float | None) -> str:
    """Write an interval of a ratio: "1.3 to 29 times"."""
    if low is None or high is None:
        return "no range can be given"
    if math.isinf(high):
        return f"{number(low, 3)} times or more" if low > 0 else "any number of times"
    return f"{number(low, 3)} to {number(high, 3)} times"


def times(x: float) -> str:
    """Write a ratio: "2.7 times"."""
    text = number(x, 2)
    return f"{'1.0' if text == '1' else text} times"


def how_words(answer: InterruptionAnswer) -> list[str]:
    """Say what is held against what, and how sure it is."""
    if answer.event is None or not answer.found:
        return []
    e, v = answer.event, answer.verdict
    lasting = "on that day" if e.days == 0 else f"for {count(e.days, 'day')}"
    lines = [
        f"Asked about: {event_words(e)}, {lasting}; it fell on {listed(answer.affected['batch'])}.",
        f"Held against each other: the {decimals(answer.before_days, 1)} days before it began, and "
        f"the time from its beginning to {decimals(answer.after_days, 1)} days after its end. Such "
        "a window has to be chosen before looking; it is a setting of this page.",
    ]
    if len(answer.controls):
        lines.append(
            f"Beside them: {listed(answer.controls['batch'])}, watched through the same ages "
            "without such an event. Early deaths fall by themselves, so only the same ages compare."
        )
    if answer.expected is not None:
        found = decimals(answer.affected["deaths_after"].sum(), 0)
        lines.append(EXPECTED.format(n=decimals(answer.expected, 0), found=found))
    if v is not None:
        p = f"{p_is(v.p_value)} ({v.p_method})" if v.p_value is not None else NO_P
        lines.append(
            f"The change of the death rate over that of the others: {times(v.ratio)} "
            f"({times_span(v.conf_low, v.conf_high)}), {against_words(v)}, one value each: {p}."
        )
    return lines


def growth_words(answer: InterruptionAnswer) -> list[str]:
    """Say growth a day before, across and after, as an estimate."""
    g = answer.growth
    if g.empty:
        return ["The fry were not measured on both sides of it, so growth cannot be compared."]
    means = g.groupby("span")["mm_a_day"].agg(["mean", "size"])
    parts = [
        f"{span}: {decimals(means.at[span, 'mean'], 2)} mm a day "
        f"({count(means.at[span, 'size'], 'container')})"
        for span in ("before", "across", "after")
        if span in means.index
    ]
    return [
        f"Growth between the measured days, {'; '.join(parts)}. Fry grow faster and slower with "
        "age anyway; this is an estimate and no test."
    ]


def practice_words(answer: InterruptionAnswer) -> list[str]:
    """Give what is said of such events, marked as without a source."""
    if answer.event is None:
        return []
    kind = KINDS.get(str(answer.event.what))
    return [*PRACTICE.get(kind or "", ()), *PRACTICE["any"]]


def nothing_words(answer: InterruptionAnswer) -> list[str]:
    """Say that there is nothing to show."""
    return ["There are no deaths on both sides of an event to show."]


PARTS: dict[str, Callable[[InterruptionAnswer], Said]] = {
    "how": lambda answer: listed_prose(how_words(answer)),
    "growth": lambda answer: listed_prose(growth_words(answer)),
    "practice": lambda answer: listed_prose(practice_words(answer)),
    "nothing": lambda answer: listed_prose(nothing_words(answer)),
}
