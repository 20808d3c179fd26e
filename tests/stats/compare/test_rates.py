"""Two rates and the ratio of two rate ratios, against published values, scipy and by hand."""

import math

import numpy as np
import pytest
from scipy.stats import fisher_exact
from scipy.stats.contingency import odds_ratio

from rearkit.errors import DesignError
from rearkit.stats.compare.rates import rate_ratio, ratio_of_ratios
from tests.reference import expected


def test_nickel_workers():
    # Case G12: the example in R's help of poisson.test, from memory and computed.
    want = expected("G12")
    result = rate_ratio(11, 800, 21, 3011)
    assert result.p_value == pytest.approx(want["nickel_p"], rel=1e-6)
    assert result.ratio == pytest.approx(want["nickel_rr"], rel=1e-6)
    assert [result.conf_low, result.conf_high] == pytest.approx(want["nickel_ci"], rel=1e-6)


def test_before_and_after():
    # Case G12, second part.
    want = expected("G12")
    result = rate_ratio(4, 30, 15, 45)
    assert result.p_value == pytest.approx(want["before4in30_after15in45_p"], rel=1e-6)
    assert result.ratio == pytest.approx(want["rr"])
    assert [result.conf_low, result.conf_high] == pytest.approx(want["ci"], rel=1e-6)


def test_nine_deaths_after_three():
    result = rate_ratio(9, 120, 3, 200)
    assert result.ratio == pytest.approx(5)
    assert [result.conf_low, result.conf_high] == pytest.approx([1.25, 28.7], abs=0.05)
    assert result.p_value == pytest.approx(0.013, abs=5e-4)


@pytest.mark.parametrize("counts", [(9, 3), (0, 4), (12, 1)])
def test_swapping_the_periods_inverts_the_ratio(counts):
    one, two = (
        rate_ratio(counts[0], 120, counts[1], 200),
        rate_ratio(counts[1], 200, counts[0], 120),
    )
    assert two.p_value == pytest.approx(one.p_value)
    assert two.ratio == pytest.approx(math.inf if one.ratio == 0 else 1 / one.ratio)
    if one.conf_low > 0:
        assert two.conf_high == pytest.approx(1 / one.conf_low)


def test_no_deaths_are_ordinary_data():
    nobody = rate_ratio(0, 120, 0, 200)
    assert math.isnan(nobody.ratio)
    assert (nobody.conf_low, nobody.conf_high, nobody.p_value) == (0, math.inf, 1)
    after = rate_ratio(5, 120, 0, 200)
    assert (after.ratio, after.conf_high) == (math.inf, math.inf)
    assert after.conf_low > 0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((1.5, 10, 2, 10), "whole numbers"),
        ((-1, 10, 2, 10), "whole numbers"),
        ((1, 0, 2, 10), "fry-days"),
    ],
)
def test_impossible_counts_are_refused(arguments, message):
    with pytest.raises(DesignError, match=message):
        rate_ratio(*arguments)


@pytest.mark.parametrize("table", [(9, 3, 4, 6), (12, 2, 5, 5), (7, 7, 20, 11)])
def test_with_equal_times_it_is_the_conditional_odds_ratio(table: tuple[int, ...]) -> None:
    # scipy's conditional odds ratio and Fisher's test: the same distribution, other code
    a, b, c, d = table
    found = ratio_of_ratios(a, 50, b, 50, c, 50, d, 50)
    reference = odds_ratio([[a, b], [c, d]], kind="conditional")
    interval = reference.confidence_interval(0.95)
    assert found.conf_low == pytest.approx(interval.low, rel=1e-6)
    assert found.conf_high == pytest.approx(interval.high, rel=1e-6)
    assert found.p_value == pytest.approx(fisher_exact([[a, b], [c, d]]).pvalue, rel=1e-9)


def test_times_shift_the_ratio_and_its_interval_alike() -> None:
    plain = ratio_of_ratios(9, 100, 3, 100, 4, 100, 6, 100)
    longer = ratio_of_ratios(9, 200, 3, 100, 4, 100, 6, 100)
    for name in ("ratio", "conf_low", "conf_high"):
        assert getattr(longer, name) == pytest.approx(getattr(plain, name) / 2)


def test_many_control_deaths_leave_the_plain_rate_ratio() -> None:
    plain = rate_ratio(9, 120, 3, 200)
    found = ratio_of_ratios(9, 120, 3, 200, 200_000, 1e6, 200_000, 1e6)
    assert found.ratio == pytest.approx(plain.ratio)
    assert found.conf_low == pytest.approx(plain.conf_low, rel=1e-2)
    assert found.conf_high == pytest.approx(plain.conf_high, rel=1e-2)
    assert found.p_value == pytest.approx(plain.p_value, rel=2e-2)


def test_swapping_groups_turns_the_ratio_round() -> None:
    one = ratio_of_ratios(9, 120, 3, 200, 4, 90, 6, 100)
    other = ratio_of_ratios(4, 90, 6, 100, 9, 120, 3, 200)
    assert other.ratio == pytest.approx(1 / one.ratio)
    assert other.conf_low == pytest.approx(1 / one.conf_high)
    assert other.p_value == pytest.approx(one.p_value)


def test_no_deaths_tell_nothing() -> None:
    none = ratio_of_ratios(0, 10, 0, 10, 0, 10, 0, 10)
    assert np.isnan(none.ratio)
    assert (none.conf_low, none.conf_high, none.p_value) == (0.0, np.inf, 1.0)


def test_zeros_leave_an_open_end() -> None:
    found = ratio_of_ratios(6, 10, 0, 10, 3, 10, 3, 10)
    assert found.ratio == np.inf
    assert found.conf_high == np.inf
    assert 0 < found.conf_low < np.inf


def test_times_and_counts_must_make_sense() -> None:
    with pytest.raises(DesignError, match="not whole numbers of deaths"):
        ratio_of_ratios(1.5, 10, 0, 10, 0, 10, 0, 10)  # type: ignore[arg-type]
    with pytest.raises(DesignError, match="without fry-days"):
        ratio_of_ratios(1, 0, 0, 10, 0, 10, 0, 10)


@pytest.mark.slow
def test_the_interval_covers() -> None:
    rng, hits, trials = np.random.default_rng(5), 0, 2_000
    for _ in range(trials):
        after1, before1, after0, before0 = rng.poisson([12, 6, 10, 10])
        found = ratio_of_ratios(after1, 60, before1, 60, after0, 60, before0, 60)
        hits += found.conf_low <= 2.0 <= found.conf_high
    assert hits / trials >= 0.93
