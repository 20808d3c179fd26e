"""The test helper that saves a log in another format keeps every cell."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest
from odf.opendocument import load
from odf.table import Table, TableCell, TableRow
from openpyxl import Workbook

from tests.logbook.convert import as_csv, as_ods

CELLS = [["when", "n", "who"], [date(2025, 3, 4), 2.5, " 30-36"], [None, 3, "Ä=1"]]


@pytest.fixture
def xlsx(tmp_path) -> Path:
    book = Workbook()
    book.active.title = "Daily"
    for row in CELLS:
        book.active.append(row)
    book.save(tmp_path / "log.xlsx")
    return tmp_path / "log.xlsx"


def test_ods_keeps_types(xlsx, tmp_path):
    document = load(str(as_ods(xlsx, tmp_path / "log.ods")))
    (table,) = document.getElementsByType(Table)
    rows = table.getElementsByType(TableRow)
    cells = [
        [(c.getAttribute("valuetype"), str(c)) for c in row.getElementsByType(TableCell)]
        for row in rows
    ]
    assert table.getAttribute("name") == "Daily"
    assert cells[1] == [("date", "04/03/2025"), ("float", "2.5"), ("string", " 30-36")]
    assert cells[2] == [(None, ""), ("float", "3"), ("string", "Ä=1")]
    assert rows[1].getElementsByType(TableCell)[0].getAttribute("datevalue") == "2025-03-04"


def test_csv_in_two_dialects(xlsx, tmp_path):
    plain = as_csv(xlsx, tmp_path / "plain") / "Daily.csv"
    with plain.open(encoding="utf-8", newline="") as file:
        assert list(csv.reader(file))[1:] == [["2025-03-04", "2.5", " 30-36"], ["", "3", "Ä=1"]]
    european = {"delimiter": ";", "encoding": "cp1252", "decimal": ",", "dates": "%d/%m/%Y"}
    other = as_csv(xlsx, tmp_path / "other", **european) / "Daily.csv"
    assert other.read_bytes().splitlines()[1:] == [b"04/03/2025;2,5; 30-36", b";3;\xc4=1"]
