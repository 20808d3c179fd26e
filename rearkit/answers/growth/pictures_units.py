"""Pictures of growth on one day, unit by unit, and of how unequal the fish are."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, bare, drawing_style, look
from rearkit.words.numbers import decimals, listed, percent

if TYPE_CHECKING:
    from rearkit.answers.growth.answer import GrowthAnswer

SPREAD = 0.22  # half the width over which the units of one method are laid out side by side


def nothing_to_draw() -> Picture:
    """Draw a small picture that says that there are no lengths."""
    text = "No lengths in this log"
    picture = Picture(alt=f"{text}: nothing to draw.", caption="", width=4.0, height=0.8)
    picture.text(0.5, 0.5, text, ha="center", va="center", fontsize=11, color=INK)
    return picture


def draw_units(answer: GrowthAnswer) -> Picture:
    """Draw the length of every unit on the day, and the same against survival."""
    table = answer.by_unit[answer.by_unit["length_at"].notna()]
    if table.empty:
        return nothing_to_draw()
    day = decimals(answer.days.day, 1)
    picture = Picture(
        alt=_units_alt(answer, table),
        caption="Left: one dot a unit, thick bars the means of the units"
        + (", grey lines join the halves of a clutch" if answer.design.split else "")
        + ". Right: the same units by the share alive. Points that fall from left to right mean "
        "that containers with fewer survivors have longer fish: room, or the loss of the small.",
        width=7.2,
        height=3.9,
    )
    with drawing_style():
        left, right = picture.subplots(1, 2, width_ratios=(1.0, 1.1))
        _by_method(left, answer, table)
        left.set_ylabel(f"mm on day {day}")
        for row in table.itertuples(index=False):
            _dot(right, row.survival, row.length_at, bool(row.tested))
            if answer.comparison is None and pd.notna(row.survival):
                right.annotate(
                    row.unit,
                    (row.survival, row.length_at),
                    xytext=(5, 4),
                    textcoords="offset points",
                    fontsize=8,
                )
        right.set_xlim(-0.03, 1.05)
        right.set_xticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"])
        right.set_xlabel("alive")
        for ax in (left, right):
            ax.margins(y=0.12)
            bare(ax)
    return picture


def _by_method(ax: Axes, answer: GrowthAnswer, table: pd.DataFrame) -> None:
    compared = answer.comparison is not None
    where = _places(table, compared=compared)
    if answer.design.split:
        for _, pair in table.groupby("block", sort=False):
            _join(ax, pair, where)
    for row in table.itertuples(index=False):
        _dot(ax, where[row.unit], row.length_at, bool(row.tested))
    if answer.comparison is not None:
        c = answer.comparison
        for i, mean in enumerate((c.mean_usual, c.mean_tested)):
            ax.plot([i - 0.34, i + 0.34], [mean, mean], color=look(i == 1).colour, lw=2.4)
        ax.set_xticks([0, 1], [str(answer.design.usual), str(answer.design.tested)])
        ax.set_xlim(-0.6, 1.6)
        return
    ax.set_xticks(list(where.values()), list(where))
    ax.set_xlim(-0.5, len(where) - 0.5)
    if len(where) > 3:
        ax.tick_params(axis="x", labelrotation=60)


def _dot(ax: Axes, x: float, y: float, tested: bool) -> None:
    style = look(tested)
    ax.plot(x, y, marker=style.marker, ms=7, mfc=style.face, mec=style.colour, mew=1.6, ls="none")


def _places(table: pd.DataFrame, *, compared: bool) -> dict[str, float]:
    """Where the dot of every unit stands: the halves of a clutch at the same offset."""
    if not compared:
        return {u: float(i) for i, u in enumerate(table["unit"])}
    blocks = table["block"].fillna(table["unit"])
    if table["block"].notna().all():
        order = {b: i for i, b in enumerate(dict.fromkeys(blocks))}
        rank, size = blocks.map(order), max(len(order) - 1, 1)
        offset = SPREAD * (2 * rank / size - 1)
    else:
        rank = table.groupby("tested").cumcount()
        most = table.groupby("tested")["unit"].transform("size")
        offset = SPREAD * np.where(most > 1, 2 * rank / np.maximum(most - 1, 1) - 1, 0.0)
    x = table["tested"].astype(float) + offset
    return dict(zip(table["unit"], x.astype(float), strict=True))


def _join(ax: Axes, pair: pd.DataFrame, where: dict[str, float]) -> None:
    usual, tested = pair[~pair["tested"]], pair[pair["tested"]]
    for a in usual.itertuples(index=False):
        for b in tested.itertuples(index=False):
            ax.plot(
                [where[a.unit], where[b.unit]],
                [a.length_at, b.length_at],
                color=FAINT,
                lw=1.2,
                zorder=1,
            )


def _units_alt(answer: GrowthAnswer, table: pd.DataFrame) -> str:
    parts = [
        f"{r.unit} {decimals(r.length_at, 1)} mm with {percent(r.survival)} alive"
        for r in table.itertuples(index=False)
    ]
    return f"Dots: length on day {decimals(answer.days.day, 1)}. {listed(parts, most=24)}."


def draw_spread(answer: GrowthAnswer) -> Picture:
    """Draw how unequal the fish of every container were over the days."""
    table = answer.measured.spread_table()
    if table["cv"].notna().sum() == 0:
        return nothing_to_draw() if table.empty else _no_spread()
    ratio = table["largest_to_smallest"].notna().any()
    picture = Picture(
        alt=_spread_alt(table),
        caption="Left: standard deviation of the lengths over their mean."
        + (
            " Right: the largest fish over the smallest; from one and a half to two on, many "
            "keepers sort (common practice, no rule)."
            if ratio
            else ""
        ),
        width=7.2 if ratio else 4.6,
        height=3.4,
    )
    tested = dict(zip(answer.by_container["batch"], answer.by_container["tested"], strict=True))
    with drawing_style():
        axes = picture.subplots(1, 2 if ratio else 1, squeeze=False)[0]
        _lines(axes[0], table, "cv", tested, lambda x: 100.0 * x)
        axes[0].set_ylabel("CV of length, %")
        axes[0].set_ylim(bottom=0)
        if ratio:
            _lines(axes[1], table, "largest_to_smallest", tested, lambda x: x)
            axes[1].set_ylabel("largest over smallest")
            axes[1].set_ylim(bottom=1)
        for ax in axes:
            ax.set_xlabel("age in days")
            bare(ax)
    return picture


def _no_spread() -> Picture:
    text = "No spread among the fish is logged"
    picture = Picture(alt=f"{text}: nothing to draw.", caption="", width=4.0, height=0.8)
    picture.text(0.5, 0.5, text, ha="center", va="center", fontsize=11, color=INK)
    return picture


def _lines(
    ax: Axes,
    table: pd.DataFrame,
    name: str,
    tested: dict[str, bool],
    scale: Callable[[pd.Series], pd.Series],
) -> None:
    for batch, rows in table[table[name].notna()].groupby("batch", sort=False):
        style = look(bool(tested.get(str(batch), False)))
        ax.plot(
            rows["age_days"],
            scale(rows[name]),
            color=style.colour,
            ls=style.dashes,
            lw=1.1,
            marker=style.marker,
            ms=4,
            mfc=style.face,
        )


def _spread_alt(table: pd.DataFrame) -> str:
    days = table.groupby("age_days")["cv"].agg(["min", "max"]).dropna()
    parts = [
        f"day {decimals(float(day), 1)}: {percent(row['min'])} to {percent(row['max'])}"
        for day, row in days.iterrows()
    ]
    return f"Lines: how unequal the fish are (CV), by day. {listed(parts, most=12)}."
