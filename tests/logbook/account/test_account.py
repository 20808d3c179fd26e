"""The account of every batch, against accounts worked by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from rearkit import read_log
from tests.logs import batch, day, write_log


def the_account(log, name="A"):
    return log.account.set_index("batch").loc[name]


def codes(log, severity=None):
    f = log.findings
    return list(f["code"] if severity is None else f.loc[f["severity"] == severity, "code"])


def test_start_is_alive_dead_removed_and_missing(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", 40, 25)],
            daily=[
                {"date": day(2), "batch": "A", "dead": 3},
                {"date": day(5), "batch": "A", "dead": 4, "removed": 2, "removed_why": "runt"},
                {"date": day(9), "batch": "A", "dead": 0},
            ],
        )
    )
    a = the_account(log)
    seen = (a.start_best, a.dead, a.removed, a.alive_best, a.missing_best)
    assert seen == pytest.approx((40, 7, 2, 25, 6))
    assert a.removed_runt == 2
    assert a.adds_up
    assert a.looks == 4


def test_a_blank_dead_is_not_a_look(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", 40, 40)],
            daily=[
                {"date": day(2), "batch": "A", "dead": 0},
                {"date": day(4), "batch": "A", "dead": "", "food": "brine shrimp"},
                {"date": day(6), "batch": "A", "dead": 0},
            ],
        )
    )
    assert list(log.fates["age_to"]) == [2, 6, 28]


def test_a_start_range_is_tightened_by_what_is_accounted_for(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", "30-36", 30)],
            daily=[{"date": day(3), "batch": "A", "dead": 4}],
        )
    )
    a = the_account(log)
    assert (a.start_low, a.start_best, a.start_high) == (34, 35, 36)
    assert (a.missing_low, a.missing_high) == (0, 2)
    assert a.missing_best == pytest.approx(1)
    assert "start-tightened" in codes(log, "NOTE")


def test_a_batch_that_cannot_add_up_is_stopped_and_the_rest_goes_on(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", 20, 19), batch("B", 20, 15)],
            daily=[{"date": day(3), "batch": "A", "dead": 4}],
        )
    )
    stopped = log.batches.set_index("batch")["stopped"]
    assert stopped["A"]
    assert not stopped["B"]
    assert set(log.fates["batch"]) == {"B"}
    finding = log.findings[log.findings["code"] == "does-not-add-up"].iloc[0]
    assert finding["severity"] == "STOP"
    assert finding["batch"] == "A"
    assert "23 fish are accounted for" in finding["seen"]
    assert finding["cell"] == "C2"


def test_a_rising_count_is_asked_about_and_the_bounds_hold_both(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", 50, 40)],
            daily=[
                {"date": day(7), "batch": "A", "dead": 2, "alive": 38},
                {"date": day(14), "batch": "A", "dead": 1},
            ],
        )
    )
    assert "alive-rises" in codes(log, "ASK")
    a = the_account(log)
    assert a.alive_low <= 38 - 1
    assert a.alive_high == 40
    finding = log.findings[log.findings["code"] == "alive-rises"].iloc[0]
    assert (finding["sheet"], finding["cell"]) == ("Daily", "D2")


def test_an_unknown_start_is_counted_back(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", "unknown", 30)],
            daily=[{"date": day(3), "batch": "A", "dead": 5, "removed": 2}],
        )
    )
    a = the_account(log)
    assert not a.start_known
    assert a.start_best == 37
    assert "start-unknown" in codes(log)


def test_two_visits_on_one_day_are_added_up(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", 30, 25)],
            daily=[
                {"date": day(3), "batch": "A", "dead": 2, "note": "morning"},
                {"date": day(3), "batch": "A", "dead": 1, "note": "evening"},
            ],
        )
    )
    assert the_account(log).dead == 3
    assert the_account(log).looks == 2


def test_a_gap_between_looks_is_told(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", 30, 25)],
            daily=[
                {"date": day(1), "batch": "A", "dead": 2},
                {"date": day(9), "batch": "A", "dead": 1},
                {"date": day(27), "batch": "A", "dead": 1},
            ],
        )
    )
    gaps = log.findings[log.findings["code"] == "not-looked"]
    assert list(gaps["cell"]) == ["C3", "C4"]


def test_a_batch_never_counted_at_its_end_says_so(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", 30)],
            daily=[{"date": day(1), "batch": "A", "dead": 2}],
        )
    )
    a = the_account(log)
    assert not a.final_count
    assert a.alive_best == 28
    assert (a.alive_low, a.alive_high) == (0, 28)
    assert (a.missing_low, a.missing_best, a.missing_high) == (0, 0, 28)


@pytest.mark.parametrize(
    ("hatched", "swimming", "clock", "first"),
    [(-6, -1, "hatch", 6), ("", -1, "free_swimming", 1), ("", "", "start", 0)],
)
def test_ages_count_from_the_earliest_event_that_all_batches_have(
    tmp_path: Path, hatched: int | str, swimming: int | str, clock: str, first: int
) -> None:
    when = {
        "hatched": day(hatched) if isinstance(hatched, int) else "",
        "free_swimming": day(swimming) if isinstance(swimming, int) else "",
    }
    log = read_log(write_log(tmp_path / "log", batches=[batch("A", 30, 25, **when)]))
    assert log.age_from == clock
    assert the_account(log).age_first == first


def test_all_died_needs_no_end_count(tmp_path: Path) -> None:
    row = batch("A", 30) | {"ended": day(10), "end_reason": "all died"}
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[row],
            daily=[{"date": day(4), "batch": "A", "dead": 20}],
        )
    )
    a = the_account(log)
    assert a.alive_best == 0
    assert (a.dead, a.missing_best) == (20, 10)  # bodies are bodies: what was typed was found


def test_a_typed_exact_count_is_never_altered(tmp_path: Path) -> None:
    daily = [{"date": day(3), "batch": "A", "dead": "12-13"}]
    a = the_account(read_log(write_log(tmp_path / "l", batches=[batch("A", 23, 11)], daily=daily)))
    assert (a.alive_low, a.alive_best, a.alive_high) == (11, 11, 11)
    assert a.dead == pytest.approx(12)


def test_all_died_scales_no_bodies_up(tmp_path: Path) -> None:
    row = batch("A", 100) | {"ended": day(10), "end_reason": "all died"}
    daily = [{"date": day(d), "batch": "A", "dead": n} for d, n in ((2, "10-20"), (4, 20), (6, 30))]
    a = the_account(read_log(write_log(tmp_path / "log", batches=[row], daily=daily)))
    assert 60 <= a.dead <= 70
    assert a.dead + a.missing_best == 100
    assert (a.missing_low, a.missing_high) == (30, 40)


def test_fish_put_in_on_the_day_of_the_last_count_are_counted(tmp_path: Path) -> None:
    daily = [
        {"date": day(5), "batch": "A", "dead": 0},
        {"date": day(28), "batch": "A", "dead": 0, "added": 15, "alive": 35},
    ]
    a = the_account(read_log(write_log(tmp_path / "log", batches=[batch("A", 20)], daily=daily)))
    assert a.alive_best == 35
    assert a.missing_best == 0


def test_the_rows_of_a_stopped_batch_are_counted_as_unusable(tmp_path: Path) -> None:
    log = read_log(
        write_log(
            tmp_path / "log",
            batches=[batch("A", 20, 19), batch("B", 20, 15)],
            daily=[{"date": day(3), "batch": "A", "dead": 4}],
        )
    )
    rows = log.rows.set_index("sheet")
    assert rows.at["Batches", "n_unusable"] == 1
    assert rows.at["Daily", "n_unusable"] == 1
    marks = ["n_used", "n_repaired", "n_waiting", "n_unusable"]
    assert (rows[marks].sum(axis=1) == rows["n_read"]).all()
