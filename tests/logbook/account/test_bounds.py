"""Bounds of what a log proves, against every history of small logs and accounts worked by hand."""

from __future__ import annotations

import itertools
import math
import time
import tracemalloc
from collections.abc import Iterator

import numpy as np
import pytest

from rearkit.logbook.account import bounds as module
from rearkit.logbook.account.bounds import (
    Bounds,
    Cells,
    bounds_on,
    holding_both,
    least_alive,
    most_alive,
    possible,
    whole,
)

INF = math.inf
OPEN = 30  # stands for an open end where every history is listed


def cells_of(start, rows, age_start=0.0) -> Cells:
    """Make cells of (age, dead, out, into, alive) rows; a count is a number or (low, high)."""

    def pair(x):
        return (x, x) if np.isscalar(x) else x

    return Cells(
        age_start=age_start,
        start=np.array(pair(start), dtype=float),
        age=np.array([row[0] for row in rows], dtype=float),
        **{
            name: np.array(
                [pair(row[i]) if row[i] is not None else (0, INF) for row in rows], dtype=float
            ).reshape(-1, 2)
            for i, name in ((1, "dead"), (2, "out"), (3, "into"), (4, "alive"))
        },
    )


def histories(cells: Cells) -> Iterator[list[tuple[int, int, int, int]]]:
    """List every history as (at risk, left after the losses, taken out, put in) a look."""

    def upto(x):
        return OPEN if math.isinf(x) else int(x)

    def go(i, n, so_far):
        if i == cells.age.size:
            yield so_far
            return
        for lost in range(int(cells.dead[i, 0]), n + 1):
            left = n - lost
            for out in range(int(cells.out[i, 0]), min(upto(cells.out[i, 1]), left) + 1):
                for into in range(int(cells.into[i, 0]), upto(cells.into[i, 1]) + 1):
                    now = left - out + into
                    if cells.alive[i, 0] <= now <= cells.alive[i, 1]:
                        yield from go(i + 1, now, [*so_far, (n, left, out, into)])

    for start in range(int(cells.start[0]), upto(cells.start[1]) + 1):
        yield from go(0, start, [])


def brute_force(cells: Cells, day: float, since: float | None = None) -> Bounds | None:
    """Try every history, with the losses of the interval around a day before it and after it."""
    shares, numbers = [], []
    cells = cells.until(day)
    from_ = np.concatenate([[cells.age_start], cells.age[:-1]])
    around = (from_ < day) & (day < cells.age)
    around_since = np.zeros(cells.age.size, dtype=bool)
    if since is not None:
        around_since = (from_ < since) & (since < cells.age)
    for history in histories(cells):
        n, left, out, into = np.array(history, dtype=float).T
        factor = np.where(n > 0, left / np.maximum(n, 1), 1.0)
        after = left - out + into
        for late, late_since in itertools.product((False, True), repeat=2):
            if late and not late_since and (around & around_since).any():
                continue  # lost before the one day and after the other
            until = (cells.age <= day) | (around & (not late))
            begun = np.zeros(cells.age.size, dtype=bool)
            if since is not None:
                begun = (cells.age <= since) | (around_since & (not late_since))
            number = after[until][-1] if until.any() else n[0]
            if around.any():
                i = int(np.flatnonzero(around)[0])
                numbers.append(n[i] + into[i] if late else left[i] - out[i])
            else:
                numbers.append(number)
            inside = around_since.any() and not late_since
            if not begun.any() or (left if inside else after)[begun][-1] > 0:
                shares.append(math.prod(factor[until & ~begun]))
    if not numbers:
        return None
    return Bounds(
        share_low=min(shares, default=math.nan),
        share_high=max(shares, default=math.nan),
        alive_low=min(numbers),
        alive_high=max(numbers),
    )


def random_cells(rng: np.random.Generator) -> Cells:
    """A small log: up to four looks, ranges, counts, fish taken out and put in."""
    adds = rng.random() < 0.5

    def some(chance, top, width):
        if rng.random() > chance:
            return (0, 0)
        low = int(rng.integers(0, top + 1))
        return (low, low + int(rng.choice([0, 0, width])))

    low = int(rng.integers(1, 8))
    rows, age = [], 0.0
    for _ in range(int(rng.integers(1, 5))):
        age += float(rng.integers(1, 4))
        count = int(rng.integers(0, 8))
        rows.append(
            (
                age,
                some(0.6, 2, 1),
                some(0.35, 2, 1),
                some(0.3, 2, 1) if adds else (0, 0),
                (count, count + int(rng.choice([0, 0, 1, 2]))) if rng.random() < 0.35 else None,
            )
        )
    return cells_of((low, low + int(rng.choice([0, 0, 1, 2, 3]))), rows)


