"""The survival answer: worked by hand, against published data, and in every small layout."""

from __future__ import annotations

import json
import time
from itertools import combinations
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from rearkit import compare_survival, read_log
from rearkit.answers.answer import json_safe
from tests.logs import batch, day, fair_sheets, split_trial, trial_of, write_log

REFERENCE = Path(__file__).parents[2] / "reference"


def rat_log(tmp_path: Path):
    """Write the rat-pup litters as a log: every litter a clutch (source: tests/reference)."""
    rats = pd.read_csv(REFERENCE / "aod_rats.csv")
    rows = [
        batch(
            f"L{i:02d}",
            r.n,
            r.y,
            days=17,
            clutch=f"L{i:02d}",
            method=r.group,
            how_assigned="random draw",
            hatched=day(0),
        )
        for i, r in enumerate(rats.itertuples(index=False))
    ]
    trial = {"usual": "CTRL", "tested": rats["group"].unique()[1], "judged_on_day": 17}
    return read_log(write_log(tmp_path / "rats", batches=rows, trial=trial))


def test_the_rat_litters_entered_as_a_log(tmp_path: Path) -> None:
    # Case C08 of the reference values: R's coin and an own exact convolution, two codes agreeing
    started = time.perf_counter()
    answer = compare_survival(rat_log(tmp_path))
    assert time.perf_counter() - started < 30
    f = answer.facts()
    assert f["unit"] == "clutch"
    assert (f["units_usual"], f["units_tested"]) == (16, 16)
    assert f["difference"] == pytest.approx(-0.147062312687313, rel=1e-9)
    assert f["p_value"] == pytest.approx(0.0665281993312074, rel=1e-9)
    assert f["arrangements"] == 601_080_390
    assert f["p_method"] == "exact arrangements"
    assert f["p_t"] == pytest.approx(0.0700996539004514, rel=1e-9)
    assert f["p_welch"] == pytest.approx(0.0755496214021221, rel=1e-9)


def test_the_pooled_p_of_the_litters_is_offered_nowhere(tmp_path: Path) -> None:
    # Case C01: 142/158 against 112/145 pups, p .0029 by chi-square; the lesson, not an answer
    answer = compare_survival(rat_log(tmp_path))
    text = json.dumps(json_safe(answer.facts())) + answer.headline + " ".join(answer.limits)
    for pooled in ("0.00285", "0.0029", ".0029", "0.00304", "0.00469"):
        assert pooled not in text


def test_two_against_two_claims_no_p(tmp_path: Path) -> None:
    answer = compare_survival(trial_of(tmp_path / "l", [0.2, 0.25], [0.9, 0.95]))
    f = answer.facts()
    assert f["p_value"] is None
    assert f["p_min"] == pytest.approx(1 / 3)
    assert f["claim_level"] == 1
    assert f["conf_low"] is not None
    assert any("1 in 3" in text for text in answer.limits)
    assert answer.headline.startswith("Too few to tell")


def test_three_against_three_says_that_ten_in_a_hundred_is_the_floor(tmp_path: Path) -> None:
    answer = compare_survival(trial_of(tmp_path / "l", [0.2, 0.25, 0.3], [0.8, 0.85, 0.75]))
    f = answer.facts()
    assert f["p_min"] == pytest.approx(0.10)
    assert f["claim_level"] == 3
    assert f["p_method"] == "t on units"
    assert any("1 in 10" in text for text in answer.limits)
    assert answer.headline.startswith("A hint")


def test_one_against_one_gives_a_tipping_point(tmp_path: Path) -> None:
    # 60 of 100 against 80 of 100: ICC .015 (STATISTICS: sd² over p(1−p), arithmetic)
    answer = compare_survival(trial_of(tmp_path / "l", [0.60], [0.80]))
    f = answer.facts()
    assert f["p_value"] is None
    assert f["conf_low"] is None
    assert f["claim_level"] == 0
    assert f["tipping_icc"] == pytest.approx(0.015, abs=0.0005)
    assert "says nothing yet" in answer.headline


def test_four_against_four_uses_the_exact_arrangements(tmp_path: Path) -> None:
    usual, tested = [0.5, 0.55, 0.6, 0.7], [0.65, 0.8, 0.85, 0.9]
    f = compare_survival(trial_of(tmp_path / "l", usual, tested)).facts()
    values = np.array(usual + tested)
    gaps = [
        abs(values[list(pick)].mean() - np.delete(values, list(pick)).mean())
        for pick in combinations(range(8), 4)
    ]
    seen = abs(np.mean(tested) - np.mean(usual))
    assert f["p_value"] == pytest.approx(np.mean([g >= seen - 1e-9 for g in gaps]))
    assert f["claim_level"] == 4


