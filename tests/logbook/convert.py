"""Turn a workbook into the same log in another format, as a spreadsheet program would save it."""

from __future__ import annotations

import csv
from datetime import date, datetime
from pathlib import Path

from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl import load_workbook
from openpyxl.cell.cell import Cell

from tests.logbook.write_files import write_xls

Grid = list[list[object]]


def workbook_grids(path: Path) -> dict[str, Grid]:
    """Read the cells of every sheet of a workbook."""
    workbook = load_workbook(path)
    return {sheet.title: [list(row) for row in sheet.values] for sheet in workbook}


def as_ods(xlsx: Path, ods: Path) -> Path:
    """Save a workbook as .ods: numbers and dates typed, text as text."""
    document = OpenDocumentSpreadsheet()
    for name, grid in workbook_grids(xlsx).items():
        table = Table(name=name)
        for values in grid:
            row = TableRow()
            for value in values:
                row.addElement(_ods_cell(value))
            table.addElement(row)
        document.spreadsheet.addElement(table)
    document.save(str(ods))
    return ods


def _ods_cell(value: object) -> TableCell:
    if value is None:
        return TableCell()
    if isinstance(value, date):
        cell = TableCell(valuetype="date", datevalue=f"{value:%Y-%m-%d}")
        cell.addElement(P(text=f"{value:%d/%m/%Y}"))
    elif isinstance(value, int | float):
        cell = TableCell(valuetype="float", value=repr(value))
        cell.addElement(P(text=repr(value)))
    else:
        cell = TableCell(valuetype="string")
        cell.addElement(P(text=str(value)))
    return cell


def as_xls(xlsx: Path, xls: Path) -> Path:
    """Save a workbook as .xls, every cell with its number format."""
    workbook = load_workbook(xlsx)
    sheets = {
        sheet.title: [[_xls_cell(cell) for cell in row] for row in sheet.iter_rows()]
        for sheet in workbook
    }
    return write_xls(xls, sheets)


def _xls_cell(cell: Cell) -> object:
    return None if cell.value is None else (cell.value, cell.number_format)


def as_csv(
    xlsx: Path,
    folder: Path,
    *,
    delimiter: str = ",",
    encoding: str = "utf-8",
    decimal: str = ".",
    dates: str = "%Y-%m-%d",
) -> Path:
    """Save every sheet of a workbook as a CSV file in a folder.

    With ``delimiter=";", encoding="cp1252", decimal=",", dates="%d/%m/%Y"`` this is what a
    spreadsheet program set to a European language writes.
    """
    folder.mkdir()
    for name, grid in workbook_grids(xlsx).items():
        with (folder / f"{name}.csv").open("w", encoding=encoding, newline="") as file:
            writer = csv.writer(file, delimiter=delimiter)
            writer.writerows([_csv_text(v, decimal, dates) for v in row] for row in grid)
    return folder


def _csv_text(value: object, decimal: str, dates: str) -> str:
    if value is None:
        return ""
    if isinstance(value, date | datetime):
        return value.strftime(dates)
    return repr(value).replace(".", decimal) if isinstance(value, float) else str(value)
