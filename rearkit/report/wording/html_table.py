"""A table of text for people, as a notebook and a page show it."""

from __future__ import annotations

import html
from dataclasses import dataclass

import pandas as pd


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadableTable:
    """A table of text for people; ``frame`` holds the cells as they are shown."""

    frame: pd.DataFrame
    caption: str

    def _repr_html_(self) -> str:
        body = self.frame.to_html(index=False, escape=True, border=0, na_rep="")
        caption = f"<caption>{html.escape(self.caption)}</caption>"
        return body.replace("<thead>", f"{caption}<thead>", 1)
