"""How well the survivors of a unit are known, from log files worked by hand."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from rearkit import read_log
from rearkit.batch.evidence import (
    died_out_on,
    judge,
    judge_unit,
    missing_bands,
    share_if_alive,
    tipping,
)
from rearkit.batch.lines import Line, find_lines
from tests.logs import batch, day, write_log


def lines_of(tmp_path: Path, batches, daily=()) -> dict[str, Line]:
    log = read_log(write_log(tmp_path / "log", batches=batches, daily=daily))
    return {line.name: line for line in find_lines(log.batches, log.daily)}


def one(tmp_path: Path, row, daily=()) -> Line:
    return lines_of(tmp_path, [row], daily)["A"]


def test_a_count_on_the_day_is_counted(tmp_path: Path) -> None:
    found = judge(
        one(tmp_path, batch("A", 40, 30), [{"date": day(9), "batch": "A", "dead": 4}]), 28
    )
    assert (found.grade, found.why, found.counted_on) == ("counted", "count", 28)
    assert (found.share, found.share_low, found.share_high) == pytest.approx((0.75, 0.75, 0.75))
    assert (found.alive, found.alive_low, found.alive_high) == (30, 30, 30)


@pytest.mark.parametrize(
    ("counted_on", "grade", "why"),
    [
        (25, "not_counted", "no_count"),
        (26, "counted", "count_before"),
        (30, "counted", "count"),
        (31, "not_counted", "late_count"),
    ],
)
def test_a_count_speaks_for_the_day_within_its_window(
    tmp_path: Path, counted_on: int, grade: str, why: str
) -> None:
    line = one(
        tmp_path,
        batch("A", 40) | {"ended": day(35)},
        [
            {"date": day(20), "batch": "A", "dead": 3, "alive": 36},
            {"date": day(counted_on), "batch": "A", "dead": 2, "alive": 30},
        ],
    )
    found = judge(line, 28)
    assert (found.grade, found.why) == (grade, why)
    if why == "count_before":  # judged as it was counted, not as it may have gone on
        assert (found.share_low, found.share_high) == pytest.approx((0.75, 0.75))
    if why == "late_count":
        assert found.share_low == pytest.approx(0.75)
        assert found.share == found.share_high == pytest.approx(0.9)


def test_a_late_count_is_as_good_where_nobody_can_be_missing(tmp_path: Path) -> None:
    line = one(
        tmp_path,
        batch("A", 40, 36, days=40),
        [
            {"date": day(20), "batch": "A", "dead": 3},
            {"date": day(33), "batch": "A", "dead": 1},
        ],
    )
    found = judge(line, 28)
    assert (found.grade, found.counted_on) == ("counted", 40)
    assert found.share_low == pytest.approx(36 / 40)
    assert found.share_high == pytest.approx(37 / 40)
    assert found.share_low < found.share < found.share_high


def test_a_unit_that_stopped_before_the_day_lies_between_nothing_and_its_end(
    tmp_path: Path,
) -> None:
    line = one(tmp_path, batch("A", 40, 3, days=12) | {"end_reason": "accident"})
    found = judge(line, 28)
    assert (found.grade, found.why) == ("stopped", "ended")
    assert (found.share_low, found.share, found.share_high) == pytest.approx((0, 3 / 40, 3 / 40))
    assert (found.alive_low, found.alive, found.alive_high) == (0, 3, 3)
    assert line.end_reasons == ("accident",)


def test_a_unit_never_counted_at_its_end_has_what_is_not_known_to_be_gone(tmp_path: Path) -> None:
    line = one(
        tmp_path,
        batch("A", "60", "") | {"ended": day(28)},
        [{"date": day(10), "batch": "A", "dead": 6, "removed": 4, "removed_why": "sold"}],
    )
    found = judge(line, 28)
    assert (found.grade, found.why) == ("not_counted", "no_count")
    assert (found.alive_low, found.alive_high) == (0, 50)
    assert found.share_low == 0
    assert found.share == found.share_high == pytest.approx(54 / 60)


def test_a_unit_that_died_out_is_counted_ever_after(tmp_path: Path) -> None:
    line = one(
        tmp_path,
        batch("A", "30-36") | {"ended": day(9), "end_reason": "all died"},
        [{"date": day(5), "batch": "A", "dead": 10}],
    )
    assert died_out_on(line.looks) == 9
    found = judge(line, 28)
    assert (found.grade, found.why) == ("counted", "died_out")
    assert (found.share, found.share_low, found.share_high) == (0, 0, 0)
    assert judge(line, 28, since=12).share_high == 0


def test_a_unit_emptied_alive_before_the_day_is_stopped_and_not_dead(tmp_path: Path) -> None:
    line = one(
        tmp_path,
        batch("A", 40, 0, days=20) | {"end_reason": "rehomed"},
        [{"date": day(20), "batch": "A", "dead": 0, "removed": 36, "removed_why": "given"}],
    )
    assert died_out_on(line.looks) is None
    found = judge(line, 28)
    assert (found.grade, found.why) == ("stopped", "emptied")
    assert (found.share_low, found.share_high) == pytest.approx((0, 36 / 40))


def test_an_end_count_of_those_that_were_given_away_that_day_is_told_once(tmp_path: Path) -> None:
    line = one(
        tmp_path,
        batch("A", 40, 36) | {"end_reason": "rehomed"},
        [{"date": day(28), "batch": "A", "dead": 2, "removed": 36, "removed_why": "given"}],
    )
    assert judge(line, 28).share == pytest.approx(36 / 40)


def test_ranges_become_bounds_and_the_middle_lies_between(tmp_path: Path) -> None:
    found = judge(one(tmp_path, batch("A", "30-36", "20-24")), 28)
    assert found.share_low == pytest.approx(20 / 36)
    assert found.share_high == pytest.approx(24 / 30)
    assert found.share == pytest.approx(22 / 33)


def test_counts_that_contradict_each_other_are_held_both(tmp_path: Path) -> None:
    line = one(
        tmp_path, batch("A", 40, 30), [{"date": day(10), "batch": "A", "dead": 0, "alive": 25}]
    )
    found = judge(line, 28)
    assert found.contradicts
    assert found.possible
    assert (found.share_low, found.share_high) == pytest.approx((25 / 40, 30 / 40))
    assert found.share_low <= found.share <= found.share_high


def test_a_log_that_no_history_allows_proves_nothing(tmp_path: Path) -> None:
    line = one(tmp_path, batch("A", 20, 19), [{"date": day(3), "batch": "A", "dead": 4}])
    found = judge(line, 28)
    assert not found.possible
    assert line.stopped == ("A",)
    assert (found.share_low, found.share_high) == (0, 1)
    assert math.isnan(found.share)


def test_an_unknown_start_is_told_from_the_first_count_on(tmp_path: Path) -> None:
    line = one(
        tmp_path,
        batch("A", "unknown", 20),
        [{"date": day(7), "batch": "A", "dead": 0, "alive": 25}],
    )
    found = judge(line, 28)
    assert (found.grade, found.share_low, found.share) == ("start_not_known", 0, pytest.approx(0.8))
    later = judge(line, 28, since=7)
    assert later.grade == "counted"
    assert (later.share_low, later.share) == pytest.approx((0.8, 0.8))


def test_a_unit_of_several_lines_has_its_worst_grade_and_the_mean(tmp_path: Path) -> None:
    lines = lines_of(
        tmp_path, [batch("A", 40, 30), batch("B", 20, "") | {"ended": day(28)}, batch("C", 20, 10)]
    )
    found = judge_unit([lines["A"], lines["B"], lines["C"]], 28)
    assert found.grade == "not_counted"
    assert found.share_low == pytest.approx((0.75 + 0 + 0.5) / 3)
    assert found.share_high == pytest.approx((0.75 + 1 + 0.5) / 3)
    assert (found.alive_low, found.alive_high) == (40, 60)
    assert found.counted_on is None


def test_missing_fish_are_a_band_between_two_full_counts(tmp_path: Path) -> None:
    line = one(
        tmp_path,
        batch("A", "30-36", ""),
        [
            {"date": day(5), "batch": "A", "dead": "2-3"},
            {"date": day(10), "batch": "A", "dead": 1, "alive": 24},
            {"date": day(20), "batch": "A", "dead": 4},
        ],
    )
    first, last = missing_bands(line.looks)
    assert (first.age_from, first.age_to) == (0, 10)
    assert (first.low, first.best, first.high) == pytest.approx((2, 5.5, 9))
    assert first.closed
    assert not last.closed
    assert last.best == 0


def test_the_tipping_count_is_the_least_with_which_a_verdict_holds(tmp_path: Path) -> None:
    found = judge(one(tmp_path, batch("A", 52, "") | {"ended": day(28)}), 28)
    assert share_if_alive(found, 26) == pytest.approx(0.5)
    told = tipping(found, lambda share: share >= 0.59)
    assert told is not None
    assert (told.count, told.possible, told.at_least) == (31, 52, True)
    told = tipping(found, lambda share: share < 0.2)
    assert told is not None
    assert (told.count, told.at_least) == (10, False)
    assert tipping(found, lambda share: True) is None


@pytest.mark.parametrize("seed", range(4))
def test_as_counted_lies_within_the_bounds_of_every_log(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    batches, daily = [], []
    for i in range(25):
        name, fish = f"B{i}", int(rng.integers(10, 60))
        start = rng.choice([str(fish), f"{fish}-{fish + 6}", f"~{fish}", "unknown"])
        end = rng.choice(["", f"{fish // 2}", f"{fish // 2}-{fish // 2 + 3}", "0"])
        row = batch(name, start, end)
        batches.append(row if end else row | {"ended": rng.choice(["", day(28)])})
        for d in rng.choice(np.arange(1, 28), size=6, replace=False):
            visit = {"date": day(int(d)), "batch": name, "dead": rng.choice(["", "0", "1", "1-2"])}
            if rng.random() < 0.2:
                visit["alive"] = f"{int(fish * (1 - d / 60))}"
            if rng.random() < 0.15:
                visit |= {"removed": int(rng.integers(1, 4)), "removed_why": "runt"}
            if rng.random() < 0.1:
                visit["added"] = int(rng.integers(1, 4))
            daily.append(visit)
    possible = 0
    for line in lines_of(tmp_path, batches, daily).values():
        for on in (10, 27, 28, 33):
            found = judge(line, on)
            if not found.possible:
                continue
            possible += 1
            assert found.share_low - 1e-9 <= found.share <= found.share_high + 1e-9
            assert found.alive_low - 1e-9 <= found.alive <= found.alive_high + 1e-9
            assert 0 <= found.share_low <= found.share_high <= 1
    assert possible > 40
