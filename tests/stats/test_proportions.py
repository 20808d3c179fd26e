import itertools

import numpy as np
import pytest
from scipy import stats

from rearkit.errors import DesignError
from rearkit.stats.proportions import (
    clopper_pearson,
    count_range_from_dead,
    count_range_survival,
    jeffreys,
    newcombe,
    wilson,
)
from tests.reference import case, expected

SAMPLES = [(81, 263), (15, 148), (0, 20), (1, 29)]
INTERVALS = {
    "wilson": wilson,
    "wilsoncc": lambda count, n: wilson(count, n, continuity=True),
    "exact": clopper_pearson,
}


def ends(result):
    return [result.conf_low, result.conf_high]


@pytest.mark.parametrize("name", INTERVALS)
@pytest.mark.parametrize(("count", "n"), SAMPLES)
def test_newcombes_single_proportions(name, count, n):
    # Case G04: Newcombe 1998, Table I, from memory; R and Python agree.
    result = INTERVALS[name](count, n)
    assert ends(result) == pytest.approx(expected("G04")[f"{name}_{count}_{n}"], abs=1e-8)
    assert result.estimate == count / n


@pytest.mark.parametrize(
    "name", [name for name in case("G05")["expected"] if not name.startswith("wald")]
)
def test_newcombes_differences(name):
    # Case G05: Newcombe 1998, Table II, method 10, from memory; R and statsmodels agree.
    counts = [int(part) for part in name.split("_")[1:]]
    assert ends(newcombe(*counts)) == pytest.approx(expected("G05")[name], abs=1e-8)


def test_all_alive_is_not_certainty():
    # Case A12.
    want = expected("A12")
    assert ends(wilson(20, 20)) == pytest.approx([want["wilson_lower"], 1], rel=1e-6)
    exact = clopper_pearson(20, 20)
    assert exact.conf_low == pytest.approx(want["clopper_pearson_lower_2sided"], rel=1e-6)
    one_sided = clopper_pearson(20, 20, conf_level=0.9)
    assert one_sided.conf_low == pytest.approx(want["one_sided95_lower"], rel=1e-6)


def test_jeffreys_ends_are_beta_quantiles_and_closed_at_0_and_1():
    assert ends(jeffreys(7, 20)) == pytest.approx(stats.beta.ppf([0.025, 0.975], 7.5, 13.5))
    assert jeffreys(0, 20).conf_low == 0
    assert jeffreys(20, 20).conf_high == 1
    assert 0.86 < jeffreys(20, 20).conf_low < 0.9


@pytest.mark.parametrize("name", [*INTERVALS, "jeffreys"])
def test_intervals_hold_the_estimate_and_mirror(name):
    interval = {**INTERVALS, "jeffreys": jeffreys}[name]
    for n in (1, 2, 7, 30, 400):
        for count in {0, 1, n // 3, n // 2, n}:
            result, mirror = interval(count, n), interval(n - count, n)
            assert 0 <= result.conf_low <= result.estimate <= result.conf_high <= 1
            assert result.conf_low < result.conf_high
            assert ends(mirror) == pytest.approx([1 - x for x in reversed(ends(result))])


def test_survival_from_a_range_of_dead():
    # Case I01: closed form and brute force.
    want = expected("I01")
    got = count_range_from_dead(31, 38, 420, 480)
    assert got == pytest.approx((want["lower"], want["upper"]), abs=1e-12)
    brute = [1 - d / n for d, n in itertools.product(range(31, 39), range(420, 481))]
    assert got == pytest.approx((min(brute), max(brute)), abs=1e-12)


def test_fish_missing_without_a_body():
    # Case I06.
    want = expected("I06")
    alive, missing, start = want["counted_alive"], want["missing"], want["stocked"]
    got = count_range_survival(alive, alive + missing, start, start)
    assert got == pytest.approx((want["lower"], want["upper"]), abs=1e-12)


def test_survival_from_two_ranges_is_at_most_one():
    assert count_range_survival(30, 36, 32, 40) == (0.75, 1.0)
    assert count_range_from_dead(5, 50, 32, 40) == (0.0, 0.875)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: wilson(21, 20), "21 of 20 is not a proportion"),
        (lambda: clopper_pearson(0, 0), "not a proportion"),
        (lambda: jeffreys(np.nan, 3), "not a proportion"),
        (lambda: newcombe(1, 2, -1, 2), "not a proportion"),
        (lambda: count_range_survival(9, 8, 10, 10), "count ranges"),
        (lambda: count_range_from_dead(1, 2, 0, 10), "count ranges"),
    ],
)
def test_impossible_counts_are_refused(call, message):
    with pytest.raises(DesignError, match=message):
        call()
