"""The growth answer: worked by hand, in every small layout, and what it refuses to say."""

from __future__ import annotations

import json
import time
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from rearkit import compare_growth, read_log
from rearkit.answers.answer import json_safe
from rearkit.errors import DesignError
from rearkit.stats.growth.curves import CURVES, GOMPERTZ, LEVELLING_OFF
from tests.answers.growth_logs import TRIAL, arms, grown, line, lines_log, size
from tests.logs import batch, day, write_log

DEMO = Path(__file__).parents[3] / "data_templates" / "demo_shade_trial.xlsx"
SLOPES = {
    "open1": 0.20,
    "open2": 0.22,
    "open3": 0.24,
    "open4": 0.21,
    "shaded1": 0.25,
    "shaded2": 0.27,
    "shaded3": 0.23,
    "shaded4": 0.28,
}


def test_a_straight_line_by_hand(tmp_path: Path) -> None:
    # 5 mm on day 0 and 0.25 mm a day: 12 mm on day 28, 10 mm on day 20, from 6.75 to 12 in 21 days
    log = lines_log(tmp_path / "l", {"open1": 0.25, "shaded1": 0.25})
    answer = compare_growth(log, curve="line", length_mm=10.0)
    row = answer.facts()["by_unit"][0]
    assert row["curve"] == "line"
    assert row["length_at"] == pytest.approx(12.0)
    assert row["joined_length_at"] == pytest.approx(12.0)
    assert row["day_reached"] == pytest.approx(20.0)
    assert row["mm_per_day"] == pytest.approx(0.25)
    assert row["sgr"] == pytest.approx(100 * np.log(12 / 6.75) / 21)
    assert row["extrapolated"] is False
    assert set(row["aicc"]) == set(CURVES)


def test_units_are_compared_by_their_exact_arrangements(tmp_path: Path) -> None:
    f = compare_growth(lines_log(tmp_path / "l", SLOPES), curve="line").facts()
    values = np.array([5 + 28 * s for s in SLOPES.values()])
    gaps = [
        abs(values[list(pick)].mean() - np.delete(values, list(pick)).mean())
        for pick in combinations(range(8), 4)
    ]
    seen = values[4:].mean() - values[:4].mean()
    assert f["difference"] == pytest.approx(seen)
    assert f["p_value"] == pytest.approx(np.mean([g >= seen - 1e-9 for g in gaps]))
    assert f["p_min"] == pytest.approx(2 / 70)
    assert f["p_value"] >= f["p_min"]
    assert f["claim_level"] == 4
    assert f["conf_low"] < seen < f["conf_high"]


def test_methods_are_means_of_units_with_t_intervals(tmp_path: Path) -> None:
    # open: 10.6, 11.16, 11.72, 10.88 mm; mean 11.09, sd / sqrt(4), t(3) = 3.182446 (table)
    f = compare_growth(lines_log(tmp_path / "l", SLOPES), curve="line").facts()
    row = next(r for r in f["by_method"] if r["method"] == "open")
    values = np.array([10.6, 11.16, 11.72, 10.88])
    half = 3.182446305 * values.std(ddof=1) / 2
    assert row["n_units"] == 4
    assert row["length_at"] == pytest.approx(11.09)
    assert row["length_at_conf_low"] == pytest.approx(11.09 - half)
    assert row["length_at_conf_high"] == pytest.approx(11.09 + half)
    assert {"day_reached", "day_reached_conf_low", "sgr", "sgr_conf_high"} <= set(row)


def test_swapping_the_methods_flips_only_the_sign(tmp_path: Path) -> None:
    log = lines_log(tmp_path / "l", SLOPES)
    a = compare_growth(log).facts()
    b = compare_growth(log, usual="shaded", tested="open").facts()
    assert b["difference"] == pytest.approx(-a["difference"])
    assert b["p_value"] == a["p_value"]
    assert b["conf_low"] == pytest.approx(-a["conf_high"])
    assert b["runts_lost_low"] == pytest.approx(-a["runts_lost_high"])


def test_identical_arms_give_p_one(tmp_path: Path) -> None:
    slopes = [0.2, 0.22, 0.24, 0.26]
    same = {f"{arm}{i + 1}": s for arm in ("open", "shaded") for i, s in enumerate(slopes)}
    f = compare_growth(lines_log(tmp_path / "l", same)).facts()
    assert f["difference"] == pytest.approx(0.0, abs=1e-9)
    assert f["p_value"] == 1.0


