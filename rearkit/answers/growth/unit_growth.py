"""The growth of every container, unit and method on one day, with its survival beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from rearkit.batch.growth import ContainerGrowth
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design
from rearkit.design.unit_lengths import UnitLengths
from rearkit.errors import DesignError
from rearkit.stats.compare.unit_t import t_one
from rearkit.stats.growth.growth_rates import absolute_growth_rate, specific_growth_rate
from rearkit.stats.growth.profile import Asymptote
from rearkit.stats.growth.size_spread import share_at_least

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
    "runts_lost_low",
    "runts_lost_high",
    "share_long_enough",
    "long_enough_of_20",
)
SUMMARISED = ("length_at", "day_reached", "sgr", "mm_per_day", "cv", "long_enough_of_20")
MEANS = ("fish_per_litre", "runts_lost_low", "runts_lost_high", "joined_length_at")
BY_METHOD = [
    *("method", "tested", "n_units", "n_reached"),
    *(f"{name}{end}" for name in SUMMARISED for end in ("", "_conf_low", "_conf_high")),
    *(*MEANS, "survival", "extrapolated", "day_extrapolated"),
]
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
        The length whose day is asked for; None if nothing was measured.
    length_from : str
        ``"asked"``, ``"trial"`` (the size to move), ``"these fish"`` or ``"none"``.
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
    lengths: UnitLengths, *, rate_from: float | None, rate_to: float | None
) -> GrowthDays:
    """Choose the length and the ages that the growth of a log is judged by, beside the day.

    Parameters
    ----------
    lengths : UnitLengths
        The lengths, with their day.
    rate_from, rate_to : float or None
        What was asked for.
    """
    first, last = _span(list(lengths.curves.containers.values()))
    when = lengths.when
    return GrowthDays(
        day=when.day,
        declared=when.declared,
        wanted=when.wanted,
        length_mm=lengths.long_mm,
        length_from=lengths.long_from,
        rate_from=first if rate_from is None else rate_from,
        rate_to=last if rate_to is None else rate_to,
    )


def check_asked(
    day: float | None, length_mm: float | None, rate_from: float | None, rate_to: float | None
) -> None:
    """Refuse a day, a length or a span that cannot be one."""
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


def _span(grown: list[ContainerGrowth]) -> tuple[float | None, float | None]:
    """Return the span of ages that lies inside the sampled days of every container with a curve."""
    curved = [c for c in grown if c.fit is not None]
    if not curved:
        return None, None
    first, last = max(c.first_day for c in curved), min(c.last_day for c in curved)
    return (first, last) if first < last else (None, None)


def _beside_columns(
    row: Mapping[str, Any],
    lengths: UnitLengths,
    litres: Mapping[str, float],
) -> dict[str, float]:
    """Return survival, crowding, the bounds on lost runts and the joint outcome of one line.

    ``runts_lost_low`` and ``runts_lost_high`` say by how much the loss of the smallest alone may
    have raised the mean, whatever the shape of the lengths: those lost were between hatching (0 mm
    at the least) and the smallest that is left (the mean, where no single fish were measured).
    """
    line, day = row["line"], NOTHING if lengths.day is None else lengths.day
    survival, length = float(row["survival"]), float(row["length"])
    one = lengths.beside.by_batch.get(line)
    alive = NOTHING if one is None else one.alive
    smallest = lengths.measured.smallest_near(line, day)
    lost = 1.0 - survival
    gap = 0.0 if np.isnan(smallest) else max(length - smallest, 0.0)
    wanted = lengths.long_mm
    share = NOTHING if wanted is None else float(share_at_least(wanted, length, row["length_cv"]))
    return {
        "survival": survival,
        "alive": alive,
        "fish_per_litre": alive / litres.get(line, NOTHING),
        "runts_lost_low": lost * gap if np.isfinite(length) else NOTHING,
        "runts_lost_high": lost * length,
        "share_long_enough": share,
        "long_enough_of_20": float(row["long_enough"]),
    }


def growth_by_container(
    design: Design,
    lengths: UnitLengths,
    days: GrowthDays,
    finals: Mapping[str, Asymptote],
    litres: Mapping[str, float],
) -> pd.DataFrame:
    """Return one row a line of the design: what its curve says, and what stands beside it.

    Parameters
    ----------
    design : Design
        The layout with every unit.
    lengths : UnitLengths
        Its lengths.
    days : GrowthDays
        What is asked for.
    finals : mapping of str to Asymptote
        Final lengths that may be told.
    litres : mapping
        Water of every batch.

    Returns
    -------
    DataFrame
        A line without lengths, or with no fish left on the day, has no length.
    """
    rows = []
    told = lengths.by_line.set_index("line", drop=False)
    for unit in design.units.itertuples(index=False):
        for batch in unit.batches:
            container = lengths.curves.containers.get(batch)
            one = told.loc[batch]
            row: dict[str, Any] = {
                "batch": batch,
                "unit": unit.unit,
                "block": unit.block,
                "method": unit.method,
                "tested": unit.tested,
            }
            row |= _beside_columns(one, lengths, litres)
            row |= _curve_columns(container, days, finals.get(batch))
            row |= {
                "length_at": float(one["length"]),
                "joined_length_at": float(one["joined"]),
                "extrapolated": bool(one["extrapolated"]),
                "cv": float(one["length_cv"]),
            }
            rows.append(row)
    return pd.DataFrame(rows)


def _curve_columns(
    container: ContainerGrowth | None, days: GrowthDays, final: Asymptote | None
) -> dict[str, Any]:
    """Return what one curve says, or blanks where there is none."""
    if container is None:
        return _unmeasured()
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
        "day_reached": reached,
        "day_extrapolated": bool(np.isfinite(reached)) and container.extrapolated(reached),
        "joined_day_reached": container.data.day_reached(wanted),
        **_rates(container, days),
        "at_bound": fit is not None and fit.at_bound,
        "converged": fit is not None and fit.converged,
        "asymptote": NOTHING if final is None else final.interval.estimate,
        "asymptote_low": NOTHING if final is None else final.interval.conf_low,
        "asymptote_high": NOTHING if final is None else final.interval.conf_high,
        "asymptote_reported": final is not None,
        "aicc": dict(container.aicc),
    }


def _unmeasured() -> dict[str, Any]:
    flags = ("day_extrapolated", "rate_extrapolated", "at_bound", "converged")
    numbers = ("first_day", "last_day", "day_reached")
    rest = ("joined_day_reached", "sgr", "mm_per_day")
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


def growth_by_method(
    design: Design, by_unit: pd.DataFrame, survival: Comparison | None
) -> pd.DataFrame:
    """Return one row a method: means over its units, with t intervals on one less than the units.

    Parameters
    ----------
    design : Design
        The layout as compared.
    by_unit : DataFrame
        As :func:`growth_by_unit` returns it; units that take no part are left out.
    survival : Comparison or None
        Survival of the two methods over every unit that started, if they can be compared.

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
        for name in MEANS:
            row[name] = _mean(group[name])
        started = by_unit[by_unit["tested"] == tested]  # those that died out included
        row["survival"] = _mean(started["survival"])
        if survival is not None:
            row["survival"] = survival.mean_tested if tested else survival.mean_usual
        row["extrapolated"] = bool(group["extrapolated"].any())
        row["day_extrapolated"] = bool(group["day_extrapolated"].any())
        rows.append(row)
    return pd.DataFrame(rows, columns=BY_METHOD)


def _with_interval(name: str, values: np.ndarray) -> dict[str, float]:
    ends = (f"{name}_conf_low", f"{name}_conf_high")
    if not len(values) or not np.isfinite(values).all():
        return dict.fromkeys((name, *ends), NOTHING)
    if len(values) == 1:
        return {name: float(values[0])} | dict.fromkeys(ends, NOTHING)
    found = t_one(values)
    return {name: found.estimate, ends[0]: found.conf_low, ends[1]: found.conf_high}
