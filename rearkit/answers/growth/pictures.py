"""Pictures of growth: lengths over days with survival below, one day by unit, spread of fish."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from rearkit.batch.growth import ContainerGrowth
from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, OTHER_FILL, bare, drawing_style, look, percent_axis
from rearkit.words.numbers import decimals, listed, percent

if TYPE_CHECKING:
    from rearkit.answers.growth.answer import GrowthAnswer

APART = 0.6  # share of the shortest gap between samples over which means are drawn apart
LEAST_GAP, MOST_GAP = 1.0, 7.0  # days
MOST_LABELLED = 6
STEPS = 120
NO_LENGTHS = "No lengths in this log"
NO_SPREAD = "No spread among the fish is logged"
SPREAD = 0.22  # half the width over which the units of one method are laid out side by side


def draw_curves(answer: GrowthAnswer) -> Picture:
    """Draw every fish, every container's means and curve, the method's curve, survival below."""
    if not answer.measured.series:
        return _nothing_to_draw(NO_LENGTHS)
    arms = [False, True] if answer.comparison is not None else [False]
    single = len(arms) == 1
    picture = Picture(
        alt=_curves_alt(answer),
        caption="Above: faint dots are single fish; circles are container means with the number of "
        "fish measured, a little aside of their day; thin lines are the curves of the "
        "containers, the broad pale line is their mean. "
        "The measured days are shaded; dotted lines outside them are extrapolated. Below: the "
        "share still alive in the same containers, for growth is only seen in fish that live.",
        width=7.2 if len(arms) == 2 else 6.4,
        height=6.2,
    )
    with drawing_style():
        axes = picture.subplots(
            2, len(arms), sharex=True, sharey="row", squeeze=False, height_ratios=(2.4, 1.0)
        )
        for i, tested in enumerate(arms):
            batches = _batches(answer, tested, single=single)
            _lengths(axes[0, i], answer, batches, tested, single=single)
            _survival(axes[1, i], answer, batches, tested, single=single)
            title = str(answer.design.tested if tested else answer.design.usual or "")
            axes[0, i].set_title(title, loc="left", fontsize=10, color=look(tested).colour)
        axes[0, 0].set_ylabel("length, mm")
        axes[1, 0].set_ylabel("alive")
    return picture


def _batches(answer: GrowthAnswer, tested: bool, *, single: bool) -> list[str]:
    table = answer.by_container
    mine = table if single else table[table["tested"] == tested]
    return [str(b) for b in mine["batch"]]


def _lengths(
    ax: Axes, answer: GrowthAnswer, batches: list[str], tested: bool, *, single: bool
) -> None:
    containers = [answer.curves.containers[b] for b in batches if b in answer.curves.containers]
    if containers:
        first = min(c.first_day for c in containers)
        last = max(c.last_day for c in containers)
        ax.axvspan(first, max(last, first + 0.2), color=OTHER_FILL, lw=0, zorder=0)
    rows = answer.measured.rows
    mine = rows[rows["batch"].isin(batches) & (rows["fish"] == 1)]
    colour = look(tested).colour
    ax.plot(mine["age_days"], mine["length_mm"], ".", ms=3, color=colour, alpha=0.16, zorder=1)
    shifts = _shifts(containers)
    for j, container in enumerate(containers):
        style = look(bool(j % 2)) if single else look(tested)
        _curve(ax, container, answer.days.day, style.colour, dashes=style.dashes)
        _means(ax, container, shifts[j], style.colour)
    if single and len(containers) <= MOST_LABELLED:
        _label(ax, containers)
    if len(containers) > 1:
        _mean_curve(ax, containers, INK if single else colour)
    if answer.days.day is not None:
        ax.axvline(answer.days.day, color=INK, lw=0.8, ls=(0, (1, 2)))
    ax.margins(x=0.08)
    bare(ax)


def _shifts(containers: list[ContainerGrowth]) -> list[float]:
    """Return by how many days the means of each container are drawn aside of their day."""
    days = np.unique(np.concatenate([c.data.days for c in containers] or [np.zeros(1)]))
    gap = float(np.diff(days).min()) if len(days) > 1 else LEAST_GAP
    gap = min(max(gap, LEAST_GAP), MOST_GAP)
    n = len(containers)
    return [APART * gap * (j - (n - 1) / 2) / max(n, 4) for j in range(n)]


def _label(ax: Axes, containers: list[ContainerGrowth]) -> None:
    """Write the names beside the ends of the curves, in their order and clear of each other."""
    ends = sorted(containers, key=lambda c: c.length_at(c.last_day))
    middle = float(np.mean([c.length_at(c.last_day) for c in ends]))
    last = max(c.last_day for c in ends)
    for i, container in enumerate(ends):
        j = next(k for k, c in enumerate(containers) if c is container)
        ax.annotate(
            container.batch,
            (last, middle),
            xytext=(16, 12 * (i - (len(ends) - 1) / 2)),
            textcoords="offset points",
            fontsize=8,
            va="center",
            color=look(bool(j % 2)).colour,
        )


def _curve(
    ax: Axes,
    container: ContainerGrowth,
    day: float | None,
    colour: str,
    *,
    dashes: tuple[int, tuple[float, ...]],
) -> None:
    """Draw a curve, dotted where it leaves the measured days."""
    if container.fit is None:
        return
    inside = np.linspace(container.first_day, container.last_day, STEPS)
    ax.plot(inside, container.fit.length_at(inside), color=colour, lw=0.9, ls=dashes, alpha=0.75)
    if day is not None and container.extrapolated(day):
        edge = container.last_day if day > container.last_day else container.first_day
        outside = np.linspace(edge, day, STEPS)
        ax.plot(outside, container.fit.length_at(outside), color=colour, lw=1.0, ls=(0, (1, 2)))


def _means(ax: Axes, container: ContainerGrowth, shift: float, colour: str) -> None:
    data = container.data
    ax.plot(data.days + shift, data.means, "o", ms=8.5, mfc="white", mec=colour, mew=0.9, zorder=4)
    for day, mean, n in zip(data.days + shift, data.means, data.n_fish, strict=True):
        text = f"{round(n)}" if n < 1000 else f"{round(n / 1000)}k"
        ax.annotate(text, (day, mean), ha="center", va="center", fontsize=5.2, color=INK, zorder=5)


def _mean_curve(ax: Axes, containers: list[ContainerGrowth], colour: str) -> None:
    """Draw the mean of the containers' curves over the days that all of them span."""
    fits = [c for c in containers if c.fit is not None]
    if not fits:
        return
    first, last = max(c.first_day for c in fits), min(c.last_day for c in fits)
    if not first < last:
        return
    days = np.linspace(first, last, STEPS)
    mean = np.mean([c.fit.length_at(days) for c in fits if c.fit is not None], axis=0)
    ax.plot(days, mean, color=colour, lw=4.5, alpha=0.35, zorder=1.5, solid_capstyle="round")


