"""What the typed cells of a log prove: bounds of the share, and of the number, alive on a day.

A history says for whole fish how many were there at the start and how many were lost, taken out
and put in at every look. The log allows every history that fits its cells: start and count ranges,
bodies found, what was taken out and put in. Fish may be missing anywhere, in any number; so only
the low end of the bodies found binds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
LARGEST = 200_000  # fish; beyond it the share has bounds that contain the exact ones


@dataclass(frozen=True, kw_only=True, eq=False)
class Cells:
    """The counts of one container, or of several taken together, as whole fish: (low, high).

    Attributes
    ----------
    age_start : float
        Age in days at which the fish were first there.
    start : (2,) array
        Fish at the start.
    age : (k,) array
        Ages in days of the looks, not falling.
    dead, out, into : (k, 2) array
        Bodies found, fish taken out alive and fish put in since the look before. Within a look
        the losses come first, then those taken out, then those put in.
    alive : (k, 2) array
        Fish alive after each look; 0 to infinity where nobody counted.
    """

    age_start: float
    start: Floats
    age: Floats
    dead: Floats
    out: Floats
    into: Floats
    alive: Floats

    def until(self, day: float) -> Cells:
        """Return the same cells with an empty look on ``day``, if the last look is before it."""
        if day <= (self.age[-1] if self.age.size else self.age_start):
            return self
        none = np.zeros((1, 2))
        return Cells(
            age_start=self.age_start,
            start=self.start,
            age=np.append(self.age, day),
            dead=np.concatenate([self.dead, none]),
            out=np.concatenate([self.out, none]),
            into=np.concatenate([self.into, none]),
            alive=np.concatenate([self.alive, [[0.0, np.inf]]]),
        )


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """The extremes over all histories that a log allows.

    Attributes
    ----------
    share_low, share_high : float
        Product-limit share alive on the day of those alive at the start (or on another day).
        Those taken out leave the risk alive, those put in join it, an empty container keeps its
        share. An end that is only approached (an open "40+") is given as if it were reached.
    alive_low, alive_high : float
        Fish in the container on the day; infinite where an open count leaves it open.
    """

    share_low: float
    share_high: float
    alive_low: float
    alive_high: float


def whole(counts: ArrayLike, *, unknown: tuple[float, float]) -> Floats:
    """Return counts as whole fish within their ends; NaN becomes ``unknown``.

    Parameters
    ----------
    counts : (..., m) array
        The first of the last axis is the low end, the last of it the high end.
    unknown : tuple of float
        What stands for a count that nobody made.

    Returns
    -------
    (..., 2) array
        A range that holds no whole number is widened to the nearest on either side.
    """
    ends = np.asarray(counts, dtype=float)[..., [0, -1]]
    ends = np.where(np.isnan(ends), unknown, ends)
    low, high = np.ceil(ends[..., 0] - 1e-9), np.floor(ends[..., 1] + 1e-9)
    empty = low > high
    low = np.where(empty, np.floor(ends[..., 0]), low)
    high = np.where(empty, np.ceil(ends[..., 1]), high)
    return np.stack([low, high], axis=-1) + 0.0  # no negative zero


def least_alive(cells: Cells) -> Floats:
    """Return the fewest alive at the start and after each look that make all later cells possible.

    Returns
    -------
    (k + 1,) array
        Infinite where nothing does.
    """
    needed = np.zeros(cells.age.size + 1)
    later = 0.0
    for i in range(cells.age.size - 1, -1, -1):
        needed[i + 1] = later = max(later, cells.alive[i, 0])
        if max(later, cells.into[i, 0]) > cells.alive[i, 1]:
            needed[i + 1] = later = np.inf
        later = max(later - cells.into[i, 1], 0.0) if later < np.inf else np.inf
        later += cells.out[i, 0] + cells.dead[i, 0]
    needed[0] = later
    return needed


def most_alive(cells: Cells) -> Floats:
    """Return the most that can be alive at the start and after each look, by the cells so far.

    Returns
    -------
    (k + 1,) array
        Infinite where a count is open; negative where more left than can have been there.
    """
    most = np.zeros(cells.age.size + 1)
    most[0] = now = cells.start[1]
    for i in range(cells.age.size):
        now = now - cells.dead[i, 0] - cells.out[i, 0]
        now = min(now + cells.into[i, 1], cells.alive[i, 1]) if now >= 0 else -np.inf
        most[i + 1] = now
    return most


def possible(cells: Cells) -> bool:
    """Return whether any history fits all the cells."""
    return bool(least_alive(cells)[0] <= min(cells.start[1], np.finfo(float).max))


def holding_both(cells: Cells) -> tuple[Cells, tuple[int, ...]]:
    """Widen full counts that contradict each other until each takes in what the other says.

    A count that is too low for what is seen after it may have been as high as that, and one that
    is above what the counts before it leave may have been as low as that. The start is not
    widened: more alive than ever were there stays a contradiction.

    Returns
    -------
    Cells
        The cells with the widened counts; the same cells where nothing contradicts.
    tuple of int
        The looks whose counts were widened.
    """
    if possible(cells):
        return cells, ()
    alive = cells.alive.copy()
    needed, now = 0.0, np.inf
    for i in range(cells.age.size - 1, -1, -1):
        needed = max(needed, cells.into[i, 0])
        alive[i, 1] = max(alive[i, 1], needed)
        needed = max(needed, cells.alive[i, 0]) - cells.into[i, 1]
        needed = max(needed, 0.0) + cells.out[i, 0] + cells.dead[i, 0]
    for i in range(cells.age.size):
        now = max(now - cells.dead[i, 0] - cells.out[i, 0], 0.0) + cells.into[i, 1]
        alive[i, 0] = min(alive[i, 0], now)
        now = min(now, cells.alive[i, 1])
    widened = np.flatnonzero((alive != cells.alive).any(axis=1))
    return replace(cells, alive=alive), tuple(int(i) for i in widened)


def bounds_on(cells: Cells, day: float, *, since: float | None = None) -> Bounds | None:
    """Bound the share and the number alive on a day over every history that the cells allow.

    Parameters
    ----------
    cells : Cells
        The counts, as whole fish.
    day : float
        Age in days. Where it lies between two looks, what was lost between them is lost before
        the day for the low ends and after it for the high ends. After the last look any number
        may have been lost.
    since : float, optional
        The share is of those alive at this age, if any can have been; by default of those at the
        start. Between two looks, what was lost between them is lost after it for the low end and
        before it for the high end.

    Returns
    -------
    Bounds or None
        None if no history fits the cells: the log contradicts itself.

    Notes
    -----
    The share is followed by dynamic programming over the number alive: for every number, the
    extreme share with which it can be reached. Losing more from any larger number leads to the
    same one, so a look costs a running extreme of share / number, and time grows with looks times
    fish. "Arbitrarily many" is one more state, in which an open count begins.

    With more than ``LARGEST`` fish the share lies between n / (N - taken out) and
    1 - lost / (N + put in) at their worst ends (a product-limit share is least if all others left
    before the losses, and greatest if all were there at the first of them). These contain the
    exact bounds, and equal them for one start where nobody was taken out or put in.
    """
    cells = cells.until(day)
    if not possible(cells):
        return None
    needed, most = least_alive(cells), most_alive(cells)
    before, after = _looks_around(cells, day)
    low, high = (0, 0) if since is None else _looks_around(cells, since)
    low = low if most[low] > 0 else 0  # nobody was left to follow from there
    if most[high] == 0 and not _may_leave_alive(cells, most, high):
        high = low
    alive_low, alive_high = needed[after], most[before]
    if after > before:  # those put in since the look before may have come on either side
        alive_low = max(alive_low - cells.into[before, 1], 0.0)
        alive_high = alive_high + cells.into[before, 1]
    elif before:
        alive_low = max(alive_low, cells.into[before - 1, 0])
    share_high = _extreme(cells, range(high, before), needed, most, np.maximum)
    share_low = _extreme(cells, range(low, after), needed, most, np.minimum)
    return Bounds(
        share_low=min(share_low, share_high),  # equal but for rounding
        share_high=share_high,
        alive_low=float(alive_low),
        alive_high=float(alive_high),
    )


def _looks_around(cells: Cells, day: float) -> tuple[int, int]:
    """Return how many looks there are up to a day, and up to the first look on or after it."""
    before = int(np.searchsorted(cells.age, day, side="right"))
    on_look = day <= cells.age_start or (before > 0 and cells.age[before - 1] == day)
    return before, before if on_look or before == cells.age.size else before + 1


def _may_leave_alive(cells: Cells, most: Floats, n: int) -> bool:
    """Return whether fish may have lived through the last of ``n`` looks to be taken out at it."""
    return n > 0 and bool(most[n - 1] > cells.dead[n - 1, 0] and cells.out[n - 1, 1] > 0)


def _extreme(cells: Cells, looks: range, needed: Floats, most: Floats, pick: Any) -> float:
    """Return the least or greatest share alive after these looks of those alive before them.

    ``pick`` is ``numpy.minimum`` or ``numpy.maximum``. The numbers alive that the cells allow
    after any look are all those between ``needed`` (and those just put in) and ``most``.
    """
    if len(looks) == 0:
        return 1.0
    begin = looks.start
    start = np.array([cells.start[0], most[0]])
    if begin:  # those alive after that look, one of them at least if any can have been
        least = max(needed[begin], cells.into[begin - 1, 0], 1.0)
        start = np.array([min(least, most[begin]), most[begin]])
    start[0] = max(start[0], needed[begin])
    top = _top(cells, start, most)
    if top > LARGEST:
        return _wide(cells, looks, start, (needed, most), pick)
    never = np.inf if pick is np.minimum else -np.inf
    share = np.full(int(top) + 1, never)
    share[int(start[0]) : int(min(start[1], top)) + 1] = 1.0
    many = 1.0 if np.isinf(start[1]) else never  # the share with arbitrarily many alive
    for i in looks:
        share, many = _after_losses(share, many, int(cells.dead[i, 0]), pick, never)
        share = _taken_out(share, many, cells.out[i], pick, never)
        share, many = _put_in(share, many, cells.into[i], pick, never)
        low, high = cells.alive[i]
        share[: int(min(low, top + 1))] = never
        if high < np.inf:
            share[int(high) + 1 :] = never
            many = never
    return min(float(pick(pick.reduce(share[int(needed[looks.stop]) :]), many)), 1.0)


def _top(cells: Cells, start: Floats, most: Floats) -> float:
    """Return the largest number alive that has to be told from "arbitrarily many"."""
    if np.isfinite(most).all():
        return float(most.max())
    counts = [start, cells.dead[:, 0], cells.out, cells.into, cells.alive]
    return float(sum(c[np.isfinite(c)].sum() for c in counts))


def _after_losses(
    share: Floats, many: float, dead: int, pick: Any, never: float
) -> tuple[Floats, float]:
    """Lose at least ``dead`` fish: m of n alive carry share x m / n."""
    size = share.size
    a_fish = share / np.maximum(np.arange(size), 1)
    a_fish[0] = never
    reach = np.append(pick.accumulate(a_fish[::-1])[::-1], never)  # from n or more
    left = np.full(size, never)
    if dead < size:
        left[1 : size - dead] = np.arange(1, size - dead) * reach[dead + 1 : size]
        left[0] = 0.0 if np.isfinite(reach[max(dead, 1)]) else never
    if dead == 0:
        left[0] = pick(left[0], share[0])  # an empty container keeps its share
    if np.isfinite(many):  # all but a few of arbitrarily many, or hardly any of them
        left = pick(left, 0.0)
        many = many if pick is np.maximum else 0.0
    return left, many


def _taken_out(share: Floats, many: float, out: Floats, pick: Any, never: float) -> Floats:
    """Take out between ``out[0]`` and ``out[1]`` fish; the share stays."""
    size = share.size
    least = int(min(out[0], size))
    rest = np.concatenate([share[least:], np.full(least, never)])
    rest = _over_next(rest, int(min(out[1], size)) - least, pick, never)
    return np.asarray(pick(rest, many)) if np.isinf(out[1]) else rest


def _put_in(
    share: Floats, many: float, into: Floats, pick: Any, never: float
) -> tuple[Floats, float]:
    """Put in between ``into[0]`` and ``into[1]`` fish; the share stays."""
    size = share.size
    least = int(min(into[0], size))
    more = np.concatenate([np.full(least, never), share[: size - least]])
    more = _over_next(more[::-1], int(min(into[1], size)) - least, pick, never)[::-1]
    return more, float(pick(many, pick.reduce(share))) if np.isinf(into[1]) else many


def _over_next(values: Floats, n: int, pick: Any, never: float) -> Floats:
    """Return the extreme of every value and the ``n`` after it, doubling the stretch."""
    covered, want = 1, min(n + 1, values.size)
    while covered < want:
        step = min(covered, want - covered)
        values = pick(values, np.concatenate([values[step:], np.full(step, never)]))
        covered += step
    return values


def _wide(
    cells: Cells, looks: range, start: Floats, alive: tuple[Floats, Floats], pick: Any
) -> float:
    """Return an end of the share for very many fish, which the exact end does not pass."""
    part = slice(looks.start, looks.stop)
    least, most = alive[0][looks.stop], alive[1][looks.stop]
    out, into = cells.out[part].sum(axis=0), cells.into[part].sum(axis=0)
    if pick is np.minimum:
        others = start[1] - out[0]
        return 0.0 if into[1] > 0 or least <= 0 or np.isinf(others) else float(least / others)
    there = start + into
    kept = out[1] + most
    lost = float(cells.dead[part, 0].sum())
    best = max(float(there[0]), min(float(kept) + lost, float(there[1])))
    return 1.0 - max(lost, best - float(kept)) / best if 0 < best < np.inf else 1.0
