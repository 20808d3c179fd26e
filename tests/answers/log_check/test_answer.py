"""Is the log fit to be asked anything? What is found, what the layout cannot tell, the verdict."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from rearkit import LogCheckAnswer, check_log, read_log
from tests.logs import day, fair_sheets, write_log


def checked(folder: Path, **cells: object) -> LogCheckAnswer:
    """Check a fair trial with some cells of its first batch changed."""
    sheets = fair_sheets()
    sheets["batches"][0] |= cells
    return check_log(read_log(write_log(folder, **sheets)))


def codes(answer: LogCheckAnswer) -> set[str]:
    return set(answer.findings["code"])


def test_a_fair_log_adds_up_and_has_nothing_to_ask(tmp_path: Path) -> None:
    answer = checked(tmp_path)
    assert answer.headline == "The log adds up: 8 batches, nothing to ask."
    assert answer.exit_code == 0
    assert answer.facts()["batches_stopped"] == []
    assert not {"cannot-be-told-apart", "first-count-later", "layout"} & codes(answer)


def test_a_batch_that_contradicts_itself_is_stopped_and_named(tmp_path: Path) -> None:
    answer = checked(tmp_path, end_count=60)
    assert answer.stopped == ("open0",)
    assert "batch open0 left out" in answer.headline
    assert answer.exit_code == 1
    assert any("contradict each other" in text for text in answer.limits)
    assert answer.findings["severity"].iloc[0] == "STOP"


def test_a_late_first_count_is_noted_with_the_day_that_all_are_compared_from(
    tmp_path: Path,
) -> None:
    answer = checked(tmp_path, started=day(4))
    assert "first-count-later" not in codes(answer)  # one container of four: the method is not late
    sheets = fair_sheets()
    for row in sheets["batches"]:
        row["started"] = day(4) if row["method"] == "open" else row["started"]
    late = check_log(read_log(write_log(tmp_path / "late", **sheets))).findings
    (row,) = late[late["code"] == "first-count-later"].to_dict("records")
    assert row["severity"] == "NOTE"
    assert "open from day 4 and shaded from day 0" in row["seen"]
    assert "from day 4 on" in row["done"]


def test_what_goes_with_a_method_is_noted(tmp_path: Path) -> None:
    sheets = fair_sheets()
    for row in sheets["batches"]:
        row["place"] = f"{row['method']} shelf"
    found = check_log(read_log(write_log(tmp_path, **sheets))).findings
    (row,) = found[found["code"] == "cannot-be-told-apart"].to_dict("records")
    assert "share one shelf" in row["seen"]


def test_a_layout_that_cannot_be_found_is_told_and_not_raised(tmp_path: Path) -> None:
    sheets = fair_sheets()
    sheets["trial"]["compare"] = "colour of the lid"
    answer = check_log(read_log(write_log(tmp_path, **sheets)))
    assert answer.design is None
    assert "no column" in answer.trouble
    assert "layout" in codes(answer)


@pytest.mark.parametrize(("severity", "code"), [("STOP", 1), ("ASK", 1), ("FIX", 0), ("NOTE", 0)])
def test_the_command_ends_with_one_for_questions_and_stops_alone(
    tmp_path: Path, severity: str, code: int
) -> None:
    answer = checked(tmp_path)
    found = replace(answer, findings=pd.DataFrame({"severity": [severity]}))
    assert found.exit_code == code
    assert found.facts()[f"n_{severity.lower()}"] == 1
