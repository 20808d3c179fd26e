"""What every answer has in common, asked of every answer on a demo log."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

import rearkit
from rearkit.answers.answer import Answer, json_safe
from rearkit.errors import UnknownPart
from rearkit.pictures.picture import Picture
from rearkit.words.blocks import AnswerBox, Groups, Prose, ReadableTable
from tests.logs import batch, write_log

DEMO = Path(__file__).parents[2] / "data_templates" / "demo_shade_trial.xlsx"
QUESTIONS = {
    name: getattr(rearkit, name)
    for name in (
        "check_log",
        "compare_effort",
        "compare_growth",
        "compare_methods",
        "compare_survival",
        "cost_of_interruption",
        "describe_trial",
        "use_of_place",
        "when_to_move",
    )
}
SHOWN = {"say": (Prose, AnswerBox, Groups), "readable": ReadableTable, "figure": Picture}


@cache
def answer_to(question: str) -> Answer:
    answer: Answer = QUESTIONS[question](demo())
    return answer


@cache
def demo() -> rearkit.Logbook:
    return rearkit.read_log(DEMO)


each_answer = pytest.mark.parametrize("question", QUESTIONS)


def test_every_kind_of_answer_is_asked_here() -> None:
    listed = {name for name in rearkit.__all__ if name.endswith("Answer")}
    assert {type(answer_to(question)).__name__ for question in QUESTIONS} == listed


@each_answer
def test_every_part_that_is_listed_can_be_asked_for(question: str) -> None:
    answer = answer_to(question)
    parts = answer.parts()
    assert set(parts) == set(SHOWN)
    assert parts["say"][:2] == ["headline", "limits"]
    assert "main" in parts["readable"]
    assert "main" in parts["figure"]
    for asked, names in parts.items():
        assert len(set(names)) == len(names)
        for name in names:
            shown = getattr(answer, asked)(name)
            assert isinstance(shown, SHOWN[asked])
            assert len(shown._repr_html_()) > 20


@each_answer
@pytest.mark.parametrize("asked", SHOWN)
def test_a_wrong_name_says_which_parts_there_are(question: str, asked: str) -> None:
    answer = answer_to(question)
    names = answer.parts()[asked]
    ask: Callable = getattr(answer, asked)
    with pytest.raises(UnknownPart, match=f"no part 'shoe size' for {asked}") as told:
        ask("shoe size")
    assert f"It has: {', '.join(names)}." in str(told.value)
    for name in names:
        with pytest.raises(UnknownPart, match=f"Did you mean '{name}'"):
            ask(f"{name}_")


@each_answer
def test_it_is_told_in_one_line(question: str) -> None:
    answer = answer_to(question)
    told = repr(answer)
    assert told == f"{type(answer).__name__}('demo_shade_trial': {answer.headline})"
    assert "\n" not in told
    assert len(told) < 500


@each_answer
def test_its_numbers_are_plain_json_and_its_sentences_stand_alone(question: str) -> None:
    answer = answer_to(question)
    kept = answer.kept()
    assert json.loads(json.dumps(kept, allow_nan=False)) == kept
    assert kept["facts"] == json_safe(answer.facts()) | {"headline": answer.headline}
    assert len(answer.table()) > 0
    for text in (answer.headline, *answer.limits):
        assert text == text.strip()
        assert "  " not in text
        assert text.endswith((".", "'"))
        assert not any(wrong in text for wrong in ("{", "None", "nan", "NaT"))
    assert len(set(answer.limits)) == len(answer.limits)


def test_markup_from_a_log_is_escaped_whatever_is_asked(tmp_path: Path) -> None:
    markup = "<script>alert(1)</script>"
    rows = [batch(markup, 40, 30, note=markup), batch("B", 40, 20)]
    log = rearkit.read_log(write_log(tmp_path, batches=rows, trial={"title": markup}))
    for ask in QUESTIONS.values():
        answer = ask(log)
        assert "<script>" not in answer._repr_html_()
        for asked, names in answer.parts().items():
            for name in names:
                shown = getattr(answer, asked)(name)
                assert "<script>" not in shown._repr_html_(), (answer.key, asked, name)
