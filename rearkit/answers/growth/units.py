"""Growth as tables: one row a container, one row a unit, one row a method."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from rearkit.answers.growth.beside import BesideGrowth, beside_columns
from rearkit.answers.growth.day import GrowthDays
from rearkit.batch.growth import ContainerCurves, ContainerGrowth
from rearkit.design.design import Design
from rearkit.stats.compare.unit_t import t_one
from rearkit.stats.growth.growth_rates import absolute_growth_rate, specific_growth_rate
from rearkit.stats.growth.profile import Asymptote

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
    day = NOTHING if days.day is None else days.day
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
            row |= beside_columns(
                batch, container, beside, litres, day=day, length_mm=days.length_mm
            )
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
    flags = ("extrapolated", "day_extrapolated", "at_bound", "converged", "asymptote_reported")
    numbers = ("first_day", "last_day", "length_at", "joined_length_at", "day_reached")
    rest = ("joined_day_reached", "sgr", "mm_per_day", "cv")
    return {
        "curve": None,
        "instead": "not_measured",
        "n_days": 0,
        "n_measured": 0.0,
        **dict.fromkeys((*numbers, *rest), NOTHING),
        **dict.fromkeys(("asymptote", "asymptote_low", "asymptote_high"), NOTHING),
        **dict.fromkeys(flags, False),
        "rate_extrapolated": False,
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
