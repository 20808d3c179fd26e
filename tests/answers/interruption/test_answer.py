"""Deaths before and after an event: by hand, and what stands beside."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rearkit import cost_of_interruption, read_log
from rearkit.answers.answer import json_safe
from rearkit.answers.interruption.before_and_after import window
from rearkit.answers.interruption.timeline import death_rate_of
from rearkit.errors import DesignError
from tests.logs import batch, day, write_log


def looked(name: str, dead: dict[int, int], until: int, **more: object) -> list[dict]:
    """Look every day; so many dead on some of them."""
    return [{"date": day(d), "batch": name, "dead": dead.get(d, 0)} for d in range(1, until + 1)]


def event(start: int, *, end: int | None = None, what: str = "feed gap", who: str = "all", **more):
    ended = "" if end is None else day(end)
    return {"started": day(start), "ended": ended, "batch": who, "what": what} | more


def log_of(tmp_path: Path, batches: list, daily: list, events: list, **sheets):
    return read_log(
        write_log(tmp_path / "l", batches=batches, daily=daily, events=events, **sheets)
    )


def one_container(tmp_path: Path, *, after: int = 9, **sheets):
    """3 of 20 fry dead on day 10, 5 taken out; then 12 fry for 10 days with 9 deaths at the end."""
    daily = looked("A", {10: 3, 20: after}, 20)
    daily[9] |= {"removed": 5, "removed_why": "given"}
    rows = [{"batch": "A", "started": day(0), "start_count": 20}]
    return log_of(tmp_path, rows, daily, [event(10)], **sheets)


def test_three_in_200_fry_days_against_nine_in_120(tmp_path: Path) -> None:
    # by hand: 3 of 200 fry-days are 1.5 of 100 a day, 9 of 120 are 7.5
    answer = cost_of_interruption(one_container(tmp_path), window_days=10)
    f = answer.facts()
    row = answer.table().iloc[0]
    assert (row["deaths_before"], row["fry_days_before"]) == (3, 200)
    assert (row["deaths_after"], row["fry_days_after"]) == (9, 120)
    assert f["per_100_before"] == pytest.approx(1.5)
    assert f["per_100_after"] == pytest.approx(7.5)
    assert f["expected_deaths"] is None
    assert f["p_value"] is None
    assert f["claim_level"] == 0
    assert "7.5 of every 100 fry were found dead a day (9 in all), against 1.5" in answer.headline
    assert "told, not tested" in answer.headline


def test_unaffected_containers_of_the_same_age_stand_beside(tmp_path: Path) -> None:
    rows = [batch(n, 40) for n in "ABCD"]
    dead = {"A": {8: 2, 12: 8}, "B": {8: 2, 12: 0}, "C": {8: 2, 12: 1}, "D": {8: 2, 12: 1}}
    daily = [row for n in "ABCD" for row in looked(n, dead[n], 28)]
    answer = cost_of_interruption(log_of(tmp_path, rows, daily, [event(10, who="A")]))
    f = answer.facts()
    assert (f["n_affected"], f["n_controls"], f["claim_level"]) == (1, 3, 0)
    assert list(answer.controls["batch"]) == ["B", "C", "D"]
    # by hand: 38 fry on days 10 to 12, then 38, 37 and 37 for three days: deaths 0, 1, 1
    rates = [0.0, 100 / (38 * 2 + 37 * 3), 100 / (38 * 2 + 37 * 3)]
    after = float(answer.table()["fry_days_after"].iloc[0])
    assert f["expected_deaths"] == pytest.approx(sum(rates) / 3 * after / 100, rel=0.02)
    assert "in 3 other batches at the same age it was" in answer.headline
    assert "told, not tested" in answer.headline
    assert not any("on other days" in text for text in answer.limits)
    assert not any("No other batch was watched" in text for text in answer.limits)


def test_a_container_disturbed_at_that_age_is_no_control(tmp_path: Path) -> None:
    rows = [batch(n, 40) for n in "ABC"]
    daily = [row for n in "ABC" for row in looked(n, {8: 2, 12: 3}, 28)]
    events = [event(10, who="A"), event(11, who="B", what="power cut")]
    answer = cost_of_interruption(log_of(tmp_path, rows, daily, events))
    assert list(answer.controls["batch"]) == ["C"]
    assert any("2 events" in text for text in answer.limits)


def test_controls_may_have_passed_the_age_on_other_days(tmp_path: Path) -> None:
    rows = [batch("A", 40, hatched=day(0)), {"batch": "B", "started": day(30), "start_count": 40}]
    rows[1]["hatched"] = day(30)
    daily = looked("A", {8: 2, 12: 6}, 28)
    daily += [{"date": day(30 + d), "batch": "B", "dead": int(d == 12)} for d in range(1, 29)]
    answer = cost_of_interruption(log_of(tmp_path, rows, daily, [event(10)]))
    assert list(answer.affected["batch"]) == ["A"]
    assert list(answer.controls["batch"]) == ["B"]
    assert answer.controls["age"].tolist() == [10.0]
    assert any("on other days" in text for text in answer.limits)


def test_deaths_known_only_between_looks_are_shared_and_told(tmp_path: Path) -> None:
    daily = [
        {"date": day(d), "batch": "A", "dead": n} for d, n in ((4, 0), (8, 4), (12, 8), (16, 0))
    ]
    answer = cost_of_interruption(log_of(tmp_path, [batch("A", 40)], daily, [event(10)]))
    row = answer.by_batch.iloc[0]
    # (5, 10]: three quarters of the 4 found on day 8, half of the 8 found on day 12
    assert row["deaths_before"] == pytest.approx(3 + 4)
    assert (row["deaths_low_before"], row["deaths_high_before"]) == (0, 12)
    assert any("shared out by days" in text for text in answer.limits)


def test_windows_count_what_lies_inside_them(tmp_path: Path) -> None:
    log = one_container(tmp_path)
    whole = window(log.fates, 0, 20)
    assert (whole.deaths, whole.fry_days) == (12, 320)
    part = window(log.fates, 9.5, 10.0)
    assert part.deaths == pytest.approx(1.5)
    assert (part.deaths_low, part.deaths_high) == (0, 3)


def test_missing_fish_are_told_and_not_in_the_rates(tmp_path: Path) -> None:
    daily = looked("A", {9: 2, 12: 2}, 20)
    daily[19] |= {"alive": 20}
    log = log_of(tmp_path, [batch("A", 40)], daily, [event(10)])
    answer = cost_of_interruption(log)
    assert answer.table()["deaths_after"].sum() == 2
    assert any("vanished without a body" in text for text in answer.limits)
    none = cost_of_interruption(one_container(tmp_path / "n"), window_days=10)
    assert not any("vanished" in text for text in none.limits)


def test_one_container_with_most_deaths_is_named(tmp_path: Path) -> None:
    rows = [batch("A", 40), batch("B", 40)]
    daily = looked("A", {8: 1, 12: 9}, 28) + looked("B", {8: 1, 12: 1}, 28)
    answer = cost_of_interruption(log_of(tmp_path, rows, daily, [event(10)]))
    assert answer.level == 1
    assert any("One container (A)" in text for text in answer.limits)


def test_growth_around_the_event(tmp_path: Path) -> None:
    sizes = [
        {"date": day(d), "batch": "A", "length_mm": mm}
        for d, mm in ((4, 5.0), (8, 7.0), (14, 8.5), (18, 10.5))
    ]
    log = log_of(tmp_path, [batch("A", 40)], looked("A", {9: 1}, 20), [event(10)], sizes=sizes)
    answer = cost_of_interruption(log)
    speed = answer.growth.set_index("span")["mm_a_day"]
    assert speed.to_dict() == pytest.approx({"before": 0.5, "across": 0.25, "after": 0.5})
    assert not any("measured on both sides" in text for text in answer.limits)
    without = cost_of_interruption(one_container(tmp_path / "w"))
    assert any("measured on both sides" in text for text in without.limits)


def test_the_timeline_holds_everything_in_order(tmp_path: Path) -> None:
    daily = [
        {"date": day(2), "batch": "A", "dead": 0},
        {"date": day(9), "batch": "A", "dead": 1, "removed": 3, "removed_why": "sold"},
        {"date": day(10), "batch": "A", "dead": 0, "added": 2},
    ]
    rows = [batch("A", 40, 30, days=11)]
    answer = cost_of_interruption(log_of(tmp_path, rows, daily, [event(10, end=12)]))
    t = answer.timeline
    assert t["date"].is_monotonic_increasing
    assert set(t["kind"]) == {"start", "not looked", "removed", "added", "event", "end"}
    gap = t[t["kind"] == "not looked"].iloc[0]
    assert (str(gap["date"].date()), str(gap["ended"].date())) == (day(2), day(9))
    assert len(answer.readable("timeline").frame) == len(t)


def test_the_earliest_interruption_is_asked_about_unless_told(tmp_path: Path) -> None:
    events = [event(3, what="cleaning"), event(10), event(15, what="power cut")]
    log = log_of(tmp_path, [batch("A", 40)], looked("A", {9: 1}, 20), events)
    assert cost_of_interruption(log).event.number == 2
    assert cost_of_interruption(log, event=3).event.what == "power cut"
    for number in (0, 4):
        with pytest.raises(DesignError, match=f"there is no event {number}; the log has 3"):
            cost_of_interruption(log, event=number)
    with pytest.raises(DesignError, match="a window of no days"):
        cost_of_interruption(log, window_days=0)


def test_a_log_without_events_or_watched_fry_says_so(tmp_path: Path) -> None:
    none = cost_of_interruption(log_of(tmp_path / "a", [batch("A", 40, 30)], [], []))
    assert none.headline.startswith("The log has no event")
    late = cost_of_interruption(log_of(tmp_path / "b", [batch("A", 40, 30)], [], [event(90)]))
    assert "what it cost cannot be told" in late.headline
    quiet = cost_of_interruption(
        log_of(tmp_path / "c", [batch("A", 40)], looked("A", {}, 20), [event(10)])
    )
    assert "no change in deaths" in quiet.headline
    for answer in (none, late, quiet):
        json.dumps(json_safe(answer.facts()), allow_nan=False)
        for which in ("main", "events", "growth", "timeline"):
            answer.readable(which)
        for which in ("main", "timeline"):
            answer.figure(which)
        for which in ("how", "growth", "practice", "limits"):
            answer.say(which)


def test_another_interruption_inside_the_windows_is_told(tmp_path: Path) -> None:
    events = [event(10), event(12, what="power cut")]
    log = log_of(tmp_path, [batch("A", 40)], looked("A", {9: 1, 12: 2}, 20), events)
    assert any("Another interruption" in text for text in cost_of_interruption(log).limits)
    alone = log_of(tmp_path / "b", [batch("A", 40)], looked("A", {9: 1}, 20), events[:1])
    assert not any("Another interruption" in text for text in cost_of_interruption(alone).limits)


def test_what_is_said_of_the_trade_carries_its_label(tmp_path: Path) -> None:
    answer = cost_of_interruption(one_container(tmp_path))
    said = answer.say("practice").items
    assert any("Eight hours without food" in text for text in said)
    assert all("common practice, no source" in text for text in said)


def test_the_death_rate_of_every_day_adds_up(tmp_path: Path) -> None:
    # 40 fry, 4 found dead on day 2 (two a day), 6 on day 4: 10 deaths in 2 x 40 + 2 x 36 fry-days
    rows = [batch("A", 40, 30, days=4)]
    daily = [
        {"date": day(2), "batch": "A", "dead": 4},
        {"date": day(4), "batch": "A", "dead": 6},
    ]
    rate = death_rate_of(read_log(write_log(tmp_path / "l", batches=rows, daily=daily)))
    assert list(rate["deaths"]) == pytest.approx([2, 2, 3, 3])
    assert list(rate["fry_days"]) == pytest.approx([40, 40, 36, 36])
    assert rate["per_100"].iloc[0] == pytest.approx(5.0)
