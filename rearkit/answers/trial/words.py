"""The trial in words: why, which fish, which methods, which rules. Nothing about results."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.words.blocks import Prose, Said
from rearkit.words.numbers import about, count, day_words, decimals, listed

if TYPE_CHECKING:
    from rearkit.answers.trial.answer import TrialAnswer

HEADLINES = {
    "compared": "{title}: {tested} against {usual}, {units}, {dates}.",
    "one": "{title}: {units}, {dates}.",
}


def headline(answer: TrialAnswer) -> str:
    """Name the trial, its methods, its size and its dates."""
    d = answer.design
    fields = answer.fields
    title = str(fields.get("title") or fields.get("species") or "A rearing log")
    key = "compared" if d.tested is not None else "one"
    return HEADLINES[key].format(
        title=title,
        tested=d.tested,
        usual=d.usual,
        units=count(len(answer.batches), "batch", "batches"),
        dates=dates_words(answer),
    )


def dates_words(answer: TrialAnswer) -> str:
    """Say from when to when the log runs."""
    if pd.isna(answer.started):
        return "no dates"
    first = day_words(answer.started)
    if answer.running:
        return f"from {first} and still running"
    return f"{first} to {day_words(answer.ended)}"


def why_words(answer: TrialAnswer) -> list[str]:
    """Say what was asked."""
    question = answer.fields.get("question")
    return [str(question) if question else "The log does not say what was asked (Trial: question)."]


def fish_words(answer: TrialAnswer) -> list[str]:
    """Say which fish, how many, from whom, and where they stood."""
    fields, b = answer.fields, answer.batches
    lines = [f"Species: {fields.get('species') or 'not recorded (Trial: species)'}."]
    if not answer.flow.empty:
        start = float(answer.flow["start_best"].sum())
        batches = count(int(answer.flow["n_batches"].sum()), "batch", "batches")
        lines.append(f"{batches} with {about(start)} fry at the start.")
    pairs, clutches = b["parents"].dropna().unique(), b["clutch"].dropna().unique()
    if len(clutches):
        text = count(len(clutches), "clutch", "clutches")
        text += f" from {count(len(pairs), 'pair')}" if len(pairs) else ", parents not recorded"
        unnamed = int(b["clutch"].isna().sum())
        if unnamed:
            text += f"; no clutch is named for {count(unnamed, 'batch', 'batches')}"
        lines.append(f"{text}.")
    else:
        lines.append("Clutches are not recorded (Batches: clutch): containers may share parents.")
    litres = b["litres"].dropna()
    if len(litres):
        low, high = float(litres.min()), float(litres.max())
        size = decimals(low, 1) if low == high else f"{decimals(low, 1)} to {decimals(high, 1)}"
        lines.append(f"Containers of {size} litres.")
    places = sorted({str(p).split(",")[0].strip() for p in b["place"].dropna()})
    if places:
        lines.append(f"They stood on: {listed(places)}.")
    return lines


def places_words(answer: TrialAnswer) -> list[str]:
    """Say that no place is recorded."""
    return ["Where the containers stood is not recorded (Batches: place)."]


def events_words(answer: TrialAnswer) -> list[str]:
    """Say that nothing is recorded that went wrong."""
    return ["Nothing is recorded that did not go as planned (sheet Events)."]


RULES = (
    ("main_outcome", "Main outcome"),
    ("judged_on_day", "Judged on day"),
    ("smallest_useful_difference", "Smallest useful difference"),
    ("looks_planned", "Looks planned"),
    ("stop_rule", "Stop rule"),
    ("exclusions", "To be left out"),
)

PLANS = {
    "before": "The plan was written on {date}, before the first batch started. Well done.",
    "after": "The plan was written on {date}, after the first batch had started ({first}); it may "
    "have been made to fit.",
    "none": "No date of a plan is recorded (Trial: plan_written_on).",
}


def rules_words(answer: TrialAnswer) -> list[str]:
    """Say which rules were written, and when."""
    written = answer.fields.get("plan_written_on")
    plan = PLANS[answer.plan].format(
        date="" if written is None else day_words(pd.Timestamp(str(written))),
        first="" if pd.isna(answer.started) else day_words(answer.started),
    )
    lines = [plan]
    for field, name in RULES:
        value = answer.fields.get(field)
        if isinstance(value, float):
            value = decimals(value, 1)
        lines.append(f"{name}: {value if value is not None else f'not recorded (Trial: {field})'}.")
    return lines


WELFARE = (
    "Losses beyond a stop rule end the treatment, not the care. No batch in a comparison goes "
    "without food, heat or clean water.",
    "Sick fish, medicines, doses and putting a fish down are for a veterinarian and the local "
    "code.",
    "Fish, plants, live food and their water are never released outdoors.",
)


def welfare_words(answer: TrialAnswer) -> list[str]:
    """Say what the log has on permission and stop rules, and the usual cautions."""
    approval = answer.fields.get("approval")
    lines = [
        f"Permission: {approval}."
        if approval
        else "Permission: not recorded (Trial: approval). Schools and institutions may need to ask "
        "before a trial with animals starts."
    ]
    stopped = answer.batches.loc[answer.batches["end_reason"] == "welfare stop", "batch"]
    if len(stopped):
        lines.append(f"Stopped for the welfare of the fish: {listed(list(stopped))}.")
    return [*lines, *WELFARE]


PARTS: dict[str, Callable[[TrialAnswer], Said]] = {
    "why": lambda answer: Prose(items=why_words(answer)),
    "fish": lambda answer: Prose(items=fish_words(answer)),
    "places": lambda answer: Prose(items=places_words(answer)),
    "events": lambda answer: Prose(items=events_words(answer)),
    "rules": lambda answer: Prose(items=rules_words(answer)),
    "welfare": lambda answer: Prose(items=welfare_words(answer)),
}
