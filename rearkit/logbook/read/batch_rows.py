"""The sheet Batches becomes the frame of batches, and its dates are held against each other."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.parse.dates import FIRST_YEAR, LAST_YEAR, swapped
from rearkit.logbook.parse.names import Names, name_key
from rearkit.logbook.read.batch_names import joined, means_all, tell_unknown_batch, written
from rearkit.logbook.read.frames import make_frame
from rearkit.logbook.read.tables import Table
from rearkit.logbook.read.typed_columns import Typist, Values

LONGEST_DAYS = 2 * 366  # a batch reared for longer than this is a mistyped year
_FAR_DAYS = 10 * 366  # from one batch to the others
_IN_ORDER = (("spawned", "hatched"), ("hatched", "free_swimming"), ("spawned", "started"))
_EARLY = ("spawned", "hatched", "free_swimming")
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
    table = tables["Batches"]
    rows = _named_rows(tables, table, teller)
    rows, doubled = _single_rows(table, rows, names, teller)
    values = typist.columns(table, rows)
    for column in table.sheet.columns:
        if column.joined:
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
        frame["stopped"] = frame["stopped"] | _check_dates(table, frame, teller)
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
    for row, text in zip(table.facts, written(table, "batch", table.facts), strict=True):
        if text is None:
            teller.tell("no-batch-name", table.at(row, "batch"))
        elif len(table.rows[row]) == 1 and name_key(text) not in used:
            teller.tell("text-only/batch", table.at(row), text=text)
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
            teller.tell("batch-name/every", table.at(row, "batch"), batch=spelling)
            doubled.add(row)
        before = first.setdefault(key, row)
        if before == row:
            continue
        if _contents(table, before) == _contents(table, row):
            teller.tell("row-twice/batch", table.at(row), batch=spelling, before=before)
        else:
            teller.tell("batch-name", table.at(row, "batch"), batch=spelling, before=before)
            teller.mark(table.sheet.name, before, "unusable")
            doubled.add(before)
    return list(first.values()), doubled


def _contents(table: Table, row: int) -> dict[int, str]:
    return {index: name_key(cell.text) for index, cell in table.rows[row].items()}


def _start_known(table: Table, row: int, values: Values, i: int, teller: Teller) -> bool:
    low = values["start_count_low"][i]
    if low == low:  # not NaN
        return True
    cell = table.cell(row, "start_count")
    if cell is None or cell.text.strip().casefold() in ("", "-", "?"):
        batch = str(values["batch"][i])
        teller.tell("no-start-count", table.at(row, "start_count"), batch=batch)
    return False


def _check_from_batch(
    table: Table, rows: list[int], values: Values, names: Names, teller: Teller
) -> None:
    for i, (row, text) in enumerate(zip(rows, values["from_batch"], strict=True)):
        if text is None:
            continue
        if str(text) not in names:
            key = "unknown-batch/from-batch"
            tell_unknown_batch(key, table, row, "from_batch", str(text), names, teller)
        elif text == values["batch"][i]:
            teller.tell("from-itself", table.at(row, "from_batch"), batch=str(text))


def _check_end(table: Table, frame: pd.DataFrame, teller: Teller) -> None:
    """Ask about an end that is told in ways that do not go together."""
    for batch, row, ended, count, least, reason in zip(
        frame["batch"],
        frame["sheet_row"],
        frame["ended"],
        frame["end_count_best"],
        frame["end_count_low"],
        frame["end_reason"],
        strict=True,
    ):
        if count == count and pd.isna(ended):  # a count is not NaN
            teller.tell("end-without-date", table.at(row, "ended"), batch=batch)
        if reason == "all died" and least > 0:
            teller.tell("died-but-alive", table.at(row, "end_reason"), batch=batch)


# ---- dates --------------------------------------------------------------------------------------


def _check_dates(table: Table, batches: pd.DataFrame, teller: Teller) -> pd.Series:
    """Tell for each batch whether its dates make no sense, so that it must be left out.

    An impossible date that the batch can do without is blanked in the frame.
    """
    middle = batches["started"].dropna().sort_values()
    near = middle.iloc[len(middle) // 2] if len(middle) else None
    stopped = []
    for i in batches.index:
        bad = _check_start(table, batches, i, near, teller)
        if not bad:
            _check_early(table, batches, i, teller)
            bad = _check_last_day(table, batches, i, teller)
        stopped.append(bad)
    return pd.Series(stopped, index=batches.index, dtype=bool)


def _check_start(
    table: Table, batches: pd.DataFrame, i: int, near: pd.Timestamp | None, teller: Teller
) -> bool:
    started, batch = batches.at[i, "started"], batches.at[i, "batch"]
    at = table.at(int(batches.at[i, "sheet_row"]), "started")
    if pd.isna(started):
        teller.tell("batch-dates", at, batch=batch)
        return True
    far = near is not None and abs((started - near).days) > _FAR_DAYS
    if far or not FIRST_YEAR <= started.year <= LAST_YEAR:
        teller.tell("batch-dates/far", at, batch=batch, year=started.year)
        return True
    return False


def _check_early(table: Table, batches: pd.DataFrame, i: int, teller: Teller) -> None:
    """Ask about spawning, hatching and swimming on days that cannot be, or in an odd order."""
    row, batch = int(batches.at[i, "sheet_row"]), batches.at[i, "batch"]
    for name in _EARLY:
        day = batches.at[i, name]
        if pd.notna(day) and abs((day - batches.at[i, "started"]).days) > LONGEST_DAYS:
            teller.tell("impossible-year/early", table.at(row, name), batch=batch, day=day)
            batches.at[i, name] = pd.NaT
    for before, after in _IN_ORDER:
        first, then = batches.at[i, before], batches.at[i, after]
        if pd.notna(first) and pd.notna(then) and first > then:
            teller.tell(
                "dates-out-of-order",
                table.at(row, after),
                batch=batch,
                day=then,
                earlier=before,
                first=first,
                exchanged=swapped(then.date(), earliest=first.date()),
            )


def _check_last_day(table: Table, batches: pd.DataFrame, i: int, teller: Teller) -> bool:
    started, ended = batches.at[i, "started"], batches.at[i, "ended"]
    at = table.at(int(batches.at[i, "sheet_row"]), "ended")
    batch = batches.at[i, "batch"]
    if pd.isna(ended):
        return False
    if ended < started:
        exchanged = swapped(ended.date(), earliest=started.date())
        teller.tell("batch-dates/end-first", at, batch=batch, day=ended, exchanged=exchanged)
        return True
    if (ended - started).days > LONGEST_DAYS:
        teller.tell("batch-dates/years", at, batch=batch, day=ended)
        return True
    return False
