"""What was planted in the demo logs is found, in its cell, and nothing else is asked."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from openpyxl import load_workbook

from rearkit.logbook.blank.workbook import write_blank
from rearkit.logbook.logbook import read_log

ROOT = Path(__file__).resolve().parent.parent
PLANTED = json.loads((ROOT / "tests/reference/demo_findings.json").read_text(encoding="utf-8"))
DEMOS = ("demo_shade_trial.xlsx", "demo_parents_or_hand.xlsx", "demo_two_batches")


@pytest.fixture(scope="module")
def found():
    return {name: read_log(ROOT / "data_templates" / name).findings for name in DEMOS}


@pytest.mark.parametrize(
    "item",
    [item for item in PLANTED if item["severity"]],
    ids=lambda item: f"{item['log']}-{item['finding']}",
)
def test_planted_mess_is_found_where_it_is(found, item):
    said = found[item["log"]]
    here = said[(said["sheet"] == item["sheet"]) & (said["row"] == item["row"])]
    if item["cell"]:
        here = here[here["cell"] == item["cell"]]
    assert item["severity"] in set(here["severity"]), here.to_string()


@pytest.mark.parametrize("name", DEMOS)
def test_nothing_is_asked_or_stopped_that_was_not_planted(found, name):
    said = found[name]
    grave = said[said["severity"].isin(["STOP", "ASK"])]
    planted = {
        (item["sheet"], item["row"])
        for item in PLANTED
        if item["log"] == name and item["severity"] in ("STOP", "ASK")
    }
    extra = [place not in planted for place in zip(grave["sheet"], grave["row"], strict=True)]
    assert grave[extra].empty, grave[extra].to_string()


def test_every_demo_batch_adds_up():
    for name in DEMOS:
        account = read_log(ROOT / "data_templates" / name).account
        assert account["adds_up"].all()
        assert len(account) == {DEMOS[0]: 12, DEMOS[1]: 10, DEMOS[2]: 2}[name]


def test_a_log_kept_in_the_blank_workbook_is_read_back(tmp_path):
    rows = [{"batch": "K1-a", "started": date(2025, 4, 1), "start_count": "10-12", "lamp": "red"}]
    path = write_blank(tmp_path / "log.xlsx", batches=rows, trial={"judged_on_day": 28})
    book = load_workbook(path)
    book["Daily"].append([date(2025, 4, 2), "K1-a", 1])
    book.save(path)
    log = read_log(path)
    assert log.trial["judged_on_day"] == 28
    assert log.trial["title"] is None
    (batch,) = log.batches.to_dict("records")
    assert (batch["start_count_low"], batch["start_count_high"], batch["lamp"]) == (10, 12, "red")
    assert log.daily["dead_best"].tolist() == [1]
    assert set(log.findings["severity"]) == {"NOTE"}
