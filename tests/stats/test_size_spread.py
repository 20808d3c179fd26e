import numpy as np
import pytest
from scipy import stats

from rearkit.errors import FitError
from rearkit.stats.size_spread import condition_factor, fit_length_weight, size_spread


def test_spread_by_hand():
    spread = size_spread([8.0, 10.0, 12.0, 18.0])
    assert spread.n_fish == 4
    assert spread.mean == 12.0
    assert spread.cv == pytest.approx(np.sqrt(56 / 3) / 12)
    assert spread.largest_to_smallest == 2.25
    assert spread.percentile_10 == pytest.approx(8.6)
    # By hand: third moment 36, second 14, small-sample factor sqrt(12) / 2.
    assert spread.skew == pytest.approx(36 / 14**1.5 * np.sqrt(12) / 2)


def test_spread_of_few_or_equal_fish():
    one = size_spread([9.0])
    assert one.largest_to_smallest == 1.0
    assert np.isnan([one.sd, one.cv, one.skew]).all()
    equal = size_spread([9.0, 9.0, 9.0])
    assert equal.cv == 0.0
    assert np.isnan(equal.skew)
    with pytest.raises(FitError, match="No fish was measured"):
        size_spread([])


def test_spread_has_no_unit():
    mm = np.array([8.0, 9.5, 11.0, 14.0])
    one, other = size_spread(mm), size_spread(mm / 10)
    assert one.cv == pytest.approx(other.cv, rel=1e-12)
    assert one.skew == pytest.approx(other.skew, rel=1e-12)


def test_length_weight_of_an_exact_cube_law():
    length = np.array([10.0, 14.0, 20.0, 31.0])
    line = fit_length_weight(length, 0.012 * length**3.1)
    assert line.exponent == pytest.approx(3.1, rel=1e-12)
    assert np.exp(line.intercept) == pytest.approx(0.012, rel=1e-10)
    assert line.weight_at(25.0) == pytest.approx(0.012 * 25**3.1, rel=1e-10)
    assert line.r_squared == pytest.approx(1.0)
    assert not line.unusual


def test_length_weight_agrees_with_the_slope_formula():
    rng = np.random.default_rng(5)
    length = rng.uniform(8, 30, 40)
    weight = 0.02 * length**2.9 * np.exp(rng.normal(0, 0.1, 40))
    line = fit_length_weight(length, weight, conf_level=0.9)
    x, y = np.log(length), np.log(weight)
    slope = np.cov(x, y)[0, 1] / x.var(ddof=1)
    rest = y - y.mean() - slope * (x - x.mean())
    error = np.sqrt(rest @ rest / 38 / ((x - x.mean()) @ (x - x.mean())))
    assert line.exponent == pytest.approx(slope, rel=1e-10)
    assert line.std_error == pytest.approx(error, rel=1e-8)
    assert line.conf_high == pytest.approx(slope + stats.t.ppf(0.95, 38) * error, rel=1e-8)


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


def test_condition_factor_only_within_a_narrow_range():
    assert condition_factor([1.0, 1.2], [4.0, 4.2]) == pytest.approx([1.5625, 120 / 4.2**3])
    with pytest.raises(FitError, match="Lengths from 2 to 4 are too unequal to compare K"):
        condition_factor([0.1, 1.0], [2.0, 4.0])
