"""What is said of survival: every headline at its level, every limit where it is planted."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rearkit import SurvivalAnswer, compare_survival, read_log
from rearkit.answers.survival.words import HEADLINES
from tests.answers.planted import Planted, check_planted, own_keys
from tests.logs import day, fair_sheets, split_trial, trial_of, write_log

# words that claim more than the level allows (levels 0 to 4)
CAUSE = r"\b(because|causes?|caused|thanks to|due to|improves?|helps|proves?|proven)\b"


@pytest.mark.parametrize("key", HEADLINES)
def test_no_headline_claims_a_cause(key: str) -> None:
    assert not re.search(CAUSE, HEADLINES[key])


@pytest.mark.parametrize("key", [k for k in HEADLINES if k.endswith(".open")])
def test_what_is_open_says_so(key: str) -> None:
    text = HEADLINES[key].lower()
    assert "not settle" in text
    assert "no difference" not in text


def test_only_the_highest_level_speaks_of_a_fair_test() -> None:
    for key, text in HEADLINES.items():
        assert ("fair test" in text) == key.startswith("4")


def changed(folder: Path, change: Callable[[dict[str, Any]], None]) -> SurvivalAnswer:
    sheets = fair_sheets()
    change(sheets)
    return compare_survival(read_log(write_log(folder, **sheets)))


def one_batch(**cells: object) -> Callable[[dict[str, Any]], None]:
    return lambda sheets: sheets["batches"][0].update(cells)


def no_bodies(sheets: dict[str, Any]) -> None:
    for row in sheets["daily"]:
        row["dead"] = ""


def sick_taken_out(sheets: dict[str, Any]) -> None:
    sheets["batches"][0]["end_count"] = 20
    taken = {"removed": 4, "removed_why": "sick"}
    sheets["daily"].append({"date": day(6), "batch": "open0"} | taken)


def not_counted_at_the_end(sheets: dict[str, Any]) -> None:
    sheets["batches"][0].update(end_count="", ended="", end_reason="")
    sheets["daily"].append({"date": day(28), "batch": "open0", "dead": 0})


def one_shaded_not_counted(sheets: dict[str, Any]) -> None:
    row = next(row for row in sheets["batches"] if row["batch"] == "shaded0")
    row["end_count"] = ""


def wide_ranges_of_a_small_difference(sheets: dict[str, Any]) -> None:
    for row in sheets["batches"]:
        row |= {"start_count": "35-50", "end_count": 28 if row["method"] == "open" else 29}
    sheets["daily"] = []


def first_counted_on_day_7(sheets: dict[str, Any]) -> None:
    sheets["batches"][0]["start_count"] = "unknown"
    sheets["daily"].append({"date": day(7), "batch": "open0", "alive": 24})


CHANGES = {
    "count_ranges.holds": one_batch(start_count="38-44"),
    "count_ranges.turns": wide_ranges_of_a_small_difference,
    "ill_removed": sick_taken_out,
    "dead_not_recorded": no_bodies,
    "no_final_count": not_counted_at_the_end,
    "start_unknown": first_counted_on_day_7,
    "tipping_count": one_shaded_not_counted,
}
PLANTED = {
    key: Planted(
        said=lambda folder, change=change: changed(folder, change),
        silent=lambda folder: changed(folder, lambda sheets: None),
    )
    for key, change in CHANGES.items()
}


@pytest.mark.parametrize("key", sorted(own_keys(SurvivalAnswer)))
def test_every_limit_of_its_own_is_said_where_it_is_planted(tmp_path: Path, key: str) -> None:
    check_planted(key, PLANTED, tmp_path)


@pytest.mark.parametrize(
    ("usual", "tested", "start"),
    [
        ([0.5], [0.8], "This shaded batch did better"),
        ([0.5, 0.6], [0.8, 0.9], "Too few to tell"),
        ([0.5, 0.5], [0.5, 0.5], "Too few to tell"),
        ([0.2, 0.25, 0.3], [0.8, 0.85, 0.75], "A hint"),
        ([0.5, 0.52, 0.55], [0.5, 0.58, 0.6], "Not settled"),
    ],
)
def test_headlines_by_size(tmp_path: Path, usual: list, tested: list, start: str) -> None:
    assert compare_survival(trial_of(tmp_path / "l", usual, tested)).headline.startswith(start)


def test_split_clutches_are_named(tmp_path: Path) -> None:
    values = [0.5, 0.6, 0.7, 0.5, 0.6, 0.7]
    answer = compare_survival(split_trial(tmp_path / "l", values, [v + 0.2 for v in values]))
    assert "6 split clutches" in answer.headline
