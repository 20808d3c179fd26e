"""The same demo log as xlsx, ods and CSV of two habits gives the same numbers."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from openpyxl import Workbook

from rearkit import check_log, compare_survival, read_log
from rearkit.answers.answer import json_safe
from tests.logbook.convert import as_csv, as_ods

DEMOS = Path(__file__).parents[2] / "data_templates"


def as_workbook(demo: Path, folder: Path) -> Path:
    """Return a demo as a workbook; a CSV folder becomes one, its cells kept as text."""
    if demo.is_file():
        return demo
    workbook = Workbook()
    workbook.remove(workbook.active)
    for file in sorted(demo.glob("*.csv")):
        sheet = workbook.create_sheet(file.stem)
        with file.open(encoding="utf-8-sig", newline="") as lines:
            for row in csv.reader(lines):
                sheet.append([cell or None for cell in row])
    path = folder / f"{demo.name}.xlsx"
    workbook.save(path)
    return path


def numbers(path: Path) -> str:
    log = read_log(path)
    facts = [compare_survival(log).facts(), check_log(log).facts()["account"]]
    return json.dumps(json_safe(facts), sort_keys=True)


@pytest.mark.parametrize(
    "name", ["demo_shade_trial.xlsx", "demo_parents_or_hand.xlsx", "demo_two_batches"]
)
def test_the_numbers_do_not_depend_on_the_kind_of_file(name: str, tmp_path: Path) -> None:
    workbook = as_workbook(DEMOS / name, tmp_path)
    expected = numbers(DEMOS / name)
    assert numbers(workbook) == expected
    assert numbers(as_ods(workbook, tmp_path / "log.ods")) == expected
    assert numbers(as_csv(workbook, tmp_path / "comma")) == expected
    european = as_csv(
        workbook,
        tmp_path / "semicolon",
        delimiter=";",
        encoding="cp1252",
        decimal=",",
        dates="%d/%m/%Y",
    )
    assert numbers(european) == expected
