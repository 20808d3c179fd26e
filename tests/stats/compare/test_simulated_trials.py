import numpy as np
import pytest

from rearkit.errors import DesignError
from rearkit.stats.compare.unit_t import t_two
from tests.reference import case, expected
from tests.simulated_trials import simulate_trials

PLAIN = {
    "runs": 400,
    "seed": 5,
    "n_usual": 3,
    "n_tested": 3,
    "survival_usual": 0.6,
    "survival_tested": 0.8,
    "fish": (30, 400),
    "icc": 0.1,
}


def test_fish_add_up_and_the_seed_decides():
    one, two = simulate_trials(**PLAIN), simulate_trials(**PLAIN)
    assert (one.alive + one.found_dead + one.missing == one.started).all()
    assert (one.alive == two.alive).all()
    assert (one.alive != simulate_trials(**{**PLAIN, "seed": 6}).alive).any()
    assert one.started.min() >= 30
    assert one.started.max() <= 400
    assert one.tested.tolist() == [False] * 3 + [True] * 3


def test_means_and_missing_fish_are_those_asked_for():
    trials = simulate_trials(**{**PLAIN, "runs": 4000}, missing_usual=0.1, missing_tested=0.3)
    means = [trials.survival[:, trials.tested == arm].mean() for arm in (False, True)]
    assert means == pytest.approx([0.6, 0.8], abs=0.006)
    for arm, share in ((False, 0.1), (True, 0.3)):
        lost = trials.missing[:, trials.tested == arm].sum()
        found = trials.found_dead[:, trials.tested == arm].sum()
        assert lost / (lost + found) == pytest.approx(share, abs=0.01)


def test_split_clutches_share_their_luck():
    trials = simulate_trials(
        **{**PLAIN, "n_usual": 1, "n_tested": 1, "icc": 0.0, "fish": (400, 400)},
        split_clutches=5,
        clutch_sd=1.0,
    )
    assert trials.clutch.tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4]
    assert trials.tested.tolist() == [False, True] * 5
    usual, tested = trials.survival[:, ::2].ravel(), trials.survival[:, 1::2].ravel()
    assert np.corrcoef(usual, tested)[0, 1] > 0.9
    alone = simulate_trials(**{**PLAIN, "icc": 0.0, "fish": (400, 400)}, clutch_sd=1.0)
    assert abs(np.corrcoef(alone.survival[:, 0], alone.survival[:, 3])[0, 1]) < 0.2


def test_power_and_false_alarms_of_published_simulations():
    # Case H07: 5 v 5 containers of 30; 200,000 runs in R, 400,000 in Python.
    want = case("H07")["other_values"]
    runs = 4000
    layout = {"runs": runs, "n_usual": 5, "n_tested": 5, "fish": (30, 30), "icc": 0.08}
    real = simulate_trials(**layout, seed=1, survival_usual=0.65, survival_tested=0.85)
    null = simulate_trials(**layout, seed=2, survival_usual=0.65, survival_tested=0.65)
    for trials, name in ((real, "mc_power_container_t"), (null, "mc_type1_container_t")):
        found = [t_two(values, trials.tested).p_value <= 0.05 for values in trials.survival]
        share = np.mean(found)
        error = np.sqrt(want[name] * (1 - want[name]) / runs)
        assert share == pytest.approx(want[name], abs=4 * error)
    assert want["mc_power_container_t"] == pytest.approx(
        expected("H07")["analytic_power_t_ncp"], abs=0.006
    )


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"survival_usual": 1.0}, "cannot be simulated"),
        ({"icc": 1.0}, "cannot be simulated"),
        ({"n_tested": 0}, "are no trial"),
        ({"fish": (10, 5)}, "are no trial"),
    ],
)
def test_impossible_trials_are_refused(change, message):
    with pytest.raises(DesignError, match=message):
        simulate_trials(**{**PLAIN, **change})
