"""What was typed about every container day by day, and which fish were moved into which other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.batch.remark import Remark

Floats = NDArray[np.float64]
Place = tuple[str, float]  # a batch on a day of the calendar
DAY_NS = 86_400e9
ENDS = ("low", "best", "high")
ILL = ("sick", "runt")
LEFT_FOR_GOOD = ("sold", "given")  # taken out for these reasons, fish did not move to a batch
ONE_DAY = 1.0  # the two ends of a move may be written down on neighbouring days


def nothing() -> Floats:
    """Return the count 0."""
    return np.zeros(3)


def not_counted() -> Floats:
    """Return the count of fish that nobody counted."""
    return np.array([0.0, np.nan, np.inf])


def counted(count: Floats) -> bool:
    """Return whether somebody counted, and wrote an upper end too."""
    return not np.isnan(count[1]) and bool(np.isfinite(count[[0, 2]]).all())


def minus(a: Floats, b: Floats) -> Floats:
    """Subtract a count from another: the low end is the least that may be left, never below 0."""
    with np.errstate(invalid="ignore"):
        left = np.maximum(a - b[::-1], 0.0)
    return np.where(np.isnan(left), not_counted(), left)


def overlap(a: Floats, b: Floats) -> bool:
    """Return whether two counts may be of the same number of fish."""
    return bool(a[0] <= b[2] and b[0] <= a[2])


def sum_of(counts: Sequence[Floats]) -> Floats:
    """Add counts up; 0 where there are none."""
    return np.asarray(np.sum(counts, axis=0)) if len(counts) else nothing()


@dataclass(kw_only=True, eq=False)
class Day:
    """What was typed about one container on one day; counts are (low, best, high).

    ``out`` and ``into`` are fish that no other batch of the log is named for; of those taken out,
    ``ill`` were sick, runts or without a reason. ``looked`` tells whether anybody looked for dead
    fish or counted the living.
    """

    dead: Floats = field(default_factory=nothing)
    out: Floats = field(default_factory=nothing)
    ill: Floats = field(default_factory=nothing)
    into: Floats = field(default_factory=nothing)
    alive: Floats = field(default_factory=not_counted)
    looked: bool = False
    unnamed: Floats = field(default_factory=nothing)  # of out: what may have gone anywhere


@dataclass(kw_only=True, eq=False)
class Tub:
    """One batch in its container: its row of Batches and its days, in days of the calendar."""

    batch: str
    clutch: str | None
    method: str | None
    started: float
    ended: float | None
    end_reason: str | None
    age_zero: float
    clock: str | None
    start: Floats
    end: Floats
    stopped: bool
    days: dict[float, Day]


@dataclass(kw_only=True, eq=False)
class Move:
    """Fish of one batch that went into another.

    Attributes
    ----------
    day : float
        When, in days of the calendar.
    source, target : str
        Batches.
    sent : (3,) array or None
        How many left, where that was typed with the name of the target.
    founding : bool
        Whether the target began with these fish.
    """

    day: float
    source: str
    target: str
    sent: Floats | None
    founding: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Moves:
    """All containers of a log and the moves between them.

    Attributes
    ----------
    tubs : mapping of str to Tub
        Every batch with a start date, by name. A batch that began with the fish of others and has
        no clutch or method of its own has theirs; one without a clutch has that of the batches
        that began with its fish.
    moves : tuple of Move
        Told once each, in the order of the calendar.
    left : mapping of (batch, day) to count
        How many a batch sent off on a day, all targets together; absent where nobody typed it.
    arrived : mapping of (batch, day) to count
        How many came into a batch on a day, all sources together: its start count, or what was
        put in; absent where nobody typed it.
    remarks : tuple of Remark
        What does not go together, with the batches, the day and the counts.
    """

    tubs: Mapping[str, Tub]
    moves: tuple[Move, ...]
    left: Mapping[Place, Floats]
    arrived: Mapping[Place, Floats]
    remarks: tuple[Remark, ...]


def find_moves(batches: pd.DataFrame, daily: pd.DataFrame, *, compare: str = "method") -> Moves:
    """Find which fish were moved from batch to batch.

    Parameters
    ----------
    batches, daily : DataFrame
        ``log.batches`` and ``log.daily``.
    compare : str
        The column of Batches that tells the methods apart.

    Returns
    -------
    Moves
        ``removed_to`` and ``from_batch`` that are typed within a day of each other are one move,
        on the earlier day. So are ``from_batch`` and fish taken out of that batch about that day
        without a word of where they went, unless sold or given away. The fish that came are the
        start count of the receiving batch, or what was put into it on that day.
    """
    remarks: list[Remark] = []
    tubs = _read_tubs(batches, compare)
    sent = _read_days(tubs, daily, remarks)
    moves = _pair_up(_from_batch(batches, tubs, remarks), tubs, sent)
    arrived = _take_arrivals(tubs, moves, remarks)
    left = _take_departures(tubs, moves)
    remarks += _check(tubs, moves, left, arrived)
    _inherit(tubs, moves)
    return Moves(tubs=tubs, moves=tuple(moves), left=left, arrived=arrived, remarks=tuple(remarks))


def alike(tubs: Mapping[str, Tub], move: Move) -> bool:
    """Return whether the fish of a move went to a batch of the same clutch and method."""
    source, target = tubs[move.source], tubs[move.target]
    return (source.clutch, source.method) == (target.clutch, target.method)


def calendar_day(date: pd.Timestamp) -> float:
    """Return a date in days since 1970."""
    return float(date.value / DAY_NS)


def date_of(day: float) -> str:
    """Return a day of the calendar as it is written: 2025-04-03."""
    return pd.Timestamp(int(day * DAY_NS)).date().isoformat()


def _read_tubs(batches: pd.DataFrame, compare: str) -> dict[str, Tub]:
    tubs = {}
    for row in batches.to_dict("records"):
        if pd.isna(row["started"]) or pd.isna(row["age_zero"]):
            continue
        started, ended = row["started"], row["ended"]
        start = np.array([row[f"start_count_{e}"] for e in ENDS], dtype=float)
        end = np.array([row[f"end_count_{e}"] for e in ENDS], dtype=float)
        if np.isnan(end[1]):
            end = nothing() if row["end_reason"] == "all died" else not_counted()
        tubs[str(row["batch"])] = Tub(
            batch=str(row["batch"]),
            clutch=_word(row["clutch"]),
            method=_word(row[compare]),
            started=calendar_day(started),
            ended=None if pd.isna(ended) or ended < started else calendar_day(ended),
            end_reason=_word(row["end_reason"]),
            age_zero=calendar_day(row["age_zero"]),
            clock=_word(row["clock"]),
            start=start if row["start_known"] else not_counted(),
            end=end,
            stopped=bool(row["stopped"]),
            days={},
        )
    return tubs


def _word(value: object) -> str | None:
    if value is None or pd.isna(value) or not str(value).strip():
        return None
    return f"{value:g}" if isinstance(value, float) else str(value).strip()


def _read_days(
    tubs: Mapping[str, Tub], daily: pd.DataFrame, remarks: list[Remark]
) -> dict[tuple[float, str, str], Floats]:
    """Fill the days of every tub; return what was sent, by day, source and target."""
    dead, out, into, alive = (
        daily[[f"{name}_{e}" for e in ENDS]].to_numpy(dtype=float)
        for name in ("dead", "removed", "added", "alive")
    )
    unknown = np.isnan(out[:, 1])
    dead, into, out = (np.nan_to_num(x, posinf=np.inf) for x in (dead, into, out))
    sent: dict[tuple[float, str, str], Floats] = {}
    counts: dict[Place, list[Floats]] = {}
    looked = daily[["dead_best", "alive_best"]].notna().any(axis=1).to_numpy()
    when = daily["date"].astype("datetime64[ns]").astype("int64").to_numpy() / DAY_NS
    rows = zip(daily["batch"], when, daily["removed_to"], daily["removed_why"], strict=True)
    for i, (batch, at, to, why) in enumerate(rows):
        tub = tubs.get(str(batch))
        if tub is None:
            continue
        day = tub.days.setdefault(float(at), Day())
        day.dead += dead[i]
        day.into += into[i]
        day.looked |= bool(looked[i])
        if not np.isnan(alive[i, 1]):
            counts.setdefault((tub.batch, float(at)), []).append(alive[i])
        target = _word(to)
        if target in tubs and target != tub.batch:
            key = (float(at), tub.batch, str(target))
            sent[key] = sent.get(key, nothing()) + (not_counted() if unknown[i] else out[i])
        else:
            _take_out(day, out[i], _word(why), named=target is not None)
            if target is not None:
                code = "moved_to_itself" if target == tub.batch else "moved_to_unknown"
                remarks.append(Remark(code=code, values={"batch": tub.batch, "target": target}))
    for (name, at), typed in counts.items():
        tubs[name].days[at].alive = _one_count(name, at, typed, remarks)
    return sent


def _take_out(day: Day, count: Floats, why: str | None, *, named: bool) -> None:
    if count[2] == 0:
        return
    day.out += count
    if why is None or why in ILL:
        day.ill += count
    if not named and why not in LEFT_FOR_GOOD:
        day.unnamed += count


def _one_count(batch: str, day: float, typed: list[Floats], remarks: list[Remark]) -> Floats:
    """Make one count of all that were typed on one day: what they share, else all they hold."""
    low, best, high = np.array(typed).T
    if low.max() <= high.min():
        return np.array([low.max(), np.clip(best.mean(), low.max(), high.min()), high.min()])
    remarks.append(Remark(code="counts_of_one_day", values={"batch": batch, "date": date_of(day)}))
    return np.array([low.min(), best.mean(), high.max()])


def _from_batch(
    batches: pd.DataFrame, tubs: Mapping[str, Tub], remarks: list[Remark]
) -> dict[str, str]:
    """Return the source that the row of Batches names, by the batch that began with its fish."""
    named = {}
    for batch, source in zip(batches["batch"], batches["from_batch"].map(_word), strict=True):
        if batch not in tubs or source not in tubs or source == batch:
            continue
        if tubs[source].started > tubs[batch].started:
            values = {"batch": batch, "source": source}
            remarks.append(Remark(code="came_from_a_later_batch", values=values))
            continue
        named[str(batch)] = str(source)
    circles = [batch for batch in named if _comes_round(named, batch)]
    for batch in sorted(circles):
        values = {"batch": batch, "source": named[batch]}
        remarks.append(Remark(code="came_from_itself", values=values))
    return {batch: source for batch, source in sorted(named.items()) if batch not in circles}


def _comes_round(named: Mapping[str, str], batch: str) -> bool:
    """Return whether a batch is said to have come, in the end, out of itself."""
    at = named.get(batch)
    for _ in named:
        if at is None or at == batch:
            break
        at = named.get(at)
    return at == batch


def _pair_up(
    named: Mapping[str, str],
    tubs: Mapping[str, Tub],
    sent: Mapping[tuple[float, str, str], Floats],
) -> list[Move]:
    """Make one move of every ``from_batch`` and ``removed_to`` that tell of the same fish."""
    moves = []
    for (day, source, target), count in sent.items():
        near = tubs[target].started - day
        founding = abs(near) <= ONE_DAY and named.get(target) == source
        if 0 <= near <= ONE_DAY:
            later = tubs[source].started < tubs[target].started
            founding |= later or overlap(count, tubs[target].start)
        moves.append(Move(day=day, source=source, target=target, sent=count, founding=founding))
    told = {(m.source, m.target) for m in moves if m.founding}
    for target, source in named.items():
        if (source, target) not in told:
            day = tubs[target].started
            moves.append(Move(day=day, source=source, target=target, sent=None, founding=True))
    targets = {m.target for m in moves if m.founding}
    for target in sorted(targets, key=lambda name: (tubs[name].started, name)):
        begun_by = [m for m in moves if m.founding and m.target == target]
        first = min(tubs[target].started, *(m.day for m in begun_by))
        first = max(first, *(tubs[m.source].started for m in begun_by))
        tubs[target].started = first  # on the day on which its fish left the other one
        for move in begun_by:
            move.day = first
    return sorted(moves, key=lambda m: (m.day, m.source, m.target))


def _take_arrivals(
    tubs: Mapping[str, Tub], moves: Sequence[Move], remarks: list[Remark]
) -> dict[Place, Floats]:
    """Return what arrived; fish put in on that day are those, and no others."""
    arrived: dict[Place, Floats] = {}
    for target, day in sorted({(m.target, m.day) for m in moves}):
        tub = tubs[target]
        founding = any(m.founding for m in moves if (m.target, m.day) == (target, day))
        near = [d for d in (day, day + ONE_DAY) if d in tub.days and tub.days[d].into[2] > 0]
        if founding and not np.isnan(tub.start[1]):
            arrived[target, day] = tub.start
            if near and overlap(tub.days[near[0]].into, tub.start):
                tub.days[near[0]].into = nothing()
                remarks.append(Remark(code="put_in_told_twice", values={"batch": target}))
        elif near:
            arrived[target, day] = tub.days[near[0]].into
            tub.days[near[0]].into = nothing()
    return arrived


def _take_departures(tubs: Mapping[str, Tub], moves: Sequence[Move]) -> dict[Place, Floats]:
    """Return what left; where no number was typed it is what was taken out without a name."""
    left: dict[Place, Floats] = {}
    for source, day in sorted({(m.source, m.day) for m in moves}):
        sent = [m.sent for m in moves if (m.source, m.day) == (source, day)]
        typed = [count for count in sent if count is not None]
        total = np.sum(typed, axis=0) if typed else nothing()
        if len(typed) < len(sent):
            near = [d for d in (day, day - ONE_DAY, day + ONE_DAY) if d in tubs[source].days]
            days = [tubs[source].days[d] for d in near if tubs[source].days[d].unnamed[2] > 0]
            if not days:
                continue
            total = total + days[0].unnamed
            days[0].out = days[0].out - days[0].unnamed
            days[0].ill = nothing()
            days[0].unnamed = nothing()
        if not np.isnan(total[1]):
            left[source, day] = total
    return left


def _check(
    tubs: Mapping[str, Tub],
    moves: Sequence[Move],
    left: Mapping[Place, Floats],
    arrived: Mapping[Place, Floats],
) -> list[Remark]:
    """Say where fewer or more arrived than left, and where none are known to have arrived."""
    remarks = []
    for group in _together(moves):
        day = group[0].day
        sources = sorted({m.source for m in group})
        targets = sorted({m.target for m in group})
        values = {"date": date_of(day), "sources": sources, "targets": targets}
        silent = [t for t in targets if (t, day) not in arrived]
        if silent:
            known = {m.target for m in group if m.founding}
            lost = [t for t in silent if t not in known]
            remarks += [
                Remark(code="never_arrived", values=values | {"targets": [t]}) for t in lost
            ]
        elif all((s, day) in left for s in sources):
            gone = np.sum([left[s, day] for s in sources], axis=0)
            came = np.sum([arrived[t, day] for t in targets], axis=0)
            if not overlap(gone, came):
                code = "fewer_arrived" if came[2] < gone[0] else "more_arrived"
                counts = {"left": gone.tolist(), "arrived": came.tolist()}
                remarks.append(Remark(code=code, values=values | counts))
    return remarks


def _together(moves: Sequence[Move]) -> list[list[Move]]:
    """Group the moves of one day that share a source or a target."""
    groups: list[list[Move]] = []
    for move in moves:
        near = [[m for m in group if m.day == move.day] for group in groups]
        mine = [
            i
            for i, group in enumerate(near)
            if any(m.source == move.source or m.target == move.target for m in group)
        ]
        joined = [m for i in mine for m in groups[i]] + [move]
        groups = [group for i, group in enumerate(groups) if i not in mine] + [joined]
    return groups


def _inherit(tubs: Mapping[str, Tub], moves: Sequence[Move]) -> None:
    """Give a tub without a clutch or a method those of the tubs that its fish came from.

    A clutch goes the other way, too; a method does not, for fish may be dealt out to methods when
    they are moved.
    """
    sources: dict[str, list[Tub]] = {}
    targets: dict[str, list[Tub]] = {}
    for move in moves:
        if move.founding:
            sources.setdefault(move.target, []).append(tubs[move.source])
            targets.setdefault(move.source, []).append(tubs[move.target])
    changed = True
    while changed:
        changed = False
        for name, tub in tubs.items():
            before = (tub.clutch, tub.method)
            tub.clutch = tub.clutch or _the_one(t.clutch for t in sources.get(name, []))
            tub.clutch = tub.clutch or _the_one(t.clutch for t in targets.get(name, []))
            tub.method = tub.method or _the_one(t.method for t in sources.get(name, []))
            changed |= (tub.clutch, tub.method) != before


def _the_one(words: Iterable[str | None]) -> str | None:
    """Return the word that all share, or None."""
    seen = set(words)
    return seen.pop() if len(seen) == 1 else None
