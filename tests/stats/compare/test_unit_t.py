import numpy as np
import pytest
from scipy import stats

from rearkit.errors import DesignError
from rearkit.stats.compare.unit_t import empirical_logit, equivalence, holm, t_blocks, t_one, t_two
from tests.reference import expected, rows

FIRST = [86.2, 84.1, 88.0, 85.5, 87.3]
SECOND = [85.0, 87.1, 84.6, 88.2, 86.3]


def rats():
    table = rows("aod_rats")
    values = np.array([int(row["y"]) / int(row["n"]) for row in table])
    return values, np.array([row["group"] == "TREAT" for row in table])


def test_rat_litters_pooled_and_welch():
    # Case C08; R's t.test. The reference takes control minus treatment.
    want = expected("C08")
    values, tested = rats()
    pooled, welch = t_two(values, tested), t_two(values, tested, welch=True)
    assert pooled.statistic == pytest.approx(-want["student_t"], rel=1e-9)
    assert pooled.p_value == pytest.approx(want["student_p"], rel=1e-9)
    assert pooled.df == 30
    assert welch.df == pytest.approx(want["welch_df"], rel=1e-9)
    assert welch.p_value == pytest.approx(want["welch_p"], rel=1e-9)
    assert [-welch.conf_high, -welch.conf_low] == pytest.approx(want["welch_ci"], rel=1e-9)


def test_split_clutches_as_blocks_and_unpaired():
    # Case E04.
    want = expected("E04")
    values = [0.86, 0.74, 0.92, 0.63, 0.81, 0.70, 0.80, 0.62, 0.92, 0.55, 0.84, 0.52]
    tested = np.repeat([True, False], 6)
    split = t_blocks(values, tested, list("abcdef") * 2)
    assert split.statistic == pytest.approx(want["t"], rel=1e-9)
    assert split.p_value == pytest.approx(want["p_t_paired"], rel=1e-9)
    assert split.df == 5
    unpaired = t_two(values, tested, welch=True)
    assert unpaired.p_value == pytest.approx(want["p_welch_unpaired"], rel=1e-9)


def test_darwins_maize_differences():
    # Case E01, in inches.
    want = expected("E01")
    eighths = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48])
    result = t_one(eighths / 8)
    assert result.statistic == pytest.approx(want["t"], rel=1e-9)
    assert result.p_value == pytest.approx(want["p_t_paired"], rel=1e-9)
    assert [result.conf_low, result.conf_high] == pytest.approx(want["ci_t_inches"], rel=1e-9)


def test_survival_and_days_lived_by_container():
    # Case D07, arm A minus arm B.
    want = expected("D07")
    first = np.arange(8) < 4
    for name in ("S14", "rmst"):
        values = want["S14"] if name == "S14" else want["rmst14"]
        result = t_two(values, first, welch=True)
        got = [result.statistic, result.df, result.p_value]
        assert got == pytest.approx(want[f"{name}_welch"], rel=1e-6)


def test_lengths_by_tank():
    # Case G10: fish in tanks, tank means as units.
    want = expected("G10")
    table = rows("tank_lengths")
    tanks = sorted({row["tank"] for row in table})
    means = [np.mean([float(r["length_mm"]) for r in table if r["tank"] == t]) for t in tanks]
    result = t_two(means, np.array(tanks) <= "K4")
    assert result.statistic == pytest.approx(want["tank_mean_t"], rel=1e-9)
    assert result.p_value == pytest.approx(want["tank_mean_p"], rel=1e-9)


def test_blocks_weigh_the_same_whatever_they_hold():
    values = np.array([5.0, 7.0, 1.0, 2.0, 10.0, 3.0])
    tested = np.array([True, True, False, False, True, False])
    result = t_blocks(values, tested, ["a"] * 4 + ["b"] * 2)
    assert result.estimate == pytest.approx((4.5 + 7) / 2)
    assert result.df == 1


def test_one_unit_in_an_arm_borrows_the_spread_of_the_other():
    result = t_two([4.0, 1.0, 2.0, 3.0], np.array([True, False, False, False]))
    assert (result.df, result.estimate) == (2, 2)
    assert result.std_error == pytest.approx(np.sqrt(1 + 1 / 3))


def test_a_mean_against_a_stated_share():
    values = [0.52, 0.61, 0.47, 0.55]
    result, other = t_one(values, null=0.4), stats.ttest_1samp(values, 0.4)
    assert result.p_value == pytest.approx(other.pvalue)
    assert result.conf_low == pytest.approx(other.confidence_interval(0.95).low)
    assert result.estimate == pytest.approx(np.mean(values))