def test_split_clutches_are_compared_within_the_clutch(tmp_path: Path) -> None:
    gains = {"a": 0.30, "b": 0.10, "c": 0.50, "d": 0.20, "e": 0.40, "f": 0.15}
    batches, curves = [], {}
    for i, (clutch, gain) in enumerate(gains.items()):
        for arm, more in (("open", 0.0), ("shaded", gain)):
            name = f"{clutch}-{arm}"
            batches.append(
                batch(name, 40, 30, clutch=clutch, method=arm, how_assigned="random draw")
            )
            curves[name] = line(5.0 + i + more, 0.2)
    log = read_log(write_log(tmp_path / "l", batches=batches, sizes=grown(curves), trial=TRIAL))
    f = compare_growth(log, curve="line").facts()
    assert f["unit"] == "container"
    assert f["blocks"] == 6
    assert f["difference"] == pytest.approx(np.mean(list(gains.values())))
    assert f["p_value"] == pytest.approx(2 / 64)  # all six gains are positive


def test_one_against_one_claims_nothing(tmp_path: Path) -> None:
    answer = compare_growth(lines_log(tmp_path / "l", {"open1": 0.2, "shaded1": 0.3}))
    f = answer.facts()
    assert f["p_value"] is None
    assert f["claim_level"] == 0
    assert "says nothing yet" in answer.headline


def test_a_length_is_a_second_outcome_where_the_plan_names_another(tmp_path: Path) -> None:
    answer = compare_growth(lines_log(tmp_path / "l", SLOPES, main_outcome="survival"))
    f = answer.facts()
    assert f["downgrades"] == ["second_outcome"]
    assert f["claim_level"] == 3
    assert not answer.headline.startswith("On day")
    assert any("names survival as the main outcome" in text for text in answer.limits)


def test_a_day_outside_the_measured_ones_is_called_extrapolated(tmp_path: Path) -> None:
    log = lines_log(tmp_path / "l", SLOPES)
    inside, outside = compare_growth(log, day=20.0), compare_growth(log, day=28.5)
    assert "extrapolated" not in inside.headline + " ".join(inside.limits)
    f = outside.facts()
    assert f["extrapolated"] is True
    assert all(row["extrapolated"] for row in f["by_unit"])
    assert all(np.isnan(row["joined_length_at"]) for row in f["by_unit"])
    assert "extrapolated" in outside.headline
    assert "length_extrapolated" in f["downgrades"]
    assert "13 extrapolated" in outside.readable().frame.to_string()


def test_a_planned_day_that_nobody_measured_is_not_extrapolated_to(tmp_path: Path) -> None:
    answer = compare_growth(lines_log(tmp_path / "l", SLOPES, judged_on_day=60))
    f = answer.facts()
    assert f["day"] == 28
    assert f["day_declared"] is False
    assert any("No container was measured as late as day 60" in text for text in answer.limits)


def test_fry_have_no_final_size(tmp_path: Path) -> None:
    answer = compare_growth(lines_log(tmp_path / "l", SLOPES), curve="gompertz")
    f = answer.facts()
    assert f["asymptote_reported"] is False
    assert not any(row["asymptote_reported"] for row in f["by_unit"])
    assert any("these fish are too young to tell their final size" in t for t in answer.limits)


def test_fish_followed_until_they_level_off_have_a_final_size(tmp_path: Path) -> None:
    days = [10, 30, 50, 80, 120, 160, 200, 260, 320]
    truth = (60.0, 0.03, 40.0)
    curves = {
        f"{arm}{i}": lambda on, up=up: float(GOMPERTZ.length(on, truth)) + up
        for arm, ups in (("open", (0.0, 1.0, 2.0)), ("shaded", (0.5, 1.5, 2.5)))
        for i, up in enumerate(ups, 1)
    }
    batches = [dict(row) | {"ended": day(330)} for row in arms(3, 3)]
    trial = TRIAL | {"judged_on_day": 300}
    sizes = grown(curves, days=days, offsets=(-3.0, -1.0, 1.0, 3.0))
    log = read_log(write_log(tmp_path / "l", batches=batches, sizes=sizes, trial=trial))
    answer = compare_growth(log)
    f = answer.facts()
    assert f["asymptote_reported"] is True
    assert all(55 < row["asymptote"] < 66 for row in f["by_unit"])
    assert not any("too young" in text for text in answer.limits)


