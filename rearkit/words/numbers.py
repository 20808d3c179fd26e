"""Numbers as words: every rounding that a reader sees happens here."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date as Date

MINUS = "\N{MINUS SIGN}"
NBSP = "\N{NO-BREAK SPACE}"
NO_RANGE = "no range can be given"
NO_FINITE_RANGE = "no finite range at this size"


def number(x: float | None, digits: int = 3) -> str:
    """Write a number with so many significant digits and no trailing zeros."""
    if x is None or math.isnan(x):
        return "not known"
    if math.isinf(x):
        return "no limit"
    if x == 0:
        return "0"
    rounded = round(x, digits - 1 - math.floor(math.log10(abs(x))))
    return _plain(f"{rounded:.{max(0, digits)}f}" if abs(rounded) < 1e15 else f"{rounded:g}")


def decimals(x: float | None, places: int) -> str:
    """Write a number to so many decimal places, no trailing zeros."""
    if x is None or math.isnan(x):
        return "not known"
    if math.isinf(x):
        return "no limit"
    return _plain(f"{x:.{places}f}")


def _plain(text: str) -> str:
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text.replace("-", MINUS)


def whole(n: int) -> str:
    """Write a whole number with narrow spaces between its thousands."""
    return f"{n:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def about(x: float) -> str:
    """Write a number of fish in whole fish, with "about" where the counts leave it open."""
    if math.isnan(x) or math.isinf(x):
        return number(x)
    text = whole(round(x))
    return text if abs(x - round(x)) < 1e-6 else f"about {text}"


def percent(x: float | None) -> str:
    """Write a share as a percentage; near 0 and 100 with one decimal."""
    if x is None or math.isnan(x):
        return "not known"
    value = 100.0 * x
    places = 1 if 0 < abs(value) < 1 or 99 < value < 100 else 0
    return f"{decimals(value, places)}{NBSP}%"


def count(x: float, one: str, many: str | None = None) -> str:
    """Write a number of things, with the noun in the right form."""
    noun = one if abs(x - 1.0) < 1e-9 else (many or f"{one}s")
    return f"{decimals(x, 1)} {noun}"


def of_20(x: float) -> str:
    """Write a share as fry out of 20 (one decimal below 2, whole above)."""
    value = abs(20.0 * x)
    return decimals(value, 0 if value >= 1.95 else 1)


def p_words(p: float) -> str:
    """Write a p value: two digits after the point, more where it is small."""
    if p < 0.001:
        return "below .001"
    text = f"{p:.3f}" if p < 0.1 else f"{p:.2f}"
    return text.lstrip("0") if p < 1 else "1"


def p_is(p: float) -> str:
    """Write a p value with its letter: "p = .03", "p below .001"."""
    words = p_words(p)
    return f"p {words}" if words.startswith("below") else f"p = {words}"


def chances(p: float) -> str:
    """Write a probability as "about 3 of 100" or "about 2 of 1,000"."""
    if p > 0.995:
        return "nearly all"
    for base in (100, 1_000, 10_000, 100_000):
        if round(p * base) >= 1 and (p * base >= 2 or base * p == round(base * p)):
            return f"about {round(p * base)} of {whole(base)}"
    return f"fewer than 1 of {whole(100_000)}"


def one_in(p: float) -> str:
    """Write a probability as "1 in 10" where it is a neat fraction, else as a percentage."""
    inverse = 1.0 / p
    if abs(inverse - round(inverse)) < 1e-6:
        return f"1 in {whole(round(inverse))}"
    return f"{p_words(p)}"


def listed(names: Sequence[str], most: int = 6, last: str = "and") -> str:
    """Join names with commas and "and" (or "or"); a long list is cut and the rest counted."""
    items = [str(n) for n in names]
    if len(items) > most:
        items = [*items[: most - 1], f"{len(items) - most + 1} more"]
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def more_or_fewer(x: float, places: int, up: str = "more", down: str = "fewer") -> str:
    """Write a difference without its sign and with a word for it: "12 more"."""
    return f"{decimals(abs(x), places)} {up if x >= 0 else down}"


def span_words(
    low: float | None, high: float | None, places: int, up: str = "more", down: str = "fewer"
) -> str:
    """Write an interval of a difference in words that keep the sign."""
    if low is None or high is None or math.isnan(low) or math.isnan(high):
        return NO_RANGE
    return _span(low, high, lambda x: decimals(abs(x), places), up, down)


def span_of_20(low: float, high: float) -> str:
    """Write an interval of a difference as fry out of 20, in words that keep the sign."""
    return _span(low, high, of_20, "more", "fewer")


def _span(low: float, high: float, write: Callable[[float], str], up: str, down: str) -> str:
    if math.isinf(low) or math.isinf(high):
        return NO_FINITE_RANGE
    if low >= 0:
        return f"{write(low)} to {write(high)} {up}"
    if high <= 0:
        return f"{write(high)} to {write(low)} {down}"
    return f"from {write(low)} {down} to {write(high)} {up}"


def day_words(date: Date) -> str:
    """Write a date as "10 February 2025"."""
    return f"{date.day} {date:%B %Y}"


def signed_of_20(x: float) -> str:
    """Write a difference as fry of 20 with its sign."""
    if abs(20 * x) < 0.05:
        return "0"
    return ("+" if x > 0 else MINUS) + of_20(x)


def signed(x: float | None, places: int) -> str:
    """Write a number with its sign; blank where there is none."""
    if x is None or math.isnan(x):
        return ""
    text = "no limit" if math.isinf(x) else decimals(abs(x), places)
    return text if text == "0" else ("+" if x > 0 else MINUS) + text


def signed_span(low: float | None, high: float | None, places: int) -> str:
    """Write an interval as "−3 to +12" for a table."""
    if low is None or high is None or math.isnan(low) or math.isnan(high):
        return "none"
    if math.isinf(low) or math.isinf(high):
        return "no finite range"
    return f"{signed(low, places)} to {signed(high, places)}"
