"""Numbers as words: what a reader sees of them, rounded once and with their sign."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from rearkit.words import numbers
from rearkit.words.numbers import MINUS, NBSP, NO_FINITE_RANGE, NO_RANGE

INF, NAN = math.inf, math.nan


@pytest.mark.parametrize(
    ("x", "text"),
    [(0.1, "2"), (-0.1, "2"), (0.05, "1"), (0.02, "0.4"), (0.5, "10")],
)
def test_out_of_20(x: float, text: str) -> None:
    assert numbers.of_20(x) == text


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (0.05, 0.25, "1 to 5 more"),
        (-0.25, -0.05, "1 to 5 fewer"),
        (-0.1, 0.2, "from 2 fewer to 4 more"),
        (-INF, 0.2, NO_FINITE_RANGE),
    ],
)
def test_ranges_of_20(low: float, high: float, text: str) -> None:
    assert numbers.span_of_20(low, high) == text


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (1.26, 5.0, "1.3 to 5 longer"),
        (-5.0, -1.26, "1.3 to 5 shorter"),
        (-2.0, 4.0, "from 2 shorter to 4 longer"),
        (None, 4.0, NO_RANGE),
        (NAN, 4.0, NO_RANGE),
        (-2.0, INF, NO_FINITE_RANGE),
    ],
)
def test_ranges_keep_their_sign_in_words(low: float | None, high: float, text: str) -> None:
    assert numbers.span_words(low, high, 1, "longer", "shorter") == text


def test_a_difference_has_a_word_for_its_sign() -> None:
    assert numbers.more_or_fewer(12.04, 1) == "12 more"
    assert numbers.more_or_fewer(-0.26, 1) == "0.3 fewer"


@pytest.mark.parametrize(
    ("x", "text"),
    [
        (3.04, "+3"),
        (-3.06, f"{MINUS}3.1"),
        (0.04, "0"),
        (-0.04, "0"),
        (None, ""),
        (NAN, ""),
        (INF, "+no limit"),
    ],
)
def test_signs(x: float | None, text: str) -> None:
    assert numbers.signed(x, 1) == text


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [(-3.0, 12.0, f"{MINUS}3 to +12"), (None, 1.0, "none"), (-INF, 1.0, "no finite range")],
)
def test_ranges_in_a_table(low: float | None, high: float, text: str) -> None:
    assert numbers.signed_span(low, high, 0) == text


def test_out_of_20_with_its_sign() -> None:
    assert [numbers.signed_of_20(x) for x in (0.2, -0.2, 0.001)] == ["+4", f"{MINUS}4", "0"]


@pytest.mark.parametrize(
    ("write", "x", "text"),
    [
        (numbers.number, 0.0123456, "0.012"),
        (numbers.number, 1234.5, "1230"),
        (numbers.number, -2.5, f"{MINUS}2.5"),
        (numbers.number, 0, "0"),
        (numbers.percent, 0.875, f"88{NBSP}%"),
        (numbers.percent, 0.004, f"0.4{NBSP}%"),
        (numbers.percent, 0.996, f"99.6{NBSP}%"),
        (numbers.percent, 1.0, f"100{NBSP}%"),
        (numbers.about, 12.0, "12"),
        (numbers.about, 12.3, "about 12"),
        (numbers.about, 12345.0, "12\N{NARROW NO-BREAK SPACE}345"),
        (numbers.p_words, 0.0004, "below .001"),
        (numbers.p_words, 0.03126, ".031"),
        (numbers.p_words, 0.126, ".13"),
        (numbers.p_words, 1.0, "1"),
        (numbers.p_is, 0.0004, "p below .001"),
        (numbers.p_is, 0.126, "p = .13"),
        (numbers.chances, 0.03, "about 3 of 100"),
        (numbers.chances, 0.0021, "about 2 of 1\N{NARROW NO-BREAK SPACE}000"),
        (numbers.chances, 1.0, "nearly all"),
        (numbers.one_in, 0.1, "1 in 10"),
        (numbers.one_in, 2 / 70, "1 in 35"),
        (numbers.one_in, 0.3, ".30"),
    ],
)
def test_one_number(write: Callable[[float], str], x: float, text: str) -> None:
    assert write(x) == text


@pytest.mark.parametrize("write", [numbers.number, numbers.percent])
def test_what_is_not_known_is_said(write: Callable[[float | None], str]) -> None:
    assert write(None) == write(NAN) == "not known"


def test_decimals_lose_their_zeros_and_no_number_is_minus_zero() -> None:
    written = [numbers.decimals(x, 1) for x in (2.0, 2.04, -0.04, INF, None)]
    assert written == ["2", "2", "0", "no limit", "not known"]


def test_a_count_has_its_noun_in_the_right_form() -> None:
    assert numbers.count(1, "clutch", "clutches") == "1 clutch"
    assert numbers.count(3, "clutch", "clutches") == "3 clutches"
    assert numbers.count(1.5, "minute") == "1.5 minutes"


@pytest.mark.parametrize(
    ("names", "text"),
    [
        ([], ""),
        (["a"], "a"),
        (["a", "b"], "a and b"),
        (["a", "b", "c"], "a, b and c"),
        (list("abcdefgh"), "a, b, c, d, e and 3 more"),
    ],
)
def test_names_are_listed_and_a_long_list_is_cut(names: list[str], text: str) -> None:
    assert numbers.listed(names) == text
