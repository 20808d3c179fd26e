"""Pictures of a comparison of methods: every outcome, other ways of looking, the trap of days."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from rearkit.answers.methods.words import long_words, looked_words, said
from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, bare, drawing_style, look
from rearkit.words.numbers import decimals

if TYPE_CHECKING:
    from rearkit.answers.methods.answer import Contrast, MethodsAnswer
    from rearkit.answers.methods.outcomes import Outcome

SHOWN = ("survival", "length", "length_cv", "long_enough", "minutes", "minutes_per_survivor")
SHORT = {
    "survival": "fry alive, of 20",
    "length": "length, mm",
    "length_cv": "unevenness, %",
    "long_enough": "alive and {mm} mm, of 20",
    "minutes": "minutes a container",
    "minutes_per_survivor": "minutes a survivor",
}
SPREAD = 0.2


def draw_outcomes(answer: MethodsAnswer) -> Picture:
    """Draw one small panel an outcome: a dot a unit, lines joining the halves of a clutch."""
    c = answer.first
    known = [] if c is None else [(c, o) for o in map(c.outcome, SHOWN) if len(o.values)]
    parts = [_alt(one, o) for one, o in known]
    n_rows = max(-(-len(known) // 3), 1)
    split = c is not None and c.design.split
    picture = Picture(
        alt=f"Small panels, a dot a unit. {'; '.join(parts) or 'nothing to compare'}. "
        f"{answer.headline}",
        caption="One panel an outcome, one dot a unit. Thick bars: means of the units. Only the "
        "first panel is the test; the others stand beside it."
        + (" Grey lines join the halves of one clutch." if split else ""),
        width=7.2,
        height=0.4 + 2.4 * n_rows,
    )
    with drawing_style():
        axes = np.atleast_1d(picture.subplots(n_rows, min(max(len(known), 1), 3))).ravel()
        for ax, (one, o) in zip(axes, known, strict=False):
            _panel(ax, one, o)
        for ax in axes[len(known) :]:
            ax.set_axis_off()
    return picture


def _alt(c: Contrast, o: Outcome) -> str:
    s, x = said(o.name), o.comparison
    title = SHORT[o.name].format(mm=long_words(c))
    if x is None:
        return f"{title}: {len(o.values)} units"
    return (
        f"{title}: {s.number(x.mean_usual)} with {c.design.usual}, {s.number(x.mean_tested)} with "
        f"{c.design.tested}"
    )


def _panel(ax: Axes, c: Contrast, o: Outcome) -> None:
    s = said(o.name)
    units = c.design.units[c.design.units["unit"].isin(o.values.index)]
    rank = units["block"].fillna(units["unit"]) if c.design.split else units["unit"]
    order = {name: i for i, name in enumerate(dict.fromkeys(rank))}
    spot = _spots(units, rank.map(order), len(order), split=c.design.split)
    y = s.scale * o.values.reindex(units["unit"]).to_numpy(dtype=float)
    if c.design.split:
        for block in units["block"].unique():
            pair = (units["block"] == block).to_numpy()
            ax.plot(spot[pair], y[pair], color=FAINT, lw=1.1, zorder=1)
    for tested in (False, True):
        style, mine = look(tested), (units["tested"] == tested).to_numpy()
        ax.plot(
            spot[mine],
            y[mine],
            ls="none",
            marker=style.marker,
            ms=5.5,
            mfc=style.face,
            mec=style.colour,
            mew=1.4,
        )
        if o.comparison is not None:
            mean = o.comparison.mean_tested if tested else o.comparison.mean_usual
            ends = [tested - 0.32, tested + 0.32]
            ax.plot(ends, [s.scale * mean] * 2, color=style.colour, lw=2.2)
    ax.set_title(SHORT[o.name].format(mm=long_words(c)), fontsize=9, loc="left")
    ax.set_xticks([0, 1], [str(c.design.usual), str(c.design.tested)], fontsize=8.5)
    ax.set_xlim(-0.5, 1.5)
    ax.set_ylim(0, 1.1 * max(float(np.max(y)), 1e-9))
    ax.tick_params(axis="y", labelsize=8)
    bare(ax)


def _spots(units: pd.DataFrame, rank: pd.Series, n: int, *, split: bool) -> np.ndarray:
    """Where every dot stands; the halves of a clutch at the same offset."""
    if not split:
        rank = units.groupby("tested").cumcount()
        n = int(units.groupby("tested")["unit"].size().max())
    offset = SPREAD * (2 * rank / max(n - 1, 1) - 1) if n > 1 else 0.0 * rank
    return (units["tested"].astype(float) + offset).to_numpy(dtype=float)


def draw_sensitivity(answer: MethodsAnswer) -> Picture:
    """Draw the main difference under every other way of looking at the same trial."""
    c = answer.first
    table = pd.DataFrame() if c is None else c.sensitivity
    s = said(answer.main_outcome)
    names = [] if c is None else _looked_names(c)
    rows = zip(names, table.itertuples(), strict=True)
    parts = [f"{n} {s.signed(r.difference)}" for n, r in rows]
    picture = Picture(
        alt=f"Dots: the difference in {s.name} ({s.unit}) in other ways of looking. "
        f"{'; '.join(parts) or 'nothing to compare'}.",
        caption="The main difference, looked at in other ways. Right of the line there is more "
        "with the other method than with the usual one. The line at the top is its range.",
        width=6.6,
        height=0.8 + 0.26 * max(len(table), 2),
    )
    with drawing_style():
        ax = picture.subplots()
        ax.axvline(0, color=INK, lw=0.9)
        y = np.arange(len(table))[::-1]
        if c is not None and len(table):
            _range_line(ax, c, s.scale, float(y[0]))
            x = s.scale * table["difference"].to_numpy(dtype=float)
            first = table["kind"].to_numpy() == "as_analysed"
            style = look(True)
            ax.plot(x[~first], y[~first], ls="none", marker="o", ms=5, mfc="white", mec=INK)
            ax.plot(x[first], y[first], ls="none", marker="D", ms=7, color=style.colour)
        ax.set_yticks(y, names, fontsize=8)
        ax.set_xlabel(f"difference in {s.name}, {s.unit}")
        ax.margins(x=0.1, y=0.05)
        bare(ax)
    return picture


def _range_line(ax: Axes, c: Contrast, scale: float, y: float) -> None:
    x = c.main.comparison
    if x is None or x.conf_low is None or x.conf_high is None:
        return
    if np.isfinite([x.conf_low, x.conf_high]).all():
        ends = [scale * x.conf_low, scale * x.conf_high]
        ax.plot(ends, [y, y], color=look(True).colour, lw=2, alpha=0.5)


def draw_trap(answer: MethodsAnswer) -> Picture:
    """Draw survival counted from each batch's own first day beside survival from a common one."""
    c = answer.first
    trap = None if c is None else c.trap
    alt = "No batches were counted from different ages."
    if trap is not None:
        alt = (
            f"Two panels of dots. Counted from its own first day, the other method seems "
            f"{decimals(20 * trap.difference, 1)} of 20 fry ahead; from the same day on it is "
            f"{decimals(20 * trap.fair_difference, 1)} of 20."
        )
    picture = Picture(
        alt=alt,
        caption="Left: every batch counted from its own first day, the trap. Right: all counted "
        "from the first day on which all were watched. The same fry, one dot a unit.",
        width=6.6,
        height=3.2,
    )
    with drawing_style():
        axes = picture.subplots(1, 2, sharey=True)
        if c is not None and trap is not None:
            table = c.measured.survival.assign(naive=c.measured.survival["unit"].map(trap.naive))
            titles = ("from its own first day", f"from day {decimals(c.day.landmark, 1)} on")
            for ax, column, title in zip(axes, ("naive", "survival"), titles, strict=True):
                _trap_panel(ax, c, table, column)
                ax.set_title(title, fontsize=9.5, loc="left")
        axes[0].set_ylim(-0.03, 1.05)
        axes[0].set_yticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"])
        axes[0].set_ylabel("alive")
    return picture


def _trap_panel(ax: Axes, c: Contrast, table: pd.DataFrame, column: str) -> None:
    for tested in (False, True):
        style, mine = look(tested), table[table["tested"] == tested]
        x = tested + SPREAD * np.linspace(-1, 1, len(mine)) if len(mine) > 1 else [float(tested)]
        ax.plot(
            x,
            mine[column],
            ls="none",
            marker=style.marker,
            ms=6,
            mfc=style.face,
            mec=style.colour,
            mew=1.4,
        )
        ax.plot([tested - 0.32, tested + 0.32], [mine[column].mean()] * 2, color=style.colour, lw=2)
    ax.set_xticks([0, 1], [str(c.design.usual), str(c.design.tested)])
    ax.set_xlim(-0.5, 1.5)
    bare(ax)


def _looked_names(c: Contrast) -> list[str]:
    names = c.design.usual, c.design.tested
    return [looked_words(r, *names) for r in c.sensitivity.itertuples()]


PICTURES: dict[str, Callable[[MethodsAnswer], Picture]] = {
    "main": draw_outcomes,
    "sensitivity": draw_sensitivity,
    "trap": draw_trap,
}
