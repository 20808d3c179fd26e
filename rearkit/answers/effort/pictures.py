"""The work as a picture: minutes against survivors, one dot a unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, bare, drawing_style, look
from rearkit.words.numbers import decimals

if TYPE_CHECKING:
    from rearkit.answers.effort.answer import EffortAnswer


def draw_work(answer: EffortAnswer) -> Picture:
    """Draw minutes a container against the fry alive in it; lines join the halves of a clutch."""
    table = answer.table()
    table = table[table["minutes"].notna()]
    compared = answer.design.tested is not None
    parts = [
        f"{r.unit}{f' ({r.method})' if compared else ''} {decimals(r.minutes, 0)} minutes, "
        f"{decimals(r.alive, 0)} alive"
        for r in table.itertuples(index=False)
    ]
    picture = Picture(
        alt=f"Dots: minutes of work against fry alive at the end. {'; '.join(parts)}. "
        f"{answer.headline}",
        caption="One dot a unit: the minutes a container took, and the fry alive in it at the end. "
        "Up and left is better: more fry for less work."
        + (" Grey lines join the halves of one clutch." if answer.design.split else ""),
        width=6.4,
        height=3.8,
    )
    with drawing_style():
        ax = picture.subplots()
        if answer.design.split:
            for _, pair in table.groupby("block", sort=False):
                ax.plot(pair["minutes"], pair["alive"], color=FAINT, lw=1.2, zorder=1)
        for tested in (False, True):
            style, part = look(tested), table[table["tested"] == tested]
            if len(part):
                label = str(answer.design.tested if tested else answer.design.usual)
                ax.plot(
                    part["minutes"],
                    part["alive"],
                    ls="none",
                    marker=style.marker,
                    ms=7,
                    mfc=style.face,
                    mec=style.colour,
                    mew=1.6,
                    label=label if compared else None,
                )
        for row in table.itertuples(index=False):
            ax.annotate(
                row.unit,
                (row.minutes, row.alive),
                xytext=(6, 4),
                textcoords="offset points",
                fontsize=7.5,
                color=INK,
            )
        ax.set_xlim(left=0, right=1.12 * max([*table["minutes"], 1.0]))
        ax.set_ylim(bottom=0, top=1.12 * max([*table["alive"], 1.0]))
        ax.set_xlabel("minutes of work in a container")
        ax.set_ylabel("fry alive at the end")
        if compared and len(table):
            ax.legend(frameon=False, fontsize=9, loc="lower left")
        bare(ax)
    return picture


PICTURES: dict[str, Callable[[EffortAnswer], Picture]] = {"main": draw_work}
