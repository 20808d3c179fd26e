"""What is declared of the sheets holds together."""

from __future__ import annotations

import pytest

from rearkit.logbook.parse.counts import read_count
from rearkit.logbook.parse.dates import date_reading
from rearkit.logbook.parse.numbers import read_number
from rearkit.logbook.schema.declare import heading_key
from rearkit.logbook.schema.sheets import SHEET_NAMES, SHEETS, columns_of, find_sheet, sheet_named
from rearkit.logbook.schema.trial_fields import TRIAL_FIELDS

EVERY_COLUMN = [(sheet.name, column) for sheet in SHEETS for column in sheet.columns]
EVERY_COLUMN += [("Trial fields", field) for field in TRIAL_FIELDS]
IDS = [f"{sheet}-{column.name}" for sheet, column in EVERY_COLUMN]


def test_the_sheets_of_a_log():
    assert SHEET_NAMES == ("Trial", "Batches", "Daily", "Sizes", "Positions", "Events")
    assert [sheet.name for sheet in SHEETS if sheet.required] == ["Batches", "Daily"]
    assert all(sheet.columns[-1].name == "note" for sheet in SHEETS)


def test_sheets_are_found_by_other_titles():
    assert sheet_named(" daily LOG ").name == "Daily"
    assert find_sheet("shopping") is None
    with pytest.raises(KeyError, match="shopping"):
        sheet_named("shopping")
    titles = [key for sheet in SHEETS for key in sheet.keys]
    assert len(titles) == len(set(titles))


@pytest.mark.parametrize("name", [*SHEET_NAMES, "fields"])
def test_no_heading_means_two_columns(name):
    columns = TRIAL_FIELDS if name == "fields" else columns_of(name)
    headings = [key for column in columns for key in column.keys]
    assert sorted(headings) == sorted(set(headings))


def test_required_columns():
    required = {s.name: [c.name for c in s.columns if c.required] for s in SHEETS}
    assert required["Batches"] == ["batch", "started", "start_count"]
    assert required["Daily"] == ["date", "batch"]
    assert required["Positions"] == ["date", "batch", "place", "seen"]
    assert required["Events"] == ["started", "batch", "what"]


@pytest.mark.parametrize(("sheet", "column"), EVERY_COLUMN, ids=IDS)
def test_every_column_explains_itself(sheet, column):
    assert column.help[0].isupper()
    assert column.help.endswith(".")
    assert len(column.help) < 120
    assert column.example
    if column.kind == "choice":
        assert column.example in column.choices
        assert {choice for _, choice in column.choice_words} <= set(column.choices)
        assert column.otherwise is None or column.otherwise in column.choices
    if column.kind == "number":
        assert read_number(column.example, column.unit).kind == "plain"
        assert column.unit or column.name == "looks_planned"
    if column.kind == "count":
        assert read_count(column.example).count is not None
    if column.kind == "date":
        assert date_reading(column.example).kind == "date"


@pytest.mark.parametrize(
    "heading", ["start_count", "Start Count", " START-COUNT", "start count (n)"]
)
def test_headings_are_matched_without_case_spaces_or_underscores(heading):
    assert sheet_named("Batches").column(heading).name == "start_count"


def test_an_unknown_heading():
    assert sheet_named("Batches").find("moon") is None
    assert sheet_named("Batches").find("") is None
    assert sheet_named("Batches").find("(mm)") is None
    with pytest.raises(KeyError, match="moon"):
        sheet_named("Batches").column("moon")


def test_letters_of_every_alphabet_count_in_headings():
    assert heading_key("Größe (mm)") == "grössemm"
