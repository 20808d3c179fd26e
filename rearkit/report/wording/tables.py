"""Frames as tables to read: chosen columns, headings in words, rounded cells, all escaped."""

from __future__ import annotations

import math
from functools import singledispatch

import pandas as pd

from rearkit.questions.answer import Answer
from rearkit.questions.log_check import LogCheckAnswer
from rearkit.questions.survival import SurvivalAnswer
from rearkit.questions.trial import TrialAnswer
from rearkit.report.checklist import checklist
from rearkit.report.wording.html_table import ReadableTable
from rearkit.report.wording.numbers import MINUS, about, day_words, decimals, of_20, percent


@singledispatch
def readable(answer: Answer, which: str = "main") -> ReadableTable:
    """Lay a table of an answer out for people.

    Raises
    ------
    NotImplementedError
        If there is no such table for this kind of answer.
    KeyError
        If it has no table of that name.
    """
    raise NotImplementedError(f"no tables for {type(answer).__name__}")


def counted(row: pd.Series, name: str) -> str:
    """Write the columns ``name_low/best/high`` of a row as "33" or "30 to 36"."""
    low, best, high = (row[f"{name}_{e}"] for e in ("low", "best", "high"))
    if pd.isna(best):
        return "not known"
    if pd.isna(low) or low == high:
        return decimals(best, 1)
    return f"{decimals(low, 0)} to {decimals(high, 0)}"


# ---- the log check --------------------------------------------------------------------------


@readable.register
def _(answer: LogCheckAnswer, which: str = "main") -> ReadableTable:
    return {"main": _findings, "account": _account, "rows": _rows}[which](answer)


def _findings(answer: LogCheckAnswer) -> ReadableTable:
    f = answer.findings
    place = [
        ", ".join(
            str(x)
            for x in (r.sheet, r.cell if r.cell else (f"row {r.row}" if pd.notna(r.row) else None))
            if x
        )
        for r in f.itertuples(index=False)
    ]
    frame = pd.DataFrame(
        {
            "": f["severity"],
            "where": place,
            "batch": f["batch"].fillna(""),
            "what was seen": f["seen"],
            "what was done": f["done"],
            "how to settle it": f["settle"],
        }
    )
    return ReadableTable(frame=frame, caption="Everything that was found in the log")


def _account(answer: LogCheckAnswer) -> ReadableTable:
    a = answer.account
    frame = pd.DataFrame(
        {
            "batch": a["batch"],
            "start": [counted(r, "start") for _, r in a.iterrows()],
            "added": [decimals(x, 1) for x in a["added"]],
            "found dead": [decimals(x, 1) for x in a["dead"]],
            "taken out": [decimals(x, 1) for x in a["removed"]],
            "missing": [counted(r, "missing") for _, r in a.iterrows()],
            "alive at the last count": [counted(r, "alive") for _, r in a.iterrows()],
            "days watched": [decimals(x, 1) for x in a["days"]],
            "looks": [decimals(x, 0) for x in a["looks"]],
            "longest gap, days": [decimals(x, 1) for x in a["longest_gap"]],
            "adds up": ["yes" if x else "NO" for x in a["adds_up"]],
        }
    )
    return ReadableTable(
        frame=frame, caption="Start = alive + found dead + taken out + missing − added"
    )


def _rows(answer: LogCheckAnswer) -> ReadableTable:
    frame = answer.rows.rename(columns=lambda c: str(c).removeprefix("n_").replace("_", " "))
    return ReadableTable(frame=frame.astype(str), caption="Rows of every sheet")


# ---- survival -------------------------------------------------------------------------------


@readable.register
def _(answer: SurvivalAnswer, which: str = "main") -> ReadableTable:
    return {"main": _units, "sensitivity": _ways, "stages": _stages}[which](answer)


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
        cells = {way: [percent(x) for x in wide[way]] for way in t["way"].unique()}
        return ReadableTable(
            frame=pd.DataFrame({"batch": wide.index, **cells}),
            caption="Alive, by the same fish counted in other ways",
        )
    frame = pd.DataFrame(
        {
            "counted in this way": [way_words(way, answer) for way in t["way"]],
            f"alive, {answer.design.usual}": [percent(x) for x in t["survival_usual"]],
            f"alive, {answer.design.tested}": [percent(x) for x in t["survival_tested"]],
            "difference, fry of 20": [signed_of_20(x) for x in t["difference"]],
        }
    )
    return ReadableTable(frame=frame, caption="The same fish, counted in other ways")


def way_words(way: str, answer: SurvivalAnswer) -> str:
    """Name a way of counting, with the names of the methods."""
    return way.replace("the usual", str(answer.design.usual)).replace(
        "the tested", str(answer.design.tested)
    )


def signed_of_20(x: float) -> str:
    """Write a difference as fry of 20 with its sign."""
    if abs(20 * x) < 0.05:
        return "0"
    return ("+" if x > 0 else MINUS) + of_20(x)


def _stages(answer: SurvivalAnswer) -> ReadableTable:
    t = answer.extras.stages
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


# ---- the trial ------------------------------------------------------------------------------


@readable.register
def _(answer: TrialAnswer, which: str = "main") -> ReadableTable:
    return {"main": _flow, "checklist": checklist, "events": _events}[which](answer)


def _flow(answer: TrialAnswer) -> ReadableTable:
    f = answer.flow
    frame = pd.DataFrame(
        {
            "method": f["method"],
            "batches": [decimals(x, 0) for x in f["n_batches"]],
            "started with": [counted(r, "start") for _, r in f.iterrows()],
            "put in": [about(x) for x in f["added"]],
            "found dead": [about(x) for x in f["dead"]],
            "taken out": [about(x) for x in f["removed"]],
            "missing": [about(x) for x in f["missing_best"]],
            "alive": [about(x) for x in f["alive_best"]],
        }
    )
    return ReadableTable(frame=frame, caption="Where the fry went, method by method")


def _events(answer: TrialAnswer) -> ReadableTable:
    e = answer.events
    frame = pd.DataFrame(
        {
            "from": [day_words(d) for d in e["started"]],
            "to": ["" if pd.isna(d) else day_words(d) for d in e["ended"]],
            "batch": e["batch"].fillna(""),
            "what": e["what"].fillna(""),
            "note": e["note"].fillna(""),
        }
    )
    return ReadableTable(frame=frame, caption="What happened, in order")
