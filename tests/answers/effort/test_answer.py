"""Minutes a container and a survivor: worked by hand, and where nothing may be divided."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rearkit import compare_effort, read_log
from rearkit.answers.answer import json_safe
from rearkit.errors import DesignError
from tests.logs import batch, day, write_log


def work_log(
    tmp_path: Path, usual: list[float], tested: list[float], *, alive=(20, 30), every=7, **trial
):
    """Write whole clutches whose minutes a visit are given; a visit with 7 feeds every week."""
    rows, daily = [], []
    for arm, minutes, left in (("open", usual, alive[0]), ("shaded", tested, alive[1])):
        for i, m in enumerate(minutes):
            name = f"{arm}{i + 1}"
            more = {"clutch": name, "method": arm, "how_assigned": "random draw"}
            rows.append(batch(name, 40, left, hatched=day(0), **more))
            for d in range(every, 29, every):
                dead = 40 - left if d == 28 else 0
                daily.append({"date": day(d), "batch": name, "dead": dead, "feeds": 7})
                daily[-1]["minutes"] = m
    fields = {"usual": "open", "tested": "shaded", "judged_on_day": 28, "plan_written_on": day(-3)}
    return read_log(write_log(tmp_path / "l", batches=rows, daily=daily, trial=fields | trial))


def test_minutes_a_container_and_a_survivor_by_hand(tmp_path: Path) -> None:
    # four visits of 5 or 10 minutes: 20 and 40 a container; 20 and 30 alive: 1 and 4/3 a survivor
    log = work_log(tmp_path, [5, 5, 5, 5], [10, 10, 10, 10])
    f = compare_effort(log, older_every_hours=2).facts()
    assert (f["minutes_usual"], f["minutes_tested"], f["minutes_difference"]) == (20, 40, 20)
    assert (f["alive_usual"], f["alive_tested"]) == (20, 30)
    assert f["minutes_per_survivor_tested"] == pytest.approx(4 / 3)
    assert f["minutes_per_survivor_difference"] == pytest.approx(1 / 3)
    older = {o["method"]: o for o in f["older_way"]}
    assert older["open"]["minutes_a_feed"] == 5 / 7
    assert older["open"]["minutes"] == pytest.approx(28 * 12 * 5 / 7)
    assert older["open"]["own_minutes"] == f["minutes_usual"]


def test_p_is_given_only_for_the_declared_main_outcome(tmp_path: Path) -> None:
    values = ([5, 6, 7, 8], [10, 11, 12, 13])
    beside = compare_effort(work_log(tmp_path / "a", *values))
    assert beside.facts()["p_value"] is None
    assert beside.headline.startswith("An estimate beside the main outcome")
    assert any("not as a second test" in text for text in beside.limits)
    main = compare_effort(work_log(tmp_path / "b", *values, main_outcome="minutes"))
    assert main.facts()["p_value"] == pytest.approx(2 / 70)
    assert main.facts()["claim_level"] == 4
    assert "fair test" in main.headline
    assert not any("second test" in text for text in main.limits)
    assert "main outcome that was declared" in " ".join(main.say("survivors").items)


def test_no_ratio_where_hardly_any_fry_are_left(tmp_path: Path) -> None:
    answer = compare_effort(work_log(tmp_path, [5, 6, 7], [9, 8, 9], alive=(1, 30)))
    f = answer.facts()
    assert f["minutes_difference"] == pytest.approx(4 * (26 / 3 - 6))
    assert f["minutes_per_survivor_difference"] is None
    assert {r["unit"]: r["minutes_per_survivor"] for r in json_safe(f["by_unit"])}["open1"] is None
    assert any("next to nothing" in text for text in answer.limits)
    assert "too few fry" in set(answer.readable().frame["minutes a survivor"])


def test_no_price_of_a_fry_where_survivors_do_not_differ(tmp_path: Path) -> None:
    rows, daily = [], []
    arms = ["open"] * 3 + ["shaded"] * 3
    for i, (arm, left, m) in enumerate(
        zip(arms, [20, 30, 25, 26, 22, 29], [5, 6, 5, 9, 9, 8], strict=True)
    ):
        more = {"clutch": f"c{i}", "method": arm, "how_assigned": "random draw"}
        rows.append(batch(f"b{i}", 40, left, **more))
        daily.append({"date": day(3), "batch": f"b{i}", "dead": 0, "minutes": m})
    trial = {"usual": "open", "tested": "shaded", "judged_on_day": 28}
    answer = compare_effort(
        read_log(write_log(tmp_path / "l", batches=rows, daily=daily, trial=trial))
    )
    assert answer.price is None
    assert any("any number comes out" in text for text in answer.limits)
    assert (answer.older, answer.not_older) == ((), ())  # no feed was written down


def test_work_is_counted_from_the_common_age(tmp_path: Path) -> None:
    rows = [
        batch("P", 50, 30, method="parents", clutch="P", hatched=day(0)),
        dict(batch("H", 40, 30, method="hand", clutch="H", hatched=day(0))) | {"started": day(5)},
    ]
    daily = [{"date": day(d), "batch": "P", "dead": 0, "minutes": 10} for d in (1, 2, 6, 20)]
    daily += [{"date": day(d), "batch": "H", "dead": 0, "minutes": 10} for d in (6, 20)]
    trial = {"usual": "parents", "tested": "hand", "judged_on_day": 28, "age_from": "hatch"}
    answer = compare_effort(
        read_log(write_log(tmp_path / "l", batches=rows, daily=daily, trial=trial))
    )
    assert answer.minutes is not None
    assert (answer.minutes.mean_usual, answer.minutes.mean_tested) == (20, 20)


def test_partly_timed_and_untimed_units_are_named(tmp_path: Path) -> None:
    rows = [batch(n, 40, 30, method=m) for n, m in (("A", "open"), ("B", "shaded"), ("C", "open"))]
    daily = [
        {"date": day(1), "batch": "A", "dead": 0, "minutes": 5},
        {"date": day(2), "batch": "A", "dead": 0},
        {"date": day(1), "batch": "B", "dead": 0, "minutes": 5},
        {"date": day(1), "batch": "C", "dead": 0},
    ]
    answer = compare_effort(read_log(write_log(tmp_path / "l", batches=rows, daily=daily)))
    assert answer.work.untimed == ("C",)
    assert answer.work.partly == {"A": 0.5}
    said = " ".join(answer.limits)
    assert "No minutes were written down for C" in said
    assert "Not every visit was timed (A" in said


def test_a_log_without_minutes_says_so(tmp_path: Path) -> None:
    rows = [batch("A", 40, 30, method="open"), batch("B", 40, 30, method="shaded")]
    answer = compare_effort(read_log(write_log(tmp_path / "l", batches=rows)))
    assert answer.headline.startswith("The log holds no minutes")
    assert answer.older == ()
    json.dumps(json_safe(answer.facts()), allow_nan=False)
    answer.figure()


def test_one_method_compares_nothing(tmp_path: Path) -> None:
    daily = [{"date": day(1), "batch": "A", "dead": 0, "minutes": 56}]
    answer = compare_effort(
        read_log(write_log(tmp_path / "l", batches=[batch("A", 40, 28)], daily=daily))
    )
    assert "2 minutes a day, 2 in all for every fry still alive" in answer.headline
    assert answer.facts()["minutes_difference"] is None


def test_swapping_the_methods_flips_only_the_sign(tmp_path: Path) -> None:
    log = work_log(tmp_path, [5, 6, 7, 9], [10, 12, 8, 13])
    a = compare_effort(log).facts()
    b = compare_effort(log, usual="shaded", tested="open").facts()
    for name in ("minutes", "alive", "minutes_per_survivor"):
        assert b[f"{name}_difference"] == pytest.approx(-a[f"{name}_difference"])


def test_hours_of_the_older_way_must_be_above_zero(tmp_path: Path) -> None:
    log = work_log(tmp_path, [5], [10])
    with pytest.raises(DesignError, match="is no round"):
        compare_effort(log, older_every_hours=0)
