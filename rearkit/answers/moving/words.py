"""When to move a batch, in words: dates as windows, each with what it rests on."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pandas as pd

from rearkit.answers.moving.outgrown import WINDOW_LEVEL
from rearkit.words.blocks import Prose, Said, listed_prose
from rearkit.words.numbers import count, day_words, decimals, listed

if TYPE_CHECKING:
    from rearkit.answers.moving.answer import MovingAnswer

SENTENCES: dict[str, str] = {
    "no_size_limit": "No size to move at is given: set size_to_move_mm, or write it in the Trial "
    "sheet.",
    "no_crowd_limit": "No limit of fish to a litre is given: set most_fish_per_litre, or write it "
    "in the Trial sheet.",
    "moving_no_lengths": "No lengths are logged for {batches}, so nobody can say when they will be "
    "long enough. Measure ten to twenty fish, twice, a week apart.",
    "moving_no_curve": "Measured on one day only, so no growth can be seen: {batches}. Measure "
    "again in a week.",
    "moving_never": "The mean does not grow towards {size} mm on its curve, so no day can be given "
    "for {batches}. Measure again.",
    "moving_far": "The day lies further ahead than half the measured days are long, too far to "
    "name a date for {batches}. Measure again in a week or two.",
    "moving_no_litres": "The litres are not logged, so crowding cannot be told: {batches}.",
    "moving_extrapolated": "Dates ahead are extrapolated: they hold if the fish go on growing as "
    "they did. Measure {batches} again before you act.",
    "moving_extrapolated_ended": "The day is extrapolated where a batch ended before it: "
    "{batches}.",
    "moving_few_containers": "Fewer than three containers show this stretch of growth, so the "
    "window knows nothing of how much containers differ: it is too narrow.",
    "moving_spread_borrowed": "How unequal the fish are is not logged for {batches}; the spread of "
    "the other containers is used.",
    "moving_mean_fish": "How unequal the fish are is not logged for {batches}; the day is that of "
    "the mean fish, and the small ones will still be shorter.",
    "moving_perhaps_crowded": "The last count leaves open whether the limit of fish to a litre is "
    "passed already in {batches}.",
}
"""What limits this answer, one template a code."""


HEADLINES: dict[str, str] = {
    "no_limits": "No limit is given to move a batch by: set a size or a number of fish to a litre.",
    "none_running": "No batch is running any more, so nothing has to be moved. {past}",
    "none_binds": "No running batch is known to come to a limit: {batches}.",
    "first": "{most_urgent}{others}",
}
# What is said of one batch, by what comes first and whether it has come.
BATCH: dict[str, str] = {
    "crowding": "{batch} is over {most} fish to a litre now, and has been since {since}",
    "size_reached": "{batch} is ready: its smallest tenth reached {size} mm about {when}",
    "size_reached_before": "{batch} is ready: its smallest tenth was past {size} mm when first "
    "measured",
    "size_ahead": "{batch} should be ready {window}, when its smallest tenth reaches {size} mm "
    "(extrapolated)",
    "none": "{batch} comes to no limit that can be dated",
}
SIZE_WORDS = "when its smallest tenth is long enough, and when it is too crowded"
WINDOW_WORDS = f"{round(WINDOW_LEVEL * 5)} in 5"

CAUTIONS_LABEL = (
    "Common practice among keepers, with no source and no rule; your own fish and water decide."
)
CAUTIONS = (
    "A first move is common at 6 to 10 mm or one to three weeks, a second at 12 to 25 mm or four "
    "to eight weeks.",
    "New water within 2 °C and 0.3 to 0.5 pH of the old; let it drip in over 15 to 60 minutes.",
    "Move fry in a cup, with their water, rather than in a net, and in the morning of a day on "
    "which you can look in again.",
    "Count them as they go over: it is the best count you will get. Write it down on that day.",
    "Sort them while you are at it if the largest is one and a half to two times the smallest.",
    "A batch that is ill, has just lost fish or has had its water changed waits.",
    "A litre weighs a kilogram; heaters come out of their sockets before hands go in.",
)


def headline(answer: MovingAnswer) -> str:
    """Say which batch has to be moved first and when."""
    if answer.size_to_move_mm is None and answer.most_fish_per_litre is None:
        return HEADLINES["no_limits"]
    running = answer.running
    if running.empty:
        return HEADLINES["none_running"].format(past=_past(answer)).strip()
    rows = [row for _, row in running.iterrows() if row["binds"] != "none"]
    if not rows:
        return HEADLINES["none_binds"].format(batches=listed(running["batch"].tolist()))
    first = batch_words(answer, rows[0])
    others = [batch_words(answer, row) for row in rows[1:]]
    text = f"; {'; '.join(others[:3])}" if others else ""
    if len(others) > 3:
        text += f"; and {count(len(others) - 3, 'other batch', 'other batches')}"
    return HEADLINES["first"].format(most_urgent=first, others=text) + "."


def _past(answer: MovingAnswer) -> str:
    """Say at what ages the limits were come to in batches that have ended."""
    table = answer.by_batch
    parts = []
    known = table[table["size"].isin(["reached", "ahead"]) & table["size_day"].notna()]
    if len(known) and answer.size_to_move_mm is not None:
        low, high = known["size_day"].min(), known["size_day"].max()
        late = " (some of it extrapolated)" if known["extrapolated"].any() else ""
        parts.append(
            f"The smallest tenth came to {decimals(answer.size_to_move_mm, 1)} mm at "
            f"{_between(low, high)} days of age{late}."
        )
    crowded = table[table["crowding"].isin(["over", "was_over"])]
    if answer.most_fish_per_litre is not None and table["litres"].notna().any():
        most = decimals(answer.most_fish_per_litre, 1)
        n = count(len(crowded), "batch", "batches")
        parts.append(
            f"{n} of {len(table)} had more than {most} fish to a litre at some time."
            if len(crowded)
            else f"None had more than {most} fish to a litre."
        )
    return " ".join(parts)


def _between(low: float, high: float) -> str:
    a, b = decimals(low, 0), decimals(high, 0)
    return a if a == b else f"{a} to {b}"


def batch_words(answer: MovingAnswer, row: pd.Series) -> str:
    """Say of one batch which limit comes first, and when."""
    key = str(row["binds"])
    if key == "size":
        key = f"size_{row['size']}"
        if key == "size_reached" and (pd.isna(row["size_date"]) or row["extrapolated"]):
            key = "size_reached_before"
    return BATCH[key].format(
        batch=row["batch"],
        most=decimals(answer.most_fish_per_litre, 1),
        size=decimals(answer.size_to_move_mm, 1),
        since="it started" if row["crowded_since_day"] <= 0 else date_words(row["crowded_since"]),
        when=date_words(row["size_date"]),
        window=window_words(row["size_date_low"], row["size_date_high"]),
    )


def batch_line(answer: MovingAnswer, row: pd.Series) -> str:
    """Say in a few words at what age a batch comes to its limits."""
    parts = []
    if row["size"] in ("reached", "ahead") and not pd.isna(row["size_day"]):
        out = " extrapolated" if row["extrapolated"] else ""
        parts.append(f"long enough at day {decimals(row['size_day'], 0)}{out}")
    if row["crowding"] in ("over", "was_over"):
        parts.append(f"too many fish to a litre from day {decimals(row['crowded_since_day'], 0)}")
    return f"{row['batch']} {listed(parts) or 'comes to no limit'}"


def date_words(date: Any) -> str:
    """Write a date, or that there is none."""
    return "an unknown day" if pd.isna(date) else day_words(date)


def window_words(low: Any, high: Any) -> str:
    """Write a window of dates: "about 16 to 20 July 2025"."""
    if pd.isna(low) or pd.isna(high):
        known = low if pd.isna(high) else high
        return "on an unknown day" if pd.isna(known) else f"from about {day_words(known)} on"
    if low == high:
        return f"about {day_words(high)}"
    if (low.year, low.month) == (high.year, high.month):
        return f"about {low.day} to {day_words(high)}"
    if low.year == high.year:
        return f"about {low.day} {low:%B} to {day_words(high)}"
    return f"about {day_words(low)} to {day_words(high)}"


def batches_words(answer: MovingAnswer) -> list[str]:
    """Say one line a running batch, with both limits."""
    lines = []
    for _, row in answer.running.iterrows():
        parts = [batch_words(answer, row), _size_words(answer, row), _room_words(answer, row)]
        lines.append(". ".join(p for p in parts if p) + ".")
    return lines or ["No batch is running."]


def _size_words(answer: MovingAnswer, row: pd.Series) -> str:
    if pd.isna(row["length_now"]):
        return ""
    tenth = (
        f", the smallest tenth below {decimals(row['tenth_now'], 1)} mm"
        if row["cv_from"] != "none"
        else ""
    )
    text = (
        f"On day {decimals(row['last_measured_day'], 0)} the mean was "
        f"{decimals(row['length_now'], 1)} mm{tenth}"
    )
    if row["binds"] == "crowding" and row["size"] == "ahead":
        window = window_words(row["size_date_low"], row["size_date_high"])
        text += f"; the size limit would come {window} (extrapolated)"
    return text


def _room_words(answer: MovingAnswer, row: pd.Series) -> str:
    if pd.isna(row["fish_per_litre"]):
        return ""
    low, high = row["fish_per_litre_low"], row["fish_per_litre_high"]
    text = f"Now {_density(low, row['fish_per_litre'], high)} fish to a litre"
    state = row["crowding"]
    if state == "below":
        text += ", which only falls unless fish are added"
    if state == "over" and not pd.isna(row["falls_below"]):
        text += (
            f"; at the losses of the last two weeks it would fall below the limit about "
            f"{day_words(row['falls_below'])} (extrapolated), which is no way to make room"
        )
    return text


def _density(low: float, best: float, high: float) -> str:
    if low == high or pd.isna(low):
        return decimals(best, 1)
    return f"{decimals(low, 1)} to {decimals(high, 1)}"


def plan_words(answer: MovingAnswer) -> list[str]:
    """Say which batch could go where, most urgent first."""
    if answer.running.empty:
        return ["Nothing has to be moved, so no container is needed."]
    if not answer.plan:
        return ["No running batch comes to a limit that can be dated, so none is given a place."]
    lines = []
    for place in answer.plan:
        need = (
            f" ({decimals(place['litres_needed'], 0)} litres needed)"
            if place["litres_needed"] == place["litres_needed"]
            else ""
        )
        if place["container"] is None:
            lines.append(f"{place['batch']}{need}: no free container is left.")
        elif place["enough"] or not need:
            lines.append(
                f"{place['batch']}{need}: {place['container']}, "
                f"{decimals(place['litres'], 1)} litres."
            )
        else:
            lines.append(
                f"{place['batch']}{need}: the largest free one, {place['container']} with "
                f"{decimals(place['litres'], 1)} litres, is not enough for all; split the batch "
                "or give fry away."
            )
    if answer.free["since"].notna().any():
        lines.append(
            "A container counts as free when all its batches have ended in the log: look whether "
            "it is."
        )
    return lines


def how_words(answer: MovingAnswer) -> list[str]:
    """Say what a window is made of."""
    lines = [
        "Size: the day on which all but the smallest tenth of a batch have the length, by the "
        "batch's own curve and how unequal its fish are.",
        f"The window is made to hold {WINDOW_WORDS} times: it takes in every curve that does about "
        "as well, how well each is known and, for days to come, how much containers of this log "
        "differ. No date is given further ahead than half the measured days are long; a window "
        "that would end later is left open: measure again.",
        "Room: fish alive after each look, over the litres. Fish die and are taken out, so unless "
        "some are added the number falls: a limit of fish to a litre is passed at the start or "
        "not at all.",
        f"All is as the log knew it on {day_words(answer.as_of)}.",
    ]
    return lines


PARTS: dict[str, Callable[[MovingAnswer], Said]] = {
    "batches": lambda answer: listed_prose(batches_words(answer)),
    "plan": lambda answer: listed_prose(plan_words(answer)),
    "how": lambda answer: listed_prose(how_words(answer)),
    "cautions": lambda answer: Prose(paragraphs=(CAUTIONS_LABEL,), items=CAUTIONS),
}
