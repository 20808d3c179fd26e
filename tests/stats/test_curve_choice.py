import numpy as np
import pytest

from rearkit.errors import FitError
from rearkit.stats.curve_choice import choose_curve
from rearkit.stats.curves import CURVES, PARAMETERS, curve_length
from rearkit.stats.daily_means import daily_means
from tests.stats.test_curves import PARAMS

DAYS = np.arange(0.0, 61.0, 5.0)


def containers(curve, seed, n=6, days=DAYS, noise=0.01):
    rng = np.random.default_rng(seed)
    series = []
    for _ in range(n):
        lengths = curve_length(curve, days, PARAMS[curve]) * (1 + rng.normal(0, noise, len(days)))
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
    assert len(PARAMETERS[choice.curve]) == 2
    assert choice.total_aicc["gompertz"] == np.inf


def test_three_days_compare_nothing_and_say_so():
    choice = choose_curve([daily_means([0, 7, 14], [5.0, 6.5, 9.0])])
    assert choice.curve == "line"
    assert choice.by == "fewest_parameters"
    assert choice.compared == ()


def test_only_the_curves_asked_for_are_tried():
    choice = choose_curve(containers("logistic", 8), curves=("exponential", "line"))
    assert set(choice.fits) == {"exponential", "line"}
    with pytest.raises(FitError, match="no growth curve called 'cubic'"):
        choose_curve(containers("logistic", 8), curves=("cubic",))


def test_no_container_with_two_days_is_refused():
    with pytest.raises(FitError, match="No container was measured on two different days"):
        choose_curve([daily_means([7, 7], [5.0, 6.0]), daily_means([9], [5.0])])
