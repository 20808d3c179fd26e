"""Check measurements: shares written as fractions, centimetres among millimetres, limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from rearkit.logbook.findings import shown
from rearkit.logbook.grid import number_text
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import Teller
from rearkit.logbook.typed import Values

# What a column may hold: least, greatest, and what lies beyond in words.
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
_JUMP = (5.0, 20.0)  # a ratio of lengths that a mix of cm and mm explains
_JUMP_DAYS = 21.0  # within which no fish grows that much
_SMALLEST_MM = 2.0  # fry are longer than this when they hatch


def fractions_to_percent(
    table: Table, name: str, rows: Sequence[int], values: Values, teller: Teller
) -> None:
    """Ask about percentages that are written as fractions of 1, and read them times 100.

    A value below 1 is one; so is a 1 where nothing larger stands in the column.
    """
    column = values.get(name)
    if column is None:
        return
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
        teller.tell(
            "ASK",
            "percent-as-fraction",
            table.at(row, name),
            seen=f"{number_text(value)} in a column of percentages",
            done=f"read as {number_text(round(100.0 * value, 9))} %",
            settle="Write 20 for a fifth.",
            together=name,
        )


def check_limits(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about measurements that cannot be, and read them as blank."""
    for column in table.sheet.columns:
        if column.name not in values or column.name not in _LIMITS:
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
                "ASK",
                "cannot-be",
                table.at(row, column.name),
                seen=f"“{shown(cell.text if cell else value)}” cannot be right here",
                done="read as blank",
                settle=f"{column.help} It lies between {number_text(low)} and {number_text(high)}.",
                together=(column.name, value),
            )


def centimetres(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about lengths in centimetres among millimetres, and read them times 10.

    The lengths of every batch are gone through day by day. A length about a tenth of the day
    before, or about a tenth of the next within three weeks and shorter than any fry, is taken
    for centimetres.
    """
    lengths = values.get("length_mm")
    if lengths is None:
        return
    by_batch: dict[object, list[int]] = {}
    for i, length in enumerate(lengths):
        if isinstance(length, float) and length > 0:
            by_batch.setdefault(values["batch"][i], []).append(i)
    for positions in by_batch.values():
        for i in _too_short(positions, lengths, values["date"]):
            _times_ten(table, rows[i], i, values, teller)


def _too_short(
    positions: list[int], lengths: Sequence[object], dates: Sequence[object]
) -> list[int]:
    """Give the positions of the lengths in centimetres of one batch."""
    by_day: dict[object, list[int]] = {}
    for i in positions:
        by_day.setdefault(dates[i], []).append(i)
    days = sorted(by_day)  # type: ignore[type-var]
    value = {i: float(lengths[i]) for i in positions}  # type: ignore[arg-type]
    found: list[int] = []
    before: float | None = None
    for n, day in enumerate(days):
        today = by_day[day]
        reference = before or _first_reference(n, days, by_day, value)
        short = [i for i in today if reference and _JUMP[0] <= reference / value[i] <= _JUMP[1]]
        found += short
        before = median(value[i] * (10.0 if i in short else 1.0) for i in today)
    return found


def _first_reference(
    n: int, days: list[object], by_day: dict[object, list[int]], value: dict[int, float]
) -> float | None:
    """Give the length that the first day is held against: the longest fish near it in time."""
    near = [d for d in days[n:] if (d - days[n]).days <= _JUMP_DAYS]  # type: ignore[operator]
    lengths = [value[i] for d in near for i in by_day[d]]
    first = min(value[i] for i in by_day[days[n]])
    usual = [length for length in lengths if length >= _SMALLEST_MM]
    return min(usual) if usual and first < _SMALLEST_MM else None


def _times_ten(table: Table, row: int, i: int, values: Values, teller: Teller) -> None:
    length = float(values["length_mm"][i])  # type: ignore[arg-type]
    values["length_mm"][i] = round(10.0 * length, 9)
    spread = values.get("length_sd_mm")
    if spread is not None and isinstance(spread[i], float):
        spread[i] = round(10.0 * spread[i], 9)
    teller.tell(
        "ASK",
        "cm-among-mm",
        table.at(row, "length_mm"),
        seen=f"{number_text(length)} mm is about a tenth of the other lengths of this batch",
        done=f"taken for centimetres: read as {number_text(round(10.0 * length, 9))} mm",
        settle="Write every length in millimetres.",
        batch=shown(values["batch"][i]),
        together=("length_mm", values["batch"][i]),
    )


def two_kinds(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about batches that are measured in total and in standard length."""
    first: dict[object, dict[str, int]] = {}
    for i, row in enumerate(rows):
        kind = values.get("kind", [None] * len(rows))[i]
        length = values.get("length_mm", [None] * len(rows))[i]
        if isinstance(length, float) and not math.isnan(length):
            first.setdefault(values["batch"][i], {}).setdefault(str(kind or "blank"), row)
    for batch, kinds in first.items():
        if len(kinds) > 1:
            row = max(kinds.values())
            teller.tell(
                "ASK",
                "two-kinds-of-length",
                table.at(row, "kind"),
                seen="lengths of one batch are of different kinds: "
                + ", ".join(f"{kind} (row {n})" for kind, n in sorted(kinds.items())),
                done="all are kept as written, with their kind",
                settle="Measure one kind throughout, and write which in every row.",
                batch=shown(batch),
            )
