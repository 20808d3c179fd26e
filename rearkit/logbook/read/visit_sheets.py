"""The sheets that tell of visits become frames: Daily, Sizes, Positions and Events."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.parse.names import Names
from rearkit.logbook.read.batch_names import joined, means_all, tell_unknown_batch, written
from rearkit.logbook.read.date_cells import DateCells
from rearkit.logbook.read.frames import COUNT_PARTS, make_frame
from rearkit.logbook.read.measurements import (
    check_limits,
    fractions_to_percent,
    in_milligrams,
    in_millimetres,
    two_kinds,
)
from rearkit.logbook.read.tables import Table
from rearkit.logbook.read.typed_columns import Typist, Values
from rearkit.logbook.read.visit_rows import Visits, once
from rearkit.logbook.schema.declare import heading_key

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


# ---- Sizes, Positions and Events ----------------------------------------------------------------


def read_sizes(
    tables: Mapping[str, Table], visits: Visits, typist: Typist, teller: Teller
) -> pd.DataFrame:
    """Make the frame of measured fish.

    Equal rows are kept: two fish may well be of one length.
    """
    table = tables["Sizes"]
    rows, batches = visits.keep(table, allow_all=False)
    values = typist.columns(table, rows)
    values["batch"] = list(batches)
    for name in table.extras:
        values[name] = joined(table, name, rows, teller)
    values["fish"] = [1.0 if n != n else n for n in values["fish"]]
    check_limits(table, rows, values, teller)
    in_millimetres(table, rows, values, teller)
    in_milligrams(table, rows, values, teller)
    two_kinds(table, rows, values, teller)
    kept = [i for i in range(len(rows)) if _measured(table, rows[i], i, values, teller)]
    return _frame(table, rows, values, kept)


def _measured(table: Table, row: int, i: int, values: Values, teller: Teller) -> bool:
    length, weight = values["length_mm"][i], values["weight_mg"][i]
    if length == length or weight == weight:  # not NaN
        return True
    teller.tell("nothing-measured", table.at(row), together="nothing-measured")
    return False


def read_positions(
    tables: Mapping[str, Table],
    visits: Visits,
    dates: DateCells,
    typist: Typist,
    teller: Teller,
) -> pd.DataFrame:
    """Make the frame of scans: where in the container the fry were."""
    table = tables["Positions"]
    rows, batches = visits.keep(table, allow_all=False)
    timed = [i for i, row in enumerate(rows) if table.cell(row, "time") is not None]
    kept = once(table, [rows[i] for i in timed], [batches[i] for i in timed], dates, teller)
    again = set(timed) - {timed[i] for i in kept}
    single = [i for i in range(len(rows)) if i not in again]
    rows, batches = [rows[i] for i in single], [batches[i] for i in single]
    values = typist.columns(table, rows)
    values["batch"] = list(batches)
    for name in ("place", "side"):
        values[name] = joined(table, name, rows, teller)
    for name in table.extras:
        values[name] = joined(table, name, rows, teller)
    values["time"] = [_clock(text) for text in values["time"]]
    fractions_to_percent(table, "area_percent", rows, values, teller)
    check_limits(table, rows, values, teller)
    kept = [i for i in range(len(rows)) if _placed(table, rows[i], i, values, teller)]
    return _frame(table, rows, values, kept)


def _placed(table: Table, row: int, i: int, values: Values, teller: Teller) -> bool:
    there = {
        "place": values["place"][i] is not None,
        "seen": values["seen_low"][i] == values["seen_low"][i],  # not NaN
    }
    missing = [name for name in there if not there[name]]
    if missing:
        at = table.at(row, missing[0])
        teller.tell("scan-incomplete", at, together=missing[0], missing=" and ".join(missing))
    return not missing


def _clock(text: object) -> str | None:
    """Write a time of day the way spreadsheets hold it: 06:05."""
    if not isinstance(text, str):
        return None
    parts = text.split(":")
    plain = len(parts) in (2, 3) and all(p.isdecimal() and 0 < len(p) <= 2 for p in parts)
    return f"{int(parts[0]):02d}:{int(parts[1]):02d}" if plain else text


def read_events(
    tables: Mapping[str, Table], names: Names, typist: Typist, teller: Teller
) -> pd.DataFrame:
    """Make the frame of events; ``all`` stays ``all``."""
    table = tables["Events"]
    rows = table.facts
    values = typist.columns(table, rows)
    values["batch"] = joined(table, "batch", rows, teller, names)
    for name in table.extras:
        values[name] = joined(table, name, rows, teller)
    kept = [i for i, row in enumerate(rows) if _usable(table, row, i, values, names, teller)]
    _keep_words(table, rows, values)
    return _frame(table, rows, values, kept)


def _usable(table: Table, row: int, i: int, values: Values, names: Names, teller: Teller) -> bool:
    batch = values["batch"][i]
    if batch is None or means_all(str(batch)):
        values["batch"][i] = "all"
    elif str(batch) not in names:
        tell_unknown_batch("unknown-batch", table, row, "batch", str(batch), names, teller)
        return False
    if batch is None:
        teller.tell("event-without-batch", table.at(row, "batch"))
    started = values["started"][i]
    if pd.isna(started):
        teller.tell("row-without-date/event", table.at(row, "started"))
        return False
    ended = values["ended"][i]
    if not pd.isna(ended) and ended < started:
        values["ended"][i] = pd.NaT
        teller.tell("event-dates", table.at(row, "ended"))
    return True


def _keep_words(table: Table, rows: list[int], values: Values) -> None:
    """Keep in the note what was written for an event that is read as other."""
    known = table.sheet.column("what").words
    notes = values["note"]
    for i, text in enumerate(written(table, "what", rows)):
        if text is not None and heading_key(text) not in known:
            notes[i] = text.strip() if notes[i] is None else f"{text.strip()}; {notes[i]}"


def _frame(table: Table, rows: list[int], values: Values, kept: list[int]) -> pd.DataFrame:
    values = {name: [column[i] for i in kept] for name, column in values.items()}
    rows = [rows[i] for i in kept]
    return make_frame(table.sheet.name, values, rows, dict.fromkeys(table.extras, "object"))
