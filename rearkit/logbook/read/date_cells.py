"""Every date of a log, read in the one order of day and month that the log keeps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from rearkit.logbook.doubts.findings import At, shown
from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.files.grid import Cell
from rearkit.logbook.parse.dates import (
    FIRST_SHOWN,
    LAST_SHOWN,
    DateReading,
    Resolved,
    date_reading,
    resolve,
    settle_order,
    swapped,
)
from rearkit.logbook.read.tables import Table

_NAMED = 3  # dates that are named as showing the order
_NEAR_DAYS = 15
_MONTHS = 12


class DateCells:
    """The dates of a log.

    Parameters
    ----------
    cells : iterable of (At, Cell, bool or None)
        Every cell of a date column, with whether its workbook counts days from 1904.
    told : str or None
        The order of day and month that the keeper gave.
    teller : Teller
    """

    def __init__(
        self,
        cells: Iterable[tuple[At, Cell, bool | None]],
        told: str | None,
        teller: Teller,
    ) -> None:
        self._cells = [(at, cell, system) for at, cell, system in cells]
        self._readings = [_reading(cell) for _, cell, _ in self._cells]
        self.settlement = settle_order(self._readings, told)
        self.near = _middle(self._readings)
        self._by_place: dict[tuple[str | None, int | None, str | None], Resolved] = {}
        spans = self._text_spans()
        for (at, cell, system), reading in zip(self._cells, self._readings, strict=True):
            found = resolve(reading, self.settlement.order, near=self.near, from_1904=system)
            found = _unswapped(found, cell, spans.get((at.sheet, at.column)), at, teller)
            self._by_place[at.sheet, at.row, at.column] = found
            _tell(found, cell, at, self.settlement.order, teller)
        self._tell_order(teller)

    @property
    def unsettled(self) -> bool:
        """Whether there are dates whose day and month nothing tells apart."""
        return self.settlement.because in ("nothing", "conflict")

    def date(self, at: At) -> dt.date | None:
        """Give the date of a cell, None if it is blank, cannot be read or is of no year we know."""
        found = self._by_place.get((at.sheet, at.row, at.column))
        day = found.date if found else None
        return day if day and FIRST_SHOWN <= day.year <= LAST_SHOWN else None

    def _text_spans(self) -> dict[tuple[str | None, str | None], tuple[dt.date, dt.date]]:
        """Give the span of the typed-in dates of every column that can be read in one order only.

        Where a spreadsheet takes day and month the other way about, it leaves just these as text.
        It then makes no real date of a day after the 12th, so a column with one is left alone.
        """
        spans: dict[tuple[str | None, str | None], tuple[dt.date, dt.date]] = {}
        sound = {
            (at.sheet, at.column)
            for (at, cell, _), reading in zip(self._cells, self._readings, strict=True)
            if cell.kind == "date" and reading.date is not None and reading.date.day > _MONTHS
        }
        for (at, _, _), reading in zip(self._cells, self._readings, strict=True):
            order = reading.shows_order
            if order is not None and (at.sheet, at.column) not in sound:
                day = reading.by_order[order]
                low, high = spans.get((at.sheet, at.column), (day, day))
                spans[at.sheet, at.column] = (min(low, day), max(high, day))
        return spans

    def _named(self, indices: Iterable[int]) -> str:
        named = []
        for i in list(indices)[:_NAMED]:
            at, cell, _ = self._cells[i]
            named.append(f"{shown(cell.text, longest=30)} in {at.sheet} {at.cell or ''}".strip())
        return ", ".join(named)

    def _tell_order(self, teller: Teller) -> None:
        settled = self.settlement
        if settled.because not in ("shown", "dots", "nothing", "conflict"):
            return
        at, cell, _ = self._cells[settled.ambiguous[0]]
        others = len(settled.ambiguous) - 1 or None
        keys = {
            "dots": "date-order-dots",
            "shown": "date-order-shown",
            "nothing": "date-order",
            "conflict": "date-order/conflict",
        }
        teller.tell(
            keys[settled.because],
            at,
            text=cell.text,
            others=others,
            order=settled.order,
            named=self._named(settled.shown_by),
        )


def _reading(cell: Cell) -> DateReading:
    if cell.kind in ("error", "no_value"):
        return date_reading(None)
    if cell.kind in ("date", "number", "text") and cell.value is not None:
        return date_reading(cell.value)
    return DateReading(text=cell.text, kind="unreadable")


def _middle(readings: Iterable[DateReading]) -> dt.date | None:
    """Give the day in the middle of all dates that are certain."""
    days = sorted(
        day
        for reading in readings
        if (day := reading.date or reading.by_order.get(reading.shows_order or "")) is not None
        and reading.kind != "no_year"
    )
    return days[len(days) // 2] if days else None


def _unswapped(
    found: Resolved,
    cell: Cell,
    span: tuple[dt.date, dt.date] | None,
    at: At,
    teller: Teller,
) -> Resolved:
    """Put a real date right whose day and month the spreadsheet took the other way about."""
    if cell.kind != "date" or span is None or found.date is None:
        return found
    other = swapped(found.date)
    near = dt.timedelta(days=_NEAR_DAYS)
    if other is None or span[0] - near <= found.date <= span[1] + near:
        return found
    if not span[0] - near <= other <= span[1] + near:
        return found
    teller.tell("date-swapped", at, day=found.date, first=span[0], last=span[1], other=other)
    return Resolved(date=other, how="sure")


def _tell(found: Resolved, cell: Cell, at: At, order: str | None, teller: Teller) -> None:
    day, text = found.date, cell.text
    if day is None:
        return
    if found.how in ("number_1900", "number_1904"):
        system = found.how[-4:]
        together = (at.column, system)
        teller.tell("day-number", at, together=together, text=text, system=system, day=day)
    elif found.how == "only_way" and order is not None:
        teller.tell("date-other-order", at, text=text, order=order, day=day)
    elif found.how == "year":
        teller.tell("date-no-year", at, together=(at.column, day.year), text=text, day=day)


def date_cells_of(table: Table) -> Iterable[tuple[At, Cell, bool | None]]:
    """Give every cell of the date columns of a table."""
    for column in table.sheet.columns:
        if column.kind != "date" or column.name not in table.columns:
            continue
        for row in table.rows:
            cell = table.cell(row, column.name)
            if cell is not None:
                yield table.at(row, column.name), cell, table.from_1904
