"""The judging day, from logs of which it is known by hand on which day they can be judged."""

from __future__ import annotations

from pathlib import Path

import pytest

from rearkit import read_log
from rearkit.batch.evidence import judge
from rearkit.batch.lines import Line, find_lines
from rearkit.design.judging_day import ChosenDay, choose_from_lines
from tests.logs import batch, day, write_log


def units_of(tmp_path: Path, batches, daily=()) -> dict[str, list[Line]]:
    log = read_log(write_log(tmp_path / "log", batches=batches, daily=daily))
    return {line.name: [line] for line in find_lines(log.batches, log.daily)}


def rule(chosen: ChosenDay) -> tuple[str, float]:
    return chosen.rule, chosen.day


def test_all_counted_on_the_declared_day(tmp_path: Path) -> None:
    units = units_of(tmp_path, [batch(n, 40, 30) for n in "ABCD"])
    chosen = choose_from_lines(units, 28)
    assert rule(chosen) == ("declared", 28)
    assert chosen.declared
    assert not chosen.interim
    assert chosen.no_say == {}
    assert chosen.since is None
    assert chosen.near == 2


def test_eleven_of_twelve_counted_a_day_early_are_all_judged_on_that_day(tmp_path: Path) -> None:
    names = [f"B{i}" for i in range(12)]
    rows = [batch(n, 40, 30, days=27) for n in names[:11]] + [batch(names[11], 40, 30)]
    units = units_of(tmp_path, rows)
    chosen = choose_from_lines(units, 28)
    assert rule(chosen) == ("all_reached", 27)
    assert chosen.declared
    assert chosen.no_say == {}
    grades = {judge(lines[0], chosen.day, near=chosen.near).grade for lines in units.values()}
    assert grades == {"counted"}


def test_a_count_before_the_window_is_a_unit_that_stopped(tmp_path: Path) -> None:
    units = units_of(tmp_path, [batch("A", 40, 30), batch("B", 40, 30, days=25)])
    chosen = choose_from_lines(units, 28)
    assert rule(chosen) == ("declared", 28)
    assert chosen.no_say == {"B": "stopped"}


def test_uncounted_and_died_out_units_have_no_say(tmp_path: Path) -> None:
    units = units_of(
        tmp_path,
        [
            batch("A", 40, 30, days=27),
            batch("B", 40, "") | {"ended": day(28)},
            batch("C", 40, "") | {"ended": day(9), "end_reason": "all died"},
            batch("D", 40, "") | {"ended": day(35)},
        ],
    )
    chosen = choose_from_lines(units, 28)
    assert rule(chosen) == ("all_reached", 27)
    assert chosen.no_say == {"B": "not_counted", "C": "died_out", "D": "not_counted"}


def test_a_unit_that_runs_and_has_not_come_to_the_day_makes_it_an_interim_look(
    tmp_path: Path,
) -> None:
    units = units_of(
        tmp_path,
        [batch("A", 40, 30), batch("B", 40, "")],
        [{"date": day(20), "batch": "B", "dead": 1, "alive": 33}],
    )
    chosen = choose_from_lines(units, 28)
    assert rule(chosen) == ("interim", 20)
    assert chosen.interim
    assert not chosen.declared
    assert chosen.running == ("B",)


@pytest.mark.parametrize("counted_on", [26, 28, 29])
def test_a_full_count_in_the_window_ends_the_running_whether_ended_was_typed_or_not(
    tmp_path: Path, counted_on: int
) -> None:
    units = units_of(
        tmp_path,
        [batch("A", 40, 30), batch("B", 40, "")],
        [{"date": day(counted_on), "batch": "B", "dead": 1, "alive": 33}],
    )
    chosen = choose_from_lines(units, 28)
    assert not chosen.interim
    assert chosen.day == min(counted_on, 28)


def test_a_unit_looked_at_beyond_the_day_without_a_count_is_not_running(tmp_path: Path) -> None:
    units = units_of(
        tmp_path,
        [batch("A", 40, 30), batch("B", 40, "")],
        [{"date": day(30), "batch": "B", "dead": 1}],
    )
    chosen = choose_from_lines(units, 28)
    assert not chosen.interim
    assert chosen.no_say == {"B": "not_counted"}


