"""The sheet Daily becomes the frame of visits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.parse.names import Names
from rearkit.logbook.read.batch_names import joined, tell_unknown_batch, written
from rearkit.logbook.read.date_cells import DateCells
from rearkit.logbook.read.frames import COUNT_PARTS, make_frame
from rearkit.logbook.read.measurements import check_limits, fractions_to_percent
from rearkit.logbook.read.tables import Table
from rearkit.logbook.read.typed_columns import Typist, Values
from rearkit.logbook.read.visit_rows import Visits, once

_COUNTS = ("dead", "removed", "added", "alive")


def read_daily(
    tables: Mapping[str, Table],
    visits: Visits,
    names: Names,
    dates: DateCells,
    typist: Typist,
    teller: Teller,
) -> pd.DataFrame:
    """Make the frame of visits: a row a batch a visit, ``all`` shared out over the batches.

    Parameters
    ----------
    tables : mapping of str to Table
    visits : Visits
        Knows which rows can be used.
    names : Names
        The names of the batches.
    dates : DateCells
    typist : Typist
    teller : Teller

    Returns
    -------
    DataFrame
    """
    table = tables["Daily"]
    rows, batches = visits.keep(table, allow_all=True)
    kept = once(table, rows, batches, dates, teller)
    rows, batches = [rows[i] for i in kept], [batches[i] for i in kept]
    values = typist.columns(table, rows)
    values["batch"] = list(batches)
    for name in table.extras:
        values[name] = joined(table, name, rows, teller)
    _removed_to(table, rows, values, names, teller)
    fractions_to_percent(table, "water_changed_percent", rows, values, teller)
    check_limits(table, rows, values, teller)
    _blank_counts_of_all(table, rows, values, teller)
    rows, values = _share_out(table, rows, values, visits, teller)
    _tell_second_visits(table, rows, values, teller)
    return make_frame("Daily", values, rows, dict.fromkeys(table.extras, "object"))


def _removed_to(
    table: Table, rows: Sequence[int], values: Values, names: Names, teller: Teller
) -> None:
    values["removed_to"] = joined(table, "removed_to", rows, teller, names)
    for row, text in zip(rows, written(table, "removed_to", rows), strict=True):
        if text is not None and text not in names:
            key = "unknown-batch/removed-to"
            tell_unknown_batch(key, table, row, "removed_to", text, names, teller)


def _blank_counts_of_all(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about fish that were counted for every batch at once: nobody knows where they belong."""
    for i, row in enumerate(rows):
        if values["batch"][i] != "all":
            continue
        for name in _COUNTS:
            if not values[f"{name}_high"][i] > 0:
                continue
            text = values[f"{name}_text"][i]
            teller.tell("count-for-all", table.at(row, name), text=text)
            for part in COUNT_PARTS:
                values[f"{name}_{part}"][i] = None if part == "text" else np.nan


def _share_out(
    table: Table, rows: Sequence[int], values: Values, visits: Visits, teller: Teller
) -> tuple[list[int], Values]:
    """Turn a row for all batches into one for each that ran that day, sharing the minutes."""
    if "all" not in values["batch"]:
        return list(rows), values
    take: list[int] = []
    batches: list[object] = []
    shares: list[float] = []
    for i, row in enumerate(rows):
        batch = values["batch"][i]
        running: list[object] = [batch]
        if batch == "all":
            running = list(visits.running(values["date"][i]))
            if not running:
                teller.tell("nothing-ran", table.at(row, "date"))
        take += [i] * len(running)
        batches += running
        shares += [1.0 / max(len(running), 1)] * len(running)
    out: Values = {name: [column[i] for i in take] for name, column in values.items()}
    out["batch"] = batches
    out["minutes"] = [m * s for m, s in zip(out["minutes"], shares, strict=True)]
    return [rows[i] for i in take], out


def _tell_second_visits(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    seen: set[tuple[object, object]] = set()
    for row, day, batch in zip(rows, values["date"], values["batch"], strict=True):
        if (day, batch) in seen:
            teller.tell("two-visits", table.at(row), together="two-visits", visited=batch)
        seen.add((day, batch))
