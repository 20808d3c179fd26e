"""Lessons, never answers: what counting from unlike first days, or fish by fish, would claim."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.batch.history import History, at_risk_on, history_of, parts_before
from rearkit.batch.survival import BatchSurvival
from rearkit.design.comparison import Comparison, compare_units, unit_means
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.stats.compare.permutation import permutation_test
from rearkit.stats.survival.lifetable import expected_deaths, log_rank_p

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Trap:
    """What counting every batch from its own first day would have shown.

    Attributes
    ----------
    first_usual, first_tested : float
        Mean age at the first count in either arm.
    difference, p_value : float, float or None
        The naive difference and the p that would come with it.
    fair_difference, fair_p_value : float, float or None
        The same from the common landmark on.
    naive : Series
        Survival of every unit from its own first count.
    """

    first_usual: float
    first_tested: float
    difference: float
    p_value: float | None
    fair_difference: float
    fair_p_value: float | None
    naive: pd.Series


def trap_of(
    design: Design, chosen: JudgingDay, by_batch: dict[str, BatchSurvival], fair: Comparison
) -> Trap | None:
    """Show what counting from different first days would have made of it; None if they agree.

    Before the planned day no p is told.
    """
    first = {
        arm: float(np.mean([chosen.firsts[b] for bs in g["batches"] for b in bs]))
        for arm, g in design.units.groupby("tested")
    }
    if abs(first[True] - first[False]) < 1e-9:
        return None
    values = unit_means(design, {b: s.naive for b, s in by_batch.items()})
    naive = compare_units(design, values)
    return Trap(
        first_usual=first[False],
        first_tested=first[True],
        difference=naive.estimate,
        p_value=None if chosen.interim else naive.p_value,
        fair_difference=fair.estimate,
        fair_p_value=None if chosen.interim else fair.p_value,
        naive=values,
    )


@dataclass(frozen=True, kw_only=True)
class Lesson:
    """The same deaths judged fish by fish and container by container.

    Attributes
    ----------
    fish : float
        Fry at the landmark.
    p_by_fish : float
        The log-rank p that takes every fish as separate proof: false where fish share a tub.
    p_by_unit : float
        The share of all ways to deal out the methods in which observed less expected deaths lie
        at least as far apart.
    as_far, arrangements : int
        The counts behind it.
    """

    fish: float
    p_by_fish: float
    p_by_unit: float
    as_far: int
    arrangements: int


def lesson_of(
    design: Design,
    chosen: JudgingDay,
    fates: Mapping[str, pd.DataFrame],
    accounts: pd.DataFrame,
) -> Lesson | None:
    """Judge the deaths of a comparison fish by fish, and by dealing out its units again.

    Parameters
    ----------
    design, chosen
        The comparison.
    fates : mapping of DataFrame
        The rows of ``log.fates`` of every batch.
    accounts : DataFrame
        ``log.account``, indexed by batch.

    Returns
    -------
    Lesson or None
        None with too few units for a test, without fish in both arms, or without deaths.
    """
    if design.tier not in ("t", "both", "exact"):
        return None
    parts = []
    for unit in design.units.itertuples(index=False):
        for b in unit.batches:
            until = chosen.day_of(b)
            rows = _fish(history_of(fates[b], accounts.loc[b], until=until), chosen.landmark, until)
            parts.append(rows.assign(unit=unit.unit, tested=bool(unit.tested)))
    rows = pd.concat(parts, ignore_index=True)
    rows = rows[rows["fish"] > 1e-9]
    if rows["tested"].nunique() < 2 or not rows.loc[rows["died"], "fish"].sum() > 0:
        return None
    scores = _observed_less_expected(rows).reindex(design.units["unit"]).to_numpy(dtype=float)
    by_unit = permutation_test(
        scores,
        design.units["tested"].to_numpy(dtype=bool),
        list(design.units["block"]) if design.split else None,
    )
    return Lesson(
        fish=float(rows["fish"].sum()),
        p_by_fish=log_rank_p(rows["age"], rows["died"], rows["fish"], rows["tested"]),
        p_by_unit=by_unit.p_value,
        as_far=by_unit.count,
        arrangements=by_unit.arrangements,
    )


def _fish(history: History, landmark: float, day: float) -> pd.DataFrame:
    """One row an age: fish that died, were taken out, or were alive on the day."""
    inside = parts_before(history, day) - np.where(
        history.age_from >= landmark, 0.0, parts_before(history, landmark)
    )
    age = np.minimum(history.age_to, day)
    gone = (history.best.dead + history.best.missing) * inside
    removed = history.best.removed * inside
    left = at_risk_on(history, day) if day > history.age_from[0] else float(history.start[1])
    return pd.DataFrame(
        {
            "age": np.concatenate([age, age, [day]]),
            "died": np.concatenate([np.ones(age.size), np.zeros(age.size + 1)]).astype(bool),
            "fish": np.concatenate([gone, removed, [max(left, 0.0)]]),
        }
    )


def _observed_less_expected(rows: pd.DataFrame) -> pd.Series:
    """Deaths of every unit less those expected of it at the death rate of all together."""
    age, fish = rows["age"].to_numpy(dtype=float), rows["fish"].to_numpy(dtype=float)
    died = rows["died"].to_numpy(dtype=bool)
    ages, units = np.unique(age[died]), rows["unit"].unique()
    mine = fish * (rows["unit"].to_numpy() == units[:, np.newaxis])
    at_risk = mine @ (age[:, np.newaxis] >= ages)
    deaths = (mine * died) @ (age[:, np.newaxis] == ages)
    return pd.Series(deaths.sum(axis=1) - expected_deaths(at_risk, deaths), index=units)
