"""Pictures of the survival answer: every unit's dot, the steps between looks, the other counts."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from rearkit.answers.survival.words import way_names
from rearkit.pictures.picture import Picture
from rearkit.pictures.style import (
    FAINT,
    INK,
    bare,
    drawing_style,
    look,
    percent_axis,
)
from rearkit.words.numbers import decimals, listed, percent

if TYPE_CHECKING:
    from rearkit.answers.survival.answer import SurvivalAnswer

SPREAD = 0.22  # half the width over which the units of one method are laid out side by side


def draw_units(answer: SurvivalAnswer) -> Picture:
    """Draw one dot a unit with its own interval; lines join the halves of a clutch."""
    table = answer.by_unit
    names = _method_names(answer)
    picture = Picture(
        alt=_units_alt(answer, names),
        caption=_units_caption(answer),
        width=6.4,
        height=4.4,
    )
    with drawing_style():
        ax = picture.subplots()
        where = _places(table, len(names))
        if answer.design.split:
            for _, pair in table.groupby("block", sort=False):
                _join(ax, pair, where)
        for row in table.itertuples(index=False):
            x = where[row.unit]
            style = look(bool(row.tested))
            ax.plot(
                [x, x],
                [row.survival_low, row.survival_high],
                color=style.colour,
                lw=1.1,
                alpha=0.55,
            )
            ax.plot(
                x,
                row.survival,
                marker=style.marker,
                ms=7,
                mfc=style.face,
                mec=style.colour,
                mew=1.6,
                ls="none",
                gid=f"unit {row.unit}",
            )
            side = 1 if row.tested or len(names) == 1 else -1
            ax.annotate(
                f"{row.start_best:.0f}",
                (x, row.survival),
                xytext=(7 * side, 3),
                textcoords="offset points",
                fontsize=7.5,
                ha="left" if side > 0 else "right",
                color=INK,
            )
        if answer.comparison is not None:
            for i, mean in enumerate((answer.comparison.mean_usual, answer.comparison.mean_tested)):
                ax.plot([i - 0.34, i + 0.34], [mean, mean], color=look(i == 1).colour, lw=2.4)
            ax.set_xticks(range(len(names)), names)
            ax.set_xlim(-0.6, len(names) - 0.4)
        else:
            ax.set_xticks([where[u] for u in table["unit"]], table["unit"])
            ax.set_xlim(min(where.values()) - 0.5, max(where.values()) + 0.5)
            if len(table) > 6:
                ax.tick_params(axis="x", labelrotation=60)
        ax.grid(visible=False, axis="x")
        percent_axis(ax, label=f"alive on day {decimals(answer.day.day, 1)}")
        bare(ax)
    return picture


def _method_names(answer: SurvivalAnswer) -> list[str]:
    d = answer.design
    return [str(d.usual), str(d.tested)] if answer.comparison is not None else [str(d.usual or "")]


def _places(table: pd.DataFrame, n_arms: int) -> dict[str, float]:
    """Where every unit's dot stands; the halves of a clutch stand at the same offset."""
    if n_arms == 1:
        return {u: float(i) for i, u in enumerate(table["unit"])}
    if table["block"].notna().all():
        order = {b: i for i, b in enumerate(dict.fromkeys(table["block"]))}
        rank = table["block"].map(order)
        within = table.groupby(["block", "tested"]).cumcount()
        size = max(len(order) - 1, 1)
        offset = SPREAD * (2 * rank / size - 1) + 0.03 * within
    else:
        rank = table.groupby("tested").cumcount()
        size = table.groupby("tested")["unit"].transform("size")
        offset = SPREAD * np.where(size > 1, 2 * rank / np.maximum(size - 1, 1) - 1, 0.0)
    x = table["tested"].astype(float) + offset
    return dict(zip(table["unit"], x.astype(float), strict=True))


def _join(ax: Axes, pair: pd.DataFrame, where: dict[str, float]) -> None:
    usual, tested = pair[~pair["tested"]], pair[pair["tested"]]
    for a in usual.itertuples(index=False):
        for b in tested.itertuples(index=False):
            ax.plot(
                [where[a.unit], where[b.unit]],
                [a.survival, b.survival],
                color=FAINT,
                lw=1.2,
                zorder=1,
            )


