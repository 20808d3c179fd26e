"""The history shown "as counted": allowed by every cell, bodies as typed, the missing in bands."""

from __future__ import annotations

import numpy as np
import pytest

from rearkit.logbook.account.bounds import bounds_on, possible
from rearkit.logbook.account.looks import Looks, alive_on, as_counted, share_on, window

INF = np.inf


def looks_of(start, rows) -> Looks:
    """Make looks of (age, dead, out, into, alive) rows; a count is a number or (low, high)."""

    def three(x):
        if x is None:
            return (0.0, np.nan, INF)
        low, high = (x, x) if np.isscalar(x) else x
        return (low, low if np.isinf(high) else (low + high) / 2, high)

    counts = {
        name: np.array([three(row[i]) for row in rows], dtype=float).reshape(-1, 3)
        for i, name in ((1, "dead"), (2, "out"), (3, "into"), (4, "alive"))
    }
    return Looks(
        age_start=0.0,
        start=np.array(three(start), dtype=float),
        age=np.array([row[0] for row in rows], dtype=float),
        ill=np.zeros((len(rows), 3)),
        **counts,
    )


def random_looks(rng: np.random.Generator, *, large: bool) -> Looks:
    top, most = (60, 6) if large else (8, 2)

    def some(chance, width):
        if rng.random() > chance:
            return 0
        low = int(rng.integers(0, most + 1))
        return (low, low + int(rng.choice([0, 0, width])))

    def count():
        low = int(rng.integers(0, top))
        return (low, low + int(rng.choice([0, 0, 1, 2]))) if rng.random() < 0.35 else None

    age, rows = 0.0, []
    for _ in range(int(rng.integers(1, 7))):
        age += float(rng.integers(1, 4))
        rows.append((age, some(0.6, 2), some(0.3, 2), some(0.25, 1), count()))
    start = int(rng.integers(1, top))
    return looks_of((start, start + int(rng.choice([0, 0, 1, 3]))), rows)


@pytest.mark.parametrize("seed", range(8))
def test_as_counted_is_allowed_by_every_cell_and_lies_inside_the_bounds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    seen = 0
    while seen < 100:
        looks = random_looks(rng, large=bool(rng.integers(0, 2)))
        cells = looks.cells
        if not possible(cells):
            continue
        seen += 1
        told = as_counted(looks)
        assert told is not None
        slack = 1e-9
        assert cells.start[0] - slack <= told.start <= cells.start[1] + slack
        assert (told.dead >= cells.dead[:, 0] - slack).all()
        assert (told.missing >= -slack).all()
        for name in ("out", "into"):
            value, ends = getattr(told, name), getattr(cells, name)
            assert (value >= ends[:, 0] - slack).all()
            assert (value <= ends[:, 1] + slack).all()
        assert (told.left >= told.out - slack).all()
        assert (told.after >= cells.alive[:, 0] - slack).all()
        assert (told.after <= cells.alive[:, 1] + slack).all()
        np.testing.assert_allclose(told.at_risk[1:], told.after[:-1], atol=slack)
        for day in (*looks.age, looks.age[-1] - 0.5):
            bounds = bounds_on(cells, day)
            assert bounds is not None
            share, alive = share_on(looks, told, day), alive_on(looks, told, day)
            assert bounds.share_low - slack <= share <= bounds.share_high + slack
            assert bounds.alive_low - slack <= alive <= bounds.alive_high + slack


def test_a_typed_exact_count_is_never_altered() -> None:
    # 23 in, 12 or 13 dead, 11 counted: the range gives way, and 11 are alive
    told = as_counted(looks_of(23, [(5, (12, 13), 0, 0, 11)]))
    assert told is not None
    assert (told.dead[0], told.missing[0], told.after[0]) == (12, 0, 11)


def test_ranges_give_way_together() -> None:
    # 23 in, 12 to 14 dead, 10 to 12 counted: both middles move by as much as is needed
    told = as_counted(looks_of(23, [(5, (12, 14), 0, 0, (10, 12))]))
    assert told is not None
    assert told.dead[0] == pytest.approx(12.5)
    assert told.after[0] == pytest.approx(10.5)
    assert told.missing[0] == pytest.approx(0)


