"""The day on which a trial is judged, and the age from which its batches can be compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rearkit.design.design import Design
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook


@dataclass(frozen=True, kw_only=True, eq=False)
class JudgingDay:
    """The day, where it came from, and who was observed from the landmark to it.

    Attributes
    ----------
    day : float
        Age in days to which survival is judged (the last one of any batch, with one method).
    declared : bool
        Whether it was written in the Trial sheet or set by the reader.
    wanted : float or None
        The declared day, where it has not been reached.
    landmark : float
        The first age from which every compared batch was observed.
    firsts, lasts : mapping
        First and last observed age of every batch.
    reached : tuple of str
        Units all of whose batches were observed from the landmark to the day.
    running : tuple of str
        Batches with no end, last observed before the declared day.
    clock : str
        The clock that ages are counted by.
    together : bool
        Whether all batches are judged on one day (not so where there is nothing to compare).
    """

    day: float
    declared: bool
    wanted: float | None
    landmark: float
    firsts: Mapping[str, float]
    lasts: Mapping[str, float]
    reached: tuple[str, ...]
    running: tuple[str, ...]
    clock: str
    together: bool

    @property
    def interim(self) -> bool:
        """Whether a compared trial still runs and its planned day has not come for all."""
        return self.together and bool(self.running)

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
        age to which every unit was observed.

    Returns
    -------
    JudgingDay
        With one method, every batch is followed to its own last look or the day asked for.

    Raises
    ------
    DesignError
        If the day asked for is not later than the first age at which all batches were observed.
    """
    design = design.restricted(_counted_units(log, design), reason="never_counted")
    batches = [b for bs in design.units["batches"] for b in bs]
    if not batches:
        raise DesignError(
            "no batch was ever counted, neither at its start nor later",
            where="Batches, start_count and end_count",
            todo="Count the fry of every batch at least once.",
        )
    firsts, lasts = _observed(log, batches)
    declared = log.trial.get("judged_on_day")
    wanted = day if day is not None else (None if declared is None else float(str(declared)))
    if design.tier == "single":
        the_day = max(lasts.values()) if wanted is None else wanted
        reached = tuple(design.units["unit"])
        landmark = min(firsts.values())
    else:
        reached = _overlapping(design, firsts, lasts)
        inside = [b for u in _units(design, reached) for b in u.batches]
        landmark = max(firsts[b] for b in inside)
        the_day = _common_day(wanted, landmark, [lasts[b] for b in inside])
        reached = tuple(
            u.unit for u in _units(design, reached) if min(lasts[b] for b in u.batches) >= the_day
        )
    ended = log.batches.set_index("batch")["ended"]
    target = wanted if wanted is not None else max(lasts.values())
    running = tuple(b for b in batches if ended.isna().get(b, True) and lasts[b] < target)
    return JudgingDay(
        day=the_day,
        declared=wanted is not None and the_day == wanted,
        wanted=wanted if wanted is not None and the_day < wanted else None,
        landmark=landmark,
        firsts=firsts,
        lasts=lasts,
        reached=reached,
        running=running,
        clock=log.age_from,
        together=design.tier != "single",
    )


def _counted_units(log: Logbook, design: Design) -> tuple[str, ...]:
    """Return the units whose fish were counted at all: without that nothing can be followed."""
    ever = log.account.set_index("batch")["ever_counted"]
    return tuple(
        u.unit for u in design.units.itertuples(index=False) if all(ever[b] for b in u.batches)
    )


def _observed(log: Logbook, batches: list[str]) -> tuple[dict[str, float], dict[str, float]]:
    """Return first and last observed ages; a container whose fish all died stays observed."""
    account = log.account.set_index("batch")
    firsts = {b: float(account.at[b, "age_first"]) for b in batches}
    lasts = {b: float(account.at[b, "age_last"]) for b in batches}
    ends = log.fates.groupby("batch").last()
    left = ends["at_risk"] - ends["dead_found"] - ends["missing"]
    latest = max(lasts.values())
    return firsts, {b: latest if left.at[b] <= 1e-9 else lasts[b] for b in batches}


def _units(design: Design, names: tuple[str, ...]) -> list[Any]:
    return [u for u in design.units.itertuples(index=False) if u.unit in names]


def _overlapping(
    design: Design, firsts: dict[str, float], lasts: dict[str, float]
) -> tuple[str, ...]:
    """Leave out the units first counted last, until all that remain were watched at one time."""
    names = tuple(design.units["unit"])
    while True:
        units = _units(design, names)
        first = {u.unit: max(firsts[b] for b in u.batches) for u in units}
        last = min(min(lasts[b] for b in u.batches) for u in units)
        latest = max(first.values())
        if latest < last or len(set(first.values())) == 1:
            return names
        names = tuple(n for n in names if first[n] < latest)


def _common_day(wanted: float | None, landmark: float, lasts: list[float]) -> float:
    """Return the day asked for, or the last common age where it was not reached by any unit."""
    if wanted is None or max(lasts) < wanted:
        return min(lasts)
    if wanted <= landmark:
        raise DesignError(
            f"day {wanted:g} is not later than age {landmark:g}, the first age at which every "
            "batch was being watched",
            where="judged_on_day",
            todo=f"Choose a day after {landmark:g}.",
        )
    return wanted
