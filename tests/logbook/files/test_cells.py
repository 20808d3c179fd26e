"""One log as .xlsx, .xls, .ods and CSV, in any encoding and with any separator."""

from __future__ import annotations

import datetime as dt

import numpy as np
import openpyxl
import pandas as pd
import pytest

from rearkit.logbook.files.cells import read_cells
from tests.logbook.logs import clean, codes, day, frames_of, read, said
from tests.logbook.write_files import share_strings, write_csv, write_ods, write_xls, write_xlsx

SHEETS = ("batches", "daily", "sizes", "positions", "events")


def assert_equal_frames(a, b):
    for name in SHEETS:
        pd.testing.assert_frame_equal(getattr(a, name), getattr(b, name))
    assert a.trial == b.trial
    pd.testing.assert_frame_equal(a.rows, b.rows)


def test_the_same_log_from_every_kind_of_file(tmp_path):
    sheets = clean()
    expected = frames_of(sheets)
    assert len(expected.daily) == 7
    for made in (
        write_xlsx(tmp_path / "log.xlsx", sheets),
        share_strings(tmp_path / "log.xlsx", tmp_path / "shared.xlsx"),
        write_xls(tmp_path / "log.xls", sheets),
        write_ods(tmp_path / "log.ods", sheets),
        write_csv(tmp_path / "log", sheets),
    ):
        found = read(made)
        assert_equal_frames(found, expected)
        assert codes(found) == codes(expected) == {"count-range"}


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_separators_and_encodings_do_not_matter(tmp_path, separator, encoding):
    sheets = clean()
    sheets["Daily"][1][8] = "Ärger; ½ dose, “odd” – café"
    sheets["Trial"].append(["keeper", "Jürgen, at the café"])
    expected = frames_of(sheets)
    made = write_csv(tmp_path / "log", sheets, separator=separator, encoding=encoding)
    assert_equal_frames(read(made), expected)


def test_a_file_is_known_by_its_content_not_its_name(tmp_path):
    sheets = clean()
    made = write_ods(tmp_path / "log.ods", sheets)
    made = made.rename(tmp_path / "log.xlsx")
    assert_equal_frames(read(made), frames_of(sheets))


def test_excels_own_separator_line_is_skipped(tmp_path):
    folder = write_csv(tmp_path / "log", clean(), separator=";")
    file = folder / "Daily.csv"
    file.write_text("sep=;\n" + file.read_text(encoding="utf-8"), encoding="utf-8")
    frames = read(folder)
    assert list(frames.daily["sheet_row"]) == [3, 4, 5, 6, 7, 8, 9]
    assert "title-lines" not in codes(frames)


def test_decimal_commas_in_a_semicolon_file(tmp_path):
    sheets = clean()
    for row in sheets["Daily"][1:]:
        row[6] = None if row[6] is None else str(row[6]).replace(".", ",")
    frames = read(write_csv(tmp_path / "log", sheets, separator=";"))
    pd.testing.assert_frame_equal(frames.daily, frames_of(clean()).daily)
    (found,) = said(frames, "decimal-comma")
    assert (found.severity, found.sheet, found.column) == ("FIX", "Daily", "temp_c")
    assert found.cell == "G2"
    assert "row" in found.seen


def styled_book(tmp_path, **cells):
    """A clean log with cells of the Daily sheet set as (value, number format)."""
    path = write_xlsx(tmp_path / "log.xlsx", clean())
    book = openpyxl.load_workbook(path)
    for address, (value, number_format) in cells.items():
        book["Daily"][address].value = value
        book["Daily"][address].number_format = number_format
    book.save(path)
    return path


@pytest.mark.parametrize("number_format", ["d. mmm", "d-mmm", "dd/mm/yyyy", "[$-407]d. mmm yy;@"])
def test_a_count_that_became_a_date(tmp_path, number_format):
    path = styled_book(tmp_path, C4=(dt.date(2026, 12, 10), number_format))
    frames = read(path)
    row = frames.daily.loc[frames.daily["sheet_row"] == 4].iloc[0]
    assert (row["dead_low"], row["dead_best"], row["dead_high"]) == (10, 11, 12)
    assert row["dead_text"] == "10-12"
    (found,) = said(frames, "count-became-date")
    assert (found.severity, found.cell, found.row) == ("ASK", "C4", 4)
    assert "10 to 12" in found.done


def test_a_count_that_became_a_month_and_a_year(tmp_path):
    path = styled_book(tmp_path, F8=(dt.date(1940, 10, 1), "mmm-yy"))
    frames = read(path)
    row = frames.daily.loc[frames.daily["sheet_row"] == 8].iloc[0]
    assert (row["alive_low"], row["alive_high"]) == (10, 40)


def test_a_small_number_shown_as_a_date_is_that_number(tmp_path):
    path = styled_book(tmp_path, C4=(3, "dd/mm/yyyy"))
    frames = read(path)
    assert frames.daily.loc[frames.daily["sheet_row"] == 4, "dead_best"].item() == 3


@pytest.mark.parametrize("text", ["10-Dec", "10. Dez", "2026-12-10", "46366"])
def test_a_count_that_became_a_date_in_csv(tmp_path, text):
    sheets = clean()
    sheets["Daily"][3][2] = text
    frames = read(write_csv(tmp_path / "log", sheets))
    row = frames.daily.loc[frames.daily["sheet_row"] == 4].iloc[0]
    assert (row["dead_low"], row["dead_high"]) == (10, 12)
    assert len(said(frames, "count-became-date")) == 1


