"""The keeper's minutes: from the log file to the sentence, the level and the number."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from rearkit import compare_effort, compare_methods, compare_survival, read_log
from tests.evidence.test_readings import BAD, GOOD, six_against_six
from tests.evidence.trials import log_of, tub, visits

MINUTES = {"open": (5, 6, 7, 5, 6, 7), "shade": (9, 10, 11, 9, 10, 11)}
DEMO = Path(__file__).parents[2] / "data_templates" / "demo_parents_or_hand.xlsx"
MAIN = {"main_outcome": "minutes"}


def timed(**more: object) -> list[dict[str, object]]:
    """Return four timed visits to each of twelve tubs; ten minutes of difference a week."""
    return [
        v
        for arm, first in (("open", "u"), ("shade", "t"))
        for i, m in enumerate(MINUTES[arm])
        for v in visits(f"{first}{i}", [7, 14, 21, 28], minutes=m, **more)
    ]


def test_minutes_that_were_declared_are_tested_over_every_reading(tmp_path: Path) -> None:
    answer = compare_effort(log_of(tmp_path / "a", six_against_six(), timed(), **MAIN))
    assert answer.claim.level == 4
    assert answer.facts()["p_value"] == pytest.approx(2 / math.comb(12, 6))
    assert "took 16 more minutes" in answer.headline
    nested = [r | {"parents": f"{r['method']} {i % 2}"} for i, r in enumerate(six_against_six())]
    coarse = compare_effort(log_of(tmp_path / "b", nested, timed(), **MAIN))
    assert coarse.facts()["p_value"] is None
    assert coarse.claim.level == 1
    assert any("With pairs as the units" in text for text in coarse.limits)


def test_no_more_than_an_association_where_survival_can_be_read_in_two_ways(
    tmp_path: Path,
) -> None:
    batches = [
        row | {"count_how": "eye" if row["method"] == "open" else "photo"}
        for row in six_against_six()
    ]
    log = log_of(tmp_path, batches, timed(), **MAIN)
    assert compare_survival(log).claim.level <= 2
    answer = compare_effort(log)
    assert answer.claim.level == 2
    assert answer.headline.endswith("The two go together; that one made the other cannot be told.")
    assert any("do not say the same of how many fry lived" in text for text in answer.limits)


def test_survivors_are_called_settled_or_not_as_in_the_answer_about_survival(
    tmp_path: Path,
) -> None:
    log = log_of(tmp_path / "a", six_against_six(), timed())
    survival, effort = compare_survival(log), compare_effort(log)
    assert survival.comparison is not None
    assert effort.survival is not None
    assert effort.survival.p_value == survival.comparison.p_value
    assert survival.comparison.settled
    assert effort.price == pytest.approx(16 / (sum(GOOD) / 6 - sum(BAD) / 6))
    assert not any("not settled" in text for text in effort.limits)
    alike = [row | {"end_count": n} for row, n in zip(six_against_six(), [30, 31] * 6, strict=True)]
    open_ = compare_effort(log_of(tmp_path / "b", alike, timed()))
    assert open_.price is None
    assert any("How many more fry lived is not settled" in text for text in open_.limits)


def test_minutes_a_survivor_are_one_number_on_every_page(tmp_path: Path) -> None:
    log = log_of(tmp_path, six_against_six(), timed(feeds=2))
    f = compare_effort(log, older_every_hours=2).facts()
    contrast = compare_methods(log).contrasts[0]
    for name in ("minutes", "minutes_per_survivor"):
        shown = contrast.outcome(name).comparison
        assert shown is not None
        assert shown.mean_usual == f[f"{name}_usual"]
        assert shown.mean_tested == f[f"{name}_tested"]
        assert (shown.conf_low, shown.conf_high) == (
            f[f"{name}_conf_low"],
            f[f"{name}_conf_high"],
        )
    # by hand: 20 to 28 minutes over those alive, the mean of six tubs
    each = [4 * m / n for m, n in zip(MINUTES["open"], BAD, strict=True)]
    assert f["minutes_per_survivor_usual"] == pytest.approx(sum(each) / 6)


def test_a_running_trial_gives_no_verdict_on_the_work(tmp_path: Path) -> None:
    batches = [row | {"ended": "", "end_count": ""} for row in six_against_six()]
    alive = dict(zip([r["batch"] for r in batches], [*BAD, *GOOD], strict=True))
    daily = [v for v in timed() if v["date"] <= "2025-04-15"]
    daily = [v | {"alive": alive[v["batch"]]} for v in daily]
    answer = compare_effort(log_of(tmp_path, batches, daily, **MAIN))
    f = answer.facts()
    assert answer.headline.startswith("Interim look, no verdict")
    assert (f["p_value"], f["minutes_conf_low"], f["minutes_conf_high"]) == (None, None, None)
    assert answer.claim.level <= 1
    assert answer.price is None


def test_two_of_each_are_too_few_to_tell_the_work(tmp_path: Path) -> None:
    batches = [
        tub(n, m, 40, 30, clutch=n) for n, m in zip("abcd", ["open", "shade"] * 2, strict=True)
    ]
    minutes = {"a": 20, "c": 26, "b": 40, "d": 48}
    daily = [v for n, m in minutes.items() for v in visits(n, [7], minutes=m)]
    answer = compare_effort(log_of(tmp_path, batches, daily, **MAIN))
    # by hand: 4.302653 * sqrt((6^2 + 8^2) / 4) = 21.5 minutes
    assert answer.headline.startswith("Too few to tell")
    assert "The clutches with open lay 6 minutes apart" in answer.headline
    assert "chance alone reaches 22 minutes" in answer.headline
    assert answer.small is not None
    assert answer.small.reach == pytest.approx(4.302653 * 5, rel=1e-6)
    assert answer.facts()["p_value"] is None


def test_the_older_way_is_told_only_where_it_is_asked_for_and_fry_were_fed(tmp_path: Path) -> None:
    batches = [
        row | {"method": "parents" if row["method"] == "open" else "hand"}
        for row in six_against_six()
    ]
    daily = [v | {"feeds": 7} if str(v["batch"])[0] == "t" else v for v in timed()]
    log = log_of(tmp_path, batches, daily, usual="parents", tested="hand")
    assert compare_effort(log).older == ()
    answer = compare_effort(log, older_every_hours=2)
    assert [o.method for o in answer.older] == ["hand"]
    said = " ".join(answer.say("older").items)
    assert "less than one a day: parents." in said
    # by hand: 40 minutes in 28 feeds, 12 rounds a day for 28 days
    assert answer.older[0].minutes == pytest.approx(28 * 12 * 40 / 28)


def test_work_on_fry_that_were_moved_is_counted_in_both_containers(tmp_path: Path) -> None:
    batches, daily = [], []
    for arm, n, m in (("open", 30, 5), ("shade", 30, 10)):
        for i in range(4):
            name = f"{arm}{i}"
            batches.append(
                tub(name, arm, 40, 36, clutch=name, ended="2025-04-15", end_reason="moved")
            )
            batches.append(
                tub(f"{name} big", arm, 36, n, clutch=name, from_batch=name)
                | {"started": "2025-04-15"}
            )
            daily += visits(name, [7], minutes=m) + visits(f"{name} big", [21], minutes=m)
    answer = compare_effort(log_of(tmp_path, batches, daily))
    assert answer.minutes is not None
    assert (answer.minutes.mean_usual, answer.minutes.mean_tested) == (10, 20)


@pytest.mark.parametrize("ended", [True, False])
def test_unknown_starts_get_an_answer(tmp_path: Path, ended: bool) -> None:
    batches = [row | {"start_count": ""} for row in six_against_six()]
    if not ended:
        batches = [row | {"ended": "", "end_count": ""} for row in batches]
    log = log_of(tmp_path, batches, [v | {"alive": 20} for v in timed()])
    headline = compare_effort(log).headline
    assert "nan" not in headline
    assert "None" not in headline


def test_broods_left_with_their_parents_are_not_held_against_the_older_way() -> None:
    log = read_log(DEMO)
    answer = compare_effort(log, older_every_hours=2)
    assert [o.method for o in answer.older] == ["hand"]
    assert answer.not_older == ("parents",)
    assert answer.minutes is not None
    assert answer.older[0].own_minutes == answer.minutes.mean_tested
