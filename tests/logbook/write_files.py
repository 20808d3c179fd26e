"""Write the same small log as .xlsx, .xls, .ods and a folder of CSV files."""

from __future__ import annotations

import csv
import datetime as dt
import re
import struct
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path

import openpyxl
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from xlwt.CompoundDoc import XlsDoc

Rows = Sequence[Sequence[object]]


def write_xlsx(path: Path, sheets: Mapping[str, Rows]) -> Path:
    """Write typed cells with openpyxl."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    book.save(path)
    return path


def write_xls(path: Path, sheets: Mapping[str, Rows], *, from_1904: bool = False) -> Path:
    """Write typed cells with xlwt; a cell may be a pair of a value and a number format."""
    book = xlwt.Workbook()
    book.dates_1904 = from_1904
    styles = {code: xlwt.easyxf(num_format_str=code) for code in ("YYYY-MM-DD", "General")}
    for title, rows in sheets.items():
        sheet = book.add_sheet(title)
        for r, row in enumerate(rows):
            for c, value in enumerate(row):
                code = "YYYY-MM-DD" if isinstance(value, dt.date) else "General"
                if isinstance(value, tuple):
                    value, code = value
                if code not in styles:
                    styles[code] = xlwt.easyxf(num_format_str=code)
                if value is not None:
                    sheet.write(r, c, value, styles[code])
    book.save(str(path))
    return path


def xls_of_records(path: Path, sheet: bytes = b"", more: bytes = b"") -> Path:
    """Write an .xls with one sheet, Daily, out of the records of that sheet and of the workbook."""
    start = xls_record(0x42, struct.pack("<H", 1200))
    name, end = b"Daily", xls_record(0x0A)
    found = xls_record(0x85, struct.pack("<IBBBB", 0, 0, 0, len(name), 0) + name)
    at = len(_xls_begin(5)) + len(start) + len(found) + len(more) + len(end)
    found = xls_record(0x85, struct.pack("<IBBBB", at, 0, 0, len(name), 0) + name)
    stream = _xls_begin(5) + start + found + more + end + _xls_begin(0x10) + sheet + end
    with path.open("wb") as file:
        XlsDoc().save(file, stream)
    return path


def xls_record(kind: int, data: bytes = b"") -> bytes:
    """Write one record of an .xls: its kind, its length, its data."""
    return struct.pack("<HH", kind, len(data)) + data


def _xls_begin(what: int) -> bytes:
    return xls_record(0x809, struct.pack("<HHHHII", 0x600, what, 0x0DBB, 0x07CC, 0, 6))


def write_ods(path: Path, sheets: Mapping[str, Rows]) -> Path:
    """Write typed cells with odfpy."""
    document = OpenDocumentSpreadsheet()
    for title, rows in sheets.items():
        table = Table(name=title)
        for row in rows:
            line = TableRow()
            for value in row:
                line.addElement(_ods_cell(value))
            table.addElement(line)
        document.spreadsheet.addElement(table)
    document.save(str(path))
    return path


def _ods_cell(value: object) -> TableCell:
    if value is None:
        return TableCell()
    if isinstance(value, dt.date):
        cell = TableCell(valuetype="date", datevalue=value.isoformat())
    elif isinstance(value, (int, float)):
        cell = TableCell(valuetype="float", value=str(value))
    else:
        cell = TableCell(valuetype="string")
    for line in str(value).split("\n"):
        cell.addElement(P(text=line))
    return cell


def write_csv(
    folder: Path,
    sheets: Mapping[str, Rows],
    *,
    separator: str = ",",
    encoding: str = "utf-8",
) -> Path:
    """Write text, dates as ISO."""
    folder.mkdir(parents=True, exist_ok=True)
    for title, rows in sheets.items():
        with (folder / f"{title}.csv").open("w", encoding=encoding, newline="") as file:
            writer = csv.writer(file, delimiter=separator)
            writer.writerows([["" if v is None else str(v) for v in row] for row in rows])
    return folder


def share_strings(source: Path, target: Path) -> Path:
    """Rewrite a workbook of openpyxl the way other programs do: with shared, partly rich texts."""
    texts: list[str] = []

    def shared(match: re.Match[str]) -> str:
        texts.append(match[2])
        return f'<c r="{match[1]}" t="s"><v>{len(texts) - 1}</v></c>'

    cell = re.compile(r'<c r="([A-Z]+\d+)" t="inlineStr"><is><t[^>]*>(.*?)</t></is></c>', re.S)
    rel = (
        '<Relationship Id="rIdS" Target="sharedStrings.xml" Type="http://schemas.openxmlformats.'
        'org/officeDocument/2006/relationships/sharedStrings"/></Relationships>'
    )
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name).decode("utf-8")
            if name.startswith("xl/worksheets/"):
                data = cell.sub(shared, data)
            elif name == "xl/_rels/workbook.xml.rels":
                data = data.replace("</Relationships>", rel)
            new.writestr(name, data)
        items = "".join(
            f"<si><r><t>{text[:2]}</t></r><r><t xml:space='preserve'>{text[2:]}</t></r>"
            "<rPh sb='0' eb='1'><t>sound</t></rPh></si>"
            if n % 2 and "&" not in text
            else f"<si><t xml:space='preserve'>{text}</t></si>"
            for n, text in enumerate(texts)
        )
        space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
        new.writestr("xl/sharedStrings.xml", f'<sst xmlns="{space}">{items}</sst>')
    return target


def add_parts(source: Path, target: Path, parts: Mapping[str, bytes]) -> Path:
    """Copy a zipped file with further parts in it."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
        for name, data in parts.items():
            new.writestr(name, data)
    return target
