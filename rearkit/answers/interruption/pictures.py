"""Pictures of an event: death rates around it, and the whole timeline."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from rearkit.answers.interruption.words import date_words, event_words
from rearkit.logbook.account.ages import DAY
from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, bare, drawing_style, look
from rearkit.words.numbers import decimals, listed, number

if TYPE_CHECKING:
    from rearkit.answers.interruption.answer import InterruptionAnswer

MARKS = {"removed": "v", "added": "^"}


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
            y = [row.per_100_before, row.per_100_after]
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
    ends = t["per_100_after"].to_numpy(dtype=float)
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
    return number(getattr(row, f"per_100_{when}"), 2)


def draw_timeline(answer: InterruptionAnswer) -> Picture:
    """Draw every batch as a bar of days, with what happened to it and when."""
    t = answer.timeline
    starts = t[t["kind"] == "start"]
    batches = list(starts["batch"])
    events = [
        f"{event_words(e)} ({'all batches' if e.everywhere else listed(e.batches)})"
        for e in answer.events
    ]
    first, last = t["date"].min(), t[["date", "ended"]].max().max()
    picture = Picture(
        alt=f"A timeline of {len(batches)} batches from {date_words(first)} to {date_words(last)}. "
        f"Events: {'; '.join(events) or 'none'}. Fry taken out "
        f"{int((t['kind'] == 'removed').sum())} times. {_peak_words(answer.death_rate)}",
        caption="Above: fry found dead a day, of every 100 alive, all batches together. Bars: the "
        "batches. Upright bands: events; a triangle: fry taken out (down) or put "
        "in (up); a dotted stretch: days on which nobody looked."
        + (" Brackets: the windows that are compared." if len(answer.affected) else ""),
        width=7.2,
        height=2.3 + 0.34 * max(len(batches), 2),
    )
    with drawing_style():
        above, ax = picture.subplots(
            2, 1, sharex=True, height_ratios=[1.1, 0.9 + 0.34 * max(len(batches), 2)]
        )
        _draw_rate(above, answer.death_rate)
        rows = {b: i for i, b in enumerate(reversed(batches))}
        ends = t[t["kind"] == "end"].set_index("batch")["date"]
        for b, begun in zip(starts["batch"], starts["date"], strict=True):
            ax.plot(
                [begun, ends.get(b, last)], [rows[b]] * 2, color=FAINT, lw=6, solid_capstyle="butt"
            )
        _draw_events(ax, answer, rows)
        _draw_marks(ax, t, rows)
        _draw_windows(ax, answer, rows)
        ax.set_yticks(list(rows.values()), list(rows), fontsize=8.5)
        ax.set_ylim(-0.7, len(rows) - 0.3)
        ax.xaxis.set_major_locator(mdates.AutoDateLocator(minticks=3, maxticks=8))
        ax.xaxis.set_major_formatter(mdates.ConciseDateFormatter(ax.xaxis.get_major_locator()))
        ax.grid(axis="x")
        ax.grid(visible=False, axis="y")
        bare(ax)
    return picture


def _peak_words(rate: pd.DataFrame) -> str:
    known = rate.dropna(subset="per_100")
    if known.empty or known["per_100"].max() <= 0:
        return "No fry was found dead."
    worst = known.loc[known["per_100"].idxmax()]
    return (
        f"Losses were highest around {date_words(worst['date'])}: "
        f"{decimals(worst['per_100'], 1)} of 100 fry a day."
    )


def _draw_rate(ax: Axes, rate: pd.DataFrame) -> None:
    """Draw the death rate of every day as a step; the height is what one dead in 100 a day is."""
    ax.fill_between(rate["date"], rate["per_100"], step="post", color=INK, alpha=0.25, lw=0)
    ax.step(rate["date"], rate["per_100"], where="post", color=INK, lw=1.0)
    ax.set_ylim(bottom=0)
    ax.set_ylabel("dead a day\nof 100 fry", fontsize=8)
    ax.tick_params(labelsize=8)
    bare(ax)


def _draw_events(ax: Axes, answer: InterruptionAnswer, rows: dict[str, int]) -> None:
    for e in answer.events:
        end = e.ended + 0.6 * DAY
        chosen = answer.event is not None and e.number == answer.event.number
        colour = look(chosen).colour
        whole = (-0.7, len(rows) - 0.3)
        spans = [(rows[b] - 0.4, rows[b] + 0.4) for b in e.batches if b in rows]
        for low, high in [whole] if e.everywhere else spans:
            ax.fill_between([e.started, end], low, high, color=colour, alpha=0.35, lw=0)
        ax.annotate(
            str(e.what or "event"),
            (e.started, max(high for _, high in spans or [whole])),
            xytext=(0, 2),
            textcoords="offset points",
            fontsize=8,
            color=colour,
        )


def _draw_marks(ax: Axes, t: pd.DataFrame, rows: dict[str, int]) -> None:
    for r in t[t["kind"].isin(list(MARKS))].itertuples(index=False):
        if r.batch in rows:
            ax.plot(r.date, rows[r.batch], marker=MARKS[r.kind], ms=6, color=INK, mfc="white")
            ax.annotate(
                decimals(r.n, 1),
                (r.date, rows[r.batch]),
                xytext=(4, 4),
                textcoords="offset points",
                fontsize=7,
            )
    for r in t[t["kind"] == "not looked"].itertuples(index=False):
        if r.batch in rows:
            ax.plot([r.date, r.ended], [rows[r.batch]] * 2, color=INK, lw=1.2, ls=(0, (1, 2)))


def _draw_windows(ax: Axes, answer: InterruptionAnswer, rows: dict[str, int]) -> None:
    e = answer.event
    if e is None:
        return
    begins = e.started - answer.before_days * DAY
    ends = e.ended + answer.after_days * DAY
    for b in answer.affected["batch"]:
        y = rows[b] - 0.32
        ax.plot([begins, e.started], [y, y], color=look(False).colour, lw=1.4, marker="|", ms=5)
        ax.plot([e.started, ends], [y, y], color=look(True).colour, lw=1.4, marker="|", ms=5)


PICTURES: dict[str, Callable[[InterruptionAnswer], Picture]] = {
    "main": draw_rates,
    "timeline": draw_timeline,
}
