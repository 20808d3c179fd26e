"""The table of the work, unit by unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.words.blocks import ReadableTable
from rearkit.words.comparisons import days_of
from rearkit.words.numbers import decimals

if TYPE_CHECKING:
    from rearkit.answers.effort.answer import EffortAnswer


def work_table(answer: EffortAnswer) -> ReadableTable:
    """Lay out visits, feeds, minutes and survivors of every unit."""
    t = answer.table()
    frame = pd.DataFrame({"unit": t["unit"]})
    if answer.design.tested is not None:
        frame["method"] = t["method"]
    frame["days"] = [decimals(x, 1) for x in t["days"]]
    frame["visits, timed"] = [
        f"{decimals(a, 0)}, {decimals(b, 0)}"
        for a, b in zip(t["visits"], t["visits_timed"], strict=True)
    ]
    frame["feeds"] = [decimals(x, 0) for x in t["feeds"]]
    frame["minutes"] = [decimals(x, 0) for x in t["minutes"]]
    frame["minutes a day"] = [decimals(x, 1) for x in t["minutes_a_day"]]
    frame["alive at the end"] = [decimals(x, 1) for x in t["alive"]]
    frame["minutes a survivor"] = [
        "too few fry" if m == m and s != s else decimals(s, 1)
        for m, s in zip(t["minutes"], t["minutes_per_survivor"], strict=True)
    ]
    each = " (the mean of its containers)" if (t["lines"] > 1).any() else ""
    return ReadableTable(
        frame=frame, caption=f"The work of every unit{each}, {days_of(answer.day)}"
    )


TABLES: dict[str, Callable[[EffortAnswer], ReadableTable]] = {"main": work_table}
