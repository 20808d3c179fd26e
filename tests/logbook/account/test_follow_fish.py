"""Fish followed from look to look, against accounts worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from rearkit.logbook.account.follow_fish import follow

NAN = np.nan


def test_missing_fish_are_placed_like_the_deaths_that_were_seen() -> None:
    # 40 start; 6 then 2 dead; 24 alive at the end: 8 vanished, three in four of them early
    f = follow(40, [6, 2], [0, 0], [0, 0], [NAN, 24], [2, 2])
    assert f.missing == pytest.approx([6, 2])
    assert f.at_risk == pytest.approx([40, 28])


def test_missing_fish_go_by_days_where_no_death_was_seen() -> None:
    f = follow(30, [0, 0], [0, 0], [0, 0], [NAN, 21], [2, 1])
    assert f.missing == pytest.approx([6, 3])


def test_missing_fish_lie_between_the_full_counts_that_bracket_them() -> None:
    f = follow(50, [1, 0, 2], [0, 0, 0], [0, 0, 0], [45, NAN, 40], [3, 3, 3])
    assert f.missing == pytest.approx([4, 1.5, 1.5])  # few bodies: evenly by day
    assert f.at_risk == pytest.approx([50, 45, 43.5])


def test_many_bodies_place_the_missing() -> None:
    f = follow(50, [4, 2], [0, 0], [0, 0], [NAN, 41], [3, 3])
    assert f.missing == pytest.approx([2, 1])


def test_without_a_count_nobody_is_missing() -> None:
    f = follow(20, [1, 1], [0, 0], [0, 0], [NAN, NAN], [1, 1])
    assert f.missing.sum() == 0


def test_deaths_come_before_removals_and_added_fish_come_last() -> None:
    f = follow(10, [2, 0], [3, 0], [5, 0], [NAN, NAN], [1, 1])
    assert f.at_risk == pytest.approx([10, 10])


def test_many_draws_at_once_equal_one_by_one() -> None:
    rng = np.random.default_rng(7)
    starts = rng.uniform(30, 40, 50)
    dead = rng.uniform(0, 2, (50, 4))
    alive = np.full((50, 4), NAN)
    alive[:, 3] = rng.uniform(10, 20, 50)
    days = np.array([1.0, 2.0, 3.0, 1.0])
    together = follow(starts, dead, np.zeros(4), np.zeros(4), alive, days)
    for i in range(50):
        one = follow(starts[i], dead[i], np.zeros(4), np.zeros(4), alive[i], days)
        assert together.missing[i] == pytest.approx(one.missing)
        assert together.at_risk[i] == pytest.approx(one.at_risk)


@pytest.mark.parametrize("seed", range(20))
def test_no_fish_is_lost_or_invented(seed: int) -> None:
    rng = np.random.default_rng(seed)
    k = int(rng.integers(1, 8))
    start = int(rng.integers(20, 200))
    now, dead, removed, added, gone = start, [], [], [], 0
    for _ in range(k):
        d = int(rng.integers(0, now // 4 + 1))
        v = int(rng.integers(0, (now - d) // 4 + 1))
        r = int(rng.integers(0, (now - d - v) // 4 + 1))
        a = int(rng.integers(0, 3))
        now += a - d - v - r
        gone += v
        dead.append(d), removed.append(r), added.append(a)
    alive = np.full(k, NAN)
    alive[-1] = now
    f = follow(start, dead, removed, added, alive, np.ones(k))
    end = f.at_risk[-1] - f.dead[-1] - f.missing[-1] - f.removed[-1] + f.added[-1]
    assert end == pytest.approx(now)
    assert f.missing.sum() == pytest.approx(gone)
    assert (f.at_risk >= f.dead + f.missing - 1e-9).all()
