import numpy as np
import pytest

from rearkit.errors import FitError
from rearkit.stats.growth.growth_rates import (
    absolute_growth_rate,
    degree_days,
    fit_length_weight,
    geometric_mean,
    specific_growth_rate,
    thermal_growth_coefficient,
)
from tests.reference.growth import growth_value


def test_specific_growth_rate_of_containers():
    want = growth_value("specific_growth")
    first, last = np.array(want["day_0"]), np.array(want["day_21"])
    rates = specific_growth_rate(first, last, 21)
    assert rates == pytest.approx(want["sgr_by_container"], rel=1e-9)
    assert rates.mean() == pytest.approx(want["mean_of_container_sgr"], rel=1e-9)
    assert rates.std(ddof=1) / 2 == pytest.approx(want["sgr_se_across_containers"], rel=1e-9)
    of_means = specific_growth_rate(first.mean(), last.mean(), 21)
    assert of_means == pytest.approx(want["sgr_of_means_pct_day"], rel=1e-9)


def test_geometric_means_make_untagged_groups_the_mean_of_their_fish():
    first, last = np.array([4.0, 5.0, 7.0]), np.array([9.0, 12.0, 13.0])
    by_fish = specific_growth_rate(first, last, 14).mean()
    shuffled = specific_growth_rate(geometric_mean(first), geometric_mean(last[::-1]), 14)
    assert shuffled == pytest.approx(by_fish, rel=1e-12)
    assert geometric_mean([2.0, 8.0], n_fish=[3, 1]) == pytest.approx(2.0**1.5)


def test_absolute_growth_rate():
    assert absolute_growth_rate([5.0, 9.0], [9.0, 8.0], 10.0) == pytest.approx([0.4, -0.1])


def test_degree_days_by_hand():
    days, temps = [0, 2, 4], [14.0, 16.0, 16.0]
    assert degree_days(days, temps, base_c=10.0, from_day=0, to_day=4) == pytest.approx(22.0)
    # The line crosses 15 on day 1: a triangle of 1 day and 1 degree, then 2 days of 1 degree.
    assert degree_days(days, temps, base_c=15.0, from_day=0, to_day=4) == pytest.approx(2.5)
    assert degree_days(days, temps, base_c=15.0, from_day=1.5, to_day=3) == pytest.approx(1.375)
    assert degree_days(days, temps, base_c=20.0, from_day=0, to_day=4) == 0.0


def test_degree_days_ignore_order_and_average_one_day():
    want = degree_days([0, 5, 9], [24, 25, 27], base_c=12, from_day=0, to_day=9)
    got = degree_days([9, 0, 5, 5], [27, 24, 24, 26], base_c=12, from_day=0, to_day=9)
    assert got == pytest.approx(want, rel=1e-14)


def test_degree_days_outside_the_readings_are_not_known():
    assert np.isnan(degree_days([1, 5], [24, 25], base_c=12, from_day=0, to_day=5))
    with pytest.raises(FitError, match="temperature or its day is missing"):
        degree_days([1, 5], [24, np.nan], base_c=12, from_day=1, to_day=5)


def test_thermal_growth_example():
    weight = growth_value("thermal")["weight_g"]
    assert thermal_growth_coefficient(0.01, weight, 20 * 30) == pytest.approx(1.0, abs=1e-4)
    # By hand: the cube roots of 0.008 and 0.027 g differ by 0.1 in 50 degree-days.
    assert thermal_growth_coefficient(0.008, 0.027, 50.0) == pytest.approx(2.0, rel=1e-12)


def test_impossible_values_are_refused_in_words():
    with pytest.raises(FitError, match=r"size of 0 cannot be used\. A size is above 0\."):
        specific_growth_rate(0.0, 5.0, 7)
    with pytest.raises(FitError, match="number of days of 0 cannot be used"):
        absolute_growth_rate(4.0, 5.0, 0)
    with pytest.raises(FitError, match="no sizes"):
        geometric_mean([])


def test_length_weight_of_an_exact_cube_law():
    length = np.array([10.0, 14.0, 20.0, 31.0])
    line = fit_length_weight(length, 0.012 * length**3.1)
    assert line.exponent == pytest.approx(3.1, rel=1e-12)
    assert np.exp(line.intercept) == pytest.approx(0.012, rel=1e-10)
    assert not line.unusual


def test_length_weight_agrees_with_the_slope_formula():
    rng = np.random.default_rng(5)
    length = rng.uniform(8, 30, 40)
    weight = 0.02 * length**2.9 * np.exp(rng.normal(0, 0.1, 40))
    line = fit_length_weight(length, weight)
    x, y = np.log(length), np.log(weight)
    slope = np.cov(x, y)[0, 1] / x.var(ddof=1)
    assert line.exponent == pytest.approx(slope, rel=1e-10)


@pytest.mark.parametrize(("exponent", "unusual"), [(2.4, True), (2.6, False), (3.6, True)])
def test_unusual_exponents_are_flagged(exponent, unusual):
    length = np.array([10.0, 14.0, 20.0])
    assert fit_length_weight(length, length**exponent).unusual is unusual


def test_length_weight_needs_fish_of_different_lengths():
    with pytest.raises(FitError, match="2 fish of 2 different lengths give no length-weight line"):
        fit_length_weight([5, 6], [1, 2])
    with pytest.raises(FitError, match="3 fish of 1 different lengths"):
        fit_length_weight([5, 5, 5], [1, 2, 3])
    with pytest.raises(FitError, match="3 lengths and 2 weights"):
        fit_length_weight([5, 6, 7], [1, 2])
    with pytest.raises(FitError, match="weight of 0 cannot be used"):
        fit_length_weight([5, 6, 7], [1, 2, 0])
