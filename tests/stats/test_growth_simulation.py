"""Intervals across containers cover, and two like arms differ no more often than they may.

Fry grow from 5 mm on day 0 to 24 mm on day 60. Containers differ in growth (CV 8 %), fish within
a container in length (CV 12 %), and 15 fish are measured every week.
"""

import numpy as np
import pytest
from scipy import optimize

from rearkit.stats.curve_fit import fit_many
from rearkit.stats.curves import curve_length
from rearkit.stats.daily_means import daily_means
from rearkit.stats.unit_t import t_one, t_two

DAYS = np.arange(0.0, 61.0, 7.0)
FISH, GROWTH_CV, FISH_CV = 15, 0.08, 0.12
FIRST, LAST, ASYMPTOTE = 5.0, 24.0, 40.0
AGE, SIZE = 40.0, 20.0


def truth(curve):
    """Give the parameters of the curve through 5 mm on day 0 and 24 mm on day 60."""
    if curve == "gompertz":
        to_go = np.log(ASYMPTOTE / FIRST), np.log(ASYMPTOTE / LAST)
        rate = np.log(to_go[0] / to_go[1]) / 60.0
        return ASYMPTOTE, rate, np.log(to_go[0]) / rate
    to_go = 1.0 - FIRST / ASYMPTOTE, 1.0 - LAST / ASYMPTOTE
    rate = np.log(to_go[0] / to_go[1]) / 60.0
    return ASYMPTOTE, rate, np.log(to_go[0]) / rate


def grown(curve, growth, days):
    """Give the mean length of a container that grows so many times as well as usual."""
    return FIRST + growth * (curve_length(curve, days, truth(curve)) - FIRST)


def true_means(curve):
    """Give the mean over containers of the length on a day and of the day of a length."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(25)
    growth, weights = 1.0 + GROWTH_CV * nodes, weights / weights.sum()
    at_age = weights @ grown(curve, growth, AGE)
    reached = [
        optimize.brentq(lambda day, g=g: grown(curve, g, day) - SIZE, 0.0, 2000.0)
        if grown(curve, g, 2000.0) > SIZE
        else 0.0
        for g in growth
    ]
    return at_age, weights @ np.array(reached)


def containers(curve, rng, n):
    """Draw the daily means of n containers."""
    lengths = grown(curve, rng.normal(1.0, GROWTH_CV, (n, 1)), DAYS)
    spread = FISH_CV * lengths
    means = rng.normal(lengths, spread / np.sqrt(FISH))
    sd = spread * np.sqrt(rng.chisquare(FISH - 1, lengths.shape) / (FISH - 1))
    fish = np.full(len(DAYS), FISH)
    return [daily_means(DAYS, means[row], n_fish=fish, sd=sd[row]) for row in range(n)]


def derived(curve, series, n_units):
    """Fit one curve and give both quantities, one row a trial."""
    fits = fit_many(curve, series)
    values = np.array([[fit.length_at(AGE), fit.day_reached(SIZE)] for fit in fits])
    return values.reshape(-1, n_units, 2)


def coverage(true_curve, fitted, n_units, n_trials, seed):
    """Give the share of trials whose t interval over containers holds the true mean."""
    rng = np.random.default_rng(seed)
    trials = derived(fitted, containers(true_curve, rng, n_units * n_trials), n_units)
    assert np.isfinite(trials).mean() > 0.999
    hit, means = np.zeros(2), true_means(true_curve)
    for trial in trials:
        for column, true in enumerate(means):
            values = trial[:, column]
            interval = t_one(values[np.isfinite(values)])
            hit[column] += interval.conf_low <= true <= interval.conf_high
    return hit / n_trials


def false_alarms(fitted, n_units, n_trials, seed):
    """Give the share of trials of two like arms with p below .05."""
    rng = np.random.default_rng(seed)
    series = containers("gompertz", rng, 2 * n_units * n_trials)
    tested = np.arange(2 * n_units) < n_units
    alarms = np.zeros(2)
    for trial in derived(fitted, series, 2 * n_units):
        for column in range(2):
            values = trial[:, column]
            known = np.isfinite(values)
            alarms[column] += t_two(values[known], tested[known]).p_value < 0.05
    return alarms / n_trials


def monte_carlo(share, n_trials):
    """Give two standard errors of a simulated share."""
    return 2.0 * np.sqrt(share * (1.0 - share) / n_trials)


FITTED = ["gompertz", "logistic", "von_bertalanffy"]


@pytest.mark.parametrize("fitted", FITTED)
@pytest.mark.parametrize("n_units", [4, 6])
def test_intervals_cover_with_the_right_and_a_wrong_curve(fitted, n_units):
    share = coverage("gompertz", fitted, n_units, 400, seed=n_units)
    assert np.all(share >= 0.93 - monte_carlo(0.93, 400))


@pytest.mark.parametrize("fitted", FITTED)
def test_like_arms_seldom_differ(fitted):
    share = false_alarms(fitted, 4, 400, seed=44)
    assert np.all(share <= 0.07 + monte_carlo(0.07, 400))


@pytest.mark.slow
@pytest.mark.parametrize("true_curve", ["gompertz", "von_bertalanffy"])
@pytest.mark.parametrize("fitted", FITTED)
@pytest.mark.parametrize("n_units", [4, 5, 6])
def test_intervals_cover_at_full_size(true_curve, fitted, n_units):
    share = coverage(true_curve, fitted, n_units, 5000, seed=100 + n_units)
    assert np.all(share >= 0.93)


@pytest.mark.slow
@pytest.mark.parametrize("fitted", FITTED)
@pytest.mark.parametrize("n_units", [4, 5, 6])
def test_like_arms_seldom_differ_at_full_size(fitted, n_units):
    assert np.all(false_alarms(fitted, n_units, 5000, seed=200 + n_units) <= 0.07)