def test_a_day_set_for_one_run_is_never_a_declared_one(tmp_path: Path) -> None:
    units = units_of(
        tmp_path,
        [batch("A", 40, 30), batch("B", 40, 30)],
        [{"date": day(14), "batch": n, "dead": 0, "alive": 35} for n in "AB"],
    )
    early = choose_from_lines(units, 28, asked=14)
    assert rule(early) == ("interim", 14)
    free = choose_from_lines(units, None, asked=14)
    assert rule(free) == ("set", 14)
    assert not free.declared
    assert rule(choose_from_lines(units, 14, asked=28)) == ("set", 28)
    assert rule(choose_from_lines(units, 28, asked=28)) == ("declared", 28)


def test_none_declared_and_all_ended_is_the_last_day_that_all_reached(tmp_path: Path) -> None:
    units = units_of(
        tmp_path,
        [
            batch("A", 40, 30, days=35),
            batch("B", 40, 30, days=30),
            batch("C", 40, 5, days=12) | {"end_reason": "accident"},
            batch("D", 40, "") | {"ended": day(35)},
            batch("E", 40, "") | {"ended": day(9), "end_reason": "all died"},
        ],
    )
    chosen = choose_from_lines(units, None)
    assert rule(chosen) == ("none_declared", 30)
    assert not chosen.declared
    assert chosen.no_say == {"C": "stopped", "D": "not_counted", "E": "died_out"}
    assert chosen.near == 3


def test_none_declared_while_units_run_is_an_interim_look(tmp_path: Path) -> None:
    units = units_of(
        tmp_path,
        [batch("A", 40, 30), batch("B", 40, "")],
        [{"date": day(28), "batch": "B", "dead": 1, "alive": 33}],
    )
    chosen = choose_from_lines(units, None)
    assert rule(chosen) == ("interim", 28)
    assert chosen.running == ("B",)


def test_an_unknown_start_has_all_compared_from_the_first_day_that_all_were_counted(
    tmp_path: Path,
) -> None:
    units = units_of(
        tmp_path,
        [batch("A", 40, 30), batch("B", "unknown", 30)],
        [{"date": day(7), "batch": n, "dead": 0, "alive": 36} for n in "AB"],
    )
    chosen = choose_from_lines(units, 28)
    assert chosen.since == 7
    for lines in units.values():
        assert judge(lines[0], chosen.day, since=chosen.since).share == pytest.approx(30 / 36)


def test_a_unit_first_counted_on_the_day_itself_moves_no_start(tmp_path: Path) -> None:
    units = units_of(tmp_path, [batch("A", 40, 30), batch("B", "unknown", 30)])
    chosen = choose_from_lines(units, 28)
    assert chosen.since is None
    assert judge(units["B"][0], 28).grade == "start_not_known"


def test_batches_watched_from_unlike_ages_are_compared_from_the_latest(tmp_path: Path) -> None:
    early = batch("A", 40, 30, days=28, hatched=day(0))
    late = batch("B", 40, 30, days=28, hatched=day(0)) | {"started": day(5)}
    chosen = choose_from_lines(units_of(tmp_path, [early, late]), 28)
    assert chosen.since == 5


def test_all_died_out_is_judged_on_the_declared_day(tmp_path: Path) -> None:
    gone = [batch(n, 40, "") | {"ended": day(9), "end_reason": "all died"} for n in "AB"]
    units = units_of(tmp_path, gone)
    assert rule(choose_from_lines(units, 28)) == ("declared", 28)
    assert rule(choose_from_lines(units, None)) == ("none_declared", 9)


def test_a_unit_of_two_lines_reaches_what_both_reached(tmp_path: Path) -> None:
    lines = units_of(tmp_path, [batch("A", 40, 30), batch("B", 40, 30, days=27), batch("C", 9, 9)])
    units = {"K1": [*lines["A"], *lines["B"]], "K2": lines["C"]}
    assert rule(choose_from_lines(units, 28)) == ("all_reached", 27)
