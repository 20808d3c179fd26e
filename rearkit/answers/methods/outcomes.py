"""All outcomes of a comparison on the same units, what each may be used for, and the margin."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pandas as pd

from rearkit.batch.fates import fates_of
from rearkit.batch.stages import STAGES, stages_by_batch
from rearkit.batch.survival import BatchSurvival
from rearkit.design.comparison import Comparison, compare_units, unit_means
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.design.unit_lengths import UnitLengths
from rearkit.design.unit_minutes import UnitMinutes, unit_minutes
from rearkit.logbook.logbook import Logbook
from rearkit.stats.compare.unit_t import Equivalence, equivalence, holm, t_two

OUTCOMES = (
    "survival",
    "length",
    "length_cv",
    "long_enough",
    "minutes",
    "minutes_per_survivor",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Outcome:
    """One outcome of a comparison.

    Attributes
    ----------
    name : str
        One of ``OUTCOMES``, or ``deaths A–B`` for the mortality of a stage.
    role : str
        ``"tested"`` (the main outcome), ``"adjusted"`` (its p is Holm-adjusted) or ``"estimate"``.
    values : Series
        One value a unit; units without one are not in it.
    comparison : Comparison or None
        Tested − usual; None where too few units have a value.
    p_value : float or None
        The p that may be looked at: raw for the main outcome, Holm-adjusted for an adjusted one,
        None for an estimate.
    lacking : tuple of str
        Units of the design without a value.
    """

    name: str
    role: str
    values: pd.Series
    comparison: Comparison | None
    p_value: float | None
    lacking: tuple[str, ...]

    @property
    def settled(self) -> bool:
        """Whether the p that may be looked at is at or below .05."""
        return self.p_value is not None and self.p_value <= 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
class Measured:
    """Everything measured on the units of one comparison."""

    survival: pd.DataFrame
    lengths: UnitLengths
    minutes: UnitMinutes
    stages: pd.DataFrame
    weighed: Comparison | None

    def by_unit(self) -> pd.DataFrame:
        """Return one row a unit with every outcome beside its counts."""
        lengths = self.lengths.by_unit.drop(columns="extrapolated")
        table = self.survival.merge(lengths, on="unit", how="left")
        work = self.minutes.by_unit[["unit", "minutes", "minutes_per_survivor"]]
        return table.merge(work, on="unit", how="left")


def measure(
    log: Logbook,
    design: Design,
    chosen: JudgingDay,
    by_batch: Mapping[str, BatchSurvival],
    by_unit: pd.DataFrame,
    weighed: Comparison | None,
    lengths: UnitLengths,
) -> Measured:
    """Gather survival, lengths, minutes and stages on the units of a design."""
    fates = fates_of(log, design.compare)
    return Measured(
        survival=by_unit,
        lengths=lengths,
        minutes=unit_minutes(log, design, chosen, by_batch),
        weighed=weighed,
        stages=stages_by_batch(design.units, fates, sorted({*STAGES, chosen.landmark, chosen.day})),
    )


def outcomes_of(
    design: Design,
    measured: Measured,
    by_batch: dict[str, BatchSurvival],
    chosen: JudgingDay,
    main: str,
) -> tuple[Outcome, ...]:
    """Compare every outcome on the units that have it, the main one first.

    Parameters
    ----------
    design : Design
        The layout as analysed.
    measured : Measured
        What was measured on its units.
    by_batch : dict of BatchSurvival
        Survival of every batch.
    chosen : JudgingDay
        The landmark and the judging day.
    main : str
        The declared main outcome.

    Returns
    -------
    tuple of Outcome
        Roles as the main outcome gives them; p not yet adjusted (see :func:`adjusted`).
    """
    table = measured.by_unit().set_index("unit")
    found = []
    for name in (main, *(n for n in OUTCOMES if n != main)):
        role = "tested" if name == main else "adjusted"
        found.append(_one(design, table[name], name, role, by_batch, measured))
    for name, values in _stage_values(design, measured.stages, chosen).items():
        found.append(_one(design, values, name, "estimate", by_batch, measured))
    return tuple(found)


def _one(
    design: Design,
    values: pd.Series,
    name: str,
    role: str,
    by_batch: dict[str, BatchSurvival],
    measured: Measured,
) -> Outcome:
    values = values.reindex(design.units["unit"]).astype(float)
    known = values[np.isfinite(values)]
    lacking = tuple(str(u) for u in values.index if u not in known.index)
    comparison = None
    kept = design.restricted(list(known.index), reason="no_value")
    if kept.tier != "single":
        told_once = {"survival": measured.weighed, **measured.minutes.comparisons}
        told_once |= measured.lengths.comparisons
        comparison = told_once[name] if name in told_once else compare_units(kept, known)
    return Outcome(
        name=name,
        role=role,
        values=known,
        comparison=comparison,
        p_value=comparison.p_value if comparison is not None and role != "estimate" else None,
        lacking=lacking if len(known) else (),
    )


def _stage_values(design: Design, stages: pd.DataFrame, chosen: JudgingDay) -> dict[str, pd.Series]:
    """Deaths a day per 100 of every unit, in the stages that all batches were watched through."""
    out: dict[str, pd.Series] = {}
    batches = {b for bs in design.units["batches"] for b in bs}
    inside = [a for a in STAGES if chosen.landmark < a < chosen.day]
    edges = [chosen.landmark, *inside, chosen.day]
    for start, end in pairwise(edges):
        rows = stages[(stages["age_from"] >= start - 1e-9) & (stages["age_to"] <= end + 1e-9)]
        rows = rows[np.isfinite(rows["z_per_day"].astype(float))]
        by_batch = rows.groupby("batch").apply(_mean_rate, include_groups=False)
        if set(by_batch.index) == batches:
            values = {str(b): float(v) for b, v in by_batch.items()}
            out[f"deaths {start:g}–{end:g}"] = unit_means(design, values)
    return out


def _mean_rate(rows: pd.DataFrame) -> float:
    days = rows["age_to"] - rows["age_from"]
    return float(-100.0 * np.expm1(-(rows["z_per_day"] * days).sum() / days.sum()))


def adjusted(groups: Iterable[tuple[Outcome, ...]], *, withheld: bool) -> list[tuple[Outcome, ...]]:
    """Adjust p for everything that is looked at: mains among each other, the rest together.

    Parameters
    ----------
    groups : iterable of tuple of Outcome
        One group a comparison with the usual method.
    withheld : bool
        Whether no p may be shown at all (a trial that still runs).

    Returns
    -------
    list of tuple of Outcome
        The same, with the p that may be looked at.
    """
    made = [list(g) for g in groups]
    for role in ("tested", "adjusted"):
        where = [
            (i, j, float(o.p_value))
            for i, group in enumerate(made)
            for j, o in enumerate(group)
            if o.role == role and o.p_value is not None
        ]
        for (i, j, _), value in zip(where, holm([p for _, _, p in where]), strict=True):
            made[i][j] = replace(made[i][j], p_value=None if withheld else value)
    return [tuple(group) for group in made]


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
