"""The sheets Sizes and Positions become the frames of what was measured."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from rearkit.logbook.centimetres import centimetres
from rearkit.logbook.date_cells import DateCells
from rearkit.logbook.frames import make_frame
from rearkit.logbook.joining import joined
from rearkit.logbook.measure_checks import check_limits, fractions_to_percent, two_kinds
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import Teller
from rearkit.logbook.typed import Typist, Values
from rearkit.logbook.visit_rows import Visits, once


def read_sizes(
    tables: Mapping[str, Table], visits: Visits, typist: Typist, teller: Teller
) -> pd.DataFrame:
    """Make the frame of measured fish.

    Equal rows are kept: two fish may well be of one length.
    """
    table = tables.get("Sizes")
    if table is None or not table.usable:
        _all_waiting(table, teller)
        return make_frame("Sizes", {}, [], {})
    rows, batches = visits.keep(table, allow_all=False)
    values = typist.columns(table, rows)
    values["batch"] = list(batches)
    for name in table.extras:
        values[name] = joined(table, name, rows, teller)
    fish = values.get("fish", [math.nan] * len(rows))
    values["fish"] = [1.0 if n != n else n for n in fish]
    check_limits(table, rows, values, teller)
    centimetres(table, rows, values, teller)
    two_kinds(table, rows, values, teller)
    kept = [i for i in range(len(rows)) if _measured(table, rows[i], i, values, teller)]
    return _frame("Sizes", table, rows, values, kept)


def _measured(table: Table, row: int, i: int, values: Values, teller: Teller) -> bool:
    for name in ("length_mm", "weight_mg"):
        value = values.get(name, [math.nan] * (i + 1))[i]
        if value == value:  # not NaN
            return True
    teller.tell(
        "STOP",
        "nothing-measured",
        table.at(row),
        scope="row",
        seen="neither a length nor a weight",
        done="the row is left out",
        settle="Write a length or a weight, or delete the row.",
        together="nothing-measured",
    )
    return False


def read_positions(
    tables: Mapping[str, Table],
    visits: Visits,
    dates: DateCells,
    typist: Typist,
    teller: Teller,
) -> pd.DataFrame:
    """Make the frame of scans: where in the container the fry were."""
    table = tables.get("Positions")
    if table is None or not table.usable:
        _all_waiting(table, teller)
        return make_frame("Positions", {}, [], {})
    rows, batches = visits.keep(table, allow_all=False)
    if "time" in table.columns:
        timed = [i for i, row in enumerate(rows) if table.cell(row, "time") is not None]
        once_only = once(
            table, [rows[i] for i in timed], [batches[i] for i in timed], dates, teller
        )
        single = {timed[i] for i in once_only} | (set(range(len(rows))) - set(timed))
        rows, batches = (
            [row for i, row in enumerate(rows) if i in single],
            [batch for i, batch in enumerate(batches) if i in single],
        )
    values = typist.columns(table, rows)
    values["batch"] = list(batches)
    values["place"] = joined(table, "place", rows, teller)
    if "time" in values:
        values["time"] = [_clock(text) for text in values["time"]]
    for name in table.extras:
        values[name] = joined(table, name, rows, teller)
    fractions_to_percent(table, "area_percent", rows, values, teller)
    check_limits(table, rows, values, teller)
    kept = [i for i in range(len(rows)) if _placed(table, rows[i], i, values, teller)]
    return _frame("Positions", table, rows, values, kept)


def _placed(table: Table, row: int, i: int, values: Values, teller: Teller) -> bool:
    missing = [
        name
        for name, there in (
            ("place", values["place"][i] is not None),
            ("seen", values["seen_low"][i] == values["seen_low"][i]),
        )
        if not there
    ]
    if missing:
        teller.tell(
            "STOP",
            "scan-incomplete",
            table.at(row, missing[0]),
            scope="row",
            seen=f"a scan without {' and '.join(missing)}",
            done="the row is left out",
            settle="Write the place and how many fry you saw there; 0 if you saw none.",
            together=missing[0],
        )
    return not missing


def _clock(text: object) -> str | None:
    """Write a time of day the way spreadsheets hold it: 06:05."""
    if not isinstance(text, str):
        return None
    parts = text.split(":")
    plain = len(parts) in (2, 3) and all(p.isdecimal() and 0 < len(p) <= 2 for p in parts)
    return f"{int(parts[0]):02d}:{int(parts[1]):02d}" if plain else text


def _frame(
    sheet: str, table: Table, rows: list[int], values: Values, kept: list[int]
) -> pd.DataFrame:
    values = {name: [column[i] for i in kept] for name, column in values.items()}
    rows = [rows[i] for i in kept]
    return make_frame(sheet, values, rows, dict.fromkeys(table.extras, "object"))


def _all_waiting(table: Table | None, teller: Teller) -> None:
    """Mark the rows of a sheet that lacks a column as waiting for it."""
    if table is not None:
        for row in table.rows:
            teller.mark(table.sheet.name, row, "waiting")