@pytest.mark.parametrize("seed", range(12))
def test_bounds_equal_the_extremes_over_every_history(seed: int) -> None:
    rng = np.random.default_rng(seed)
    seen = 0
    while seen < 60:
        cells = random_cells(rng)
        day = float(rng.choice([*cells.age, cells.age[-1] + 1, *(cells.age - 0.5)]))
        ours, every = bounds_on(cells, day), brute_force(cells, day, None)
        if every is None:
            assert ours is None
            assert not possible(cells)
            continue
        seen += 1
        assert ours is not None
        for name in ("share_low", "share_high", "alive_low", "alive_high"):
            told = f"{name} on day {day} of {cells}"
            assert getattr(ours, name) == pytest.approx(getattr(every, name), abs=1e-12), told


@pytest.mark.parametrize("seed", range(4))
def test_the_share_of_those_alive_at_a_later_age_is_bounded_too(seed: int) -> None:
    rng = np.random.default_rng([seed, 1])
    seen = 0
    while seen < 60:
        cells = random_cells(rng)
        since = float(rng.choice([*cells.age[:-1], *(cells.age - 0.5)]))
        day = float(rng.choice([age for age in (*cells.age, *(cells.age - 0.3)) if age > since]))
        every = brute_force(cells, day, since)
        if every is None or math.isnan(every.share_low):
            continue
        seen += 1
        ours = bounds_on(cells, day, since=since)
        assert ours is not None
        told = f"since {since} on day {day} of {cells}"
        assert ours.share_low == pytest.approx(every.share_low, abs=1e-12), told
        assert ours.share_high == pytest.approx(every.share_high, abs=1e-12), told


@pytest.mark.parametrize("seed", range(4))
def test_open_counts_approach_what_many_fish_give(seed: int) -> None:
    # "4+" has no upper end: every history with up to 30 fish lies inside, and comes near
    rng = np.random.default_rng([seed, 2])
    for _ in range(20):
        cells = random_cells(rng)
        if cells.age.size > 2:
            continue
        cells.start[1] = INF
        day = float(rng.choice(cells.age))
        ours, every = bounds_on(cells, day), brute_force(cells, day)
        assert (ours is None) == (every is None)
        if ours is None or every is None:
            continue
        assert ours.share_low == 0
        assert every.share_low < 0.4
        assert ours.share_high >= every.share_high - 1e-12
        assert ours.share_high == pytest.approx(every.share_high, abs=0.1)
        assert ours.alive_low == every.alive_low
        assert ours.alive_high in (every.alive_high, INF)


def values(bounds: Bounds | None) -> tuple[float, float, float, float]:
    assert bounds is not None
    return (bounds.share_low, bounds.share_high, bounds.alive_low, bounds.alive_high)


def test_one_container_by_hand() -> None:
    # 30 to 36 at the start, 3 bodies, 20 counted on day 28: 20 of 36 to 20 of 30
    cells = cells_of((30, 36), [(10, 3, 0, 0, None), (28, 0, 0, 0, 20)])
    assert values(bounds_on(cells, 28)) == pytest.approx((20 / 36, 20 / 30, 20, 20))
    # on day 10, after the bodies: 20 to 33 alive
    assert values(bounds_on(cells, 10)) == pytest.approx((20 / 36, 33 / 36, 20, 33))


def test_those_taken_out_leave_the_risk_alive() -> None:
    # 100 fish, 50 die, 40 are sold, 10 are left and 40 more go missing: .50 before the sale
    cells = cells_of(100, [(5, 50, 0, 0, 50), (6, 0, 40, 0, 10)])
    assert values(bounds_on(cells, 6)) == pytest.approx((0.5, 0.5, 10, 10))
    # lost after the sale instead: a sixth
    cells = cells_of(100, [(5, 0, 40, 0, 60), (6, 50, 0, 0, 10)])
    assert bounds_on(cells, 6).share_high == pytest.approx(10 / 60)


def test_a_day_between_two_looks_has_its_dead_before_and_after_it() -> None:
    cells = cells_of(20, [(7, 0, 0, 0, 20), (14, 5, 0, 0, 15)])
    assert values(bounds_on(cells, 10)) == pytest.approx((0.75, 1.0, 15, 20))


def test_after_the_last_look_any_number_may_have_been_lost() -> None:
    cells = cells_of(20, [(7, 2, 0, 0, 18)])
    assert values(bounds_on(cells, 8)) == pytest.approx((0, 0.9, 0, 18))
    gone = cells_of(20, [(7, 20, 0, 0, 0)])
    assert values(bounds_on(gone, 30)) == pytest.approx((0, 0, 0, 0))


