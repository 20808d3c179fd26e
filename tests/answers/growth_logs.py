"""Logs with lengths, for the questions about growth and moving."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np

from rearkit import Logbook, read_log
from tests.logs import Row, batch, day, write_log

TRIAL = {
    "usual": "open",
    "tested": "shaded",
    "main_outcome": "length",
    "judged_on_day": 28,
    "plan_written_on": day(-3),
    "looks_planned": 1,
}
DAYS = (7, 14, 21, 28)


def size(name: str, on: int, length: float, **more: object) -> Row:
    """Return one row of the sheet Sizes."""
    row = {"date": day(on), "batch": name, "length_mm": length} | more
    return {k: round(v, 11) if isinstance(v, float) else v for k, v in row.items()}


def arms(n_usual: int, n_tested: int, *, end: object = 30, **more: object) -> list[Row]:
    """Return whole clutches: so many of the usual method and so many of the tested."""
    return [
        batch(
            f"{arm}{i + 1}",
            40,
            end,
            clutch=f"{arm}{i + 1}",
            method=arm,
            how_assigned="random draw",
            hatched=day(0),
            **more,
        )
        for arm, n in (("open", n_usual), ("shaded", n_tested))
        for i in range(n)
    ]


def grown(
    lengths: Mapping[str, Callable[[float], float]],
    *,
    days: Sequence[int] = DAYS,
    offsets: Sequence[float] = (-0.5, 0.0, 0.5),
) -> list[Row]:
    """Return fish that lie at fixed distances about a known curve of every batch."""
    return [
        size(name, on, round(curve(on) + offset, 6))
        for name, curve in lengths.items()
        for on in days
        for offset in offsets
    ]


def line(first: float, a_day: float) -> Callable[[float], float]:
    """Return a straight line of growth."""
    return lambda day: first + a_day * day


def lines_log(folder: Path, slopes: Mapping[str, float], **more: object) -> Logbook:
    """Read a log whose batches grow along straight lines from 5 mm on day 0."""
    n_usual = sum(name.startswith("open") for name in slopes)
    batches = arms(n_usual, len(slopes) - n_usual, litres=10)
    sizes = grown({name: line(5.0, slope) for name, slope in slopes.items()})
    return read_log(write_log(folder, batches=batches, sizes=sizes, trial=TRIAL | more))


def random_fish(batches: Sequence[Row], seed: int) -> dict[tuple[str, int], np.ndarray]:
    """Draw twelve fish of every batch on every day, to a tenth of a millimetre."""
    rng = np.random.default_rng(seed)
    pace = {str(row["batch"]): rng.normal(0.25, 0.02) for row in batches}
    return {
        (name, on): np.round((5.0 + a_day * on) * (1.0 + 0.1 * rng.normal(size=12)), 1)
        for name, a_day in pace.items()
        for on in DAYS
    }
