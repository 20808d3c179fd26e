"""The templates and demo logs: what is shipped is what the scripts write, and it holds together."""

from __future__ import annotations

import csv
import importlib
import itertools
import json
import os
import shutil
import subprocess
import sys
from collections import defaultdict
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from openpyxl import load_workbook

from rearkit.logbook.blank.dictionary import dictionary_text
from rearkit.logbook.blank.workbook import write_blank
from rearkit.logbook.parse.counts import read_count
from rearkit.logbook.schema.sheets import sheet_named
from rearkit.logbook.schema.trial_fields import TRIAL_FIELDS

ROOT = Path(__file__).resolve().parent.parent
TEMPLATES = ROOT / "data_templates"
PLANTED = json.loads((ROOT / "tests/reference/demo_findings.json").read_text(encoding="utf-8"))
WORKBOOKS = ("demo_shade_trial.xlsx", "demo_parents_or_hand.xlsx")
DEMOS = (*WORKBOOKS, "demo_two_batches")


@pytest.fixture(scope="module")
def maker():
    sys.path.insert(0, str(TEMPLATES))
    try:
        yield importlib.import_module("make_demo_logs")
    finally:
        sys.path.remove(str(TEMPLATES))


@lru_cache(maxsize=8)
def grids(path):
    """Return the raw cells of every sheet, as lists of rows."""
    if path.is_dir():
        found = {}
        for file in sorted(path.glob("*.csv")):
            with file.open(encoding="utf-8", newline="") as lines:
                found[file.stem] = list(csv.reader(lines))
        return found
    return {sheet.title: [list(row) for row in sheet.values] for sheet in load_workbook(path)}


def records(path, sheet):
    """Return the rows of a sheet as dicts by declared name, with the name of the batch joined."""
    grid = grids(path)[sheet]
    declared = sheet_named(sheet)
    at = next(i for i, row in enumerate(grid) if sum(bool(cell) for cell in row) > 2)
    names = [c.name if (c := declared.find(str(h))) else h for h in grid[at]]
    rows = [dict(zip(names, row, strict=True)) for row in grid[at + 1 :]]
    rows = [row | {"batch": str(row["batch"] or "").strip().upper()} for row in rows]
    return [row for row in rows if row["batch"]]


def middle(written):
    """Return the best value of a count, 0 where there is none."""
    if isinstance(written, date):  # a count that the spreadsheet made a date
        return float(written.day)
    count = read_count("" if written is None else str(written)).count
    return count.best if count else 0.0


def by_batch(path):
    """Return the Daily rows of every batch of Batches."""
    rows = defaultdict(list)
    for row in records(path, "Daily"):
        rows[row["batch"]].append(row)
    return rows


# ---- shipped = regenerated ------------------------------------------------------------------


def workbook_content(path):
    """Return all that a keeper meets in a workbook: values, formats, comments, lists, widths."""
    content = {}
    for sheet in load_workbook(path):
        cells = {
            cell.coordinate: (cell.value, cell.data_type, cell.number_format, str(cell.comment))
            for row in sheet.iter_rows()
            for cell in row
        }
        widths = {k: (d.width, d.number_format) for k, d in sheet.column_dimensions.items()}
        checks = sheet.data_validations.dataValidation
        lists = sorted((str(c.sqref), c.type, c.formula1, c.errorStyle) for c in checks)
        content[sheet.title] = (cells, widths, lists, sheet.freeze_panes, sheet.print_title_rows)
    return content


def test_blank_workbook_is_the_one_the_declarations_make(tmp_path):
    fresh = write_blank(tmp_path / "log.xlsx")
    assert workbook_content(TEMPLATES / "rearing_log.xlsx") == workbook_content(fresh)


def test_blank_folder_is_the_one_the_declarations_make(tmp_path):
    fresh = {f.name: f.read_bytes() for f in write_blank(tmp_path / "log").iterdir()}
    shipped = {f.name: f.read_bytes() for f in (TEMPLATES / "rearing_log_csv").iterdir()}
    assert shipped == fresh


def test_dictionary_is_in_step_with_the_declarations():
    assert (TEMPLATES / "columns.md").read_text(encoding="utf-8") == dictionary_text()


@pytest.fixture
def copied(tmp_path):
    """A copy of the package and the templates, and its one command for the blank logs."""
    for name in ("rearkit", "data_templates"):
        skip = shutil.ignore_patterns("__pycache__", "demo_*.xlsx", "demo_two_batches")
        shutil.copytree(ROOT / name, tmp_path / name, ignore=skip)

    def command():
        subprocess.run(
            [sys.executable, "data_templates/make_blank_logs.py"],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(tmp_path)},
            check=True,
        )

    return tmp_path, command


BLANK = ("rearing_log.xlsx", "rearing_log_csv/Daily.csv", "columns.md")


def test_the_command_changes_nothing_where_no_column_has_changed(copied):
    folder, command = copied
    command()
    for name in BLANK:
        assert (folder / "data_templates" / name).read_bytes() == (TEMPLATES / name).read_bytes()


