"""Measurements as people write them: "7,5", "25.5 °C", "20%", "1.2 cm"."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from rearkit.logbook.parse.counts import read_count
from rearkit.logbook.parse.names import plain_text

NumberKind = Literal[
    "blank", "not_known", "plain", "comma", "unit", "other_unit", "text", "middle", "unreadable"
]
_NUMBER = re.compile(r"[-+]?(?:\d{1,9}(?:[.,]\d{1,20})?|[.,]\d{1,20})(?:e[-+]?\d{1,2})?")
_WITH_UNIT = re.compile(rf"({_NUMBER.pattern})\s*([^\d\s.,][^\d]*)")
_BLANK = frozenset(("", "-", "--", "n/a", "na", "."))
_NOT_KNOWN = frozenset(("?", "??", "unknown", "not known"))
# By the unit of the column: the same unit in other words, and other units with their factor.
_SAME_UNIT = {
    "mm": "mm millimetre millimetres millimeter",
    "mg": "mg milligram milligrams",
    "L": "l litre litres liter liters ltr",
    "°C": "°c c celsius degc grad ° deg",
    "min": "min mins minute minutes m '",
    "%": "% percent pct",
    "feeds": "x feeds times feed",
    "fish": "fish fry",
    "days": "days day d",
    "fish a litre": "/l fish/l",
    "percentage points, mm or minutes": "% percent mm min minutes points pp",
}
_OTHER_UNIT = {
    "mm": {"cm": 10.0},
    "mg": {"g": 1000.0, "gram": 1000.0, "grams": 1000.0},
    "L": {"ml": 0.001, "cl": 0.01},
    "min": {"h": 60.0, "hr": 60.0, "hour": 60.0, "hours": 60.0},
}


@dataclass(frozen=True, kw_only=True)
class NumberReading:
    """What was made of one measurement: its value in the unit of the column, and how."""

    value: float | None
    kind: NumberKind


def unit_of_heading(heading: str, unit: str) -> tuple[str, float] | None:
    """Find another unit at the end of a heading, with its factor.

    Examples
    --------
    >>> unit_of_heading("length (cm)", "mm")
    ('cm', 10.0)
    >>> unit_of_heading("length_mm", "mm") is None
    True
    """
    words = re.findall(r"[^\W_]+", heading.casefold())
    factor = _OTHER_UNIT.get(unit, {}).get(words[-1]) if words else None
    return (words[-1], factor) if factor is not None else None


@lru_cache(maxsize=8192)
def read_number(text: str, unit: str = "") -> NumberReading:
    """Read a measurement.

    Parameters
    ----------
    text : str
        What stands in the cell.
    unit : str
        The unit of the column.

    Returns
    -------
    NumberReading
        ``comma`` for a decimal comma, ``unit`` for the column's own unit, ``other_unit`` where it
        was converted; ``text`` and ``middle`` (of a range) should be confirmed.

    Examples
    --------
    >>> read_number("7,5", "mm").value
    7.5
    >>> read_number("1.2 cm", "mm").value
    12.0
    """
    s = plain_text(text) if len(text) <= 200 else text
    if s in _BLANK:
        return NumberReading(value=None, kind="blank")
    if s in _NOT_KNOWN:
        return NumberReading(value=None, kind="not_known")
    if _NUMBER.fullmatch(s):
        return NumberReading(value=_value(s), kind="comma" if "," in s else "plain")
    return _with_unit(s, unit) or _in_words(text)


def _value(s: str) -> float:
    return float(s.replace(",", "."))


def _with_unit(s: str, unit: str) -> NumberReading | None:
    match = _WITH_UNIT.fullmatch(s)
    if not match:
        return None
    value, written = _value(match[1]), match[2].strip().rstrip(".")
    if written in _SAME_UNIT.get(unit, "").split():
        return NumberReading(value=value, kind="unit")
    if unit == "°C" and written in ("f", "°f", "fahrenheit"):
        return NumberReading(value=round((value - 32.0) / 1.8, 6), kind="other_unit")
    factor = _OTHER_UNIT.get(unit, {}).get(written)
    if factor is None:
        return None
    return NumberReading(value=round(value * factor, 9), kind="other_unit")


def _in_words(text: str) -> NumberReading:
    """Read what people write for counts ("about 25", "25-26", "three") as a number too."""
    count = read_count(text).count
    if count is None:
        return NumberReading(value=None, kind="unreadable")
    return NumberReading(value=count.best, kind="text" if count.exact else "middle")