def test_six_split_clutches_are_compared_within_the_clutch(tmp_path: Path) -> None:
    # Case E04: six split clutches, p 8/64; unpaired it would be .41
    tested = [0.86, 0.74, 0.92, 0.63, 0.81, 0.70]
    usual = [0.80, 0.62, 0.92, 0.55, 0.84, 0.52]
    f = compare_survival(split_trial(tmp_path / "l", usual, tested)).facts()
    assert f["unit"] == "container"
    assert f["blocks"] == 6
    assert f["p_value"] == 0.125
    assert f["p_min"] == 0.03125
    assert f["p_t"] == pytest.approx(0.0818960621499716, rel=1e-9)
    assert f["difference"] == pytest.approx(0.41 / 6)


def test_unequal_arms_show_the_larger_p_and_the_wider_interval(tmp_path: Path) -> None:
    f = compare_survival(
        trial_of(tmp_path / "l", [0.5, 0.52, 0.55], [0.6, 0.85, 0.7, 0.9, 0.65])
    ).facts()
    assert f["p_value"] == max(f["p_permutation"], f["p_welch"])
    assert f["arrangements"] == 56


def test_swapping_the_methods_flips_only_the_sign(tmp_path: Path) -> None:
    log = trial_of(tmp_path / "l", [0.5, 0.55, 0.6, 0.7], [0.65, 0.8, 0.85, 0.9])
    a = compare_survival(log).facts()
    b = compare_survival(log, usual="shaded", tested="open").facts()
    assert b["difference"] == pytest.approx(-a["difference"])
    assert b["p_value"] == a["p_value"]
    assert b["conf_low"] == pytest.approx(-a["conf_high"])


def test_all_dead_and_all_alive_are_ordinary_data(tmp_path: Path) -> None:
    answer = compare_survival(trial_of(tmp_path / "l", [0, 0, 0.1, 0.2], [1, 1, 0.9, 1]))
    f = answer.facts()
    assert f["survival_tested"] == pytest.approx(0.975)
    assert f["p_value"] == pytest.approx(2 / 70)
    rows = {r["unit"]: r for r in f["by_unit"]}
    assert rows["open1"]["survival"] == 0
    assert 0 < rows["open1"]["survival_high"] < 0.05
    assert 0.95 < rows["shaded1"]["survival_low"] < 1


def test_a_container_that_died_out_early_counts_as_dead_on_the_day(tmp_path: Path) -> None:
    rows = [
        batch("A", 30, 0, days=9, method="open") | {"end_reason": "all died"},
        batch("B", 30, 20, method="shaded"),
    ]
    f = compare_survival(
        read_log(write_log(tmp_path / "l", batches=rows, trial={"judged_on_day": 28}))
    ).facts()
    assert f["day"] == 28
    assert f["survival_usual"] == 0


def test_a_unit_that_an_accident_ended_early_stays_in_as_far_as_it_is_known(tmp_path: Path) -> None:
    sheets = fair_sheets()
    sheets["batches"][0] |= {"ended": day(20), "end_reason": "accident"}
    answer = compare_survival(read_log(write_log(tmp_path, **sheets)))
    assert answer.facts()["left_out"] == {}
    assert answer.by_unit.set_index("unit").at["open0", "grade"] == "stopped"
    assert answer.facts()["units_usual"] == 4


def test_counting_from_different_ages_is_not_taken_for_an_effect(tmp_path: Path) -> None:
    """Equal hazards by age; the hand-reared are counted from day 5 only: a trap."""
    rows, daily = [], []
    for i in range(5):
        rows.append(batch(f"P{i}", 100, 40, method="parents", clutch=f"P{i}", hatched=day(0)))
        daily.append({"date": day(5), "batch": f"P{i}", "dead": 50, "alive": 50})
        late = batch(f"H{i}", 60, 48, method="hand", clutch=f"H{i}", hatched=day(0))
        rows.append(dict(late) | {"started": day(5)})
    trial = {"usual": "parents", "tested": "hand", "judged_on_day": 28, "age_from": "hatch"}
    answer = compare_survival(
        read_log(write_log(tmp_path / "l", batches=rows, daily=daily, trial=trial))
    )
    f = answer.facts()
    assert f["landmark"] == 5
    assert f["difference"] == pytest.approx(0.0, abs=1e-12)
    assert f["p_value"] == 1.0
    assert {b: s.naive for b, s in answer.by_batch.items()}["P0"] == pytest.approx(0.4)
    assert any("from day 5 on" in text for text in answer.limits)


