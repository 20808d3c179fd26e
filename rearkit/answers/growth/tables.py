"""The tables of the growth answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.answers.growth.secondary import JOINED
from rearkit.answers.growth.words import criterion_words, curve_name, length_words
from rearkit.words.blocks import ReadableTable
from rearkit.words.numbers import count, decimals, percent, signed

if TYPE_CHECKING:
    from rearkit.answers.growth.answer import GrowthAnswer


def _names(table: pd.DataFrame) -> pd.DataFrame:
    frame = pd.DataFrame({"unit": table["unit"]})
    if table["block"].notna().any():
        frame["clutch"] = table["block"]
    if table["method"].notna().any():
        frame["method"] = table["method"]
    return frame


def units_table(answer: GrowthAnswer) -> ReadableTable:
    """Lay out what the curve of every unit says."""
    t, days = answer.by_unit, answer.days
    frame = _names(t)
    frame["fish measured"] = [decimals(x, 0) for x in t["n_measured"]]
    frame["curve"] = [curve_name(c) for c in t["curve"]]
    day = decimals(days.day, 1)
    frame[f"mm on day {day}"] = [
        length_words(r.length_at, extrapolated=r.extrapolated) for r in t.itertuples()
    ]
    frame["joined means, mm"] = [length_words(x, extrapolated=False) for x in t["joined_length_at"]]
    if days.length_mm is not None:
        frame[f"day of {decimals(days.length_mm, 1)} mm"] = [
            length_words(r.day_reached, extrapolated=r.day_extrapolated) for r in t.itertuples()
        ]
    frame["mm a day"] = [decimals(x, 2) for x in t["mm_per_day"]]
    frame["% a day"] = [decimals(x, 1) for x in t["sgr"]]
    rates = ""
    if days.rate_from is not None and days.rate_to is not None:
        span = f"day {decimals(days.rate_from, 1)} to {decimals(days.rate_to, 1)}"
        rates = f"; growth a day from {span}"
    return ReadableTable(
        frame=frame,
        caption="Growth of every unit: lengths as measured on a day that was measured, else by its "
        f"own curve{rates}",
    )


def survival_table(answer: GrowthAnswer) -> ReadableTable:
    """Lay out survival, room and the loss of runts beside the length of every unit."""
    t = answer.by_unit
    frame = _names(t)
    frame["mm"] = [length_words(r.length_at, extrapolated=r.extrapolated) for r in t.itertuples()]
    frame["alive"] = [percent(x) for x in t["survival"]]
    frame["fish a litre"] = [decimals(x, 1) for x in t["fish_per_litre"]]
    frame["if the smallest died, mm"] = [
        "not known" if high != high else f"+{decimals(low, 1)} to +{decimals(high, 1)}"
        for low, high in zip(t["runts_lost_low"], t["runts_lost_high"], strict=True)
    ]
    if answer.days.length_mm is not None:
        wanted = decimals(answer.days.length_mm, 1)
        frame[f"of 20 started, {wanted} mm or more"] = [
            decimals(x, 1) for x in t["long_enough_of_20"]
        ]
    day = decimals(answer.days.day, 1)
    return ReadableTable(
        frame=frame,
        caption=f"Length and survival together, day {day}. “If the smallest died”: by how much "
        "that alone could have raised the mean, those lost being between nothing and the smallest "
        "that is left",
    )


def methods_table(answer: GrowthAnswer) -> ReadableTable:
    """Lay out the means of every method over its units, with their intervals."""
    t, days = answer.by_method, answer.days
    frame = pd.DataFrame({"method": t["method"].fillna("all batches")})
    frame["units"] = [decimals(x, 0) for x in t["n_units"]]
    frame[f"mm on day {decimals(days.day, 1)}"] = [_cell(r, "length_at", 1) for r in _rows(t)]
    if days.length_mm is not None:
        frame[f"day of {decimals(days.length_mm, 1)} mm"] = [
            _cell(r, "day_reached", 1)
            if r["n_reached"] == r["n_units"]
            else f"{count(r['n_reached'], 'unit')} of {decimals(r['n_units'], 0)} come to it"
            for r in _rows(t)
        ]
    frame["mm a day"] = [_cell(r, "mm_per_day", 2) for r in _rows(t)]
    frame["% a day"] = [_cell(r, "sgr", 1) for r in _rows(t)]
    frame["alive"] = [percent(x) for x in t["survival"]]
    return ReadableTable(
        frame=frame,
        caption="Means over units; in brackets the range that the mean of many such units would "
        "lie in (95 %, t on units)",
    )


def _rows(table: pd.DataFrame) -> list[dict[str, float]]:
    return [dict(zip(table.columns, row, strict=True)) for row in table.itertuples(index=False)]


def _cell(row: dict[str, float], name: str, places: int) -> str:
    low, high = row[f"{name}_conf_low"], row[f"{name}_conf_high"]
    text = decimals(row[name], places)
    if row[name] != row[name]:
        return "not known"
    if low != low or high != high:
        return text
    return f"{text} ({decimals(low, places)} to {decimals(high, places)})"


def curves_table(answer: GrowthAnswer) -> ReadableTable:
    """Lay out what every kind of curve would have said."""
    t = answer.secondary.by_curve
    drawn = answer.curves.curve
    frame = pd.DataFrame(
        {"curve": [curve_name(c) + (" (drawn)" if c == drawn else "") for c in t["curve"]]}
    )
    frame["AICc, smaller is better"] = [
        "" if c == JOINED else criterion_words(x)
        for c, x in zip(t["curve"], t["total_aicc"], strict=True)
    ]
    if "difference" in t:
        d = answer.design
        frame[f"{d.usual}, mm"] = [decimals(x, 1) for x in t["length_usual"]]
        frame[f"{d.tested}, mm"] = [decimals(x, 1) for x in t["length_tested"]]
        frame["difference, mm"] = [signed(x, 1) or "not known" for x in t["difference"]]
    else:
        frame["mean length, mm"] = [decimals(x, 1) for x in t["length"]]
    return ReadableTable(
        frame=frame, caption=f"The same lengths on day {decimals(answer.days.day, 1)} by each curve"
    )


def spread_table(answer: GrowthAnswer) -> ReadableTable:
    """Lay out how unequal the fish of every container were on its first and its last day."""
    every = answer.measured.spread_table()
    ages = every.groupby("batch")["age_days"]
    ends = (every["age_days"] == ages.transform("min")) | (
        every["age_days"] == ages.transform("max")
    )
    t = every[ends]
    frame = pd.DataFrame({"batch": t["batch"], "day": [decimals(x, 1) for x in t["age_days"]]})
    frame["fish"] = [decimals(x, 0) for x in t["n_fish"]]
    frame["mean, mm"] = [decimals(x, 1) for x in t["mean_mm"]]
    frame["CV"] = [percent(x) for x in t["cv"]]
    frame["skew"] = ["" if x != x else signed(x, 1) for x in t["skew"]]
    frame["largest over smallest"] = [
        "" if x != x else decimals(x, 2) for x in t["largest_to_smallest"]
    ]
    return ReadableTable(
        frame=frame,
        caption="How unequal the fish were on the first and the last measured day. CV: standard "
        "deviation over mean. Skew above 0: a few "
        "are much larger than the rest",
    )


def _of_lengths(
    lay_out: Callable[[GrowthAnswer], ReadableTable],
) -> Callable[[GrowthAnswer], ReadableTable]:
    """Say in place of an empty table that nothing was measured."""

    def table(answer: GrowthAnswer) -> ReadableTable:
        if answer.measured.series:
            return lay_out(answer)
        frame = pd.DataFrame({"lengths": ["none in this log"]})
        return ReadableTable(frame=frame, caption="Nothing was measured")

    return table


TABLES: dict[str, Callable[[GrowthAnswer], ReadableTable]] = {
    "main": _of_lengths(units_table),
    "methods": _of_lengths(methods_table),
    "curves": _of_lengths(curves_table),
    "spread": _of_lengths(spread_table),
    "survival": _of_lengths(survival_table),
}
