"""What the trial was: rules, flow of fish, places, checklist."""

from __future__ import annotations

from pathlib import Path

import pytest

from rearkit import describe_trial, read_log
from tests.logs import batch, day, write_log


def trial_log(folder: Path, **trial: object):
    rows = [
        batch("A", 40, 20, method="open", clutch="c1", place="top, left", litres=8),
        batch("B", "30-36", 25, method="shaded", clutch="c1", place="top, right", litres=8),
        batch("C", 10, 0, days=9, method="shaded", clutch="c2", end_reason="accident"),
    ]
    daily = [
        {"date": day(2), "batch": "A", "dead": 8},
        {"date": day(4), "batch": "A", "dead": 2, "removed": 3, "removed_why": "runt"},
        {"date": day(4), "batch": "B", "dead": 1, "added": 2},
    ]
    events = [{"started": day(6), "batch": "all", "what": "power cut"}]
    fields = {"usual": "open", "tested": "shaded"} | trial
    return read_log(write_log(folder, batches=rows, daily=daily, events=events, trial=fields))


def test_the_flow_of_every_method_adds_up(tmp_path: Path) -> None:
    flow = describe_trial(trial_log(tmp_path / "l")).table().set_index("method")
    a = flow.loc["open"]
    assert (a.start_best, a.dead, a.removed_runt, a.missing_best, a.alive_best) == pytest.approx(
        (40, 10, 3, 7, 20)
    )
    for row in flow.itertuples():
        out = row.dead + row.removed + row.missing_best + row.alive_best
        assert row.start_best + row.added == pytest.approx(out)


@pytest.mark.parametrize(
    ("written", "plan", "words"),
    [
        (-2, "before", "before the first batch"),
        (3, "after", "made to fit"),
        (None, "none", "No date"),
    ],
)
def test_the_date_of_the_plan_is_told(
    tmp_path: Path, written: int | None, plan: str, words: str
) -> None:
    more = {} if written is None else {"plan_written_on": day(written)}
    answer = describe_trial(trial_log(tmp_path / "l", **more))
    assert answer.plan == plan
    assert words in answer.say("rules").items[0]


def test_what_did_not_go_as_planned_is_listed_in_order(tmp_path: Path) -> None:
    events = describe_trial(trial_log(tmp_path / "l")).events
    assert list(events["what"]) == ["power cut", "ended: accident"]


def test_the_checklist_names_the_field_that_would_fill_a_gap(tmp_path: Path) -> None:
    silent = describe_trial(trial_log(tmp_path / "a")).readable("checklist").frame
    silent = silent.set_index("item")
    assert silent.at["5 Blinding", "what the log says"] == "not recorded"
    assert silent.at["5 Blinding", "to be filled in"] == "Trial: counted_blind"
    told = describe_trial(trial_log(tmp_path / "b", counted_blind="no", species="kribensis"))
    filled = told.readable("checklist").frame.set_index("item")
    assert filled.at["5 Blinding", "what the log says"] == "counted knowing the method"
    assert filled.at["8 Animals", "to be filled in"] == ""
    assert len(filled) == 10


def test_pictures_say_what_they_show(tmp_path: Path) -> None:
    answer = describe_trial(trial_log(tmp_path / "l"))
    assert "of 40 fry 20 alive, 3 taken out (runt), 7 missing, 10 found dead" in answer.figure().alt
    assert "top: A, B" in answer.figure("map").alt
    assert answer.has_places
