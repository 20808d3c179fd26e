"""What is said of growth never goes above its claim level, and reads as words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from rearkit import compare_growth
from rearkit.answers.growth.answer import GrowthAnswer
from rearkit.answers.growth.words import HEADLINES, headline
from rearkit.design.claims import Claim
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
    starts = {1: "Too little to go on", 2: "On day 28, fry", 3: "A hint", 4: "On day 28, fry"}
    assert told.startswith(starts[level])
    if level == 2:
        assert "cannot be told" in told


def test_no_template_below_a_fair_test_speaks_of_causes() -> None:
    for key, text in HEADLINES.items():
        if key.startswith("4") or key == "2.settled":
            continue
        assert not [word for word in CAUSAL if word in text], key


def test_the_word_extrapolated_stands_wherever_a_day_is_not_measured(
    answer: GrowthAnswer, tmp_path: Path
) -> None:
    later = compare_growth(lines_log(tmp_path / "m", SLOPES), curve="line", day=35.0)
    assert "extrapolated" not in answer.headline
    for text in (later.headline, later.readable()._repr_html_(), " ".join(later.limits)):
        assert "extrapolated" in text
    assert "extrapolated" in later.figure().alt
    assert "extrapolated" in later.figure().caption
