"""What is said of survival: every template, at every level, and nothing above it."""

from __future__ import annotations

import re
import string
from pathlib import Path

import pytest

from rearkit import compare_survival, read_log
from rearkit.answers.survival.words import HEADLINES
from rearkit.batch.remark import Remark
from rearkit.words import numbers
from rearkit.words.comparisons import CLAIMS
from rearkit.words.remarks import SENTENCES, sentence
from tests.logs import batch, day, split_trial, trial_of, write_log

# words that claim more than the level allows (levels 0 to 4)
CAUSE = r"\b(because|causes?|caused|thanks to|due to|improves?|helps|proves?|proven)\b"
GENERAL = r"\b(better|worse) (survival )?than\b"


@pytest.mark.parametrize("key", HEADLINES)
def test_no_headline_claims_a_cause(key: str) -> None:
    assert not re.search(CAUSE, HEADLINES[key])


@pytest.mark.parametrize("key", [k for k in HEADLINES if k.endswith(".open")])
def test_what_is_open_says_so(key: str) -> None:
    text = HEADLINES[key].lower()
    assert "not settle" in text
    assert "no difference" not in text


@pytest.mark.parametrize(
    ("level", "words"),
    [(0, "nothing"), (1, "pattern"), (2, "association"), (3, "hint"), (4, "fair test")],
)
def test_every_level_has_its_word(level: int, words: str) -> None:
    assert words in CLAIMS[level]
    for higher in ("association", "hint", "fair test"):
        if higher != words and level < 2:
            assert higher not in CLAIMS[level]


def test_only_the_highest_level_speaks_of_a_fair_test() -> None:
    for key, text in HEADLINES.items():
        assert ("fair test" in text) == key.startswith("4")


def test_every_remark_can_be_said() -> None:
    for key, template in SENTENCES.items():
        fields = [f for _, f, _, _ in string.Formatter().parse(template) if f]
        text = template.format(**dict.fromkeys(fields, "x"))
        assert text.endswith((".", "'.")), key
        assert "{" not in text


PLANTED = {
    "aliased": "shelf",
    "assigned_unknown": "does not say how the methods were dealt out",
    "missing_differs": "vanished without a body differs",
    "plan_after_start": "may have been made to fit",
    "late_first_count": "compared from day 4 on",
    "shared_water": "share water",
    "start_unknown": "How many fry started is not known",
    "no_final_count": "Nobody counted all the fish",
    "ill_removed": "sick or runts",
    "count_ranges": "Start counts are ranges",
    "batch_stopped": "contradict each other",
}


def planted_log(folder: Path, what: str):
    """Write a fair 4 v 4 trial with one thing planted in it (or nothing)."""
    rows, daily = [], []
    for i in range(4):
        for arm, left in (("open", 24), ("shaded", 30)):
            row = batch(
                f"{arm}{i}",
                40,
                left + i,
                method=arm,
                clutch=f"{arm}{i}",
                how_assigned="random draw",
                place=f"shelf {i % 2}, {arm}",
                hatched=day(0),
                water="own",
            )
            dead = 16 - i if arm == "open" else 10 - i
            rows.append(row)
            daily.append({"date": day(5), "batch": f"{arm}{i}", "dead": dead})
    trial = {"usual": "open", "tested": "shaded", "judged_on_day": 28}
    trial |= {"plan_written_on": day(-1), "looks_planned": 1, "exclusions": "leaks"}
    if what in PLANTS:
        PLANTS[what](rows, daily, trial)
    return read_log(write_log(folder, batches=rows, daily=daily, trial=trial))


def _one_shelf_a_method(rows, daily, trial) -> None:
    for row in rows:
        row["place"] = f"{row['method']} shelf"


def _unknown_draw(rows, daily, trial) -> None:
    for row in rows:
        row["how_assigned"] = ""


def _few_bodies_in_the_open(rows, daily, trial) -> None:
    for entry in daily:
        entry["dead"] = 2 if entry["batch"].startswith("open") else entry["dead"]


def _one_sump(rows, daily, trial) -> None:
    rows[0]["water"] = rows[2]["water"] = "sump"


