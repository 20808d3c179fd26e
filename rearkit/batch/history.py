"""The history of one batch as arrays, and its survival under any way of counting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.logbook.account.follow_fish import Followed, follow
from rearkit.stats.survival.lifetable import survival_at
from rearkit.stats.survival.turnbull import turnbull

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class History:
    """The fates of one batch as arrays; counts of shape (k, 3): low, best, high."""

    age_from: Floats
    age_to: Floats
    dead: Floats
    removed: Floats
    added: Floats
    alive: Floats
    start: Floats
    best: Followed
    ill: Floats

    @property
    def days(self) -> Floats:
        """Length of every interval."""
        return self.age_to - self.age_from


def history_of(fates: pd.DataFrame, account: pd.Series, *, until: float) -> History:
    """Take the history of one batch out of ``log.fates`` and its row of ``log.account``.

    A batch that died out before day ``until`` gets an empty interval up to it.
    """
    last = fates.iloc[-1:]
    if float(last["age_to"].iloc[0]) < until:
        names = [c for c in fates.columns if c not in ("batch", "age_from", "age_to")]
        rest = last.assign(age_from=last["age_to"], age_to=until, **dict.fromkeys(names, 0.0))
        rest[["alive_low", "alive_best", "alive_high"]] = np.nan
        fates = pd.concat([fates, rest], ignore_index=True)

    def counts(name: str) -> Floats:
        return fates[[f"{name}_low", f"{name}_best", f"{name}_high"]].to_numpy(dtype=float)

    def column(name: str) -> Floats:
        return fates[name].to_numpy(dtype=float)

    return History(
        age_from=column("age_from"),
        age_to=column("age_to"),
        dead=counts("dead"),
        removed=counts("removed"),
        added=counts("added"),
        alive=counts("alive"),
        start=account[["start_low", "start_best", "start_high"]].to_numpy(dtype=float),
        best=Followed(
            at_risk=column("at_risk"),
            dead=column("dead_found"),
            missing=column("missing"),
            removed=column("removed"),
            added=column("added"),
        ),
        ill=column("removed_ill"),
    )


def parts_before(history: History, day: float) -> Floats:
    """Share of every interval that lies before the day (1 for an interval of no length)."""
    length = np.where(history.days > 0, history.days, 1.0)
    part = np.where(history.days > 0, (day - history.age_from) / length, 1.0)
    return np.asarray(np.clip(np.where(history.age_to <= day, 1.0, part), 0.0, 1.0))


def share_alive(history: History, at_risk: Floats, gone: Floats, day: float) -> float:
    """Return product-limit survival from the start of the history to a day (1 before it)."""
    if day <= history.age_from[0]:
        return 1.0
    return float(survival_at(history.age_from, history.age_to, at_risk, gone, day).estimate)


def between(history: History, followed: Followed, landmark: float, day: float) -> Floats:
    """Survival from landmark to day for one or many followed histories (missing fish are dead)."""
    gone = followed.dead + followed.missing
    at = np.asarray(
        survival_at(history.age_from, history.age_to, followed.at_risk, gone, day).estimate
    )
    if landmark <= history.age_from[0]:
        return at
    before = np.asarray(
        survival_at(history.age_from, history.age_to, followed.at_risk, gone, landmark).estimate
    )
    return np.asarray(np.where(before > 0, at / np.where(before > 0, before, 1.0), 0.0))


def at_risk_on(history: History, landmark: float) -> float:
    """Return the fish alive in the container on a day (best values)."""
    part = parts_before(history, landmark) if landmark > history.age_from[0] else 0.0
    best = history.best
    change = best.added - best.removed - best.dead - best.missing
    return float(history.start[1] + (change * part).sum())


def refollow(
    history: History, start: Floats | float, dead: Floats, removed: Floats, alive: Floats
) -> Followed:
    """Follow the batch again with other counts; leading axes are draws."""
    return follow(start, dead, removed, history.added[:, 1], alive, history.days)


def what_if(
    history: History,
    landmark: float,
    day: float,
    *,
    never_there: bool = False,
    ill_died: bool = False,
    missing_alive: float = 0.0,
) -> float:
    """Survival with the missing fish, or those removed as ill, counted in another way."""
    best = history.best
    start, dead, removed = float(history.start[1]), best.dead, best.removed
    if ill_died:
        dead = dead + history.ill
        removed = removed - history.ill
    keep = 0.0 if never_there else 1.0 - missing_alive
    dead = dead + best.missing * keep
    if never_there:
        start -= float(best.missing.sum())
    nobody = np.full(dead.shape, np.nan)
    followed = follow(start, dead, removed, best.added, nobody, history.days)
    return float(between(history, followed, landmark, day))


def by_likelihood(history: History, landmark: float, day: float, otherwise: float) -> float:
    """Survival by Turnbull's curve: missing fish lie between the full counts around them."""
    best, ages = history.best, history.age_to
    if best.added.any() or day > ages[-1]:
        return otherwise
    counted = ~np.isnan(history.alive[:, 1])
    after = np.array(
        [ages[i:][counted[i:]][0] if counted[i:].any() else ages[-1] for i in range(ages.size)]
    )
    before = np.array(
        [
            ages[:i][counted[:i]][-1] if counted[:i].any() else history.age_from[0]
            for i in range(ages.size)
        ]
    )
    left_alive = best.at_risk[-1] - best.dead[-1] - best.missing[-1] - best.removed[-1]
    rows = [
        (history.age_from, ages, best.dead),
        (before, after, best.missing),
        (ages, np.full(ages.size, np.inf), best.removed),
        (ages[-1:], np.array([np.inf]), np.array([max(left_alive, 0.0)])),
    ]
    left, right, fish = (np.concatenate(part) for part in zip(*rows, strict=True))
    seen = fish > 1e-9
    if not seen.any():
        return otherwise
    curve = turnbull(left[seen], right[seen], fish[seen])
    start = float(curve.survival_at(landmark)) if landmark > history.age_from[0] else 1.0
    return float(curve.survival_at(day)) / start if start > 0 else 0.0