def _survival(
    ax: Axes, answer: GrowthAnswer, batches: list[str], tested: bool, *, single: bool
) -> None:
    curves = answer.beside.curves()
    for j, batch in enumerate(b for b in batches if b in curves):
        style = look(bool(j % 2)) if single else look(tested)
        curve = curves[batch]
        ax.plot(curve["age"], curve["survival"], color=style.colour, lw=1.0, ls=style.dashes)
    if not curves:
        ax.annotate(
            "survival could not be followed",
            (0.5, 0.5),
            xycoords="axes fraction",
            ha="center",
            fontsize=8,
        )
    percent_axis(ax, label="")
    ax.set_xlabel("age in days")
    bare(ax)


def _curves_alt(answer: GrowthAnswer) -> str:
    parts = []
    for row in answer.by_unit.itertuples(index=False):
        length = "not measured" if pd.isna(row.length_at) else f"{decimals(row.length_at, 1)} mm"
        parts.append(f"{row.unit}: {length}, {percent(row.survival)} alive")
    day = decimals(answer.days.day, 1)
    return (
        f"Rising curves of length against age, one a container, with survival below. On day {day}: "
        f"{listed(parts, most=24)}. {answer.headline}"
    )


def draw_units(answer: GrowthAnswer) -> Picture:
    """Draw the length of every unit on the day, and the same against survival."""
    table = answer.by_unit[answer.by_unit["length_at"].notna()]
    if table.empty:
        return _nothing_to_draw(NO_LENGTHS)
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
        return _nothing_to_draw(NO_LENGTHS if table.empty else NO_SPREAD)
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


def _nothing_to_draw(text: str) -> Picture:
    """Draw a small picture that says why there is nothing to draw."""
    picture = Picture(alt=f"{text}: nothing to draw.", caption="", width=4.0, height=0.8)
    picture.text(0.5, 0.5, text, ha="center", va="center", fontsize=11, color=INK)
    return picture


PICTURES: dict[str, Callable[[GrowthAnswer], Picture]] = {
    "main": draw_curves,
    "units": draw_units,
    "spread": draw_spread,
}
