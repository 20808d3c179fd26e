"""The blank log: made from the declarations, safe to fill in, never written over another."""

from __future__ import annotations

import csv

import pytest
from openpyxl import load_workbook

from rearkit.errors import RearkitError, SettingError
from rearkit.logbook.blank.dictionary import dictionary_text, write_dictionary
from rearkit.logbook.blank.workbook import csv_safe, looks_like_formula, write_blank
from rearkit.logbook.schema.sheets import SHEET_NAMES, SHEETS
from rearkit.logbook.schema.trial_fields import TRIAL_FIELDS

BELOW_TRIAL = [sheet for sheet in SHEETS if sheet.name != "Trial"]


@pytest.fixture(scope="module")
def blank(tmp_path_factory):
    return load_workbook(write_blank(tmp_path_factory.mktemp("blank") / "log.xlsx"))


def test_first_page_says_how_to_and_the_sheets_follow(blank):
    assert blank.sheetnames == ["How to", *SHEET_NAMES]
    words = " ".join(str(row[0]) for row in blank["How to"].values if row[0])
    for needed in ("write 0", "veterinarian", "rules where you live", "2025-04-03", "draw"):
        assert needed in words


@pytest.mark.parametrize("sheet", BELOW_TRIAL, ids=lambda sheet: sheet.name)
def test_headings_are_the_declared_names_and_carry_their_help(blank, sheet):
    headings = blank[sheet.name][1]
    assert [cell.value for cell in headings] == [column.name for column in sheet.columns]
    for cell, column in zip(headings, sheet.columns, strict=True):
        assert column.help in cell.comment.text
        assert column.unit in cell.comment.text or column.unit == "fish"
        assert (cell.font.color.rgb == "00FFFFFF") == column.required
    assert blank[sheet.name].max_row == 1
    assert blank[sheet.name].freeze_panes in ("A2", "C2")


@pytest.mark.parametrize("sheet", BELOW_TRIAL, ids=lambda sheet: sheet.name)
def test_cells_keep_counts_as_text_and_dates_as_dates(blank, sheet):
    formats = {"count": "@", "text": "@", "choice": "@", "date": "yyyy-mm-dd", "number": "General"}
    for cell, column in zip(blank[sheet.name][1], sheet.columns, strict=True):
        below = blank[sheet.name].column_dimensions[cell.column_letter]
        assert below.number_format == formats[column.kind], column.name


@pytest.mark.parametrize("sheet", BELOW_TRIAL, ids=lambda sheet: sheet.name)
def test_choices_are_offered_as_lists(blank, sheet):
    checks = blank[sheet.name].data_validations.dataValidation
    by_column = {str(check.sqref).split("2:")[0]: check for check in checks}
    for cell, column in zip(blank[sheet.name][1], sheet.columns, strict=True):
        if column.choices:
            check = by_column[cell.column_letter]
            assert check.formula1 == f'"{",".join(column.choices)}"'
            assert check.errorStyle == "warning"


def test_daily_offers_the_batches_and_still_lets_all_be_written(blank):
    checks = {str(c.sqref): c for c in blank["Daily"].data_validations.dataValidation}
    assert checks["B2:B3000"].formula1 == "Batches!$A$2:$A$3000"
    assert checks["B2:B3000"].showErrorMessage is False


def test_trial_has_a_line_for_every_field(blank):
    rows = list(blank["Trial"].values)
    assert rows[0] == ("field", "value", "what to write")
    assert [(row[0], row[1]) for row in rows[1:]] == [(field.name, None) for field in TRIAL_FIELDS]
    for row, field in zip(rows[1:], TRIAL_FIELDS, strict=True):
        assert row[2].startswith(field.help)
        assert field.example in row[2]


def test_sheets_print_on_the_width_of_a_page_with_their_headings(blank):
    for sheet in BELOW_TRIAL:
        page = blank[sheet.name]
        assert page.page_setup.orientation == "landscape"
        assert page.sheet_properties.pageSetUpPr.fitToPage
        assert (page.page_setup.fitToWidth, page.page_setup.fitToHeight) == (1, 0)
        assert page.print_title_rows == "$1:$1"


