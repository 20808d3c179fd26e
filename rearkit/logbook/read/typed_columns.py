"""Turn the cells of a column into values, and say what was made of the odd ones."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from rearkit.logbook.doubts.findings import At
from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.files.grid import Cell, number_text
from rearkit.logbook.parse.counts import RANGED, Count, CountReading, read_count
from rearkit.logbook.parse.dates import date_reading
from rearkit.logbook.parse.numbers import NumberReading, read_number
from rearkit.logbook.read.date_cells import DateCells
from rearkit.logbook.read.frames import blank_values, names_in_frame
from rearkit.logbook.read.tables import Table
from rearkit.logbook.schema.declare import Column, heading_key

_FLAGS = dict.fromkeys(("yes", "y", "true", "1", "ja", "oui", "x"), True) | dict.fromkeys(
    ("no", "n", "false", "0", "nein", "non"), False
)
_DAY_ZERO = dt.datetime(1899, 12, 30)
_DAY_NUMBERS = (40_000.0, 60_000.0)  # 2009 to 2064: far more fry than any container holds
_MONTH_NUMBER = re.compile(r"([^\W\d]+)[- ](\d{2})")
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
            return {column.name: [self._date(column.name, at, cell) for at, cell in cells]}
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

    def _date(self, name: str, at: At, cell: Cell | None) -> object:
        day = self._dates.date(at)
        if day is None and cell is not None and cell.kind not in ("error", "no_value"):
            if name == "ended" and cell.text.strip().startswith("9999"):
                self._teller.tell("never-ended", at, together=name, text=cell.text)
            else:
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


# ---- counts that a spreadsheet took for dates: "10-12" became 10 December -----------------------


def count_from_date(cell: Cell) -> Count | None:
    """Give the count that a date in a column of counts must have been.

    Parameters
    ----------
    cell : Cell

    Returns
    -------
    Count or None
        None if the cell is no date. A day and a month are the ends of a range, whichever of them
        is written first; a month and a year are too where no day was shown.

    Examples
    --------
    >>> from rearkit.logbook.files.grid import text_cell
    >>> count_from_date(text_cell("10-Dec"))
    Count(low=10.0, best=11.0, high=12.0, text='10-12')
    """
    if cell.kind == "date" and isinstance(cell.value, dt.datetime):
        if is_small_number(cell):
            n = float((cell.value - _DAY_ZERO).days)
            return Count(low=n, best=n, high=n, text=number_text(n))
        if len(cell.text) == len("2025-04"):
            return _between(cell.value.month, cell.value.year % 100)
        return _between(cell.value.day, cell.value.month)
    if cell.kind == "number" and isinstance(cell.value, float):
        return _from_day_number(cell.value)
    return _from_text(cell.text) if cell.kind == "text" else None


def is_small_number(cell: Cell) -> bool:
    """Whether a cell is a small number that is only shown as a date, of 1900 or so."""
    return isinstance(cell.value, dt.datetime) and _DAY_ZERO <= cell.value < dt.datetime(1905, 1, 1)


def _from_day_number(value: float) -> Count | None:
    low, high = _DAY_NUMBERS
    if not (low <= value <= high and value.is_integer()):
        return None
    day = _DAY_ZERO + dt.timedelta(days=value)
    return _between(day.day, day.month)


def _from_text(text: str) -> Count | None:
    if re.fullmatch(r"\s*\d{5}\s*", text):
        return _from_day_number(float(text))
    if not re.search(r"[^\W\d]{3}|\d{4}", text) or not re.search(r"\d[-/. ]|[-/. ]\d", text):
        return None
    reading = date_reading(text)
    if reading.date is not None:
        return _between(reading.date.day, reading.date.month)
    if reading.by_order:
        day = next(iter(reading.by_order.values()))
        return _between(day.day, day.month)
    month_only = _MONTH_NUMBER.fullmatch(text.strip())
    if month_only:
        month = date_reading(f"1 {month_only[1]}").date
        return _between(month.month, int(month_only[2])) if month else None
    return None


def _between(a: int, b: int) -> Count:
    low, high = float(min(a, b)), float(max(a, b))
    text = number_text(low) if low == high else f"{number_text(low)}-{number_text(high)}"
    return Count(low=low, best=(low + high) / 2.0, high=high, text=text)
