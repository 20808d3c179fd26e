"""The account of every batch as one bar: where all its fry went."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from rearkit.pictures.picture import Picture
from rearkit.pictures.style import INK, bare, drawing_style
from rearkit.words.numbers import decimals

if TYPE_CHECKING:
    from rearkit.answers.log_check.answer import LogCheckAnswer

PARTS = (
    ("alive_best", "alive", "#7fb3b8", ""),
    ("removed", "taken out", "#e3d5b0", "...."),
    ("missing_best", "missing", "#ffffff", "////"),
    ("dead", "found dead", "#6d5a52", ""),
)


def draw_account(answer: LogCheckAnswer) -> Picture:
    """Draw one bar a batch: alive, taken out, missing and found dead add up to all that came in."""
    table = answer.account[answer.account["adds_up"].astype(bool)]
    parts = [
        f"{r.batch}: {decimals(r.alive_best, 1)} alive, {decimals(r.removed, 1)} taken out, "
        f"{decimals(r.missing_best, 1)} missing, {decimals(r.dead, 1)} found dead"
        for r in table.itertuples(index=False)
    ]
    picture = Picture(
        alt=f"Bars: where the fry of every batch went. {'; '.join(parts) or 'no batch adds up'}.",
        caption="Every fry that came into a batch. The whisker is how much the start count leaves "
        "open.",
        width=6.8,
        height=1.0 + 0.32 * max(len(table), 2),
    )
    with drawing_style():
        ax = picture.subplots()
        y = np.arange(len(table))[::-1]
        left = np.zeros(len(table))
        for column, label, colour, hatch in PARTS:
            width = table[column].fillna(0.0).to_numpy(dtype=float)
            ax.barh(
                y, width, left=left, color=colour, edgecolor=INK, lw=0.6, hatch=hatch, label=label
            )
            left += width
        low = table["start_low"].to_numpy(dtype=float) + table["added"].to_numpy(dtype=float)
        high = table["start_high"].to_numpy(dtype=float) + table["added"].to_numpy(dtype=float)
        for yi, a, b in zip(y, low, high, strict=True):
            if np.isfinite(b) and b > a:
                ax.plot([a, b], [yi, yi], color=INK, lw=1.6, marker="|", ms=7)
        ax.set_yticks(y, table["batch"], fontsize=8.5)
        ax.set_xlabel("fry")
        ax.grid(axis="x")
        ax.grid(visible=False, axis="y")
        ax.legend(
            ncols=4,
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            frameon=False,
            fontsize=8.5,
            handlelength=1.4,
            columnspacing=1.2,
        )
        bare(ax)
    return picture


PICTURES: dict[str, Callable[[LogCheckAnswer], Picture]] = {"main": draw_account}
