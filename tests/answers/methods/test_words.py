"""What is said of methods: no answer above its level, a step down for what is planted."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from rearkit import Logbook, compare_effort, compare_methods, read_log
from rearkit.answers.methods.words import MARGIN
from rearkit.design.claims import Claim
from rearkit.words import comparisons
from tests.answers.claim_levels import NEVER, above
from tests.logs import day, fair_sheets, write_log

Change = Callable[[dict[str, Any]], None]


def fair_log(folder: Path, change: Change = lambda sheets: None) -> Logbook:
    """Write a fair 4 v 4 trial in which every death was found, and plant one thing in it."""
    sheets = fair_sheets()
    sheets["trial"] |= {"main_outcome": "survival", "exclusions": ""}
    for i, left in enumerate((20, 31) * 4):
        sheets["batches"][i]["end_count"] = left + i // 2
        sheets["daily"][i]["dead"] = 40 - left - i // 2
    change(sheets)
    return read_log(write_log(folder, **sheets))


@pytest.mark.parametrize("key", MARGIN)
def test_only_a_fair_test_calls_methods_as_good_as_each_other(key: str) -> None:
    says_so = re.search(r"no worse|neither better nor worse", MARGIN[key])
    assert bool(says_so) == key.endswith(".fair")
    assert not re.search(NEVER, MARGIN[key])


@pytest.mark.parametrize("level", range(5))
@pytest.mark.parametrize("settled", [True, False])
def test_no_answer_speaks_above_a_level_it_is_held_to(
    tmp_path: Path, level: int, settled: bool
) -> None:
    log = fair_log(tmp_path / "l")
    held = Claim(level=level, before=4, downgrades=())
    answer = compare_methods(log)
    first = answer.contrasts[0]
    main = replace(first.main, p_value=0.01 if settled else 0.5)
    first = replace(first, claim=held, outcomes=(main, *first.outcomes[1:]))
    answer = replace(answer, contrasts=(first,))
    work = replace(compare_effort(log), claim=held)
    said = [answer.headline, *answer.say("certainty").paragraphs]
    said += [*answer.say("margin").paragraphs, answer.figure().alt]
    for text in said:
        text = re.sub(r"of 20 fry in the work.*|'no difference'|as good as each other", "", text)
        text = re.sub(r"work(, minutes)?", "", text)
        assert not above(text.replace("No pattern", ""), level), text
    assert not above(re.sub(r"\bwork\b", "", work.headline), level), work.headline


def _shelf(sheets: dict[str, Any]) -> None:
    for row in sheets["batches"]:
        row["place"] = f"{row['method']} shelf"


def _choice(sheets: dict[str, Any]) -> None:
    for row in sheets["batches"]:
        row["how_assigned"] = "my choice"


def _clock(sheets: dict[str, Any]) -> None:
    sheets["trial"]["age_from"] = "hatch"
    sheets["batches"][0] |= {"hatched": "", "started": day(0)}


def _one_missing(sheets: dict[str, Any]) -> None:
    sheets["batches"][0]["end_count"] = 18


PLANTS: dict[str, tuple[Change, str]] = {
    "aliased": (_shelf, "could not be told apart|cannot be told apart"),
    "not_random": (_choice, "not dealt out by a random draw"),
    "unequal_clocks": (_clock, "counted from another event"),
    "plan_after_start": (lambda s: s["trial"].update(plan_written_on=day(2)), "made to fit"),
    "day_not_declared": (
        lambda s: s["trial"].update(judged_on_day=""),
        "judging day was not declared",
    ),
    "missing_fish": (_one_missing, "vanished without a body; they are counted as dead"),
    "main_not_declared": (
        lambda s: s["trial"].update(main_outcome=""),
        "No main outcome was declared",
    ),
}
STEPS = ("unequal_clocks", "plan_after_start", "day_not_declared")


@pytest.mark.parametrize("what", PLANTS)
def test_what_is_planted_is_said_and_nothing_else(tmp_path: Path, what: str) -> None:
    plant, words = PLANTS[what]
    answer = compare_methods(fair_log(tmp_path / "l", plant))
    said = " ".join(answer.limits)
    assert re.search(words, said)
    for other, (_, others) in PLANTS.items():
        if other != what:
            assert not re.search(others, said), other
    c = answer.first
    assert c is not None
    assert (what in c.claim.downgrades) == (what in STEPS)
    if what in STEPS:
        assert comparisons.STEPS[what] in " ".join(answer.say("certainty").paragraphs)
        assert c.claim.level == 3


def test_a_fair_trial_takes_no_step_down(tmp_path: Path) -> None:
    answer = compare_methods(fair_log(tmp_path / "l"))
    said = " ".join(answer.limits)
    assert answer.facts()["claim_level"] == 4
    assert answer.facts()["downgrades"] == []
    assert not [code for code, (_, words) in PLANTS.items() if re.search(words, said)]
    assert "Taken down by" not in " ".join(answer.say("certainty").paragraphs)


@pytest.mark.parametrize(
    ("settings", "step", "level", "words"),
    [
        # a day set for the run; one below the declared day would be an interim look
        ({"day": 29.0}, "day_not_declared", 3, "no judging day declared beforehand"),
        ({"main_outcome": "minutes"}, "outcome_changed", 3, "other than the declared one"),
    ],
)
def test_another_outcome_or_day_costs_one_step(
    tmp_path: Path, settings: dict, step: str, level: int, words: str
) -> None:
    answer = compare_methods(fair_log(tmp_path / "l"), **settings)
    assert answer.facts()["downgrades"] == [step]
    assert answer.facts()["claim_level"] == level
    assert words in " ".join(answer.say("certainty").paragraphs)


def test_a_look_more_than_planned_costs_a_step(tmp_path: Path) -> None:
    log = fair_log(tmp_path / "l")
    answer = compare_methods(log, earlier_looks=1)
    assert answer.facts()["downgrades"] == ["unplanned_look"]
    assert any("look 2" in text for text in answer.limits)
    work = compare_effort(log, earlier_looks=1)
    assert work.facts()["downgrades"] == ["unplanned_look"]
