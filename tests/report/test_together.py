"""What a page says of all its answers together."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path

import pytest

from rearkit import compare_effort, compare_survival, keep, limits_of, provenance, read_log
from rearkit.answers.answer import ANSWER_MIME
from tests.logs import fair_sheets, write_log


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory):
    sheets = fair_sheets()
    sheets["trial"]["plan_written_on"] = ""
    return read_log(write_log(tmp_path_factory.mktemp("log"), **sheets))


def test_no_limit_is_listed_twice_and_an_answer_without_one_has_no_list(log) -> None:
    survival, effort = compare_survival(log), compare_effort(log)
    listed = limits_of(survival=survival, the_work=effort, survival_again=survival)
    assert [name for name, _ in listed.groups] == ["Survival", "The work"]
    texts = [text for _, items in listed.groups for text in items]
    assert len(set(texts)) == len(texts)
    assert set(texts) == {*survival.limits, *effort.limits}


def test_facts_are_handed_on_and_nothing_is_shown(log, monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[dict] = []
    monkeypatch.setattr("IPython.display.publish_display_data", shown.append)
    answer = compare_survival(log)
    keep(answer, answer)
    assert shown == [{ANSWER_MIME: answer.kept()}] * 2


def test_a_page_says_what_it_was_made_from_without_a_path_or_a_time(log) -> None:
    table = provenance(log, {"day": None, "seed": 3}).frame.set_index("what")["value"]
    assert table["log"] == Path(log.path).name
    assert table["sha256 of the log"] == log.sha256
    assert table["setting day"] == "as the Trial sheet says"
    assert table["setting seed"] == "3"
    assert table["version of numpy"] == version("numpy")
    assert not [text for text in table if str(Path(log.path).parent) in text]