def test_count_ranges_and_missing_fish_reach_the_end(tmp_path: Path) -> None:
    rows = [
        batch("A", "420-480", 400, method="open"),
        batch("B", 300, 270, method="shaded"),
    ]
    daily = [{"date": day(3), "batch": "B", "dead": 12}]
    answer = compare_survival(read_log(write_log(tmp_path / "l", batches=rows, daily=daily)))
    a, b = answer.by_batch["A"], answer.by_batch["B"]
    assert (a.count_low, a.count_high) == pytest.approx((400 / 480, 400 / 420))
    # Case I06: 300 stocked, 12 found dead, 270 alive: .90 if the missing died, .96 if they live
    assert b.survival == pytest.approx(0.90)
    assert b.if_missing_alive == pytest.approx(0.96)
    assert b.if_never_there == pytest.approx(270 / 282)


def test_dead_ranges_without_an_end_count(tmp_path: Path) -> None:
    # Case I01: 31–38 dead of 420–480: at best .935417, never mixing the ends
    log = read_log(
        write_log(
            tmp_path / "l",
            batches=[batch("A", "420-480")],
            daily=[{"date": day(9), "batch": "A", "dead": "31-38"}],
        )
    )
    a = compare_survival(log).by_batch["A"]
    assert a.count_low == 0  # nobody counted: all but the bodies may be gone
    assert a.count_high == pytest.approx(0.9354166666666667, abs=1e-12)


def test_removed_fish_are_not_deaths(tmp_path: Path) -> None:
    # Case A06, container C1: Kaplan–Meier .854117647, not 33/50
    table = pd.read_csv(REFERENCE / "tank_log.csv")
    rows, daily = [], []
    for name, part in table.groupby("container"):
        start = int(part["start"].iloc[0])
        left = start - int(part["dead"].sum()) - int(part["removed"].sum())
        rows.append(batch(name, start, left, days=21, method=part["arm"].iloc[0]))
        daily += [
            {"date": day(r.day), "batch": name, "dead": r.dead, "removed": r.removed}
            for r in part.itertuples()
        ]
    answer = compare_survival(read_log(write_log(tmp_path / "l", batches=rows, daily=daily)))
    expected = {
        "C1": 0.854117647058824,
        "C2": 0.79296875,
        "C3": 0.646551724137931,
        "C4": 0.699763593380615,
    }
    for name, value in expected.items():
        assert answer.by_batch[name].survival == pytest.approx(value, rel=1e-9)


def test_fish_inside_a_container_do_not_matter_but_their_number_does_not_help(
    tmp_path: Path,
) -> None:
    few = compare_survival(
        trial_of(tmp_path / "a", [0.5, 0.6, 0.7, 0.6], [0.7, 0.8, 0.9, 0.8], fish=10)
    ).facts()
    many = compare_survival(
        trial_of(tmp_path / "b", [0.5, 0.6, 0.7, 0.6], [0.7, 0.8, 0.9, 0.8], fish=1000)
    ).facts()
    for name in ("difference", "p_value", "conf_low", "conf_high"):
        assert few[name] == pytest.approx(many[name])


def test_one_method_follows_every_batch_and_compares_nothing(tmp_path: Path) -> None:
    rows = [batch("A", 40, 30), batch("B", "unknown", 12, days=15)]
    answer = compare_survival(read_log(write_log(tmp_path / "l", batches=rows)))
    f = answer.facts()
    assert f["difference"] is None
    assert f["claim_level"] == 0
    assert "compares nothing" in answer.headline
    assert f["fair_minimum_per_arm"] == 4
    assert f["fair_minimum_split_clutches"] == 6


def test_the_same_log_gives_the_same_facts(tmp_path: Path) -> None:
    log = trial_of(tmp_path / "l", [0.5, 0.55, 0.6, 0.7], [0.65, 0.8, 0.85, 0.9])
    a, b = (json.dumps(json_safe(compare_survival(log).facts())) for _ in range(2))
    assert a == b


def test_a_batch_that_was_never_counted_is_left_out_and_named(tmp_path: Path) -> None:
    rows = [batch("A", 33, 20), batch("B", 40, 31), batch("C", "unknown")]
    daily = [{"date": day(9), "batch": "C", "dead": 2}]
    answer = compare_survival(read_log(write_log(tmp_path / "l", batches=rows, daily=daily)))
    assert list(answer.by_unit["unit"]) == ["A", "B"]
    assert any("Never counted" in text and "C" in text for text in answer.limits)


def test_units_that_all_fared_alike_give_no_range(tmp_path: Path) -> None:
    f = compare_survival(trial_of(tmp_path / "l", [0, 0, 0], [0, 0, 0])).facts()
    assert (f["difference"], f["p_value"], f["conf_low"]) == (0.0, 1.0, None)


def test_batches_of_a_third_method_are_named(tmp_path: Path) -> None:
    rows = [batch(m, 40, 30, method=m) for m in ("egg", "nauplii", "rotifer")]
    answer = compare_survival(
        read_log(write_log(tmp_path / "l", batches=rows, trial={"usual": "egg"}))
    )
    assert any("rotifer" in text for text in answer.limits)
