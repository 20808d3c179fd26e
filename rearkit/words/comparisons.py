"""A comparison in words: units, days, p, other ways of counting, and how far words may go."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from rearkit.design.claims import Claim
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.design.too_few import TooFew
from rearkit.words.numbers import count, decimals, listed, one_in, p_is, whole

CLAIMS = {
    0: "This layout lets you say what these batches did, and nothing of the methods.",
    1: "This is too little to tell the methods apart.",
    2: "This layout lets you speak of an association, not of one making the other.",
    3: "This layout lets you speak of a hint, no more.",
    4: "This layout lets you speak of the result of one fair test. Another keeper's trial may "
    "still differ.",
}

UNSURE = "The log can be read in ways that do not say the same."

STEPS = {
    "unequal_clocks": "ages counted from different events",
    "day_not_declared": "no judging day declared beforehand",
    "unplanned_look": "a look that was not planned",
    "plan_after_start": "a plan written after the start",
}


def claim_words(claim: Claim, steps: Mapping[str, str] = STEPS) -> str:
    """Say how far the words may go, and what took them down."""
    text = CLAIMS[claim.level]
    if claim.unsure and claim.level < claim.before:
        text = f"{UNSURE} {text}"
    if claim.downgrades:
        text += f" Taken down by: {listed([steps[code] for code in claim.downgrades])}."
    return text


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


UNITS = {"container": "tubs", "clutch": "clutches", "group": "groups"}


def too_few_words(design: Design, small: TooFew, size: Callable[[float], str]) -> str:
    """Say how far apart units treated alike lay, and what difference chance alone reaches.

    Parameters
    ----------
    design : Design
    small : TooFew
    size : callable
        Writes the size of a difference with its unit: "4 of 20", "0.3 mm".
    """
    if small.reach is None:
        return "No two tubs were treated alike, so nothing shows how far such tubs lie apart."
    noun = UNITS[design.unit]
    if small.gaps:
        gaps = [
            f"{size(abs(gap))} {'more' if gap > 0 else 'fewer'}" if gap else "no difference"
            for gap in small.gaps
        ]
        told = f"With {design.tested} there was {listed(gaps)} in the clutches"
        noun = "clutches"
    else:
        arms = ((design.usual, small.gap_usual), (design.tested, small.gap_tested))
        apart = [f"the {noun} with {m} lay {size(gap)} apart" for m, gap in arms if gap is not None]
        told = listed(apart)
        told = f"{told[0].upper()}{told[1:]}, the methods {size(abs(small.difference))}"
    return f"{told}; with {noun} like these chance alone reaches {size(small.reach)}."


def p_or_why(design: Design, comparison: Comparison) -> str:
    """Say the p of the main outcome, or why there is none, in one sentence."""
    if comparison.p_value is None:
        if design.tier == "one":
            return "With one unit of a method no test is possible."
        if design.tier != "few":
            return (
                "No p is given: the log can be read in ways that have too few units, or that "
                "point the other way."
            )
        return (
            f"No test is claimed: with so few units the cleanest gap comes up by chance in "
            f"{one_in(design.p_min)} trials."
        )
    ways = whole(design.arrangements)
    text = f"{p_is(comparison.p_value)} ({comparison.p_method}"
    by_ways = "arrangements" in (comparison.p_method or "")
    text += f"; {ways} ways to deal out the methods)." if by_ways else ")."
    if len(comparison.readings) > 1:
        text += f" It is the largest over {len(comparison.readings)} ways of reading this log."
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
