"""Lengths in centimetres among millimetres."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

import pandas as pd

from rearkit.logbook.findings import shown
from rearkit.logbook.grid import number_text
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import Teller
from rearkit.logbook.typed import Values

JUMP = (5.0, 20.0)  # a ratio of lengths that a mix of cm and mm explains
JUMP_DAYS = 21  # within which no fish grows that much
SMALLEST_MM = 2.0  # fry are longer than this when they hatch

Day = tuple[pd.Timestamp, list[float]]


def in_centimetres(days: Sequence[Day]) -> set[tuple[int, int]]:
    """Find the lengths of one batch that were written in centimetres.

    Parameters
    ----------
    days : sequence of (Timestamp, list of float)
        The lengths, mm, of every day on which the batch was measured, in order.

    Returns
    -------
    set of (int, int)
        Day and place in the day of every length to be read times ten: one that is about a tenth
        of the lengths of the day before; every one before a jump to about ten times the length
        within three weeks that is not undone on the next day.

    Examples
    --------
    >>> d = [pd.Timestamp(2025, 4, n) for n in (1, 8, 15)]
    >>> in_centimetres([(d[0], [5.5]), (d[1], [0.7]), (d[2], [8.5])])
    {(1, 0)}
    """
    found: set[tuple[int, int]] = set()
    before: float | None = None
    for n, (day, lengths) in enumerate(days):
        reference = before if before is not None else _longer(lengths)
        short = {k for k, length in enumerate(lengths) if reference and _jump(length, reference)}
        found |= {(n, k) for k in short}
        now = median(x * (10.0 if k in short else 1.0) for k, x in enumerate(lengths))
        soon = n > 0 and (day - days[n - 1][0]).days <= JUMP_DAYS
        if before is not None and soon and _jump(before, now):
            if _undone(days, n, now):
                continue
            found |= {(i, k) for i in range(n) for k in range(len(days[i][1]))}
        before = now
    return found


def _jump(short: float, long: float) -> bool:
    return JUMP[0] <= long / short <= JUMP[1]


def _undone(days: Sequence[Day], n: int, now: float) -> bool:
    return n + 1 < len(days) and _jump(median(days[n + 1][1]), now)


def _longer(lengths: Sequence[float]) -> float | None:
    """Give what the first day is held against: its lengths that a fry can have."""
    usual = [length for length in lengths if length >= SMALLEST_MM]
    return median(usual) if usual and min(lengths) < SMALLEST_MM else None


def centimetres(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about lengths in centimetres among millimetres, and read them times ten.

    Parameters
    ----------
    table : Table
        The sheet Sizes.
    rows : sequence of int
    values : dict of str to list
        Its columns; lengths, and their spread, are changed in place.
    teller : Teller
    """
    lengths = values.get("length_mm")
    if lengths is None:
        return
    places: dict[object, dict[pd.Timestamp, list[int]]] = {}
    for i, length in enumerate(lengths):
        if length > 0 and not pd.isna(values["date"][i]):
            by_day = places.setdefault(values["batch"][i], {})
            by_day.setdefault(values["date"][i], []).append(i)
    for by_day in places.values():
        ordered = sorted(by_day.items())
        days = [(day, [lengths[i] for i in positions]) for day, positions in ordered]
        for n, k in sorted(in_centimetres(days)):
            i = ordered[n][1][k]
            _times_ten(table, rows[i], i, values, teller)


def _times_ten(table: Table, row: int, i: int, values: Values, teller: Teller) -> None:
    length = values["length_mm"][i]
    values["length_mm"][i] = round(10.0 * length, 9)
    spread = values["length_sd_mm"][i] if "length_sd_mm" in values else math.nan
    if spread <= length / 2.0:  # more than half the mean is no spread in centimetres
        values["length_sd_mm"][i] = round(10.0 * spread, 9)
    teller.tell(
        "ASK",
        "cm-among-mm",
        table.at(row, "length_mm"),
        seen=f"{number_text(length)} mm is about a tenth of the other lengths of this batch",
        done=f"taken for centimetres: read as {number_text(round(10.0 * length, 9))} mm",
        settle="Write every length in millimetres.",
        batch=shown(values["batch"][i]),
        together=values["batch"][i],
    )
