"""The keeper's minutes of every batch and unit: what was written down, and nothing filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from rearkit.batch.survival import BatchSurvival
from rearkit.design.comparison import Comparison, compare_units
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.logbook.logbook import Logbook

NEAR_ZERO = 2.0  # with fewer fry alive, minutes a survivor swing with every single fish


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitMinutes:
    """Minutes and survivors of every unit from the landmark to the judging day.

    Attributes
    ----------
    by_unit : DataFrame
        One row a unit: ``containers``, ``days``, ``visits``, ``visits_timed``, ``feeds``,
        ``water_changes``, ``minutes`` (a container; nan where none was written down),
        ``minutes_a_day``, ``alive`` (fry a container on the day), ``minutes_per_survivor`` (nan
        where fewer than two fry are left: nothing is divided by next to nothing).
    untimed : tuple of str
        Units without a single minute written down.
    partly : dict of float
        Share of the visits that were timed, for units where it is not all of them.
    hollow : tuple of str
        Units with minutes but too few fry alive to divide by.
    """

    by_unit: pd.DataFrame
    untimed: tuple[str, ...]
    partly: dict[str, float]
    hollow: tuple[str, ...]

    def compared(self, design: Design, outcome: str) -> Comparison | None:
        """Compare one column between the methods; None if a unit that was timed lacks it."""
        values = self.by_unit.set_index("unit")[outcome]
        kept = design.restricted(
            [u for u in design.units["unit"] if u not in self.untimed], reason="no_minutes"
        )
        if kept.tier == "single" or values.reindex(kept.units["unit"]).isna().any():
            return None
        return compare_units(kept, values)


def unit_minutes(
    log: Logbook, design: Design, chosen: JudgingDay, by_batch: Mapping[str, BatchSurvival]
) -> UnitMinutes:
    """Add up the minutes of every unit from the landmark to its day.

    Parameters
    ----------
    log : Logbook
        The log.
    design : Design
        The layout as analysed.
    chosen : JudgingDay
        The landmark and the day, both included.
    by_batch : mapping of BatchSurvival
        Who was alive on the day.

    Returns
    -------
    UnitMinutes
        Means a container where a unit is a clutch in several containers; minutes a survivor are
        all its minutes over all its survivors.
    """
    rows = [
        _unit(u, [_batch(log.daily, b, chosen) | {"alive": by_batch[b].alive} for b in u.batches])
        for u in design.units.itertuples(index=False)
    ]
    table = pd.DataFrame(rows)
    part = table["visits_timed"] / table["visits"].where(table["visits"] > 0)
    timed = table["visits_timed"] > 0
    short = timed & (part < 1)
    return UnitMinutes(
        by_unit=table,
        untimed=tuple(table.loc[~timed, "unit"]),
        partly={u: float(p) for u, p in zip(table.loc[short, "unit"], part[short], strict=True)},
        hollow=tuple(table.loc[timed & (table["alive"] < NEAR_ZERO), "unit"]),
    )


def _batch(daily: pd.DataFrame, batch: str, chosen: JudgingDay) -> dict[str, float]:
    age = daily["age_days"]
    first = max(chosen.landmark, chosen.firsts[batch]) if not chosen.together else chosen.landmark
    last = chosen.day_of(batch)
    rows = daily[(daily["batch"] == batch) & (age >= first) & (age <= last)]
    timed = rows["minutes"].notna()
    fed = timed & (rows["feeds"] > 0)
    return {
        "days": last - first,
        "visits": float(len(rows)),
        "visits_timed": float(timed.sum()),
        "feeds": float(rows["feeds"].sum()),
        "water_changes": float((rows["water_changed_percent"] > 0).sum()),
        "minutes": float(rows["minutes"].sum()) if timed.any() else float("nan"),
        "minutes_of_fed": float(rows.loc[fed, "minutes"].sum()),
        "feeds_timed": float(rows.loc[fed, "feeds"].sum()),
    }


def _unit(unit: object, parts: list[dict[str, float]]) -> dict[str, object]:
    frame = pd.DataFrame(parts)
    total, alive = float(frame["minutes"].sum()), float(frame["alive"].sum())
    timed = bool(frame["minutes"].notna().any())
    row: dict[str, object] = {
        name: getattr(unit, name) for name in ("unit", "block", "method", "tested")
    }
    row |= {"containers": len(frame)}
    row |= {
        name: float(frame[name].sum())
        for name in ("visits", "visits_timed", "feeds_timed", "minutes_of_fed")
    }
    row |= {name: float(frame[name].mean()) for name in ("days", "feeds", "water_changes", "alive")}
    row["minutes"] = total / len(frame) if timed else float("nan")
    days = float(frame["days"].sum())
    row["minutes_a_day"] = total / days if timed and days > 0 else float("nan")
    enough = timed and alive >= NEAR_ZERO
    row["minutes_per_survivor"] = total / alive if enough else float("nan")
    return row
