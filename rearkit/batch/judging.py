"""The day on which the units of a trial are judged, by what was counted when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rearkit.batch.evidence import died_out_on, emptied, known_from
from rearkit.batch.lines import Line
from rearkit.logbook.account.looks import window

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


def choose_day(
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
        ages += [min(line.end_age for line in units[unit]) for unit in running]
    day = min([wanted, *ages])
    rule = "declared" if asked is None or asked == declared else "set"
    if running or early:
        rule = "interim"
    elif rule == "declared" and day < wanted:
        rule = "all_reached"
    return ChosenDay(
        day=day,
        near=near,
        wanted=wanted,
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
    ages = [
        min(line.end_age for line in units[unit]) if unit in running else _reach(units[unit])
        for unit in say
    ]
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