def test_batches_and_trial_can_be_filled_in(tmp_path):
    batches = [{"batch": "K1-a", "method": "shaded", "lamp": "red"}, {"batch": "K1-b", "litres": 8}]
    path = write_blank(tmp_path / "plan.xlsx", batches=batches, trial={"usual": "open"})
    book = load_workbook(path)
    header, first, second = book["Batches"].values
    assert header[-1] == "lamp"
    assert dict(zip(header, first, strict=True)) == dict.fromkeys(header) | batches[0]
    assert dict(zip(header, second, strict=True)) == dict.fromkeys(header) | batches[1]
    assert {row[0]: row[1] for row in book["Trial"].values if row[1]} == {
        "field": "value",
        "usual": "open",
    }
    assert book["Batches"]["N2"].number_format == "@"
    assert book["Batches"]["N1"].value == "start_count"


def test_text_that_begins_like_a_formula_stays_text(tmp_path):
    batches = [{"batch": "=HYPERLINK(1)", "=own": "@x"}]
    book = load_workbook(write_blank(tmp_path / "log.xlsx", batches=batches))
    cell = book["Batches"]["A2"]
    assert (cell.value, cell.data_type, cell.quotePrefix) == ("=HYPERLINK(1)", "s", True)
    assert book["Batches"].cell(1, book["Batches"].max_column).data_type == "s"
    folder = write_blank(tmp_path / "log", batches=batches)
    with (folder / "Batches.csv").open(encoding="utf-8", newline="") as file:
        header, row = csv.reader(file)
    assert (header[-1], row[0], row[-1]) == ("'=own", "'=HYPERLINK(1)", "'@x")


def test_folder_holds_one_file_a_sheet_and_how_to(tmp_path):
    folder = write_blank(tmp_path / "log")
    names = {f"{name}.csv" for name in SHEET_NAMES}
    assert {file.name for file in folder.iterdir()} == names | {"how_to.txt"}
    for sheet in BELOW_TRIAL:
        text = (folder / f"{sheet.name}.csv").read_text(encoding="utf-8")
        assert text == ",".join(column.name for column in sheet.columns) + "\n"
    assert "write 0" in (folder / "how_to.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["log.xlsx", "log"])
def test_nothing_is_overwritten(tmp_path, name):
    path = write_blank(tmp_path / name)
    before = path.read_bytes() if path.is_file() else sorted(path.iterdir())
    with pytest.raises(RearkitError, match=r"already something called 'log.*never overwritten"):
        write_blank(path)
    assert (path.read_bytes() if path.is_file() else sorted(path.iterdir())) == before


def test_other_endings_and_unknown_fields_are_refused(tmp_path):
    with pytest.raises(SettingError, match=r"cannot be written as '\.ods'"):
        write_blank(tmp_path / "log.ods")
    with pytest.raises(SettingError, match=r"no field 'colour'"):
        write_blank(tmp_path / "log.xlsx", trial={"colour": "red"})
    assert list(tmp_path.iterdir()) == []


def test_dictionary_names_every_column_with_choices_unit_and_example(tmp_path):
    text = write_dictionary(tmp_path / "columns.md").read_text(encoding="utf-8")
    assert text == dictionary_text()
    lines = text.splitlines()
    for sheet in SHEETS:
        start = next(i for i, line in enumerate(lines) if line.startswith(f"## {sheet.name} ("))
        end = next((i for i in range(start + 1, len(lines)) if lines[i].startswith("## ")), None)
        for column in TRIAL_FIELDS if sheet.name == "Trial" else sheet.columns:
            star = " *" if column.required else ""
            (line,) = [x for x in lines[start:end] if x.startswith(f"| `{column.name}`{star} |")]
            for part in (column.help, column.unit, column.example, *column.choices):
                assert part in line
            assert line.count("|") == 7


def test_dictionary_shows_counts_as_they_are_read():
    text = dictionary_text()
    for line in (
        "| `30-36` | 30 | 33 | 36 |  |",
        "| `~40` | 36 | 40 | 44 |  |",
        "| `40+` | 40 | 40 | open |  |",
        "| `2 doz` | 24 | 24 | 24 | yes |",
        "| `none` | 0 | 0 | 0 |  |",
        "| `-` | not known | not known | not known |  |",
    ):
        assert line in text
    for severity in ("STOP", "ASK", "FIX", "NOTE"):
        assert f"| {severity} |" in text


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-x", "@SUM", "\t=1", "  =1"])
def test_formula_like_text_is_marked(text):
    assert looks_like_formula(text)
    assert csv_safe(text) == f"'{text}"


@pytest.mark.parametrize("value", ["K1-a", "-", "-2", "+3.5", "~40", "", 5, -5, None])
def test_plain_values_are_left_alone(value):
    assert not looks_like_formula(value)
    assert csv_safe(value) is value
