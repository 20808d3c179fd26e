"""Cells of old .xls files, written with xlwt."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pandas as pd
import pytest
import xlwt

from rearkit import read_log
from rearkit.errors import LogUnreadable
from rearkit.logbook.files.cells import read_cells
from rearkit.logbook.files.xls import MOST_XLS_BYTES
from tests.logbook.convert import as_xls
from tests.logbook.logs import clean, codes, day, frames_of, read, said
from tests.logbook.write_files import write_xls, xls_of_records, xls_record

TEMPLATES = Path(__file__).resolve().parents[3] / "data_templates"
FRAMES = ("batches", "daily", "sizes", "positions", "events", "account", "fates", "rows")


@pytest.mark.parametrize("name", ["demo_shade_trial", "demo_parents_or_hand"])
def test_a_demo_log_saved_as_xls_is_the_same_log(tmp_path, name):
    log = read_log(TEMPLATES / f"{name}.xlsx")
    found = read_log(as_xls(TEMPLATES / f"{name}.xlsx", tmp_path / f"{name}.xls"))
    for frame in (*FRAMES, "findings"):
        pd.testing.assert_frame_equal(getattr(found, frame), getattr(log, frame))
    assert dict(found.trial) == dict(log.trial)


def cell_of(tmp_path, value, code="General", **how):
    made = write_xls(tmp_path / "log.xls", {"Daily": [[(value, code)]]}, **how)
    return read_cells(made)["Daily"].rows.get(1, {}).get(1)


@pytest.mark.parametrize(
    ("value", "code", "text", "kind"),
    [
        (25.5, "0.0", "25.5", "number"),
        (3, "General", "3", "number"),
        (0.2, "0%", "20%", "percent"),
        (dt.date(2025, 4, 3), "d. mmm yyyy", "2025-04-03", "date"),
        (dt.datetime(2025, 4, 3, 18, 30), "dd/mm/yyyy hh:mm", "2025-04-03 18:30", "date"),
        (dt.date(1940, 10, 1), "mmm-yy", "1940-10", "date"),
        (dt.time(18, 30), "hh:mm", "18:30", "time"),
        (3, "dd/mm/yyyy", "3", "number"),
        (True, "General", "TRUE", "flag"),
        (" 30-36", "@", " 30-36", "text"),
        ("#DIV/0!", "@", "#DIV/0!", "error"),
    ],
)
def test_kinds_of_cells(tmp_path, value, code, text, kind):
    found = cell_of(tmp_path, value, code)
    assert (found.text, found.kind) == (text, kind)


@pytest.mark.parametrize("value", ["", "  "])
def test_a_cell_of_spaces_is_no_cell(tmp_path, value):
    assert cell_of(tmp_path, value) is None


def test_days_counted_from_1904(tmp_path):
    found = cell_of(tmp_path, dt.date(2025, 4, 3), "YYYY-MM-DD", from_1904=True)
    assert found.value == dt.datetime(2025, 4, 3)
    sheets = clean()
    sheets["Daily"][3][0] = (dt.date(2025, 4, 2) - dt.date(1904, 1, 1)).days
    frames = read(write_xls(tmp_path / "log.xls", sheets, from_1904=True))
    pd.testing.assert_frame_equal(frames.daily, frames_of(clean()).daily)
    assert "1904" in said(frames, "day-number")[0].seen


@pytest.fixture
def book():
    """A clean log in a workbook whose cells may be written over."""
    made = xlwt.Workbook()
    date = xlwt.easyxf(num_format_str="YYYY-MM-DD")
    for title, rows in clean().items():
        sheet = made.add_sheet(title, cell_overwrite_ok=True)
        for r, row in enumerate(rows):
            for c, value in enumerate(row):
                if value is not None:
                    sheet.write(r, c, value, date if isinstance(value, dt.date) else xlwt.XFStyle())
    return made


def saved(book, tmp_path):
    book.save(str(tmp_path / "log.xls"))
    return read(tmp_path / "log.xls")


def test_the_error_of_a_formula_is_no_blank(book, tmp_path):
    book.get_sheet("Daily").row(3).set_cell_error(2, "#DIV/0!")
    (found,) = said(saved(book, tmp_path), "formula-error")
    assert (found.cell, "#DIV/0!" in found.seen) == ("C4", True)


def test_merged_cells_count_for_every_row(book, tmp_path):
    book.get_sheet("Daily").write_merge(3, 4, 0, 0, day(4, 2), xlwt.easyxf(num_format_str="D-M-Y"))
    frames = saved(book, tmp_path)
    pd.testing.assert_frame_equal(frames.daily, frames_of(clean()).daily)
    assert said(frames, "merged")[0].cell == "A4"


@pytest.mark.parametrize("style", ["pattern: pattern solid, fore_colour red", "font: colour red"])
def test_colours_are_told(book, tmp_path, style):
    assert "colours" not in codes(saved(book, tmp_path))
    book.get_sheet("Daily").write(4, 2, 1, xlwt.easyxf(style))
    (found,) = said(saved(book, tmp_path), "colours")
    assert (found.severity, found.row) == ("NOTE", 5)


def test_other_sheets_are_not_read_and_macros_are_told(book, tmp_path):
    book.add_sheet("Shopping").write(0, 0, "shrimp")
    frames = saved(book, tmp_path)
    assert {"other-sheet"} == codes(frames) - {"count-range"}
    with (tmp_path / "log.xls").open("ab") as file:
        file.write("_VBA_PROJECT_CUR".encode("utf-16-le"))
    assert read_cells(tmp_path / "log.xls")["Shopping"].skipped
    assert "macros" in codes(read(tmp_path / "log.xls"), "NOTE")


# ---- broken files -------------------------------------------------------------------------------


@pytest.fixture
def data(book, tmp_path):
    book.save(str(tmp_path / "whole.xls"))
    return (tmp_path / "whole.xls").read_bytes()


def refused(tmp_path, data, words):
    (tmp_path / "log.xls").write_bytes(data)
    with pytest.raises(LogUnreadable, match=words) as error:
        read_cells(tmp_path / "log.xls")
    assert error.value.where == "log.xls"
    assert error.value.todo


@pytest.mark.parametrize("share", [0.02, 0.3, 0.7])
def test_a_truncated_file(tmp_path, data, share):
    refused(tmp_path, data[: int(len(data) * share)], "damaged or was cut short")


def test_flipped_bytes_never_end_in_a_traceback(tmp_path, data):
    n_read = 0
    for start in range(0, len(data), len(data) // 60):
        bad = bytearray(data)
        for at in range(start, min(start + 12, len(data))):
            bad[at] ^= 0x5A
        (tmp_path / "bad.xls").write_bytes(bytes(bad))
        try:
            frames = read(tmp_path / "bad.xls")
        except LogUnreadable:
            continue  # said in plain words
        assert frames.batches["batch"].is_unique
        n_read += 1
    assert n_read > 0


def test_a_password(tmp_path):
    locked = xls_of_records(tmp_path / "locked.xls", more=xls_record(0x2F, b"\x01" * 54))
    refused(tmp_path, locked.read_bytes(), "protected by a password")


def test_another_old_office_file(tmp_path, data):
    old, new = ("".join(word).encode("utf-16-le") for word in ("Workbook", "Document"))
    refused(tmp_path, data.replace(old, new), "an old office file, but no workbook")


def test_a_file_too_large_to_be_a_log(tmp_path, data):
    refused(tmp_path, data + b"\x00" * MOST_XLS_BYTES, r"\.xls file is larger than 4 MB")
