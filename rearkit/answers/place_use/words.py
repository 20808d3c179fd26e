"""The use of a place in words, by claim level and never above it."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from rearkit.answers.place_use.windows import WindowUse
from rearkit.words.blocks import Said, listed_prose
from rearkit.words.numbers import count, decimals, p_is, percent, span_words

if TYPE_CHECKING:
    from rearkit.answers.place_use.answer import PlaceUseAnswer

SENTENCES: dict[str, str] = {
    "place_assumed": "The log does not say which place the question is about; '{place}' is taken.",
    "sides_swapped": "In {batches} the place '{place}' changed sides during the record, which "
    "tells a liking for the place from a liking for the side.",
    "sides_not_swapped": "In {batches} the place '{place}' stayed on one side, so a liking for "
    "that side would look the same. Swapping sides halfway would tell.",
    "bare_sides": "The scans name places by their side and a swap was written down, so what lay "
    "on '{place}' is followed to the other side from then on.",
    "followed_the_side": "In {batches} the fry were above the share on one side and below it on "
    "the other: they followed the side, not the place.",
    "days_of_one": "All scans come from {batch}. A school does on one day what it did on the day "
    "before, so its days are told and not tested; the answer is about this container only.",
    "not_seen.holds": "About {share} of the fry were not seen in a scan. Wherever they were, the "
    "mean keeps to its side of the place's share.",
    "not_seen.turns": "About {share} of the fry were not seen in a scan. If all of them were on "
    "the other side of the line, the result would turn round.",
    "not_seen.none": "About {share} of the fry were not seen in a scan; the table shows how far "
    "they could move the shares.",
    "not_seen_counted_back": "Where nobody wrote down how many were not seen, it is worked out "
    "from the account of the fish, as at most those that were still alive.",
    "no_area": "How much of the container '{place}' takes up was not written down (area_percent), "
    "and a half is not assumed, so nothing is tested.",
    "scan_one_place": "Scans that name one place only are left out: {n}.",
    "scan_nobody": "Scans in which no fry was seen at all are left out: {n}.",
    "clutch_shared": "Several of the containers hold fry of one clutch ({clutches}), so they are "
    "not quite separate.",
    "use_is_not_benefit": "Where fry are is not what does them good: whether more of them live or "
    "grow with '{place}' is a question of its own.",
}
"""What limits this answer, one template a code."""


HEADLINES: dict[str, str] = {
    "none": "The log holds no scans of where the fry were, so it cannot say whether they use a "
    "place; that is what the sheet Positions is for.",
    "no_area": "Of the fry that were seen, {share} were in the place '{place}' {days}, in {units}; "
    "how much of the container it takes up was not written down, so that says nothing of liking.",
    "0.told": "In this one container, {days}, {share} of the fry that were seen were in the place "
    "'{place}', which takes up {area} of it. That is told, not tested, and about these fish only.",
    "1.open": "Too little to go on: {share} of the fry that were seen {days} were in the place "
    "'{place}', which takes up {area} of the container, in {units}.",
    "2.clear": "{days_first}, {more} fry were seen in the place '{place}' than its share of the "
    "container: {share} of them in {area} of it{span}, in {units}{after}. Whether the place "
    "drew them or the side it was on cannot be told.",
    "2.open": "Whether fry are found in the place '{place}' more than its share of the container "
    "is not settled: {share} of those seen {days}, in {area} of it{span}, in {units}.",
    "3.clear": "A hint: {days}, {more} fry were seen in the place '{place}' than its share of the "
    "container, whichever side it was on: {share} of them in {area} of it{span}, in {units}"
    "{after}.",
    "3.open": "Not settled: {share} of the fry seen {days} were in the place '{place}', which "
    "takes up {area} of the container{span}, in {units}.",
    "4.clear": "The fry {kept} the place '{place}' {days}, whichever side it was on: {share} of "
    "those seen were in {area} of the container{span}, in {units}{after}.",
    "4.open": "These {units} did not settle whether fry use the place '{place}' more than its "
    "share of the container: {share} of those seen {days}, in {area} of it{span}.",
}

AFTER = {
    "ends": "; that holds to the end of the record",
    "open": "; from day {until} on that is not settled",
    "none": "; after day {until} there are no scans that could settle it",
}

CLAIMS = {
    0: "What may be said: what the fish of one container did.",
    1: "What may be said: what the fry of these containers did; two are too few to tell more.",
    2: "What may be said: where the fry were. The sides were not swapped in every container, so a "
    "brighter window, a heater or a filter on that side may be behind it.",
    3: "What may be said: a hint. The sides were swapped, but in few containers.",
    4: "What may be said: that the fry of such containers use the place. What for, and whether it "
    "does them good, is another question.",
}

PRACTICE = (
    "Very young fry are said to keep to the shade for about the first week to week and a half "
    "(common practice, no source); that is why the windows begin as they do. The scans decide."
)


def headline(answer: PlaceUseAnswer) -> str:
    """Say in one sentence whether the fry use the place, and until which age."""
    if answer.scans.table.empty or not answer.run:
        return HEADLINES["none"]
    run = answer.run
    values = _values(answer, run)
    if answer.scans.table["area"].isna().all():
        return HEADLINES["no_area"].format(**values)
    if answer.level == 0:
        return HEADLINES["0.told"].format(**values)
    clear = run[0].clear and answer.level != 1
    return HEADLINES[f"{answer.level}.{'clear' if clear else 'open'}"].format(**values)


def _values(answer: PlaceUseAnswer, run: tuple[WindowUse, ...]) -> dict[str, str]:
    days = _days(run)
    more = run[0].excess >= 0
    one = len(run) == 1
    return {
        "place": str(answer.scans.place),
        "days": days,
        "days_first": days[0].upper() + days[1:],
        "share": percent(run[0].share) if one else _range([w.share for w in run]),
        "area": percent(run[0].area) if one else _range([w.area for w in run]),
        "span": f" ({_span(run[0])})" if one else "",
        "units": units_words(answer, run),
        "more": "more" if more else "fewer",
        "kept": "kept to" if more else "kept away from",
        "after": _after(answer),
    }


def _range(values: list[float]) -> str:
    low, high = percent(min(values)), percent(max(values))
    return low if low == high else f"{low} to {high}"


def _span(use: WindowUse) -> str:
    low, high = points(use.conf_low), points(use.conf_high)
    return span_words(low, high, 0, "points more", "points fewer")


def points(x: float | None) -> float | None:
    """Turn a share into points, if there is one."""
    return None if x is None else 100 * x


def _ages(use: WindowUse) -> str:
    if use.age_to is None:
        return f"day {decimals(use.age_from, 1)} on"
    return f"day {decimals(use.age_from, 1)} to {decimals(use.age_to, 1)}"


def _days(run: tuple[WindowUse, ...]) -> str:
    first, last = run[0].age_from, run[-1].age_to
    if last is None:
        return f"from day {decimals(first, 1)} on"
    if first <= 0:
        return f"until day {decimals(last, 1)}"
    return f"from day {decimals(first, 1)} until day {decimals(last, 1)}"


def _after(answer: PlaceUseAnswer) -> str:
    if answer.until is None:
        return ""
    later = [w for w in answer.windows if w.age_from >= answer.until]
    if not math.isfinite(answer.until) or not later:
        return AFTER["ends"]
    key = "open" if any(w.p_value is not None for w in later) else "none"
    return AFTER[key].format(until=decimals(answer.until, 1))


def units_words(answer: PlaceUseAnswer, run: tuple[WindowUse, ...]) -> str:
    """Say how many containers or days stand behind it."""
    return count(max(w.n_units for w in run), answer.unit)


def certainty_words(answer: PlaceUseAnswer) -> list[str]:
    """Say how each window was judged, and how far the words may go."""
    if answer.scans.table.empty:
        return []
    lines = []
    untested = "told, not tested" if answer.unit == "day" else "too few to test"
    for w in answer.windows:
        if w.p_value is None:
            why = f"{count(w.n_units, answer.unit)}; {untested}" if w.n_units else "no scans"
            lines.append(f"{_first(_ages(w))}: {why}.")
        else:
            state = "clear of its share" if w.clear else "not settled"
            lines.append(
                f"{_first(_ages(w))}: {p_is(w.p_value)} ({w.method}, "
                f"{count(w.n_units, answer.unit)}): {state}."
            )
    if answer.level > 0:
        lines.append(
            "The windows are judged in order of age and no further than the first that is not "
            "clear, so that several windows raise no more false alarms than one."
        )
    return [*lines, CLAIMS[answer.level]]


def _first(text: str) -> str:
    return text[0].upper() + text[1:]


def practice_words(answer: PlaceUseAnswer) -> list[str]:
    """Give what is said of young fry and shade, marked as without a source."""
    return [PRACTICE]


def nothing_words(answer: PlaceUseAnswer) -> list[str]:
    """Say that there is nothing to show."""
    return ["There are no scans to show."]


def sides_words(answer: PlaceUseAnswer) -> list[str]:
    """Say that nothing was swapped."""
    if not answer.found:
        return nothing_words(answer)
    return [
        "No container was swapped in this log. To have it told here, fill the column side of the "
        "sheet Positions, or write an event of the kind 'sides swapped'."
    ]


PARTS: dict[str, Callable[[PlaceUseAnswer], Said]] = {
    "certainty": lambda answer: listed_prose(certainty_words(answer)),
    "practice": lambda answer: listed_prose(practice_words(answer)),
    "sides": lambda answer: listed_prose(sides_words(answer)),
    "nothing": lambda answer: listed_prose(nothing_words(answer)),
}
