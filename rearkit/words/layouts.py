"""A layout in words, whatever was measured on its units."""

from __future__ import annotations

from rearkit.design.comparison import Comparison
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.words.numbers import (
    MINUS,
    count,
    decimals,
    listed,
    one_in,
    p_words,
    whole,
)

NO_RANGE = "no range can be given"
NO_FINITE_RANGE = "no finite range at this size"


def units_of(design: Design) -> str:
    """Say how many units stand behind an answer: "6 split clutches", "4 against 5 clutches"."""
    if design.split:
        text = count(design.n_blocks, "split clutch", "split clutches")
        if design.n_usual + design.n_tested > 2 * design.n_blocks:
            text += f" ({design.n_tested} against {design.n_usual} containers)"
        return text
    noun = "clutches" if design.unit == "clutch" else "containers"
    return f"{design.n_tested} against {design.n_usual} {noun}"


def days_of(chosen: JudgingDay) -> str:
    """Say the days of a comparison: "up to day 28", "from day 5 to day 30"."""
    if chosen.landmark > 0:
        return f"from day {decimals(chosen.landmark, 1)} to day {decimals(chosen.day, 1)}"
    return f"up to day {decimals(chosen.day, 1)}"


def more_or_fewer(x: float, places: int, up: str = "more", down: str = "fewer") -> str:
    """Write a difference without its sign and with a word for it: "12 more"."""
    return f"{decimals(abs(x), places)} {up if x >= 0 else down}"


def span_words(
    low: float | None, high: float | None, places: int, up: str = "more", down: str = "fewer"
) -> str:
    """Write an interval of a difference in words that keep the sign."""
    if low is None or high is None or low != low or high != high:
        return NO_RANGE
    if abs(low) == float("inf") or abs(high) == float("inf"):
        return NO_FINITE_RANGE
    a, b = decimals(abs(low), places), decimals(abs(high), places)
    if low >= 0:
        return f"{a} to {b} {up}"
    if high <= 0:
        return f"{b} to {a} {down}"
    return f"from {a} {down} to {b} {up}"


def signed(x: float | None, places: int) -> str:
    """Write a number with its sign; blank where there is none."""
    if x is None or x != x:
        return ""
    if abs(x) == float("inf"):
        return ("+" if x > 0 else MINUS) + "no limit"
    text = decimals(abs(x), places)
    if text == "0":
        return "0"
    return ("+" if x > 0 else MINUS) + text


def signed_span(low: float | None, high: float | None, places: int) -> str:
    """Write an interval as "−3 to +12" for a table."""
    if low is None or high is None or low != low or high != high:
        return "none"
    if abs(low) == float("inf") or abs(high) == float("inf"):
        return "no finite range"
    return f"{signed(low, places)} to {signed(high, places)}"


def p_is(p: float) -> str:
    """Write a p value with its letter: "p = .03", "p below .001"."""
    words = p_words(p)
    return f"p {words}" if words.startswith("below") else f"p = {words}"


def p_or_why(design: Design, comparison: Comparison) -> str:
    """Say the p of the main outcome, or why there is none, in one sentence."""
    if comparison.p_value is None:
        if design.tier == "one":
            return "With one unit of a method no test is possible."
        return (
            f"No test is claimed: with so few units the cleanest gap comes up by chance in "
            f"{one_in(design.p_min)} trials."
        )
    ways = whole(design.arrangements)
    text = f"{p_is(comparison.p_value)} ({comparison.p_method}"
    by_ways = "arrangements" in (comparison.p_method or "")
    text += f"; {ways} ways to deal out the methods)." if by_ways else ")."
    if not comparison.settled:
        text += " That is not settled, which is not the same as 'no difference'."
    return text


ASSIGNED = {
    "random draw": "A random draw decided which container got which method.",
    "alternating": "The methods were dealt out in turn, not drawn.",
    "my choice": "The keeper chose which container got which method.",
    "mixed": "The methods were not dealt out in one way.",
    "unknown": "The log does not say how the methods were dealt out.",
}


def companions_words(aliased: tuple[str, ...]) -> str:
    """Say what went along with one method only."""
    if not aliased:
        return "Nothing that the log records went along with one method only."
    return f"Cannot be told apart from the method: {listed(aliased)}."


WAYS = {
    "as_counted": "as counted",
    "placed_by_likelihood": "missing fish placed by likelihood",
    "never_there": "missing fish never there",
    "all_alive": "missing fish all alive",
    "ill_died": "sick and runts taken out had died",
    "lean_usual": "counts lean to {usual}",
    "lean_tested": "counts lean to {tested}",
    "worst": "counts at their worst",
    "best": "counts at their best",
}


def way_words(way: str, usual: str | None, tested: str | None) -> str:
    """Name a way of counting, with the names of the methods."""
    return WAYS[way].format(usual=usual, tested=tested)
