"""How sure the survival answer is, in words, and what was measured beside it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rearkit.words.comparisons import p_or_why
from rearkit.words.numbers import chances, decimals, number, one_in, p_words, percent, signed

if TYPE_CHECKING:
    from rearkit.answers.survival.answer import SurvivalAnswer


def how_sure_short(answer: SurvivalAnswer) -> str:
    """Say in one short sentence how sure the answer is."""
    c = answer.comparison
    if answer.interim:
        return "No verdict before the planned day."
    if c is None or c.p_value is None:
        return "No test is possible with so few."
    settled = "Settled" if c.settled else "Not settled, which is not the same as 'no difference'"
    return f"{settled} (p = {p_words(c.p_value)})."


def how_sure(answer: SurvivalAnswer) -> str:
    """Say what the test found, or why there is none, in a few sentences."""
    c, d = answer.comparison, answer.design
    if c is None:
        return "Nothing is compared, so there is nothing to be sure or unsure of."
    if answer.interim:
        return (
            "No p is given before the planned day: a trial that is judged while it runs finds too "
            "much."
        )
    if d.tier == "one":
        return tipping_words(answer)
    text = p_or_why(d, c)
    if c.p_value is None:
        return text
    if d.tier == "t":
        text += f" The arrangement test cannot go below {one_in(d.p_min)} with this layout."
    return (
        f"{text} If the method made no difference, a gap this wide or wider would come up in "
        f"{chances(c.p_value)} such trials."
    )


def tipping_words(answer: SurvivalAnswer) -> str:
    """One unit a method: say how unlike two tubs must be for the difference to mean nothing."""
    icc = answer.tipping.get("icc")
    if icc is None:
        return "With one unit of a method no test is possible."
    sd = percent(answer.tipping["sd"])
    if icc <= 0:
        return "The difference is within what luck with so few fish gives, even in identical tubs."
    if icc < 0.02:
        tail = "the smallest spread that is realistic between tubs already explains it."
    elif icc < 0.20:
        tail = "tubs commonly differ by as much, so this difference may be no more than that."
    else:
        tail = "tubs seldom differ by so much, but one pair cannot show it."
    return (
        f"If two tubs kept in the same way differ by about {sd} (an intraclass correlation of "
        f"{decimals(icc, 3)}), this difference could be tub luck: {tail}"
    )


def secondary_words(answer: SurvivalAnswer) -> list[str]:
    """Say the secondary outcomes as estimates, never as further verdicts."""
    e = answer.extras
    if e.hazard is None or e.days_lived is None or e.shape is None:
        return []
    lines = [
        f"Days that a fry lived, up to day {decimals(answer.day.day, 1)}, {answer.design.tested} "
        f"minus {answer.design.usual}: {signed(e.days_lived.estimate, 1)}"
        f"{_range(e.days_lived.conf_low, e.days_lived.conf_high)}.",
        f"Death rate, {answer.design.tested} over {answer.design.usual}: "
        f"{number(math.exp(e.hazard.estimate), 2)} times"
        f"{_range(e.hazard.conf_low, e.hazard.conf_high, ratio=True)}.",
        f"The same, judged day by day against the losses of all containers of that age: "
        f"{number(math.exp(e.shape.estimate), 2)} times"
        f"{_range(e.shape.conf_low, e.shape.conf_high, ratio=True)}.",
    ]
    return [*lines, "These are estimates beside the main outcome, not further tests."]


def _range(low: float | None, high: float | None, *, ratio: bool = False) -> str:
    if low is None or high is None:
        return ""
    if math.isinf(low) or math.isinf(high):
        return " (no finite range)"
    if ratio:
        return f" ({number(math.exp(low), 2)} to {number(math.exp(high), 2)})"
    return f" ({signed(low, 1)} to {signed(high, 1)})"
