"""Rows about a batch on a day: which can be used, and which cannot."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import pandas as pd

from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.parse.dates import swapped
from rearkit.logbook.parse.names import Names, name_key
from rearkit.logbook.read.batch_names import means_all, tell_joined, tell_unknown_batch, written
from rearkit.logbook.read.batch_rows import LONGEST_DAYS
from rearkit.logbook.read.date_cells import DateCells
from rearkit.logbook.read.tables import Table


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
        for row, text in zip(table.facts, written(table, "batch", table.facts), strict=True):
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
            every = "all" if allow_all else None
            self._teller.tell("row-without-batch", table.at(row, "batch"), every=every)
            return None
        if allow_all and means_all(text):
            return "all"
        if text not in self._names:
            tell_unknown_batch(
                "unknown-batch", table, row, "batch", text, self._names, self._teller
            )
            return None
        spelling = self._names.spelling(text)
        if spelling != text:
            tell_joined(table, row, "batch", text, spelling, self._teller)
        return spelling

    def _tell_no_date(self, table: Table, row: int, batch: str | None) -> None:
        cell, at = table.cell(row, "date"), table.at(row, "date")
        if cell is None or cell.kind in ("error", "no_value") or not cell.text.strip():
            self._teller.tell("row-without-date", at, batch=batch)
        else:
            self._teller.tell("row-without-date/unreadable", at, batch=batch, text=cell.text)

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
        key = _outside(day, span)
        if key is None:
            return True
        self._teller.tell(
            key,
            table.at(row, "date"),
            batch=batch,
            day=day,
            year=day.year,
            started=span.started,
            ended=span.ended,
            exchanged=swapped(
                day.date(),
                earliest=span.started.date(),
                latest=None if span.ended is None else span.ended.date(),
            ),
        )
        return False


def _outside(day: pd.Timestamp, span: Span) -> str | None:
    """Tell in what way a day lies outside the life of a batch, None if it does not."""
    if span.started is None:
        return None
    if abs((day - span.started).days) > LONGEST_DAYS:
        return "impossible-year"
    if day < span.started:
        return "before-start"
    return "after-end" if span.ended is not None and day > span.ended else None


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
        teller.tell("row-twice", table.at(row), batch=batch, before=before)
    return kept
