"""The day on which a trial is judged, and the age from which its batches can be compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rearkit.batch.evidence import known_from
from rearkit.batch.fates import lines_of
from rearkit.batch.judging import choose_day as choose_from_lines
from rearkit.batch.lines import Line
from rearkit.design.design import Design
from rearkit.errors import DesignError
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
        wanted=chosen.wanted if chosen.wanted != chosen.day else None,
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
