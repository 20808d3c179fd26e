"""A log is the same for every answer, whatever one of them does with it."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import pandas as pd
import pytest

from rearkit import read_log
from tests.logs import batch, day, write_log

SHEETS = ("batches", "daily", "sizes", "positions", "events")


@pytest.fixture
def log(tmp_path):
    return read_log(
        write_log(
            tmp_path / "spring",
            batches=[batch("A", "30-36", 25), batch("B", 30, 20)],
            daily=[{"date": day(n), "batch": b, "dead": 1} for n in (2, 9) for b in "AB"],
            sizes=[{"date": day(5), "batch": "A", "length_mm": 6}],
            positions=[{"date": day(5), "batch": "A", "place": "leaf", "seen": 4}],
            events=[{"started": day(3), "batch": "all", "what": "power cut"}],
            trial={"keeper": "a club"},
        )
    )


def test_it_is_told_in_one_line(log):
    assert repr(log) == "Logbook('spring': 2 batches, 4 daily rows)"


@pytest.mark.parametrize("name", [*SHEETS, "account", "fates", "findings", "rows"])
def test_what_is_done_to_a_frame_stays_with_whoever_did_it(log, name):
    frame = getattr(log, name)
    before = frame.copy()
    assert len(frame) > 0
    frame["mine"] = 1
    frame.loc[:, frame.select_dtypes("number").columns] = 0
    frame.drop(columns=frame.columns[1], inplace=True)
    pd.testing.assert_frame_equal(getattr(log, name), before)


def test_nothing_can_be_put_in_place_of_what_was_read(log):
    with pytest.raises(FrozenInstanceError, match="batches"):
        log.batches = log.daily
    with pytest.raises(TypeError, match="does not support item assignment"):
        log.trial["keeper"] = "another"


def test_a_log_may_be_copied_with_other_frames(log):
    other = replace(log, daily=log.daily.head(1))
    assert len(other.daily) == 1
    assert len(log.daily) == 4


def test_what_was_worked_out_is_kept_for_the_next_answer(log):
    def work():
        done.append(1)
        return len(log.batches)

    done: list[int] = []
    assert [log.once("n", work), log.once("n", work)] == [2, 2]
    assert len(done) == 1
    assert replace(log, daily=log.daily.head(1)).once("n", lambda: 7) == 7
