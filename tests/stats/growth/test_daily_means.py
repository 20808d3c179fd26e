import numpy as np
import pytest

from rearkit.errors import FitError
from rearkit.stats.growth.daily_means import daily_means


def test_fish_and_groups_of_one_day_become_one_mean():
    data = daily_means([7, 0, 7, 7], [6.0, 5.0, 8.0, 7.0], n_fish=[1, 4, 1, 2], sd=[np.nan] * 4)
    assert data.days.tolist() == [0.0, 7.0]
    assert data.means.tolist() == [5.0, 7.0]
    assert data.n_fish.tolist() == [4.0, 4.0]
    assert data.within_ss == pytest.approx(2.0)  # 1 + 1 + 2 * 0
    assert data.within_df == 2.0  # three rows of day 7 less one; the four fish of day 0 unknown


def test_group_spread_counts_as_if_the_fish_were_there():
    fish = np.array([4.0, 5.0, 6.0, 9.0])
    single = daily_means([0] * 4, fish)
    grouped = daily_means([0], [fish.mean()], n_fish=[4], sd=[fish.std(ddof=1)])
    halves = daily_means(
        [0, 0],
        [fish[:2].mean(), fish[2:].mean()],
        n_fish=[2, 2],
        sd=[fish[:2].std(ddof=1), fish[2:].std(ddof=1)],
    )
    for data in (grouped, halves):
        assert data.means == pytest.approx(single.means)
        assert data.within_ss == pytest.approx(single.within_ss)
        assert data.within_df == single.within_df == 3.0


def test_order_of_rows_changes_nothing_at_all():
    rng = np.random.default_rng(2)
    days, lengths = rng.choice([0.0, 7.0, 14.0], 60), rng.normal(9, 1, 60)
    order = rng.permutation(60)
    one, other = daily_means(days, lengths), daily_means(days[order], lengths[order])
    assert one.means.tolist() == other.means.tolist()
    assert one.within_ss == other.within_ss


def test_joined_means():
    data = daily_means([0, 10, 20], [5.0, 9.0, 15.0])
    assert data.length_at([0, 5, 20]).tolist() == [5.0, 7.0, 15.0]
    assert np.isnan(data.length_at([-1, 21])).all()
    assert data.day_reached(12.0) == 15.0
    assert data.day_reached(5.0) == 0.0
    assert np.isnan(data.day_reached(4.0))
    assert np.isnan(data.day_reached(15.1))


def test_joined_means_reach_a_length_the_first_time():
    assert daily_means([0, 10, 20, 30], [5.0, 9.0, 7.0, 15.0]).day_reached(8.0) == 7.5


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (([], []), "no measurements"),
        (([0, 1], [5.0]), "differ in size: 2 days, 1 lengths"),
        (([0, 1], [5.0, -2.0]), r"length of -2 cannot be used \(measurement 2\)"),
        (([0, np.nan], [5.0, 6.0]), r"day of nan cannot be used \(measurement 2\)"),
    ],
)
def test_unusable_rows_are_refused_in_words(rows, said):
    with pytest.raises(FitError, match=said):
        daily_means(*rows)


def test_unusable_numbers_and_spreads_are_refused():
    with pytest.raises(FitError, match="number of fish of 0 cannot be used"):
        daily_means([0], [5.0], n_fish=[0])
    with pytest.raises(FitError, match="standard deviation of -1 cannot be used"):
        daily_means([0], [5.0], n_fish=[3], sd=[-1.0])
