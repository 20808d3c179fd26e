import numpy as np
import pytest

from rearkit.errors import DesignError
from rearkit.stats.survival.turnbull import turnbull
from tests.reference import expected

INF = float("inf")


def made_up(seed):
    """Make up grouped rows of fish that were looked for on some days of twelve."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(1, 20))
    left = rng.integers(0, 12, n).astype(float)
    right = np.where(rng.random(n) < 0.3, INF, left + rng.integers(0, 8, n))
    return left, right, rng.integers(1, 60, n)


def test_overlapping_intervals_by_hand():
    # Case B08: closed form.
    want = expected("B08")
    curve = turnbull([0, 1, 2, 4], [2, 3, 4, INF])
    assert curve.left.tolist() == want["left"]
    assert curve.right.tolist() == [2, 3, INF]
    assert curve.mass.tolist() == pytest.approx(want["mass"], abs=1e-6)
    assert curve.log_likelihood == pytest.approx(want["loglik"], abs=1e-6)


def test_common_looks_give_dead_over_started():
    # Case B08: closing both ends would give 1, .5, .5.
    want = expected("B08")
    curve = turnbull([0, 1, 3, 7], [1, 3, 7, INF], [2, 3, 1, 4])
    assert curve.mass.tolist() == pytest.approx(want["grouped_mass"], abs=1e-6)
    assert curve.survival_at(want["grouped_right"]) == pytest.approx(want["grouped_S"], abs=1e-6)


def test_a_missed_look_shares_its_deaths_like_the_others():
    # Case B09: closed form for day 4.
    want = expected("B09")
    curve = turnbull(
        [0, 2, 4, 6, 8, 0, 2, 6, 8],
        [2, 4, 6, 8, INF, 2, 6, 8, INF],
        [3, 4, 1, 2, 30, 1, 9, 2, 28],
    )
    assert curve.mass.tolist() == pytest.approx(want["mass"], abs=1e-6)
    assert curve.mass[1] == pytest.approx(want["closed_form_mass24"], abs=1e-6)
    assert curve.log_likelihood == pytest.approx(want["loglik"], abs=1e-6)
    assert curve.survival_at([2, 4, 6, 8]) == pytest.approx(want["S_day2_4_6_8"], abs=1e-6)


def test_known_ages_give_the_product_limit_curve():
    from lifelines import KaplanMeierFitter

    for seed in range(5):
        rng = np.random.default_rng(seed)
        ages, died = rng.integers(1, 20, 40).astype(float), rng.random(40) < 0.7
        exact = KaplanMeierFitter().fit(ages, died).survival_function_.iloc[:, 0]
        exact = exact[: ages[died].max()]
        curve = turnbull(ages, np.where(died, ages, INF))
        assert curve.survival_at(exact.index) == pytest.approx(exact.to_numpy(), abs=1e-6)


def test_curves_fall_within_0_and_1_and_the_gradient_proves_the_best():
    for seed in range(60):
        curve = turnbull(*made_up(seed))
        days = np.arange(0, 13, 0.5)
        survival = curve.survival_at(days)
        low, high = curve.bounds_at(days)
        known = ~np.isnan(survival)
        assert (np.diff(survival[known]) <= 1e-12).all()
        assert ((survival[known] >= 0) & (survival[known] <= 1)).all()
        assert (low[known] <= survival[known] + 1e-12).all()
        assert (survival[known] <= high[known] + 1e-12).all()
        assert curve.mass.sum() == pytest.approx(1)
        assert curve.gap <= 1e-8


def test_weighted_rows_equal_single_fish_in_any_order():
    for seed in range(10):
        left, right, fish = made_up(seed)
        order = np.random.default_rng(seed).permutation(int(fish.sum()))
        one = turnbull(left, right, fish)
        two = turnbull(np.repeat(left, fish)[order], np.repeat(right, fish)[order])
        assert two.mass.tolist() == pytest.approx(one.mass.tolist(), abs=1e-9)
        assert two.log_likelihood == pytest.approx(one.log_likelihood)


def test_agrees_with_lifelines_once_its_left_ends_are_nudged():
    from lifelines.fitters.npmle import npmle

    for seed in (3, 8, 21):
        left, right, fish = made_up(seed)
        right = np.where(right == left, left + 1, right)
        masses, places = npmle(left + 1e-6, right, weights=fish, tol=1e-10)
        total = sum(
            w
            * np.log(
                sum(
                    mass
                    for mass, place in zip(masses, places, strict=True)
                    if low + 1e-6 <= place.left and place.right <= high
                )
            )
            for low, high, w in zip(left, right, fish, strict=True)
        )
        assert turnbull(left, right, fish).log_likelihood == pytest.approx(total, abs=1e-4)


def test_days_between_looks_and_beyond():
    curve = turnbull([0, 2, 4], [2, 4, INF], [5, 3, 2])
    assert curve.survival_at([0, 1, 3, 4]).tolist() == pytest.approx([1, 0.75, 0.35, 0.2])
    assert np.isnan(curve.survival_at(5))
    low, high = curve.bounds_at([0, 1, 2, 5])
    assert low.tolist() == pytest.approx([1, 0.5, 0.5, 0])
    assert high.tolist() == pytest.approx([1, 1, 0.5, 0.2])


def test_all_dead_and_all_alive_are_ordinary_data():
    dead = turnbull([0, 2], [2, 4], [3, 4])
    assert dead.survival_at([2, 4, 90]).tolist() == pytest.approx([4 / 7, 0, 0])
    alive = turnbull([14], [INF], [20])
    assert alive.survival_at([0, 14]).tolist() == [1, 1]


def test_rows_of_no_fish_are_left_out():
    with_none = turnbull([0, 1, 3], [1, 3, INF], [2, 0, 2])
    assert with_none.right.tolist() == [1, INF]


@pytest.mark.parametrize(
    ("left", "right", "fish", "message"),
    [
        ([3], [2], [1], "ends before it begins"),
        ([np.nan], [2], [1], "not known"),
        ([0], [2], [0], "at least one fish"),
        ([0, 1], [2, 2], [3, -1], "at least one fish"),
    ],
)
def test_impossible_rows_are_refused(left, right, fish, message):
    with pytest.raises(DesignError, match=message):
        turnbull(left, right, fish)
