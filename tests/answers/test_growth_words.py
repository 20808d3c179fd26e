"""What is said of growth and moving never goes above its claim level, and reads as words."""

from __future__ import annotations

import re
import string
from dataclasses import replace
from pathlib import Path

import pytest

from rearkit import compare_growth
from rearkit.answers.growth import words as growth
from rearkit.answers.growth.answer import GrowthAnswer
from rearkit.answers.growth.words import HEADLINES, headline
from rearkit.answers.moving import words as moving
from rearkit.batch.remark import Remark
from rearkit.design.claims import Claim
from rearkit.words.remarks import sentence
from tests.answers.growth_logs import lines_log

SLOPES = {f"open{i}": 0.20 + 0.01 * i for i in range(1, 5)}
SLOPES |= {f"shaded{i}": 0.26 + 0.01 * i for i in range(1, 5)}
CAUSAL = ("fair test", "settled whether", "made", "because", "helped", "helps", "better")


@pytest.fixture
def answer(tmp_path: Path) -> GrowthAnswer:
    return compare_growth(lines_log(tmp_path / "l", SLOPES), curve="line")


@pytest.mark.parametrize("level", [1, 2, 3, 4])
def test_headlines_stay_at_their_level(answer: GrowthAnswer, level: int) -> None:
    told = headline(replace(answer, claim=Claim(level=level, before=4, downgrades=())))
    assert "{" not in told
    assert "mm" in told
    assert "Alive by then: 15 of 20" in told
    if level < 4:
        assert "fair test" not in told
    if level < 3:
        assert "A hint" not in told
    starts = {1: "A pattern, not more", 2: "On day 28, fry", 3: "A hint", 4: "On day 28, fry"}
    assert told.startswith(starts[level])
    if level == 2:
        assert "cannot be told" in told


def test_no_template_below_a_fair_test_speaks_of_causes() -> None:
    for key, text in HEADLINES.items():
        if key.startswith("4") or key == "2.settled":
            continue
        assert not [word for word in CAUSAL if word in text], key


def test_every_limit_can_be_said() -> None:
    values = {
        "batches": ["A", "B"],
        "units": ["A"],
        "day": 28.0,
        "wanted": 60.0,
        "main": "survival",
        "low": -0.5,
        "high": 0.4,
        "most": 0.4,
        "usual": "open",
        "tested": "shaded",
        "litre_usual": 2.0,
        "litre_tested": 3.0,
        "curve": "von_bertalanffy",
        "length": 10.0,
        "b": 4.1,
        "kept": "total",
        "n_fish": 4.0,
        "typical": 0.9,
        "size": 10.0,
    }
    for code, template in growth.SENTENCES.items():
        needed = {name for _, name, _, _ in string.Formatter().parse(template) if name}
        assert needed <= values.keys(), code
        said = sentence(Remark(code=code, values={name: values[name] for name in needed}))
        assert said.endswith("."), code
        assert not re.search(
            r"[{}_]|nan|None",
            said.replace("size_to_move_mm", "").replace("most_fish_per_litre", ""),
        ), said


def test_the_word_extrapolated_stands_wherever_a_day_is_not_measured(
    answer: GrowthAnswer, tmp_path: Path
) -> None:
    later = compare_growth(lines_log(tmp_path / "m", SLOPES), curve="line", day=35.0)
    assert "extrapolated" not in answer.headline
    for text in (later.headline, later.readable()._repr_html_(), " ".join(later.limits)):
        assert "extrapolated" in text
    assert "extrapolated" in later.figure().alt
    assert "extrapolated" in later.figure().caption


def test_moving_headlines_have_no_loose_ends() -> None:
    assert set(moving.BATCH) >= {"crowding", "size_reached", "size_ahead", "none"}
    assert all(text.endswith(".") for text in moving.CAUTIONS)
    assert moving.WINDOW_WORDS == "4 in 5"
