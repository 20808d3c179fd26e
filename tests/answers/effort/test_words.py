"""What is said of the work: every limit where it is planted, every headline at its level."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rearkit import EffortAnswer, compare_effort, read_log
from rearkit.answers.effort.words import HEADLINES
from tests.answers.planted import Planted, check_planted, own_keys
from tests.logs import fair_sheets, write_log

CAUSE = r"\b(because|causes?|caused|thanks to|due to|improves?|helps|proves?|proven)\b"
Change = Callable[[dict[str, Any]], None]


def work_of(folder: Path, change: Change) -> EffortAnswer:
    sheets = fair_sheets()
    change(sheets)
    return compare_effort(read_log(write_log(folder, **sheets)))


def nothing(sheets: dict[str, Any]) -> None:
    """Leave the trial as it is."""


def one_never_timed(sheets: dict[str, Any]) -> None:
    sheets["daily"][0]["minutes"] = ""


def one_timed_by_half(sheets: dict[str, Any]) -> None:
    sheets["daily"].append({"date": "2025-04-09", "batch": "open0", "dead": 0})


def survivors_alike(sheets: dict[str, Any]) -> None:
    for row, left in zip(sheets["batches"], [20, 24, 30, 26, 25, 22, 29, 28], strict=True):
        row["end_count"] = left
    sheets["daily"] = [row | {"dead": 3} for row in sheets["daily"]]


def minutes_declared(sheets: dict[str, Any]) -> None:
    sheets["trial"]["main_outcome"] = "minutes"


def starts_counted_unlike(sheets: dict[str, Any]) -> None:
    for row in sheets["batches"]:
        row["count_how"] = "eye" if row["method"] == "open" else "photo"
    for row in sheets["daily"]:
        row["dead"] = 0


PLANTED = {
    "survival_not_alike": Planted(
        said=lambda folder: work_of(folder, starts_counted_unlike),
        silent=lambda folder: work_of(folder, nothing),
    ),
    "no_minutes": Planted(
        said=lambda folder: work_of(folder, one_never_timed),
        silent=lambda folder: work_of(folder, nothing),
    ),
    "minutes_partly": Planted(
        said=lambda folder: work_of(folder, one_timed_by_half),
        silent=lambda folder: work_of(folder, nothing),
    ),
    "no_price": Planted(
        said=lambda folder: work_of(folder, survivors_alike),
        silent=lambda folder: work_of(folder, nothing),
    ),
    "minutes_beside_main": Planted(
        said=lambda folder: work_of(folder, nothing),
        silent=lambda folder: work_of(folder, minutes_declared),
    ),
}


@pytest.mark.parametrize("key", sorted(own_keys(EffortAnswer)))
def test_every_limit_of_its_own_is_said_where_it_is_planted(tmp_path: Path, key: str) -> None:
    check_planted(key, PLANTED, tmp_path)


@pytest.mark.parametrize("key", HEADLINES)
def test_no_headline_claims_a_cause_and_few_speak_of_a_fair_test(key: str) -> None:
    assert not re.search(CAUSE, HEADLINES[key])
    assert ("fair test" in HEADLINES[key]) <= key.startswith("4")