def test_an_adult_length_is_named_as_given(tmp_path: Path) -> None:
    log = lines_log(tmp_path / "l", SLOPES)
    answer = compare_growth(log, adult_length_mm=90.0)
    f = answer.facts()
    assert f["adult_length_mm"] == 90.0
    assert set(f["aicc"]) == set(LEVELLING_OFF)
    assert any("90 mm was given as the adult length" in text for text in answer.limits)
    assert all(c.fit.held_asymptote == 90.0 for c in answer.curves.containers.values())


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"curve": "parabola"}, "no growth curve called 'parabola'"),
        ({"curve": "line", "adult_length_mm": 90.0}, "does not level off"),
        ({"adult_length_mm": 9.0}, "not above the longest mean"),
        ({"length_mm": -1.0}, "a length of -1 mm cannot be reached"),
        ({"rate_from": 20.0, "rate_to": 10.0}, "runs backwards"),
        ({"compare": "colour"}, "no column 'colour'"),
    ],
)
def test_wrong_settings_are_refused_in_words(
    tmp_path: Path, asked: dict[str, object], message: str
) -> None:
    log = lines_log(tmp_path / "l", SLOPES)
    with pytest.raises(DesignError, match=message):
        compare_growth(log, **asked)


def test_what_the_loss_of_the_smallest_alone_could_do(tmp_path: Path) -> None:
    # By hand: 12 of 40 lost. Had they lived at 0 mm, a mean of 12 mm would be .7 × 12, so their
    # loss raised it by up to .3 × 12; had they been as long as the smallest left (11.5 mm of the
    # fish measured), by .3 × .5. Lengths take no shape.
    log = read_log(
        write_log(
            tmp_path / "l",
            batches=arms(4, 4, end=28),
            sizes=grown(
                {f"{arm}{i}": line(5.0, 0.25) for arm in ("open", "shaded") for i in range(1, 5)}
            ),
            trial=TRIAL,
        )
    )
    answer = compare_growth(log)
    f = answer.facts()
    assert f["survival_usual"] == pytest.approx(0.70)
    assert f["by_unit"][0]["runts_lost_high"] == pytest.approx(0.3 * 12.0)
    assert f["by_unit"][0]["runts_lost_low"] == pytest.approx(0.3 * 0.5)
    assert f["runts_lost_high"] == pytest.approx(0.3 * 12.0)
    assert f["runts_lost_low"] == pytest.approx(-f["runts_lost_high"])
    assert any("nothing to do with growth" in text for text in answer.limits)
    assert "+0.2 to +3.6" in answer.readable("survival").frame.to_string()


def test_growth_and_survival_as_one_outcome(tmp_path: Path) -> None:
    # 30 of 40 alive, mean 12 mm: of 20 started 15 live, and half of them are at least 12 mm long
    log = lines_log(tmp_path / "l", dict.fromkeys(SLOPES, 0.25))
    f = compare_growth(log, curve="line", length_mm=12.0).facts()
    assert f["long_enough_of_20_usual"] == pytest.approx(7.5)
    assert f["long_enough_of_20_difference"] == pytest.approx(0.0, abs=1e-9)


def test_a_unit_that_died_out_has_no_length_but_counts_as_none_long_enough(
    tmp_path: Path,
) -> None:
    batches = [dict(row) for row in arms(5, 5)]
    batches[0] |= {"ended": day(10), "end_count": 0, "end_reason": "all died"}
    curves = {str(row["batch"]): line(5.0, 0.25) for row in batches[1:]}
    sizes = [*grown(curves), *grown({"open1": line(5, 0.3)}, days=(5, 8))]
    log = read_log(write_log(tmp_path / "l", batches=batches, sizes=sizes, trial=TRIAL))
    answer = compare_growth(log, length_mm=10.0)
    f = answer.facts()
    assert f["left_out"] == {"open1": "no_fish_left"}
    assert (f["units_usual"], f["units_tested"]) == (4, 5)
    row = next(r for r in f["by_unit"] if r["unit"] == "open1")
    assert np.isnan(row["length_at"])
    assert row["long_enough_of_20"] == 0
    assert f["long_enough_of_20_usual"] < f["long_enough_of_20_tested"]
    assert any("No fish were left on day 28 in open1" in text for text in answer.limits)


