"""The day on which a trial is judged, and the age from which its batches can be compared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rearkit.batch.evidence import died_out_on, emptied, known_from
from rearkit.batch.fates import lines_of
from rearkit.batch.lines import Line
from rearkit.design.design import Design
from rearkit.errors import DesignError
from rearkit.logbook.account.looks import window
from rearkit.logbook.logbook import Logbook


@dataclass(frozen=True, kw_only=True, eq=False)
class JudgingDay:
    """The day, where it came from, and from when on the batches are compared.

    Attributes
    ----------
    day : float
        Age in days to which survival is judged (the last one of any batch, with one method).
    rule : str
        Where the day came from, as in ``rearkit.batch.evidence.ChosenDay``; ``each`` with one
        method, where every batch is followed to its own last look.
    near : float
        Days that a full count may lie beside the day and still speak for it.
    wanted : float or None
        The day that was declared or set, where another one is judged on.
    landmark : float
        The first age from which every compared batch was observed.
    firsts, lasts : mapping
        First and last observed age of every batch.
    reached : tuple of str
        Units that were counted at all: those never counted can only be put back at their bounds.
    running : tuple of str
        Units that still run and have not come to the day.
    clock : str
        The clock that ages are counted by.
    """

    day: float
    rule: str
    near: float
    wanted: float | None
    landmark: float
    firsts: Mapping[str, float]
    lasts: Mapping[str, float]
    reached: tuple[str, ...]
    running: tuple[str, ...]
    clock: str

    @property
    def together(self) -> bool:
        """Whether all batches are judged on one day (not so where there is nothing to compare)."""
        return self.rule != "each"

    @property
    def declared(self) -> bool:
        """Whether a day that was declared in the log governs."""
        return self.rule in ("declared", "all_reached")

    @property
    def interim(self) -> bool:
        """Whether the trial runs, or is looked at before its day: no verdict is given."""
        return self.rule == "interim"

    def day_of(self, batch: str) -> float:
        """Return the age to which this batch is followed."""
        return self.day if self.together else min(self.day, self.lasts[batch])


def choose_day(log: Logbook, design: Design, day: float | None) -> JudgingDay:
    """Choose the judging day and the common landmark of the batches of a design.

    Parameters
    ----------
    log : Logbook
        The log.
    design : Design
        The layout.
    day : float or None
        A day that the reader asks for; else ``judged_on_day`` of the Trial sheet; else the last
        age on which every unit with a say was counted.

    Returns
    -------
    JudgingDay
        With one method, every batch is followed to its own last look or the day asked for.

    Raises
    ------
    DesignError
        If no batch was ever counted, or the day asked for is not later than the first age at
        which all batches were known.
    """
    all_lines = lines_of(log, design.compare)
    lines = {b: all_lines[b] for bs in design.units["batches"] for b in bs}
    known = {b: known_from(line.looks) for b, line in lines.items()}
    reached = tuple(
        u.unit
        for u in design.units.itertuples(index=False)
        if all(known[b] is not None for b in u.batches)
    )
    if not reached:
        raise DesignError(
            "no batch was ever counted, neither at its start nor later",
            where="Batches, start_count and end_count",
            todo="Count the fry of every batch at least once.",
        )
    units = {
        u.unit: [lines[b] for b in u.batches]
        for u in design.units.itertuples(index=False)
        if u.unit in reached
    }
    inside = [line for found in units.values() for line in found]
    firsts = {line.name: _first(line) for line in inside}
    lasts = {line.name: line.end_age for line in inside}
    declared = log.trial.get("judged_on_day")
    wanted = None if declared is None else float(str(declared))
    if design.tier == "single":
        firsts = {line.name: line.looks.age_start for line in inside}
        asked = day if day is not None else wanted
        running = tuple(line.name for line in inside if not line.ended)
        return JudgingDay(
            day=max(lasts.values()) if asked is None else asked,
            rule="each",
            near=1.0,
            wanted=None,
            landmark=min(firsts.values()),
            firsts=firsts,
            lasts=lasts,
            reached=reached,
            running=running if asked is None or max(lasts.values()) < asked else (),
            clock=log.age_from,
        )
    chosen = choose_from_lines(units, wanted, asked=day)
    landmark = max(firsts.values()) if chosen.since is None else chosen.since
    if chosen.day <= landmark and chosen.interim:
        raise DesignError(
            f"nobody wrote down what became of all batches after age {landmark:g}, and no batch "
            "that is followed to a later day has an end",
            where="Daily, and Batches, ended",
            todo="Write the day beside every count, and fill in ended where a batch is over.",
        )
    earlier = [k for k in known.values() if k is not None and k < chosen.day]
    if chosen.day <= landmark and chosen.rule != "set" and earlier:
        landmark = max(earlier)  # who was first counted on the day itself is known at best
    if chosen.day <= landmark:
        raise DesignError(
            f"day {chosen.day:g} is not later than age {landmark:g}, the first age at which every "
            "batch was being watched",
            where="judged_on_day",
            todo=f"Choose a day after {landmark:g}.",
        )
    return JudgingDay(
        day=chosen.day,
        rule=chosen.rule,
        near=chosen.near,
        wanted=chosen.wanted if chosen.interim or chosen.wanted != chosen.day else None,
        landmark=landmark,
        firsts=firsts,
        lasts=lasts,
        reached=reached,
        running=tuple(b for u in chosen.running for b in _names(units[u])),
        clock=log.age_from,
    )


def _first(line: Line) -> float:
    """Return the age from which a line's fish are known, or at least watched."""
    known = known_from(line.looks)
    return line.looks.age_start if known is None else float(np.max([known, line.looks.age_start]))


