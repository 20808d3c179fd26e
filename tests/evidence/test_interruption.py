"""Deaths around an event: told, or tested over containers, from the log file to the sentence."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from rearkit import InterruptionAnswer, cost_of_interruption, read_log
from tests.logs import Row, batch, day, write_log

HIT, SPARED = "ABCD", "EFGH"
Deaths = Mapping[str, Mapping[int, int]]


def event(start: int, who: str = "all", what: str = "power cut", **more: object) -> Row:
    return {"started": day(start), "batch": who, "what": what} | more


def asked(
    folder: Path,
    deaths: Deaths,
    events: tuple[Row, ...],
    *,
    begun: Mapping[str, int] | None = None,
    until: int = 28,
    number: int | None = None,
    turn: int = 0,
    batches: Mapping[str, Row] | None = None,
) -> InterruptionAnswer:
    """Look at batches of 40 fry every day; ``turn`` turns the rows of every sheet round."""
    starts = dict.fromkeys(deaths, 0) | dict(begun or {})
    rows = [
        batch(b, 40, hatched=day(n), clutch=f"c{b}")
        | {"started": day(n)}
        | dict((batches or {}).get(b, {}))
        for b, n in starts.items()
    ]
    daily: list[Row] = [
        {"date": day(starts[b] + d), "batch": b, "dead": dead.get(d, 0)}
        for b, dead in deaths.items()
        for d in range(1, until + 1)
    ]
    rows, daily = rows[turn:] + rows[:turn], daily[turn * 7 :] + daily[: turn * 7]
    turned = events if number is not None else events[::-1] if turn % 2 else events
    log = write_log(folder, batches=rows, daily=daily, events=turned)
    return cost_of_interruption(read_log(log), event=number)


# What was hit lost four, five, six and three more after it; what was spared lost one or two.
COSTLY: Deaths = {b: {12: 1, 17: n} for b, n in zip(HIT, (5, 6, 7, 4), strict=True)} | {
    b: {12: 1, 17: n} for b, n in zip(SPARED, (1, 2, 1, 2), strict=True)
}
ON_FOUR = tuple(event(15, b) for b in HIT)


def test_four_hit_and_four_spared_are_tested_one_value_a_container(tmp_path: Path) -> None:
    answer = asked(tmp_path, COSTLY, ON_FOUR)
    f = answer.facts()
    assert answer.event is not None
    assert answer.event.batches == tuple(HIT)  # four rows of one event
    assert (f["units_hit"], f["units_beside"], answer.level) == (4, 4, 2)
    assert f["p_value"] == pytest.approx(2 / math.comb(8, 4))
    assert f["conf_low"] > 1
    # by hand: log((dead after + 1/2) / fry-days) less that of before, 39 fry after the first death
    change = {
        b: math.log((n + 0.5) / (39 * 2 + (39 - n) * 3))
        for b, n in zip(HIT, (5, 6, 7, 4), strict=True)
    }
    spared = {
        b: math.log((n + 0.5) / (39 * 2 + (39 - n) * 3))
        for b, n in zip(SPARED, (1, 2, 1, 2), strict=True)
    }
    gap = np.mean(list(change.values())) - np.mean(list(spared.values()))
    assert f["relative_ratio"] == pytest.approx(math.exp(gap))
    assert "The two go together; nobody dealt the event out." in answer.headline
    assert "4 against 4 clutches" in answer.headline


@pytest.mark.parametrize("turn", range(1, 8))
def test_nothing_hangs_on_the_order_of_rows(tmp_path: Path, turn: int) -> None:
    begun = {"A": 2, "C": 5, "E": 30, "G": 41}
    events = (*ON_FOUR, event(20, "B", what="feed gap"))
    plain = asked(tmp_path / "a", COSTLY, events, begun=begun)
    turned = asked(tmp_path / "b", COSTLY, events, begun=begun, turn=turn)
    assert turned.headline == plain.headline
    assert {k: v for k, v in turned.facts().items() if isinstance(v, float)} == {
        k: v for k, v in plain.facts().items() if isinstance(v, float)
    }
    columns = ["what", "batch"]
    one, two = (
        a.by_event.drop(columns="event").sort_values(columns).reset_index(drop=True)
        for a in (plain, turned)
    )
    assert one.equals(two)


@pytest.mark.parametrize(("n_hit", "n_spared"), [(3, 5), (5, 3), (1, 6), (8, 0)])
def test_with_fewer_it_is_told_not_tested(tmp_path: Path, n_hit: int, n_spared: int) -> None:
    names = "ABCDEFGH"[: n_hit + n_spared]
    deaths = {b: {12: 1, 17: 9 if i < n_hit else 0} for i, b in enumerate(names)}
    answer = asked(tmp_path, deaths, tuple(event(15, b) for b in names[:n_hit]))
    f = answer.facts()
    assert (f["p_value"], f["conf_low"], f["relative_ratio"]) == (None, None, None)
    assert answer.level <= 1
    assert "told, not tested" in answer.headline
    assert any(f"(here: {n_hit} and {n_spared})" in text for text in answer.limits)


def test_containers_of_one_clutch_are_one_value(tmp_path: Path) -> None:
    shared = {b: {"clutch": f"k{i // 2}"} for i, b in enumerate(HIT + SPARED)}
    answer = asked(tmp_path, COSTLY, ON_FOUR, batches=shared)
    assert answer.verdict is None
    assert any("(here: 2 and 2)" in text for text in answer.limits)


def test_water_systems_of_one_side_are_the_coarser_unit(tmp_path: Path) -> None:
    racks = {
        b: {"water": f"{'s' if b in SPARED else 'h'}{i % 2}"} for i, b in enumerate(HIT + SPARED)
    }
    answer = asked(tmp_path, COSTLY, ON_FOUR, batches=racks)
    assert answer.facts()["p_value"] is None
    assert "is not settled" in answer.headline
    assert any("water systems as the units" in text for text in answer.limits)


def natural(rng: np.random.Generator, names: str, until: int) -> Deaths:
    """Deaths that fall by themselves: a tenth of the fry a day at first, a fifth less each day."""
    found = {}
    for name in names:
        left, dead = 40, {}
        for d in range(1, until + 1):
            dead[d] = int(rng.binomial(left, 0.1 * 0.8**d))
            left -= dead[d]
        found[name] = dead
    return found


def test_early_deaths_that_fall_by_themselves_are_never_clear(tmp_path: Path) -> None:
    rng = np.random.default_rng(20_260)
    clear = tested = 0
    for i in range(40):
        deaths = natural(rng, HIT + SPARED, 20)
        young = asked(tmp_path / f"y{i}", deaths, (event(5),), begun=dict.fromkeys(SPARED, 30))
        tested += young.verdict is not None
        clear += young.verdict is not None and young.verdict.settled
        alone = asked(tmp_path / f"a{i}", {b: deaths[b] for b in HIT}, (event(5),))
        assert alone.verdict is None
        assert "told, not tested" in alone.headline
    assert tested == 40  # the same ages on other days
    assert clear / tested <= 0.1  # nominal .029


def test_a_batch_in_its_first_week_is_not_held_against_older_ones(tmp_path: Path) -> None:
    deaths = natural(np.random.default_rng(1), HIT + SPARED, 40)
    older = asked(
        tmp_path, deaths, tuple(event(22, b) for b in HIT), begun=dict.fromkeys(HIT, 18), until=40
    )
    ages = older.by_event["age"]
    assert set(ages) == {4.0}
    for row in older.by_event.itertuples():
        assert row.n_beside == 4  # at age 4, not on the 22nd day of theirs
    assert set(older.controls["age"]) == {4.0}


def test_every_event_is_told_each_batch_for_itself(tmp_path: Path) -> None:
    deaths = {"A": {9: 2, 12: 4, 22: 3}, "B": {9: 1, 12: 1}}
    events = (event(10, "A"), event(20, what="feed gap"))
    answer = asked(tmp_path / "a", deaths, events, begun={"B": 4})
    table = answer.by_event.set_index(["event", "batch"])
    assert list(table.index) == [(1, "A"), (2, "A"), (2, "B")]
    assert table["age"].tolist() == [10, 20, 16]
    assert table["deaths_after"].tolist() == [4, 3, 0]
    assert table.loc[(1, "A"), "n_beside"] == 1
    assert "4 in all" in answer.headline
    second = asked(tmp_path / "b", deaths, events, begun={"B": 4}, number=2)
    assert "the feed gap of 21 April 2025" in second.headline


def test_p_and_interval_agree_in_every_verdict(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    names = "ABCDEFGHIJ"
    for i in range(15):
        n_hit = int(rng.integers(4, 7))
        deaths = {
            b: {
                d: int(k)
                for d, k in zip((12, 16, 18), rng.poisson(1 + 2 * (j < n_hit), 3), strict=True)
            }
            for j, b in enumerate(names)
        }
        answer = asked(tmp_path / str(i), deaths, tuple(event(15, b) for b in names[:n_hit]))
        v = answer.verdict
        assert v is not None
        if v.conf_low is not None and v.conf_high is not None and v.p_value is not None:
            assert (v.p_value <= 0.05) == (v.conf_low > 1 or v.conf_high < 1)


@pytest.mark.parametrize(
    ("events", "said"),
    [
        ((event(-40),), "cannot be told"),
        ((event(90),), "cannot be told"),
        ((event(15, "Z"),), "no event"),
        ((event(15, "Z"), event(15, "A")), "told, not tested"),
        ((event(0),), "cannot be told"),
        ((event(28),), "cannot be told"),
        ((event(15, what="other", ended=day(400)),), "told, not tested"),
    ],
    ids=["before any", "after all", "no such batch", "one such", "first day", "last day", "long"],
)
def test_events_out_of_reach_get_an_answer(
    tmp_path: Path, events: tuple[Row, ...], said: str
) -> None:
    check_whole(asked(tmp_path, {"A": {9: 2, 17: 2}, "B": {12: 1}}, events), said)


def check_whole(answer: InterruptionAnswer, said: str) -> None:
    text = " ".join([answer.headline, *answer.limits, *answer.say("how").items])
    assert said in answer.headline, answer.headline
    assert "nan" not in text
    assert "None" not in text
    for part in answer.parts()["readable"]:
        answer.readable(part)
    for part in answer.parts()["figure"]:
        answer.figure(part)


@pytest.mark.parametrize(
    "rows",
    [
        [{"batch": "A", "started": day(0), "start_count": ""}],
        [{"batch": "A", "started": day(0), "start_count": 40}],
        [batch("A", 40, 30)],
    ],
    ids=["unknown start", "running", "ended"],
)
def test_logs_with_events_only(tmp_path: Path, rows: list[Row]) -> None:
    log = write_log(tmp_path, batches=rows, events=[event(10), event(12, "A", what="cleaning")])
    answer = cost_of_interruption(read_log(log))
    check_whole(answer, "cannot be told")
    assert any("No dead fish were written down for A" in text for text in answer.limits)
