"""The order of day and month in a log, and the dates that follow from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from rearkit.logbook.dates import ORDERS, DateReading, Order, make_date

DAY_ZERO_1900 = dt.date(1899, 12, 30)
DAY_ZERO_1904 = dt.date(1904, 1, 1)


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
    by_1900 = DAY_ZERO_1900 + dt.timedelta(days=int(number))
    by_1904 = DAY_ZERO_1904 + dt.timedelta(days=int(number))
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


def swapped(day: dt.date) -> dt.date | None:
    """Give the date with day and month exchanged, if there is such a day and it differs."""
    other = make_date(day.year, day.day, day.month)
    return other if other != day else None
