import math

import pytest

from rearkit.errors import DesignError
from rearkit.stats.rates import rate_ratio
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
