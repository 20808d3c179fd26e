"""What points to a keeper is left out; what the numbers need is kept."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from rearkit import check_log, compare_survival, describe_trial, read_log
from rearkit.logbook.anonymous import hide_names
from tests.logs import batch, day, write_log

SECRET = "Mossbank Lane 7"


def secret_log(folder: Path):
    rows = [
        batch(f"B{i}", 40, 30, method=m, place=f"{SECRET}, {i}", note=SECRET, clutch=f"c{i}")
        for i, m in enumerate(["open", "shaded"])
    ]
    daily = [{"date": day(3), "batch": "B0", "dead": f"2 {SECRET}", "note": SECRET}]
    events = [{"started": day(2), "batch": "all", "what": "cleaning", "note": SECRET}]
    trial = {"keeper": SECRET, "approval": SECRET, "note": SECRET, "question": "shade?"}
    return read_log(write_log(folder, batches=rows, daily=daily, events=events, trial=trial))


def everything(log) -> str:
    frames = (log.batches, log.daily, log.sizes, log.positions, log.events, log.findings)
    answers = (check_log(log), compare_survival(log), describe_trial(log))
    said = [a.headline + " ".join(a.limits) + str(a.facts()) for a in answers]
    return " ".join([str(dict(log.trial)), *said, *(f.to_csv() for f in frames)])


def test_nothing_of_the_keeper_is_left(tmp_path: Path) -> None:
    log = secret_log(tmp_path / "log")
    assert SECRET in everything(log)
    hidden = hide_names(log)
    assert SECRET not in everything(hidden)
    assert hidden.trial["question"] == "shade?"


def test_the_numbers_stay(tmp_path: Path) -> None:
    log = secret_log(tmp_path / "log")
    a, b = compare_survival(log).facts(), compare_survival(hide_names(log)).facts()
    assert a == b
    pd.testing.assert_frame_equal(log.fates, hide_names(log).fates)
