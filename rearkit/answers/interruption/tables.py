"""The tables of an interruption: deaths batch by batch, growth, and everything that happened."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.words.blocks import ReadableTable
from rearkit.words.numbers import decimals, number

if TYPE_CHECKING:
    from rearkit.answers.interruption.answer import InterruptionAnswer

ROLES = {"affected": "hit by it", "control": "same ages, spared"}
KINDS = {
    "start": "started",
    "end": "ended",
    "event": "event",
    "removed": "taken out",
    "added": "put in",
    "not looked": "nobody looked",
}


def batches_table(answer: InterruptionAnswer) -> ReadableTable:
    """Lay out deaths, fry-days and rates of every batch before and after."""
    t = answer.by_batch
    frame = pd.DataFrame(
        {
            "batch": t["batch"],
            "": [ROLES[r] for r in t["role"]],
            "age, days": [decimals(x, 1) for x in t["age"]],
        }
    )
    for when in ("before", "after"):
        dead, days = t[f"deaths_{when}"], t[f"fry_days_{when}"]
        frame[f"dead {when}"] = [decimals(x, 1) for x in dead]
        frame[f"fry-days {when}"] = [decimals(x, 0) for x in days]
        frame[f"a day per 100, {when}"] = [number(x, 2) for x in t[f"per_100_{when}"]]
    return ReadableTable(
        frame=frame,
        caption="Deaths before and after, batch by batch; of those spared the mean over the ages "
        "that they stand for",
    )


def events_table(answer: InterruptionAnswer) -> ReadableTable:
    """Lay out every event, each batch for itself, with the others at the same ages beside it."""
    t = answer.by_event
    frame = pd.DataFrame(
        {
            "event": [decimals(n, 0) for n in t["event"]],
            "what": ["" if w is None else str(w) for w in t["what"]],
            "began": [f"{d:%Y-%m-%d}" for d in t["started"]],
            "batch": t["batch"],
            "age, days": [decimals(x, 1) for x in t["age"]],
            "dead before, after": [
                f"{decimals(a, 1)}, {decimals(b, 1)}"
                for a, b in zip(t["deaths_before"], t["deaths_after"], strict=True)
            ],
        }
    )
    for who, label in (("", ""), ("beside_", ", others")):
        frame[f"a day per 100{label}"] = [
            "none" if n == 0 and who else f"{number(a, 2)} to {number(b, 2)}"
            for a, b, n in zip(
                t[f"{who}per_100_before"], t[f"{who}per_100_after"], t["n_beside"], strict=True
            )
        ]
    frame["others"] = [decimals(n, 0) for n in t["n_beside"]]
    return ReadableTable(
        frame=frame,
        caption="Found dead a day of every 100 fry before and after every event, batch by batch, "
        "and in other batches at the same ages",
    )


def growth_table(answer: InterruptionAnswer) -> ReadableTable:
    """Lay out growth between the measured days around the event."""
    g = answer.growth
    frame = pd.DataFrame(
        {
            "batch": g["batch"],
            "": g["span"],
            "age, days": [
                f"{decimals(a, 1)} to {decimals(b, 1)}"
                for a, b in zip(g["age_from"], g["age_to"], strict=True)
            ],
            "mean length, mm": [
                f"{decimals(a, 1)} to {decimals(b, 1)}"
                for a, b in zip(g["mm_from"], g["mm_to"], strict=True)
            ],
            "mm a day": [decimals(x, 2) for x in g["mm_a_day"]],
        }
    )
    return ReadableTable(frame=frame, caption="Growth around the event")


def timeline_table(answer: InterruptionAnswer) -> ReadableTable:
    """Lay out everything that happened, in the order of its days."""
    t = answer.timeline
    frame = pd.DataFrame(
        {
            "from": [f"{d:%Y-%m-%d}" for d in t["date"]],
            "to": ["" if pd.isna(d) else f"{d:%Y-%m-%d}" for d in t["ended"]],
            "batch": t["batch"],
            "": [KINDS[k] for k in t["kind"]],
            "what": ["" if w in (None, "started") or pd.isna(w) else str(w) for w in t["what"]],
            "fry": ["" if pd.isna(n) else decimals(n, 1) for n in t["n"]],
            "note": ["" if n is None or pd.isna(n) else str(n) for n in t["note"]],
        }
    )
    return ReadableTable(frame=frame, caption="Everything that happened")


TABLES: dict[str, Callable[[InterruptionAnswer], ReadableTable]] = {
    "main": batches_table,
    "events": events_table,
    "growth": growth_table,
    "timeline": timeline_table,
}
