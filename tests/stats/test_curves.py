import numpy as np
import pytest

from rearkit.errors import FitError
from rearkit.stats.curves import (
    CURVES,
    PARAMETERS,
    check_curve,
    curve_gradient,
    curve_length,
    ends_from_params,
    params_from_ends,
)

PARAMS = {
    "line": (4.8, 0.31),
    "exponential": (5.1, 0.024),
    "logistic": (36.0, 0.06, 31.0),
    "gompertz": (48.0, 0.031, 27.0),
    "von_bertalanffy": (61.0, 0.011, -7.5),
}
DAYS = np.array([2.0, 9.0, 20.0, 33.0, 47.0, 60.0])


def test_lengths_by_hand():
    assert curve_length("line", 10.0, (5.0, 0.3)) == pytest.approx(8.0)
    assert curve_length("exponential", 10.0, (5.0, np.log(2.0) / 10.0)) == pytest.approx(10.0)
    assert curve_length("logistic", 31.0, (36.0, 0.06, 31.0)) == pytest.approx(18.0)
    assert curve_length("gompertz", 27.0, (48.0, 0.03, 27.0)) == pytest.approx(48.0 / np.e)
    assert curve_length("von_bertalanffy", -7.5, (61.0, 0.01, -7.5)) == pytest.approx(0.0)
    half = np.log(2.0) / 0.01
    assert curve_length("von_bertalanffy", half, (61.0, 0.01, 0.0)) == pytest.approx(30.5)


@pytest.mark.parametrize("curve", CURVES)
def test_slopes_agree_with_differences(curve):
    params = np.array(PARAMS[curve])
    slopes = curve_gradient(curve, DAYS, params)
    assert slopes.shape == (len(DAYS), len(PARAMETERS[curve]))
    for column, value in enumerate(params):
        step = np.zeros(len(params))
        step[column] = 1e-6 * value
        up, down = (
            curve_length(curve, DAYS, params + step),
            curve_length(curve, DAYS, params - step),
        )
        assert slopes[:, column] == pytest.approx((up - down) / (2 * step[column]), rel=1e-7)


@pytest.mark.parametrize("curve", CURVES)
def test_forms_convert_both_ways(curve):
    ends = ends_from_params(curve, PARAMS[curve], 2.0, 60.0)
    assert ends[:2] == pytest.approx(curve_length(curve, [2.0, 60.0], PARAMS[curve]), rel=1e-14)
    assert params_from_ends(curve, ends, 2.0, 60.0) == pytest.approx(PARAMS[curve], rel=1e-10)


def test_without_a_rate_the_asymptote_is_infinite():
    assert params_from_ends("von_bertalanffy", (5.0, 8.0, 0.0), 0.0, 10.0) == pytest.approx(
        (np.inf, 0.0, -50.0 / 3.0)
    )
    assert params_from_ends("gompertz", (5.0, 8.0, 0.0), 0.0, 10.0) == (np.inf, 0.0, np.inf)
    exponential = np.log(8.0 / 5.0) / 10.0
    assert params_from_ends("logistic", (5.0, 8.0, exponential), 0.0, 10.0)[0] == np.inf


@pytest.mark.parametrize("curve", ["logistic", "gompertz", "von_bertalanffy"])
def test_a_shrinking_mean_has_no_asymptote(curve):
    asymptote, rate, turn = params_from_ends(curve, (8.0, 5.0, 0.02), 0.0, 10.0)
    assert np.isnan(asymptote)
    assert rate == 0.02
    assert np.isnan(turn)


@pytest.mark.parametrize("curve", CURVES)
def test_far_days_do_not_overflow(curve):
    assert np.all(np.isfinite(curve_length(curve, [-1e6, 1e6], PARAMS[curve])))
    assert np.all(np.isfinite(curve_gradient(curve, [-1e6, 1e6], PARAMS[curve])))


def test_an_unknown_curve_is_refused():
    with pytest.raises(FitError, match=r"no growth curve called 'spline'.*Use line, exponential"):
        check_curve("spline")
    with pytest.raises(FitError, match="no growth curve called 'spline'"):
        curve_length("spline", [1.0], (1.0,))
