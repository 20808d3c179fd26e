"""Every curve of the table, in both of its forms, fitted, profiled and turned back."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from scipy import optimize, stats

from rearkit.errors import FitError
from rearkit.stats.growth.curve_fit import fit_many
from rearkit.stats.growth.curves import CURVES, LEVELLING_OFF, Curve, Ends, find_curve
from rearkit.stats.growth.daily_means import daily_means
from rearkit.stats.growth.fitted_form import end_form, evaluate, make_batch, usual_params
from rearkit.stats.growth.profile import asymptote_of, day_interval
from tests.stats.growth.examples import EXAMPLES, fit_one, lengths_of, noisy, theta_of

DAYS = np.array([2.0, 9.0, 20.0, 33.0, 47.0, 60.0])


def disagreement(curve: Curve) -> float:
    """Give how far the forms of a curve lie apart over a range of heights and shapes.

    Heights and shape are evaluated as the fit does, turned to the usual parameters, and put into
    the formula; lengths are parts of the largest.
    """
    batch = make_batch([daily_means(DAYS, DAYS)])
    worst = 0.0
    for first, last in ((0.1, 1.0), (0.35, 0.9), (0.6, 0.8)):
        for shape in (0.02, 0.4, 1.5, 6.0) if curve.levels_off else (0.0,):
            theta = np.array([[*curve.scale.height([first, last]), shape]])
            fitted, _ = evaluate(end_form(curve, 1), theta, batch.u)
            params = usual_params(curve, batch, theta)[0]
            apart = curve.length(DAYS, params) / batch.scale[0] - fitted[0]
            worst = max(worst, float(np.max(np.abs(apart))))
    return worst


def test_the_table_is_by_name_and_every_curve_has_an_example():
    assert [curve.name for curve in CURVES.values()] == list(CURVES)
    assert set(EXAMPLES) == set(CURVES)
    for name, curve in CURVES.items():
        assert len(EXAMPLES[name]) == len(curve.parameters)
        assert curve.levels_off == (name in LEVELLING_OFF) == (len(curve.parameters) == 3)


def test_lengths_by_hand():
    assert lengths_of("line", 10.0, (5.0, 0.3)) == pytest.approx(8.0)
    assert lengths_of("exponential", 10.0, (5.0, np.log(2.0) / 10.0)) == pytest.approx(10.0)
    assert lengths_of("logistic", 31.0, (36.0, 0.06, 31.0)) == pytest.approx(18.0)
    assert lengths_of("gompertz", 27.0, (48.0, 0.03, 27.0)) == pytest.approx(48.0 / np.e)
    assert lengths_of("von_bertalanffy", -7.5, (61.0, 0.01, -7.5)) == pytest.approx(0.0)
    half = np.log(2.0) / 0.01
    assert lengths_of("von_bertalanffy", half, (61.0, 0.01, 0.0)) == pytest.approx(30.5)


@pytest.mark.parametrize("name", CURVES)
def test_slopes_agree_with_differences(name):
    curve, params = CURVES[name], np.array(EXAMPLES[name])
    slopes = curve.slopes(DAYS, params)
    assert slopes.shape == (len(DAYS), len(curve.parameters))
    for column, value in enumerate(params):
        step = np.zeros(len(params))
        step[column] = 1e-6 * value
        up, down = curve.length(DAYS, params + step), curve.length(DAYS, params - step)
        assert slopes[:, column] == pytest.approx((up - down) / (2 * step[column]), rel=1e-7)


@pytest.mark.parametrize("name", CURVES)
def test_both_forms_are_one_curve(name):
    assert disagreement(CURVES[name]) < 1e-11


@pytest.mark.parametrize("field", ["scale", "length", "usual"])
def test_a_curve_with_a_part_of_another_is_seen(field):
    for one, other in permutations(CURVES.values(), 2):
        mixed = replace(one, **{field: getattr(other, field)})
        if getattr(one, field) is getattr(other, field):
            continue
        if (one, mixed.scale) == (CURVES["exponential"], CURVES["logistic"].scale):
            continue  # without a shape, one over lengths gives the exponential as well
        try:
            apart = disagreement(mixed)
        except (ValueError, TypeError, IndexError):  # a parameter more or fewer
            continue
        assert apart > 1e-4, (one.name, other.name)


@pytest.mark.parametrize("name", CURVES)
def test_parameters_convert_both_ways(name):
    curve = CURVES[name]
    theta = theta_of(curve, EXAMPLES[name], (2.0, 60.0), 58.0)
    first, last = curve.scale.length(theta[0, :2])
    ends = Ends(first=first, last=last, shape=theta[0, 2], first_day=2.0, span=58.0)
    assert curve.usual(ends) == pytest.approx(EXAMPLES[name], rel=1e-10)


@pytest.mark.parametrize("name", CURVES)
def test_its_own_lengths_are_fitted_without_a_remainder(name):
    fit = fit_one(name, DAYS, lengths_of(name, DAYS))
    assert fit.converged
    assert not fit.at_bound
    assert fit.params == pytest.approx(EXAMPLES[name], rel=1e-6)
    assert fit.sigma < 1e-8
    beyond = np.linspace(-5.0, 90.0, 7)
    assert fit.length_at(beyond) == pytest.approx(lengths_of(name, beyond), rel=1e-6)
    assert fit.day_reached(lengths_of(name, 41.0)) == pytest.approx(41.0, abs=1e-6)


def best_rss_through(fit, day, length):
    """Give the smallest sum of squares of a curve through a point, by scipy and its formula.

    A stiff spring pulls the curve to the point.
    """
    size, root = np.array(fit.params), np.sqrt(fit.data.n_fish)

    def pulled(scaled):
        error = root * (lengths_of(fit.curve, fit.data.days, scaled * size) - fit.data.means)
        return np.append(error, 1e5 * (lengths_of(fit.curve, day, scaled * size) / length - 1.0))

    best = optimize.least_squares(
        pulled, np.ones(len(size)), xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=3000
    )
    return float(np.sum(pulled(best.x)[:-1] ** 2))


@pytest.mark.parametrize("name", CURVES)
def test_the_profile_ends_where_a_held_curve_is_just_bad_enough(name):
    fit = fit_many(name, noisy(name, 31, 1, noise=0.01))[0]
    interval = day_interval(fit, 12.0)
    assert interval.conf_low < interval.estimate < interval.conf_high
    most = fit.rss * (1 + stats.f.ppf(0.95, 1, fit.df) / fit.df)
    for end in (interval.conf_low, interval.conf_high):
        assert best_rss_through(fit, end, 12.0) == pytest.approx(most, rel=1e-5)


@pytest.mark.parametrize("name", LEVELLING_OFF)
def test_the_asymptote_is_profiled_and_can_be_held(name):
    series = noisy(name, 32, 1, noise=0.002)
    free = fit_many(name, series)[0]
    interval = asymptote_of(free).interval
    assert interval.conf_low < free.params[0] == interval.estimate < interval.conf_high
    most = free.rss * (1 + stats.f.ppf(0.95, 1, free.df) / free.df)
    for end in (interval.conf_low, interval.conf_high):
        if np.isfinite(end):
            held = fit_many(name, series, asymptote=end)[0]
            assert held.rss == pytest.approx(most, rel=1e-7)
            assert held.length_at(1e6) == pytest.approx(end, rel=1e-9)


def ends(first, last, shape):
    return Ends(first=first, last=last, shape=shape, first_day=0.0, span=10.0)


def test_without_a_shape_the_asymptote_is_infinite():
    assert CURVES["von_bertalanffy"].usual(ends(5.0, 8.0, 0.0)) == pytest.approx(
        (np.inf, 0.0, -50.0 / 3.0)
    )
    assert CURVES["gompertz"].usual(ends(5.0, 8.0, 0.0)) == (np.inf, 0.0, np.inf)
    exponential = np.log(8.0 / 5.0) / 10.0
    assert CURVES["logistic"].usual(ends(5.0, 8.0, 0.0)) == (
        np.inf, pytest.approx(exponential), np.inf
    )  # fmt: skip


@pytest.mark.parametrize("name", LEVELLING_OFF)
def test_a_shrinking_mean_has_no_asymptote(name):
    asymptote, _, turn = CURVES[name].usual(ends(8.0, 5.0, 0.2))
    assert np.isnan(asymptote)
    assert np.isnan(turn)


@pytest.mark.parametrize("name", CURVES)
def test_far_days_do_not_overflow(name):
    far = np.array([-1e6, 1e6])
    assert np.all(np.isfinite(lengths_of(name, far)))
    assert np.all(np.isfinite(CURVES[name].slopes(far, EXAMPLES[name])))


def test_an_unknown_curve_is_refused():
    with pytest.raises(FitError, match=r"no growth curve called 'spline'.*Use line, exponential"):
        find_curve("spline")
    with pytest.raises(FitError, match="no growth curve called 'spline'"):
        fit_many("spline", [])
