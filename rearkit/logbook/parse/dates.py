"""Dates as people and spreadsheets write them."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from rearkit.logbook.number_words import plain_text

Order = Literal["day first", "month first", "year first"]
ORDERS: tuple[Order, ...] = ("day first", "month first", "year first")

FIRST_YEAR, LAST_YEAR = 1950, 2100
_DAY_NUMBERS = (18_264, 73_415)  # 1950 to 2100 in the 1900 system

_MONTHS = {
    1: "jan january januar janvier enero janv ene gennaio januari",
    2: "feb february februar février fevrier febrero févr fév febbraio februari",
    3: "mar march märz maerz mars marzo mär mrz maart",
    4: "apr april avril abril avr aprile abr",
    5: "may mai mayo maggio mei",
    6: "jun june juni juin junio giugno",
    7: "jul july juli juillet julio juil luglio",
    8: "aug august août aout agosto ago augustus",
    9: "sep sept september septembre septiembre settembre",
    10: "oct october oktober okt octobre octubre ottobre",
    11: "nov november novembre noviembre",
    12: "dec december dezember dez décembre diciembre déc dic dicembre",
}
_MONTH_OF = {word: n for n, words in _MONTHS.items() for word in words.split()}
_WEEKDAY = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[.,]?\s+")
_TIME = re.compile(r"(?:t|\s)\s*\d{1,2}[:.]\d{2}(?:[:.]\d{2}(?:\.\d+)?)?\s*(?:am|pm|z)?$")
_BLANK = frozenset(("", "-", "--", "?", "??", "n/a", "na", "unknown", "not known", "none"))

ReadingKind = Literal["blank", "date", "order", "day_number", "no_year", "unreadable"]


@dataclass(frozen=True, kw_only=True)
class DateReading:
    """What one cell may mean as a date.

    Parameters
    ----------
    text : str
        As written.
    kind : str
        ``date`` is certain; ``order`` depends on the order of day and month; ``day_number`` counts
        days as spreadsheets do; ``no_year`` lacks a year; ``blank`` and ``unreadable`` are neither.
    date : datetime.date or None
        The date, where it is certain.
    by_order : mapping of str to datetime.date
        The date by each order of day, month and year that is possible.
    number : float
        The day number.
    dotted : bool
        Whether the parts are divided by dots, as where the day is written first.
    """

    text: str
    kind: ReadingKind
    date: dt.date | None = None
    by_order: Mapping[str, dt.date] = field(default_factory=dict)
    number: float = 0.0
    dotted: bool = False

    @property
    def shows_order(self) -> Order | None:
        """The only order of day and month that makes this a date, if there is only one."""
        possible = [order for order in ("day first", "month first") if order in self.by_order]
        return possible[0] if self.kind == "order" and len(possible) == 1 else None  # type: ignore[return-value]

    @property
    def ambiguous(self) -> bool:
        """Whether it is a different day by day first and by month first."""
        return self.kind == "order" and {"day first", "month first"} <= set(self.by_order)


def date_reading(value: str | float | dt.date | None) -> DateReading:
    """Read what a cell may mean as a date.

    Parameters
    ----------
    value : str, float, datetime.date or None
        Text as written, a number that a spreadsheet holds, or a real date.

    Returns
    -------
    DateReading

    Examples
    --------
    >>> date_reading("3 Apr 2025").date
    datetime.date(2025, 4, 3)
    >>> sorted(date_reading("3/4/25").by_order)
    ['day first', 'month first', 'year first']
    """
    if value is None:
        return DateReading(text="", kind="blank")
    if isinstance(value, dt.date):
        day = value.date() if isinstance(value, dt.datetime) else value
        return DateReading(text=day.isoformat(), kind="date", date=day)
    if isinstance(value, (int, float)):
        return _from_number(f"{value:.15g}", float(value))
    return _from_text(value)


@lru_cache(maxsize=8192)
def _from_text(text: str) -> DateReading:
    if len(text) > 60:
        return DateReading(text=text, kind="unreadable")
    s = plain_text(text)
    if s in _BLANK:
        return DateReading(text=text, kind="blank")
    s = _TIME.sub("", _WEEKDAY.sub("", s)).strip()
    if re.fullmatch(r"(?:19|20)\d{6}", s):
        s = f"{s[:4]}-{s[4:6]}-{s[6:]}"
    elif re.fullmatch(r"\d{5}(?:\.\d+)?", s):
        return _from_number(text, float(s))
    for form in (_year_first, _three_numbers, _with_month_name):
        found = form(text, s)
        if found is not None:
            return found
    return DateReading(text=text, kind="unreadable")


def _from_number(text: str, number: float) -> DateReading:
    low, high = _DAY_NUMBERS
    if low <= number <= high:
        return DateReading(text=text, kind="day_number", number=number)
    if number.is_integer() and re.fullmatch(r"(?:19|20)\d{6}", f"{number:.0f}"):
        return _from_text(f"{number:.0f}")
    return DateReading(text=text, kind="unreadable")


def make_date(year: int, month: int, day: int) -> dt.date | None:
    """Give the date, or None if there is no such day."""
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _full_year(digits: str) -> int:
    year = int(digits)
    if len(digits) != 2:
        return year
    return 2000 + year if year < 70 else 1900 + year


def _year_first(text: str, s: str) -> DateReading | None:
    match = re.fullmatch(r"(\d{4})[-/. ]\s*(\d{1,2})[-/. ]\s*(\d{1,2})\.?", s)
    if not match:
        return None
    day = make_date(*(int(part) for part in match.groups()))
    return DateReading(text=text, kind="date" if day else "unreadable", date=day)


def _three_numbers(text: str, s: str) -> DateReading | None:
    match = re.fullmatch(r"(\d{1,2})([-/. ])\s*(\d{1,2})[-/. ]\s*(\d{4}|\d{2})", s)
    if not match:
        return None
    a, b, c = match[1], match[3], match[4]
    made = {
        "day first": make_date(_full_year(c), int(b), int(a)),
        "month first": make_date(_full_year(c), int(a), int(b)),
        "year first": make_date(_full_year(a), int(b), int(c))
        if len(a) == len(c) == 2 or len(a) + len(c) == 3
        else None,
    }
    by_order = {order: day for order, day in made.items() if day is not None}
    if not by_order:
        return DateReading(text=text, kind="unreadable")
    if int(a) == int(b) and len(c) == 4:
        return DateReading(text=text, kind="date", date=by_order["day first"])
    return DateReading(text=text, kind="order", by_order=by_order, dotted=match[2] == ".")


def _with_month_name(text: str, s: str) -> DateReading | None:
    s = re.sub(r"(\d)(?:st|nd|rd|th)\b", r"\1", s)
    day_month = re.fullmatch(r"(\d{1,2})[-./ ]*([^\W\d]+)[-./, ]*(\d{4}|'?\d{2})?", s)
    month_day = re.fullmatch(r"([^\W\d]+)[-./ ]*(\d{1,2})(?:[-/, ]+(\d{4}|'?\d{2}))?", s)
    year_first = re.fullmatch(r"(\d{4})[-/. ]+([^\W\d]+)[-/. ]+(\d{1,2})", s)
    if day_month:
        day, name, year = day_month.groups()
    elif month_day:
        name, day, year = month_day.groups()
    elif year_first:
        year, name, day = year_first.groups()
    else:
        return None
    month = _MONTH_OF.get(name.rstrip("."))
    if month is None:
        return None
    if year is None:
        leap = make_date(2024, month, int(day))
        return DateReading(text=text, kind="no_year" if leap else "unreadable", date=leap)
    made = make_date(_full_year(year.lstrip("'")), month, int(day))
    return DateReading(text=text, kind="date" if made else "unreadable", date=made)
