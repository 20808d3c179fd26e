"""The sheet Batches becomes the frame of batches."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from rearkit.logbook.batch_dates import check_dates
from rearkit.logbook.findings import shown
from rearkit.logbook.frames import make_frame
from rearkit.logbook.joining import joined, means_all, tell_unknown_batch, written
from rearkit.logbook.names import Names, name_key
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import Teller
from rearkit.logbook.typed import Typist, Values

_FLAGS = {"start_known": "bool", "stopped": "bool"}


def read_batches(
    tables: Mapping[str, Table], names: Names, typist: Typist, teller: Teller, *, dated: bool
) -> pd.DataFrame:
    """Make the frame of batches, one row a batch.

    Parameters
    ----------
    tables : mapping of str to Table
        All sheets: a line that only names a batch is a batch if another sheet knows it.
    names : Names
        The names of the batches.
    typist : Typist
    teller : Teller
    dated : bool
        Whether the order of day and month is settled, so that dates can be compared.

    Returns
    -------
    DataFrame
        A batch that cannot be used stays in it with ``stopped`` true.
    """
    table = tables.get("Batches")
    if table is None or not table.usable:
        return make_frame("Batches", {"start_known": [], "stopped": []}, [], _FLAGS)
    rows = _named_rows(tables, table, teller)
    rows, doubled = _single_rows(table, rows, names, teller)
    values = typist.columns(table, rows)
    for column in table.sheet.columns:
        if column.joined and column.name in table.columns:
            own = names if column.name in ("batch", "from_batch") else None
            values[column.name] = joined(table, column.name, rows, teller, own)
    for name in table.extras:
        values[name] = joined(table, name, rows, teller)
    stopped = [row in doubled for row in rows]
    values["stopped"] = list(stopped)
    values["start_known"] = [
        _start_known(table, row, values, i, teller) for i, row in enumerate(rows)
    ]
    _check_from_batch(table, rows, values, names, teller)
    frame = make_frame("Batches", values, rows, _FLAGS | dict.fromkeys(table.extras, "object"))
    if dated:
        frame["stopped"] = frame["stopped"] | check_dates(table, frame, teller)
    _check_end(table, frame, teller)
    return frame


def _named_rows(tables: Mapping[str, Table], table: Table, teller: Teller) -> list[int]:
    """Leave out rows without a name, and lines of text that name no batch."""
    used = {
        name_key(text)
        for other in tables.values()
        if other is not table and "batch" in other.columns
        for text in written(other, "batch", other.rows)
        if text is not None
    }
    rows = []
    for row, text in zip(table.rows, written(table, "batch", table.rows), strict=True):
        if text is None:
            teller.tell(
                "STOP",
                "no-batch-name",
                table.at(row, "batch"),
                scope="row",
                seen="a row without the name of a batch",
                done="the row is left out",
                settle="Give every batch a name of its own.",
            )
        elif len(table.rows[row]) == 1 and name_key(text) not in used:
            teller.tell(
                "FIX",
                "text-only",
                table.at(row),
                seen=f"a row that holds only “{shown(text)}”",
                done="left out; it names no batch that any other sheet knows",
                settle="If it is a batch, fill in started and start_count.",
            )
        else:
            rows.append(row)
    return rows


def _single_rows(
    table: Table, rows: list[int], names: Names, teller: Teller
) -> tuple[list[int], set[int]]:
    """Keep one row a batch; give the rows whose batch is told in two ways, too."""
    first: dict[str, int] = {}
    doubled: set[int] = set()
    for row, text in zip(rows, written(table, "batch", rows), strict=True):
        key, spelling = name_key(str(text)), names.spelling(str(text))
        if means_all(text):
            _tell_double(table, row, row, spelling, teller)
            doubled.add(row)
        before = first.setdefault(key, row)
        if before == row:
            continue
        if _contents(table, before) == _contents(table, row):
            teller.tell(
                "ASK",
                "row-twice",
                table.at(row),
                seen=f"row {before} once more, the same in every cell",
                done="used once",
                settle="Delete one of them.",
                batch=shown(spelling),
            )
        else:
            _tell_double(table, row, before, spelling, teller)
            teller.mark(table.sheet.name, before, "unusable")
            doubled.add(before)
    return list(first.values()), doubled


def _contents(table: Table, row: int) -> dict[int, str]:
    return {index: name_key(cell.text) for index, cell in table.rows[row].items()}


def _tell_double(table: Table, row: int, before: int, text: str, teller: Teller) -> None:
    seen = f"row {before} tells of a batch “{shown(text)}” too, and not the same of it"
    if row == before:
        seen = f"a batch is called “{shown(text)}”, which stands for every batch"
    teller.tell(
        "STOP",
        "batch-name",
        table.at(row, "batch"),
        scope="batch",
        seen=seen,
        done="the batch is left out",
        settle="Give every batch a name of its own, here and in the other sheets.",
        batch=shown(text),
    )


def _start_known(table: Table, row: int, values: Values, i: int, teller: Teller) -> bool:
    low = values["start_count_low"][i]
    if low == low:  # not NaN
        return True
    cell = table.cell(row, "start_count")
    if cell is None or cell.text.strip().casefold() in ("", "-", "?"):
        teller.tell(
            "ASK",
            "no-start-count",
            table.at(row, "start_count"),
            seen="no start count",
            done="taken as unknown: the fish are counted back from what is seen later",
            settle="Write a count, a range such as 30-36, or unknown.",
            batch=shown(values["batch"][i]),
        )
    return False


def _check_from_batch(
    table: Table, rows: list[int], values: Values, names: Names, teller: Teller
) -> None:
    for i, (row, text) in enumerate(zip(rows, values.get("from_batch", []), strict=False)):
        if text is None:
            continue
        if str(text) not in names:
            done = "kept as written; no batch is followed back to it"
            tell_unknown_batch(table, row, "from_batch", str(text), names, teller, done=done)
        elif text == values["batch"][i]:
            teller.tell(
                "ASK",
                "from-itself",
                table.at(row, "from_batch"),
                seen=f"the batch “{shown(text)}” is said to come from itself",
                done="kept as written",
                settle="Write the batch that it came from, or leave it blank.",
                batch=shown(text),
            )


def _check_end(table: Table, frame: pd.DataFrame, teller: Teller) -> None:
    """Ask about an end that is told in ways that do not go together."""
    for batch, row, ended, count, reason, written_end in zip(
        frame["batch"],
        frame["sheet_row"],
        frame["ended"],
        frame["end_count_best"],
        frame["end_reason"],
        frame["end_count_low"],
        strict=True,
    ):
        if count == count and pd.isna(ended):
            teller.tell(
                "ASK",
                "end-without-date",
                table.at(row, "ended"),
                seen="an end count without the day it was made",
                done="taken for the last day that Daily has of this batch",
                settle="Fill in ended.",
                batch=shown(batch),
            )
        if reason == "all died" and written_end > 0:
            teller.tell(
                "ASK",
                "died-but-alive",
                table.at(row, "end_reason"),
                seen="all died, yet the end count is above 0",
                done="the count is used",
                settle="Correct the end count or the reason.",
                batch=shown(batch),
            )
