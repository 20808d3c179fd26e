"""Sheets of a demo log: filled in, messed up on purpose, and written as a workbook or as CSV."""

from __future__ import annotations

import csv
import re
import zipfile
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

Row = dict[str, Any]
LONG_AGO = datetime(2025, 1, 1)  # every file says so, so that the same log is the same file


@dataclass(kw_only=True)
class Log:
    """Sheets being filled in, and what was planted in them."""

    name: str
    keeper: str
    columns: dict[str, list[str]] = field(default_factory=dict)
    rows: dict[str, list[Row]] = field(default_factory=dict)
    titles: dict[str, str] = field(default_factory=dict)  # a line above the header
    headings: dict[str, str] = field(default_factory=dict)  # a column as this keeper heads it
    planted: list[tuple[str, Row | None, str, str, str]] = field(default_factory=list)

    def sheet(self, sheet: str, columns: str, rows: list[Row], *, title: str = "") -> None:
        """Add a sheet with its columns in this order."""
        self.columns[sheet], self.rows[sheet] = columns.split(), rows
        if title:
            self.titles[sheet] = title
            self.planted.append((sheet, None, "", "FIX", "a title line above the header"))

    def trial(self, fields: Row) -> None:
        """Add the Trial sheet."""
        self.sheet("Trial", "field value", [{"field": k, "value": v} for k, v in fields.items()])

    def plant(self, sheet: str, row: Row, severity: str, finding: str, **cell: Any) -> None:
        """Overwrite cells of a row, and note what the reader should say of the first of them."""
        row.update(cell)
        self.planted.append((sheet, row, next(iter(cell), ""), severity, finding))

    def insert(self, sheet: str, before: Row, row: Row, severity: str, finding: str) -> None:
        """Put in a row before another, and note what the reader should say of it."""
        self.rows[sheet].insert(place(self.rows[sheet], before), row)
        self.planted.append((sheet, row, "", severity, finding))

    def insert_after(self, sheet: str, row: Row, new: Row, severity: str, finding: str) -> None:
        """Put in a row behind another, and note what the reader should say of it."""
        self.rows[sheet].insert(place(self.rows[sheet], row) + 1, new)
        self.planted.append((sheet, new, "", severity, finding))

    def append(self, sheet: str, row: Row, severity: str, finding: str) -> None:
        """Put in a last row, and note what the reader should say of it."""
        self.rows[sheet].append(row)
        self.planted.append((sheet, row, "", severity, finding))

    def grid(self, sheet: str) -> list[list[Any]]:
        """Return the sheet as it is written, header and all."""
        names = self.columns[sheet]
        title = [[self.titles[sheet]]] if sheet in self.titles else []
        header = [self.headings.get(name, name) for name in names]
        return [*title, header, *([row.get(name) for name in names] for row in self.rows[sheet])]

    def findings(self) -> list[dict[str, Any]]:
        """Return what was planted, each with the address a spreadsheet shows."""
        found = []
        for sheet, row, column, severity, finding in self.planted:
            number, cell = 1, None
            if row is not None:
                number = place(self.rows[sheet], row) + 2 + (sheet in self.titles)
            if column:
                cell = f"{get_column_letter(self.columns[sheet].index(column) + 1)}{number}"
            where = {"sheet": sheet, "row": number, "column": column or None, "cell": cell}
            found.append({"log": self.name, **where, "severity": severity, "finding": finding})
        return found


def place(rows: list[Row], row: Row) -> int:
    """Return where this very row stands, though another may hold the same."""
    return next(i for i, other in enumerate(rows) if other is row)


def first(rows: list[Row], **match: Any) -> Row:
    """Return the first row that holds these values."""
    return next(row for row in rows if all(row.get(k) == v for k, v in match.items()))


def write_workbook(log: Log, path: Path) -> None:
    """Write a log as an .xlsx workbook that is the same, byte for byte, every time."""
    workbook = Workbook()
    workbook.remove(workbook.active)
    for name in log.rows:
        sheet = workbook.create_sheet(name)
        for line in log.grid(name):
            sheet.append(line)
        for cells in sheet.iter_rows():
            for cell in cells:
                if isinstance(cell.value, date):
                    cell.number_format = "DD/MM/YYYY"
        header = 2 if name in log.titles else 1
        for i, cell in enumerate(sheet[header], start=1):
            cell.font = Font(bold=True)
            sheet.column_dimensions[get_column_letter(i)].width = max(11, len(str(cell.value)) + 2)
        sheet.freeze_panes = f"A{header + 1}"
    workbook.properties.creator = log.keeper
    workbook.save(path)
    forget_when(path)


def forget_when(path: Path) -> None:
    """Put one day in place of the time at which a workbook was written."""
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    stamp = rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*"
    parts["docProps/core.xml"] = re.sub(
        stamp, rb"\g<1>2025-01-01T00:00:00Z", parts["docProps/core.xml"]
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(
                zipfile.ZipInfo(name, LONG_AGO.timetuple()[:6]), content, zipfile.ZIP_DEFLATED
            )


def write_folder(log: Log, folder: Path) -> None:
    """Write a log as a folder of CSV files, dates as 31/12/2025."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in log.rows:
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            for line in log.grid(name):
                writer.writerow([f"{v:%d/%m/%Y}" if isinstance(v, date) else v for v in line])
