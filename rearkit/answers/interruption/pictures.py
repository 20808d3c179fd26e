"""The change of the death rate around an event, container by container, and on other dates."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from rearkit.answers.interruption.pictures_timeline import draw_timeline
from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, bare, drawing_style, look
from rearkit.words.numbers import number

if TYPE_CHECKING:
    from rearkit.answers.interruption.answer import InterruptionAnswer

TICKS = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)


def draw_rates(answer: InterruptionAnswer) -> Picture:
    """Draw deaths a day per 100 fry before and after, one line a container."""
    t = answer.by_batch
    parts = [
        f"{r.batch} ({r.role}) {_rate(r, 'before')} to {_rate(r, 'after')}" for r in t.itertuples()
    ]
    picture = Picture(
        alt=f"Lines from before to after: deaths a day per 100 fry. {'; '.join(parts) or 'none'}. "
        f"{answer.headline}",
        caption="One line a container: deaths a day per 100 fry before and after the event began. "
        "Filled: containers it fell on. Open, dashed: containers of the same age without it.",
        width=5.6,
        height=4.0,
    )
    with drawing_style():
        ax = picture.subplots()
        for row in t.itertuples(index=False):
            hit = row.role == "affected"
            style = look(hit)
            y = [
                100 * row.deaths_before / row.fry_days_before,
                100 * row.deaths_after / row.fry_days_after,
            ]
            ax.plot(
                [0, 1],
                y,
                color=style.colour,
                ls=style.dashes,
                lw=1.3 if hit else 0.9,
                marker=style.marker,
                ms=6,
                mfc=style.face,
                mec=style.colour,
                alpha=1 if hit else 0.8,
            )
        _name_ends(ax, answer)
        ax.set_xticks([0, 1], ["before", "after"])
        ax.set_xlim(-0.25, 1.4)
        ax.set_ylim(bottom=-0.1)
        ax.set_ylabel("deaths a day per 100 fry")
        bare(ax)
    return picture


def _name_ends(ax: Axes, answer: InterruptionAnswer) -> None:
    """Write the names of the containers it fell on beside their ends, kept apart."""
    t = answer.affected
    ends = (100 * t["deaths_after"] / t["fry_days_after"]).to_numpy(dtype=float)
    top = ax.get_ylim()[1]
    last = -0.02 * top
    for i in np.argsort(ends):
        last = max(float(ends[i]), last + 0.05 * top)
        ax.annotate(
            t["batch"].iloc[i],
            (1, float(ends[i])),
            xytext=(1.09, last),
            fontsize=8,
            va="center",
            arrowprops={"arrowstyle": "-", "color": FAINT, "lw": 0.7},
        )


def _rate(row: object, when: str) -> str:
    return number(100 * getattr(row, f"deaths_{when}") / getattr(row, f"fry_days_{when}"), 2)


def draw_dates(answer: InterruptionAnswer) -> Picture:
    """Draw the change at the event among the changes at all other dates."""
    p = answer.placebo
    values = np.exp(p.others["log_ratio"].to_numpy(dtype=float)) if p is not None else np.zeros(0)
    own = math.exp(p.log_ratio) if p is not None else float("nan")
    picture = Picture(
        alt=f"Dots: death rate after over before at {len(values)} other dates, and "
        f"{number(own, 2)} at the event.",
        caption="The same comparison made at every other date of the same containers (half a death "
        "added on each side). The diamond is the event.",
        width=6.4,
        height=2.2,
    )
    with drawing_style():
        ax = picture.subplots()
        if len(values):
            height = np.zeros(len(values))
            order = np.argsort(values)
            for i in range(1, len(order)):
                near = abs(np.log(values[order[i]] / values[order[i - 1]])) < 0.12
                height[order[i]] = height[order[i - 1]] + 1 if near else 0
            ax.plot(values, height, ls="none", marker="o", ms=6, mfc=FAINT, mec=INK, mew=0.8)
            ax.set_ylim(-1.2, max(height.max() + 1, 2.5))
        if math.isfinite(own):
            ax.plot(own, -0.6, ls="none", marker="D", ms=9, color=look(True).colour)
        ax.axvline(1, color=INK, lw=0.8)
        ax.set_xscale("log")
        ticks = [
            t for t in (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50) if _inside(t, [*values, own])
        ]
        ax.set_xticks(ticks, [number(t, 2) for t in ticks])
        ax.minorticks_off()
        ax.set_yticks([])
        ax.set_xlabel("death rate after over before")
        ax.spines["left"].set_visible(False)
        bare(ax)
    return picture


def _inside(tick: float, values: list[float]) -> bool:
    known = [v for v in values if math.isfinite(v)] or [1.0]
    return min(known) / 2 <= tick <= max(known) * 2 or tick == 1


PICTURES: dict[str, Callable[[InterruptionAnswer], Picture]] = {
    "main": draw_rates,
    "dates": draw_dates,
    "timeline": draw_timeline,
}
