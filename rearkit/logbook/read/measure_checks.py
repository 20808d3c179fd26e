"""Check measurements: shares written as fractions, impossible values, kinds of length."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rearkit.logbook.findings import shown
from rearkit.logbook.grid import number_text
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import Teller
from rearkit.logbook.typed import Values

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
