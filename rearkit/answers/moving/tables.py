"""The tables of the answer about moving."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.answers.moving.words import date_words, window_words
from rearkit.words.blocks import ReadableTable, counted
from rearkit.words.numbers import decimals

if TYPE_CHECKING:
    from rearkit.answers.moving.answer import MovingAnswer

SIZE_STATES = {
    "never": "not on its curve",
    "far": "too far ahead",
    "no_curve": "measured once only",
    "no_lengths": "no lengths",
    "no_limit": "no limit given",
}
ROOM_STATES = {
    "over": "over it",
    "perhaps": "perhaps over it",
    "was_over": "over it at first",
    "below": "below it",
    "no_litres": "litres not known",
    "no_limit": "no limit given",
}
BINDS = {"size": "size", "crowding": "room", "none": "neither"}


def batches_table(answer: MovingAnswer) -> ReadableTable:
    """Lay out both limits of every batch."""
    t = answer.by_batch
    rows = [row for _, row in t.iterrows()]
    frame = pd.DataFrame(
        {"batch": [f"{r['batch']}{'' if r['running'] else ' (ended)'}" for r in rows]}
    )
    frame["first"] = [BINDS[x] for x in t["binds"]]
    frame["fish"] = [counted(r, "alive") for r in rows]
    frame["a litre"] = [decimals(x, 1) for x in t["fish_per_litre"]]
    frame["limit of room"] = [ROOM_STATES[x] for x in t["crowding"]]
    frame["mean, mm"] = [decimals(x, 1) for x in t["length_now"]]
    frame["tenth, mm"] = [
        decimals(r["tenth_now"], 1) if r["cv_from"] != "none" else "not known" for r in rows
    ]
    frame["long enough"] = [_when(r) for r in rows]
    size = decimals(answer.size_to_move_mm, 1)
    limit = "" if answer.size_to_move_mm is None else f"; long enough: {size} mm"
    return ReadableTable(
        frame=frame,
        caption=f"Every batch, and which limit comes first{limit}. Tenth: the "
        "smallest tenth are shorter than this",
    )


def _when(row: pd.Series) -> str:
    if row["size"] not in ("reached", "ahead"):
        return SIZE_STATES[row["size"]]
    if row["size"] == "reached":
        if pd.isna(row["size_date"]) or row["extrapolated"]:
            return "when first measured"
        return date_words(row["size_date"])
    window = window_words(row["size_date_low"], row["size_date_high"]).removeprefix("about ")
    return f"{window}, extrapolated"


def free_table(answer: MovingAnswer) -> ReadableTable:
    """Lay out the containers that are free."""
    t = answer.free
    if t.empty:
        frame = pd.DataFrame({"container": ["none in this log"]})
        return ReadableTable(frame=frame, caption="Free containers")
    frame = pd.DataFrame({"container": t["container"]})
    frame["litres"] = [decimals(x, 1) for x in t["litres"]]
    frame["free since"] = ["as you say" if pd.isna(x) else date_words(x) for x in t["since"]]
    return ReadableTable(frame=frame, caption="Free containers, smallest first")


TABLES: dict[str, Callable[[MovingAnswer], ReadableTable]] = {
    "main": batches_table,
    "free": free_table,
}
