"""Turn the cells of a column into values, and say what was made of the odd ones."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from rearkit.logbook.doubts.findings import At
from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.files.grid import Cell
from rearkit.logbook.parse.counts import RANGED, Count, CountReading, read_count
from rearkit.logbook.parse.numbers import NumberReading, read_number
from rearkit.logbook.read.counts_from_dates import count_from_date, is_small_number
from rearkit.logbook.read.date_cells import DateCells
from rearkit.logbook.read.frames import blank_values, names_in_frame
from rearkit.logbook.read.tables import Table
from rearkit.logbook.schema.declare import Column, heading_key

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
        """Read every declared column of a table.

        A count ``x`` becomes ``x_low``, ``x_best``, ``x_high`` and ``x_text``; a column that the
        sheet lacks is blank.
        """
        values: Values = {}
        for column in table.sheet.columns:
            if column.name in table.columns:
                values |= self._column(table, column, rows)
            else:
                blanks = [
                    (n, blank_values(column.kind, n, len(rows))) for n in names_in_frame(column)
                ]
                values |= dict(blanks)
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
            numbers = [self.number(column, at, cell) for at, cell in cells]
            read = [np.nan if number is None else number for number in numbers]
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
            self._teller.tell(
                "unknown-choice",
                at,
                together=(at.column, text.casefold()),
                text=text,
                otherwise=column.otherwise,
                choices=list(column.choices),
            )
            return column.otherwise
        return found

    def flag(self, at: At, cell: Cell) -> bool | None:
        """Read yes or no."""
        text = cell.text.strip()
        found = _FLAGS.get(text.casefold())
        if found is None and text not in ("", "-", "?") and cell.kind != "error":
            self._teller.tell("unknown-choice/flag", at, text=text)
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
        together = (at.column, cell.text.strip())
        self._teller.tell("no-date", at, together=together, text=cell.text)

    def _not_worked_out(self, at: At, cell: Cell) -> bool:
        """Whether a cell holds a formula without a result; one that is text is told here."""
        if cell.kind == "text" and cell.text.startswith("="):
            self._teller.tell("formula-no-value/text", at, together="=", text=cell.text)
            return True
        return cell.kind in ("error", "no_value")

    # ---- numbers ----------------------------------------------------------------------------

    def number(self, column: Column, at: At, cell: Cell | None) -> float | None:
        """Read a measurement, in the unit of its column."""
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
        together, text = (at.column, cell.text), cell.text[:10]
        self._teller.tell("number-became-date", at, together=together, text=text, value=value)
        return value

    def _tell_unreadable(self, at: At, cell: Cell) -> None:
        together = (at.column, cell.text.strip())
        self._teller.tell("text-in-numbers/none", at, together=together, text=cell.text)

    def _tell_number(self, column: Column, at: At, cell: Cell, reading: NumberReading) -> None:
        if reading.kind == "unreadable":
            self._tell_unreadable(at, cell)
        elif reading.kind in ("text", "middle"):
            key = "text-in-numbers" if reading.kind == "text" else "text-in-numbers/middle"
            together = (at.column, cell.text.strip())
            self._teller.tell(key, at, together=together, text=cell.text, value=reading.value)
        elif reading.kind in ("unit", "other_unit", "comma"):
            self._teller.tell(
                "decimal-comma" if reading.kind == "comma" else "unit-in-cell",
                at,
                together=at.column,
                text=cell.text,
                value=reading.value,
                unit=column.unit or None,
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
            other = at_point.cell
            self._teller.tell("two-decimal-marks", at, comma=comma, point=point, other=other)

    # ---- counts -----------------------------------------------------------------------------

    def count(self, at: At, cell: Cell) -> Count | None:
        """Read a count of fish."""
        if self._not_worked_out(at, cell):
            return None
        became_date = count_from_date(cell)
        if became_date is not None:
            small = is_small_number(cell)
            key = "count-became-date/small" if small else "count-became-date"
            together = (at.column, cell.text)
            self._teller.tell(key, at, together=together, text=cell.text, count=became_date)
            return became_date
        reading = read_count(cell.text, approx_share=self._share)
        self._tell_count(at, cell.text, reading)
        return reading.count

    def _tell_count(self, at: At, text: str, reading: CountReading) -> None:
        kind, count = reading.kind, reading.count
        if kind in RANGED:
            self._teller.tell("count-range", at, together=at.column, text=text)
        elif kind in ("unit", "decimal") and count is not None:
            key = "unit-in-cell" if kind == "unit" else "decimal-comma"
            value = count.best
            self._teller.tell(key, at, together=at.column, text=text, value=value, unit=None)
        elif reading.asked or (kind == "unknown" and at.column != "start_count"):
            keys = {"negative": "negative-count", "fraction": "part-of-a-fish"}
            key = keys.get(kind, "text-in-numbers/count")
            together = (at.column, text.strip())
            self._teller.tell(key, at, together=together, text=text, count=count)
