"""The tables of the trial: where the fry went, what happened, the ten essentials of ARRIVE."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from rearkit.answers.trial.checklist import checklist
from rearkit.words.blocks import ReadableTable, counted
from rearkit.words.numbers import about, day_words, decimals

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


TABLES: dict[str, Callable[[TrialAnswer], ReadableTable]] = {
    "main": _flow,
    "checklist": checklist,
    "events": _events,
}
