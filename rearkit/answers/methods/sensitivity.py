"""The main difference again: fish counted otherwise, each unit left out, a later landmark."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from rearkit.answers.methods.outcomes import Outcome
from rearkit.batch.fates import accounts_of, fates_of
from rearkit.batch.stages import STAGES
from rearkit.batch.survival import BatchSurvival, survive_if_found
from rearkit.design.comparison import arm_means, compare_units, unit_means
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.design.sensitivity import ways_of_counting
from rearkit.logbook.logbook import Logbook

MOST_ARRANGEMENTS = 200_000  # beyond it, leaving each unit out in turn gives no p of its own
COLUMNS = [
    "kind",
    "way",
    "units",
    "landmark",
    "day",
    "usual",
    "tested",
    "difference",
    "p_value",
]


def sensitivity_of(
    log: Logbook,
    design: Design,
    chosen: JudgingDay,
    by_batch: dict[str, BatchSurvival],
    main: Outcome,
) -> pd.DataFrame:
    """Return the main difference under every other way of looking at the same trial.

    Parameters
    ----------
    log, design, chosen, by_batch
        The comparison.
    main : Outcome
        Its main outcome.

    Returns
    -------
    DataFrame
        ``kind`` (``as_analysed``, ``counting``, ``without``, ``landmark``), ``way`` (of
        counting; else blank), ``units`` (tuple of those left out), ``landmark`` and
        ``day`` (ages in days), ``usual``, ``tested``, ``difference``, ``p_value`` (nan where none
        is given, and everywhere before the planned day).
    """
    if main.comparison is None:
        return pd.DataFrame(columns=COLUMNS)
    c = main.comparison
    rows = [_look("as_analysed", chosen, (c.mean_usual, c.mean_tested), c.p_value)]
    if main.name == "survival":
        rows += [
            _look("counting", chosen, (w.survival_usual, w.survival_tested), way=w.way)
            for w in ways_of_counting(design, by_batch).iloc[1:].itertuples(index=False)
        ]
    rows += _each_left_out(design, chosen, main)
    if main.name == "survival":
        rows += _later_landmarks(log, design, chosen)
    table = pd.DataFrame(rows, columns=COLUMNS)
    return table.assign(p_value=np.nan) if chosen.interim else table


def _look(
    kind: str,
    chosen: JudgingDay,
    arms: tuple[float, float],
    p: float | None = None,
    *,
    way: str = "",
    units: tuple[str, ...] = (),
    landmark: float | None = None,
) -> dict[str, Any]:
    return {
        "kind": kind,
        "way": way,
        "units": units,
        "landmark": chosen.landmark if landmark is None else landmark,
        "day": chosen.day,
        "usual": arms[0],
        "tested": arms[1],
        "difference": arms[1] - arms[0],
        "p_value": np.nan if p is None else p,
    }


def _each_left_out(design: Design, chosen: JudgingDay, main: Outcome) -> list[dict[str, Any]]:
    """Leave every unit out in turn (its whole clutch, if that leaves it with one method)."""
    with_p = design.arrangements <= MOST_ARRANGEMENTS
    names = [str(u) for u in main.values.index]
    by_rest: dict[frozenset[str], tuple[list[str], Design]] = {}
    for name in names:
        kept = design.restricted([u for u in names if u != name], reason="left_out_in_turn")
        if kept.tier != "single":
            by_rest.setdefault(frozenset(kept.units["unit"]), ([], kept))[0].append(name)
    rows = []
    for left, kept in by_rest.values():
        values = main.values.reindex(kept.units["unit"])
        p = compare_units(kept, values).p_value if with_p else None
        rows.append(_look("without", chosen, arm_means(kept, values), p, units=tuple(left)))
    return rows


def _survival_from(log: Logbook, design: Design, landmark: float, day: float) -> pd.Series:
    accounts, fates = accounts_of(log, design.compare), fates_of(log, design.compare)
    return unit_means(
        design,
        {
            b: survive_if_found(fates[b], accounts.loc[b], landmark=landmark, day=day, share=0.0)
            for bs in design.units["batches"]
            for b in bs
        },
    )


def _later_landmarks(log: Logbook, design: Design, chosen: JudgingDay) -> list[dict[str, Any]]:
    middle = (chosen.landmark + chosen.day) / 2.0  # later, too little of the trial is left
    rows = []
    for age in [a for a in STAGES if chosen.landmark < a <= middle]:
        c = compare_units(design, _survival_from(log, design, age, chosen.day))
        means = (c.mean_usual, c.mean_tested)
        rows.append(_look("landmark", chosen, means, c.p_value, landmark=age))
    return rows