@pytest.mark.parametrize("welch", [False, True])
def test_units_that_all_agree_give_no_interval_and_p_of_one(welch):
    result = t_two(np.ones(6), np.arange(6) < 3, welch=welch)
    assert (result.estimate, result.p_value, result.statistic) == (0, 1, 0)
    assert np.isnan([result.conf_low, result.conf_high]).all()


@pytest.mark.parametrize("welch", [False, True])
def test_a_difference_without_any_spread_gets_no_p(welch):
    result = t_two([0.1 + 0.2, 0.3, 0.3, 0.7, 0.7, 0.7], np.arange(6) < 3, welch=welch)
    assert result.estimate == pytest.approx(-0.4)
    assert np.isnan([result.p_value, result.conf_low, result.conf_high]).all()
    blocks = t_blocks([0.5, 0.4, 0.7, 0.6], np.array([True, False] * 2), list("aabb"))
    assert np.isnan(blocks.p_value)


def test_one_arm_without_spread_is_ordinary_data():
    result = t_two([1.0, 1.0, 1.0, 0.5, 0.7, 0.6], np.arange(6) < 3, welch=True)
    assert result.df == pytest.approx(2)
    assert 0 < result.p_value < 0.05


def test_swapping_the_arms_flips_only_the_sign():
    for seed in range(5):
        rng = np.random.default_rng(seed)
        values, tested = rng.normal(size=9), np.arange(9) < 4
        for welch in (False, True):
            one, two = t_two(values, tested, welch=welch), t_two(values, ~tested, welch=welch)
            assert two.p_value == pytest.approx(one.p_value)
            assert two.estimate == pytest.approx(-one.estimate)
            assert two.conf_low == pytest.approx(-one.conf_high)
        order = rng.permutation(9)
        again = t_two(values[order], tested[order])
        assert again.p_value == pytest.approx(t_two(values, tested).p_value)


def test_equivalence_within_a_margin():
    # Case G07; statsmodels ttost_ind and R.
    want = expected("G07")
    result = t_two(FIRST + SECOND, np.arange(10) < 5, welch=True)
    assert result.df == pytest.approx(want["df"], rel=1e-6)
    assert result.p_value == pytest.approx(want["p_difference"], rel=1e-6)
    same = equivalence(result.estimate, result.std_error, result.df, 3)
    assert same.p_lower == pytest.approx(want["p_lower"], rel=1e-6)
    assert same.p_upper == pytest.approx(want["p_upper"], rel=1e-6)
    assert same.p_value == pytest.approx(want["p_tost"], rel=1e-6)
    assert [same.conf_low, same.conf_high] == pytest.approx(want["ci90"], rel=1e-6)
    assert same.equivalent is want["equivalent_at_margin3"]
    closer = equivalence(result.estimate, result.std_error, result.df, 2)
    assert closer.p_value == pytest.approx(want["p_tost_margin2"], rel=1e-6)


def test_equivalence_is_the_narrower_interval_lying_inside_the_margin():
    for margin in np.linspace(0.5, 4, 30):
        result = equivalence(0.4, 0.7, 6, margin)
        assert result.equivalent == (-margin < result.conf_low and result.conf_high < margin)


def test_equivalence_without_spread_is_not_claimed():
    result = equivalence(0.0, 0.0, 4, 1.0)
    assert np.isnan(result.p_value)
    assert result.equivalent is False


def test_logit_stays_finite_at_both_ends():
    assert empirical_logit([0, 5, 10], [10, 10, 10]).tolist() == pytest.approx(
        [-np.log(21), 0, np.log(21)]
    )


def test_holm_by_hand():
    assert holm([0.01, 0.04, 0.03]) == pytest.approx([0.03, 0.06, 0.06])
    assert holm([0.5, 0.9]) == [1, 1]
    assert holm([0.04]) == [0.04]
    assert holm([]) == []


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: t_two([1.0, 2.0], np.array([True, False])), "no spread"),
        (lambda: t_two([1.0, 2.0, 3.0], np.array([True, False, False]), welch=True), "no spread"),
        (lambda: t_two([1.0, 2.0, 3.0], np.ones(3, dtype=bool)), "Only one of the two methods"),
        (lambda: t_two([1.0, np.inf, 3.0], np.arange(3) < 1), "finite number"),
        (lambda: t_blocks([1.0, 2.0], np.array([True, False]), ["a", "a"]), "no spread"),
        (lambda: t_one([1.0]), "no spread"),
        (lambda: equivalence(0.0, 1.0, 4, 0.0), "margin"),
        (lambda: empirical_logit([11], [10]), "More fish survive"),
    ],
)
def test_wrong_designs_are_refused(call, message):
    with pytest.raises(DesignError, match=message):
        call()
