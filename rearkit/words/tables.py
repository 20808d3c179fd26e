"""Cells that several tables have in common, and the table of text itself."""

from __future__ import annotations

import html
from dataclasses import dataclass

import pandas as pd

from rearkit.words.numbers import decimals


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadableTable:
    """A table of text for people; ``frame`` holds the cells as they are shown."""

    frame: pd.DataFrame
    caption: str

    def _repr_html_(self) -> str:
        body = self.frame.to_html(index=False, escape=True, border=0, na_rep="")
        caption = f"<caption>{html.escape(self.caption)}</caption>"
        return body.replace("<thead>", f"{caption}<thead>", 1)


def counted(row: pd.Series, name: str) -> str:
    """Write the columns ``name_low/best/high`` of a row as "33" or "30 to 36"."""
    low, best, high = (row[f"{name}_{e}"] for e in ("low", "best", "high"))
    if pd.isna(best):
        return "not known"
    if pd.isna(low) or low == high:
        return decimals(best, 1)
    return f"{decimals(low, 0)} to {decimals(high, 0)}"
