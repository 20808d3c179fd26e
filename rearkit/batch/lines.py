"""Lines: the fish of one unit, followed through every container that they were moved to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.batch.containers import Container, follow_container
from rearkit.batch.moves import (
    Move,
    Moves,
    alike,
    calendar_day,
    counted,
    date_of,
    find_moves,
    sum_of,
)
from rearkit.batch.remark import Remark
from rearkit.logbook.account.looks import Looks, as_counted, window

Floats = NDArray[np.float64]
MOST_STRANGERS = 0.5  # of those at risk; from here on a line tells of other fish


@dataclass(frozen=True, kw_only=True, eq=False)
class Line:
    """The fish of one clutch and method that were kept together or moved into one another.

    Attributes
    ----------
    name : str
        The first of its batches.
    batches : tuple of str
        Every batch whose fish belong to it, in the order of their starts.
    clutch, method : str or None
        As in Batches; one that is blank for a batch that began with moved fish is that of the
        batch they came from.
    came_from : tuple of str
        Batches of another clutch or method that its first fish came out of.
    looks : Looks
        What was typed of all its containers together, by age in days. A look is a day on which
        every container that held any of its fish was looked at. Moves between them change
        nothing; fish that were sent and did not arrive are missing.
    age_zero : Timestamp
        The day from which its ages are counted: that of the batch it began with.
    ended : bool
        Whether it was over: every container ended, or its fish were joined by too many others.
    end_age : float
        Age at which it ended, else at which something was last typed.
    end_reasons : tuple of str
        ``end_reason`` of the batches that it ended in; ``others_joined`` where fish of another
        clutch or method came in, ``too_many_added`` where fish without a source were half or
        more, ``moved_away`` where all went to another unit.
    stopped : tuple of str
        Its batches that the log check left out.
    moves : tuple of Move
        Between its batches, and of others into and out of them.
    remarks : tuple of Remark
        What does not go together in it.
    """

    name: str
    batches: tuple[str, ...]
    clutch: str | None
    method: str | None
    came_from: tuple[str, ...]
    looks: Looks
    age_zero: pd.Timestamp
    ended: bool
    end_age: float
    end_reasons: tuple[str, ...]
    stopped: tuple[str, ...]
    moves: tuple[Move, ...]
    remarks: tuple[Remark, ...]


def find_lines(
    batches: pd.DataFrame, daily: pd.DataFrame, *, compare: str = "method"
) -> tuple[Line, ...]:
    """Follow the fish of a log through the containers that they were moved to.

    Parameters
    ----------
    batches, daily : DataFrame
        ``log.batches`` and ``log.daily``.
    compare : str
        The column of Batches that tells the methods apart.

    Returns
    -------
    tuple of Line
        Every batch with a start date is in one line. Batches of one clutch and method that fish
        were moved between are one line from the start, the sum of their containers. A line ends
        on the day on which fish of another clutch or method come into one of its containers; a
        container that begins with such fish begins a line of its own. Fish put in without a
        source join on that day; where they are half or more of those at risk the line ends the
        day before.

    Notes
    -----
    The receiving count counts at a move. Where every container was counted before it, too, a look
    of no length on that day holds the two counts apart. A container that ended with fish in it
    which went nowhere keeps them for ``window`` days; after that any number of them may live. One
    whose fish were moved and of which nothing is written any more is taken as closed then.
    """
    found = find_moves(batches, daily, compare=compare)
    lines = []
    for names in _groups(found):
        line, tracks = _compose(found, names, until=_strangers(found, names))
        mixed = _too_many_added(line, tracks)
        if mixed is not None:
            line, _ = _compose(found, names, until=mixed - 1.0, why="too_many_added")
        lines.append(line)
    return tuple(lines)


def _groups(found: Moves) -> list[list[str]]:
    """Join the batches that fish of one clutch and method were moved between, earliest first."""
    group = {name: {name} for name in found.tubs}
    for move in found.moves:
        if alike(found.tubs, move) and group[move.source] is not group[move.target]:
            both = group[move.source] | group[move.target]
            group |= dict.fromkeys(both, both)
    seen: list[list[str]] = []
    placed: set[str] = set()
    for name in found.tubs:
        if name not in placed:
            placed |= group[name]
            seen.append(sorted(group[name], key=lambda n: (found.tubs[n].started, n)))
    return seen


def _strangers(found: Moves, names: Sequence[str]) -> float | None:
    """Return the first day on which fish of another clutch or method came in."""
    days = []
    for move in found.moves:
        if move.target not in names or alike(found.tubs, move):
            continue
        first = [m for m in found.moves if m.founding and m.target == move.target]
        if not move.founding or any(alike(found.tubs, m) for m in first):
            days.append(move.day)
    return min(days, default=None)


def _compose(
    found: Moves, names: Sequence[str], *, until: float | None, why: str = "others_joined"
) -> tuple[Line, list[Container]]:
    """Add the containers of a line up, to the day on which it ends."""
    end = np.inf if until is None else until
    tubs = [found.tubs[n] for n in names if found.tubs[n].started <= end]
    tubs = tubs or [found.tubs[names[0]]]
    inside = {t.batch for t in tubs}
    touching = [m for m in found.moves if m.day <= end and {m.source, m.target} & inside]
    tracks = [follow_container(found, tub, touching, inside, end) for tub in tubs]
    begun = tubs[0].started
    zero = min(t.age_zero for t in tubs if t.started == begun)
    last = max(min(max(t.last for t in tracks), end), begun)
    over = all(t.closed is not None for t in tracks)
    cut = until is not None
    line = Line(
        name=tubs[0].batch,
        batches=tuple(t.batch for t in tubs),
        clutch=tubs[0].clutch,
        method=tubs[0].method,
        came_from=tuple(
            sorted(
                m.source
                for m in touching
                if m.founding and m.target in inside and not alike(found.tubs, m)
            )
        ),
        looks=_sum_up(tracks, begun, zero, last),
        age_zero=pd.Timestamp(date_of(zero)),
        ended=cut or over,
        end_age=max(end if cut else last, begun) - zero,
        end_reasons=(why,) if cut else _end_reasons(tracks, touching, inside) if over else (),
        stopped=tuple(t.batch for t in tubs if t.stopped),
        moves=tuple(touching),
        remarks=_remarks(found, tracks, inside),
    )
    return line, tracks


def _sum_up(tracks: Sequence[Container], begun: float, zero: float, last: float) -> Looks:
    """Add containers up to the looks of a line, by age."""
    days = _common_looks(tracks, begun, last)
    alive = [_all_alive(tracks, d, zero) for d in days]
    for i in range(len(days) - 1, -1, -1):
        count = _before_moves(tracks, days[i], zero)
        if count is None or not counted(alive[i]) or (count == alive[i]).all():
            continue
        if alive[i][0] <= count[2]:
            days.insert(i, days[i])
            alive.insert(i, count)
    flows = {name: np.zeros((len(days), 3)) for name in ("dead", "out", "ill", "into")}
    start = []
    for track in tracks:
        at = np.searchsorted(days, track.looks.age, side="left")
        parts = {"dead": track.looks.dead, "out": track.out, "ill": track.looks.ill}
        for name, counts in (parts | {"into": track.added}).items():
            np.add.at(flows[name], at[at < len(days)], counts[at < len(days)])
        if track.tub.started == begun:
            start.append(track.joined)
        elif track.joined[2] > 0 or np.isnan(track.joined[1]):
            flows["into"][int(np.searchsorted(days, track.tub.started))] += track.joined
    return Looks(
        age_start=begun - zero,
        start=sum_of(start),
        age=np.array(days, dtype=float) - zero,
        alive=np.array(alive).reshape(-1, 3),
        **flows,
    )


def _common_looks(tracks: Sequence[Container], begun: float, last: float) -> list[float]:
    """Return the days on which every container with fish in it was looked at, and the last day."""
    looked = sorted({d for t in tracks for d in t.looked if begun < d <= last})
    days = [d for d in looked if all(d in t.looked for t in tracks if t.holds_fish(d))]
    first = [
        t.looks.dead[0, 2] + t.out[0, 2] > 0 or counted(t.looks.alive[0])
        for t in tracks
        if t.looks.age.size and t.looks.age[0] == begun
    ]
    if any(first):
        days.insert(0, begun)
    return days if days[-1:] == [last] or (last == begun and not any(first)) else [*days, last]


def _all_alive(tracks: Sequence[Container], day: float, zero: float) -> Floats:
    """Add up what was alive in all containers on a day, those closed and left with fish too."""
    if len(tracks) == 1:
        return tracks[0].typed(day)
    return sum_of([t.alive(day, window(day - zero)) for t in tracks if t.tub.started <= day])


def _before_moves(tracks: Sequence[Container], day: float, zero: float) -> Floats | None:
    """Return what all containers held before the moves of a day, if all of them were counted."""
    if not any(day in t.before for t in tracks):
        return None
    counts = []
    for track in tracks:
        if day in track.before:
            counts.append(track.before[day])
        elif track.holds_fish(day) or (track.closed is not None and track.closed < day):
            i = int(np.searchsorted(track.looks.age, day))
            if i < track.looks.age.size and track.looks.age[i] == day and track.looks.into[i].any():
                return None
            counts.append(track.alive(day, window(day - zero)))
    total = sum_of(counts)
    return total if counted(total) else None


def _end_reasons(
    tracks: Sequence[Container], moves: Sequence[Move], inside: set[str]
) -> tuple[str, ...]:
    """Return why the containers ended whose fish went into no other container of the line."""
    reasons = set()
    for track in tracks:
        ends = [
            m for m in moves if m.source == track.tub.batch and m.day >= (track.closed or 0) - 1
        ]
        emptied = bool(ends) and track.left[2] == 0
        if emptied and any(m.target in inside for m in ends):
            continue
        reasons.add("moved_away" if emptied else track.tub.end_reason)
    return tuple(sorted(r for r in reasons if r is not None))


def _too_many_added(line: Line, tracks: Sequence[Container]) -> float | None:
    """Return the day on which fish put in without a source were half or more of those at risk."""
    added = sorted(
        (float(day), float(count[1]))
        for t in tracks
        for day, count in zip(t.looks.age, t.added, strict=True)
        if count[2] > 0
    )
    zero = calendar_day(line.age_zero)
    history = as_counted(line.looks) if added else None
    if history is None:
        return None
    strangers = 0.0
    for i, age in enumerate(line.looks.age):
        risk = history.at_risk[i]
        strangers *= (history.left[i] - history.out[i]) / risk if risk > 0 else 0.0
        came = [(d, n) for d, n in added if line.looks.age_from[i] < d - zero <= age]
        strangers += min(sum(n for _, n in came), float(history.into[i]))
        if came and strangers >= MOST_STRANGERS * history.after[i]:
            return came[0][0]
    return None


def _remarks(found: Moves, tracks: Sequence[Container], inside: set[str]) -> tuple[Remark, ...]:
    """Gather what does not go together in the batches of a line."""
    mine = [
        r
        for r in found.remarks
        if {r.values.get("batch"), *r.values.get("sources", ()), *r.values.get("targets", ())}
        & inside
    ]
    clocks = {t.tub.clock for t in tracks}
    if len(clocks) > 1:
        values = {"batches": sorted(inside), "clocks": sorted(map(str, clocks))}
        mine.append(Remark(code="clocks_differ", values=values))
    return (*mine, *(r for t in tracks for r in t.remarks))
