"""A comparison in words, and never above its level."""

from __future__ import annotations

from pathlib import Path

import pytest

from rearkit import compare_survival
from rearkit.design import sensitivity
from rearkit.design.claims import Claim
from rearkit.words.comparisons import (
    CLAIMS,
    STEPS,
    WAYS,
    claim_words,
    days_of,
    p_or_why,
    units_of,
    way_words,
)
from rearkit.words.remarks import SENTENCES
from tests.logs import split_trial, trial_of


@pytest.mark.parametrize(
    ("level", "words"),
    [(0, "nothing"), (1, "too little"), (2, "association"), (3, "hint"), (4, "fair test")],
)
def test_every_level_has_its_word(level: int, words: str) -> None:
    assert words in CLAIMS[level]
    for higher in ("association", "hint", "fair test"):
        if higher != words and level < 2:
            assert higher not in CLAIMS[level]


def test_every_step_down_is_named_and_has_a_limit_of_its_own() -> None:
    steps = tuple(STEPS)
    said = claim_words(Claim(level=1, before=4, downgrades=steps))
    assert said.startswith(CLAIMS[1])
    assert all(words in said for words in STEPS.values())
    assert set(steps) <= set(SENTENCES)
    assert claim_words(Claim(level=4, before=4, downgrades=())) == CLAIMS[4]


def test_every_way_of_counting_has_its_words() -> None:
    assert set(WAYS) == set(sensitivity.WAYS) | {"worst", "best"}
    assert (
        way_words("lean_usual", "the usual food", "the tested") == "counts lean to the usual food"
    )


def test_units_and_days_are_said(tmp_path: Path) -> None:
    split = compare_survival(split_trial(tmp_path / "a", [0.5, 0.6], [0.7, 0.8]))
    assert units_of(split.design) == "2 split clutches"
    assert days_of(split.day) == "up to day 28"
    whole = compare_survival(trial_of(tmp_path / "b", [0.5, 0.6], [0.7, 0.8, 0.9]))
    assert units_of(whole.design) == "3 against 2 clutches"


@pytest.mark.parametrize(
    ("usual", "tested", "words"),
    [
        ([0.5], [0.8], "With one unit of a method no test is possible."),
        ([0.5, 0.6], [0.8, 0.9], "comes up by chance in 1 in 3 trials"),
        ([0.5, 0.6, 0.7], [0.5, 0.6, 0.7], "not settled, which is not the same as 'no difference'"),
        ([0.4, 0.5, 0.45, 0.5], [0.8, 0.9, 0.85, 0.9], "p = .029 (exact arrangements; 70 ways"),
    ],
)
def test_a_p_or_why_there_is_none(
    tmp_path: Path, usual: list[float], tested: list[float], words: str
) -> None:
    answer = compare_survival(trial_of(tmp_path, usual, tested))
    assert answer.comparison is not None
    assert words in p_or_why(answer.design, answer.comparison)