def test_percent_cells(tmp_path):
    sheets = clean()
    sheets["Daily"][0].append("water_changed_percent")
    path = write_xlsx(tmp_path / "log.xlsx", sheets)
    book = openpyxl.load_workbook(path)
    book["Daily"]["J2"].value = 0.2
    book["Daily"]["J2"].number_format = "0%"
    book.save(path)
    frames = read(path)
    assert frames.daily["water_changed_percent"].iloc[0] == 20
    assert "percent-as-fraction" not in codes(frames)


def test_times_of_day(tmp_path):
    sheets = clean()
    expected = frames_of(sheets).positions
    path = write_xlsx(tmp_path / "log.xlsx", sheets)
    book = openpyxl.load_workbook(path)
    for address in ("B2", "B3"):
        book["Positions"][address].value = dt.time(18, 30)
    book.save(path)
    pd.testing.assert_frame_equal(read(path).positions, expected)
    sheets["Positions"][1][1] = "18:30:00"
    pd.testing.assert_frame_equal(frames_of(sheets).positions, expected)


def test_days_counted_from_1904(tmp_path):
    path = write_xlsx(tmp_path / "log.xlsx", clean())
    book = openpyxl.load_workbook(path)
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    days = (dt.date(2025, 4, 2) - dt.date(1904, 1, 1)).days
    book["Daily"]["A4"].value = days
    book["Daily"]["A4"].number_format = "General"
    book.save(path)
    frames = read(path)
    pd.testing.assert_frame_equal(frames.daily, frames_of(clean()).daily)
    (found,) = said(frames, "day-number")
    assert (found.severity, found.cell) == ("FIX", "A4")
    assert "1904" in found.seen


def test_formulas_are_read_by_their_stored_value(tmp_path):
    path = styled_book(tmp_path, C4=("=1+1", "General"))
    frames = read(path)  # openpyxl stores no value
    assert np.isnan(frames.daily.loc[frames.daily["sheet_row"] == 4, "dead_best"].item())
    (found,) = said(frames, "formula-no-value")
    assert (found.severity, found.cell) == ("NOTE", "C4")


def test_merged_cells_count_for_every_row(tmp_path):
    path = write_xlsx(tmp_path / "log.xlsx", clean())
    book = openpyxl.load_workbook(path)
    book["Daily"].merge_cells("A4:A5")
    book.save(path)
    frames = read(path)
    pd.testing.assert_frame_equal(frames.daily, frames_of(clean()).daily)
    (found,) = said(frames, "merged")
    assert (found.severity, found.cell) == ("FIX", "A4")
    daily = frames.rows.set_index("sheet").loc["Daily"]
    assert daily["n_repaired"] == 2


def test_colours_are_told(tmp_path):
    path = write_xlsx(tmp_path / "log.xlsx", clean())
    book = openpyxl.load_workbook(path)
    fill = openpyxl.styles.PatternFill("solid", fgColor="FFFF0000")
    for cell in book["Daily"][1]:
        cell.fill = fill  # a coloured header means nothing
    book.save(path)
    assert "colours" not in codes(read(path))
    book["Daily"]["C5"].fill = fill
    book.save(path)
    (found,) = said(read(path), "colours")
    assert (found.severity, found.sheet, found.row) == ("NOTE", "Daily", 5)


def test_names_of_sheets_and_headings_may_vary(tmp_path):
    sheets = clean()
    sheets = {" daily_LOG ": sheets["Daily"], "BATCHES": sheets["Batches"]}
    sheets["BATCHES"][0][7] = "Start Count"
    sheets["BATCHES"][0][4] = "Volume (L)"
    sheets[" daily_LOG "][0][6] = "Temp (°C)"
    frames = read(write_xlsx(tmp_path / "log.xlsx", sheets))
    expected = frames_of(clean())
    pd.testing.assert_frame_equal(frames.daily, expected.daily)
    pd.testing.assert_frame_equal(frames.batches, expected.batches)


def test_other_sheets_are_not_read(tmp_path):
    sheets = clean() | {"Shopping": [["shrimp eggs", 2]]}
    path = write_xlsx(tmp_path / "log.xlsx", sheets)
    assert read_cells(path)["Shopping"].skipped
    (found,) = said(read(path), "other-sheet")
    assert (found.severity, "Shopping" in found.seen) == ("NOTE", True)


def test_twenty_thousand_rows_read_in_seconds(tmp_path):
    rows = [["date", "batch", "dead", "temp_c", "alive", "note"]]
    rows += [
        [day(4, 1) + dt.timedelta(days=i // 40), f"K{i % 40}", i % 3, 25 + i % 7 / 10, "~30", None]
        for i in range(20_000)
    ]
    batches = [["batch", "started", "start_count"]]
    batches += [[f"K{i}", day(4, 1), "1000"] for i in range(40)]
    folder = write_csv(tmp_path / "log", {"Batches": batches, "Daily": rows})
    frames = read(folder)
    assert len(frames.daily) == 20_000
    assert frames.rows["n_used"].tolist() == [40, 20_000]
