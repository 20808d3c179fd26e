"""What the format of a cell makes of the number in it: a date, a time of day, a percentage."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Literal

from rearkit.logbook.files.grid import Cell, date_cell, number_cell, time_cell

LookKind = Literal["number", "percent", "date", "month", "time"]
BUILT_IN: dict[int, LookKind] = {
    **dict.fromkeys((9, 10), "percent"),
    17: "month",
    **dict.fromkeys((14, 15, 16, 22, *range(27, 37), *range(50, 59)), "date"),
    **dict.fromkeys((18, 19, 20, 21, 45, 46, 47), "time"),
}
_DAYS = (366.0 * 5, 100_000.0)  # day numbers that are shown as dates; below are mere numbers


@dataclass(frozen=True, kw_only=True)
class Look:
    """What a cell format makes of a number, and a number for its colour (0 if plain)."""

    kind: LookKind = "number"
    colour: int = 0


def format_kind(code: str) -> LookKind:
    """Tell what a number format shows.

    Examples
    --------
    >>> format_kind("d. mmm yyyy"), format_kind("mmm-yy"), format_kind("hh:mm"), format_kind("0%")
    ('date', 'month', 'time', 'percent')
    >>> format_kind('0.0 "days"'), format_kind("[Red]0")
    ('number', 'number')
    """
    code = code.split(";")[0].lower()
    code = re.sub(r'"[^"]*"|\\.|_.|\*.', "", code)
    spans = re.search(r"\[(?:h+|m+|s+)\]", code)
    code = re.sub(r"\[[^\]]*\]", "", code)
    if spans:
        return "time"
    if "general" in code:
        return "number"
    if "y" in code or "d" in code:
        return "date" if "d" in code else "month"
    if "h" in code or "s" in code:
        return "time"
    if "mmm" in code:
        return "month"
    return "percent" if "%" in code else "number"


def formatted_cell(
    value: float, look: Look, *, from_1904: bool | None, formula: bool = False
) -> Cell:
    """Make the cell of a number as its format shows it.

    Parameters
    ----------
    value : float
        The number as the file holds it, finite.
    look : Look
        Its format.
    from_1904 : bool or None
        Whether day numbers count from 1904.
    formula : bool
        Whether it was worked out.

    Returns
    -------
    Cell
        A number where the format asks for a date and the number is no day since 1904.
    """
    if look.kind == "time" or (look.kind in ("date", "month") and 0 < value < 1):
        if 0 <= value < 1000:
            return time_cell(round(value * 1440), formula=formula, look=look.colour)
    elif look.kind in ("date", "month") and _DAYS[0] <= value < _DAYS[1]:
        zero = dt.datetime(1904, 1, 1) if from_1904 else dt.datetime(1899, 12, 30)
        day = zero + dt.timedelta(minutes=round(value * 1440))
        return date_cell(day, with_day=look.kind == "date", formula=formula, look=look.colour)
    kind: Literal["percent", "number"] = "percent" if look.kind == "percent" else "number"
    return number_cell(value, kind=kind, formula=formula, look=look.colour)
