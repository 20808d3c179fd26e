"""One container of a line: its days, the fish moved out of it and into it, and how it closed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rearkit.batch.moves import (
    Day,
    Move,
    Moves,
    Tub,
    alike,
    counted,
    date_of,
    minus,
    not_counted,
    nothing,
    overlap,
    sum_of,
)
from rearkit.batch.remark import Remark
from rearkit.logbook.account.bounds import least_alive, most_alive
from rearkit.logbook.account.looks import Looks

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Container:
    """One container of a line, by days of the calendar.

    ``looks`` holds all its days and all its fish, moved ones too. ``out``, ``ill``, ``added`` and
    ``joined`` are those that left the line, came in without a source, and began it here, day by
    day. ``looked`` are the days on which it was looked at, ``left`` the fish in it when it was
    closed, ``before`` the full counts before fish were moved out.
    """

    tub: Tub
    looks: Looks
    out: Floats
    added: Floats
    joined: Floats
    looked: frozenset[float]
    closed: float | None
    left: Floats
    before: Mapping[float, Floats]
    remarks: tuple[Remark, ...]

    @property
    def last(self) -> float:
        """The last day of which anything is known."""
        ends = [self.looks.age_start, *self.looks.age[-1:]]
        return float(max(ends if self.closed is None else [*ends, self.closed]))

    def holds_fish(self, day: float) -> bool:
        """Whether its fish were at risk in it on the days before this one."""
        return self.tub.started < day and (self.closed is None or day <= self.closed)

    def typed(self, day: float) -> Floats:
        """Return the count typed on a day."""
        i = int(np.searchsorted(self.looks.age, day))
        there = i < self.looks.age.size and self.looks.age[i] == day
        return self.looks.alive[i] if there else not_counted()

    def alive(self, day: float, near: float) -> Floats:
        """Return what was alive in it on a day: counted, or what its counts leave open.

        A count speaks for ``near`` days if nothing is known to have happened since.
        """
        looks = self.looks
        if self.closed is not None and day > self.closed:
            if counted(self.left) and (day - self.closed <= near or self.left[2] == 0):
                return self.left
            return np.array([0.0, np.nan, self.left[2]])
        count = self.typed(day)
        n = int(np.searchsorted(looks.age, day, side="right"))
        if counted(count) or n == 0:
            return count if counted(count) else looks.start
        fresh = [i for i in range(n) if counted(looks.alive[i]) and day - looks.age[i] <= near]
        if fresh and not (looks.dead + looks.out + looks.into)[fresh[-1] + 1 : n].any():
            return looks.alive[fresh[-1]]
        low, high = least_alive(looks.cells)[n], most_alive(looks.cells)[n]
        low = low if low < np.inf else 0.0  # its own cells contradict each other
        return np.array([min(low, max(high, 0.0)), np.nan, max(high, 0.0)])


def follow_container(
    found: Moves, tub: Tub, moves: Sequence[Move], inside: set[str], end: float
) -> Container:
    """Follow one container of a line.

    Parameters
    ----------
    found : Moves
        All containers of the log, and what left and arrived at every move.
    tub : Tub
        The container.
    moves : sequence of Move
        The moves that touch its line.
    inside : set of str
        The batches of its line.
    end : float
        The day of the calendar on which the line ends, or infinity.

    Returns
    -------
    Container
    """
    sent = sorted({m.day for m in moves if m.source == tub.batch and m.day >= tub.started})
    closed = tub.ended if tub.ended is not None and tub.ended <= end else None
    days = _days_of(tub, moves, [] if closed is None else [closed], end)
    typed = [tub.days.get(d, Day()) for d in days]
    on_start = days[:1] == [tub.started]
    start, remarks = _start(found, tub, moves, typed[0] if on_start else None)
    looks, out, added = _count_days(found, tub, days, typed, moves, inside)
    if end in days:
        i = days.index(end)
        looks.alive[i] = minus(looks.alive[i], _of_strangers(found, tub, end, moves))
    looks = replace(looks, start=start)
    before: dict[float, Floats] = {}
    left = not_counted()
    if closed is not None:
        left = _close(found, tub, looks, closed, sent, before)
        if left[2] == 0 and sent and closed - 1.0 <= sent[-1] < closed:
            closed = sent[-1]  # the day on which the last fish went
    elif sent and max(tub.days, default=-np.inf) <= sent[-1]:
        closed, left = sent[-1], _silent(looks)
        stayed = any(m.target in inside for m in moves if m.source == tub.batch)
        if left[2] > 0 and not stayed:  # it runs on, for all we know
            closed, left = None, not_counted()
        elif left[2] > 0:
            values = {"batch": tub.batch, "date": date_of(closed)}
            remarks.append(Remark(code="not_closed", values=values))
    _note_before(found, tub, looks, out, sent, before)
    looked = {d for d, day in zip(days, typed, strict=True) if day.looked} | {tub.started}
    if closed is not None:
        looked.add(closed)
        looks.alive[days.index(closed)] = left
    founded = any(m.founding and m.target == tub.batch and m.source in inside for m in moves)
    return Container(
        tub=tub,
        looks=looks,
        out=out,
        added=added,
        joined=nothing() if founded else start,
        looked=frozenset(looked),
        closed=closed,
        left=left,
        before=before,
        remarks=tuple(remarks),
    )


def _days_of(tub: Tub, moves: Sequence[Move], more: Sequence[float], end: float) -> list[float]:
    """Return every day of which something is known of a container, to the end of its line."""
    came = {m.day for m in moves if m.target == tub.batch and m.day > tub.started}
    sent = {m.day for m in moves if m.source == tub.batch}
    return sorted(d for d in {*tub.days, *more, *sent, *came} if tub.started <= d <= end)


def _count_days(
    found: Moves,
    tub: Tub,
    days: Sequence[float],
    typed: Sequence[Day],
    moves: Sequence[Move],
    inside: set[str],
) -> tuple[Looks, Floats, Floats]:
    """Count what left and came day by day: to and from anywhere, and to and from no container."""
    arrays = {
        name: np.array([getattr(d, name) for d in typed]).reshape(-1, 3)
        for name in ("dead", "out", "ill", "into", "alive")
    }
    if days[:1] == [tub.started]:
        arrays["into"][0] = nothing()  # put in on the first day: part of the start
    out, added = arrays["out"].copy(), arrays["into"].copy()
    sent = {m.day for m in moves if m.source == tub.batch}
    came = {m.day for m in moves if m.target == tub.batch and m.day > tub.started}
    for i, d in enumerate(days):
        if d in sent:
            out[i] += _left_the_line(found, tub, d, moves, inside)
            arrays["out"][i] += _moved_out(found, tub, d, moves)
        if d in came:
            arrays["into"][i] += _moved_in(found, tub, d, moves, inside)
    start = not_counted()
    age = np.array(days, dtype=float)
    return Looks(age_start=tub.started, start=start, age=age, **arrays), out, added


def _note_before(
    found: Moves,
    tub: Tub,
    looks: Looks,
    out: Floats,
    sent: Sequence[float],
    before: dict[float, Floats],
) -> None:
    """Note the full counts before fish were moved out: those left and those that went."""
    for d in sent:
        i = int(np.searchsorted(looks.age, d))
        if i == looks.age.size or looks.age[i] != d:
            continue
        if d not in before and counted(looks.alive[i]) and (tub.batch, d) in found.left:
            before[d] = looks.alive[i] + found.left[tub.batch, d]
        if out[i, 2] > 0:
            before.pop(d, None)


def _moved_out(found: Moves, tub: Tub, day: float, moves: Sequence[Move]) -> Floats:
    """Return how many were moved out of a container: as many as left, or at least what came."""
    if (tub.batch, day) in found.left:
        return found.left[tub.batch, day]
    targets = {m.target for m in moves if (m.source, m.day) == (tub.batch, day)}
    alone = [
        t
        for t in targets
        if {m.source for m in moves if (m.target, m.day) == (t, day)} == {tub.batch}
    ]
    came = sum_of([found.arrived.get((t, day), not_counted()) for t in alone])
    return np.array([came[0], came[1], np.inf])


def _left_the_line(
    found: Moves, tub: Tub, day: float, moves: Sequence[Move], inside: set[str]
) -> Floats:
    """Return how many of those moved out went into containers of other lines."""
    mine = [m for m in moves if (m.source, m.day) == (tub.batch, day)]
    away = [m for m in mine if m.target not in inside]
    if len(away) == len(mine):
        return _moved_out(found, tub, day, moves)
    return sum_of(
        [
            found.arrived.get((m.target, day), not_counted()) if m.sent is None else m.sent
            for m in away
        ]
    )


def _moved_in(
    found: Moves, tub: Tub, day: float, moves: Sequence[Move], inside: set[str]
) -> Floats:
    """Return how many of a line were moved into a container that ran: as many as were put in."""
    mine = [m for m in moves if (m.target, m.day) == (tub.batch, day)]
    if (tub.batch, day) in found.arrived:
        return minus(found.arrived[tub.batch, day], _of_strangers(found, tub, day, moves))
    sent = sum_of([not_counted() if m.sent is None else m.sent for m in mine if m.source in inside])
    return np.array([0.0, sent[1], sent[2]])


def _of_strangers(found: Moves, tub: Tub, day: float, moves: Sequence[Move]) -> Floats:
    """Return how many came from other lines into a container that had fish of its own."""
    mine = [m for m in moves if (m.target, m.day) == (tub.batch, day)]
    away = [m for m in mine if not alike(found.tubs, m)]
    if not away or (day == tub.started and len(away) == len(mine)):
        return nothing()
    if len(away) == len(mine) and (tub.batch, day) in found.arrived:
        return found.arrived[tub.batch, day]
    return sum_of([not_counted() if m.sent is None else m.sent for m in away])


def _start(
    found: Moves, tub: Tub, moves: Sequence[Move], first: Day | None
) -> tuple[Floats, list[Remark]]:
    """Return how many a container began with, and what is to be said of it."""
    start = tub.start
    remarks: list[Remark] = []
    mine = [m for m in moves if m.founding and m.target == tub.batch]
    sent = [m.sent for m in mine if m.sent is not None]
    if np.isnan(start[1]) and mine and len(sent) == len(mine):
        start = sum_of(sent)
    start = minus(start, _of_strangers(found, tub, tub.started, moves)) if mine else start
    if first is None:
        return start, remarks
    if np.isnan(start[1]) and counted(first.alive):
        return minus(first.alive + first.dead + first.out, first.into), remarks
    if first.into[2] > 0 and overlap(first.into, start):
        remarks.append(Remark(code="put_in_told_twice", values={"batch": tub.batch}))
        return start, remarks
    return start + first.into, remarks


def _close(
    found: Moves,
    tub: Tub,
    looks: Looks,
    closed: float,
    sent: Sequence[float],
    before: dict[float, Floats],
) -> Floats:
    """Return the fish left in a container when it was closed, and note a count made before.

    An end count of as many fish as were moved or taken out that day was made before that.
    """
    i = int(np.searchsorted(looks.age, closed))
    count = tub.end if not np.isnan(tub.end[1]) else looks.alive[i]
    moved = [d for d in sent if closed - 1.0 <= d]
    if moved:
        gone = found.left.get((tub.batch, moved[-1]))
        if np.isnan(count[1]) or count[2] <= 0:
            return nothing()
        if gone is None or overlap(count, gone):
            before[moved[-1]] = count
            return nothing()
        if count[0] > gone[2]:
            before[moved[-1]] = count
            return minus(count, gone)
        return count
    out = looks.out[i]
    there = most_alive(looks.cells)[i] - looks.cells.dead[i, 0] + looks.cells.into[i, 1]
    if out[2] > 0 and overlap(count, out) and there - out[0] < count[0] <= there:
        return nothing()
    if not np.isnan(tub.end[1]) and not np.isnan(looks.alive[i, 1]):
        both = np.array([looks.alive[i], tub.end])
        low, high = both[:, 0].max(), both[:, 2].min()
        if low > high:
            low, high = both[:, 0].min(), both[:, 2].max()
        return np.array([low, np.clip(tub.end[1], low, high), high])
    return count


def _silent(looks: Looks) -> Floats:
    """Return what may be left in a container of which nothing was written after a move."""
    if counted(looks.alive[-1]):
        return looks.alive[-1]
    most = max(float(most_alive(looks.cells)[-1]), 0.0)
    return np.array([0.0, np.nan, most]) if most > 0 else nothing()
