"""Dates as people and spreadsheets write them, and the order of day and month."""

from __future__ import annotations

import datetime as dt
from itertools import permutations

import numpy as np
import pytest

from rearkit.logbook.parse.dates import date_reading, resolve, settle_order, swapped

APRIL_3 = dt.date(2025, 4, 3)


@pytest.mark.parametrize(
    "text",
    [
        "2025-04-03",
        "2025-4-3",
        "2025/04/03",
        "2025.04.03",
        "2025-04-03 18:30",
        "2025-04-03T00:00:00",
        "20250403",
        "3 Apr 2025",
        "3 April 2025",
        "03-Apr-25",
        "3. April 2025",
        "3.Apr.2025",
        "3rd April 2025",
        "April 3, 2025",
        "Apr 3rd 2025",
        "Thu 3 Apr 2025",
        "thursday, 3 apr '25",
        "2025 Apr 3",
        "3 avril 2025",
        "３ Apr 2025",
        " 3  Apr  2025 ",
    ],
)
def test_certain_dates(text):
    assert date_reading(text).kind == "date"
    assert date_reading(text).date == APRIL_3


def test_real_dates_are_certain():
    assert date_reading(APRIL_3).date == APRIL_3
    assert date_reading(dt.datetime(2025, 4, 3, 18, 30)).date == APRIL_3


def test_month_names_in_other_languages():
    assert date_reading("24. März 2025").date == dt.date(2025, 3, 24)
    assert date_reading("24 août 2025").date == dt.date(2025, 8, 24)
    assert date_reading("1. Dez. 2025").date == dt.date(2025, 12, 1)


@pytest.mark.parametrize("text", ["3/4/25", "03/04/2025", "3-4-2025", "3.4.25", "03 04 2025"])
def test_numbers_alone_leave_the_order_open(text):
    reading = date_reading(text)
    assert reading.ambiguous
    assert reading.shows_order is None
    assert reading.by_order["day first"] == APRIL_3
    assert reading.by_order["month first"] == dt.date(2025, 3, 4)


def test_the_same_day_by_either_order_is_certain():
    assert date_reading("04/04/2025").date == dt.date(2025, 4, 4)


@pytest.mark.parametrize(
    ("text", "order", "date"),
    [
        ("23/04/2025", "day first", dt.date(2025, 4, 23)),
        ("04/23/2025", "month first", dt.date(2025, 4, 23)),
        ("31.12.25", "day first", dt.date(2025, 12, 31)),
    ],
)
def test_some_dates_show_their_order(text, order, date):
    reading = date_reading(text)
    assert reading.shows_order == order
    assert resolve(reading, None).date == date


@pytest.mark.parametrize(
    "text",
    [
        "30/02/2025",
        "2025-13-01",
        "2025-02-30",
        "32 Apr 2025",
        "3 Foo 2025",
        "yesterday",
        "week 2",
        "3/4",
        "1e9",
        "=TODAY()",
        "45/45/2025",
        "12",
        "4" * 100,
    ],
)
def test_what_is_no_date_is_not_made_one(text):
    reading = date_reading(text)
    assert reading.kind == "unreadable"
    assert resolve(reading, "day first", near=APRIL_3).date is None


@pytest.mark.parametrize("text", ["", " ", "-", "?", "unknown", None])
def test_blank_dates(text):
    assert date_reading(text).kind == "blank"


@pytest.mark.parametrize("value", [45731, 45731.0, 45731.75, "45731", "45731.75"])
def test_day_numbers(value):
    reading = date_reading(value)
    assert reading.kind == "day_number"
    assert resolve(reading, None).date == dt.date(2025, 3, 15)
    assert resolve(reading, None).how == "number_1900"


