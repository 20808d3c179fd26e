import numpy as np
import pytest

from rearkit.errors import FitError
from rearkit.stats.growth.curve_choice import choose_curve
from rearkit.stats.growth.curves import CURVES, LEVELLING_OFF
from rearkit.stats.growth.daily_means import daily_means
from tests.stats.growth.examples import lengths_of

DAYS = np.arange(0.0, 61.0, 5.0)


def containers(curve, seed, n=6, days=DAYS, noise=0.01):
    rng = np.random.default_rng(seed)
    series = []
    for _ in range(n):
        lengths = lengths_of(curve, days) * (1 + rng.normal(0, noise, len(days)))
        series.append(daily_means(days, lengths, n_fish=np.full(len(days), 15)))
    return series


@pytest.mark.parametrize("curve", CURVES)
def test_the_curve_that_made_the_lengths_is_chosen(curve):
    choice = choose_curve(containers(curve, 3))
    assert choice.curve == curve
    assert choice.by == "aicc"
    assert choice.compared == tuple(range(6))
    assert set(choice.fits) == set(choice.total_aicc) == set(CURVES)
    for name in CURVES:
        total = sum(fit.aicc for fit in choice.fits[name])
        assert choice.total_aicc[name] == pytest.approx(total)


def test_the_order_of_containers_changes_nothing():
    series = containers("gompertz", 4)
    one, other = choose_curve(series), choose_curve(series[::-1])
    assert one.curve == other.curve
    for name in CURVES:
        assert one.total_aicc[name] == pytest.approx(other.total_aicc[name], rel=1e-12)


def test_containers_with_few_days_are_fitted_but_not_compared():
    series = [*containers("gompertz", 5, n=3), daily_means([0, 7], [5.0, 7.0])]
    choice = choose_curve(series)
    assert choice.compared == (0, 1, 2)
    assert choice.fits["line"][3].converged
    assert choice.fits[choice.curve][3].problem == "too_few_days"


def test_a_container_that_does_not_grow_is_not_compared():
    series = [*containers("logistic", 6, n=3), daily_means(DAYS, 9.0 - 0.02 * DAYS)]
    choice = choose_curve(series)
    assert choice.compared == (0, 1, 2)
    assert choice.curve == "logistic"
    assert choice.fits["logistic"][3].problem == "no_growth"


def test_five_days_compare_the_curves_with_two_parameters_only():
    choice = choose_curve(containers("gompertz", 7, days=DAYS[::3]))
    assert choice.by == "aicc"
    assert len(CURVES[choice.curve].parameters) == 2
    assert choice.total_aicc["gompertz"] == np.inf


def test_three_days_compare_nothing_and_say_so():
    choice = choose_curve([daily_means([0, 7, 14], [5.0, 6.5, 9.0])])
    assert choice.curve == "line"
    assert choice.by == "fewest_parameters"
    assert choice.compared == ()


def test_a_held_final_length_is_for_the_curves_that_have_one():
    choice = choose_curve(containers("gompertz", 8), asymptote=48.0)
    assert set(choice.fits) == set(LEVELLING_OFF)
    assert choice.curve == "gompertz"
    assert {fit.params[0] for fits in choice.fits.values() for fit in fits} == {48.0}


def test_three_days_cannot_choose_between_held_curves():
    choice = choose_curve([daily_means([0, 7, 14], [5.0, 6.5, 9.0])], asymptote=40.0)
    assert choice.curve == "von_bertalanffy"
    assert choice.by == "fewest_parameters"


def test_where_every_curve_passes_through_all_means_the_simplest_is_taken():
    # Two days with their spread: 18 degrees of freedom, and no curve misses a mean.
    series = [
        daily_means([0, 14], [5.0, 8.0 + 0.1 * i], n_fish=[10, 10], sd=[0.5, 0.7]) for i in range(5)
    ]
    free, held = choose_curve(series), choose_curve(series, asymptote=40.0)
    assert (free.by, free.curve) == ("aicc", "line")
    assert (held.by, held.curve) == ("aicc", "von_bertalanffy")
    assert set(held.total_aicc) == set(LEVELLING_OFF)
    assert np.ptp(list(held.total_aicc.values())) < 1e-6


def test_no_container_with_two_days_is_refused():
    with pytest.raises(FitError, match="No container was measured on two different days"):
        choose_curve([daily_means([7, 7], [5.0, 6.0]), daily_means([9], [5.0])])
