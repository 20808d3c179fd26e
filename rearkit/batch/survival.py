"""Survival of one batch to a day: the estimate, its own interval and every what-if."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.batch.evidence import Evidence
from rearkit.batch.history import (
    History,
    at_risk_on,
    between,
    by_likelihood,
    history_of,
    parts_before,
    refollow,
    share_alive,
    what_if,
)
from rearkit.logbook.account.follow_fish import Followed
from rearkit.stats.survival.lifetable import effective_n, greenwood, product_limit, survival_at

Floats = NDArray[np.float64]
N_DRAWS = 2_000


@dataclass(frozen=True, kw_only=True, eq=False)
class BatchSurvival:
    """What became of one batch from ``age_from`` to ``day``.

    Attributes
    ----------
    start_low, start_best, start_high : float
        Fish at the start of the batch.
    dead, missing, removed, removed_ill, added : float
        Found dead, missing, taken out and put in by ``day`` (those of the interval that spans
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
        The bounds of the share over every history that the log allows.
    grade : str
        How well the survivors are known, as in ``rearkit.batch.evidence.Evidence``.
    if_never_there : float
        Survival if the missing fish had never been there.
    if_ill_died : float
        Survival if every fish removed as sick or runt had died.
    if_both : float
        Survival if both were so.
    if_missing_alive : float
        Survival if the missing fish were all alive.
    by_likelihood : float
        Survival by the interval-censored maximum likelihood curve, which places the missing fish
        by itself (product-limit where fish were added).
    naive : float
        Survival from the batch's own first count, whatever its age: for the lesson only.
    logit_alive, logit_n : float
        Effective numbers for the empirical logit.
    final_count : bool
        Whether a full count speaks for the day.
    dead_recorded : bool
        Whether anybody wrote down dead fish, if only a 0.
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
    added: float
    alive: float
    survival: float
    survival_low: float
    survival_high: float
    look_low: float
    look_high: float
    count_low: float
    count_high: float
    grade: str
    if_never_there: float
    if_ill_died: float
    if_both: float
    if_missing_alive: float
    by_likelihood: float
    naive: float
    logit_alive: float
    logit_n: float
    final_count: bool
    dead_recorded: bool
    curve: pd.DataFrame
    draws: Floats


def survive(
    fates: pd.DataFrame,
    account: pd.Series,
    evidence: Evidence,
    *,
    landmark: float,
    day: float,
    seed: int,
) -> BatchSurvival:
    """Estimate the survival of one line from a landmark age to a day.

    Parameters
    ----------
    fates : DataFrame
        Its rows of ``fates_of``.
    account : Series
        Its row of ``accounts_of``.
    evidence : Evidence
        What the log proves of it between the landmark and the day.
    landmark, day : float
        Ages in days; survival is that of the fish alive at the landmark.
    seed : int
        Seeds the draws of the batch's own interval.

    Returns
    -------
    BatchSurvival
        The estimate, its interval, and the what-ifs.
    """
    history = history_of(fates, account, until=day)
    best = history.best
    gone = best.dead + best.missing
    at = survival_at(history.age_from, history.age_to, best.at_risk, gone, day)
    at_landmark = share_alive(history, best.at_risk, gone, landmark)
    value = evidence.share
    draws, n_eff = _draws(history, landmark, day, seed)
    part = parts_before(history, day)
    return BatchSurvival(
        batch=str(account["batch"]),
        start_low=float(account["start_low"]),
        start_best=float(account["start_best"]),
        start_high=float(account["start_high"]),
        start_known=bool(account["start_known"]),
        at_start=at_risk_on(history, landmark),
        dead=float((best.dead * part).sum()),
        missing=float((best.missing * part).sum()),
        removed=float((best.removed * part).sum()),
        removed_ill=float((history.ill * part).sum()),
        added=float((best.added * part).sum()),
        alive=float(history.start[1] + ((best.added - best.removed - gone) * part).sum()),
        survival=value,
        survival_low=float(np.quantile(draws, 0.025)) if value > 0 else 0.0,
        survival_high=float(np.quantile(draws, 0.975)) if value < 1 else 1.0,
        look_low=float(at.low) / at_landmark if at_landmark > 0 else 0.0,
        look_high=min(float(at.high) / at_landmark, 1.0) if at_landmark > 0 else 0.0,
        count_low=evidence.share_low,
        count_high=evidence.share_high,
        grade=evidence.grade,
        if_never_there=what_if(history, landmark, day, never_there=True),
        if_ill_died=what_if(history, landmark, day, ill_died=True),
        if_both=what_if(history, landmark, day, never_there=True, ill_died=True),
        if_missing_alive=what_if(history, landmark, day, missing_alive=1.0),
        by_likelihood=by_likelihood(history, landmark, day, value),
        naive=float(at.estimate),
        logit_alive=value * n_eff,
        logit_n=n_eff,
        final_count=evidence.grade == "counted",
        dead_recorded=bool(account["dead_recorded"]),
        curve=_curve(history, landmark),
        draws=draws,
    )


def survive_if_found(
    fates: pd.DataFrame, account: pd.Series, *, landmark: float, day: float, share: float
) -> float:
    """Return survival if this share of the missing fish were in truth alive."""
    return what_if(history_of(fates, account, until=day), landmark, day, missing_alive=share)


def _draws(history: History, landmark: float, day: float, seed: int) -> tuple[Floats, float]:
    """Draw counts within their ranges, then a Jeffreys beta; return draws and the effective n."""
    rng = np.random.default_rng(seed)

    def uniform(counts: Floats) -> Floats:
        low, best, high = counts[..., 0], counts[..., 1], counts[..., 2]
        top = np.where(np.isinf(high), np.maximum(best, low), high)
        u = rng.random((N_DRAWS, *low.shape))
        return np.asarray(low + (top - low) * u)

    followed = refollow(
        history,
        uniform(history.start),
        uniform(history.dead),
        uniform(history.removed),
        uniform(history.alive),
    )
    survival = np.clip(between(history, followed, landmark, day), 0.0, 1.0)
    n_eff = _effective(history, history.best, landmark, day)
    beta = rng.beta(survival * n_eff + 0.5, (1.0 - survival) * n_eff + 0.5)
    return beta, n_eff


def _effective(history: History, followed: Followed, landmark: float, day: float) -> float:
    """How many fish the survival of this batch is worth (fewer where fish were taken out)."""
    inside = (history.age_to > landmark) & (history.age_from < day)
    if landmark <= history.age_from[0]:
        inside |= history.age_to <= day
    if not inside.any():
        return max(at_risk_on(history, landmark), 0.0)
    at_risk = followed.at_risk[inside]
    gone = (followed.dead + followed.missing)[inside]
    value = product_limit(at_risk, gone)
    first, last = float(at_risk[0]), float(at_risk[-1])
    end = float(value[-1])
    if end <= 0.0:
        return first
    error = float(greenwood(at_risk, gone)[-1])
    return float(effective_n(end, error, last))


def _curve(history: History, landmark: float) -> pd.DataFrame:
    best = history.best
    gone = best.dead + best.missing
    steps = product_limit(best.at_risk, gone)
    before = share_alive(history, best.at_risk, gone, landmark)
    later = history.age_to > landmark
    scale = 1.0 / before if before > 0 else 0.0
    first = max(landmark, float(history.age_from[0]))
    left = best.at_risk - gone - best.removed + best.added
    return pd.DataFrame(
        {
            "look_from": np.concatenate([[first], np.maximum(history.age_from[later], first)]),
            "age": np.concatenate([[first], history.age_to[later]]),
            "survival": np.concatenate([[1.0], steps[later] * scale]),
            "n_alive": np.concatenate([[at_risk_on(history, landmark)], left[later]]),
        }
    )
