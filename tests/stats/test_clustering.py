import numpy as np
import pytest
from scipy import stats

from rearkit.errors import DesignError
from rearkit.stats.clustering import (
    beta_binomial,
    design_effect,
    icc_anova,
    icc_anova_values,
    icc_pairwise,
    tipping_icc,
)
from rearkit.stats.simulate import simulate_trials
from tests.reference import case, expected, rows

MODELS = [(True, True), (False, True), (True, False), (False, False)]


def rats():
    table = rows("aod_rats")
    alive, n = (np.array([int(row[key]) for row in table]) for key in ("y", "n"))
    return alive, n, [row["group"] for row in table]


def test_the_lesson_of_the_rat_litters():
    # Case C01: pups as units give p .003, litters as units .07 (case C08).
    from rearkit.stats.permutation import permutation_test

    want = expected("C01")
    alive, n, group = rats()
    treated = np.array(group) == "TREAT"
    table = [[x[~treated].sum(), x[treated].sum()] for x in (alive, n - alive)]
    assert table[0] == want["alive"]
    naive = stats.chi2_contingency(table, correction=False)
    assert naive.statistic == pytest.approx(want["chisq_pearson"], rel=1e-6)
    assert naive.pvalue == pytest.approx(want["p_pearson"], rel=1e-6)
    honest = permutation_test(alive / n, treated)
    assert honest.p_value > 20 * naive.pvalue


def test_four_models_of_the_rat_litters():
    # Case C04: own likelihood, glmmTMB 1.1.5 and VGAM 1.1-7.
    want = expected("C04")
    fits = [beta_binomial(*rats(), common_mean=a, common_rho=b) for a, b in MODELS]
    got = [fit.log_likelihood for fit in fits]
    assert got == pytest.approx(want["loglik"], abs=1e-6)
    assert [fit.n_parameters for fit in fits] == [2, 3, 3, 4]
    assert fits[1].groups == ("CTRL", "TREAT")
    assert fits[1].mean == pytest.approx(want["mu_commonrho"], rel=1e-5)
    assert fits[1].rho == pytest.approx([want["rho_common"]] * 2, rel=1e-5)
    assert fits[3].mean == pytest.approx(want["mu_rhobygroup"], rel=1e-5)
    assert fits[3].rho == pytest.approx(want["rho_bygroup"], rel=1e-5)
    ratios = [2 * (got[1] - got[0]), 2 * (got[3] - got[1]), 2 * (got[3] - got[2])]
    names = ["LR_mu_commonrho", "LR_rho", "LR_mu_rhobygroup"]
    assert ratios == pytest.approx([want[name] for name in names], rel=1e-5)


def test_germination_by_cell():
    # Case C10, the beta-binomial part.
    want = expected("C10")
    table = rows("aod_orob2")
    alive, n = (np.array([int(row[key]) for row in table]) for key in ("y", "n"))
    fit = beta_binomial(alive, n, [f"{row['seed']} {row['root']}" for row in table])
    cells = ["O75 BEAN", "O73 BEAN", "O75 CUCUMBER", "O73 CUCUMBER"]
    got = [fit.mean[fit.groups.index(cell)] for cell in cells]
    assert got == pytest.approx(want["bb_cell_mu_order_O75BEAN_O73BEAN_O75CUC_O73CUC"], rel=1e-4)
    assert fit.rho[0] == pytest.approx(want["bb_rho"], rel=1e-4)
    assert fit.log_likelihood == pytest.approx(want["bb_loglik"], abs=1e-6)


def test_without_extra_spread_the_fit_is_binomial():
    fit = beta_binomial([5, 5, 5], [10, 10, 10])
    assert (fit.mean[0], fit.rho[0]) == (pytest.approx(0.5), 0)
    assert fit.log_likelihood == pytest.approx(3 * stats.binom.logpmf(5, 10, 0.5))


def test_an_arm_where_all_fared_alike_says_nothing_of_correlation():
    fit = beta_binomial([10, 10, 4, 6], [10] * 4, [0, 0, 1, 1], common_rho=False)
    assert fit.mean == pytest.approx([1, 0.5], abs=1e-6)
    assert np.isnan(fit.rho[0])
    assert fit.rho[1] == 0
    none = beta_binomial([0, 0], [10, 10])
    assert none.mean[0] == pytest.approx(0, abs=1e-6)
    assert np.isnan(none.rho[0])