def test_bodies_are_bodies_where_all_died() -> None:
    # 100 at the start, 10-20, 20 and 30 found, none alive: 65 bodies, 35 missing
    looks = looks_of(100, [(5, (10, 20), 0, 0, None), (9, 20, 0, 0, None), (14, 30, 0, 0, 0)])
    told = as_counted(looks)
    assert told is not None
    assert told.dead.tolist() == [15, 20, 30]
    assert told.missing.sum() == pytest.approx(35)
    assert share_on(looks, told, 14) == 0


def test_the_missing_go_by_bodies_only_if_these_are_five_and_half_of_the_loss() -> None:
    # one body on one day, eight missing: evenly by day, no cliff
    told = as_counted(looks_of(40, [(2, 0, 0, 0, None), (6, 1, 0, 0, None), (12, 0, 0, 0, 31)]))
    assert told is not None
    assert told.missing == pytest.approx([8 * 2 / 12, 8 * 4 / 12, 8 * 6 / 12])
    # six bodies and four missing: by the bodies
    told = as_counted(looks_of(40, [(2, 4, 0, 0, None), (6, 2, 0, 0, None), (12, 0, 0, 0, 30)]))
    assert told is not None
    assert told.missing == pytest.approx([4 * 4 / 6, 4 * 2 / 6, 0])
    # five bodies and six missing: less than half of the loss
    told = as_counted(looks_of(40, [(2, 4, 0, 0, None), (6, 1, 0, 0, 29)]))
    assert told is not None
    assert told.missing == pytest.approx([6 * 2 / 6, 6 * 4 / 6])


def test_the_missing_lie_between_the_counts_that_bracket_them() -> None:
    looks = looks_of(50, [(3, 1, 0, 0, 45), (6, 0, 0, 0, None), (9, 2, 0, 0, 40)])
    told = as_counted(looks)
    assert told is not None
    assert told.missing == pytest.approx([4, 1.5, 1.5])
    assert looks.brackets == ((0, 0), (1, 2))


def test_a_look_loses_no_more_than_were_there() -> None:
    # ten fish: five die, five are sold, six come; two missing can only be of the six
    rows = [(2, 5, 5, 0, None), (4, 0, 0, 6, None), (6, 1, 0, 0, 3)]
    told = as_counted(looks_of(10, rows))
    assert told is not None
    assert told.missing == pytest.approx([0, 0, 2])
    assert told.at_risk == pytest.approx([10, 0, 6])


def test_without_a_closing_count_nobody_is_missing() -> None:
    told = as_counted(looks_of(20, [(1, 1, 0, 0, None), (2, 1, 0, 0, None)]))
    assert told is not None
    assert told.missing.sum() == 0


def test_an_unknown_start_is_the_least_that_explains_the_rest() -> None:
    told = as_counted(looks_of(None, [(5, 3, 2, 0, None), (9, 0, 0, 0, 20)]))
    assert told is not None
    assert told.start == 25


def test_no_history_is_told_where_none_fits() -> None:
    assert as_counted(looks_of(20, [(3, 15, 0, 0, None), (9, 6, 0, 0, None)])) is None


def test_shares_between_looks_go_by_day_and_may_begin_later() -> None:
    looks = looks_of(40, [(10, 10, 0, 0, 30), (20, 15, 0, 0, 15)])
    told = as_counted(looks)
    assert told is not None
    assert share_on(looks, told, 5) == pytest.approx(35 / 40)
    assert share_on(looks, told, 15) == pytest.approx(0.75 * 0.75)
    assert share_on(looks, told, 20, since=10) == pytest.approx(0.5)
    assert share_on(looks, told, 99) == pytest.approx(15 / 40)
    assert alive_on(looks, told, 15) == pytest.approx(22.5)


def test_a_range_cut_off_below_by_later_facts_is_the_middle_of_what_is_left() -> None:
    # 30 to 36 at the start, four bodies and thirty alive: 34 to 36, so 35
    told = as_counted(looks_of((30, 36), [(3, 4, 0, 0, None), (28, 0, 0, 0, 30)]))
    assert told is not None
    assert (told.start, told.missing.sum()) == pytest.approx((35, 1))


@pytest.mark.parametrize(("day", "days"), [(5, 1), (14, 1), (20, 2), (28, 2), (60, 6)])
def test_the_window_is_a_tenth_of_the_day_and_at_least_one(day: float, days: float) -> None:
    assert window(day) == days
