"""The fish of a unit followed through the containers they were moved to, from log files."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from rearkit import read_log
from rearkit.batch.evidence import judge
from rearkit.batch.lines import Line, find_lines
from tests.logs import batch, day, write_log

K1 = {"clutch": "K1", "method": "open"}


def lines_of(tmp_path: Path, batches, daily=()) -> dict[str, Line]:
    log = read_log(write_log(tmp_path / "log", batches=batches, daily=daily))
    return {line.name: line for line in find_lines(log.batches, log.daily)}


def moved(name: str, start: object, end: object = "", *, on: int, **more: object):
    """A batch whose fish were all moved on a day."""
    ended = {"ended": day(on), "end_reason": "moved", "end_count": end}
    return batch(name, start, **{**K1, **more}) | ended


def later(name: str, start: object, end: object, *, on: int, **more: object):
    """A batch that began on a later day and was counted on day 28."""
    return batch(name, start, end, **more) | {"started": day(on)}


def codes(line: Line) -> list[str]:
    return [remark.code for remark in line.remarks]


def counts(line: Line) -> list[tuple[float, float]]:
    """Give age and number of every full count."""
    looks = line.looks
    return [
        (float(a), float(n)) for a, n in zip(looks.age, looks.alive[:, 1], strict=True) if n == n
    ]


def test_a_batch_that_never_moved_is_a_line(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [batch("A", "30-36", 25, **K1)],
        [
            {"date": day(5), "batch": "A", "dead": 2, "removed": 3, "removed_why": "runt"},
            {"date": day(9), "batch": "A", "dead": "", "food": "brine shrimp"},
            {"date": day(12), "batch": "A", "removed": 1, "removed_why": "sold"},
        ],
    )["A"]
    looks = line.looks
    assert line.batches == ("A",)
    assert looks.start.tolist() == [30, 33, 36]
    assert looks.age.tolist() == [5, 28]
    assert looks.dead[:, 1].tolist() == [2, 0]
    assert looks.out[:, 1].tolist() == [3, 1]
    assert looks.ill[:, 1].tolist() == [3, 0]
    assert looks.full.tolist() == [False, True]
    assert (line.ended, line.end_age, line.end_reasons) == (True, 28, ("planned end",))


def test_all_fish_moved_to_a_bigger_tub_are_followed_on(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [moved("A", 40, 38, on=14), later("B", 38, 30, on=14, from_batch="A")],
        [
            {"date": day(5), "batch": "A", "dead": 2},
            {"date": day(14), "batch": "A", "dead": 0, "removed": 38, "removed_to": "B"},
            {"date": day(20), "batch": "B", "dead": 1},
        ],
    )["A"]
    assert line.batches == ("A", "B")
    assert (line.clutch, line.method) == ("K1", "open")  # B's own cells are blank
    assert line.looks.start.tolist() == [40, 40, 40]
    assert not line.looks.out.any()
    assert not line.looks.into.any()
    assert counts(line) == [(14, 38), (28, 30)]
    assert (line.ended, line.end_age, line.end_reasons) == (True, 28, ("planned end",))
    assert codes(line) == []
    assert judge(line, 28).share == pytest.approx(30 / 40)


@pytest.mark.parametrize(
    ("first", "second", "daily"),
    [
        ({}, {"from_batch": "A"}, []),
        ({}, {}, [{"removed": 38, "removed_to": "B"}]),
        ({}, {"from_batch": "A"}, [{"removed": 38, "removed_to": "B"}]),
        ({}, {"from_batch": "A"}, [{"removed": 38, "removed_why": "other"}]),
        ({"end_count": 0}, {"from_batch": "A"}, [{"removed": 38, "removed_to": "B"}]),
        ({"end_count": ""}, {"from_batch": "A"}, []),
        (
            {"ended": day(15)},
            {"from_batch": "A", "started": day(15)},
            [{"removed": 38, "removed_to": "B"}],
        ),
    ],
)
def test_a_move_is_told_once_however_it_was_typed(tmp_path: Path, first, second, daily) -> None:
    line = lines_of(
        tmp_path,
        [moved("A", 40, 38, on=14) | first, later("B", 38, 30, on=14, **K1) | second],
        [{"date": day(14), "batch": "A", "dead": 0} | row for row in daily],
    )["A"]
    assert line.batches == ("A", "B")
    assert not line.looks.out.any()
    found = judge(line, 28)
    assert (found.grade, found.alive_low, found.alive_high) == ("counted", 30, 30)
    assert found.share == pytest.approx(0.75)
    assert judge(line, 14).alive == 38


def test_fewer_that_arrive_than_were_sent_are_missing_at_the_move(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [moved("A", 40, 38, on=14), later("B", 33, 30, on=14, from_batch="A")],
        [{"date": day(14), "batch": "A", "dead": 0, "removed": 38, "removed_to": "B"}],
    )["A"]
    assert counts(line) == [(14, 38), (14, 33), (28, 30)]
    (said,) = line.remarks
    assert said.code == "fewer_arrived"
    assert said.values["left"] == [38, 38, 38]
    assert said.values["arrived"] == [33, 33, 33]
    assert judge(line, 13.5).share > 38 / 40 - 1e-9
    assert judge(line, 14).share == pytest.approx(33 / 40)


def test_more_that_arrive_than_were_sent_are_asked_about(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [moved("A", 40, "", on=14), later("B", 36, 30, on=14, from_batch="A")],
        [{"date": day(14), "batch": "A", "dead": 0, "removed": 30, "removed_to": "B"}],
    )["A"]
    assert codes(line) == ["more_arrived"]
    assert counts(line) == [(14, 36), (28, 30)]


def test_a_batch_split_over_tubs_is_their_sum(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [
            moved("A", 60, 58, on=14),
            later("B", 30, 25, on=14, from_batch="A"),
            later("C", 28, 20, on=14, from_batch="A"),
        ],
        [
            {"date": day(20), "batch": "B", "dead": 2},
            {"date": day(21), "batch": "B", "dead": 0},
            {"date": day(21), "batch": "C", "dead": 3},
        ],
    )["A"]
    assert line.batches == ("A", "B", "C")
    assert line.looks.age.tolist() == [14, 21, 28]  # on day 20 one of the two was looked at
    assert line.looks.dead[:, 1].tolist() == [0, 5, 0]
    assert counts(line) == [(14, 58), (28, 45)]
    assert judge(line, 28).share == pytest.approx(45 / 60)


def test_a_part_of_the_fish_stays_where_it_was(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [batch("A", 60, 26, **K1), later("B", 30, 25, on=14, from_batch="A")],
        [{"date": day(14), "batch": "A", "dead": 1, "removed": 30, "removed_to": "B", "alive": 28}],
    )["A"]
    assert counts(line) == [(14, 58), (28, 51)]
    assert judge(line, 28).share == pytest.approx(51 / 60)


def test_one_of_two_tubs_that_was_not_counted_leaves_a_range(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [
            moved("A", 60, 58, on=14),
            later("B", 30, 25, on=14, from_batch="A"),
            later("C", 28, "", on=14, from_batch="A") | {"ended": day(28)},
        ],
        [{"date": day(28), "batch": "C", "dead": 3}],
    )["A"]
    found = judge(line, 28)
    assert found.grade == "not_counted"
    assert (found.alive_low, found.alive_high) == (25, 50)
    assert found.share_low == pytest.approx(25 / 60)
    assert found.share == found.share_high == pytest.approx(50 / 60)


def test_two_tubs_of_one_clutch_put_together_are_one_unit_from_the_start(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [
            moved("A", 30, 28, on=14),
            moved("B", 30, 29, on=14),
            later("C", 57, 50, on=14, from_batch="A"),
        ],
        [{"date": day(14), "batch": "B", "removed": 29, "removed_to": "C"}],
    )["A"]
    assert line.batches == ("A", "B", "C")
    assert line.looks.start.tolist() == [60, 60, 60]
    assert counts(line) == [(14, 57), (28, 50)]
    assert codes(line) == []


def test_fish_moved_out_that_never_arrived_are_asked_about(tmp_path: Path) -> None:
    lines = lines_of(
        tmp_path,
        [batch("A", 30, 10, **K1), batch("B", 30, 25, **K1)],
        [{"date": day(14), "batch": "A", "dead": 0, "removed": 18, "removed_to": "B"}],
    )
    line = lines["A"]
    assert line.batches == ("A", "B")
    assert "never_arrived" in codes(line)
    assert counts(line) == [(28, 35)]
    assert judge(line, 28).share == pytest.approx(35 / 60)


def test_fish_moved_to_a_batch_that_the_log_lacks_were_taken_out(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [batch("A", 30, 10, **K1)],
        [{"date": day(14), "batch": "A", "dead": 0, "removed": 18, "removed_to": "pond"}],
    )["A"]
    assert codes(line) == ["moved_to_unknown"]
    assert line.looks.out[:, 1].tolist() == [18, 0]


def test_a_chain_of_three_is_one_line(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [
            moved("A", 40, 38, on=7),
            moved("B", 38, 35, on=14, from_batch="A") | {"started": day(7)},
            later("C", 35, 30, on=14, from_batch="B"),
        ],
    )["A"]
    assert line.batches == ("A", "B", "C")
    assert counts(line) == [(7, 38), (14, 35), (28, 30)]
    assert line.end_age == 28


def test_fish_that_go_round_in_a_circle_do_not_hang(tmp_path: Path) -> None:
    there_and_back = lines_of(
        tmp_path,
        [batch("A", 40, 20, **K1), later("B", 20, 15, on=7, from_batch="A", **K1)],
        [
            {"date": day(7), "batch": "A", "removed": 20, "removed_to": "B"},
            {"date": day(10), "batch": "B", "removed": 3, "removed_to": "A"},
            {"date": day(10), "batch": "A", "added": 3},
        ],
    )["A"]
    assert not there_and_back.looks.into.any()
    assert judge(there_and_back, 28).share == pytest.approx(35 / 40)
    lines = lines_of(
        tmp_path / "named",
        [
            batch("A", 40, 30, from_batch="C", **K1),
            batch("B", 20, 15, from_batch="A", **K1),
            batch("C", 20, 15, from_batch="B", **K1),
        ],
    )
    assert list(lines) == ["A", "B", "C"]
    assert all(codes(line) == ["came_from_itself"] for line in lines.values())
    assert lines["A"].looks.start.tolist() == [40, 40, 40]


def test_fish_from_another_method_end_the_line_on_that_day(tmp_path: Path) -> None:
    lines = lines_of(
        tmp_path,
        [batch("A", 40, 28, **K1), batch("B", 40, 45, clutch="K1", method="shaded")],
        [
            {"date": day(10), "batch": "A", "dead": 0, "removed": 10, "removed_to": "B"},
            {"date": day(10), "batch": "B", "dead": 1, "added": 10, "alive": 48},
        ],
    )
    assert lines["A"].looks.out[:, 1].tolist() == [10, 0]
    joined = lines["B"]
    assert (joined.ended, joined.end_age) == (True, 10)
    assert joined.end_reasons == ("others_joined",)
    assert counts(joined) == [(10, 38)]  # without the ten that came in
    found = judge(joined, 28)
    assert (found.grade, found.why) == ("stopped", "ended")
    assert (found.share_low, found.alive_low, found.alive_high) == (0, 0, 38)
    assert found.share == found.share_high == pytest.approx(38 / 40)


def test_a_tub_that_begins_with_fish_of_no_method_begins_a_line(tmp_path: Path) -> None:
    nursery = batch("N", 80, "", clutch="K1") | {"ended": day(7), "end_reason": "moved"}
    lines = lines_of(
        tmp_path,
        [
            nursery,
            later("A", 38, 30, on=7, from_batch="N", method="open"),
            later("B", 38, 20, on=7, from_batch="N", method="shaded"),
        ],
    )
    assert lines["A"].batches == ("A",)
    assert lines["A"].came_from == ("N",)
    assert lines["A"].clutch == "K1"
    assert lines["A"].looks.start.tolist() == [38, 38, 38]
    assert lines["N"].end_reasons == ("moved_away",)
    assert judge(lines["B"], 21).share == pytest.approx(20 / 38)  # its own clock: started


def test_added_fish_join_and_half_or_more_end_the_line_the_day_before(tmp_path: Path) -> None:
    few = lines_of(
        tmp_path / "few",
        [batch("A", 20, 15, **K1)],
        [
            {"date": day(10), "batch": "A", "dead": 5, "alive": 15},
            {"date": day(12), "batch": "A", "dead": 0, "added": 5},
        ],
    )["A"]
    assert few.looks.into[:, 1].tolist() == [0, 5, 0]
    early = 5 * 2 / 18  # of five missing from day 10 to 28, evenly by day
    assert judge(few, 28).share == pytest.approx((15 - early) / 20 * 15 / (20 - early))
    many = lines_of(
        tmp_path / "many",
        [batch("A", 20, 30, **K1)],
        [
            {"date": day(10), "batch": "A", "dead": 5, "alive": 15},
            {"date": day(12), "batch": "A", "dead": 0, "added": 15},
        ],
    )["A"]
    assert (many.ended, many.end_age, many.end_reasons) == (True, 11, ("too_many_added",))
    assert many.looks.age.tolist() == [10]
    assert judge(many, 28).grade == "stopped"


def test_fish_added_on_the_day_of_the_last_count_are_not_survivors(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [batch("A", 40, 30, **K1)],
        [{"date": day(28), "batch": "A", "dead": 2, "added": 10}],
    )["A"]
    assert judge(line, 28).share == pytest.approx(20 / 40)


def test_fish_put_in_on_the_first_day_are_part_of_the_start(tmp_path: Path) -> None:
    more = lines_of(
        tmp_path / "more",
        [batch("A", 20, 30, **K1)],
        [{"date": day(0), "batch": "A", "added": 15}],
    )["A"]
    assert more.looks.start.tolist() == [35, 35, 35]
    twice = lines_of(
        tmp_path / "twice",
        [batch("A", 20, 18, **K1)],
        [{"date": day(0), "batch": "A", "added": 20}],
    )["A"]
    assert twice.looks.start.tolist() == [20, 20, 20]
    assert codes(twice) == ["put_in_told_twice"]


def test_a_tub_that_was_left_with_fish_keeps_them_open(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [
            batch("A", 40, "", **K1) | {"ended": ""},
            later("B", 30, 25, on=14, from_batch="A"),
        ],
        [{"date": day(14), "batch": "A", "dead": 4, "removed": 31, "removed_to": "B"}],
    )["A"]
    assert "not_closed" in codes(line)
    found = judge(line, 28)
    assert (found.alive_low, found.alive_high) == (25, 30)  # up to five are in A for all we know


def test_an_unknown_start_is_counted_back_on_the_first_day_or_stays_open(tmp_path: Path) -> None:
    lines = lines_of(
        tmp_path,
        [batch("A", "unknown", 20, **K1), batch("B", "unknown", 20, clutch="K2", method="open")],
        [{"date": day(0), "batch": "A", "dead": 2, "alive": 28}],
    )
    assert lines["A"].looks.start.tolist() == [30, 30, 30]
    assert judge(lines["A"], 28).share == pytest.approx(20 / 30)
    assert not lines["B"].looks.start_known
    found = judge(lines["B"], 28)
    assert (found.grade, found.share_low, found.share) == ("start_not_known", 0, 1)


def test_two_counts_of_one_day_that_differ_are_both_held(tmp_path: Path) -> None:
    line = lines_of(
        tmp_path,
        [batch("A", 40, 20, **K1)],
        [
            {"date": day(10), "batch": "A", "alive": 30},
            {"date": day(10), "batch": "A", "alive": 33},
        ],
    )["A"]
    assert codes(line) == ["counts_of_one_day"]
    assert line.looks.alive[0].tolist() == [30, 31.5, 33]


def test_the_order_of_rows_and_the_names_change_nothing(tmp_path: Path) -> None:
    batches = [
        moved("A", 30, 28, on=14),
        moved("B", 30, 29, on=14),
        later("C", 57, 50, on=14, from_batch="A"),
        batch("D", 40, 30, clutch="K2", method="open"),
    ]
    daily = [
        {"date": day(4), "batch": "A", "dead": 1},
        {"date": day(4), "batch": "A", "dead": 0, "alive": 29},
        {"date": day(14), "batch": "B", "removed": 29, "removed_to": "C"},
        {"date": day(20), "batch": "C", "dead": 2},
    ]
    first = lines_of(tmp_path / "first", batches, daily)
    again = lines_of(tmp_path / "again", batches[::-1], daily[::-1])
    other = {"A": "Z", "B": "Y", "C": "X", "D": "W"}
    renamed = lines_of(
        tmp_path / "renamed",
        [row | {k: other[row[k]] for k in ("batch", "from_batch") if k in row} for row in batches],
        [row | {k: other[row[k]] for k in ("batch", "removed_to") if k in row} for row in daily],
    )
    assert set(first) == set(again)
    for name, line in first.items():
        twin = next(x for x in renamed.values() if other[name] in x.batches)
        for copy in (again[name], twin):
            for field in ("start", "age", "dead", "out", "into", "alive"):
                mine, theirs = getattr(line.looks, field), getattr(copy.looks, field)
                np.testing.assert_array_equal(mine, theirs)
            assert copy.end_age == line.end_age


def test_a_hundred_thousand_rows_are_read_in_seconds() -> None:
    n = 1_000
    names = [f"T{i}" for i in range(n)]
    zero = pd.Timestamp("2025-04-01")
    batches = pd.DataFrame(
        {
            "batch": names,
            "clutch": names,
            "method": "open",
            "started": zero,
            "ended": pd.NaT,
            "end_reason": None,
            "age_zero": zero,
            "clock": "start",
            "start_known": True,
            "stopped": False,
            "from_batch": None,
            **{f"start_count_{e}": 500.0 for e in ("low", "best", "high")},
            **{f"end_count_{e}": np.nan for e in ("low", "best", "high")},
        }
    )
    rows = pd.DataFrame({"batch": np.repeat(names, 100)})
    rows["date"] = zero + pd.to_timedelta(np.tile(np.arange(1, 101), n), unit="D")
    rows["removed_to"] = rows["removed_why"] = None
    for name, value in (("dead", 1.0), ("removed", np.nan), ("added", np.nan), ("alive", np.nan)):
        for end in ("low", "best", "high"):
            rows[f"{name}_{end}"] = value
    begun = time.perf_counter()
    lines = find_lines(batches, rows)
    assert time.perf_counter() - begun < 20
    assert len(lines) == n
    assert lines[0].looks.dead[:, 1].sum() == 100


def tangled(rng: np.random.Generator) -> tuple[list[dict], list[dict]]:
    """A log with moves of every kind, told well and badly."""
    names = list("ABCDEF")
    batches, daily = [], []
    for name in names:
        fish = int(rng.integers(5, 40))
        row = batch(
            name,
            str(rng.choice([str(fish), f"{fish}-{fish + 4}", "unknown", f"{fish}+"])),
            clutch=str(rng.choice(["K1", "K1", "K2", ""])),
            method=str(rng.choice(["open", "open", "shaded", ""])),
        )
        begun = int(rng.choice([0, 0, 7, 14]))
        row["started"] = day(begun)
        if rng.random() < 0.7:
            row["ended"] = day(int(rng.choice([d for d in (7, 14, 15, 28) if d >= begun])))
            row["end_reason"] = str(rng.choice(["moved", "planned end", "all died", ""]))
            row["end_count"] = str(rng.choice(["", "0", str(fish), str(fish // 2)]))
        if rng.random() < 0.4:
            row["from_batch"] = str(rng.choice(names))
        batches.append(row)
        for d in sorted(rng.choice(np.arange(begun, 29), size=5, replace=False)):
            visit = {"date": day(int(d)), "batch": name, "dead": str(rng.choice(["", "0", "1"]))}
            if rng.random() < 0.3:
                visit["alive"] = str(int(rng.integers(0, 30)))
            if rng.random() < 0.3:
                visit["removed"] = str(rng.choice(["", "2", "5-6", "20"]))
                visit["removed_to"] = str(rng.choice([*names, "", "elsewhere"]))
            if rng.random() < 0.2:
                visit["added"] = str(rng.choice(["3", "1-2", "20"]))
            daily.append(visit)
    return batches, daily


@pytest.mark.parametrize("seed", range(40))
def test_tangled_logs_are_followed_without_losing_a_batch(tmp_path: Path, seed: int) -> None:
    batches, daily = tangled(np.random.default_rng(seed))
    log = read_log(write_log(tmp_path / "log", batches=batches, daily=daily))
    lines = find_lines(log.batches, log.daily)
    placed = [b for line in lines for b in line.batches]
    assert len(placed) == len(set(placed))  # no fish is counted in two lines
    for line in lines:
        looks = line.looks
        assert (np.diff(looks.age) >= 0).all()
        for counts_ in (looks.dead, looks.out, looks.into):
            assert (counts_[:, 0] >= 0).all()
            assert (counts_[:, 0] <= counts_[:, 2]).all()
        assert (looks.alive[:, 0] <= looks.alive[:, 2]).all()
        for on in (10, 28):
            found = judge(line, on)
            assert 0 <= found.share_low <= found.share_high <= 1
            if found.possible:
                assert found.share_low - 1e-9 <= found.share <= found.share_high + 1e-9
    again = find_lines(
        log.batches.sample(frac=1, random_state=seed), log.daily.sample(frac=1, random_state=seed)
    )
    shuffled = {line.name: line for line in again}
    for line in lines:
        np.testing.assert_array_equal(line.looks.alive, shuffled[line.name].looks.alive)
        np.testing.assert_array_equal(line.looks.out, shuffled[line.name].looks.out)