def _names(lines: list[Line]) -> list[str]:
    return [line.name for line in lines]


CUT_SHORT = frozenset(
    [
        "accident",
        "moved",
        "rehomed",
        "welfare stop",
        "others_joined",
        "too_many_added",
        "moved_away",
    ]
)


@dataclass(frozen=True, kw_only=True, eq=False)
class ChosenDay:
    """The day on which the units of a trial are judged.

    Attributes
    ----------
    day : float
        Age in days.
    near : float
        Days that a full count may lie beside it: the window of the day that was wanted.
    wanted : float or None
        The day that was declared, or set for this run.
    rule : str
        ``declared``; ``all_reached`` (the last day before the wanted one that all reached);
        ``none_declared`` (a step down); ``set`` for this run (never a declared day); ``interim``.
    since : float or None
        Age from which shares are compared: the first by which all had been fully counted.
    running : tuple of str
        Units that still run and have not come to the day.
    no_say : mapping of str to str
        Units that do not decide on the day, and why: ``stopped``, ``not_counted``, ``died_out``.
    """

    day: float
    near: float
    wanted: float | None
    rule: str
    since: float | None
    running: tuple[str, ...]
    no_say: Mapping[str, str]

    @property
    def declared(self) -> bool:
        """Whether a day that the log declares governs."""
        return self.rule in ("declared", "all_reached")

    @property
    def interim(self) -> bool:
        """Whether the trial runs, or is looked at before its day: no verdict, no p."""
        return self.rule == "interim"


def choose_from_lines(
    units: Mapping[str, Sequence[Line]],
    declared: float | None,
    *,
    asked: float | None = None,
) -> ChosenDay:
    """Choose the day on which the units of a trial are judged.

    Parameters
    ----------
    units : mapping of str to sequence of Line
        The lines of every compared unit.
    declared : float or None
        The judging day of the log, age in days.
    asked : float, optional
        A day set for this run.

    Returns
    -------
    ChosenDay
        The day that was set or declared; the last day that all reached with a full count, where
        that lies within the window before it; without either and with all ended, the last day to
        which all units with a say had a full count. Stopped, uncounted and died-out units have no
        say. While units run that have not come to the day, or run at all where none is declared,
        and for a day set below the declared one, it is an interim look.
    """
    wanted = declared if asked is None else asked
    since = _common_start(units, wanted)
    if wanted is None:
        return _undeclared(units, since)
    near = window(wanted)
    standing = {unit: _standing(lines, wanted, near) for unit, lines in units.items()}
    running = tuple(unit for unit, how in standing.items() if how == "running")
    early = declared is not None and wanted < declared
    say = [unit for unit, how in standing.items() if how == "reached"]
    ages = [_reach(units[unit], wanted) for unit in say]
    if running or early:
        ages += [age for unit in running if (age := _looked_to(units[unit])) is not None]
    nobody_looked = min(line.end_age for lines in units.values() for line in lines)
    day = min([wanted, *ages]) if ages or not running else nobody_looked
    rule = "declared" if asked is None or asked == declared else "set"
    if running or early:
        rule = "interim"
    elif rule == "declared" and day < wanted:
        rule = "all_reached"
    return ChosenDay(
        day=day,
        near=near,
        wanted=declared if early else wanted,
        rule=rule,
        since=since,
        running=running,
        no_say={u: how for u, how in standing.items() if how not in ("reached", "running")},
    )


