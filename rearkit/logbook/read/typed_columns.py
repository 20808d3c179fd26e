"""Turn the cells of a column into values, and say what was made of the odd ones."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from rearkit.logbook.counts import RANGED, Count, CountReading, read_count
from rearkit.logbook.counts_from_dates import count_from_date, is_small_number
from rearkit.logbook.date_cells import DateCells
from rearkit.logbook.declare import Column, heading_key
from rearkit.logbook.findings import shown
from rearkit.logbook.grid import Cell, number_text
from rearkit.logbook.numbers import NumberReading, read_number
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import At, Teller

_FLAGS = dict.fromkeys(("yes", "y", "true", "1", "ja", "oui", "x"), True) | dict.fromkeys(
    ("no", "n", "false", "0", "nein", "non"), False
)
Values = dict[str, list[Any]]


class Typist:
    """Read the values of columns.

    Parameters
    ----------
    teller : Teller
        Is told about every value that is not plain.
    dates : DateCells
        Has read all dates.
    approx_share : float
        How far "about 40" may be off.
    """

    def __init__(self, teller: Teller, dates: DateCells, *, approx_share: float) -> None:
        self._teller = teller
        self._dates = dates
        self._share = approx_share

    def columns(self, table: Table, rows: Sequence[int]) -> Values:
        """Read every declared column of a table, and its extra columns as text."""
        values: Values = {}
        for column in table.sheet.columns:
            if column.name in table.columns:
                values |= self._column(table, column, rows)
        for name in table.extras:
            values[name] = [self.text(table.cell(row, name)) for row in rows]
        return values

    def _column(self, table: Table, column: Column, rows: Sequence[int]) -> Values:
        cells = [(table.at(row, column.name), table.cell(row, column.name)) for row in rows]
        if column.kind == "count":
            counts = [self.count(at, cell) if cell else None for at, cell in cells]
            return {
                f"{column.name}_low": [c.low if c else np.nan for c in counts],
                f"{column.name}_best": [c.best if c else np.nan for c in counts],
                f"{column.name}_high": [c.high if c else np.nan for c in counts],
                f"{column.name}_text": [c.text if c else None for c in counts],
            }
        if column.kind == "number":
            self._tell_both_styles(column, cells)
            factor = table.factors.get(column.name, 1.0)
            read = [self._or_nan(self._number(column, *pair)) for pair in cells]
            return {
                column.name: [
                    v
                    if cell is None or any(c.isalpha() for c in cell.text)
                    else round(v * factor, 9)
                    for v, (_, cell) in zip(read, cells, strict=True)
                ]
                if factor != 1.0
                else read
            }
        if column.kind == "choice":
            return {column.name: [self.choice(column, at, c) if c else None for at, c in cells]}
        if column.kind == "date":
            return {column.name: [self._date(at, cell) for at, cell in cells]}
        return {column.name: [self.text(cell) for _, cell in cells]}

    # ---- text, choices, yes or no ----------------------------------------------------------

    def text(self, cell: Cell | None) -> str | None:
        """Read a text; a cell of spaces is blank."""
        return (cell.text.strip() or None) if cell else None

    def choice(self, column: Column, at: At, cell: Cell) -> str | None:
        """Read a word of a choice column, or another word for it."""
        text = cell.text.strip()
        if not text or cell.kind in ("error", "no_value"):
            return None
        found = column.words.get(heading_key(text))
        if found is None and heading_key(text):
            other = column.otherwise
            self._teller.tell(
                "ASK",
                "unknown-choice",
                at,
                seen=f"“{shown(text)}”",
                done=f"read as {other}" if other else "read as blank",
                settle=f"Write one of: {', '.join(column.choices)}.",
                together=(at.column, text.casefold()),
            )
            return other
        return found

    def flag(self, at: At, cell: Cell) -> bool | None:
        """Read yes or no."""
        text = cell.text.strip()
        found = _FLAGS.get(text.casefold())
        if found is None and text not in ("", "-", "?") and cell.kind != "error":
            self._teller.tell(
                "ASK",
                "unknown-choice",
                at,
                seen=f"“{shown(text)}”",
                done="read as blank",
                settle="Write yes or no.",
            )
        return found

    # ---- dates ------------------------------------------------------------------------------

    def _date(self, at: At, cell: Cell | None) -> object:
        day = self._dates.date(at)
        if day is None and cell is not None and cell.kind not in ("error", "no_value"):
            self.tell_no_date(at, cell)
        return pd.NaT if day is None else pd.Timestamp(day)

    def tell_no_date(self, at: At, cell: Cell) -> None:
        """Say that a cell holds no date, unless it is as good as blank."""
        if cell.text.strip().casefold() in ("", "-", "--", "?", "unknown", "not known", "n/a"):
            return
        self._teller.tell(
            "ASK",
            "no-date",
            at,
            seen=f"“{shown(cell.text)}” is no date",
            done="read as blank",
            settle="Write it as 2025-04-03, year first.",
            together=(at.column, cell.text.strip()),
        )

    def _not_worked_out(self, at: At, cell: Cell) -> bool:
        """Whether a cell holds a formula without a result; one that is text is told here."""
        if cell.kind == "text" and cell.text.startswith("="):
            self._teller.tell(
                "NOTE",
                "formula-no-value",
                at,
                seen=f"a formula whose result was never stored: “{shown(cell.text)}”",
                done="the cell is read as blank; nothing is worked out",
                settle="Write the number itself.",
                together="=",
            )
            return True
        return cell.kind in ("error", "no_value")

    # ---- numbers ----------------------------------------------------------------------------

    def number(self, column: Column, at: At, cell: Cell) -> float | None:
        """Read a measurement, in the unit of its column."""
        return self._number(column, at, cell)

    def _or_nan(self, value: float | None) -> float:
        return np.nan if value is None else value

    def _number(self, column: Column, at: At, cell: Cell | None) -> float | None:
        if cell is None or self._not_worked_out(at, cell):
            return None
        if cell.kind == "number" and isinstance(cell.value, float):
            return cell.value
        if cell.kind == "date":
            return self._number_from_date(at, cell)
        if cell.kind == "time" and isinstance(cell.value, float):
            if column.unit == "min":
                return cell.value
            self._tell_unreadable(at, cell)
            return None
        reading = read_number(cell.text, column.unit)
        self._tell_number(column, at, cell, reading)
        return reading.value

    def _number_from_date(self, at: At, cell: Cell) -> float | None:
        day = cell.value
        if not isinstance(day, dt.datetime) or len(cell.text) < len("2025-04-03"):
            self._tell_unreadable(at, cell)
            return None
        value = float(f"{day.day}.{day.month}")
        self._teller.tell(
            "ASK",
            "number-became-date",
            at,
            seen=f"the spreadsheet turned a number into the date {cell.text[:10]}",
            done=f"read as {number_text(value)}",
            settle="Format the column as text or as numbers and write the number again.",
            together=(at.column, cell.text),
        )
        return value

    def _tell_unreadable(self, at: At, cell: Cell) -> None:
        self._teller.tell(
            "ASK",
            "text-in-numbers",
            at,
            seen=f"“{shown(cell.text)}” is no number",
            done="read as blank",
            settle="Write a number, and put words in note.",
            together=(at.column, cell.text.strip()),
        )

    def _tell_number(self, column: Column, at: At, cell: Cell, reading: NumberReading) -> None:
        value = "" if reading.value is None else number_text(reading.value)
        if reading.kind == "unreadable":
            self._tell_unreadable(at, cell)
        elif reading.kind in ("text", "middle"):
            self._teller.tell(
                "ASK",
                "text-in-numbers",
                at,
                seen=f"“{shown(cell.text)}” in a column of numbers",
                done=f"read as {value}" + (", the middle" if reading.kind == "middle" else ""),
                settle="Write one number, and put words in note.",
                together=(at.column, cell.text.strip()),
            )
        elif reading.kind in ("unit", "other_unit", "comma"):
            self._teller.tell(
                "FIX",
                "decimal-comma" if reading.kind == "comma" else "unit-in-cell",
                at,
                seen=f"“{shown(cell.text)}”",
                done=f"read as {value} {column.unit}".rstrip(),
                settle="Nothing to do.",
                together=at.column,
            )

    def _tell_both_styles(self, column: Column, cells: Sequence[tuple[At, Cell | None]]) -> None:
        """Ask where a column has decimal commas and decimal points, both typed as text."""
        first: dict[str, tuple[At, str]] = {}
        for at, cell in cells:
            if cell is not None and cell.kind == "text":
                for mark in ",.":
                    if mark in cell.text and read_number(cell.text, column.unit).kind in (
                        "plain",
                        "comma",
                    ):
                        first.setdefault(mark, (at, cell.text))
        if len(first) == 2:
            (at, comma), (at_point, point) = first[","], first["."]
            self._teller.tell(
                "ASK",
                "two-decimal-marks",
                at,
                seen=f"“{shown(comma)}” here and “{shown(point)}” in {at_point.cell}: "
                "a comma and a point in one column",
                done="both are read as decimal marks",
                settle="Use one of them, and neither to part thousands.",
            )

    # ---- counts -----------------------------------------------------------------------------

    def count(self, at: At, cell: Cell) -> Count | None:
        """Read a count of fish."""
        if self._not_worked_out(at, cell):
            return None
        became_date = count_from_date(cell)
        if became_date is not None:
            return self._count_from_date(at, cell, became_date)
        reading = read_count(cell.text, approx_share=self._share)
        self._tell_count(at, cell, reading)
        return reading.count

    def _count_from_date(self, at: At, cell: Cell, count: Count) -> Count:
        self._teller.tell(
            "FIX" if is_small_number(cell) else "ASK",
            "count-became-date",
            at,
            seen=f"the spreadsheet turned a count into the date {shown(cell.text)}",
            done=f"read as {number_text(count.low)}"
            + ("" if count.exact else f" to {number_text(count.high)}"),
            settle="Is that right? Format the column as text, then write the count again.",
            together=(at.column, cell.text),
        )
        return count

    def _tell_count(self, at: At, cell: Cell, reading: CountReading) -> None:
        kind, text = reading.kind, cell.text.strip()
        if kind in RANGED:
            self._teller.tell(
                "NOTE",
                "count-range",
                at,
                seen=f"“{shown(text)}” is a count known only so far",
                done="kept as a range; results carry it",
                settle="Nothing to do.",
                together=at.column,
            )
        elif kind in ("unit", "decimal"):
            self._teller.tell(
                "FIX",
                "unit-in-cell" if kind == "unit" else "decimal-comma",
                at,
                seen=f"“{shown(text)}”",
                done=f"read as {number_text(reading.count.best)}" if reading.count else "",
                settle="Nothing to do.",
                together=at.column,
            )
        elif reading.asked or (kind == "unknown" and at.column != "start_count"):
            self._ask_count(at, text, reading)

    def _ask_count(self, at: At, text: str, reading: CountReading) -> None:
        count = reading.count
        done = "read as not known"
        if count is not None:
            done = f"read as {number_text(count.low)}"
            done += "" if count.exact else f" to {number_text(count.high)}"
        code = "negative-count" if reading.kind == "negative" else "text-in-numbers"
        settle = "Write a number such as 12, or a range such as 10-14; put words in note."
        if reading.kind == "negative":
            settle = "A count cannot be below 0. Write the number of fish."
        self._teller.tell(
            "ASK",
            "part-of-a-fish" if reading.kind == "fraction" else code,
            at,
            seen=f"“{shown(text)}” in a column of counts",
            done=done,
            settle=settle,
            together=(at.column, text),
        )
