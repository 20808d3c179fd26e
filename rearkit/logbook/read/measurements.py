"""Check measurements: impossible values, shares as fractions, centimetres, kinds of length."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

import pandas as pd

from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.read.tables import Table
from rearkit.logbook.read.typed_columns import Values

JUMP = (5.0, 20.0)  # a ratio of lengths that a mix of cm and mm explains
JUMP_DAYS = 21  # within which no fish grows that much
SMALLEST_MM = 2.0  # fry are longer than this when they hatch
_Day = tuple[pd.Timestamp, list[float]]
# The least and the greatest that a column may hold.
_LIMITS: dict[str, tuple[float, float]] = {
    "litres": (0.01, 100_000.0),
    "feeds": (0.0, 100.0),
    "water_changed_percent": (0.0, 100.0),
    "area_percent": (0.0, 100.0),
    "temp_c": (0.0, 45.0),
    "minutes": (0.0, 1440.0),
    "fish": (1.0, 1_000_000.0),
    "length_mm": (0.1, 2_000.0),
    "length_sd_mm": (0.0, 1_000.0),
    "weight_mg": (0.001, 50_000_000.0),
}


def fractions_to_percent(
    table: Table, name: str, rows: Sequence[int], values: Values, teller: Teller
) -> None:
    """Ask about percentages that are written as fractions of 1, and read them times 100.

    A value below 1 is one; so is a 1 where nothing larger stands in the column.
    """
    column = values[name]
    known = [value for value in column if isinstance(value, float) and value > 0]
    if not any(value < 1 for value in known):
        return
    most = 1.0 if max(known) <= 1 else math.nextafter(1.0, 0.0)
    for i, row in enumerate(rows):
        value = column[i]
        cell = table.cell(row, name)
        if not isinstance(value, float) or not 0 < value <= most:
            continue
        if cell is not None and cell.text.endswith("%") and cell.kind != "number":
            continue
        column[i] = round(100.0 * value, 9)
        at = table.at(row, name)
        teller.tell("percent-as-fraction", at, together=name, value=value, percent=column[i])


def check_limits(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about measurements that cannot be, and read them as blank."""
    for column in table.sheet.columns:
        if column.name not in _LIMITS:
            continue
        low, high = _LIMITS[column.name]
        data = values[column.name]
        for i, row in enumerate(rows):
            value = data[i]
            if not isinstance(value, float) or math.isnan(value) or low <= value <= high:
                continue
            cell = table.cell(row, column.name)
            data[i] = math.nan
            teller.tell(
                "cannot-be",
                table.at(row, column.name),
                together=(column.name, value),
                text=cell.text if cell else value,
                help=column.help,
                least=low,
                most=high,
            )


def two_kinds(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about batches that are measured in total and in standard length."""
    first: dict[object, dict[str, int]] = {}
    columns = zip(rows, values["batch"], values["kind"], values["length_mm"], strict=True)
    for row, batch, kind, length in columns:
        if length == length:  # not NaN
            first.setdefault(batch, {}).setdefault(str(kind or "blank"), row)
    for batch, kinds in first.items():
        if len(kinds) > 1:
            at = table.at(max(kinds.values()), "kind")
            found = [f"{kind} (row {n})" for kind, n in sorted(kinds.items())]
            teller.tell("two-kinds-of-length", at, batch=str(batch), kinds=found)


# ---- lengths in centimetres among millimetres ---------------------------------------------------


def in_centimetres(days: Sequence[_Day]) -> set[tuple[int, int]]:
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


def _undone(days: Sequence[_Day], n: int, now: float) -> bool:
    return n + 1 < len(days) and _jump(median(days[n + 1][1]), now)


def _longer(lengths: Sequence[float]) -> float | None:
    """Give what the first day is held against: its lengths that a fry can have."""
    usual = [length for length in lengths if length >= SMALLEST_MM]
    return median(usual) if usual and min(lengths) < SMALLEST_MM else None


def in_millimetres(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
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
    lengths = values["length_mm"]
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
    spread = values["length_sd_mm"][i]
    if spread <= length / 2.0:  # more than half the mean is no spread in centimetres
        values["length_sd_mm"][i] = round(10.0 * spread, 9)
    at, batch = table.at(row, "length_mm"), values["batch"][i]
    longer = values["length_mm"][i]
    teller.tell("cm-among-mm", at, batch=batch, together=batch, length=length, longer=longer)