def _undeclared(units: Mapping[str, Sequence[Line]], since: float | None) -> ChosenDay:
    """Choose the day where nobody declared one: what all units with a say reached."""
    running = tuple(u for u, lines in units.items() if any(_runs(line) for line in lines))
    last = max((_reach(lines) for lines in units.values()), default=-np.inf)
    no_say = {}
    for unit, lines in units.items():
        alive = [line for line in lines if died_out_on(line.looks) is None]
        if unit in running:
            continue
        if not alive:
            no_say[unit] = "died_out"
        elif not np.isfinite(_reach(lines)):
            no_say[unit] = "not_counted"
        elif _reach(lines) < last and any(CUT_SHORT & {*line.end_reasons} for line in alive):
            no_say[unit] = "stopped"
    say = [unit for unit in units if unit not in no_say]
    ends = [line.end_age for lines in units.values() for line in lines]
    reach = [_looked_to(units[u]) if u in running else _reach(units[u]) for u in say]
    ages = [age for age in reach if age is not None]
    day = min(ages) if ages else max(ends, default=0.0)
    return ChosenDay(
        day=day,
        near=window(day),
        wanted=None,
        rule="interim" if running else "none_declared",
        since=since,
        running=running,
        no_say=no_say,
    )


def _reach(lines: Sequence[Line], day: float = np.inf) -> float:
    """Return the last age by which every line had been fully counted that had fish by the day."""
    ages = []
    for line in lines:
        counts = line.looks.age[line.looks.full]
        died = died_out_on(line.looks)
        if died is None or died > day:
            ages.append(float(counts[-1]) if counts.size else -np.inf)
    return min(ages, default=-np.inf)


def _looked_to(lines: Sequence[Line]) -> float | None:
    """Return the age to which all lines of a unit were looked at; None if one never was."""
    if any(line.end_age <= line.looks.age_start for line in lines):
        return None
    return min(line.end_age for line in lines)


def _runs(line: Line) -> bool:
    """Whether nobody wrote that a line ended, and fish may be left in it."""
    return not line.ended and emptied(line.looks)[0] is None


def _standing(lines: Sequence[Line], day: float, near: float) -> str:
    """Return how a unit stands to a day: the worst of its lines."""
    found = set()
    for line in lines:
        died = died_out_on(line.looks)
        counts = line.looks.age[line.looks.full]
        if died is not None and died <= day:
            found.add("died_out")
        elif counts.size and counts[-1] >= day - near:
            found.add("reached")
        elif _runs(line) and line.end_age < day:
            found.add("running")
        else:
            over = line.end_age < day or (emptied(line.looks)[0] or np.inf) < day
            found.add("stopped" if over else "not_counted")
    for how in ("running", "not_counted", "stopped", "reached"):
        if how in found:
            return how
    return "died_out"


def _common_start(units: Mapping[str, Sequence[Line]], day: float | None) -> float | None:
    """Return the age from which all can be compared, or None if that is the start of each."""
    lines = [line for lines in units.values() for line in lines]
    known = [known_from(line.looks) for line in lines]
    until = np.inf if day is None else day
    first = max((k for k in known if k is not None and k < until), default=None)
    starts = {line.looks.age_start for line in lines if known_from(line.looks) is not None}
    return None if first is None or starts == {first} else first
