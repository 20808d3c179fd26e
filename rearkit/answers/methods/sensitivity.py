"""The main difference again: fish counted otherwise, each unit left out, a later landmark."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.answers.methods.outcomes import Outcome
from rearkit.batch.stages import STAGES
from rearkit.batch.survival import BatchSurvival, survive_if_found
from rearkit.design.comparison import Comparison, arm_means, compare_units, unit_means
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.design.sensitivity import ways_of_counting
from rearkit.logbook.logbook import Logbook
from rearkit.stats.compare.unit_t import Equivalence, equivalence, t_two

MOST_ARRANGEMENTS = 200_000  # beyond it, leaving each unit out in turn gives no p of its own
COLUMNS = ["kind", "what", "usual", "tested", "difference", "p_value"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Trap:
    """What counting every batch from its own first day would have shown.

    Attributes
    ----------
    first_usual, first_tested : float
        Mean age at the first count in either arm.
    difference, p_value : float, float or None
        The naive difference and the p that would come with it.
    fair_difference, fair_p_value : float, float or None
        The same from the common landmark on.
    naive : Series
        Survival of every unit from its own first count.
    """

    first_usual: float
    first_tested: float
    difference: float
    p_value: float | None
    fair_difference: float
    fair_p_value: float | None
    naive: pd.Series


@dataclass(frozen=True, kw_only=True)
class Margin:
    """The main difference held against the smallest useful one.

    Attributes
    ----------
    size : float
        The smallest useful difference, in units of the outcome.
    result : Equivalence
        Two one-sided t tests on units.
    inside : bool
        Whether the whole 90 % interval lies within the margin.
    no_worse : bool
        Whether its end on the bad side does.
    """

    size: float
    result: Equivalence
    inside: bool
    no_worse: bool


def sensitivity_of(
    log: Logbook,
    whole: Design,
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
    whole : Design
        The layout before units were left out for not being watched to the day.
    main : Outcome
        Its main outcome.

    Returns
    -------
    DataFrame
        ``kind`` (``as_analysed``, ``counting``, ``without``, ``landmark``, ``with``), ``what``,
        ``usual``, ``tested``, ``difference``, ``p_value`` (nan where none is given).
    """
    if main.comparison is None:
        return pd.DataFrame(columns=COLUMNS)
    c = main.comparison
    p = np.nan if c.p_value is None else c.p_value
    rows = [["as_analysed", "", c.mean_usual, c.mean_tested, c.estimate, p]]
    if main.name == "survival":
        ways = ways_of_counting(design, by_batch).iloc[1:]
        rows += [
            ["counting", w.way, w.survival_usual, w.survival_tested, w.difference, np.nan]
            for w in ways.itertuples(index=False)
        ]
    rows += _each_left_out(design, main)
    if main.name == "survival":
        rows += _later_landmarks(log, design, chosen)
        rows += _put_back(log, whole, design, chosen)
    return pd.DataFrame(rows, columns=COLUMNS)


def _each_left_out(design: Design, main: Outcome) -> list[list[object]]:
    """Leave every unit out in turn (its whole clutch, if that leaves it with one method)."""
    with_p = design.arrangements <= MOST_ARRANGEMENTS
    names = [str(u) for u in main.values.index]
    by_rest: dict[frozenset[str], tuple[list[str], Design]] = {}
    for name in names:
        kept = design.restricted([u for u in names if u != name], reason="left_out_in_turn")
        if kept.tier != "single":
            by_rest.setdefault(frozenset(kept.units["unit"]), ([], kept))[0].append(name)
    rows: list[list[object]] = []
    for left, kept in by_rest.values():
        values = main.values.reindex(kept.units["unit"])
        usual, tested = arm_means(kept, values)
        p = compare_units(kept, values).p_value if with_p else None
        what = " and ".join(left)
        rows.append(["without", what, usual, tested, tested - usual, np.nan if p is None else p])
    return rows


