"""Follow the fish of one batch from look to look: nothing is lost, nothing goes below zero."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.logbook.account.looks import FEWEST_BODIES

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Followed:
    """What became of the fish in every interval between looks; arrays of shape (..., k)."""

    at_risk: Floats
    dead: Floats
    missing: Floats
    removed: Floats
    added: Floats


def follow(
    start: ArrayLike,
    dead: ArrayLike,
    removed: ArrayLike,
    added: ArrayLike,
    alive: ArrayLike,
    days: ArrayLike,
) -> Followed:
    """Place the missing fish of one batch and count who was at risk in every interval.

    Parameters
    ----------
    start : array_like, shape (...)
        Fish at the start.
    dead, removed, added : array_like, shape (..., k)
        Found dead, taken out and put in, in each interval between looks.
    alive : array_like, shape (..., k)
        Full count at the end of each interval; NaN where nobody counted them all.
    days : array_like, shape (k,)
        Length of each interval.

    Returns
    -------
    Followed
        At risk, dead, missing, removed and added in every interval.

    Notes
    -----
    Fish that vanished are known only between two full counts. They go by the bodies found there
    if these are at least ``FEWEST_BODIES`` and half of the loss, otherwise evenly by day; where
    that would exceed the fish that were there, the rest moves to the next
    interval. Within an interval deaths come before removals and fish that were added come last.
    """
    dead_, removed_, added_, alive_ = np.broadcast_arrays(
        *(np.asarray(x, dtype=float) for x in (dead, removed, added, alive))
    )
    now = np.array(np.broadcast_to(np.asarray(start, dtype=float), dead_.shape[:-1]))
    days_ = np.broadcast_to(np.asarray(days, dtype=float), dead_.shape)
    out = {name: np.zeros(dead_.shape) for name in ("at_risk", "dead", "missing", "removed")}
    for first, last in _brackets(alive_):
        part = slice(first, last + 1)
        lost = dead_[..., part].sum(-1) + removed_[..., part].sum(-1) - added_[..., part].sum(-1)
        end = alive_[..., last]
        vanished = np.where(np.isnan(end), 0.0, np.maximum(now - lost - np.nan_to_num(end), 0.0))
        planned = vanished[..., None] * _weights(dead_[..., part], days_[..., part], vanished)
        waiting = np.zeros_like(now)
        for i in range(first, last + 1):
            out["at_risk"][..., i] = now
            d = np.minimum(dead_[..., i], now)
            m = np.minimum(planned[..., i - first] + waiting, now - d)
            waiting = planned[..., i - first] + waiting - m
            r = np.minimum(removed_[..., i], now - d - m)
            out["dead"][..., i], out["missing"][..., i], out["removed"][..., i] = d, m, r
            now = now - d - m - r + added_[..., i]
    return Followed(added=np.array(added_), **out)


def _brackets(alive: Floats) -> list[tuple[int, int]]:
    """Return (first, last) interval of every stretch that ends in a full count (or the log)."""
    k = alive.shape[-1]
    counted = ~np.isnan(alive.reshape(-1, k)[0]) if k else np.zeros(0, dtype=bool)
    ends = [int(e) for e in np.flatnonzero(counted)]
    if k and (not ends or ends[-1] != k - 1):
        ends.append(k - 1)
    firsts = [0, *(e + 1 for e in ends[:-1])]
    return [(int(a), int(b)) for a, b in zip(firsts, ends, strict=True)]


def _weights(dead: Floats, days: Floats, vanished: Floats) -> Floats:
    """Share of the missing fish that goes to each interval of a stretch (sums to 1)."""
    bodies = dead.sum(-1, keepdims=True)
    all_days = days.sum(-1, keepdims=True)
    by_days = np.where(
        all_days > 0, days / np.where(all_days > 0, all_days, 1.0), 1.0 / days.shape[-1]
    )
    by_bodies = (bodies >= FEWEST_BODIES) & (bodies >= vanished[..., None])
    return np.where(by_bodies, dead / np.where(bodies > 0, bodies, 1.0), by_days)
