"""Picture of the answer about moving: windows of age in which each batch comes to its limits."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from rearkit.answers.moving.words import SIZE_WORDS, batch_line
from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, OTHER_FILL, bare, drawing_style, look
from rearkit.words.numbers import decimals

if TYPE_CHECKING:
    from rearkit.answers.moving.answer import MovingAnswer

LONGEST = 3.0  # an open window is drawn to this many times the days of the log


def draw_windows(answer: MovingAnswer) -> Picture:
    """Draw the ages at which every batch comes to its size, and over its number of fish."""
    table = answer.by_batch
    picture = Picture(
        alt=_alt(answer),
        caption="One line a batch, by its age. Grey: the days it was watched; shaded: measured "
        "days. Diamond and bar: the smallest tenth is long enough, and the window for that (open "
        "diamond: extrapolated). Brown bar: more fish to a litre than the limit.",
        width=6.8,
        height=1.1 + 0.42 * len(table),
    )
    with drawing_style():
        ax = picture.subplots()
        rows = [row for _, row in table.iterrows()]
        for y, row in zip(range(len(rows) - 1, -1, -1), rows, strict=True):
            _one_line(ax, answer, row, y)
        names = [f"{r['batch']}{'' if r['running'] else ' (ended)'}" for r in rows]
        ax.set_yticks(np.arange(len(rows))[::-1], names, fontsize=8.5)
        ax.set_ylim(-0.7, len(rows) - 0.3)
        ax.set_xlabel("age in days")
        ax.grid(axis="y", visible=False)
        ax.grid(axis="x", visible=True)
        bare(ax)
    return picture


def _one_line(ax: Axes, answer: MovingAnswer, row: pd.Series, y: float) -> None:
    batch = str(row["batch"])
    container = answer.curves.containers.get(batch)
    if container is not None:
        span = container.last_day - container.first_day
        ax.barh(y, max(span, 0.2), left=container.first_day, height=0.62, color=OTHER_FILL, lw=0)
    ax.plot([0, row["age_now"]], [y, y], color=FAINT, lw=3, solid_capstyle="butt", zorder=1)
    if row["crowding"] in ("over", "was_over"):
        end = _crowded_until(answer, row)
        usual = look(False)
        ax.plot(
            [row["crowded_since_day"], end],
            [y - 0.18, y - 0.18],
            color=usual.colour,
            lw=5,
            alpha=0.75,
            solid_capstyle="butt",
        )
    if row["size"] not in ("reached", "ahead") or pd.isna(row["size_day"]):
        return
    tested = look(True)
    low, high = row["size_day_low"], row["size_day_high"]
    if pd.notna(low) and pd.notna(high):
        far = LONGEST * max(row["age_now"], 1.0)
        ax.plot([low, min(high, far)], [y, y], color=tested.colour, lw=2.2, zorder=3)
    face = "white" if row["extrapolated"] else tested.colour
    ax.plot(row["size_day"], y, marker="D", ms=7, mfc=face, mec=tested.colour, mew=1.5, zorder=4)
    ax.annotate(
        decimals(row["size_day"], 0),
        (row["size_day"], y),
        xytext=(0, 7),
        textcoords="offset points",
        ha="center",
        fontsize=7.5,
        color=INK,
    )


def _crowded_until(answer: MovingAnswer, row: pd.Series) -> float:
    """Return the last age at which there were more fish than the limit."""
    if row["crowding"] == "over":
        return float(row["age_now"])
    return float(row["crowded_until_day"])


def _alt(answer: MovingAnswer) -> str:
    lines = [batch_line(answer, row) for _, row in answer.by_batch.iterrows()]
    return f"Lines by age, one a batch: {SIZE_WORDS}. {'; '.join(lines)}. {answer.headline}"


PICTURES: dict[str, Callable[[MovingAnswer], Picture]] = {"main": draw_windows}
