"""Rows about a batch on a day: which can be used, and which cannot."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import pandas as pd

from rearkit.logbook.batch_dates import LONGEST_DAYS, swap_hint
from rearkit.logbook.date_cells import DateCells
from rearkit.logbook.findings import shown
from rearkit.logbook.joining import means_all, tell_joined, tell_unknown_batch, written
from rearkit.logbook.names import Names, name_key, tidy_name
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import Teller


@dataclass(frozen=True, kw_only=True)
class Span:
    """From when to when a batch ran; ``ended`` is None while it runs."""

    started: pd.Timestamp | None
    ended: pd.Timestamp | None
    stopped: bool


class Visits:
    """Sort the rows of Daily, Sizes and Positions into usable and unusable ones.

    Parameters
    ----------
    batches : DataFrame
        The frame of batches.
    names : Names
        The names of the batches.
    dates : DateCells
    teller : Teller
    """

    def __init__(
        self, batches: pd.DataFrame, names: Names, dates: DateCells, teller: Teller
    ) -> None:
        self._names, self._dates, self._teller = names, dates, teller
        self.spans = {
            str(batch): Span(
                started=None if pd.isna(started) else started,
                ended=None if pd.isna(ended) else ended,
                stopped=bool(stopped),
            )
            for batch, started, ended, stopped in zip(
                batches["batch"],
                batches["started"],
                batches["ended"],
                batches["stopped"],
                strict=True,
            )
        }

    def running(self, day: pd.Timestamp) -> list[str]:
        """Give the batches that ran on a day."""
        return [
            batch
            for batch, span in self.spans.items()
            if span.started is not None
            and span.started <= day
            and (span.ended is None or day <= span.ended)
        ]

    def keep(self, table: Table, *, allow_all: bool) -> tuple[list[int], list[str]]:
        """Keep the rows whose batch is known and whose day lies within its life.

        Parameters
        ----------
        table : Table
        allow_all : bool
            Whether ``all`` may stand for every batch.

        Returns
        -------
        list of int
            The rows that are kept.
        list of str
            The batch of each of them, ``"all"`` where it is every batch.
        """
        rows: list[int] = []
        kept: list[str] = []
        for row, text in zip(table.rows, written(table, "batch", table.rows), strict=True):
            batch = self._batch(table, row, text, allow_all=allow_all)
            day = self._dates.date(table.at(row, "date"))
            if day is None:
                self._tell_no_date(table, row, batch)
            if batch is None or day is None:
                continue
            if self._dates.unsettled or self._within(table, row, batch, pd.Timestamp(day)):
                rows.append(row)
                kept.append(batch)
        return rows, kept

    def _batch(self, table: Table, row: int, text: str | None, *, allow_all: bool) -> str | None:
        if text is None:
            self._teller.tell(
                "STOP",
                "row-without-batch",
                table.at(row, "batch"),
                scope="row",
                seen="a row without a batch",
                done="the row is left out",
                settle="Write the batch in every row" + (", or all." if allow_all else "."),
            )
            return None
        if allow_all and means_all(text):
            return "all"
        if text not in self._names:
            done = "the row is left out until that is settled"
            tell_unknown_batch(table, row, "batch", text, self._names, self._teller, done=done)
            return None
        spelling = self._names.spelling(text)
        if spelling != text:
            tell_joined(table, row, "batch", text, spelling, self._teller)
        return spelling

    def _tell_no_date(self, table: Table, row: int, batch: str | None) -> None:
        cell = table.cell(row, "date")
        blank = cell is None or cell.kind in ("error", "no_value") or not cell.text.strip()
        self._teller.tell(
            "STOP",
            "row-without-date",
            table.at(row, "date"),
            scope="row",
            seen="a row without a date"
            if blank or cell is None
            else f"“{shown(cell.text)}” is no date",
            done="the row is left out",
            settle="Write the date in every row, as 2025-04-03.",
            batch=batch,
        )

    def _within(self, table: Table, row: int, batch: str, day: pd.Timestamp) -> bool:
        """Tell a row that lies outside the life of its batch."""
        if batch == "all":
            return True
        span = self.spans.get(batch)
        if span is None or span.started is None:
            self._teller.mark(table.sheet.name, row, "unusable")
            return span is not None
        if span.stopped:
            self._teller.mark(table.sheet.name, row, "unusable")
            return True
        outside = _outside(day, span)
        if outside is None:
            return True
        code, seen = outside
        settle = "Correct the date, or the dates of the batch."
        settle += swap_hint(day, from_=span.started, to=span.ended)
        self._teller.tell(
            "STOP",
            code,
            table.at(row, "date"),
            scope="row",
            seen=seen,
            done="the row is left out",
            settle=settle,
            batch=batch,
        )
        return False


def _outside(day: pd.Timestamp, span: Span) -> tuple[str, str] | None:
    shown_day = day.date().isoformat()
    if span.started is None:
        return None
    if abs((day - span.started).days) > LONGEST_DAYS:
        return "impossible-year", f"the year {day.year} cannot be right"
    if day < span.started:
        start = span.started.date().isoformat()
        return "before-start", f"{shown_day} is before the batch started ({start})"
    if span.ended is not None and day > span.ended:
        end = span.ended.date().isoformat()
        return "after-end", f"{shown_day} is after the batch ended ({end})"
    return None


def once(
    table: Table, rows: Sequence[int], batches: Sequence[str], dates: DateCells, teller: Teller
) -> list[int]:
    """Give the positions of the rows that are not the same as an earlier row in every cell."""
    kept: list[int] = []
    first: dict[Hashable, int] = {}
    for i, (row, batch) in enumerate(zip(rows, batches, strict=True)):
        own = (table.columns["date"], table.columns["batch"])
        rest = tuple(
            sorted((n, name_key(c.text)) for n, c in table.rows[row].items() if n not in own)
        )
        key = (dates.date(table.at(row, "date")), batch, rest)
        before = first.setdefault(key, row)
        if before == row:
            kept.append(i)
            continue
        teller.tell(
            "ASK",
            "row-twice",
            table.at(row),
            seen=f"row {before} once more, the same in every cell",
            done="used once",
            settle="Delete one of them; if they were two visits, write so in note.",
            batch=tidy_name(batch),
        )
    return kept
