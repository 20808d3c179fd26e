"""When the smallest tenth of a batch will be long enough to be moved."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from rearkit.batch.growth import ContainerCurves, ContainerGrowth
from rearkit.stats.growth.day_spread import SMALLEST_TENTH
from rearkit.stats.growth.profile import day_interval

WINDOW_LEVEL = 0.80
FEWEST_CONTAINERS = 3  # with fewer there is no spread among containers to widen a window by
FARTHEST = 1.0  # no date is given further ahead than this many times the measured span


@dataclass(frozen=True, kw_only=True, eq=False)
class SizeWindow:
    """The age at which the smallest tenth of a batch reaches a length.

    Attributes
    ----------
    state : str
        ``"reached"`` (within the measured days, or before them), ``"ahead"``, ``"far"`` (too far
        ahead for a date), ``"never"`` (not on this curve), ``"no_curve"``, ``"no_lengths"`` or
        ``"no_limit"``.
    day, low, high : float
        Age in days by the batch's own curve, and the window; nan where there is none.
    extrapolated : bool
        Whether the age lies outside the measured days.
    mean_needed_mm : float
        Mean length at which the smallest tenth has the wanted one.
    length_now, tenth_now : float
        Mean and smallest-tenth length on the last measured day.
    last_day : float
        Last measured day.
    cv : float
        CV among the fish that was used.
    cv_from : str
        ``"own"``, ``"others"`` or ``"none"`` (then the age is that of the mean fish).
    n_containers : int
        Containers behind the spread that widens the window.
    """

    state: str
    day: float = math.nan
    low: float = math.nan
    high: float = math.nan
    extrapolated: bool = False
    mean_needed_mm: float = math.nan
    length_now: float = math.nan
    tenth_now: float = math.nan
    last_day: float = math.nan
    cv: float = math.nan
    cv_from: str = "none"
    n_containers: int = 0


def size_window(
    batch: str, curves: ContainerCurves, size_to_move_mm: float | None, *, level: float
) -> SizeWindow:
    """Find when the smallest tenth of a batch reaches the length at which it is moved.

    Parameters
    ----------
    batch : str
        The batch.
    curves : ContainerCurves
        The curves of all containers of the log.
    size_to_move_mm : float or None
        The length.
    level : float
        Level of the window.

    Returns
    -------
    SizeWindow
        The batch's own curve gives the age. Its profile interval is widened, for days that are
        still to come, by how much the containers of the log differ in the days that they take for
        the same stretch of growth.

    Notes
    -----
    Lengths within a container are taken as normal, so that the smallest tenth lies 1.28 standard
    deviations below the mean.
    """
    container = curves.containers.get(batch)
    if container is None:
        return SizeWindow(state="no_lengths")
    cv, cv_from = _cv(container, curves)
    share = 1.0 - SMALLEST_TENTH * (cv if np.isfinite(cv) else 0.0)
    now = container.length_at(container.last_day)
    known = SizeWindow(
        state="no_limit",
        length_now=now,
        tenth_now=now * share,
        last_day=container.last_day,
        cv=cv,
        cv_from=cv_from,
    )
    if size_to_move_mm is None:
        return known
    needed = size_to_move_mm / share if share > 0 else math.nan
    return _window(container, curves, known, needed, level)


def _cv(container: ContainerGrowth, curves: ContainerCurves) -> tuple[float, str]:
    if np.isfinite(container.cv):
        return container.cv, "own"
    others = [c.cv for c in curves.containers.values() if np.isfinite(c.cv)]
    return (float(np.mean(others)), "others") if others else (math.nan, "none")


def _window(
    container: ContainerGrowth,
    curves: ContainerCurves,
    known: SizeWindow,
    needed: float,
    level: float,
) -> SizeWindow:
    day = container.day_reached(needed)
    state = _state(container, day, needed, known)
    low = high = math.nan
    n = 0
    if state in ("reached", "ahead") and np.isfinite(day):
        low, high = _own_interval(container, needed, day, level)
        if state == "ahead":
            half, n = _spread_of_days(container, curves, known.length_now, needed, level)
            low = max(day - math.hypot(day - low, half), container.last_day)
            high = day + math.hypot(high - day, half)
    return SizeWindow(
        state=state,
        day=day,
        low=low,
        high=high,
        extrapolated=bool(np.isfinite(day)) and container.extrapolated(day),
        mean_needed_mm=needed,
        length_now=known.length_now,
        tenth_now=known.tenth_now,
        last_day=known.last_day,
        cv=known.cv,
        cv_from=known.cv_from,
        n_containers=n,
    )


def _state(container: ContainerGrowth, day: float, needed: float, known: SizeWindow) -> str:
    if known.length_now >= needed:
        return "reached"
    if container.fit is None:
        return "no_curve"
    if not np.isfinite(day) or day <= container.last_day:
        return "never"
    span = container.last_day - container.first_day
    return "far" if day - container.last_day > FARTHEST * span else "ahead"


def _own_interval(
    container: ContainerGrowth, needed: float, day: float, level: float
) -> tuple[float, float]:
    """Return the profile interval of the batch's own curve, or the day alone if it has none."""
    fit = container.fit
    if fit is None or fit.held is not None or not fit.df > 0:
        return day, day
    found = day_interval(fit, needed, conf_level=level)
    low = found.conf_low if np.isfinite(found.conf_low) else day
    return low, found.conf_high if not np.isnan(found.conf_high) else day


def _spread_of_days(
    container: ContainerGrowth, curves: ContainerCurves, now: float, needed: float, level: float
) -> tuple[float, int]:
    """Return half the width by which containers differ in the days of one stretch of growth."""
    days = [
        c.day_reached(needed) - c.day_reached(now)
        for c in curves.containers.values()
        if c.fit is not None
    ]
    known = [d for d in days if np.isfinite(d) and d > 0]
    if len(known) < FEWEST_CONTAINERS:
        return 0.0, len(known)
    t = float(stats.t.ppf(0.5 + level / 2.0, len(known) - 1))
    return t * float(np.std(known, ddof=1)), len(known)
