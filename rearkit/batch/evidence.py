"""How well the survivors of a unit are known on a day, and the value shown "as counted"."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rearkit.batch.lines import Line
from rearkit.logbook.account.bounds import Bounds, bounds_on, holding_both, most_alive, possible
from rearkit.logbook.account.looks import Looks, alive_on, as_counted, share_on, window

ANYTHING = Bounds(share_low=0.0, share_high=1.0, alive_low=0.0, alive_high=np.inf)
GRADES = ("counted", "stopped", "not_counted", "start_not_known")  # the worst last


@dataclass(frozen=True, kw_only=True, eq=False)
class Evidence:
    """What the log proves of one unit on a day, and the one value that is shown "as counted".

    Attributes
    ----------
    grade : str
        One of ``GRADES``. ``counted``: a full count within the window of the day, or later with
        no fish missing before it, or died out. ``stopped``: ended before the day. ``not_counted``:
        not so. ``start_not_known``: nobody counted at the start, so the share is at best.
    why : str
        What the grade rests on: ``count``, ``count_before`` (within the window, before the day),
        ``late_count`` (later than the window allows), ``died_out``, ``ended``, ``emptied`` (all
        were taken out alive), ``running``, ``no_count``, ``contradiction`` (no history fits).
    day : float
        The day asked about, age in days.
    counted_on : float or None
        Age of the full count that speaks for the day, for ``counted`` units.
    share : float
        Share alive as counted: that of the history nearest to the best values, and the high end
        where the unit is not ``counted``. NaN where no history fits.
    share_low, share_high : float
        Extremes of the share over all histories that the cells allow; 0 and 1 where none fits.
        Of a stopped unit all alive at its end may have died before the day, or none.
    alive, alive_low, alive_high : float
        The same for the number of fish.
    start_known : bool
        Whether the fish were counted where the share begins.
    contradicts : bool
        Whether full counts contradicted each other and were widened to hold both.
    """

    grade: str
    why: str
    day: float
    counted_on: float | None
    share: float
    share_low: float
    share_high: float
    alive: float
    alive_low: float
    alive_high: float
    start_known: bool
    contradicts: bool

    @property
    def possible(self) -> bool:
        """Whether any history fits the log."""
        return self.why != "contradiction"


@dataclass(frozen=True, kw_only=True)
class Band:
    """Fish missing between two full counts (or a count and the end): nobody knows when.

    Attributes
    ----------
    age_from, age_to : float
        Ages in days of the two counts.
    low, best, high : float
        How many, from the ends of the ranges and as counted.
    closed : bool
        Whether it ends in a full count; without one nobody is known to be missing.
    """

    age_from: float
    age_to: float
    low: float
    best: float
    high: float
    closed: bool


@dataclass(frozen=True, kw_only=True)
class Tipping:
    """How many fish of a unit would have to be alive for a verdict to hold.

    The verdict holds with ``count`` or more alive, of ``possible``, if ``at_least``; else with
    ``count`` or fewer.
    """

    count: int
    possible: int
    at_least: bool


def judge(
    line: Line, day: float, *, since: float | None = None, near: float | None = None
) -> Evidence:
    """Say how well the survivors of one line are known on a day.

    Parameters
    ----------
    line : Line
        The fish.
    day : float
        Age in days.
    since : float, optional
        The share is of those alive at this age; by default of those at the start.
    near : float, optional
        Days that a full count may lie beside the day; by default ``window(day)``.

    Returns
    -------
    Evidence
    """
    near = window(day) if near is None else near
    looks = line.looks
    cells, widened = holding_both(looks.cells)
    empty, _ = emptied(looks)
    if since is not None and empty is not None and empty <= since:
        since = None  # nobody was left to follow from there
    known = known_from(looks)
    start_known = known is not None and known <= max(looks.age_start, since or -np.inf)
    history = as_counted(looks)
    grade, why, on = "not_counted", "contradiction", None
    if history is not None:
        grade, why, on = _grade(line, day, near)
    at = on if on is not None and why == "count_before" and on > (since or -np.inf) else day
    bounds = bounds_on(cells, at, since=since) or ANYTHING
    if grade == "stopped":
        bounds = replace(bounds, share_low=0.0, alive_low=0.0)
    share, alive = bounds.share_high, bounds.alive_high
    if history is None:
        share = alive = np.nan
    elif grade == "counted" and why != "died_out":
        share, alive = share_on(looks, history, at, since=since), alive_on(looks, history, at)
    if not start_known and why not in ("died_out", "contradiction"):
        grade, share = "start_not_known", bounds.share_high
    return Evidence(
        grade=grade,
        why=why,
        day=day,
        counted_on=on,
        share=share,
        share_low=bounds.share_low,
        share_high=bounds.share_high,
        alive=alive,
        alive_low=bounds.alive_low,
        alive_high=bounds.alive_high,
        start_known=start_known,
        contradicts=bool(widened) or history is None,
    )


def judge_unit(
    lines: Sequence[Line], day: float, *, since: float | None = None, near: float | None = None
) -> Evidence:
    """Say how well the survivors of a unit of one or several lines are known on a day.

    Returns
    -------
    Evidence
        The worst grade of its lines, the mean of their shares and of the ends of these, and the
        sums of their fish.
    """
    parts = [judge(line, day, since=since, near=near) for line in lines]
    worst = max(parts, key=lambda p: (not p.possible, GRADES.index(p.grade)))
    counts = [p.counted_on for p in parts]
    return replace(
        worst,
        counted_on=None if None in counts else min(c for c in counts if c is not None),
        start_known=all(p.start_known for p in parts),
        contradicts=any(p.contradicts for p in parts),
        share=float(np.mean([p.share for p in parts])),
        share_low=float(np.mean([p.share_low for p in parts])),
        share_high=float(np.mean([p.share_high for p in parts])),
        alive=sum(p.alive for p in parts),
        alive_low=sum(p.alive_low for p in parts),
        alive_high=sum(p.alive_high for p in parts),
    )


def died_out_on(looks: Looks) -> float | None:
    """Return the age by which every fish had certainly died, if they had."""
    age, share = emptied(looks)
    return age if share == 0 else None


def emptied(looks: Looks) -> tuple[float | None, float]:
    """Return the age by which certainly none was left in the containers, and the share then."""
    cells, _ = holding_both(looks.cells)
    if not possible(cells):
        return None, 1.0
    empty = np.flatnonzero(most_alive(cells)[1:] == 0)
    if empty.size == 0:
        return None, 1.0
    age = float(looks.age[empty[0]])
    bounds = bounds_on(cells, age) or ANYTHING
    return age, bounds.share_high


def known_from(looks: Looks) -> float | None:
    """Return the first age at which the number of fish was known."""
    if looks.start_known and np.isfinite(looks.start).all():
        return looks.age_start
    counts = looks.age[looks.full]
    return float(counts[0]) if counts.size else None


def missing_bands(looks: Looks) -> tuple[Band, ...]:
    """Return the fish missing between one full count and the next, as bands.

    Found dead is what was typed; what only the account knows of lies anywhere in its band.
    """
    history = as_counted(looks)
    if history is None:
        return ()
    bands = []
    for first, last in looks.brackets:
        part = slice(first, last + 1)
        low, high = _missing_between(looks, first, last)
        bands.append(
            Band(
                age_from=float(looks.age_from[first]),
                age_to=float(looks.age[last]),
                low=low,
                best=float(history.missing[part].sum()),
                high=high,
                closed=bool(looks.full[last]),
            )
        )
    return tuple(bands)


def share_if_alive(evidence: Evidence, alive: float) -> float:
    """Return the share of a unit if this many of its possible fish were alive."""
    if not 0 < evidence.alive_high < np.inf:
        return evidence.share_high
    return evidence.share_high * alive / evidence.alive_high


def tipping(evidence: Evidence, holds: Callable[[float], bool]) -> Tipping | None:
    """Find how many fish of a unit must be alive for a verdict to hold.

    Parameters
    ----------
    evidence : Evidence
        Of the unit.
    holds : callable
        Whether the verdict holds with this share of the unit; it changes its mind once between
        the fewest and the most.

    Returns
    -------
    Tipping or None
        None if the verdict holds, or fails, for every number, or if there is no most.
    """
    if not np.isfinite(evidence.alive_high):
        return None
    low, high = int(np.ceil(evidence.alive_low)), int(evidence.alive_high)
    at_most = holds(share_if_alive(evidence, high))
    if holds(share_if_alive(evidence, low)) == at_most:
        return None
    least, most = low, high  # the answer differs between these two
    while most - least > 1:
        middle = (least + most) // 2
        if holds(share_if_alive(evidence, middle)) == at_most:
            most = middle
        else:
            least = middle
    return Tipping(count=most if at_most else least, possible=high, at_least=at_most)


def _grade(line: Line, day: float, near: float) -> tuple[str, str, float | None]:
    """Return the grade, what it rests on, and the age of the full count that speaks for it."""
    looks = line.looks
    died = died_out_on(looks)
    if died is not None and died <= day:
        return "counted", "died_out", died
    counts = looks.age[looks.full]
    after, before = counts[counts >= day], counts[counts < day]
    if after.size:
        first = float(after[0])
        if first - day <= near or not _may_be_missing(looks, day):
            return "counted", "count", first
        return "not_counted", "late_count", None
    if before.size and day - before[-1] <= near:
        return "counted", "count_before", float(before[-1])
    empty, _ = emptied(looks)
    if empty is not None and empty < day:
        return "stopped", "emptied", None
    if line.ended and line.end_age < day:
        return "stopped", "ended", None
    return "not_counted", "no_count" if line.ended or line.end_age >= day else "running", None


def _may_be_missing(looks: Looks, day: float) -> bool:
    """Return whether any fish can be missing between the full counts around a day."""
    for first, last in looks.brackets:
        if looks.age_from[first] < day <= looks.age[last]:
            return _missing_between(looks, first, last)[1] > 0
    return False


def _missing_between(looks: Looks, first: int, last: int) -> tuple[float, float]:
    """Return how many fish are missing, at least and at most, over a stretch of looks."""
    cells, _ = holding_both(looks.cells)
    part = slice(first, last + 1)
    began = cells.start if first == 0 else cells.alive[first - 1]
    ended = cells.alive[last]
    dead, out, into = (c[part].sum(axis=0) for c in (cells.dead, cells.out, cells.into))
    low = began[0] - ended[1] - dead[1] - out[1] + into[0]
    high = began[1] - ended[0] - dead[0] - out[0] + into[1]
    return max(float(low), 0.0), max(float(high), 0.0)
