"""The keeper's minutes of every unit: what was written down, nothing filled in, compared once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.batch.fates import lines_of
from rearkit.batch.lines import Line
from rearkit.batch.survival import BatchSurvival
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.design.ways import weigh_outcome
from rearkit.logbook.account.ages import DAY
from rearkit.logbook.logbook import Logbook

NEAR_ZERO = 2.0  # with fewer fry alive, minutes a survivor swing with every single fish


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitMinutes:
    """Minutes and survivors of every unit from the landmark to the judging day.

    Attributes
    ----------
    by_unit : DataFrame
        One row a unit: ``lines`` (how many it is the mean of), ``days``, ``visits``,
        ``visits_timed``, ``feeds``, ``feeds_timed``, ``minutes_of_fed``, ``water_changes``,
        ``minutes`` (nan where one of its containers was never timed), ``minutes_a_day``,
        ``alive`` (fry on the day), ``minutes_per_survivor`` (nan where fewer than two fry are
        left: nothing is divided by next to nothing).
    design : Design
        The layout of the units that were timed.
    minutes, per_survivor : Comparison or None
        Tested − usual, held against the readings that change the units; None with one method, and
        for minutes a survivor where a unit that was timed has too few fry left.
    untimed : tuple of str
        Units of which a container was never timed.
    partly : dict of float
        Share of the visits that were timed, for units where it is not all of them.
    hollow : tuple of str
        Units with minutes but too few fry alive to divide by.
    """

    by_unit: pd.DataFrame
    design: Design
    minutes: Comparison | None
    per_survivor: Comparison | None
    untimed: tuple[str, ...]
    partly: dict[str, float]
    hollow: tuple[str, ...]

    @property
    def comparisons(self) -> dict[str, Comparison | None]:
        """The comparisons by the name of their column: every page shows these and no others."""
        return {"minutes": self.minutes, "minutes_per_survivor": self.per_survivor}


def unit_minutes(
    log: Logbook, design: Design, chosen: JudgingDay, by_batch: Mapping[str, BatchSurvival]
) -> UnitMinutes:
    """Add up the minutes of every unit from the landmark to its day, and compare the methods.

    Parameters
    ----------
    log : Logbook
        The log.
    design : Design
        The layout as analysed.
    chosen : JudgingDay
        The landmark and the day, both included.
    by_batch : mapping of BatchSurvival
        Who was alive on the day, line by line.

    Returns
    -------
    UnitMinutes
        A line is charged for every container that its fish were moved to; a unit of several
        lines has their mean, as in every other comparison.
    """
    lines = lines_of(log, design.compare)
    work = pd.DataFrame.from_dict(
        {
            b: _line(log.daily, lines[b], chosen, by_batch[b].alive)
            for bs in design.units["batches"]
            for b in bs
        },
        orient="index",
    )
    table = pd.DataFrame([_unit(u, work) for u in design.units.itertuples(index=False)])
    timed = table["minutes"].notna()
    part = table["visits_timed"] / table["visits"].where(table["visits"] > 0)
    short = timed & (part < 1)
    kept = design.restricted(list(table.loc[timed, "unit"]), reason="no_minutes")
    hollow = tuple(table.loc[timed & table["minutes_per_survivor"].isna(), "unit"])
    compared = kept.tier != "single" and not kept.units.empty
    minutes = work["minutes"]
    if compared:  # lines that a reading puts back were timed or not, too
        left = [line for b, line in lines.items() if b not in work.index]
        more = {line.name: _line(log.daily, line, chosen, np.nan)["minutes"] for line in left}
        minutes = pd.concat([minutes, pd.Series(more, dtype=float)])
    return UnitMinutes(
        by_unit=table,
        design=kept,
        minutes=weigh_outcome(log, kept, chosen, minutes) if compared else None,
        per_survivor=weigh_outcome(log, kept, chosen, work["minutes_per_survivor"])
        if compared and not hollow
        else None,
        untimed=tuple(table.loc[~timed, "unit"]),
        partly={u: float(p) for u, p in zip(table.loc[short, "unit"], part[short], strict=True)},
        hollow=hollow,
    )


def _line(daily: pd.DataFrame, line: Line, chosen: JudgingDay, alive: float) -> dict[str, float]:
    """Add up the visits to every container that held fish of a line, by the line's own age."""
    age = (daily["date"] - line.age_zero) / DAY
    first = chosen.landmark if chosen.together else max(chosen.landmark, chosen.firsts[line.name])
    last = chosen.day_of(line.name)
    rows = daily[daily["batch"].isin(line.batches) & (age >= first) & (age <= last)]
    timed = rows["minutes"].notna()
    fed = timed & (rows["feeds"] > 0)
    minutes = float(rows["minutes"].sum()) if timed.any() else np.nan
    return {
        "days": last - first,
        "visits": float(len(rows)),
        "visits_timed": float(timed.sum()),
        "feeds": float(rows["feeds"].sum()),
        "feeds_timed": float(rows.loc[fed, "feeds"].sum()),
        "minutes_of_fed": float(rows.loc[fed, "minutes"].sum()),
        "water_changes": float((rows["water_changed_percent"] > 0).sum()),
        "alive": alive,
        "minutes": minutes,
        "minutes_a_day": minutes / (last - first) if last > first else np.nan,
        "minutes_per_survivor": minutes / alive if alive >= NEAR_ZERO else np.nan,
    }


def _unit(unit: object, work: pd.DataFrame) -> dict[str, object]:
    part = work.loc[list(unit.batches)]  # type: ignore[attr-defined]
    row: dict[str, object] = {
        name: getattr(unit, name) for name in ("unit", "block", "method", "tested")
    }
    means = part.mean(skipna=False)
    return row | {"lines": len(part)} | {str(name): float(x) for name, x in means.items()}
