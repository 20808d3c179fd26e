"""The tables of the trial: where the fry went, what happened, the ten essentials of ARRIVE.

Reference
---------
Percie du Sert, N. et al. (2020). The ARRIVE guidelines 2.0. PLoS Biology 18, e3000410. The ten
items are named after it; the questions are put in our own words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.words.blocks import ReadableTable, counted
from rearkit.words.numbers import about, count, day_words, decimals, listed, whole

if TYPE_CHECKING:
    from rearkit.answers.trial.answer import TrialAnswer


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


SILENT = "not recorded"


def checklist(answer: TrialAnswer) -> ReadableTable:
    """Fill the ten items of ARRIVE from the log; where it is silent, say what would fill them.

    Parameters
    ----------
    answer : TrialAnswer
        The description of the trial.

    Returns
    -------
    ReadableTable
        One row an item: what the log says, or "not recorded" and the field that would say it.
    """
    rows = [
        ("1 Study design", _design(answer), "Batches: method, clutch, container"),
        ("2 Sample size", _size(answer), "Batches: start_count"),
        (
            "3 Left out or kept in",
            _field(answer.fields, "exclusions"),
            "Trial: exclusions",
        ),
        ("4 Randomisation", _assigned(answer), "Batches: how_assigned"),
        ("5 Blinding", _blind(answer.fields), "Trial: counted_blind"),
        ("6 Outcomes", _outcome(answer.fields), "Trial: main_outcome, judged_on_day"),
        ("7 Statistics", "see 'How sure' on this page", ""),
        ("8 Animals", _animals(answer), "Trial: species; Batches: parents, hatched"),
        ("9 Procedures", _procedures(answer), "Daily: food, feeds, water_changed_percent, temp_c"),
        ("10 Results", "every container is shown on this page, with its range", ""),
    ]
    table = [
        {
            "item": name,
            "what the log says": said or SILENT,
            "to be filled in": "" if said else where,
        }
        for name, said, where in rows
    ]
    return ReadableTable(
        frame=pd.DataFrame(table),
        caption="The ten essentials of ARRIVE 2.0, as far as the log goes",
    )


def _field(fields: Mapping[str, object], name: str) -> str:
    value = fields.get(name)
    return "" if value is None else str(value)


def _design(answer: TrialAnswer) -> str:
    d = answer.design
    if d.tested is None:
        return "one method; nothing is compared"
    unit = "containers within split clutches" if d.split else f"{d.unit}s"
    return f"{d.tested} against {d.usual}; the units are {unit}"


def _size(answer: TrialAnswer) -> str:
    if answer.flow.empty:
        return ""
    parts = [
        f"{r.method}: {count(r.n_batches, 'batch', 'batches')}, {about(r.start_best)} fry"
        for r in answer.flow.itertuples(index=False)
    ]
    return "; ".join(parts)


def _assigned(answer: TrialAnswer) -> str:
    return "" if answer.design.assigned == "unknown" else answer.design.assigned


def _blind(fields: Mapping[str, object]) -> str:
    value = fields.get("counted_blind")
    if value is None:
        return ""
    return "counted without knowing the method" if value else "counted knowing the method"


def _outcome(fields: Mapping[str, object]) -> str:
    outcome, day = fields.get("main_outcome"), fields.get("judged_on_day")
    if outcome is None and day is None:
        return ""
    text = f"{outcome or 'survival (not declared)'}"
    if day is not None:
        text += f", on day {decimals(float(str(day)), 1)}"
    useful = fields.get("smallest_useful_difference")
    if useful is not None:
        text += f"; smallest useful difference {decimals(float(str(useful)), 1)}"
    return text


def _animals(answer: TrialAnswer) -> str:
    species = _field(answer.fields, "species")
    pairs = answer.batches["parents"].dropna().unique()
    if not species:
        return ""
    return species + (f"; parents {listed(sorted(map(str, pairs)))}" if len(pairs) else "")


def _procedures(answer: TrialAnswer) -> str:
    visits = answer.measured["visits"]
    return f"{whole(visits)} visits logged" if visits else ""


TABLES: dict[str, Callable[[TrialAnswer], ReadableTable]] = {
    "main": _flow,
    "checklist": checklist,
    "events": _events,
}
