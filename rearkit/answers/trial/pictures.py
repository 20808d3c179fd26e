"""Pictures of the trial itself: where the fry of every method went, and where the tubs stood."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as Curve

from rearkit.logbook.account.ledger import REASONS
from rearkit.pictures.picture import Picture
from rearkit.pictures.style import FAINT, INK, drawing_style, look
from rearkit.words.numbers import about

if TYPE_CHECKING:
    from rearkit.answers.trial.answer import TrialAnswer

# end of the flow: column, words, colour, hatch
ENDS = {
    "alive_best": ("alive", "#7fb3b8", ""),
    "missing_best": ("missing", "#ffffff", "////"),
    "dead": ("found dead", "#8d7a70", ""),
}
TAKEN = ("#e3d5b0", "....")
BAR, GAP, BEND = 0.05, 0.035, 0.45


def draw_flow(answer: TrialAnswer) -> Picture:
    """Draw one stream a method: all that came in on the left, where it went on the right."""
    flow = answer.flow[answer.flow["start_best"] > 0] if len(answer.flow) else answer.flow
    picture = Picture(
        alt=_flow_alt(flow),
        caption="Where the fry went. The width of a stream is the share of all fry that came in.",
        width=7.0,
        height=0.6 + 2.0 * max(len(flow), 1),
    )
    with drawing_style():
        axes = picture.subplots(max(len(flow), 1), 1, squeeze=False)[:, 0]
        for ax, (_, row) in zip(axes, flow.iterrows(), strict=False):
            _stream(ax, row, look(row["method"] == answer.design.tested).colour)
        for ax in axes:
            ax.set_axis_off()
    return picture


def _ends(row: pd.Series) -> Iterator[tuple[str, float, str, str]]:
    yield ENDS["alive_best"][0], float(row["alive_best"]), *ENDS["alive_best"][1:]
    for why in REASONS:
        n = float(row[f"removed_{why}"])
        if n > 0:
            yield f"taken out ({why})", n, *TAKEN
    for column in ("missing_best", "dead"):
        words, colour, hatch = ENDS[column]
        if row[column] > 0:
            yield words, float(row[column]), colour, hatch


def _stream(ax: Axes, row: pd.Series, colour: str) -> None:
    came = float(row["start_best"] + row["added"])
    parts = list(_ends(row))
    ax.set_xlim(-0.34, 1.5)
    ax.set_ylim(-0.06 - GAP * len(parts), 1.04)
    ax.add_patch(Rectangle((0, 0), BAR, 1, facecolor=colour, edgecolor=INK, lw=0.7))
    ax.text(
        -0.02,
        0.5,
        f"{row['method']}\n{about(came)} fry\n{row['n_batches']:.0f} batches",
        ha="right",
        va="center",
        fontsize=9,
    )
    left, right = 1.0, 1.0
    for words, n, fill, hatch in parts:
        share = n / came
        _band(ax, (left - share, left), (right - share, right), fill, hatch)
        ax.add_patch(
            Rectangle(
                (1 - BAR, right - share),
                BAR,
                share,
                facecolor=fill,
                edgecolor=INK,
                lw=0.7,
                hatch=hatch,
            )
        )
        ax.text(1.02, right - share / 2, f"{about(n)} {words}", va="center", fontsize=8.5)
        left -= share
        right -= share + GAP + max(0.0, 0.075 - share - GAP)


def _band(
    ax: Axes, start: tuple[float, float], end: tuple[float, float], fill: str, hatch: str
) -> None:
    x0, x1, mid = BAR, 1 - BAR, BEND
    vertices = [
        (x0, start[0]),
        (mid, start[0]),
        (1 - mid, end[0]),
        (x1, end[0]),
        (x1, end[1]),
        (1 - mid, end[1]),
        (mid, start[1]),
        (x0, start[1]),
        (x0, start[0]),
    ]
    codes = [
        Curve.MOVETO,
        Curve.CURVE4,
        Curve.CURVE4,
        Curve.CURVE4,
        Curve.LINETO,
        Curve.CURVE4,
        Curve.CURVE4,
        Curve.CURVE4,
        Curve.CLOSEPOLY,
    ]
    ax.add_patch(
        PathPatch(
            Curve(vertices, codes), facecolor=fill, edgecolor=FAINT, lw=0.5, alpha=0.55, hatch=hatch
        )
    )


def _flow_alt(flow: pd.DataFrame) -> str:
    said = []
    for _, row in flow.iterrows():
        parts = ", ".join(f"{about(n)} {words}" for words, n, _, _ in _ends(row))
        said.append(f"{row['method']}: of {about(row['start_best'] + row['added'])} fry {parts}")
    return f"Streams: where the fry of every method went. {'; '.join(said) or 'No batch adds up'}."


def _map_caption(answer: TrialAnswer) -> str:
    text = "Where the containers stood, as far as the log says; a row is in the order of the log."
    if answer.design.tested is not None:
        text += f" Filled: {answer.design.tested}. Outlined: {answer.design.usual}."
    return text


def draw_map(answer: TrialAnswer) -> Picture:
    """Draw the containers where they stood: one row a shelf, as far as ``place`` says."""
    b = answer.batches
    known = b[b["place"].notna()]
    shelf = known["place"].astype(str).str.split(",").str[0].str.strip()
    shelves = list(dict.fromkeys(shelf))
    widest = int(shelf.value_counts().max()) if len(known) else 1
    said = "; ".join(f"{s}: {', '.join(known.loc[shelf == s, 'batch'])}" for s in shelves)
    picture = Picture(
        alt=f"A map of the containers, a row a shelf. {said or 'No place is recorded'}.",
        caption=_map_caption(answer),
        width=7.0,
        height=0.5 + 0.62 * max(len(shelves), 1),
    )
    with drawing_style():
        ax = picture.subplots()
        for y, name in enumerate(reversed(shelves)):
            ax.text(-0.15, y + 0.4, name, ha="right", va="center", fontsize=8.5)
            for x, (_, row) in enumerate(known[shelf == name].iterrows()):
                style = look(row[answer.design.compare] == answer.design.tested)
                filled = style.face != "white"
                ax.add_patch(
                    Rectangle(
                        (x, y),
                        0.9,
                        0.8,
                        facecolor=style.colour if filled else "white",
                        edgecolor=style.colour,
                        lw=1.6,
                    )
                )
                ax.text(
                    x + 0.45,
                    y + 0.4,
                    row["batch"],
                    ha="center",
                    va="center",
                    fontsize=8 if widest < 10 else 6,
                    color="white" if filled else INK,
                )
        ax.set_xlim(-0.1, max(widest, 6))
        ax.set_ylim(-0.1, max(len(shelves), 1))
        ax.set_axis_off()
    return picture


PICTURES: dict[str, Callable[[TrialAnswer], Picture]] = {"main": draw_flow, "map": draw_map}
