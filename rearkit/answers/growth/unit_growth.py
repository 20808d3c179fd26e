"""The growth of every container, unit and method on one day, with its survival beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from rearkit.batch.growth import ContainerCurves, ContainerGrowth
from rearkit.batch.survival import BatchSurvival
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay, choose_day
from rearkit.design.unit_survival import follow_lines
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.stats.compare.unit_t import t_one
from rearkit.stats.growth.growth_rates import absolute_growth_rate, specific_growth_rate
from rearkit.stats.growth.profile import Asymptote
from rearkit.stats.growth.size_spread import share_at_least, smallest_lost_shift

FRY = 20.0
ALL_LOST = 0.999  # above this share lost, nothing is said of the mean of the few that are left
# What is averaged over the containers of a unit, and over the units of a method.
MEASURES = (
    "length_at",
    "day_reached",
    "sgr",
    "mm_per_day",
    "joined_length_at",
    "joined_day_reached",
    "cv",
    "survival",
    "fish_per_litre",
    "runts_lost_mm",
    "share_long_enough",
    "long_enough_of_20",
)
SUMMARISED = ("length_at", "day_reached", "sgr", "mm_per_day", "cv", "long_enough_of_20")
NOTHING = float("nan")


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
    if day is None and planned is not None and any(not c.extrapolated(planned) for c in grown):
        return planned, True, None
    wanted = day if day is not None else planned
    return _latest_common(grown), False, wanted


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


@dataclass(frozen=True, kw_only=True, eq=False)
class BesideGrowth:
    """Survival of the same containers to the day on which they are measured.

    Attributes
    ----------
    chosen : JudgingDay or None
        The day and the landmark; None if there is no day, or survival cannot be followed to it.
    by_batch : dict of BatchSurvival
        Every batch that can be followed.
    """

    chosen: JudgingDay | None
    by_batch: dict[str, BatchSurvival]

    def survival(self, batch: str) -> float:
        """Give the share alive on the day; nan if the batch was not watched up to it."""
        if self.chosen is None or batch not in self.by_batch:
            return NOTHING
        return self.by_batch[batch].survival

    def curves(self) -> dict[str, pd.DataFrame]:
        """Return the survival curve of every batch."""
        return {b: s.curve for b, s in self.by_batch.items()}


def survival_beside(log: Logbook, design: Design, day: float | None, seed: int) -> BesideGrowth:
    """Follow every batch of the layout to the day on which its fish are measured.

    Parameters
    ----------
    log, design
        The log and its layout.
    day : float or None
        The day; None if nothing was measured.
    seed : int
        Seeds each batch's own interval.

    Returns
    -------
    BesideGrowth
        Batches that were watched up to the day, or had died out by then; none where the day lies
        before the batches were first watched together.
    """
    nothing = BesideGrowth(chosen=None, by_batch={})
    if day is None:
        return nothing
    try:
        chosen = choose_day(log, design, day)
    except DesignError:
        return nothing
    begun = [b for bs in design.units["batches"] for b in bs if _begun(chosen, b)]
    followed = follow_lines(log, design.compare, begun, chosen, seed)
    known = {b: s for b, s in followed.items() if _watched(chosen, b) or s.alive == 0}
    return BesideGrowth(chosen=chosen, by_batch=known)


def _begun(chosen: JudgingDay, batch: str) -> bool:
    day = chosen.day_of(batch) if batch in chosen.lasts else chosen.day
    return chosen.landmark < day and chosen.firsts.get(batch, math.inf) < day


def _watched(chosen: JudgingDay, batch: str) -> bool:
    return chosen.day_of(batch) <= chosen.lasts[batch]


def _beside_columns(
    batch: str,
    container: ContainerGrowth | None,
    beside: BesideGrowth,
    litres: Mapping[str, float],
    days: GrowthDays,
) -> dict[str, float]:
    """Return survival, crowding, the bound on lost runts and the joint outcome of one batch.

    ``runts_lost_mm`` is by how much the loss of the smallest alone could have raised the mean: the
    shift of a normal mean, times CV and mean.
    """
    survival = beside.survival(batch)
    known = np.isfinite(survival)
    alive = beside.by_batch[batch].alive if known else NOTHING
    cv = container.cv if container is not None else NOTHING
    day = NOTHING if days.day is None else days.day
    length = container.length_at(day) if container is not None else NOTHING
    lost = 1.0 - survival if known else NOTHING
    shift = float(smallest_lost_shift(lost)) if 0 <= lost < ALL_LOST else NOTHING
    wanted = days.length_mm
    share = NOTHING if wanted is None else float(share_at_least(wanted, length, cv))
    joint = 0.0 if survival == 0 and wanted is not None else FRY * survival * share
    return {
        "survival": survival,
        "alive": alive,
        "fish_per_litre": alive / litres.get(batch, NOTHING),
        "runts_lost_mm": shift * cv * length,
        "share_long_enough": share,
        "long_enough_of_20": joint,
    }


def growth_by_container(
    design: Design,
    curves: ContainerCurves,
    days: GrowthDays,
    beside: BesideGrowth,
    finals: Mapping[str, Asymptote],
    litres: Mapping[str, float],
) -> pd.DataFrame:
    """Return one row a batch of the design: what its curve says, and what stands beside it.

    Parameters
    ----------
    design, curves, days, beside
        The layout, the curves, what is asked for, and survival.
    finals : mapping of str to Asymptote
        Final lengths that may be told.
    litres : mapping
        Water of every batch.

    Returns
    -------
    DataFrame
        A batch without lengths, or with no fish left on the day, has no length.
    """
    rows = []
    for unit in design.units.itertuples(index=False):
        for batch in unit.batches:
            container = curves.containers.get(batch)
            row: dict[str, Any] = {
                "batch": batch,
                "unit": unit.unit,
                "block": unit.block,
                "method": unit.method,
                "tested": unit.tested,
            }
            row |= _beside_columns(batch, container, beside, litres, days)
            row |= _curve_columns(container, days, finals.get(batch))
            if row["survival"] == 0:
                row |= {"length_at": NOTHING, "joined_length_at": NOTHING}
            rows.append(row)
    return pd.DataFrame(rows)


def _curve_columns(
    container: ContainerGrowth | None, days: GrowthDays, final: Asymptote | None
) -> dict[str, Any]:
    """Return what one curve says, or blanks where there is none."""
    if container is None:
        return _unmeasured()
    day = NOTHING if days.day is None else days.day
    wanted = NOTHING if days.length_mm is None else days.length_mm
    reached = container.day_reached(wanted)
    fit = container.fit
    return {
        "curve": None if fit is None else fit.curve,
        "instead": container.instead,
        "first_day": container.first_day,
        "last_day": container.last_day,
        "n_days": container.data.n_days,
        "n_measured": float(container.data.n_fish.sum()),
        "length_at": container.length_at(day),
        "joined_length_at": container.joined_at(day),
        "extrapolated": container.extrapolated(day),
        "day_reached": reached,
        "day_extrapolated": bool(np.isfinite(reached)) and container.extrapolated(reached),
        "joined_day_reached": container.data.day_reached(wanted),
        **_rates(container, days),
        "cv": container.cv,
        "at_bound": fit is not None and fit.at_bound,
        "converged": fit is not None and fit.converged,
        "asymptote": NOTHING if final is None else final.interval.estimate,
        "asymptote_low": NOTHING if final is None else final.interval.conf_low,
        "asymptote_high": NOTHING if final is None else final.interval.conf_high,
        "asymptote_reported": final is not None,
        "aicc": dict(container.aicc),
    }


def _unmeasured() -> dict[str, Any]:
    flags = ("extrapolated", "day_extrapolated", "rate_extrapolated", "at_bound", "converged")
    numbers = ("first_day", "last_day", "length_at", "joined_length_at", "day_reached")
    rest = ("joined_day_reached", "sgr", "mm_per_day", "cv")
    return {
        "curve": None,
        "instead": "not_measured",
        "n_days": 0,
        "n_measured": 0.0,
        **dict.fromkeys((*numbers, *rest), NOTHING),
        **dict.fromkeys(("asymptote", "asymptote_low", "asymptote_high"), NOTHING),
        **dict.fromkeys((*flags, "asymptote_reported"), False),
        "aicc": {},
    }


def _rates(container: ContainerGrowth, days: GrowthDays) -> dict[str, Any]:
    """Return the growth rates of one container between the two ages."""
    blank = {"sgr": NOTHING, "mm_per_day": NOTHING, "rate_extrapolated": False}
    if container.fit is None or days.rate_from is None or days.rate_to is None:
        return blank
    first, last = container.length_at(days.rate_from), container.length_at(days.rate_to)
    if not (first > 0 and last > 0 and np.isfinite([first, last]).all()):
        return blank
    span = days.rate_to - days.rate_from
    if not span > 0:
        return blank
    return {
        "sgr": float(specific_growth_rate(first, last, span)),
        "mm_per_day": float(absolute_growth_rate(first, last, span)),
        "rate_extrapolated": container.extrapolated(days.rate_from)
        or container.extrapolated(days.rate_to),
    }


def growth_by_unit(design: Design, by_container: pd.DataFrame) -> pd.DataFrame:
    """Return one row a unit: the mean of its containers, whatever they are worth in fish.

    Parameters
    ----------
    design : Design
        The layout.
    by_container : DataFrame
        As :func:`growth_by_container` returns it.

    Returns
    -------
    DataFrame
        A mean over the containers of a clutch leaves out those that were not measured.
    """
    rows = []
    for name, group in by_container.groupby("unit", sort=False):
        lead = group.iloc[0]
        measured = group[group["n_days"] > 0]
        kinds = measured["curve"].dropna().unique()
        row: dict[str, Any] = {
            "unit": name,
            "block": lead["block"],
            "method": lead["method"],
            "tested": bool(lead["tested"]),
            "n_containers": len(measured),
            "curve": str(kinds[0]) if len(kinds) == 1 else (", ".join(sorted(kinds)) or None),
        }
        row |= {name: _mean(group[name]) for name in MEASURES}
        if measured["day_reached"].isna().any():  # a mean of those that got there would mislead
            row["day_reached"] = NOTHING
        for flag in ("extrapolated", "day_extrapolated", "rate_extrapolated"):
            row[flag] = bool(measured[flag].any())
        row["asymptote_reported"] = bool(len(measured) and measured["asymptote_reported"].all())
        for part in ("asymptote", "asymptote_low", "asymptote_high"):
            row[part] = _mean(group[part])
        row["n_measured"] = float(group["n_measured"].sum())
        row["first_day"], row["last_day"] = group["first_day"].min(), group["last_day"].max()
        row["aicc"] = _summed(measured["aicc"].to_list())
        rows.append(row)
    order = {u: i for i, u in enumerate(design.units["unit"])}
    table = pd.DataFrame(rows)
    return table.iloc[table["unit"].map(order).argsort(kind="stable")].reset_index(drop=True)


def _mean(values: pd.Series) -> float:
    known = values.dropna()
    return float(known.mean()) if len(known) else NOTHING


def _summed(criteria: list[dict[str, float]]) -> dict[str, float]:
    names = list(criteria[0]) if criteria else []
    return {name: float(sum(c.get(name, np.inf) for c in criteria)) for name in names}


def growth_by_method(design: Design, by_unit: pd.DataFrame) -> pd.DataFrame:
    """Return one row a method: means over its units, with t intervals on one less than the units.

    Parameters
    ----------
    design : Design
        The layout as compared.
    by_unit : DataFrame
        As :func:`growth_by_unit` returns it; units that take no part are left out.

    Returns
    -------
    DataFrame
        The mean day on which a length is reached exists only if every unit reaches it.
    """
    taking_part = by_unit[by_unit["unit"].isin(design.units["unit"])]
    rows = []
    for tested, group in taking_part.groupby("tested", sort=True):
        row: dict[str, Any] = {
            "method": group["method"].iloc[0],
            "tested": bool(tested),
            "n_units": len(group),
            "n_reached": int(group["day_reached"].notna().sum()),
        }
        for name in SUMMARISED:
            values = group[name].to_numpy(dtype=float)
            if name != "day_reached":
                values = values[np.isfinite(values)]
            row |= _with_interval(name, values)
        for name in ("survival", "fish_per_litre", "runts_lost_mm", "joined_length_at"):
            row[name] = _mean(group[name])
        row["extrapolated"] = bool(group["extrapolated"].any())
        row["day_extrapolated"] = bool(group["day_extrapolated"].any())
        rows.append(row)
    return pd.DataFrame(rows)


def _with_interval(name: str, values: np.ndarray) -> dict[str, float]:
    ends = (f"{name}_conf_low", f"{name}_conf_high")
    if not len(values) or not np.isfinite(values).all():
        return dict.fromkeys((name, *ends), NOTHING)
    if len(values) == 1:
        return {name: float(values[0])} | dict.fromkeys(ends, NOTHING)
    found = t_one(values)
    return {name: found.estimate, ends[0]: found.conf_low, ends[1]: found.conf_high}
