"""Intervals across containers cover, and two like arms differ no more often than they may.

Fry grow from 5 mm on day 0 to 24 mm on day 60. Containers differ in growth (CV 8 %), fish within
a container in length (CV 12 %), and 15 fish are measured every week and on the last day. One
value a container is taken from its curve and summarised by t across the containers: the right
curve, the one that the summed AICc chooses (often a wrong one: line, logistic and Gompertz look
alike over this span), and the joined daily means.
"""

import numpy as np
import pytest
from scipy import optimize

from rearkit.stats.compare.unit_t import t_one, t_two
from rearkit.stats.growth.curve_fit import fit_many
from rearkit.stats.growth.curves import CURVES
from rearkit.stats.growth.daily_means import daily_means
from tests.stats.growth.examples import lengths_of

DAYS = np.array([0.0, 7.0, 14.0, 21.0, 28.0, 35.0, 42.0, 49.0, 56.0, 60.0])
FISH, GROWTH_CV, FISH_CV = 15, 0.08, 0.12
FIRST, LAST, ASYMPTOTE = 5.0, 24.0, 40.0
AGE, SIZE = 40.0, 20.0


def truth(curve):
    """Give the parameters of the curve through 5 mm on day 0 and 24 mm on day 60."""
    if curve == "gompertz":
        to_go = np.log(ASYMPTOTE / FIRST), np.log(ASYMPTOTE / LAST)
    else:
        to_go = 1.0 - FIRST / ASYMPTOTE, 1.0 - LAST / ASYMPTOTE
    rate = np.log(to_go[0] / to_go[1]) / 60.0
    return ASYMPTOTE, rate, np.log(to_go[0]) / rate


def grown(curve, growth, days):
    """Give the mean length of a container that grows so many times as well as usual."""
    return FIRST + growth * (lengths_of(curve, days, truth(curve)) - FIRST)


def true_means(curve):
    """Give the mean over containers of the length on a day and of the day of a length."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(15)
    growth, weights = 1.0 + GROWTH_CV * nodes, weights / weights.sum()
    at_age = weights @ grown(curve, growth, AGE)
    reached = [
        optimize.brentq(lambda day, g=g: grown(curve, g, day) - SIZE, 0.0, 2000.0) for g in growth
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


def derived(sources, n_units):
    """Give both quantities of every container (fits or joined means), by trial."""
    values = [[source.length_at(AGE), source.day_reached(SIZE)] for source in sources]
    return np.array(values, dtype=float).reshape(-1, n_units, 2)


def covered(trials, true):
    """Give the share of trials whose t interval over containers holds the true means."""
    assert np.isfinite(trials).mean() > 0.98  # joined means: some do not come to the size
    hit = np.zeros(2)
    for trial in trials:
        for column, mean in enumerate(true):
            values = trial[:, column]
            interval = t_one(values[np.isfinite(values)])
            hit[column] += interval.conf_low <= mean <= interval.conf_high
    return hit / len(trials)


def coverage(true_curve, n_units, n_trials, seed):
    """Give the coverage of three ways to take one value a container, and the wrong choices."""
    rng = np.random.default_rng(seed)
    series = containers(true_curve, rng, n_units * n_trials)
    fits = {curve: fit_many(curve, series) for curve in CURVES}
    by_curve = {curve: derived(fits[curve], n_units) for curve in CURVES}
    totals = [
        np.array([fit.aicc for fit in fits[curve]]).reshape(-1, n_units).sum(axis=1)
        for curve in CURVES
    ]
    best = np.array(list(CURVES))[np.argmin(totals, axis=0)]
    chosen = np.array([by_curve[curve][row] for row, curve in enumerate(best)])
    true = true_means(true_curve)
    ways = {"right": by_curve[true_curve], "chosen": chosen, "joined": derived(series, n_units)}
    return {way: covered(trials, true) for way, trials in ways.items()}, np.mean(best != true_curve)


def false_alarms(fitted, n_units, n_trials, seed):
    """Give the share of trials of two like arms with p below .05."""
    rng = np.random.default_rng(seed)
    fits = fit_many(fitted, containers("gompertz", rng, 2 * n_units * n_trials))
    tested = np.arange(2 * n_units) < n_units
    alarms = np.zeros(2)
    for trial in derived(fits, 2 * n_units):
        for column in range(2):
            values = trial[:, column]
            known = np.isfinite(values)
            alarms[column] += t_two(values[known], tested[known]).p_value < 0.05
    return alarms / n_trials


def monte_carlo(share, n_trials):
    """Give two standard errors of a simulated share."""
    return 2.0 * np.sqrt(share * (1.0 - share) / n_trials)


@pytest.mark.parametrize("true_curve", ["gompertz", "von_bertalanffy"])
@pytest.mark.parametrize("n_units", [4, 6])
def test_intervals_across_containers_cover(true_curve, n_units):
    shares, wrong = coverage(true_curve, n_units, 300, seed=n_units)
    for way, share in shares.items():
        assert np.all(share >= 0.93 - monte_carlo(0.93, 300)), way
    if true_curve == "gompertz":
        assert wrong > 0.3  # so a wrong curve is covered by this test as well


@pytest.mark.parametrize("fitted", ["gompertz", "logistic", "von_bertalanffy", "line"])
def test_like_arms_seldom_differ(fitted):
    share = false_alarms(fitted, 4, 300, seed=44)
    assert np.all(share <= 0.07 + monte_carlo(0.07, 300))


@pytest.mark.slow
@pytest.mark.parametrize("true_curve", ["gompertz", "von_bertalanffy"])
@pytest.mark.parametrize("n_units", [4, 5, 6])
def test_intervals_across_containers_cover_at_full_size(true_curve, n_units):
    shares, _ = coverage(true_curve, n_units, 4000, seed=100 + n_units)
    for way, share in shares.items():
        assert np.all(share >= 0.93), way


@pytest.mark.slow
@pytest.mark.parametrize("fitted", CURVES)
@pytest.mark.parametrize("n_units", [4, 5, 6])
def test_like_arms_seldom_differ_at_full_size(fitted, n_units):
    assert np.all(false_alarms(fitted, n_units, 4000, seed=200 + n_units) <= 0.07)
