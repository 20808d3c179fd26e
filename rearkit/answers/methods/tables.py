"""The tables of a comparison of methods."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.answers.methods.words import ROLES, long_words, looked_words, said
from rearkit.words.blocks import ReadableTable
from rearkit.words.numbers import decimals, p_words, percent

if TYPE_CHECKING:
    from rearkit.answers.methods.answer import Contrast, MethodsAnswer


def units_table(answer: MethodsAnswer) -> ReadableTable:
    """Lay out every outcome of every unit."""
    columns = ["unit", "method", "alive", "length, mm", "CV", "long enough", "minutes", "each"]
    rows = [
        [
            r.unit,
            r.method,
            percent(r.survival) + (" at best" if r.at_best else ""),
            decimals(r.length, 1),
            percent(r.length_cv),
            decimals(r.long_enough, 1),
            decimals(r.minutes, 0),
            decimals(r.minutes_per_survivor, 1),
        ]
        for r in _once(answer).itertuples(index=False)
    ]
    days = ""
    if answer.first is not None:
        c = answer.first
        days = f" on day {decimals(c.day.day, 1)}; long enough: of 20 fry started, alive and at "
        days += f"least {long_words(c)} mm; minutes of a container, and for each survivor"
    return ReadableTable(
        frame=pd.DataFrame(rows, columns=columns), caption=f"Every unit in all outcomes{days}"
    )


def _once(answer: MethodsAnswer) -> pd.DataFrame:
    """One row a unit, also where it is in several comparisons."""
    table = answer.table()
    return table.drop_duplicates(["unit", "method"]) if len(table) else table


def outcomes_table(answer: MethodsAnswer) -> ReadableTable:
    """Lay out the difference in every outcome, with what it may be used for."""
    several = len(answer.contrasts) > 1
    rows = []
    for c in answer.contrasts:
        for o in c.outcomes:
            row = {"method": str(c.design.tested)} if several else {}
            rows.append(row | _outcome_row(answer, c, o.name))
    caption = "The same units in all outcomes"
    if answer.first is not None and not several:
        caption += f": {answer.first.design.tested} minus {answer.usual}"
    return ReadableTable(frame=pd.DataFrame(rows), caption=caption)


def _outcome_row(answer: MethodsAnswer, c: Contrast, name: str) -> dict[str, str]:
    o = c.outcome(name)
    s, x = said(name), o.comparison
    alone = len(answer.contrasts) == 1
    usual, tested = ("usual", "other") if not alone else (c.design.usual, c.design.tested)
    row = {
        "outcome": f"{s.name}, {s.unit}".format(long_mm=long_words(c)),
        str(usual): "not known" if x is None else s.number(x.mean_usual),
        str(tested): "not known" if x is None else s.number(x.mean_tested),
        "difference": "" if x is None else s.signed(x.estimate),
        "range": "" if x is None else s.signed_span(x.conf_low, x.conf_high),
        "p": "" if o.p_value is None else p_words(o.p_value),
    }
    return row | {"role": ROLES[o.role] if x is not None else "measured in too few"}


def sensitivity_table(answer: MethodsAnswer) -> ReadableTable:
    """Lay out the main difference under every other way of looking."""
    several = len(answer.contrasts) > 1
    s = said(answer.main_outcome)
    rows = []
    for c in answer.contrasts:
        for r in c.sensitivity.itertuples(index=False):
            row = {"method": str(c.design.tested)} if several else {}
            row |= {
                "looked at in this way": looked_words(r, c.design.usual, c.design.tested),
                "usual": s.number(r.usual),
                "tested": s.number(r.tested),
                "difference": s.signed(r.difference),
                "p": "" if pd.isna(r.p_value) else p_words(r.p_value),
            }
            rows.append(row)
    return ReadableTable(
        frame=pd.DataFrame(rows),
        caption=f"The main difference again, {s.name}, {s.unit}, looked at in other ways",
    )


TABLES: dict[str, Callable[[MethodsAnswer], ReadableTable]] = {
    "main": units_table,
    "outcomes": outcomes_table,
    "sensitivity": sensitivity_table,
}
