"""The tables of the use of a place."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.answers.place_use.words import points
from rearkit.words.blocks import ReadableTable
from rearkit.words.numbers import decimals, percent, signed, signed_span

if TYPE_CHECKING:
    from rearkit.answers.place_use.answer import PlaceUseAnswer


def ages(a: float, b: float | None) -> str:
    """Write a window of age."""
    if b is None or b != b:
        return f"{decimals(a, 1)} on"
    return f"{decimals(a, 1)} to {decimals(b, 1)}"


def windows_table(answer: PlaceUseAnswer) -> ReadableTable:
    """Lay out every window: share seen there, share of the container, and how sure."""
    rows = [
        {
            "age, days": ages(w.age_from, w.age_to),
            f"{answer.unit}s": str(w.n_units),
            "scans": str(w.n_scans),
            "seen there": percent(w.share) if w.n_units else "no scans",
            "place's share": percent(w.area) if w.area == w.area else "not known",
            "difference": signed(100 * w.excess, 0),
            "range": signed_span(points(w.conf_low), points(w.conf_high), 0),
            "with those not seen": signed_span(100 * w.excess_low, 100 * w.excess_high, 0),
            "clear": "yes" if w.clear else "not settled",
        }
        for w in answer.windows
    ]
    place = answer.scans.place
    where = "a place" if place is None else f"the place '{place}'"
    return ReadableTable(
        frame=pd.DataFrame(rows),
        caption=f"Fry seen in {where}, by age; differences and ranges in "
        "points; the place's share is that of the container",
    )


def units_table(answer: PlaceUseAnswer) -> ReadableTable:
    """Lay out the share of every unit in every window."""
    t = answer.by_unit
    frame = pd.DataFrame(
        {
            answer.unit: t["unit"],
            "age, days": [ages(a, b) for a, b in zip(t["age_from"], t["age_to"], strict=True)],
            "scans": [decimals(x, 0) for x in t["n_scans"]],
            "seen there": [percent(x) for x in t["share"]],
            "with those not seen": [
                f"{percent(a)} to {percent(b)}"
                for a, b in zip(t["share_low"], t["share_high"], strict=True)
            ],
            "place's share": [percent(x) for x in t["area"]],
        }
    )
    return ReadableTable(frame=frame, caption=f"One value a {answer.unit} and window")


def sides_table(answer: PlaceUseAnswer) -> ReadableTable:
    """Lay out the containers that were swapped: the share on either side."""
    t = answer.by_side
    frame = pd.DataFrame(
        {
            "container": t["batch"],
            "side": t["side"],
            "scans": [decimals(x, 0) for x in t["n_scans"]],
            "seen there": [percent(x) for x in t["share"]],
            "difference, points": [signed(100 * x, 0) for x in t["excess"]],
        }
    )
    return ReadableTable(frame=frame, caption="Containers in which the place changed sides")


TABLES: dict[str, Callable[[PlaceUseAnswer], ReadableTable]] = {
    "main": windows_table,
    "units": units_table,
    "sides": sides_table,
}