def test_an_open_start_is_at_best() -> None:
    cells = cells_of((40, INF), [(28, 5, 0, 0, 35)])
    ours = bounds_on(cells, 28)
    assert (ours.share_low, ours.share_high) == (0, 35 / 40)
    never_counted = cells_of((40, INF), [(28, 5, 0, 0, None)])
    ours = bounds_on(never_counted, 28)
    assert (ours.share_low, ours.share_high) == (0, 1)
    assert (ours.alive_low, ours.alive_high) == (0, INF)


def test_a_log_that_no_history_allows_says_so() -> None:
    too_many_dead = cells_of(20, [(3, 15, 0, 0, None), (9, 6, 0, 0, None)])
    assert bounds_on(too_many_dead, 3) is None
    rises = cells_of(20, [(3, 0, 0, 0, 10), (9, 0, 0, 0, 12)])
    assert bounds_on(rises, 9) is None


def test_counts_that_contradict_each_other_are_both_held() -> None:
    rises = cells_of(20, [(3, 0, 0, 0, 10), (9, 0, 0, 0, 12), (12, 0, 0, 0, 9)])
    both, looks = holding_both(rises)
    assert looks == (0, 1)
    assert both.alive.tolist() == [[10, 12], [10, 12], [9, 9]]
    assert values(bounds_on(both, 9)) == pytest.approx((0.5, 0.6, 10, 12))
    fine = cells_of(20, [(3, 0, 0, 0, 10)])
    assert holding_both(fine) == (fine, ())


def test_more_alive_than_ever_were_there_is_not_explained_away() -> None:
    both, _ = holding_both(cells_of(20, [(3, 0, 0, 0, 30)]))
    assert bounds_on(both, 3) is None


def test_whole_fish_lie_within_the_ends_that_were_typed() -> None:
    counts = [[39.6, 44, 48.4], [7, 7, 7], [np.nan, np.nan, np.nan], [2.2, 2.5, 2.8]]
    ranges = whole(counts, unknown=(0, INF))
    assert ranges.tolist() == [[40, 48], [7, 7], [0, INF], [2, 3]]


def test_the_numbers_alive_follow_the_cells_both_ways() -> None:
    cells = cells_of((30, 40), [(5, 2, 3, 0, None), (9, 0, 0, 4, (20, 28)), (12, 1, 0, 0, None)])
    assert least_alive(cells).tolist() == [21, 16, 20, 0]
    assert most_alive(cells).tolist() == [40, 35, 28, 27]


def test_very_many_fish_have_bounds_that_contain_the_exact_ones(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rng = np.random.default_rng(5)
    pairs = []
    while len(pairs) < 150:
        cells = random_cells(rng)
        day = float(rng.choice([*cells.age, *(cells.age - 0.5)]))
        exact = bounds_on(cells, day)
        if exact is not None:
            pairs.append((cells, day, exact))
    monkeypatch.setattr(module, "LARGEST", 0)
    for cells, day, exact in pairs:
        wide = bounds_on(cells, day)
        assert wide is not None
        assert wide.share_low <= exact.share_low + 1e-12
        assert wide.share_high >= exact.share_high - 1e-12
        still = not cells.out.any() and not cells.into.any() and cells.start[0] == cells.start[1]
        if still:
            assert wide.share_low == pytest.approx(exact.share_low)
            assert wide.share_high == pytest.approx(exact.share_high)


def thirty_looks(fish: int) -> Cells:
    rng = np.random.default_rng(3)
    rows = [
        (
            day + 1,
            (int(fish * 0.005), int(fish * 0.01)),
            (0, int(rng.integers(0, 3))),
            0,
            (int(fish * (0.98 - 0.02 * day)), int(fish * (1.0 - 0.015 * day)))
            if day % 7 == 6
            else None,
        )
        for day in range(30)
    ]
    return cells_of((int(fish * 0.9), fish), rows)


def test_four_hundred_fish_and_thirty_looks_take_milliseconds() -> None:
    cells = thirty_looks(440)
    assert bounds_on(cells, 28) is not None
    begun = time.perf_counter()
    for _ in range(5):
        bounds_on(cells, 28)
    assert (time.perf_counter() - begun) / 5 < 0.05


def test_memory_stays_small_for_any_start() -> None:
    tracemalloc.start()
    assert bounds_on(thirty_looks(200_000), 28) is not None
    assert bounds_on(thirty_looks(999_999_999), 28) is not None
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 50e6
