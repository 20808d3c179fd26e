"""Spread among the fish of a container: by hand, and single fish against groups."""

from __future__ import annotations

import numpy as np
import pytest

from rearkit.errors import FitError
from rearkit.stats.growth.size_spread import (
    SMALLEST_TENTH,
    day_spread,
    share_at_least,
    size_spread,
)


def test_one_day_by_hand() -> None:
    # 8, 10, 12: mean 10, squares 4 + 0 + 4 over 2
    spread = day_spread([7, 7, 7], [8.0, 10.0, 12.0])
    assert spread.sd.tolist() == [2.0]
    assert spread.cv.tolist() == [0.2]
    assert spread.df.tolist() == [2.0]


def test_single_fish_and_a_group_with_its_sd_say_the_same() -> None:
    rng = np.random.default_rng(3)
    fish = rng.normal(9.0, 1.0, 12)
    single = day_spread(np.full(12, 14.0), fish)
    group = day_spread([14.0], [fish.mean()], n_fish=[12], sd=[fish.std(ddof=1)])
    assert group.sd == pytest.approx(single.sd)
    assert group.pooled_cv == pytest.approx(single.pooled_cv)


def test_a_group_without_its_sd_hides_the_spread_of_its_day() -> None:
    spread = day_spread([7, 7, 14, 14], [8.0, 9.0, 11.0, 12.0], n_fish=[5, 1, 1, 1])
    assert np.isnan(spread.sd[0])
    assert spread.pooled_cv == pytest.approx(spread.cv[1])


def test_days_pool_by_their_degrees_of_freedom() -> None:
    # day 7: CV .2 with 2 df, day 14: CV .1 with 1 df -> sqrt((2 * .04 + .01) / 3)
    spread = day_spread([7, 14], [10.0, 20.0], n_fish=[3, 2], sd=[2.0, 2.0])
    assert spread.pooled_cv == pytest.approx(np.sqrt(0.03))


def test_one_fish_a_day_says_nothing_of_spread() -> None:
    assert np.isnan(day_spread([7, 14], [10.0, 20.0]).pooled_cv)


def test_a_length_of_nothing_is_refused() -> None:
    with pytest.raises(FitError, match="A length of 0 cannot be used"):
        day_spread([7.0], [0.0])


def test_share_long_enough_is_that_of_a_normal_distribution() -> None:
    # the tenth that are smallest lie 1.2816 standard deviations below the mean (normal table)
    assert pytest.approx(1.2816, abs=1e-4) == SMALLEST_TENTH
    length = 10.0 * (1 - SMALLEST_TENTH * 0.12)
    assert float(share_at_least(length, 10.0, 0.12)) == pytest.approx(0.9)


def test_share_long_enough_without_spread_or_knowledge() -> None:
    shares = share_at_least(10.0, [12.0, 8.0, 12.0, np.nan], [0.0, 0.0, np.nan, 0.1])
    assert shares[:2].tolist() == [1.0, 0.0]
    assert np.isnan(shares[2:]).all()


def test_single_fish_by_hand() -> None:
    spread = size_spread([8.0, 10.0, 12.0, 18.0])
    assert spread.largest_to_smallest == 2.25
    assert spread.percentile_10 == pytest.approx(8.6)
    # By hand: third moment 36, second 14, small-sample factor sqrt(12) / 2.
    assert spread.skew == pytest.approx(36 / 14**1.5 * np.sqrt(12) / 2)


def test_skew_of_few_or_equal_fish_is_not_known() -> None:
    assert size_spread([9.0]).largest_to_smallest == 1.0
    for sizes in ([9.0], [8.0, 9.0], [9.0, 9.0, 9.0]):
        assert np.isnan(size_spread(sizes).skew)


def test_skew_has_no_unit() -> None:
    mm = np.array([8.0, 9.5, 11.0, 14.0])
    assert size_spread(mm).skew == pytest.approx(size_spread(mm / 10).skew, rel=1e-12)
