"""The use of a place as a picture: every container's days, the windows, the place's own share."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from rearkit.answers.place_use.tables import ages
from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, bare, drawing_style, look, percent_axis
from rearkit.words.numbers import percent

if TYPE_CHECKING:
    from rearkit.answers.place_use.answer import PlaceUseAnswer

TINTS = ("#8a969d", "#b7a07a", "#7ba0a4", "#a58a97", "#93a67b", "#9a9ab8")


def draw_use(answer: PlaceUseAnswer) -> Picture:
    """Draw the share seen in the place by age, with what those not seen leave open."""
    table = answer.scans.table
    parts = [
        f"age {ages(w.age_from, w.age_to)}: {percent(w.share)} of those seen, in {percent(w.area)} "
        "of the container"
        for w in answer.windows
        if w.n_units
    ]
    picture = Picture(
        alt=f"Dots over age: the share of the fry seen in the place. {'; '.join(parts) or 'none'}. "
        f"{answer.headline}",
        caption="Dots: one day of one container, with an upright line for those that were not "
        "seen. Thick bars: the mean of every window and its range. Dashed: the share of the "
        "container that the place takes up.",
        width=6.8,
        height=4.2,
    )
    with drawing_style():
        ax = picture.subplots()
        if len(table):
            _draw_days(ax, answer, table)
            _draw_windows(ax, answer, float(table["age_days"].max()))
        percent_axis(ax, label=f"seen in '{answer.scans.place}'" if len(table) else "seen there")
        ax.set_xlabel("age in days")
        bare(ax)
    return picture


def _draw_days(ax: Axes, answer: PlaceUseAnswer, table: pd.DataFrame) -> None:
    days = table.groupby(["batch", "age_days"], sort=False)[["share", "share_low", "share_high"]]
    means = days.mean().reset_index()
    batches = list(dict.fromkeys(means["batch"]))
    for i, batch in enumerate(batches):
        mine = means[means["batch"] == batch]
        tint = TINTS[i % len(TINTS)]
        shift = 0.18 * (i - (len(batches) - 1) / 2)
        x = mine["age_days"] + shift
        ax.vlines(x, mine["share_low"], mine["share_high"], color=tint, lw=1, alpha=0.7)
        ax.plot(x, mine["share"], color=tint, lw=0.7, marker="o", ms=3.5, label=batch)
        swap = answer.scans.swapped.get(batch)
        if swap is not None:
            at = table[(table["batch"] == batch) & (table["date"] >= swap)]["age_days"].min()
            ax.plot(at + shift, 1.02, marker="v", ms=6, color=tint, clip_on=False)
    if 1 < len(batches) <= 8:
        ax.legend(frameon=False, fontsize=8, ncols=2, loc="upper right")


def _draw_windows(ax: Axes, answer: PlaceUseAnswer, last: float) -> None:
    style = look(True)
    for w in answer.windows:
        if not w.n_units:
            continue
        end = max(last, w.age_from + 1) if w.age_to is None else w.age_to
        if np.isfinite(w.area):
            ax.plot([w.age_from, end], [w.area, w.area], color=INK, lw=1.2, ls=(0, (4, 2)))
        ax.plot([w.age_from, end], [w.share, w.share], color=style.colour, lw=3)
        if w.conf_low is not None and w.conf_high is not None:
            ends = np.clip([w.area + w.conf_low, w.area + w.conf_high], 0, 1)
            ax.fill_between([w.age_from, end], *ends, color=style.colour, alpha=0.12, lw=0)
        if w.age_to is not None:
            ax.axvline(end, color=FAINT, lw=0.8)


PICTURES: dict[str, Callable[[PlaceUseAnswer], Picture]] = {"main": draw_use}