def test_the_command_puts_a_column_that_was_declared_everywhere(copied):
    folder, command = copied
    declared = folder / "rearkit/logbook/schema/visits.py"
    text = declared.read_text(encoding="utf-8")
    column = 'Column(name="lid", kind="text", help="Was the lid on?", example="on")'
    head = "DAILY: tuple[Column, ...] = (\n    DATE,\n"
    assert head in text
    declared.write_text(text.replace(head, f"{head}    {column},\n"), encoding="utf-8")
    command()
    made = folder / "data_templates"
    assert grids(made / "rearing_log.xlsx")["Daily"][0][:3] == ["date", "lid", "batch"]
    assert grids(made / "rearing_log_csv")["Daily"][0][:3] == ["date", "lid", "batch"]
    assert "| `lid` | Was the lid on? |" in (made / "columns.md").read_text(encoding="utf-8")


def test_demo_logs_and_the_list_of_what_was_planted_can_be_made_again(maker, tmp_path):
    assert maker.write_logs(tmp_path) == PLANTED
    for name in DEMOS:
        assert grids(TEMPLATES / name) == grids(tmp_path / name), name


def test_demo_workbooks_are_the_same_file_every_time(maker, tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    maker.write_logs(tmp_path / "a")
    maker.write_logs(tmp_path / "b")
    for name in WORKBOOKS:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


# ---- the demo logs hold together ------------------------------------------------------------


@pytest.mark.parametrize("name", DEMOS)
def test_headings_and_trial_fields_are_declared(name):
    for sheet, grid in grids(TEMPLATES / name).items():
        header = next(row for row in grid if sum(bool(cell) for cell in row) > 1)
        unknown = [h for h in header if sheet_named(sheet).find(str(h)) is None]
        assert unknown == (["weather"] if (name, sheet) == (DEMOS[2], "Daily") else []), sheet
    fields = [row[0] for row in grids(TEMPLATES / name)["Trial"][1:]]
    assert set(fields) <= {field.name for field in TRIAL_FIELDS}


@pytest.mark.parametrize("name", DEMOS)
def test_choices_are_among_the_declared_ones(name):
    for sheet in ("Batches", "Daily", "Events", "Sizes"):
        columns = [c for c in sheet_named(sheet).columns if c.choices]
        for row in records(TEMPLATES / name, sheet):
            for column in columns:
                assert (row.get(column.name) or "") in ("", *column.choices)


@pytest.mark.parametrize("name", DEMOS)
def test_every_batch_adds_up(name):
    daily = by_batch(TEMPLATES / name)
    batches = records(TEMPLATES / name, "Batches")
    for batch in batches:
        rows = daily[batch["batch"]]
        assert len(rows) > 5, batch["batch"]
        gone = sum(middle(row["dead"]) + middle(row["removed"]) for row in rows)
        added = sum(middle(row.get("added")) for row in rows)
        start = read_count(str(batch["start_count"])).count
        if start is None:
            assert batch["start_count"] == "unknown"
            continue
        assert float(batch["end_count"]).is_integer()
        assert start.high + added >= gone + float(batch["end_count"]), batch["batch"]
        assert middle(rows[-1]["alive"]) == float(batch["end_count"])
    assert len(batches) == {DEMOS[0]: 12, DEMOS[1]: 10, DEMOS[2]: 2}[name]


@pytest.mark.parametrize("name", WORKBOOKS)
def test_demo_workbooks_are_small_and_name_nobody(name):
    assert (TEMPLATES / name).stat().st_size < 60_000
    properties = load_workbook(TEMPLATES / name).properties
    assert properties.creator == "Quillmere Fish Circle (an invented club)"
    assert properties.lastModifiedBy is None
    assert properties.modified == datetime(2025, 1, 1)


LOOKS = {
    "words in a count": lambda v: v == "2 dead?",
    "a word for nought": lambda v: v == "none",
    "a name with other letters and a space": lambda v: v == "k3-B ",
    "a name with spaces": lambda v: v == " P2 ",
    "a decimal comma": lambda v: isinstance(v, str) and v.count(",") == 1,
    "a date written as text": lambda v: isinstance(v, str) and v.endswith(".2025"),
    "counts as ranges": lambda v: isinstance(v, str) and not v.isdigit(),
    "a count that the spreadsheet made a date": lambda v: v.month == v.day + 1,
    "a batch that Batches lacks": lambda v: v == "H6",
    "about so many": lambda v: v == "~60",
    "a start that is not known": lambda v: v == "unknown",
    "a column of the keeper's own": lambda v: v == "weather",
    "a percentage as a fraction": lambda v: float(v) == 0.25,
    "a year that cannot be": lambda v: v.endswith("/2052"),
    "centimetres among millimetres": lambda v: 0.5 < float(v) < 2,
    "a count that rises with none added": lambda v: int(v) > 0,
}


@pytest.mark.parametrize("item", PLANTED, ids=lambda x: f"{x['log']}-{x['sheet']}-{x['row']}")
def test_what_was_planted_stands_where_the_list_says(item):
    grid = grids(TEMPLATES / item["log"])[item["sheet"]]
    row = grid[item["row"] - 1]
    filled = [cell for cell in row if cell not in (None, "")]
    if item["cell"]:
        letter = item["cell"].rstrip("0123456789")
        assert item["cell"] == f"{letter}{item['row']}"
        assert LOOKS[item["finding"]](row["ABCDEFGHIJKLMNOPQRSTUVWXYZ".index(letter)])
    elif item["finding"] == "an empty row":
        assert filled == []
    elif item["finding"] in ("a title line above the header", "a row of words only"):
        assert [type(cell) for cell in filled] == [str]
    elif item["finding"] == "a row of totals":
        assert filled[0] == "Total"
        assert item["row"] == len(grid)
    elif item["finding"] == "a row for every batch":
        assert filled[1] == "All"
    else:  # the same row twice, or two visits on one day
        other = grid[item["row"] - 2]
        assert row[:2] == other[:2]
        assert (row == other) == (item["finding"] == "the same row twice")


# ---- and show what they are meant to show ---------------------------------------------------


def survival(batch, rows, start):
    """Return a rough survival: the last count over the first, fish taken out left aside."""
    removed = sum(middle(row["removed"]) for row in rows)
    return float(batch["end_count"]) / (start - removed)


def test_shade_demo_shows_an_effect_with_a_wide_interval(maker):
    path = TEMPLATES / WORKBOOKS[0]
    daily, pairs, vanished = by_batch(path), defaultdict(dict), defaultdict(list)
    for batch in records(path, "Batches"):
        rows, start = daily[batch["batch"]], middle(batch["start_count"])
        pairs[batch["clutch"]][batch["method"]] = survival(batch, rows, start)
        lost = sum(middle(row["dead"]) + middle(row["removed"]) for row in rows)
        vanished[batch["method"]].append((start - lost - batch["end_count"]) / start)
        assert batch["how_assigned"] == "random draw"
        assert (batch["ended"] - batch["started"]).days == 28
    differences = np.array([pair["shaded"] - pair["open"] for pair in pairs.values()])
    assert differences.size == 6
    signs = np.array(list(itertools.product((1, -1), repeat=6)))
    flipped = np.abs((signs * differences).mean(1))
    p_value = (flipped >= abs(differences.mean()) - 1e-9).mean()
    truth = maker.SHADE["survival_to_day_28"]
    assert p_value < 0.05
    assert abs(differences.mean() - (truth["shaded"] - truth["open"])) < 0.03
    assert differences.std(ddof=1) > 0.1
    assert abs(np.mean(vanished["open"]) - np.mean(vanished["shaded"])) < 0.10


def test_shade_demo_has_all_that_the_other_questions_need():
    path = TEMPLATES / WORKBOOKS[0]
    batches = records(path, "Batches")
    trial = dict(row[:2] for row in grids(path)["Trial"])
    assert trial["plan_written_on"] < min(batch["started"] for batch in batches)
    assert {row["what"] for row in records(path, "Events")} == {"culture crash", "heater off"}
    shaded = {batch["batch"] for batch in batches if batch["method"] == "shaded"}
    scans = records(path, "Positions")
    assert {scan["batch"] for scan in scans} == shaded
    early = [s for s in scans if s["place"] == "shaded"]
    assert sum(s["seen"] for s in early) > 0.4 * sum(s["seen"] for s in scans)
    weeks, grouped = defaultdict(set), 0
    for row in records(path, "Sizes"):
        weeks[row["batch"]].add(row["date"])
        grouped += bool(row["fish"])
    assert {len(days) for days in weeks.values()} == {4}
    assert grouped >= 3


def test_parents_demo_sets_the_trap_and_the_common_day_opens_it():
    path = TEMPLATES / WORKBOOKS[1]
    daily, own, common = by_batch(path), defaultdict(list), defaultdict(list)
    for batch in records(path, "Batches"):
        start, rows = middle(batch["start_count"]), daily[batch["batch"]]
        own[batch["method"]].append(survival(batch, rows, start))
        age = (batch["started"] - batch["hatched"]).days
        assert age == {"hand": 5, "parents": 0}[batch["method"]]
        assert batch["how_assigned"] == "my choice"
        if age == 0:
            (start,) = [middle(r["alive"]) for r in rows if r["date"] == batch["free_swimming"]]
        common[batch["method"]].append(survival(batch, rows, start))
    assert np.mean(own["hand"]) - np.mean(own["parents"]) > 0.25
    assert abs(np.mean(common["hand"]) - np.mean(common["parents"])) < 0.05
    looks = {method: sum(len(daily[f"{method}{i}"]) for i in range(1, 6)) for method in "PH"}
    assert looks["H"] > 1.5 * looks["P"]


def test_diary_has_two_unlike_batches_and_no_method():
    path = TEMPLATES / DEMOS[2]
    first, second = records(path, "Batches")
    assert "method" not in first
    assert second["start_count"] == "unknown"
    assert first["started"] != second["started"]
    assert first["litres"] != second["litres"]
