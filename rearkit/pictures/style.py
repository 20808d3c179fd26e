"""One visual language: two methods told apart by colour, shape and line, readable in grey."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass

import seaborn as sns
from matplotlib.axes import Axes

INK = "#22303a"
FAINT = "#c3ccd1"
GRID = "#e4e9eb"
OTHER_FILL = "#f3efe6"


@dataclass(frozen=True, kw_only=True)
class Look:
    """How the marks of one method are drawn."""

    colour: str
    marker: str
    dashes: tuple[int, tuple[float, ...]]
    face: str


USUAL = Look(colour="#a86a12", marker="o", dashes=(0, (4.0, 1.6)), face="white")
TESTED = Look(colour="#0d5c75", marker="D", dashes=(0, ()), face="#0d5c75")


def look(tested: bool) -> Look:
    """Return the look of the tested or of the usual method."""
    return TESTED if tested else USUAL


def drawing_style() -> AbstractContextManager[object]:
    """Return the context every figure is drawn in; nothing global changes."""
    style: AbstractContextManager[object] = sns.axes_style(
        "white",
        {
            "axes.edgecolor": INK,
            "axes.labelcolor": INK,
            "text.color": INK,
            "xtick.color": INK,
            "ytick.color": INK,
            "xtick.bottom": True,
            "ytick.left": True,
            "axes.grid": True,
            "axes.axisbelow": True,
            "axes.grid.axis": "y",
            "grid.color": GRID,
            "grid.linestyle": "-",
        },
    )
    return style


def bare(ax: Axes) -> None:
    """Take away the frame where it carries nothing."""
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    ax.tick_params(length=3, width=0.8)


def percent_axis(ax: Axes, *, label: str) -> None:
    """Make the y axis a share from 0 to 100 %."""
    ax.set_ylim(-0.03, 1.05)
    ax.set_yticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"])
    ax.set_ylabel(label)
