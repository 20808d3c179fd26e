"""The tables of the log check: what was found, the account of every batch, the rows."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pandas as pd

from rearkit.words.blocks import ReadableTable, counted
from rearkit.words.numbers import decimals

if TYPE_CHECKING:
    from rearkit.answers.log_check.answer import LogCheckAnswer


def _findings(answer: LogCheckAnswer) -> ReadableTable:
    f = answer.findings
    place = [
        ", ".join(
            str(x)
            for x in (r.sheet, r.cell if r.cell else (f"row {r.row}" if pd.notna(r.row) else None))
            if x
        )
        for r in f.itertuples(index=False)
    ]
    frame = pd.DataFrame(
        {
            "": f["severity"],
            "where": place,
            "batch": f["batch"].fillna(""),
            "what was seen": f["seen"],
            "what was done": f["done"],
            "how to settle it": f["settle"],
        }
    )
    return ReadableTable(frame=frame, caption="Everything that was found in the log")


def _account(answer: LogCheckAnswer) -> ReadableTable:
    a = answer.account
    frame = pd.DataFrame(
        {
            "batch": a["batch"],
            "start": [counted(r, "start") for _, r in a.iterrows()],
            "added": [decimals(x, 1) for x in a["added"]],
            "found dead": [decimals(x, 1) for x in a["dead"]],
            "taken out": [decimals(x, 1) for x in a["removed"]],
            "missing": [counted(r, "missing") for _, r in a.iterrows()],
            "alive at the end": [counted(r, "alive") for _, r in a.iterrows()],
            "days watched": [decimals(x, 1) for x in a["days"]],
            "looks": [decimals(x, 0) for x in a["looks"]],
            "longest gap, days": [decimals(x, 1) for x in a["longest_gap"]],
            "adds up": [_adds_up(r) for r in a.itertuples(index=False)],
        }
    )
    return ReadableTable(
        frame=frame, caption="Start = alive + found dead + taken out + missing − added"
    )


def _adds_up(row: Any) -> str:
    if not row.adds_up:
        return "NO"
    return "yes" if row.final_count else "not counted at the end"


def _rows(answer: LogCheckAnswer) -> ReadableTable:
    frame = answer.rows.rename(columns=lambda c: str(c).removeprefix("n_").replace("_", " "))
    return ReadableTable(frame=frame.astype(str), caption="Rows of every sheet")


TABLES: dict[str, Callable[[LogCheckAnswer], ReadableTable]] = {
    "main": _findings,
    "account": _account,
    "rows": _rows,
}