def test_containers_of_one_clutch_are_averaged_first(tmp_path: Path) -> None:
    batches = [dict(row) for row in arms(4, 4)]
    batches += [dict(batches[0]) | {"batch": "open1b"}]
    curves = {name: line(5.0, slope) for name, slope in SLOPES.items()}
    curves["open1b"] = line(5.0, 0.30)
    log = read_log(write_log(tmp_path / "l", batches=batches, sizes=grown(curves), trial=TRIAL))
    f = compare_growth(log, curve="line").facts()
    assert f["unit"] == "clutch"
    row = next(r for r in f["by_unit"] if r["unit"] == "open1")
    assert row["length_at"] == pytest.approx(5 + 28 * (0.20 + 0.30) / 2)
    assert f["units_usual"] == 4


def test_warmth_and_weight(tmp_path: Path) -> None:
    # Iwama and Tautz 1981: 0.01 g at 20 °C grows to 0.5422 g in 30 days with coefficient 1
    batches = [batch("A", 40, 30, days=30)]
    daily = [{"date": day(n), "batch": "A", "dead": 0, "temp_c": 20.0} for n in range(31)]
    sizes = [
        size("A", on, length, weight_mg=weight)
        for on, length, weight in (
            (0, 10.0, 10.0),
            (30, 37.8563, 542.224),
            (30, 37.8563, 542.224),
        )
    ]
    trial = {"judged_on_day": 30}
    log = read_log(
        write_log(tmp_path / "l", batches=batches, daily=daily, sizes=sizes, trial=trial)
    )
    f = compare_growth(log, zero_growth_c=12.0).facts()
    row = f["warmth"][0]
    assert row["mean_temp_c"] == pytest.approx(20.0)
    assert row["degree_days"] == pytest.approx(8.0 * 30)
    assert row["thermal_growth_coefficient"] == pytest.approx(1.0, abs=1e-4)
    assert f["length_weight_b"] == pytest.approx(3.0, abs=1e-3)
    assert f["length_weight_unusual"] is False


def test_an_unusual_weight_exponent_is_warned_of(tmp_path: Path) -> None:
    sizes = [size("A", 28, x, weight_mg=x**4 / 100) for x in (8.0, 9.0, 10.0, 11.0, 12.0)]
    log = read_log(write_log(tmp_path / "l", batches=[batch("A", 40, 30)], sizes=sizes))
    answer = compare_growth(log)
    assert answer.facts()["length_weight_b"] == pytest.approx(4.0)
    assert any("Froese 2006" in text for text in answer.limits)


def test_more_room_is_named_beside_longer_fish(tmp_path: Path) -> None:
    batches = [
        dict(row) | {"end_count": 10 if row["method"] == "open" else 35}
        for row in arms(4, 4, litres=10)
    ]
    curves = {name: line(5.0, slope) for name, slope in SLOPES.items()}
    log = read_log(write_log(tmp_path / "l", batches=batches, sizes=grown(curves), trial=TRIAL))
    answer = compare_growth(log)
    text = next(t for t in answer.limits if t.startswith("Fish with more room"))
    assert "1 to a litre with open" in text
    assert "3.5 with shaded" in text


def test_the_demo_is_quick_and_says_the_same_twice() -> None:
    log = read_log(DEMO)
    compare_growth(log)
    started = time.perf_counter()
    first = compare_growth(log)
    assert time.perf_counter() - started < 2
    texts = [json.dumps(json_safe(a.facts())) for a in (first, compare_growth(log))]
    assert texts[0] == texts[1]
    f = first.facts()
    assert f["curve"] == min(f["aicc"], key=f["aicc"].get)
    assert -1.5 < f["difference"] < -0.2  # the truth is −0.6 mm: 4.8 exp(28 × .0325) less .0305


def test_before_the_planned_day_no_p_is_told(tmp_path: Path) -> None:
    batches = arms(4, 4, end="")
    curves = {name: line(5.0, slope) for name, slope in SLOPES.items()}
    sizes = [*grown(curves, days=(7, 14, 21)), *grown({"open1": curves["open1"]}, days=(28,))]
    last = {str(b["batch"]): 28 if b["batch"] == "open1" else 21 for b in batches}
    daily = [{"date": day(n), "batch": b, "dead": 10, "alive": 30} for b, n in last.items()]
    log = write_log(tmp_path / "l", batches=batches, daily=daily, sizes=sizes, trial=TRIAL)
    answer = compare_growth(read_log(log))
    f = answer.facts()
    assert f["interim"] is True
    assert answer.headline.startswith("Interim look, no verdict")
    told = ("p_value", "p_method", "p_permutation", "p_t")
    assert [f[name] for name in told] == [None] * 4
    assert f["p_min"] == pytest.approx(2 / 70)  # what the layout can show is no verdict
    assert "No p is given before the planned day" in " ".join(answer.say("certainty").items)