def test_correlation_from_mean_squares_by_hand():
    # Containers 3 of 4 and 1 of 4: between 1/2, within (3/4 + 3/4) / 6 = 1/4, four fish each.
    assert icc_anova([3, 1], [4, 4]) == pytest.approx((0.5 - 0.25) / (0.5 + 3 * 0.25))


def test_correlation_of_counts_is_that_of_their_zeros_and_ones():
    alive, n, group = rats()
    fish = np.concatenate(
        [np.repeat([1.0, 0.0], [y, m - y]) for y, m in zip(alive, n, strict=True)]
    )
    litter, arm = np.repeat(np.arange(alive.size), n), np.repeat(group, n)
    assert icc_anova(alive, n, group) == pytest.approx(icc_anova_values(fish, litter, arm))


def test_correlation_of_lengths_in_tanks():
    # Case G10: lme4 gives the same for balanced data.
    table = rows("tank_lengths")
    columns = [[row[key] for row in table] for key in ("length_mm", "tank", "method")]
    got = icc_anova_values(np.array(columns[0], dtype=float), columns[1], columns[2])
    assert got == pytest.approx(expected("G10")["icc"], rel=1e-6)


def test_correlation_from_pairs_by_hand():
    # 3 of 4 and 1 of 4: six pairs each, three pairs both alive of twelve, half of the fish alive.
    assert icc_pairwise([3, 1], [4, 4]) == pytest.approx((3 / 12 - 0.25) / 0.25)
    assert icc_pairwise([4, 0], [4, 4]) == pytest.approx(1)


def test_all_estimates_find_the_simulated_correlation():
    trials = simulate_trials(
        runs=1,
        seed=11,
        n_usual=600,
        n_tested=1,
        survival_usual=0.6,
        survival_tested=0.6,
        fish=(20, 60),
        icc=0.12,
    )
    alive, n = trials.alive[0], trials.started[0]
    assert icc_anova(alive, n) == pytest.approx(0.12, abs=0.02)
    assert icc_pairwise(alive, n) == pytest.approx(0.12, abs=0.02)
    assert beta_binomial(alive, n).rho[0] == pytest.approx(0.12, abs=0.02)


def test_fish_that_all_fared_alike_have_no_correlation():
    assert np.isnan(icc_anova([5, 5], [5, 5]))
    assert np.isnan(icc_pairwise([5, 5], [5, 5]))


def test_design_effect():
    # Case H03.
    want = expected("H03")
    assert design_effect(40, 0.1) == pytest.approx(want["deff"])
    assert design_effect(40, 0.1, cv=0.4) == pytest.approx(want["deff_unequal_cv0.4"])
    assert case("H03")["source"]


def test_tipping_point_of_two_containers():
    sd, icc = tipping_icc(0.6, 100, 0.8, 100)
    assert round(icc, 3) == 0.015
    assert sd == pytest.approx(np.sqrt(((0.2 / 1.96) ** 2 - 0.7 * 0.3 * 0.02) / 2))
    assert tipping_icc(0.8, 100, 0.6, 100) == pytest.approx((sd, icc))
    assert tipping_icc(0.7, 20, 0.75, 20) == (0, 0)
    assert tipping_icc(1.0, 20, 0.0, 20)[0] > 0
    assert np.isnan(tipping_icc(1.0, 20, 1.0, 20)[1])


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: icc_anova([5], [4]), "between 0 and its starters"),
        (lambda: icc_anova([2, 3], [4, 4], ["a", "b"]), "two containers of one arm"),
        (lambda: icc_anova_values([1.0, 2.0], ["a", "b"]), "two fish in one"),
        (lambda: icc_pairwise([1, 0], [1, 1]), "two fish"),
        (lambda: beta_binomial([2.5], [4]), "whole numbers"),
        (lambda: tipping_icc(1.2, 10, 0.5, 10), "not possible"),
    ],
)
def test_impossible_counts_are_refused(call, message):
    with pytest.raises(DesignError, match=message):
        call()
