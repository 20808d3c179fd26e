"""The tables of the survival answer: units, other ways of counting, stages of age."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.answers.survival.words import way_names
from rearkit.words.blocks import ReadableTable, counted
from rearkit.words.comparisons import way_words
from rearkit.words.numbers import decimals, percent, signed_of_20

if TYPE_CHECKING:
    from rearkit.answers.survival.answer import SurvivalAnswer


def _units(answer: SurvivalAnswer) -> ReadableTable:
    t = answer.by_unit
    frame = pd.DataFrame({"unit": t["unit"]})
    if t["block"].notna().any():
        frame["clutch"] = t["block"]
    if t["method"].notna().any():
        frame["method"] = t["method"]
    frame["start"] = [counted(r, "start") for _, r in t.iterrows()]
    if (t["added"] > 0).any():
        frame["put in"] = [decimals(x, 1) for x in t["added"]]
    for name, title in (("dead", "found dead"), ("removed", "taken out"), ("missing", "missing")):
        frame[title] = [decimals(x, 1) for x in t[name]]
    frame["alive"] = [decimals(x, 1) for x in t["alive"]]
    frame["survival"] = [
        percent(r.survival) + (" at best" if r.at_best else "") for r in t.itertuples()
    ]
    frame["these fish, this container"] = [
        f"{percent(r.survival_low)} to {percent(r.survival_high)}" for r in t.itertuples()
    ]
    day = decimals(answer.day.day, 1)
    return ReadableTable(
        frame=frame,
        caption=f"Every unit up to day {day}; counts from its start, survival from day "
        f"{decimals(answer.day.landmark, 1)}",
    )


def _ways(answer: SurvivalAnswer) -> ReadableTable:
    t = answer.sensitivity
    if answer.comparison is None:
        wide = t.pivot(index="unit", columns="way", values="survival").reindex(t["unit"].unique())
        ways = {way: way_words(way, None, None) for way in t["way"].unique()}
        cells = {words: [percent(x) for x in wide[way]] for way, words in ways.items()}
        return ReadableTable(
            frame=pd.DataFrame({"batch": wide.index, **cells}),
            caption="Alive, by the same fish counted in other ways",
        )
    frame = pd.DataFrame(
        {
            "counted in this way": way_names(answer),
            f"alive, {answer.design.usual}": [percent(x) for x in t["survival_usual"]],
            f"alive, {answer.design.tested}": [percent(x) for x in t["survival_tested"]],
            "difference, fry of 20": [signed_of_20(x) for x in t["difference"]],
        }
    )
    return ReadableTable(frame=frame, caption="The same fish, counted in other ways")


def _stages(answer: SurvivalAnswer) -> ReadableTable:
    t = answer.secondary.stages
    span = [
        f"day {decimals(a, 1)} to {decimals(b, 1)}"
        for a, b in zip(t["age_from"], t["age_to"], strict=True)
    ]
    cells = [
        f"{percent(s)} ({decimals(-100 * math.expm1(-z), 1)})"
        for s, z in zip(t["survival"], t["z_per_day"], strict=True)
    ]
    order = t.assign(span=span).sort_values(["age_from", "age_to"], kind="stable")["span"].unique()
    wide = t.assign(span=span, cell=cells).pivot(index="batch", columns="span", values="cell")
    wide = wide.reindex(index=t["batch"].unique(), columns=list(order)).fillna("")
    frame = pd.DataFrame({"batch": wide.index})
    if t["method"].notna().any():
        frame["method"] = t.drop_duplicates("batch")["method"].to_list()
    for name in order:
        frame[name] = wide[name].to_list()
    return ReadableTable(
        frame=frame,
        caption="Of the fry alive at the start of a stage, how many lived through it (in brackets: "
        "deaths a day for every 100)",
    )


TABLES: dict[str, Callable[[SurvivalAnswer], ReadableTable]] = {
    "main": _units,
    "sensitivity": _ways,
    "stages": _stages,
}
