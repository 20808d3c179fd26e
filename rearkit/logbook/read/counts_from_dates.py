"""Counts that a spreadsheet took for dates: "10-12" became 10 December."""

from __future__ import annotations

import datetime as dt
import re

from rearkit.logbook.files.grid import Cell, number_text
from rearkit.logbook.parse.counts import Count
from rearkit.logbook.parse.dates import date_reading

_DAY_ZERO = dt.datetime(1899, 12, 30)
_DAY_NUMBERS = (40_000.0, 60_000.0)  # 2009 to 2064: far more fry than any container holds
_MONTH_NUMBER = re.compile(r"([^\W\d]+)[- ](\d{2})")


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
