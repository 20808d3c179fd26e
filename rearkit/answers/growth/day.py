"""On which day lengths are compared, which length is waited for, and between which ages."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rearkit.batch.growth import ContainerCurves, ContainerGrowth
from rearkit.design.design import Design
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook


@dataclass(frozen=True, kw_only=True, eq=False)
class GrowthDays:
    """What lengths are asked for.

    Attributes
    ----------
    day : float or None
        Age in days on which lengths are compared; None if nothing was measured.
    declared : bool
        Whether it was written in the Trial sheet or asked for.
    wanted : float or None
        The declared day, where no container was measured that late.
    length_mm : float or None
        The length whose day is asked for; None if no length is reached by all.
    length_from : str
        ``"asked"``, ``"trial"`` (the size to move), ``"chosen"`` or ``"none"``.
    rate_from, rate_to : float or None
        Ages between which growth rates are taken; None if the containers share no such span.
    """

    day: float | None
    declared: bool
    wanted: float | None
    length_mm: float | None
    length_from: str
    rate_from: float | None
    rate_to: float | None


def choose_growth_days(
    log: Logbook,
    design: Design,
    curves: ContainerCurves,
    *,
    day: float | None,
    length_mm: float | None,
    rate_from: float | None,
    rate_to: float | None,
) -> GrowthDays:
    """Choose the day, the length and the ages that the growth of a log is judged by.

    Parameters
    ----------
    log, design, curves
        The log, its layout, and the curves of its containers.
    day, length_mm, rate_from, rate_to : float or None
        What was asked for.

    Returns
    -------
    GrowthDays
        The day is the one asked for; else ``judged_on_day`` if any container was measured that
        late; else the latest sampled day on which most containers can be compared.

    Raises
    ------
    DesignError
        If a day or a length that was asked for cannot be one.
    """
    _check(day, length_mm, rate_from, rate_to)
    grown = [
        curves.containers[b]
        for batches in design.units["batches"]
        for b in batches
        if b in curves.containers
    ]
    the_day, declared, wanted = _day(log, grown, day)
    length, source = _length(log, grown, length_mm)
    first, last = _span(grown)
    return GrowthDays(
        day=the_day,
        declared=declared,
        wanted=wanted,
        length_mm=length,
        length_from=source,
        rate_from=first if rate_from is None else rate_from,
        rate_to=last if rate_to is None else rate_to,
    )


def _check(
    day: float | None, length_mm: float | None, rate_from: float | None, rate_to: float | None
) -> None:
    for name, value in (("day", day), ("rate_from", rate_from), ("rate_to", rate_to)):
        if value is not None and not math.isfinite(value):
            raise DesignError(
                f"{value} is no day", where=f"setting {name}", todo="Give an age in days."
            )
    if length_mm is not None and not (math.isfinite(length_mm) and length_mm > 0):
        raise DesignError(
            f"a length of {length_mm:g} mm cannot be reached",
            where="setting length_mm",
            todo="Give a length above 0 in millimetres.",
        )
    if rate_from is not None and rate_to is not None and not rate_from < rate_to:
        raise DesignError(
            f"growth from day {rate_from:g} to day {rate_to:g} runs backwards",
            where="settings rate_from and rate_to",
            todo="Give the earlier day first.",
        )


def _day(
    log: Logbook, grown: list[ContainerGrowth], day: float | None
) -> tuple[float | None, bool, float | None]:
    if not grown:
        return None, day is not None, day
    if day is not None and any(c.can_tell(day) for c in grown):
        return float(day), True, None
    declared = log.trial.get("judged_on_day")
    planned = None if declared is None else float(str(declared))
    if day is None and planned is not None and any(_measured_by(c, planned) for c in grown):
        return planned, True, None
    wanted = day if day is not None else planned
    return _latest_common(grown), False, wanted


def _measured_by(container: ContainerGrowth, day: float) -> bool:
    return not container.extrapolated(day)


def _latest_common(grown: list[ContainerGrowth]) -> float:
    """Return the latest sampled day on which most containers have a length."""
    days = sorted({float(d) for c in grown for d in c.data.days})
    return max(days, key=lambda d: (sum(not c.extrapolated(d) for c in grown), d))


def _length(
    log: Logbook, grown: list[ContainerGrowth], length_mm: float | None
) -> tuple[float | None, str]:
    if length_mm is not None:
        return float(length_mm), "asked"
    planned = log.trial.get("size_to_move_mm")
    if planned is not None:
        return float(str(planned)), "trial"
    curved = [c for c in grown if c.fit is not None]
    if not curved:
        return None, "none"
    most = math.floor(min(c.length_at(c.last_day) for c in curved))
    least = max(c.length_at(c.first_day) for c in curved)
    return (float(most), "chosen") if most >= least and most > 0 else (None, "none")


def _span(grown: list[ContainerGrowth]) -> tuple[float | None, float | None]:
    """Return the span of ages that lies inside the sampled days of every container with a curve."""
    curved = [c for c in grown if c.fit is not None]
    if not curved:
        return None, None
    first, last = max(c.first_day for c in curved), min(c.last_day for c in curved)
    return (first, last) if first < last else (None, None)
