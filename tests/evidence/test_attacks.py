"""Logs that once made the kit say too much, contradict itself or fall over."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pandas as pd
import pytest

from rearkit import (
    check_log,
    compare_growth,
    compare_methods,
    compare_survival,
    cost_of_interruption,
    read_log,
    use_of_place,
)
from rearkit.errors import DesignError
from tests.evidence.test_readings import BAD, GOOD, six_against_six
from tests.evidence.trials import TRIAL, log_of, tub, visits
from tests.logs import day, write_log


def codes(findings: pd.DataFrame) -> set[str]:
    return set(findings["code"])


@pytest.mark.parametrize("year", ["0225-04-01", "1025-04-01", "9999-12-31"])
def test_a_start_in_an_impossible_year_leaves_out_one_batch(tmp_path: Path, year: str) -> None:
    batches = six_against_six()
    batches[0]["started"] = year
    log = log_of(tmp_path, batches)
    assert list(log.batches.loc[log.batches["stopped"], "batch"]) == ["u0"]
    assert f"“{year}” is no date" in set(log.findings["seen"])
    assert compare_survival(log).design.n_usual == 5


def test_an_end_in_the_year_9999_is_no_end(tmp_path: Path) -> None:
    batches = six_against_six()
    batches[8] |= {"ended": "9999-12-31", "end_count": "", "end_reason": ""}
    log = log_of(tmp_path, batches)
    assert "never-ended" in codes(log.findings)
    assert log.batches["ended"].isna().sum() == 1
    answer = compare_survival(log)
    assert answer.interim
    assert answer.day.day == 28  # a tub that nobody looked at does not choose the day
    assert answer.facts()["p_value"] is None


def test_a_batch_that_ended_before_it_started_is_left_out_in_every_answer(tmp_path: Path) -> None:
    batches = [row | {"from_batch": ""} for row in six_against_six()]
    batches[0] |= {"ended": "2025-04-15", "end_count": 30, "end_reason": "moved"}
    batches.append(
        tub("u0 big", "open", 30, 20, clutch="U0", from_batch="u0")
        | {"started": "2025-04-15", "ended": "2025-04-10"}
    )
    log = log_of(tmp_path, batches)
    answer = compare_survival(log)
    assert answer.design.n_usual == 5
    assert check_log(log).stopped == ("u0 big",)


def test_a_batch_without_a_start_stays_out_of_the_timeline(tmp_path: Path) -> None:
    batches = six_against_six()
    batches[0]["started"] = ""
    events = [{"started": day(10), "ended": day(11), "batch": "all", "what": "power cut"}]
    daily = [v for r in batches for v in visits(str(r["batch"]), [5, 9, 12, 15], dead=1)]
    log = read_log(
        write_log(tmp_path / "log", batches=batches, daily=daily, trial=TRIAL, events=events)
    )
    table = cost_of_interruption(log).readable("timeline")
    assert "power cut" in str(table.frame)


def test_lengths_of_one_half_of_every_clutch_compare_nothing(tmp_path: Path) -> None:
    batches, sizes = [], []
    for i in range(3):
        for arm in ("open", "shade"):
            batches.append(tub(f"{arm}{i}", arm, 40, 30, clutch=f"K{i}"))
        sizes += [
            {"date": day(a), "batch": f"open{i}", "length_mm": 5 + a / 4 + i / 10} for a in (7, 28)
        ]
    folder = write_log(tmp_path / "log", batches=batches, sizes=sizes, trial=TRIAL)
    answer = compare_growth(read_log(folder))
    assert answer.comparison is None
    assert "one method only" in answer.headline


def moved_on_day_14(sent: int, counted: object) -> tuple[list[dict[str, object]], list]:
    """Six clutches an arm moved to bigger tubs, told where they left, and counted as they went."""
    batches, daily = [], []
    for i, (usual, tested) in enumerate(zip(BAD, GOOD, strict=True)):
        for arm, n in (("open", usual), ("shade", tested)):
            name = f"{arm}{i}"
            batches += [
                tub(name, arm, 40, counted, clutch=name, ended=day(14), end_reason="moved"),
                tub(f"{name} big", arm, 36, n, clutch=name) | {"started": day(14)},
            ]
            daily += visits(name, [sent], removed=36, removed_to=f"{name} big")
    return batches, daily


@pytest.mark.parametrize("sent", [14, 13], ids=["that day", "the day before"])
@pytest.mark.parametrize("counted", ["", 36, 0])
def test_fish_counted_as_they_were_moved_are_not_there_twice(
    tmp_path: Path, sent: int, counted: object
) -> None:
    log = log_of(tmp_path, *moved_on_day_14(sent, counted))
    assert not log.batches["stopped"].any()
    account = log.account.set_index("batch")
    assert account.loc["open0", "removed"] == 36
    answer = compare_survival(log)
    assert answer.by_unit.set_index("unit")["survival"]["open0"] == pytest.approx(BAD[0] / 40)
    assert answer.comparison is not None
    assert answer.comparison.settled


@pytest.mark.parametrize("told", [True, False], ids=["at both ends", "where they left"])
def test_fry_put_together_add_up_wherever_it_was_told(tmp_path: Path, told: bool) -> None:
    batches = [tub("a", "open", 40, 0, clutch="A", ended=day(14), end_reason="moved")]
    batches.append(tub("b", "open", 40, 70, clutch="A"))
    daily = visits("a", [14], removed=38, removed_to="b")
    daily += visits("b", [14], added=38) if told else []
    account = log_of(tmp_path, batches, daily).account.set_index("batch")
    assert account["adds_up"].all()
    row = account.loc["b"]
    assert row["start_best"] + row["added"] == row["alive_best"] + row["missing_best"]
    assert row["added"] == 38
    assert row["missing_best"] == 8


def test_an_end_that_nobody_counted_is_asked_about(tmp_path: Path) -> None:
    log = log_of(tmp_path, [row | {"end_count": ""} for row in six_against_six()])
    asked = log.findings.query("severity == 'ASK' and code == 'end-not-counted'")
    assert set(asked["batch"]) == set(log.batches["batch"])
    assert "nothing to ask" not in check_log(log).headline


def test_many_tubs_in_one_container_are_not_so_many_units(tmp_path: Path) -> None:
    batches = six_against_six()
    for row in batches:
        row["container"] = f"tank {row['method']}"
    answer = compare_survival(log_of(tmp_path, batches))
    assert answer.comparison is not None
    assert answer.comparison.p_value is None
    assert answer.claim.level <= 1


def test_a_container_used_again_is_not_shared(tmp_path: Path) -> None:
    batches = six_against_six()
    for i, row in enumerate(batches):
        row["container"] = f"tub {i // 2}"
        if i % 2:
            row |= {"started": day(28), "ended": day(56)}
    answer = compare_survival(log_of(tmp_path, batches))
    assert "water" not in {r["reading"] for r in answer.facts()["readings"]}


def test_one_pair_that_both_methods_share_does_not_hide_the_others(tmp_path: Path) -> None:
    batches = six_against_six()
    for i, row in enumerate(batches):
        row["parents"] = "C" if i % 6 == 5 else ("A" if i < 6 else "B")
    answer = compare_survival(log_of(tmp_path, batches))
    assert answer.comparison is not None
    assert answer.comparison.p_value is None
    assert "pairs" in answer.limits[0]


def test_pairs_dealt_over_both_methods_stay_as_they_are(tmp_path: Path) -> None:
    batches = six_against_six()
    for i, row in enumerate(batches):
        row["parents"] = f"pair {i % 6 // 2}"
    answer = compare_survival(log_of(tmp_path, batches))
    assert answer.comparison is not None
    assert answer.comparison.settled


def test_a_look_before_the_declared_day_names_that_day(tmp_path: Path) -> None:
    batches = six_against_six()
    daily = [v for r in batches for v in visits(str(r["batch"]), [14], dead=0, alive=36)]
    for row in batches:
        row["end_count"] = 30
    answer = compare_survival(log_of(tmp_path, batches, daily), day=14.0)
    assert "The trial is judged on day 28." in answer.headline


def test_no_dates_at_all_are_asked_for_by_name(tmp_path: Path) -> None:
    batches = [row | {"ended": ""} for row in six_against_six()]
    with pytest.raises(DesignError, match="fill in ended where a batch is over"):
        compare_survival(log_of(tmp_path, batches))


def test_a_tub_filled_up_before_any_look_has_no_stages(tmp_path: Path) -> None:
    batches = six_against_six()
    daily: Sequence[dict[str, object]] = [
        v for i in range(6) for v in visits(f"t{i}", [10], dead=0, added=100)
    ]
    for row in batches[6:]:
        row["end_count"] = 100
    answer = compare_survival(log_of(tmp_path, batches, daily))
    assert answer.claim.level <= 2


def test_three_methods_without_a_word_are_not_called_one(tmp_path: Path) -> None:
    batches = six_against_six()
    batches += [tub(f"x{i}", "tank", 40, 30 + i, clutch=f"X{i}") for i in range(6)]
    answer = compare_methods(log_of(tmp_path, batches, usual="", tested=""))
    assert "one method only" not in " ".join([answer.headline, *answer.limits])
    assert "which two" in answer.headline


def test_a_place_that_was_never_scanned_has_no_name(tmp_path: Path) -> None:
    answer = use_of_place(log_of(tmp_path, six_against_six()))
    assert "None" not in answer.readable().caption
