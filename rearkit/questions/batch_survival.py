"""Survival of one batch to a day: the estimate, its own interval, and every what-if of the count."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.logbook.follow import Followed, follow
from rearkit.stats.lifetable import effective_n, greenwood, product_limit, survival_at

Floats = NDArray[np.float64]
N_DRAWS = 4_000


@dataclass(frozen=True, kw_only=True, eq=False)
class BatchSurvival:
    """What became of one batch from ``age_from`` to ``day``.

    Attributes
    ----------
    start_low, start_best, start_high : float
        Fish at the start of the batch.
    dead, missing, removed, removed_ill : float
        Found dead, missing and taken out by ``day`` (those that fall in the interval that spans
        the day are shared by days).
    alive : float
        Fish in the container on ``day``.
    at_start : float
        Fish at risk at the common landmark age.
    survival : float
        Product-limit share alive on ``day`` of those alive at the landmark; missing fish are dead.
    survival_low, survival_high : float
        These fish in this container: 2.5 and 97.5 % points of Jeffreys beta draws with counts
        drawn within their ranges.
    look_low, look_high : float
        All deaths of the interval that spans the day at its start, or all at its end.
    count_low, count_high : float
        The arithmetic bounds from the ends of every count range.
    if_never_there : float
        Survival if the missing fish had never been there.
    if_ill_died : float
        Survival if every fish removed as sick or runt had died.
    if_missing_alive : float
        Survival if the missing fish were all alive.
    naive : float
        Survival from the batch's own first count, whatever its age: for the lesson only.
    logit_alive, logit_n : float
        Effective numbers for the empirical logit.
    final_count : bool
        Whether all the fish were counted on or after ``day``.
    curve : DataFrame
        ``age``, ``survival``, ``at_risk``, ``look_from``: the steps, from the landmark on.
    draws : ndarray
        The draws behind the interval.
    """

    batch: str
    start_low: float
    start_best: float
    start_high: float
    start_known: bool
    at_start: float
    dead: float
    missing: float
    removed: float
    removed_ill: float
    alive: float
    survival: float
    survival_low: float
    survival_high: float
    look_low: float
    look_high: float
    count_low: float
    count_high: float
    if_never_there: float
    if_ill_died: float
    if_missing_alive: float
    naive: float
    logit_alive: float
    logit_n: float
    final_count: bool
    curve: pd.DataFrame
    draws: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class _History:
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
        return self.age_to - self.age_from


def survive(
    fates: pd.DataFrame, account: pd.Series, *, landmark: float, day: float, seed: int
) -> BatchSurvival:
    """Estimate the survival of one batch from a landmark age to a day.

    Parameters
    ----------
    fates : DataFrame
        The rows of ``log.fates`` of this batch.
    account : Series
        The row of ``log.account`` of this batch.
    landmark, day : float
        Ages in days; survival is that of the fish alive at the landmark.
    seed : int
        Seeds the draws of the batch's own interval.

    Returns
    -------
    BatchSurvival
        The estimate, its interval, and the what-ifs.
    """
    history = _history(fates, account)
    best = history.best
    gone = best.dead + best.missing
    at = survival_at(history.age_from, history.age_to, best.at_risk, gone, day)
    at_landmark = _share(history, best.at_risk, gone, landmark)
    value = float(at.estimate) / at_landmark if at_landmark > 0 else 0.0
    draws, n_eff = _draws(history, landmark, day, seed)
    corners = _corners(history, landmark, day)
    part = _parts(history, day)
    return BatchSurvival(
        batch=str(account["batch"]),
        start_low=float(account["start_low"]),
        start_best=float(account["start_best"]),
        start_high=float(account["start_high"]),
        start_known=bool(account["start_known"]),
        at_start=_at_risk_on(history, landmark),
        dead=float((best.dead * part).sum()),
        missing=float((best.missing * part).sum()),
        removed=float((best.removed * part).sum()),
        removed_ill=float((history.ill * part).sum()),
        alive=float(history.start[1] + ((best.added - best.removed - gone) * part).sum()),
        survival=value,
        survival_low=float(np.quantile(draws, 0.025)),
        survival_high=float(np.quantile(draws, 0.975)),
        look_low=float(at.low) / at_landmark if at_landmark > 0 else 0.0,
        look_high=min(float(at.high) / at_landmark, 1.0) if at_landmark > 0 else 0.0,
        count_low=min(corners),
        count_high=max(corners),
        if_never_there=_what_if(history, landmark, day, never_there=True),
        if_ill_died=_what_if(history, landmark, day, ill_died=True),
        if_missing_alive=_what_if(history, landmark, day, missing_alive=1.0),
        naive=float(at.estimate),
        logit_alive=value * n_eff,
        logit_n=n_eff,
        final_count=_counted_by(history, day),
        curve=_curve(history, landmark),
        draws=draws,
    )


def survive_if_found(
    fates: pd.DataFrame, account: pd.Series, *, landmark: float, day: float, share: float
) -> float:
    """Return survival if this share of the missing fish were in truth alive."""
    return _what_if(_history(fates, account), landmark, day, missing_alive=share)


def _history(fates: pd.DataFrame, account: pd.Series) -> _History:
    def counts(name: str) -> Floats:
        return fates[[f"{name}_low", f"{name}_best", f"{name}_high"]].to_numpy(dtype=float)

    def column(name: str) -> Floats:
        return fates[name].to_numpy(dtype=float)

    return _History(
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


def _parts(history: _History, day: float) -> Floats:
    """Share of every interval that lies before the day (1 for an interval of no length)."""
    length = np.where(history.days > 0, history.days, 1.0)
    part = np.where(history.days > 0, (day - history.age_from) / length, 1.0)
    return np.asarray(np.clip(np.where(history.age_to <= day, 1.0, part), 0.0, 1.0))


def _share(history: _History, at_risk: Floats, gone: Floats, day: float) -> float:
    if day <= history.age_from[0]:
        return 1.0
    return float(survival_at(history.age_from, history.age_to, at_risk, gone, day).estimate)


def _between(history: _History, followed: Followed, landmark: float, day: float) -> Floats:
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


def _at_risk_on(history: _History, landmark: float) -> float:
    part = _parts(history, landmark) if landmark > history.age_from[0] else 0.0
    best = history.best
    change = best.added - best.removed - best.dead - best.missing
    return float(history.start[1] + (change * part).sum())


def _refollow(
    history: _History, start: Floats | float, dead: Floats, removed: Floats, alive: Floats
) -> Followed:
    return follow(start, dead, removed, history.added[:, 1], alive, history.days)


def _draws(history: _History, landmark: float, day: float, seed: int) -> tuple[Floats, float]:
    """Draw counts within their ranges, then a Jeffreys beta; return draws and the effective n."""
    rng = np.random.default_rng(seed)

    def uniform(counts: Floats) -> Floats:
        low, best, high = counts[..., 0], counts[..., 1], counts[..., 2]
        top = np.where(np.isinf(high), np.maximum(best, low), high)
        u = rng.random((N_DRAWS, *low.shape))
        return np.asarray(low + (top - low) * u)

    followed = _refollow(
        history,
        uniform(history.start),
        uniform(history.dead),
        uniform(history.removed),
        uniform(history.alive),
    )
    survival = np.clip(_between(history, followed, landmark, day), 0.0, 1.0)
    n_eff = _effective(history, history.best, landmark, day)
    beta = rng.beta(survival * n_eff + 0.5, (1.0 - survival) * n_eff + 0.5)
    return beta, n_eff


def _effective(history: _History, followed: Followed, landmark: float, day: float) -> float:
    """How many fish the survival of this batch is worth (fewer where fish were taken out)."""
    inside = (history.age_to > landmark) & (history.age_from < day)
    if landmark <= history.age_from[0]:
        inside |= history.age_to <= day
    if not inside.any():
        return max(_at_risk_on(history, landmark), 0.0)
    at_risk = followed.at_risk[inside]
    gone = (followed.dead + followed.missing)[inside]
    value = product_limit(at_risk, gone)
    first, last = float(at_risk[0]), float(at_risk[-1])
    end = float(value[-1])
    if end <= 0.0:
        return first
    error = float(greenwood(at_risk, gone)[-1])
    return float(effective_n(end, error, last))


def _corners(history: _History, landmark: float, day: float) -> list[float]:
    """Survival at every combination of the ends of the start, dead and alive ranges."""
    values = []
    for s, d, a in product((0, 2), repeat=3):
        start = history.start[s]
        if np.isinf(start):
            values.append(0.0)  # no upper end of the start: no lower end of survival
            continue
        followed = _refollow(
            history, start, history.dead[:, d], history.removed[:, 1], history.alive[:, a]
        )
        values.append(float(_between(history, followed, landmark, day)))
    return values


def _what_if(
    history: _History,
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
    return float(_between(history, followed, landmark, day))


def _counted_by(history: _History, day: float) -> bool:
    return bool((~np.isnan(history.alive[:, 1]) & (history.age_to >= day - 1e-9)).any())


def _curve(history: _History, landmark: float) -> pd.DataFrame:
    best = history.best
    gone = best.dead + best.missing
    steps = product_limit(best.at_risk, gone)
    before = _share(history, best.at_risk, gone, landmark)
    later = history.age_to > landmark
    scale = 1.0 / before if before > 0 else 0.0
    first = max(landmark, float(history.age_from[0]))
    left = best.at_risk - gone - best.removed + best.added
    return pd.DataFrame(
        {
            "look_from": np.concatenate([[first], np.maximum(history.age_from[later], first)]),
            "age": np.concatenate([[first], history.age_to[later]]),
            "survival": np.concatenate([[1.0], steps[later] * scale]),
            "n_alive": np.concatenate([[_at_risk_on(history, landmark)], left[later]]),
        }
    )