def _never_counted_at_the_end(rows, daily, trial) -> None:
    rows[0].update(end_count="", ended="", end_reason="")
    daily.append({"date": day(28), "batch": rows[0]["batch"], "dead": 0})


def _sick_taken_out(rows, daily, trial) -> None:
    rows[0]["end_count"] = 20
    taken = {"removed": 4, "removed_why": "sick"}
    daily.append({"date": day(6), "batch": rows[0]["batch"]} | taken)


PLANTS = {
    "aliased": _one_shelf_a_method,
    "assigned_unknown": _unknown_draw,
    "missing_differs": _few_bodies_in_the_open,
    "plan_after_start": lambda rows, daily, trial: trial.update(plan_written_on=day(3)),
    "late_first_count": lambda rows, daily, trial: rows[0].update(started=day(4)),
    "shared_water": _one_sump,
    "start_unknown": lambda rows, daily, trial: rows[0].update(start_count="unknown"),
    "no_final_count": _never_counted_at_the_end,
    "ill_removed": _sick_taken_out,
    "count_ranges": lambda rows, daily, trial: rows[0].update(start_count="38-44"),
    "batch_stopped": lambda rows, daily, trial: rows[0].update(end_count=60),
}


@pytest.mark.parametrize("what", PLANTED)
def test_what_is_planted_is_said_and_nothing_else(tmp_path: Path, what: str) -> None:
    answer = compare_survival(planted_log(tmp_path / "l", what))
    said = " ".join(answer.limits)
    assert PLANTED[what] in said
    for other, words in PLANTED.items():
        if other != what and (other, what) != ("no_final_count", "start_unknown"):
            assert words not in said, other


def test_a_fair_trial_has_nothing_to_confess(tmp_path: Path) -> None:
    answer = compare_survival(planted_log(tmp_path / "l", "nothing"))
    assert answer.claim.level == 4
    assert not any(words in " ".join(answer.limits) for words in PLANTED.values())


def test_an_unknown_code_is_an_error() -> None:
    with pytest.raises(KeyError, match="no such code"):
        sentence(Remark(code="no such code"))


@pytest.mark.parametrize(
    ("usual", "tested", "start"),
    [
        ([0.5], [0.8], "This shaded batch did better"),
        ([0.5, 0.6], [0.8, 0.9], "A pattern, not more"),
        ([0.5, 0.5], [0.5, 0.5], "No pattern to speak of"),
        ([0.2, 0.25, 0.3], [0.8, 0.85, 0.75], "A hint"),
        ([0.5, 0.52, 0.55], [0.5, 0.58, 0.6], "Not settled"),
    ],
)
def test_headlines_by_size(tmp_path: Path, usual: list, tested: list, start: str) -> None:
    assert compare_survival(trial_of(tmp_path / "l", usual, tested)).headline.startswith(start)


def test_markup_from_a_log_is_escaped(tmp_path: Path) -> None:
    rows = [batch("<script>alert(1)</script>", 40, 30), batch("B", 40, 20)]
    answer = compare_survival(read_log(write_log(tmp_path / "l", batches=rows)))
    assert "<script>" not in answer._repr_html_()
    assert "<script>" not in answer.readable()._repr_html_()
    assert "<script>" not in answer.figure().html()


@pytest.mark.parametrize(
    ("x", "text"),
    [(0.1, "2"), (-0.1, "2"), (0.05, "1"), (0.02, "0.4"), (0.5, "10")],
)
def test_out_of_20(x: float, text: str) -> None:
    assert numbers.of_20(x) == text


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (0.05, 0.25, "1 to 5 more"),
        (-0.25, -0.05, "1 to 5 fewer"),
        (-0.1, 0.2, "from 2 fewer to 4 more"),
        (float("-inf"), 0.2, "no finite range at this size"),
    ],
)
def test_ranges_of_20(low: float, high: float, text: str) -> None:
    assert numbers.span_of_20(low, high) == text


def test_split_clutches_are_named(tmp_path: Path) -> None:
    values = [0.5, 0.6, 0.7, 0.5, 0.6, 0.7]
    answer = compare_survival(split_trial(tmp_path / "l", values, [v + 0.2 for v in values]))
    assert "6 split clutches" in answer.headline
