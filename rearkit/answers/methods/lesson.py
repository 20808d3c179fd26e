"""A lesson, never an answer: what counting every fish as separate proof would have claimed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.batch.history import History, at_risk_on, history_of, parts_before
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.stats.compare.permutation import permutation_test
from rearkit.stats.survival.logrank import log_rank

Floats = NDArray[np.float64]


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
        None with too few units for a test, or without deaths.
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
    if not rows.loc[rows["died"], "fish"].sum() > 0:
        return None
    by_fish = log_rank(rows["age"], rows["died"], rows["tested"], rows["fish"])
    scores = _observed_less_expected(rows).reindex(design.units["unit"]).to_numpy(dtype=float)
    by_unit = permutation_test(
        scores,
        design.units["tested"].to_numpy(dtype=bool),
        list(design.units["block"]) if design.split else None,
    )
    return Lesson(
        fish=float(rows["fish"].sum()),
        p_by_fish=by_fish.p_value,
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
    ages = np.unique(rows.loc[rows["died"], "age"].to_numpy(dtype=float))
    out = {}
    age = rows["age"].to_numpy(dtype=float)
    fish = rows["fish"].to_numpy(dtype=float)
    died = rows["died"].to_numpy(dtype=bool)
    at_risk = ((age >= ages[:, None]) * fish).sum(axis=1)
    rate = ((age == ages[:, None]) * fish * died).sum(axis=1) / at_risk
    for unit, mine in rows.groupby("unit", sort=False):
        a, n = mine["age"].to_numpy(dtype=float), mine["fish"].to_numpy(dtype=float)
        expected = (((a >= ages[:, None]) * n).sum(axis=1) * rate).sum()
        out[unit] = float(n[mine["died"].to_numpy(dtype=bool)].sum() - expected)
    return pd.Series(out)
