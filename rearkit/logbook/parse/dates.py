"""Dates as people and spreadsheets write them, and the one order of day and month of a log."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from rearkit.logbook.parse.names import plain_text

Order = Literal["day first", "month first", "year first"]
ORDERS: tuple[Order, ...] = ("day first", "month first", "year first")

FIRST_YEAR, LAST_YEAR = 1950, 2100
FIRST_SHOWN, LAST_SHOWN = 1700, 2250  # a year beyond is no year: 0225, 9999
_DAY_ZERO_1900 = dt.date(1899, 12, 30)
_DAY_ZERO_1904 = dt.date(1904, 1, 1)
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


# ---- the order of day and month -----------------------------------------------------------


@dataclass(frozen=True, kw_only=True, eq=False)
class Settlement:
    """In which order the log writes its dates, and how that is known.

    Parameters
    ----------
    order : {"day first", "month first", "year first"} or None
        None if nothing settles it.
    because : {"told", "shown", "dots", "none needed", "conflict", "nothing"}
        The keeper said so; other dates show it; dots; no date depends on it; the dates contradict
        each other; nothing tells.
    shown_by : tuple of int
        Which of the readings show it.
    ambiguous : tuple of int
        Which of the readings need it.
    """

    order: Order | None
    because: str
    shown_by: tuple[int, ...] = ()
    ambiguous: tuple[int, ...] = ()


def settle_order(readings: Iterable[DateReading], told: str | None = None) -> Settlement:
    """Find the order of day and month that a log keeps.

    Parameters
    ----------
    readings : iterable of DateReading
        Every date of the log.
    told : str or None
        The order that the keeper gave, if any.

    Returns
    -------
    Settlement
    """
    listed = list(readings)
    ambiguous = tuple(i for i, reading in enumerate(listed) if reading.ambiguous)
    showing = {
        order: tuple(i for i, reading in enumerate(listed) if reading.shows_order == order)
        for order in ("day first", "month first")
    }
    for order in ORDERS:
        if told == order:
            return Settlement(order=order, because="told", ambiguous=ambiguous)
    if showing["day first"] and showing["month first"]:
        both = showing["day first"][:1] + showing["month first"][:1]
        because = "conflict" if ambiguous else "none needed"
        return Settlement(order=None, because=because, shown_by=both, ambiguous=ambiguous)
    for order in ("day first", "month first"):
        if showing[order]:
            because = "shown" if ambiguous else "none needed"
            return Settlement(
                order=order,
                because=because,
                shown_by=showing[order],
                ambiguous=ambiguous,
            )
    if not ambiguous:
        return Settlement(order=None, because="none needed")
    if all(listed[i].dotted for i in ambiguous):
        return Settlement(order="day first", because="dots", ambiguous=ambiguous)
    return Settlement(order=None, because="nothing", ambiguous=ambiguous)


@dataclass(frozen=True, kw_only=True)
class Resolved:
    """A date, and how it came about: see ``resolve``."""

    date: dt.date | None
    how: Literal[
        "blank", "sure", "ordered", "only_way", "number_1900", "number_1904", "year", "unreadable"
    ]


def resolve(
    reading: DateReading,
    order: Order | None,
    *,
    near: dt.date | None = None,
    from_1904: bool | None = None,
) -> Resolved:
    """Turn a reading into a date.

    Parameters
    ----------
    reading : DateReading
    order : {"day first", "month first", "year first"} or None
        The order that the log keeps; None reads the day first for the time being.
    near : datetime.date, optional
        A day in the middle of the log, to find a missing year or the system of a day number.
    from_1904 : bool, optional
        Whether the workbook counts days from 1904; None if it cannot be known (a CSV file).

    Returns
    -------
    Resolved
        ``how`` is ``ordered`` where the order mattered, ``only_way`` where the date exists only
        in another order than the log keeps, ``number_…`` for day numbers, ``year`` where the year
        was taken from the other dates.
    """
    if reading.kind == "date":
        return Resolved(date=reading.date, how="sure")
    if reading.kind == "order":
        return _in_order(reading, order or "day first")
    if reading.kind == "day_number":
        return _from_day_number(reading.number, near=near, from_1904=from_1904)
    if reading.kind == "no_year" and near is not None and reading.date is not None:
        return Resolved(date=_nearest_year(reading.date, near), how="year")
    return Resolved(date=None, how="blank" if reading.kind == "blank" else "unreadable")


def _in_order(reading: DateReading, order: Order) -> Resolved:
    possible = reading.by_order
    if order in possible:
        return Resolved(date=possible[order], how="ordered" if reading.ambiguous else "sure")
    others = [possible[o] for o in ("day first", "month first", "year first") if o in possible]
    return Resolved(date=others[0], how="only_way" if order != "year first" else "sure")


def _from_day_number(number: float, *, near: dt.date | None, from_1904: bool | None) -> Resolved:
    by_1900 = _DAY_ZERO_1900 + dt.timedelta(days=int(number))
    by_1904 = _DAY_ZERO_1904 + dt.timedelta(days=int(number))
    if from_1904 is None:
        from_1904 = near is not None and (
            abs((by_1900 - near).days) > 366 and abs((by_1904 - near).days) <= 366
        )
    if from_1904:
        return Resolved(date=by_1904, how="number_1904")
    return Resolved(date=by_1900, how="number_1900")


def _nearest_year(day: dt.date, near: dt.date) -> dt.date | None:
    years = (near.year - 1, near.year, near.year + 1)
    made = [d for d in (make_date(year, day.month, day.day) for year in years) if d is not None]
    return min(made, key=lambda d: abs((d - near).days), default=None)


def swapped(
    day: dt.date, *, earliest: dt.date | None = None, latest: dt.date | None = None
) -> dt.date | None:
    """Give the date with day and month exchanged.

    Parameters
    ----------
    day : datetime.date
    earliest, latest : datetime.date, optional
        What it must lie within.

    Returns
    -------
    datetime.date or None
        None if there is no such day, it is the same one, or it lies outside.
    """
    other = make_date(day.year, day.day, day.month)
    if other is None or other == day:
        return None
    early = earliest is not None and other < earliest
    return None if early or (latest is not None and other > latest) else other
