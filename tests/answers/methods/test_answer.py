"""Methods compared in all outcomes: published cases, nulls, adjustment, other ways of looking."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats as scipy_stats

from rearkit import Logbook, compare_methods, read_log
from rearkit.answers.answer import json_safe
from rearkit.errors import DesignError
from tests.logs import batch, day, split_trial, trial_of, write_log
from tests.reference import case, expected, rows

FAIR = {"how_assigned": "random draw", "hatched": day(0)}
TRIAL = {
    "usual": "open",
    "tested": "shaded",
    "main_outcome": "survival",
    "judged_on_day": 28,
    "plan_written_on": day(-3),
    "looks_planned": 1,
}


def full_log(
    folder: Path,
    *,
    usual: tuple[int, ...] = (20, 24, 22, 26),
    tested: tuple[int, ...] = (30, 33, 31, 36),
    mm: tuple[float, float] = (10.0, 9.0),
    minutes: tuple[float, float] = (5.0, 10.0),
    unmeasured: tuple[str, ...] = (),
    **trial: object,
) -> Logbook:
    """Whole clutches of 40 with every death found, lengths on days 14 and 28, weekly minutes."""
    batches, daily, sizes = [], [], []
    for arm, name in enumerate(("open", "shaded")):
        for i, left in enumerate((usual, tested)[arm]):
            b = f"{name}{i + 1}"
            batches.append(batch(b, 40, left, clutch=b, method=name, **FAIR))
            for d in (7, 14, 21, 28):
                dead = 40 - left if d == 7 else 0
                daily.append({"date": day(d), "batch": b, "dead": dead, "feeds": 2})
                daily[-1]["minutes"] = minutes[arm] + i
            for d in () if b in unmeasured else (14, 28):
                for gap in (-1.0, 0.0, 1.0):
                    length = mm[arm] * d / 28 + 0.2 * i + gap
                    sizes.append({"date": day(d), "batch": b, "length_mm": round(length, 3)})
    fields = {k: v for k, v in (TRIAL | trial).items() if v is not None}
    return read_log(write_log(folder, batches=batches, daily=daily, sizes=sizes, trial=fields))


# ---- published and worked cases --------------------------------------------------------------


def test_equivalence_of_two_methods(tmp_path: Path) -> None:
    # Case G07: two one-sided Welch tests, margin 3 and 2 points (R; statsmodels), p of a
    # difference .98, which proves nothing
    want = expected("G07")
    tested, usual = (
        [0.862, 0.841, 0.88, 0.855, 0.873],
        [0.85, 0.871, 0.846, 0.882, 0.863],
    )
    answer = compare_methods(
        trial_of(tmp_path / "a", usual, tested, fish=1000, smallest_useful_difference=3)
    )
    f = answer.facts()
    assert f["difference"] == pytest.approx(want["diff"] / 100, rel=1e-6)
    assert f["equivalence_p_value"] == pytest.approx(want["p_tost"], rel=1e-6)
    ends = (f["equivalence_conf_low"], f["equivalence_conf_high"])
    assert ends == pytest.approx([x / 100 for x in want["ci90"]], rel=1e-6)
    assert f["inside_margin"] is want["equivalent_at_margin3"]
    said = " ".join(answer.say("margin").paragraphs)
    assert "lies within 0.6 of 20 fry" in said
    assert "neither better nor worse" in said
    assert f["p_value"] > 0.9
    assert "did not settle" in answer.headline
    narrow = compare_methods(
        trial_of(tmp_path / "b", usual, tested, fish=1000, smallest_useful_difference=2)
    ).facts()
    assert narrow["equivalence_p_value"] == pytest.approx(want["p_tost_margin2"], rel=1e-6)
    tight = compare_methods(
        trial_of(tmp_path / "c", usual, tested, fish=1000, smallest_useful_difference=1)
    )
    assert tight.facts()["inside_margin"] is False
    assert "cannot say that the methods are as good" in " ".join(tight.say("margin").paragraphs)


def test_split_clutches_with_a_zero_difference(tmp_path: Path) -> None:
    # Case E04: exact sign flips p 8/64; t on differences .0819; unpaired it would be .41
    tested = [0.86, 0.74, 0.92, 0.63, 0.81, 0.70]
    usual = [0.80, 0.62, 0.92, 0.55, 0.84, 0.52]
    answer = compare_methods(split_trial(tmp_path / "l", usual, tested))
    want, c = expected("E04"), answer.first
    assert c is not None
    assert c.main.comparison is not None
    assert c.main.comparison.t is not None
    assert answer.facts()["p_value"] == want["p_two"]
    assert answer.facts()["p_min"] == want["min_attainable_p"]
    assert c.main.comparison.t.p_value == pytest.approx(want["p_t_paired"], rel=1e-9)
    assert [k for k in c.sensitivity["kind"] if k == "without"] == ["without"] * 6
    assert "without C1-open and C1-shaded" in set(
        answer.readable("sensitivity").frame["looked at in this way"]
    )


def orobanche(folder: Path) -> Logbook:
    """Enter the germination of Orobanche seed as a log: every plate a container (case C10)."""
    batches = [
        batch(
            f"plate {i + 1}",
            int(r["n"]),
            int(r["y"]),
            method=r["seed"],
            how_assigned="random draw",
            hatched=day(0),
        )
        | {"root extract": r["root"]}
        for i, r in enumerate(rows("aod_orob2"))
    ]
    trial = {"usual": "O75", "tested": "O73", "judged_on_day": 28, "main_outcome": "survival"}
    return read_log(write_log(folder, batches=batches, trial=trial))


@pytest.mark.parametrize(
    ("compare", "column", "usual"),
    [(None, "seed", "O75"), ("root_extract", "root", "BEAN")],
)
def test_two_factors_of_seeds_in_plates_one_at_a_time(
    tmp_path: Path, compare: str | None, column: str, usual: str
) -> None:
    # Case C10 (Crowder 1978): plates are the units; scipy's Welch and an own count of arrangements
    table = rows("aod_orob2")
    tested = next(v for v in sorted({r[column] for r in table}) if v != usual)
    share = {
        v: [int(r["y"]) / int(r["n"]) for r in table if r[column] == v] for v in (usual, tested)
    }
    answer = compare_methods(orobanche(tmp_path / "l"), compare=compare)
    f, c = answer.facts(), answer.first
    assert c is not None
    assert (f["usual"], f["tested"], f["unit"]) == (usual, tested, "container")
    assert (f["units_usual"], f["units_tested"]) == (len(share[usual]), len(share[tested]))
    assert f["difference"] == pytest.approx(np.mean(share[tested]) - np.mean(share[usual]))
    welch = scipy_stats.ttest_ind(share[tested], share[usual], equal_var=False).pvalue
    exact = scipy_stats.permutation_test(
        (share[tested], share[usual]),
        lambda a, b, axis: np.abs(np.mean(a, axis=axis) - np.mean(b, axis=axis)),
        vectorized=True,
        batch=50_000,
        n_resamples=np.inf,
        alternative="greater",
    ).pvalue
    assert f["p_value"] == pytest.approx(max(welch, exact), rel=1e-6)


def test_the_lesson_of_the_eight_tanks(tmp_path: Path) -> None:
    # Case D04: fish by fish p .0055; container labels dealt out again 20 of 70
    table = rows("tank_tte")
    batches, daily = [], []
    for name in sorted({r["container"] for r in table}):
        mine = [r for r in table if r["container"] == name]
        left = 25 - sum(int(r["dead"]) for r in mine)
        more = {"method": mine[0]["arm"], "clutch": name, "how_assigned": "random draw"}
        batches.append(batch(name, 25, left, days=14, hatched=day(0), **more))
        dead = {int(r["day"]): int(r["dead"]) for r in mine}
        daily += [{"date": day(d), "batch": name, "dead": dead.get(d, 0)} for d in range(1, 15)]
    trial = {"usual": "A", "tested": "B", "judged_on_day": 14}
    answer = compare_methods(
        read_log(write_log(tmp_path / "l", batches=batches, daily=daily, trial=trial))
    )
    want, f = case("D04"), answer.facts()
    assert f["lesson_p_by_fish"] == pytest.approx(want["other_values"]["naive_p"], rel=1e-6)
    assert f["lesson_as_far"] == want["expected"]["count_abs_OmE_ge"] == 20
    assert f["lesson_arrangements"] == want["expected"]["n_assignments"] == 70
    assert f["lesson_p_by_unit"] == pytest.approx(want["expected"]["perm_p_OmE"])
    assert f["p_min"] == pytest.approx(want["expected"]["smallest_attainable_p"])
    assert f["p_value"] > 0.05
    said = " ".join(answer.say("lesson").paragraphs)
    assert "A lesson, not a result" in said
    assert "20 of 70 ways" in said
    assert ".006" not in answer.headline + " ".join(answer.limits)


# ---- a null: parents counted from day 0, hand from day 5, one hazard -------------------------


def nothing_but_days(folder: Path, seed: int) -> Logbook:
    """Give all clutches one distribution of hazard by age; hand-reared are counted from day 5."""
    rng = np.random.default_rng(seed)
    batches, daily = [], []
    for arm, first in (("parents", 0), ("hand", 5)):
        every = 3 if arm == "parents" else 1
        for i in range(5):
            name, alive = f"{arm}{i}", 60
            hazard = 0.09 * np.exp(rng.normal(0.0, 0.25))
            found, start = 0, alive
            for d in range(1, 29):
                dead = int(rng.binomial(alive, hazard * np.exp(-d / 7)))
                alive -= dead
                found = found + int(rng.binomial(dead, 0.95)) if d > first else 0
                if d == first:
                    start = alive
                if d > first and (d - first) % every == 0:
                    daily.append({"date": day(d), "batch": name, "dead": found})
                    found = 0
            row = dict(batch(name, start, alive, method=arm, clutch=name, hatched=day(0)))
            batches.append(row | {"started": day(first), "how_assigned": "random draw"})
    trial = TRIAL | {"usual": "parents", "tested": "hand", "age_from": "hatch"}
    return read_log(write_log(folder, batches=batches, daily=daily, trial=trial))


def alarms(tmp_path: Path, trials: int) -> tuple[float, float]:
    """Return the shares of trials in which the answer, and the naive count, find an effect."""
    offered = naive = 0
    for seed in range(trials):
        answer = compare_methods(nothing_but_days(tmp_path / f"{seed}", seed))
        c = answer.first
        assert c is not None
        assert c.trap is not None
        offered += c.main.settled
        naive += c.trap.p_value is not None and c.trap.p_value <= 0.05
    return offered / trials, naive / trials


def test_counting_from_different_days_is_not_declared_an_effect(tmp_path: Path) -> None:
    trials = 40
    offered, naive = alarms(tmp_path, trials)
    assert offered <= 0.07 + 2 * np.sqrt(0.07 * 0.93 / trials)
    assert naive >= 0.8


@pytest.mark.slow
def test_counting_from_different_days_many_times(tmp_path: Path) -> None:
    offered, naive = alarms(tmp_path, 500)
    assert offered <= 0.07
    assert naive >= 0.8


def test_the_naive_difference_is_shown_as_the_trap(tmp_path: Path) -> None:
    answer = compare_methods(nothing_but_days(tmp_path / "l", 3))
    f = answer.facts()
    assert f["landmark"] == 5
    assert f["trap_difference"] > 0.1
    assert f["trap_p_value"] < 0.05
    said = " ".join(answer.say("trap").paragraphs)
    assert said.startswith("The trap:")
    assert "made by the counting, not by the method" in said
    assert any("Not seen before the first count" in text for text in answer.limits)
    assert any("not looked at equally often" in text for text in answer.limits)
    answer.figure("trap")
    fair = compare_methods(full_log(tmp_path / "m"))
    assert fair.first is not None
    assert fair.first.trap is None
    assert "counted from the same age" in " ".join(fair.say("trap").paragraphs)
    assert not any("Not seen before" in text for text in fair.limits)
    assert not any("equally often" in text for text in fair.limits)


# ---- outcomes, roles and adjustment ----------------------------------------------------------


def test_all_outcomes_by_hand(tmp_path: Path) -> None:
    answer = compare_methods(full_log(tmp_path / "l", size_to_move_mm=10))
    out = {o["outcome"]: o for o in answer.facts()["outcomes"]}
    assert out["survival"]["mean_usual"] == pytest.approx(23 / 40)
    assert out["survival"]["difference"] == pytest.approx(9.5 / 40)
    assert out["length"]["mean_usual"] == pytest.approx(10.3)
    assert out["length"]["difference"] == pytest.approx(-1.0)
    assert out["length_cv"]["mean_usual"] == pytest.approx(
        np.mean([1 / (10 + 0.2 * i) for i in range(4)])
    )
    assert out["minutes"]["mean_usual"] == pytest.approx(4 * 6.5)
    assert out["minutes"]["difference"] == pytest.approx(20)
    each = [4 * (5 + i) / n for i, n in enumerate((20, 24, 22, 26))]
    assert out["minutes_per_survivor"]["mean_usual"] == pytest.approx(np.mean(each))
    long = [20 * n / 40 * scipy_stats.norm.cdf(0.2 * i) for i, n in enumerate((20, 24, 22, 26))]
    assert out["long_enough"]["mean_usual"] == pytest.approx(np.mean(long))
    assert out["deaths 0–7"]["role"] == "estimate"
    first_week = [100 * (1 - (n / 40) ** (1 / 7)) for n in (20, 24, 22, 26)]
    assert out["deaths 0–7"]["mean_usual"] == pytest.approx(np.mean(first_week))
    assert out["deaths 7–14"]["mean_usual"] == pytest.approx(0.0, abs=1e-9)


def test_one_outcome_is_tested_and_the_rest_are_adjusted_or_estimates(tmp_path: Path) -> None:
    answer = compare_methods(full_log(tmp_path / "l"))
    c = answer.first
    assert c is not None
    assert [o.name for o in c.outcomes if o.role == "tested"] == ["survival"]
    others = [o for o in c.outcomes if o.role == "adjusted" and o.comparison is not None]
    raw = [o.comparison.p_value for o in others if o.comparison is not None]
    steps = [p * (len(raw) - i) for i, p in enumerate(sorted(raw))]  # Holm 1979, by hand
    by_hand = dict(zip(sorted(raw), np.minimum(np.maximum.accumulate(steps), 1.0), strict=True))
    assert [o.p_value for o in others] == pytest.approx([by_hand[p] for p in raw])
    assert all(o.p_value is None for o in c.outcomes if o.role == "estimate")
    table = answer.readable("outcomes").frame
    assert list(table["role"][:2]) == ["tested", "adjusted"]
    assert set(table.loc[table["role"] == "estimate", "p"]) == {""}
    assert any("adjusted for all the other outcomes" in text for text in answer.limits)


@pytest.mark.parametrize(("main", "word"), [("length", "mm shorter"), ("minutes", "more minutes")])
def test_the_declared_outcome_is_the_one_that_is_tested(
    tmp_path: Path, main: str, word: str
) -> None:
    answer = compare_methods(full_log(tmp_path / "l", main_outcome=main))
    assert answer.facts()["main_outcome"] == main
    assert answer.facts()["claim_level"] == 4
    assert word in answer.headline
    assert "fair test" in answer.headline


def test_methods_beyond_two_are_compared_with_the_usual_one_and_adjusted(tmp_path: Path) -> None:
    values = {"open": (20, 22, 21, 24), "half": (25, 26, 28, 30), "full": (29, 36, 31, 34)}
    batches = [
        batch(f"{m}{i}", 40, n, clutch=f"{m}{i}", method=m, **FAIR)
        for m, counts in values.items()
        for i, n in enumerate(counts)
    ]
    log = read_log(write_log(tmp_path / "l", batches=batches, trial=TRIAL | {"tested": "full"}))
    answer = compare_methods(log)
    f = answer.facts()
    assert [c["tested"] for c in f["contrasts"]] == ["full", "half"]
    raw = [c["p_unadjusted"] for c in f["contrasts"]]
    assert raw == pytest.approx([2 / 70, 2 / 70])
    assert [c["p_value"] for c in f["contrasts"]] == pytest.approx([4 / 70, 4 / 70])
    assert "2 methods were each compared with open" in answer.headline
    assert "did not settle" in answer.headline  # 4/70 is above .05
    assert any("more comparisons find more by chance" in text for text in answer.limits)
    assert any("Adjusted for 2 methods" in text for text in answer.say("certainty").items)
    assert "method" in answer.readable("outcomes").frame


@pytest.mark.parametrize("column", ["parents", "litres", "place", "first food"])
def test_any_column_of_batches_tells_methods_apart(tmp_path: Path, column: str) -> None:
    values = {"litres": (8, 12)}.get(column, ("a", "b"))
    batches = [
        dict(batch(f"{v}{i}", 40, 20 + 5 * j + i, clutch=f"{v}{i}", **FAIR)) | {column: v}
        for j, v in enumerate(values)
        for i in range(4)
    ]
    log = read_log(write_log(tmp_path / "l", batches=batches, trial={"judged_on_day": 28}))
    f = compare_methods(log, compare=column.replace(" ", "_")).facts()
    assert {f["usual"], f["tested"]} == {str(v) for v in values}
    assert abs(f["difference"]) == pytest.approx(5 / 40)


def test_another_column_does_not_take_the_words_of_the_trial_sheet(tmp_path: Path) -> None:
    f = compare_methods(orobanche(tmp_path / "l"), compare="root_extract").facts()
    assert "usual_assumed" in f["remarks"]


def test_units_that_lack_an_outcome_are_named(tmp_path: Path) -> None:
    answer = compare_methods(full_log(tmp_path / "l", unmeasured=("open1",)))
    assert answer.first is not None
    assert answer.first.outcome("length").lacking == ("open1",)
    assert any("length is missing for open1" in text for text in answer.limits)


def test_nothing_is_divided_by_next_to_no_survivors(tmp_path: Path) -> None:
    answer = compare_methods(full_log(tmp_path / "l", usual=(1, 24, 22, 26)))
    assert answer.first is not None
    assert answer.first.outcome("minutes_per_survivor").comparison is None
    assert any("next to nothing" in text for text in answer.limits)


# ---- margins, ways of looking, limits --------------------------------------------------------


@pytest.mark.parametrize(
    ("trial", "code"),
    [
        ({}, "no_margin"),
        ({"smallest_useful_difference": 5, "plan_written_on": None}, "margin_not_before"),
        ({"smallest_useful_difference": 5, "plan_written_on": day(3)}, "margin_not_before"),
    ],
)
def test_a_margin_counts_only_if_it_was_written_before(
    tmp_path: Path, trial: dict, code: str
) -> None:
    answer = compare_methods(full_log(tmp_path / "l", **trial))
    assert code in answer.facts()["remarks"]
    assert "inside_margin" not in answer.facts()
    assert "is not judged" in " ".join(answer.say("margin").paragraphs)


def test_no_worse_is_told_from_as_good(tmp_path: Path) -> None:
    answer = compare_methods(full_log(tmp_path / "l", smallest_useful_difference=5))
    f = answer.facts()
    assert (f["inside_margin"], f["no_worse"]) == (False, True)
    assert "no worse than open" in " ".join(answer.say("margin").paragraphs)
    worse = compare_methods(
        full_log(tmp_path / "m", smallest_useful_difference=5), usual="shaded", tested="open"
    ).facts()
    assert (worse["inside_margin"], worse["no_worse"]) == (False, False)


def test_more_minutes_are_the_bad_side(tmp_path: Path) -> None:
    log = full_log(tmp_path / "l", main_outcome="minutes", smallest_useful_difference=2)
    assert compare_methods(log).facts()["no_worse"] is False
    assert compare_methods(log, usual="shaded", tested="open").facts()["no_worse"] is True


def test_the_table_of_other_ways(tmp_path: Path) -> None:
    answer = compare_methods(full_log(tmp_path / "l"))
    c = answer.first
    assert c is not None
    t = c.sensitivity
    assert t["kind"].value_counts().to_dict() == {
        "as_analysed": 1,
        "counting": 6,
        "without": 8,
        "landmark": 2,
    }
    assert list(t.loc[t["kind"] == "counting", "way"])[-2:] == ["lean_usual", "lean_tested"]
    assert (t.loc[t["kind"] != "counting", "way"] == "").all()
    without = t[t["units"] == ("open1",)].iloc[0]
    assert without["usual"] == pytest.approx((24 + 22 + 26) / 120)
    late = t[(t["kind"] == "landmark") & (t["landmark"] == 7)].iloc[0]
    assert (t["day"] == 28).all()
    assert late["difference"] == pytest.approx(0.0, abs=1e-12)


def test_an_answer_that_hangs_on_one_unit_says_so(tmp_path: Path) -> None:
    fragile = compare_methods(
        full_log(tmp_path / "a", usual=(20, 21, 22, 30), tested=(25, 26, 27, 28))
    )
    assert any("without open4 it would look settled" in text for text in fragile.limits) or any(
        "It hangs on single units" in text for text in fragile.limits
    )
    firm = compare_methods(
        full_log(
            tmp_path / "b",
            usual=(10, 11, 12, 13, 14, 12),
            tested=(30, 31, 32, 33, 34, 32),
        )
    )
    assert not any("hangs on" in text for text in firm.limits)


def test_a_difference_that_turns_round_is_told(tmp_path: Path) -> None:
    even = compare_methods(
        full_log(tmp_path / "l", usual=(20, 24, 22, 26), tested=(21, 23, 22, 27))
    )
    assert any("turns round" in text for text in even.limits)
    clear = compare_methods(full_log(tmp_path / "m"))
    assert not any("turns round" in text for text in clear.limits)


def test_names_are_said_as_the_keeper_wrote_them(tmp_path: Path) -> None:
    # names that hold the words of the page: none of them may be taken for a word and changed
    methods = ("as usual", "the tested food and the usual")
    batches = [
        batch(f"tub {i + 1} and lid", 40, left, clutch=f"tub {i + 1} and lid", method=m, **FAIR)
        for i, (m, left) in enumerate(
            zip([methods[0]] * 4 + [methods[1]] * 4, (20, 21, 22, 30, 25, 26, 27, 28), strict=True)
        )
    ]
    trial = TRIAL | {"usual": methods[0], "tested": methods[1]}
    answer = compare_methods(read_log(write_log(tmp_path / "l", batches=batches, trial=trial)))
    shown = set(answer.readable("sensitivity").frame["looked at in this way"])
    assert {f"counts lean to {m}" for m in methods} <= shown
    assert "without tub 4 and lid" in shown
    assert "with the tested food and the usual, " in answer.headline
    assert any("without tub 4 and lid it would look settled" in text for text in answer.limits)
    assert "counts lean to the tested food and the usual" in answer.figure("sensitivity").alt


def test_a_running_trial_gives_no_p_at_all(tmp_path: Path) -> None:
    batches = [
        {"batch": f"{m}{i}", "started": day(0), "start_count": 40, "method": m}
        | {"clutch": f"{m}{i}"}
        | FAIR
        for m in ("open", "shaded")
        for i in range(4)
    ]
    daily = [
        {"date": day(d), "batch": b["batch"], "dead": int(b["method"] == "open"), "minutes": 5}
        for b in batches
        for d in (5, 10)
    ]
    answer = compare_methods(
        read_log(write_log(tmp_path / "l", batches=batches, daily=daily, trial=TRIAL))
    )
    f = answer.facts()
    assert f["interim"] is True
    assert answer.headline.startswith("Interim look")
    assert f["p_value"] is None
    assert f["p_unadjusted"] is None
    assert all(o["p_value"] is None for o in f["outcomes"])
    assert all(np.isnan(row["p_value"]) for row in f["sensitivity"])
    assert set(answer.readable("sensitivity").frame["p"]) == {""}
    assert not any("hangs on single units" in text for text in answer.limits)
    assert "lesson_p_by_fish" not in f


def test_a_running_trial_counted_from_unlike_days_gives_no_p_either(tmp_path: Path) -> None:
    batches = [
        {"batch": f"{m}{i}", "started": day(first), "start_count": 40, "method": m}
        | {"clutch": f"{m}{i}"}
        | FAIR
        for m, first in (("open", 0), ("shaded", 3))
        for i in range(4)
    ]
    daily = [
        {"date": day(d), "batch": b["batch"], "dead": int(b["method"] == "open")}
        for b in batches
        for d in (5, 10)
    ]
    trial = TRIAL | {"age_from": "hatch"}
    answer = compare_methods(
        read_log(write_log(tmp_path / "l", batches=batches, daily=daily, trial=trial))
    )
    f = answer.facts()
    assert f["interim"] is True
    assert f["trap_p_value"] is None
    said = " ".join(answer.say("trap").paragraphs)
    assert said.count("no p before the planned day") == 2


def test_wrong_settings_are_refused(tmp_path: Path) -> None:
    log = full_log(tmp_path / "l")
    with pytest.raises(DesignError, match="there is no main outcome 'colour'"):
        compare_methods(log, main_outcome="colour")
    with pytest.raises(DesignError, match="there is no column 'shelf'"):
        compare_methods(log, compare="shelf")


def test_methods_never_watched_together_are_named(tmp_path: Path) -> None:
    batches = [batch(f"o{i}", 40, 30, days=10, method="open", clutch=f"o{i}") for i in range(3)]
    batches += [
        dict(batch(f"s{i}", 40, 30, days=40, method="shaded", clutch=f"s{i}", hatched=day(0)))
        | {"started": day(20)}
        for i in range(3)
    ]
    for row in batches[:3]:
        row["hatched"] = day(0)  # type: ignore[index]
    answer = compare_methods(
        read_log(write_log(tmp_path / "l", batches=batches, trial={"age_from": "hatch"}))
    )
    assert "cannot be compared" in answer.headline
    assert any("Not watched over the same days" in text for text in answer.limits)


def test_one_method_and_bare_logs_say_what_they_lack(tmp_path: Path) -> None:
    one = compare_methods(read_log(write_log(tmp_path / "a", batches=[batch("A", 40, 30)])))
    assert one.headline.startswith("There is one method only")
    bare = compare_methods(trial_of(tmp_path / "b", [0.5], [0.7]))
    assert bare.facts()["claim_level"] == 0
    unmeasured = compare_methods(
        trial_of(tmp_path / "c", [0.5, 0.6, 0.7], [0.7, 0.8, 0.75], main_outcome="length")
    )
    assert "was not written down in enough" in unmeasured.headline
    for answer in (one, bare, unmeasured):
        json.dumps(json_safe(answer.facts()), allow_nan=False)
        for which in ("main", "outcomes", "sensitivity"):
            answer.readable(which)
        for which in ("main", "sensitivity", "trap"):
            answer.figure(which)
        for which in ("design", "certainty", "margin", "trap", "lesson", "limits"):
            answer.say(which)


def test_swapping_the_methods_flips_only_the_sign(tmp_path: Path) -> None:
    log = full_log(tmp_path / "l")
    a = {o["outcome"]: o for o in compare_methods(log).facts()["outcomes"]}
    swapped = compare_methods(log, usual="shaded", tested="open").facts()
    b = {o["outcome"]: o for o in swapped["outcomes"]}
    for name, one in a.items():
        if one["difference"] is not None:
            assert b[name]["difference"] == pytest.approx(-one["difference"], abs=1e-12)
            assert b[name]["p_value"] == (
                None if one["p_value"] is None else pytest.approx(one["p_value"])
            )


def test_the_same_log_gives_the_same_facts(tmp_path: Path) -> None:
    log = full_log(tmp_path / "l")
    a, b = (json.dumps(json_safe(compare_methods(log).facts())) for _ in range(2))
    assert a == b