def test_day_numbers_of_the_1904_system_differ_by_1462_days():
    reading = date_reading(45731 - 1462)
    told = resolve(reading, None, from_1904=True)
    assert told.date == dt.date(2025, 3, 15)
    guessed = resolve(reading, None, near=dt.date(2025, 4, 1))
    assert guessed == told
    assert guessed.how == "number_1904"
    assert resolve(reading, None, near=dt.date(2021, 4, 1)).how == "number_1900"
    assert resolve(reading, None, near=dt.date(2025, 4, 1), from_1904=False).how == "number_1900"


def test_a_missing_year_is_taken_from_the_other_dates():
    reading = date_reading("28 Dec")
    assert reading.kind == "no_year"
    found = resolve(reading, None, near=dt.date(2026, 1, 10))
    assert (found.date, found.how) == (dt.date(2025, 12, 28), "year")
    assert resolve(reading, None).date is None


def test_two_digit_years():
    assert date_reading("3 Apr 69").date == dt.date(2069, 4, 3)
    assert date_reading("3 Apr 70").date == dt.date(1970, 4, 3)


def settled(*texts, told=None):
    return settle_order([date_reading(text) for text in texts], told)


def test_other_dates_settle_the_order():
    found = settled("03/04/2025", "23/04/2025", "2025-04-05")
    assert (found.order, found.because) == ("day first", "shown")
    assert (found.shown_by, found.ambiguous) == ((1,), (0,))
    assert settled("03/04/2025", "04/23/2025").order == "month first"


def test_nothing_settles_a_lone_ambiguous_date():
    found = settled("03/04/2025", "2025-04-23")
    assert (found.order, found.because) == (None, "nothing")


def test_dates_that_contradict_each_other_settle_nothing():
    found = settled("23/04/2025", "04/23/2025", "03/04/2025")
    assert (found.order, found.because) == (None, "conflict")
    assert found.shown_by == (0, 1)
    assert settled("23/04/2025", "04/23/2025").because == "none needed"


def test_dots_are_written_day_first():
    found = settled("03.04.2025", "05.04.2025")
    assert (found.order, found.because) == ("day first", "dots")
    assert settled("03.04.2025", "04.23.2025").order == "month first"


def test_what_the_keeper_says_wins():
    found = settled("03/04/2025", "23/04/2025", told="month first")
    assert (found.order, found.because) == ("month first", "told")


def test_no_question_where_no_date_needs_it():
    assert settled("2025-04-03", "23/04/2025").because == "none needed"
    assert settled().because == "none needed"


@pytest.mark.parametrize("order", list(permutations(range(4))))
def test_the_order_of_rows_does_not_matter(order):
    texts = ["03/04/2025", "23/04/2025", "05/04/2025", "2025-01-02"]
    assert settled(*(texts[i] for i in order)).order == "day first"


def test_resolving_in_an_order():
    assert resolve(date_reading("03/04/2025"), "month first").date == dt.date(2025, 3, 4)
    assert resolve(date_reading("03/04/2025"), "month first").how == "ordered"
    odd = resolve(date_reading("23/04/2025"), "month first")
    assert (odd.date, odd.how) == (dt.date(2025, 4, 23), "only_way")
    assert resolve(date_reading("25/04/03"), "year first").date == APRIL_3
    assert resolve(date_reading("99/04/03"), None).date == dt.date(1999, 4, 3)


@pytest.mark.parametrize("seed", range(30))
def test_every_way_of_writing_a_day_gives_that_day(seed):
    rng = np.random.default_rng(seed)
    day = dt.date(2025, 1, 1) + dt.timedelta(days=int(rng.integers(0, 700)))
    number = (day - dt.date(1899, 12, 30)).days
    for form in ("%Y-%m-%d", "%d %b %Y", "%B %d, %Y", "%d-%b-%y", "%Y%m%d", "%d.%m.%Y", "%d/%m/%y"):
        assert resolve(date_reading(day.strftime(form)), "day first").date == day
    assert resolve(date_reading(day.strftime("%m/%d/%Y")), "month first").date == day
    assert resolve(date_reading(number), None).date == day
    other = swapped(day)
    assert other is None or swapped(other) == day
