"""The sheet Events becomes the frame of what went wrong or was done once."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from rearkit.logbook.declare import heading_key
from rearkit.logbook.frames import make_frame
from rearkit.logbook.joining import joined, means_all, tell_unknown_batch, written
from rearkit.logbook.names import Names
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import Teller
from rearkit.logbook.typed import Typist, Values


def read_events(
    tables: Mapping[str, Table], names: Names, typist: Typist, teller: Teller
) -> pd.DataFrame:
    """Make the frame of events; ``all`` stays ``all``."""
    table = tables.get("Events")
    if table is None or not table.usable:
        for row in table.rows if table is not None else ():
            teller.mark("Events", row, "waiting")
        return make_frame("Events", {}, [], {})
    rows = list(table.rows)
    values = typist.columns(table, rows)
    values["batch"] = joined(table, "batch", rows, teller, names)
    for name in table.extras:
        values[name] = joined(table, name, rows, teller)
    kept = [i for i, row in enumerate(rows) if _usable(table, row, i, values, names, teller)]
    _keep_words(table, rows, values)
    values = {name: [column[i] for i in kept] for name, column in values.items()}
    more = dict.fromkeys(table.extras, "object")
    return make_frame("Events", values, [rows[i] for i in kept], more)


def _usable(table: Table, row: int, i: int, values: Values, names: Names, teller: Teller) -> bool:
    batch = values["batch"][i]
    if batch is None or means_all(str(batch)):
        values["batch"][i] = "all"
    elif str(batch) not in names:
        done = "the row is left out until that is settled"
        tell_unknown_batch(table, row, "batch", str(batch), names, teller, done=done)
        return False
    if batch is None:
        teller.tell(
            "ASK",
            "event-without-batch",
            table.at(row, "batch"),
            seen="an event without a batch",
            done="read as all batches",
            settle="Write the batch, or all.",
        )
    started = values["started"][i]
    if pd.isna(started):
        teller.tell(
            "STOP",
            "row-without-date",
            table.at(row, "started"),
            scope="row",
            seen="an event without the day it began",
            done="the row is left out",
            settle="Write the day, as 2025-04-03.",
        )
        return False
    ended = values.get("ended", [pd.NaT] * (i + 1))[i]
    if not pd.isna(ended) and ended < started:
        values["ended"][i] = pd.NaT
        teller.tell(
            "ASK",
            "event-dates",
            table.at(row, "ended"),
            seen="the event ends before it begins",
            done="the end is read as blank",
            settle="Correct one of the two days.",
        )
    return True


def _keep_words(table: Table, rows: list[int], values: Values) -> None:
    """Keep in the note what was written for an event that is read as other."""
    known = table.sheet.column("what").words
    notes = values.setdefault("note", [None] * len(rows))
    for i, text in enumerate(written(table, "what", rows)):
        if text is not None and heading_key(text) not in known:
            notes[i] = text.strip() if notes[i] is None else f"{text.strip()}; {notes[i]}"
