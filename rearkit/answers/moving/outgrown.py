"""When a batch outgrows its container, by size and by number, and what else stands free."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from rearkit.batch.growth import ContainerCurves, ContainerGrowth, day_of_growth
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.stats.growth.curve_fit import GrowthFit
from rearkit.stats.growth.profile import day_interval
from rearkit.stats.growth.size_spread import SMALLEST_TENTH

WINDOW_LEVEL = 0.80
FEWEST_CONTAINERS = 3  # with fewer there is no spread among containers to widen a window by
FARTHEST = 0.5  # no date is given further ahead than this many times the measured span
RECENT_DAYS = 14.0  # the stretch that the present death rate is taken from
ROUNDING = 1e-9
LARGEST_LITRES = 100_000.0


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
        Age in days by the batch's own curve, and the window; nan where there is none, and for the
        end of a window that is left open.
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
        The batch's own curve gives the age. The window takes in the profile interval under every
        curve that does about as well; for days that are still to come it is widened by how much
        the containers of the log differ in the days that they take for the same stretch of growth,
        and left open where it would end further ahead than half the measured days are long.

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
    state, day = _state_and_day(container, needed, known)
    low = high = math.nan
    n = 0
    if state == "ahead":
        low, high = _over_curves(curves.as_good(container.batch), needed, day, level)
        half, n = _spread_of_days(container, curves, needed, level)
        half = math.hypot(half, _by_evenness(container, curves, known, needed, day, level))
        low = max(day - math.hypot(day - low, half), container.last_day)
        high = day + math.hypot(high - day, half)
        high = high if high <= _farthest(container) else math.nan
    elif state == "reached" and np.isfinite(day) and container.fit is not None:
        low, high = _over_curves(curves.as_good(container.batch), needed, day, level)
        high = min(high, container.last_day)
    return replace(
        known,
        state=state,
        day=day,
        low=low,
        high=high,
        extrapolated=bool(np.isfinite(day)) and container.extrapolated(day),
        mean_needed_mm=needed,
        n_containers=n,
    )


def _by_evenness(
    container: ContainerGrowth,
    curves: ContainerCurves,
    known: SizeWindow,
    needed: float,
    day: float,
    level: float,
) -> float:
    """Return by how many days the age may be off as the spread among the fish is not known well."""
    if known.cv_from == "own":
        error = known.cv / math.sqrt(2.0 * container.data.within_df)
    else:
        others = [c.cv for c in curves.containers.values() if np.isfinite(c.cv)]
        error = float(np.std(others, ddof=1)) if len(others) > 1 else 0.0
    share = 1.0 - SMALLEST_TENTH * (known.cv if np.isfinite(known.cv) else 0.0)
    off = SMALLEST_TENTH * float(stats.norm.ppf(0.5 + level / 2.0)) * error
    if not 0 < off < share:
        return 0.0
    sides = [container.day_reached(needed * share / (share + way * off)) for way in (1.0, -1.0)]
    return float(max((abs(side - day) for side in sides if np.isfinite(side)), default=0.0))


def _state_and_day(
    container: ContainerGrowth, needed: float, known: SizeWindow
) -> tuple[str, float]:
    """Return whether a batch is long enough, will be, or cannot be told to be, and the age.

    The fish that were measured last say whether it is so; the curve says when.
    """
    day = container.day_reached(needed)
    if known.length_now >= needed:
        within = np.isfinite(day) and day <= container.last_day
        return "reached", day if within else container.data.day_reached(needed)
    if container.fit is None:
        return "no_curve", math.nan
    if not np.isfinite(day):
        return "never", math.nan
    day = max(day, container.last_day)
    return ("far" if day > _farthest(container) else "ahead"), day


def _farthest(container: ContainerGrowth) -> float:
    """Return the last age for which a date is given."""
    return container.last_day + FARTHEST * (container.last_day - container.first_day)


def _over_curves(
    fits: Sequence[GrowthFit], needed: float, day: float, level: float
) -> tuple[float, float]:
    """Return the earliest and the latest day over curves that are not told apart.

    Each has its profile interval, or its day alone where it has none; a curve that never has the
    length leaves the window open.
    """
    lows, highs = [day], [day]
    for fit in fits:
        reached = day_of_growth(fit, needed)
        if not np.isfinite(reached):
            highs.append(math.inf)
            continue
        lows.append(reached)
        highs.append(reached)
        if fit.held_asymptote is None and fit.df > 0:
            found = day_interval(fit, needed, conf_level=level)
            lows += [x for x in (found.conf_low,) if np.isfinite(x)]
            highs += [x for x in (found.conf_high,) if not np.isnan(x)]
    return min(lows), max(highs)


def _spread_of_days(
    container: ContainerGrowth, curves: ContainerCurves, needed: float, level: float
) -> tuple[float, int]:
    """Return half the width by which containers differ in the days of one stretch of growth."""
    now = container.data.means[-1]
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


@dataclass(frozen=True, kw_only=True, eq=False)
class Crowding:
    """The fish per litre of a batch against the most that its keeper allows.

    Attributes
    ----------
    state : str
        ``"over"`` (now), ``"perhaps"`` (within the range of the count), ``"was_over"`` (earlier,
        not now), ``"below"``, ``"no_litres"`` or ``"no_limit"``.
    litres : float
        Water of the container; nan if it is not known.
    alive_low, alive_best, alive_high : float
        Fish at the last look.
    per_litre_low, per_litre, per_litre_high : float
        Fish per litre at the last look.
    since_day : float
        Age from which the limit has been passed, or, for ``"was_over"``, first was; nan if not.
    until_day : float
        Age of the look at which it was no longer passed (of the last look, if it still is); nan
        if it never was.
    falls_below_day : float
        Age at which the present death rate alone brings the number below the limit
        (extrapolated); nan if it does not.
    """

    state: str
    litres: float
    alive_low: float
    alive_best: float
    alive_high: float
    per_litre_low: float
    per_litre: float
    per_litre_high: float
    since_day: float
    until_day: float
    falls_below_day: float


def crowding_of(
    log: Logbook, batch: str, *, litres: float, most_fish_per_litre: float | None
) -> Crowding:
    """Hold the fish per litre of a batch, from its survival curve, against a limit.

    Parameters
    ----------
    log : Logbook
        The log.
    batch : str
        The batch.
    litres : float
        Water of its container; nan if it is not known.
    most_fish_per_litre : float or None
        The limit.

    Returns
    -------
    Crowding
        Fish between looks are those that the account has at each look.
    """
    ages, fish = fish_by_age(log, batch)
    account = log.account.set_index("batch").loc[batch]
    low, best, high = _alive(account, float(fish[-1]))
    state, since, until, falls = "no_limit", math.nan, math.nan, math.nan
    if not (np.isfinite(litres) and litres > 0):
        state, litres = "no_litres", math.nan
    elif most_fish_per_litre is not None:
        most = most_fish_per_litre * litres
        state, since = _room_state(ages, fish, best, high, most)
        over = np.flatnonzero(fish >= most - ROUNDING)
        until = float(ages[min(over[-1] + 1, len(ages) - 1)]) if len(over) else math.nan
        if state == "over":
            falls = _falls_below(ages, fish, best, most)
    return Crowding(
        state=state,
        litres=litres,
        alive_low=low,
        alive_best=best,
        alive_high=high,
        per_litre_low=low / litres,
        per_litre=best / litres,
        per_litre_high=high / litres,
        since_day=since,
        until_day=until,
        falls_below_day=falls,
    )


def _alive(account: pd.Series, left: float) -> tuple[float, float, float]:
    """Return the range of fish alive; never counted since the start, it is that of the start."""
    low, best, high = (float(account[f"alive_{end}"]) for end in ("low", "best", "high"))
    best = best if np.isfinite(best) else left
    gone = float(account["start_best"]) - best
    low = max(float(account["start_low"]) - gone, 0.0) if np.isnan(low) else low
    high = float(account["start_high"]) - gone if np.isnan(high) else high
    low, best, high = (round(x, 9) for x in (low, best, high))
    return min(low, best), best, max(high, best)


def fish_by_age(log: Logbook, batch: str) -> tuple[np.ndarray, np.ndarray]:
    """Return the ages of the looks at a batch and the fish alive after each, from its start on."""
    fates = log.fates[log.fates["batch"] == batch]
    if fates.empty:
        account = log.account.set_index("batch").loc[batch]
        return np.array([float(account["age_first"])]), np.array([float(account["start_best"])])
    left = fates["at_risk"] - fates["dead_found"] - fates["missing"] - fates["removed"]
    ages = np.concatenate([fates["age_from"].iloc[:1], fates["age_to"]]).astype(float)
    fish = np.concatenate([fates["at_risk"].iloc[:1], left + fates["added"]]).astype(float)
    return ages, fish


def _room_state(
    ages: np.ndarray, fish: np.ndarray, best_now: float, high_now: float, most: float
) -> tuple[str, float]:
    over = fish >= most - ROUNDING
    if best_now >= most - ROUNDING:
        below = np.flatnonzero(~over)
        after = int(below[-1]) + 1 if len(below) else 0
        return "over", float(ages[min(after, len(ages) - 1)])
    if high_now >= most - ROUNDING:
        return "perhaps", math.nan
    if over.any():
        return "was_over", float(ages[int(np.argmax(over))])
    return "below", math.nan


def _falls_below(ages: np.ndarray, fish: np.ndarray, now: float, most: float) -> float:
    """Return the age at which the recent death rate alone brings the number below the limit."""
    recent = ages >= ages[-1] - RECENT_DAYS
    first, days = float(fish[recent][0]), float(ages[-1] - ages[recent][0])
    if not (days > 0 and first > fish[-1] > 0 and now > most > 0):
        return math.nan
    rate = math.log(first / float(fish[-1])) / days
    return float(ages[-1]) + math.log(now / most) / rate


def free_containers(log: Logbook, free_litres: str | None) -> pd.DataFrame:
    """Return the containers that stand free: those asked for, or those whose batches have ended.

    Parameters
    ----------
    log : Logbook
        The log.
    free_litres : str or None
        Litres of the free containers, such as ``"40, 60"``.

    Returns
    -------
    DataFrame
        ``container``, ``litres``, ``since`` (date; missing for those asked for), smallest first.

    Raises
    ------
    DesignError
        If the litres cannot be read.
    """
    columns = ["container", "litres", "since"]
    if free_litres is not None and free_litres.strip():
        rows = [
            {"container": f"free container {i + 1}", "litres": litres, "since": pd.NaT}
            for i, litres in enumerate(_litres(free_litres))
        ]
        return pd.DataFrame(rows, columns=columns).sort_values("litres", ignore_index=True)
    named = log.batches[log.batches["container"].notna()]
    rows = []
    for name, group in named.groupby("container", sort=False):
        if group["ended"].notna().all():
            rows.append(
                {
                    "container": name,
                    "litres": float(group["litres"].max()),
                    "since": group["ended"].max(),
                }
            )
    return pd.DataFrame(rows, columns=columns).sort_values("litres", ignore_index=True)


def _litres(text: str) -> list[float]:
    """Read litres that are parted by commas, semicolons or blanks."""
    parts = text.replace(",", " ").replace(";", " ").split()
    values = []
    for part in parts:
        try:
            value = float(part)
        except ValueError:
            value = math.nan
        if not 0 < value <= LARGEST_LITRES:
            raise DesignError(
                f"{part!r} is no number of litres",
                where="setting free_litres",
                todo="Write the litres of each free container, such as 40, 60.",
            )
        values.append(value)
    return values


def share_out(
    waiting: Sequence[dict[str, Any]], free: pd.DataFrame, most_fish_per_litre: float | None
) -> list[dict[str, Any]]:
    """Give every batch, most urgent first, the smallest free container that is large enough.

    Parameters
    ----------
    waiting : sequence of dict
        ``batch`` and ``alive`` of the batches that have to move, most urgent first.
    free : DataFrame
        Free containers, smallest first.
    most_fish_per_litre : float or None
        The limit; without one a container does if it is the largest that is left.

    Returns
    -------
    list of dict
        ``batch``, ``litres_needed``, ``container``, ``litres``, ``enough``; no container where
        none is left. The largest one left is named where none is large enough.
    """
    left = free[free["litres"].notna()].sort_values("litres", kind="stable")
    plan: list[dict[str, Any]] = []
    for batch in waiting:
        needed = batch["alive"] / most_fish_per_litre if most_fish_per_litre else math.nan
        row = {"batch": batch["batch"], "litres_needed": needed}
        if left.empty:
            plan.append(row | {"container": None, "litres": math.nan, "enough": False})
            continue
        fits = left[left["litres"] >= needed] if np.isfinite(needed) else left.iloc[-1:]
        chosen = fits.index[0] if len(fits) else left.index[-1]
        litres = float(left.at[chosen, "litres"])
        plan.append(
            row
            | {
                "container": left.at[chosen, "container"],
                "litres": litres,
                "enough": bool(np.isfinite(needed) and litres >= needed),
            }
        )
        left = left.drop(index=chosen)
    return plan