def _survival_from(
    log: Logbook, design: Design, chosen: JudgingDay, landmark: float, day: float
) -> pd.Series:
    accounts = log.account.set_index("batch", drop=False)
    fates = dict(iter(log.fates.groupby("batch", sort=False)))
    return unit_means(
        design,
        {
            b: survive_if_found(fates[b], accounts.loc[b], landmark=landmark, day=day, share=0.0)
            for bs in design.units["batches"]
            for b in bs
        },
    )


def _compared(kind: str, what: str, design: Design, values: pd.Series) -> list[object]:
    c = compare_units(design, values)
    p = np.nan if c.p_value is None else c.p_value
    return [kind, what, c.mean_usual, c.mean_tested, c.estimate, p]


def _later_landmarks(log: Logbook, design: Design, chosen: JudgingDay) -> list[list[object]]:
    middle = (chosen.landmark + chosen.day) / 2.0  # later, too little of the trial is left
    ages = [a for a in STAGES if chosen.landmark < a <= middle]
    return [
        _compared("landmark", f"{a:g}", design, _survival_from(log, design, chosen, a, chosen.day))
        for a in ages
    ]


def _put_back(
    log: Logbook, whole: Design, design: Design, chosen: JudgingDay
) -> list[list[object]]:
    """Judge on the last day of a unit that was not watched to the end, with it put back."""
    rows = []
    short = [u for u, why in design.left_out.items() if why == "not_observed_to_day"]
    for name in sorted(set(short) & set(whole.units["unit"])):
        wider = whole.restricted([*design.units["unit"], name], reason="not_put_back")
        batches = [b for bs in wider.units["batches"] for b in bs]
        landmark = max(chosen.firsts[b] for b in batches)
        day = min(chosen.lasts[b] for b in batches)
        if name in set(wider.units["unit"]) and day > landmark and wider.tier != "single":
            values = _survival_from(log, wider, chosen, landmark, day)
            rows.append(_compared("with", f"{name}, judged on day {day:g}", wider, values))
    return rows


def trap_of(
    design: Design, chosen: JudgingDay, by_batch: dict[str, BatchSurvival], fair: Comparison
) -> Trap | None:
    """Show what counting from different first days would have made of it; None if they agree."""
    first = {
        arm: float(np.mean([chosen.firsts[b] for bs in g["batches"] for b in bs]))
        for arm, g in design.units.groupby("tested")
    }
    if abs(first[True] - first[False]) < 1e-9:
        return None
    values = unit_means(design, {b: s.naive for b, s in by_batch.items()})
    naive = compare_units(design, values)
    return Trap(
        first_usual=first[False],
        first_tested=first[True],
        difference=naive.estimate,
        p_value=naive.p_value,
        fair_difference=fair.estimate,
        fair_p_value=fair.p_value,
        naive=values,
    )


def margin_of(design: Design, main: Outcome, size: float) -> Margin | None:
    """Hold the main difference against the smallest useful one; None with too few units.

    Notes
    -----
    Welch's t on units, or t on block differences where clutches were split. Survival and length
    are worse when lower, minutes when higher.
    """
    c = main.comparison
    if c is None or c.tier not in ("t", "both", "exact"):
        return None
    kept = design.restricted(list(main.values.index), reason="no_value")
    tested = kept.units["tested"].to_numpy(dtype=bool)
    values = main.values.reindex(kept.units["unit"]).to_numpy(dtype=float)
    t = c.t if kept.n_blocks > 1 else t_two(values, tested, welch=True)
    if t is None or not t.std_error > 0:
        return None
    result = equivalence(t.estimate, t.std_error, t.df, size)
    worse_is_lower = main.name in ("survival", "length")
    return Margin(
        size=size,
        result=result,
        inside=result.equivalent,
        no_worse=(result.p_lower if worse_is_lower else result.p_upper) < 0.05,
    )
