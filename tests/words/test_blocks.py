"""Paragraphs, lists, boxes and tables: text in, escaped HTML out."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from rearkit.words.blocks import (
    AnswerBox,
    Groups,
    Prose,
    ReadableTable,
    counted,
    listed_prose,
    summary_html,
)

BAD, ESCAPED = "<b>&", "&lt;b&gt;&amp;"


@pytest.mark.parametrize(
    ("block", "html"),
    [
        (Prose(paragraphs=[BAD]), f"<p>{ESCAPED}</p>"),
        (Prose(paragraphs=["a"], items=[BAD]), f"<p>a</p><ul><li>{ESCAPED}</li></ul>"),
        (
            AnswerBox(lines=[(BAD, BAD)]),
            f'<div class="answer box"><dl><dt>{ESCAPED}</dt><dd>{ESCAPED}</dd></dl></div>',
        ),
        (Groups(groups=[(BAD, [BAD])]), f"<h4>{ESCAPED}</h4><ul><li>{ESCAPED}</li></ul>"),
    ],
)
def test_text_is_escaped(block: Prose | AnswerBox | Groups, html: str) -> None:
    assert block._repr_html_() == html


def test_a_table_is_escaped_with_its_headings_and_caption() -> None:
    table = ReadableTable(frame=pd.DataFrame({BAD: [BAD, None]}), caption=BAD)
    html = table._repr_html_()
    assert f"<caption>{ESCAPED}</caption><thead>" in html
    assert f"<th>{ESCAPED}</th>" in html
    assert f"<td>{ESCAPED}</td>" in html
    assert "<td></td>" in html
    assert BAD not in html


def test_one_sentence_is_a_paragraph_and_several_are_a_list() -> None:
    assert listed_prose(["a"]).paragraphs == ["a"]
    assert listed_prose(["a", "b"]).items == ["a", "b"]


def test_an_answer_without_limits_has_no_list_of_them() -> None:
    assert "limits" not in summary_html(BAD, ())
    assert f"<li>{ESCAPED}</li>" in summary_html("a", (BAD,))


@pytest.mark.parametrize(
    ("low", "best", "high", "text"),
    [(33, 33, 33, "33"), (30, 33, 36, "30 to 36"), (math.nan, math.nan, math.nan, "not known")],
)
def test_a_count_with_its_range(low: float, best: float, high: float, text: str) -> None:
    row = pd.Series({"start_low": low, "start_best": best, "start_high": high})
    assert counted(row, "start") == text
