"""What an interruption cost, in words that never say more than that two things went together."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.words.blocks import Said, listed_prose
from rearkit.words.numbers import MINUS, count, decimals, listed, number, p_is

if TYPE_CHECKING:
    from rearkit.answers.interruption.answer import InterruptionAnswer
    from rearkit.answers.interruption.before_and_after import Happening

SENTENCES: dict[str, str] = {
    "several_events": "The log has {n} events; this page is about number {number} of the sheet "
    "Events.",
    "not_dealt_out": "Nobody drew lots for when the event came and on whom, so whatever else went "
    "on in those days may be behind a change.",
    "no_controls": "No container passed the same age without such an event, so what the age of the "
    "fry alone would have done cannot be told.",
    "controls_on_other_days": "Some containers it is compared with ({batches}) passed the same "
    "ages on other days, with whatever those days brought.",
    "controls_without_deaths": "In the containers of the same age nobody died in either window, so "
    "they cannot serve as a measure.",
    "deaths_shared": "Some dead fish were found in looks that reach over the edge of a window; "
    "they are shared out by days (deaths in such looks: {n}).",
    "missing_around": "Around the event {missing} vanished without a body; nobody knows when they "
    "died, so they are not in the rates.",
    "one_container_holds_most": "One container ({batch}) has {share} of the deaths after the "
    "event, so the range is too narrow: its deaths did not fall independently.",
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
    "0.clear": "In this one container, after {event}, {deaths}: {change} ({span}){placebo}. "
    "Whether the event or the age of the fry is behind it cannot be told from one container.",
    "0.open": "In this one container, after {event}, {deaths}; whether the death rate changed is "
    "not settled ({span}){placebo}.",
    "1.clear": "Too little to go on: in {n} containers, after {event}, {deaths}: {change} ({span})"
    "{placebo}. The age of the fry may be behind it.",
    "1.open": "In {n} containers, after {event}, {deaths}; whether the death rate changed is not "
    "settled ({span}){placebo}.",
    "2.clear": "After {event}, {deaths}. Beside {controls} that passed the same age without it, "
    "the change of the death rate was {relative} ({relative_span}); {excess}. The two go together; "
    "nobody dealt the event out.",
    "2.open": "After {event}, {deaths}. Beside {controls} that passed the same age without it, the "
    "change of the death rate was {relative} ({relative_span}), which is not settled.",
}

CHANGE = {
    "rose": "{ratio} times the death rate of before",
    "fell": "a death rate {ratio} times that of before",
    "from none": "none had died before",
}

WHATS = {"heater off": "heater outage", "moved": "move", "other": "event"}

PLACEBO = {
    "rare": "; of {n} other dates in the record, {k} show a rise as large",
    "none": "; of {n} other dates in the record, none shows a rise as large",
    "no dates": "; the record is too short to compare other dates",
}

EXCESS = {
    "more": "about {n} more died than was to be expected ({low} to {high})",
    "none": "no more died than was to be expected",
    "unknown": "how many were to be expected cannot be worked out from so few deaths",
}

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
    """Say in one sentence how deaths changed around the event."""
    if answer.event is None:
        return HEADLINES["none"]
    event = event_words(answer.event)
    if answer.ratio is None:
        return HEADLINES["unwatched"].format(event=event)
    hit = answer.affected
    if hit["deaths_before"].sum() + hit["deaths_after"].sum() < 0.5:
        return HEADLINES["quiet"].format(event=event)
    judged = answer.contrast if answer.level == 2 else answer.ratio
    clear = judged is not None and judged.p_value <= 0.05
    return HEADLINES[f"{answer.level}.{'clear' if clear else 'open'}"].format(
        event=event,
        n=len(hit),
        deaths=deaths_words(answer),
        change=change_words(answer),
        span=times_span(answer.ratio.conf_low, answer.ratio.conf_high),
        placebo=placebo_words(answer),
        controls=count(len(answer.controls), "container"),
        relative=_relative(answer),
        relative_span=_relative_span(answer),
        excess=excess_words(answer),
    )


def deaths_words(answer: InterruptionAnswer) -> str:
    """Say deaths and fry-days after and before."""
    s = answer.affected.sum(numeric_only=True)
    return (
        f"{_fry(s['deaths_after'])} died in {decimals(s['fry_days_after'], 0)} fry-days, against "
        f"{_fry(s['deaths_before'], '')} in {decimals(s['fry_days_before'], 0)} before"
    )


def _fry(n: float, noun: str = " fry") -> str:
    text = decimals(n, 0)
    return ("no" if noun else "none") + noun if text == "0" else text + noun


def change_words(answer: InterruptionAnswer) -> str:
    """Say the ratio of the death rates."""
    r = answer.ratio
    if r is None or math.isnan(r.ratio):
        return ""
    if math.isinf(r.ratio):
        return CHANGE["from none"]
    return CHANGE["rose" if r.ratio >= 1 else "fell"].format(
        ratio=times(r.ratio).removesuffix(" times")
    )


def times_span(low: float, high: float) -> str:
    """Write an interval of a ratio: "1.3 to 29 times"."""
    if math.isinf(high):
        return f"{number(low, 3)} times or more" if low > 0 else "any number of times"
    return f"{number(low, 3)} to {number(high, 3)} times"


def _relative(answer: InterruptionAnswer) -> str:
    c = answer.contrast
    if c is None:
        return ""
    if not math.isfinite(c.ratio):
        return "beyond any measure that theirs could give"
    return f"{times(c.ratio)} theirs"


def times(x: float) -> str:
    """Write a ratio: "2.7 times"."""
    text = number(x, 2)
    return f"{'1.0' if text == '1' else text} times"


def _relative_span(answer: InterruptionAnswer) -> str:
    c = answer.contrast
    return "" if c is None else times_span(c.conf_low, c.conf_high)


def placebo_words(answer: InterruptionAnswer) -> str:
    """Say how unusual the date is among all; only where no container was spared."""
    p = answer.placebo
    if p is None or answer.level == 2:
        return ""
    if p.share is None:
        return PLACEBO["no dates"]
    k = round(p.share * (p.n_dates + 1)) - 1
    return PLACEBO["rare" if k else "none"].format(n=p.n_dates, k=k)


def excess_words(answer: InterruptionAnswer) -> str:
    """Say how many more died than was to be expected, with its range."""
    if answer.excess is None or answer.excess_low is None or answer.excess_high is None:
        return EXCESS["unknown"]
    if decimals(answer.excess, 0) == "0" or answer.excess < 0:
        return EXCESS["none"]
    return EXCESS["more"].format(
        n=decimals(answer.excess, 0),
        low=_signed(answer.excess_low),
        high=_signed(answer.excess_high),
    )


def _signed(x: float) -> str:
    text = decimals(abs(x), 0)
    return f"{MINUS}{text}" if x < 0 and text != "0" else text


def how_words(answer: InterruptionAnswer) -> list[str]:
    """Say what is held against what, and how sure it is."""
    if answer.event is None or answer.ratio is None:
        return []
    e, r = answer.event, answer.ratio
    lasting = "on that day" if e.days == 0 else f"for {count(e.days, 'day')}"
    lines = [
        f"Asked about: {event_words(e)}, {lasting}; it fell on {listed(answer.affected['batch'])}.",
        f"Held against each other: the {decimals(answer.before_days, 1)} days before it began, and "
        f"the time from its beginning to {decimals(answer.after_days, 1)} days after its end. Such "
        "a window has to be chosen before looking; it is a setting of this page.",
        f"Death rate after over before: {_ratio(r.ratio)} ({times_span(r.conf_low, r.conf_high)}), "
        f"{p_is(r.p_value)}, exact if deaths fall independently of each other; in one "
        "container they seldom do, so the range is rather too narrow.",
    ]
    if answer.control_ratio is not None:
        c = answer.control_ratio
        lines.append(
            f"The same in {count(len(answer.controls), 'container')} that passed those ages "
            f"without such an event: {_ratio(c.ratio)} ({times_span(c.conf_low, c.conf_high)})."
        )
    if answer.contrast is not None:
        x = answer.contrast
        lines.append(
            f"One over the other: {_ratio(x.ratio)} ({times_span(x.conf_low, x.conf_high)}), "
            f"{p_is(x.p_value)}. By that, {excess_words(answer)}."
        )
    elif answer.excess is not None:
        lines.append(f"Had the rate gone on as before: {excess_words(answer)}.")
    return [*lines, *_placebo_line(answer)]


def _ratio(x: float) -> str:
    if math.isnan(x):
        return "not known"
    return "from none" if math.isinf(x) else times(x)


def _placebo_line(answer: InterruptionAnswer) -> list[str]:
    p = answer.placebo
    if p is None or p.share is None:
        return ["The record is too short to compare this date with others."]
    k = round(p.share * (p.n_dates + 1)) - 1
    return [
        f"Of {p.n_dates} other dates of the same containers, with windows clear of this event, {k} "
        "show a rise as large or larger."
    ]


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
