from __future__ import annotations

import json
import math

from rearkit.report.collect import (
    ANSWER,
    answers_of,
    gather,
    plain_json,
    results_text,
    without_answers,
)


def shows(*data: dict) -> dict:
    outputs = [{"output_type": "display_data", "data": dict(one)} for one in data]
    return {"cells": [{"cell_type": "markdown"}, {"cell_type": "code", "outputs": outputs}]}


def test_answers_come_out_in_the_order_they_were_shown() -> None:
    notebook = shows(
        {"text/html": "x", ANSWER: {"name": "b", "facts": {"n": 2}}},
        {"text/plain": "no answer"},
        {ANSWER: {"name": "a", "facts": {"n": math.nan}}},
    )
    assert answers_of(notebook) == [("b", {"n": 2}), ("a", {"n": None})]


def test_a_stream_holds_no_answer() -> None:
    stream = {"output_type": "stream", "name": "stdout", "text": "words"}
    assert answers_of({"cells": [{"cell_type": "code", "outputs": [stream]}]}) == []


def test_no_answer_is_lost_when_a_name_comes_twice() -> None:
    first, second = {"day": 28}, {"day": 14}
    answers, pages = gather(
        {
            "one": [("survival", first), ("survival", second), ("survival", first)],
            "two": [("survival", second), ("growth", {})],
            "three": [],
        }
    )
    assert answers == {"survival": first, "survival_2": second, "growth": {}}
    assert pages == {
        "one": ["survival", "survival_2"],
        "two": ["growth", "survival_2"],
        "three": [],
    }


def test_facts_are_taken_off_before_the_page_is_made() -> None:
    stripped = without_answers(
        shows({"text/html": "x", ANSWER: {}}, {ANSWER: {}}, {"text/plain": "y"})
    )
    assert [out["data"] for out in stripped["cells"][1]["outputs"]] == [
        {"text/html": "x"},
        {"text/plain": "y"},
    ]


def test_numbers_that_are_not_finite_become_null_and_the_rest_keeps_every_digit() -> None:
    value = {1: (math.inf, -math.inf, math.nan, 1 / 3, 7), "t": True, "none": None}
    assert plain_json(value) == {"1": [None, None, None, 1 / 3, 7], "t": True, "none": None}


def test_results_are_written_with_sorted_keys_and_read_back_unchanged() -> None:
    results = {"b": {"é": 0.1 + 0.2, "a": [1]}, "a": math.nan}
    text = results_text(results)
    assert text.index('"a"') < text.index('"b"')
    assert "é" in text
    assert text.endswith("}\n")
    assert json.loads(text) == {"a": None, "b": {"a": [1], "é": 0.30000000000000004}}
