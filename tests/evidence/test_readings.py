"""What a log cannot show reaches no verdict: every reading, from the log file to the sentence."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from rearkit import SurvivalAnswer, compare_survival
from tests.evidence.trials import log_of, tub, visits

GOOD, BAD = (34, 33, 35, 32, 36, 34), (22, 21, 23, 20, 24, 19)


def six_against_six(**more: object) -> list[dict[str, object]]:
    """Six usual and six tested tubs, a clutch each, all counted on the judging day."""
    usual = [tub(f"u{i}", "open", 40, n, clutch=f"U{i}", **more) for i, n in enumerate(BAD)]
    return usual + [
        tub(f"t{i}", "shade", 40, n, clutch=f"T{i}", **more) for i, n in enumerate(GOOD)
    ]


def codes(answer: SurvivalAnswer) -> list[str]:
    return [r.code for r in answer.remarks if r.code.startswith("reading_")]


def readings(answer: SurvivalAnswer) -> dict[str, dict[str, object]]:
    return {r["reading"]: r for r in answer.facts()["readings"]}


def test_a_counted_trial_dealt_out_by_lot_stays_settled(tmp_path: Path) -> None:
    answer = compare_survival(log_of(tmp_path, six_against_six()))
    assert answer.comparison is not None
    assert answer.claim.level == 4
    assert answer.comparison.p_value == pytest.approx(2 / math.comb(12, 6))
    assert list(readings(answer)) == ["as_counted"]
    assert "in a fair test of 6 against 6 clutches" in answer.headline


def test_no_final_count_is_no_fair_test(tmp_path: Path) -> None:
    batches = [row | {"end_count": ""} for row in six_against_six()]
    daily = [v for i in range(6) for v in visits(f"u{i}", [5, 10, 15], dead=5)]
    daily += [v for i in range(6) for v in visits(f"t{i}", [5, 10, 15], dead=1)]
    answer = compare_survival(log_of(tmp_path, batches, daily))
    assert "not settled" in answer.headline
    assert answer.claim.level <= 2
    assert codes(answer)[0] == "reading_open_units"
    assert "Count every fish on the day" in answer.limits[0]
    assert set(answer.by_unit["grade"]) == {"not_counted"}
    assert answer.by_unit["count_low"].eq(0).all()


def test_tubs_stopped_with_almost_none_alive_stay_in(tmp_path: Path) -> None:
    batches = six_against_six()
    for row in batches[:3]:
        row |= {"ended": "2025-04-11", "end_count": 1, "end_reason": "welfare stop"}
    answer = compare_survival(log_of(tmp_path, batches))
    assert len(answer.by_unit) == 12
    assert answer.by_unit.set_index("unit").loc["U0", "grade"] == "stopped"
    assert answer.comparison is not None
    assert answer.comparison.estimate > 0.3
    assert answer.comparison.settled  # whatever became of so few, it stays


def test_a_day_before_the_day_speaks_for_it(tmp_path: Path) -> None:
    batches = six_against_six()
    for row in batches[:-1]:
        row |= {"ended": "2025-04-28"}  # day 27 of 28
    answer = compare_survival(log_of(tmp_path, batches))
    assert len(answer.by_unit) == 12
    assert answer.day.day == 27
    assert answer.claim.level == 4
    assert any("judged on day 27" in text for text in answer.limits)


@pytest.mark.parametrize(
    ("more", "setting"), [({"judged_on_day": ""}, None), ({}, 14.0)], ids=["no day", "early day"]
)
def test_a_running_trial_gets_no_verdict(
    tmp_path: Path, more: dict[str, object], setting: float | None
) -> None:
    batches = [row | {"ended": "", "end_count": ""} for row in six_against_six()]
    alive = dict(zip([r["batch"] for r in batches], [*BAD, *GOOD], strict=True))
    daily = [v for b, n in alive.items() for v in visits(b, [14], dead=0, alive=n)]
    answer = compare_survival(log_of(tmp_path, batches, daily, **more), day=setting)
    facts = answer.facts()
    assert facts["interim"]
    assert facts["p_value"] is None
    assert facts["conf_low"] is None
    assert answer.claim.level <= 1
    assert answer.headline.startswith("Interim look, no verdict")


def test_fry_moved_to_bigger_tubs_are_followed(tmp_path: Path) -> None:
    batches, daily = [], []
    for i, (usual, tested) in enumerate(zip(BAD, GOOD, strict=True)):
        for arm, n in (("open", usual), ("shade", tested)):
            name = f"{arm}{i}"
            batches.append(
                tub(name, arm, 40, 36, clutch=f"{arm} {i}", ended="2025-04-15", end_reason="moved")
            )
            batches.append(
                tub(f"{name} big", arm, 36, n, clutch=f"{arm} {i}", from_batch=name)
                | {"started": "2025-04-15"}
            )
    answer = compare_survival(log_of(tmp_path, batches, daily))
    assert len(answer.by_unit) == 12
    assert set(answer.by_unit["grade"]) == {"counted"}
    by_unit = answer.by_unit.set_index("unit")["survival"]
    assert by_unit["open 0"] == pytest.approx(BAD[0] / 40)
    assert answer.comparison is not None
    assert answer.comparison.settled


@pytest.mark.parametrize(("column", "code"), [("parents", "pairs"), ("water", "water")])
@pytest.mark.parametrize("groups", [2, 3])
def test_pairs_and_water_of_an_arm_are_the_coarser_unit(
    tmp_path: Path, column: str, code: str, groups: int
) -> None:
    batches = six_against_six()
    for i, row in enumerate(batches):
        row[column] = f"{row['method']} {i % groups}"
    answer = compare_survival(log_of(tmp_path, batches))
    reading = readings(answer)[code]
    assert (reading["units_usual"], reading["units_tested"]) == (groups, groups)
    if groups == 2:
        assert answer.claim.level == 1
        assert answer.comparison is not None
        assert answer.comparison.p_value is None
        assert codes(answer) == [f"reading_{code}"]
        assert "2 against 2" in answer.limits[0]
    else:
        assert answer.claim.level == 3
        assert answer.headline.startswith("A hint")


def test_blank_parents_are_no_reading(tmp_path: Path) -> None:
    answer = compare_survival(log_of(tmp_path, six_against_six()))
    assert "pairs" not in readings(answer)


def test_starts_counted_in_unlike_ways_are_a_reading(tmp_path: Path) -> None:
    batches = six_against_six()
    for row in batches:
        row["count_how"] = "eye" if row["method"] == "open" else "photo"
    answer = compare_survival(log_of(tmp_path, batches))
    assert codes(answer) == ["reading_missing_by_arm"]
    assert answer.claim.level <= 2
    assert "may never have been there" in answer.limits[0]
    assert "Count every start in the same way" in answer.limits[0]


def test_rough_starts_and_more_missing_are_a_reading_unless_counted_blind(tmp_path: Path) -> None:
    batches = [row | {"start_count": "38-42"} for row in six_against_six()]
    rough = compare_survival(log_of(tmp_path / "rough", batches))
    assert codes(rough) == ["reading_missing_by_arm"]
    blind = compare_survival(log_of(tmp_path / "blind", batches, counted_blind="yes"))
    assert codes(blind) == []
    assert blind.claim.level == 4
    exact = compare_survival(log_of(tmp_path / "exact", six_against_six()))
    assert codes(exact) == []


def test_fish_taken_out_without_a_reason_would_have_died(tmp_path: Path) -> None:
    batches = six_against_six()
    for row in batches[6:]:
        row["end_count"] = int(str(row["end_count"])) - 14
    daily = [v for i in range(6) for v in visits(f"t{i}", [3], removed=14)]
    answer = compare_survival(log_of(tmp_path, batches, daily))
    assert codes(answer) == ["reading_taken_out"]
    sold = [v | {"removed_why": "sold"} for v in daily]
    assert codes(compare_survival(log_of(tmp_path / "sold", batches, sold))) == []


@pytest.mark.parametrize("twin", ["{n} a", "{n}-A", "{n}_a", "0{n}A"])
def test_names_that_may_be_one_clutch_settle_the_design_again(tmp_path: Path, twin: str) -> None:
    batches = []
    for i, (usual, tested) in enumerate(zip(BAD, GOOD, strict=True)):
        batches.append(tub(f"u{i}", "open", 40, usual, clutch=f"{i}a"))
        batches.append(tub(f"t{i}", "shade", 40, tested, clutch=twin.format(n=i)))
    answer = compare_survival(log_of(tmp_path, batches))
    assert answer.comparison is not None
    assert readings(answer)["as_counted"]["p_value"] == pytest.approx(2 / math.comb(12, 6))
    assert readings(answer)["same_clutch"]["p_value"] == pytest.approx(2 / 2**6)
    assert answer.comparison.p_value == pytest.approx(2 / 2**6)  # the largest is shown


def test_left_out_without_a_rule_is_put_back(tmp_path: Path) -> None:
    batches = six_against_six()
    batches[0] |= {"end_count": 39, "left_out": "looked odd"}
    batches[1] |= {"end_count": 40, "left_out": "looked odd"}
    batches[2] |= {"end_count": 40, "left_out": "looked odd"}
    answer = compare_survival(log_of(tmp_path, batches))
    assert codes(answer) == ["reading_put_back"]
    assert answer.claim.level <= 2
    assert any("looked odd" in text for text in answer.limits)
    ruled = compare_survival(log_of(tmp_path / "text", batches, exclusions="odd ones"))
    assert codes(ruled) == ["reading_put_back"]  # any text does not restore the claim


def test_a_rule_written_before_leaves_out_an_accident_but_no_loss(tmp_path: Path) -> None:
    batches = six_against_six()
    batches[0] |= {"end_reason": "accident", "ended": "2025-04-05", "left_out": "tub cracked"}
    answer = compare_survival(log_of(tmp_path, batches, exclusions="cracked tubs"))
    assert answer.design.left_out == {"u0": "by_rule"}
    assert codes(answer) == []
    assert any("cracked tubs" in text and "tub cracked" in text for text in answer.limits)
    batches[0] |= {"end_reason": "welfare stop", "end_count": 2}
    answer = compare_survival(log_of(tmp_path / "b", batches, exclusions="cracked tubs"))
    assert answer.design.left_out == {}


def test_three_unnamed_methods_are_asked_for(tmp_path: Path) -> None:
    batches = six_against_six() + [tub(f"x{i}", "moss", 40, 30, clutch=f"X{i}") for i in range(6)]
    answer = compare_survival(log_of(tmp_path, batches, usual="", tested=""))
    assert answer.comparison is None
    assert any("does not say which two" in text for text in answer.limits)


def test_swapping_usual_and_tested_flips_only_the_sign(tmp_path: Path) -> None:
    batches = [row | {"count_how": "eye", "start_count": "38-42"} for row in six_against_six()]
    log = log_of(tmp_path, batches)
    one = compare_survival(log, usual="open", tested="shade").comparison
    two = compare_survival(log, usual="shade", tested="open").comparison
    assert one is not None
    assert two is not None
    assert one.estimate == -two.estimate
    assert one.p_value == two.p_value
    assert one.conf_low == pytest.approx(-float(two.conf_high), abs=1e-12)


def test_two_of_each_are_too_few_to_tell(tmp_path: Path) -> None:
    batches = [
        tub("a", "open", 40, 24, clutch="A"),
        tub("b", "open", 40, 28, clutch="B"),
        tub("c", "shade", 40, 38, clutch="C"),
        tub("d", "shade", 40, 34, clutch="D"),
    ]
    answer = compare_survival(log_of(tmp_path, batches))
    assert answer.headline.startswith("Too few to tell")
    assert "pattern" not in answer.headline
    # by hand: gaps of 2 and 2 of 20; 4.3027 * sqrt((2^2 + 2^2) / 4) = 6.1 of 20
    assert "lay 2 of 20 apart" in answer.headline
    assert "chance alone reaches 6 of 20" in answer.headline
    assert answer.small is not None
    assert 20 * float(answer.small.reach or 0) == pytest.approx(4.302653 * math.sqrt(2), rel=1e-6)


def test_no_range_is_printed_beyond_what_is_possible(tmp_path: Path) -> None:
    batches = [
        tub("a", "open", 40, 2, clutch="K1"),
        tub("b", "shade", 40, 39, clutch="K1"),
        tub("c", "open", 40, 20, clutch="K2"),
        tub("d", "shade", 40, 38, clutch="K2"),
        tub("e", "open", 40, 38, clutch="K3"),
        tub("f", "shade", 40, 39, clutch="K3"),
    ]
    answer = compare_survival(log_of(tmp_path, batches))
    assert answer.comparison is not None
    assert answer.comparison.t is not None
    assert answer.comparison.t.conf_high > 1.0  # what Student's t says
    assert answer.comparison.conf_high == 1.0
    assert "20 more)" in answer.headline


def test_a_death_rate_ratio_is_silent_with_few_fish(tmp_path: Path) -> None:
    few = compare_survival(
        log_of(
            tmp_path / "few",
            [
                row | {"start_count": 10, "end_count": int(str(row["end_count"])) // 4}
                for row in six_against_six()
            ],
        )
    )
    assert few.secondary.hazard is None
    assert "hazard_ratio" not in few.facts()
    many = compare_survival(log_of(tmp_path / "many", six_against_six()))
    assert many.secondary.hazard is not None


def test_a_death_rate_ratio_comes_near_the_truth(tmp_path: Path) -> None:
    """Usual tubs lose 1 % of their fish a day, tested ones 3 %: the ratio is 3."""
    batches, daily = [], []
    for i in range(6):
        for arm, rate in (("open", 0.01), ("shade", 0.03)):
            name, left = f"{arm}{i}", 1000
            for age in range(2, 29, 2):
                dead = round(left * (1 - math.exp(-2 * rate)))
                left -= dead
                daily += visits(name, [age], dead=dead)
            batches.append(tub(name, arm, 1000, left, clutch=name))
    hazard = compare_survival(log_of(tmp_path, batches, daily)).secondary.hazard
    assert hazard is not None
    assert math.exp(hazard.estimate) == pytest.approx(3.0, rel=0.03)


@pytest.mark.parametrize("declared", [28, ""])
def test_a_tub_first_counted_on_the_day_refuses_no_log(tmp_path: Path, declared: object) -> None:
    batches = six_against_six()
    batches[0]["start_count"] = "unknown"
    answer = compare_survival(log_of(tmp_path, batches, judged_on_day=declared))
    assert answer.by_unit.set_index("unit").loc["U0", "grade"] == "start_not_known"
    assert answer.day.landmark == 0
    assert len(answer.by_unit) == 12
