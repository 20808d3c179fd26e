"""The limits that answers share: whole sentences, their values written for people."""

from __future__ import annotations

import string

import pytest

from rearkit.batch.remark import Remark
from rearkit.words.numbers import NBSP
from rearkit.words.remarks import SENTENCES, WRITTEN, sentence


def test_every_limit_is_a_whole_sentence() -> None:
    for key, template in SENTENCES.items():
        fields = [f for _, f, _, _ in string.Formatter().parse(template) if f]
        text = template.format(**dict.fromkeys(fields, "x"))
        assert text.endswith((".", "'.")), key
        assert "{" not in text


def test_every_way_of_writing_is_used() -> None:
    named = {f for text in SENTENCES.values() for _, f, _, _ in string.Formatter().parse(text) if f}
    assert set(WRITTEN) - named == {"share"}  # what the answers say of their own


def test_an_unknown_code_is_an_error() -> None:
    with pytest.raises(KeyError, match="no such code"):
        sentence(Remark(code="no such code"))


def test_values_are_written_by_their_name_or_type() -> None:
    remark = Remark(code="a", values={"share": 0.123, "names": ["b", "c"], "x": 2.04, "none": None})
    said = sentence(remark, {"a": "{share}; {names}; {x}; {none}"})
    assert said == f"12{NBSP}%; b and c; 2; not known"


def test_a_variant_has_a_sentence_of_its_own() -> None:
    sentences = {"a": "one", "a.other": "two"}
    assert sentence(Remark(code="a"), sentences) == "one"
    assert sentence(Remark(code="a", variant="other"), sentences) == "two"