def _units_alt(answer: SurvivalAnswer, names: list[str]) -> str:
    parts = []
    for row in answer.by_unit.itertuples(index=False):
        method = f" ({row.method})" if row.method is not None else ""
        parts.append(f"{row.unit}{method} {percent(row.survival)}")
    methods = f", for {listed(names)}" if any(names) else ""
    return (
        f"Dots: the share of fry alive on day {decimals(answer.day.day, 1)} in every unit"
        f"{methods}. {'; '.join(parts)}. {answer.headline}"
    )


def _units_caption(answer: SurvivalAnswer) -> str:
    text = (
        "One dot a unit, with the number of fry it started with. Thin upright lines: what these "
        "fish in this container may stand for, given how roughly they were counted."
    )
    if answer.design.split:
        text += " Grey lines join the halves of one clutch."
    if answer.comparison is not None:
        text += " Thick bars: the mean of the units."
    return text


def draw_steps(answer: SurvivalAnswer) -> Picture:
    """Draw survival from look to look: the shaded steps are where deaths are known only between."""
    arms = [False, True] if answer.comparison is not None else [False]
    picture = Picture(
        alt=_steps_alt(answer),
        caption="Survival of every batch. The line joins the looks; the shaded steps are where a "
        "death is known only to lie between two looks. Below: fry alive, all batches together.",
        width=7.2 if len(arms) == 2 else 6.4,
        height=4.4,
    )
    names = _method_names(answer)
    with drawing_style():
        axes = np.atleast_1d(picture.subplots(1, len(arms), sharey=True))
        for i, (ax, tested) in enumerate(zip(axes, arms, strict=True)):
            units = answer.design.units
            members = units[units["tested"] == tested] if len(arms) == 2 else units
            batches = [b for bs in members["batches"] for b in bs]
            for j, b in enumerate(batches):
                _one_curve(
                    ax, answer.by_batch[b].curve, tested, labelled=len(arms) == 1, name=b, j=j
                )
            percent_axis(ax, label="alive" if i == 0 else "")
            ax.set_title(names[i], loc="left", fontsize=10, color=look(tested).colour)
            _numbers_alive(ax, answer, batches)
            ax.grid(visible=False, axis="x")
            bare(ax)
    return picture


def _one_curve(
    ax: Axes, curve: pd.DataFrame, tested: bool, *, labelled: bool, name: str, j: int
) -> None:
    style = look(tested if not labelled else bool(j % 2))
    age, s = curve["age"].to_numpy(dtype=float), curve["survival"].to_numpy(dtype=float)
    ends = np.stack([curve["look_from"].to_numpy(dtype=float)[1:], age[1:]], axis=1).ravel()
    ax.fill_between(
        ends, np.repeat(s[1:], 2), np.repeat(s[:-1], 2), color=style.colour, alpha=0.13, lw=0
    )
    ax.plot(age, s, color=style.colour, lw=1.3, ls=style.dashes, marker=".", ms=3)
    if labelled:
        ax.annotate(
            name,
            (age[-1], s[-1]),
            xytext=(4, 0),
            textcoords="offset points",
            fontsize=8,
            va="center",
        )


def _numbers_alive(ax: Axes, answer: SurvivalAnswer, batches: list[str]) -> None:
    """Write the fry alive under the axis, at a handful of days."""
    curves = [answer.by_batch[b].curve for b in batches]
    last = max(float(c["age"].iloc[-1]) for c in curves)
    first = min(float(c["age"].iloc[0]) for c in curves)
    ticks = _day_ticks(first, last)
    labels = []
    for day in ticks:
        alive = sum(
            float(np.interp(day, c["age"], c["n_alive"]))
            for c in curves
            if c["age"].iloc[0] <= day <= c["age"].iloc[-1] + 1e-9
        )
        labels.append(f"{decimals(day, 1)}\n{round(alive):,}")
    ax.set_xticks(ticks, labels, fontsize=8)
    ax.set_xlabel("age in days; fry alive", fontsize=9)


