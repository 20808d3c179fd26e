"""Paragraphs, lists, boxes and tables: text in, escaped HTML out."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from rearkit.words.numbers import decimals


@dataclass(frozen=True, kw_only=True, eq=False)
class Prose:
    """Paragraphs, then a list; plain text inside, escaped when shown."""

    paragraphs: Sequence[str] = ()
    items: Sequence[str] = ()

    def _repr_html_(self) -> str:
        text = "".join(f"<p>{html.escape(p)}</p>" for p in self.paragraphs)
        if self.items:
            text += "<ul>" + "".join(f"<li>{html.escape(i)}</li>" for i in self.items) + "</ul>"
        return text


@dataclass(frozen=True, kw_only=True, eq=False)
class AnswerBox:
    """The answer in a few lines, each with its name; plain text inside, escaped when shown."""

    lines: Sequence[tuple[str, str]]

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<dt>{html.escape(name)}</dt><dd>{html.escape(text)}</dd>" for name, text in self.lines
        )
        return f'<div class="answer box"><dl>{rows}</dl></div>'


@dataclass(frozen=True, kw_only=True, eq=False)
class Groups:
    """Several lists, each under its name; plain text inside, escaped when shown."""

    groups: Sequence[tuple[str, Sequence[str]]]

    def _repr_html_(self) -> str:
        return "".join(
            f"<h4>{html.escape(name)}</h4>{Prose(items=items)._repr_html_()}"
            for name, items in self.groups
        )


Said = Prose | AnswerBox | Groups
"""What a part of an answer is said as."""


def listed_prose(sentences: Sequence[str]) -> Prose:
    """List sentences; one alone is a paragraph."""
    return Prose(items=sentences) if len(sentences) > 1 else Prose(paragraphs=sentences)


def summary_html(headline: str, limits: Sequence[str]) -> str:
    """Show an answer as HTML: the sentence and its limits, everything escaped."""
    items = "".join(f"<li>{html.escape(text)}</li>" for text in limits)
    box = f'<p class="headline">{html.escape(headline)}</p>'
    if items:
        box += f'<p class="limits-title">What this cannot show</p><ul class="limits">{items}</ul>'
    return f'<div class="answer">{box}</div>'


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadableTable:
    """A table of text for people; ``frame`` holds the cells as they are shown."""

    frame: pd.DataFrame
    caption: str

    def _repr_html_(self) -> str:
        cells = self.frame.astype(object).where(self.frame.notna(), "")  # na_rep spares no None
        body = cells.to_html(index=False, escape=True, border=0)
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