def _day_ticks(first: float, last: float) -> list[float]:
    step = next(s for s in (1, 2, 5, 7, 14, 28, 56, 112, 1_000_000) if (last - first) / s <= 6)
    inner = np.arange(np.ceil(first / step) * step, last + 1e-9, step)
    ticks = sorted({first, *(float(t) for t in inner), last})
    if len(ticks) == 1:
        return ticks
    kept = [ticks[0]]
    for t in ticks[1:-1]:
        if t - kept[-1] >= 0.5 * step and last - t >= 0.5 * step:
            kept.append(t)
    return [*kept, ticks[-1]]


def _steps_alt(answer: SurvivalAnswer) -> str:
    ends = [
        f"{b}: {percent(s.survival)} on day {decimals(answer.day.day_of(b), 1)}"
        for b, s in answer.by_batch.items()
    ]
    return f"Falling steps: survival of every batch from look to look. {'; '.join(ends)}."


def draw_sensitivity(answer: SurvivalAnswer) -> Picture:
    """Draw the difference under every other way of counting the same fish."""
    if answer.comparison is None:
        return _draw_ways_of_each(answer)
    table, names = answer.sensitivity, way_names(answer)
    said = zip(names, table["difference"], strict=True)
    picture = Picture(
        alt="The difference between the methods under other ways of counting: "
        + "; ".join(f"{name} {decimals(20 * x, 1)} of 20" for name, x in said),
        caption="The same fish, counted in other ways. Right of the line the tested method has "
        "more fry alive.",
        width=6.4,
        height=0.7 + 0.38 * max(len(table), 1),
    )
    with drawing_style():
        ax = picture.subplots()
        y = np.arange(len(table))[::-1]
        ax.axvline(0, color=INK, lw=0.9)
        c = answer.comparison
        if c is not None and c.conf_low is not None and c.conf_high is not None:
            ends = np.clip([20 * c.conf_low, 20 * c.conf_high], -20, 20)
            ax.plot(ends, [y[0], y[0]], color=look(True).colour, lw=2, alpha=0.5)
        ax.plot(
            20 * table["difference"],
            y,
            ls="none",
            marker="D",
            ms=6,
            mfc="white",
            mec=look(True).colour,
            mew=1.5,
        )
        ax.set_yticks(y, names, fontsize=8.5)
        ax.grid(visible=False, axis="y")
        ax.set_xlabel(f"fry of 20, {answer.design.tested} − {answer.design.usual}")
        ax.margins(y=0.12)
        bare(ax)
    return picture


def _draw_ways_of_each(answer: SurvivalAnswer) -> Picture:
    """Draw the survival of every batch under every way of counting."""
    table = answer.sensitivity
    units = list(dict.fromkeys(table["unit"]))
    spans = table.groupby("unit")["survival"].agg(["min", "max"])
    picture = Picture(
        alt="How far the survival of every batch depends on the way of counting: "
        + "; ".join(
            f"{u} {percent(spans.at[u, 'min'])} to {percent(spans.at[u, 'max'])}" for u in units
        ),
        caption="Diamond: as counted, with missing fish dead. The line reaches to the lowest and "
        "the highest share that the same fish can give.",
        width=6.4,
        height=0.9 + 0.38 * len(units),
    )
    with drawing_style():
        ax = picture.subplots()
        for y, u in enumerate(reversed(units)):
            ax.plot([spans.at[u, "min"], spans.at[u, "max"]], [y, y], color=look(True).colour, lw=2)
            ax.plot(answer.by_batch[u].survival, y, marker="D", ms=6, color=look(True).colour)
        ax.set_yticks(range(len(units)), list(reversed(units)))
        ax.set_xlim(-0.03, 1.03)
        ax.set_xticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"])
        ax.set_xlabel("alive")
        ax.margins(y=0.2)
        bare(ax)
    return picture


PICTURES: dict[str, Callable[[SurvivalAnswer], Picture]] = {
    "main": draw_units,
    "steps": draw_steps,
    "sensitivity": draw_sensitivity,
}
