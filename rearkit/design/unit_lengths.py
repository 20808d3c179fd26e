"""Length on one day, its evenness and its union with survival, one value a unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.batch.growth import ContainerCurves, grow_containers
from rearkit.batch.lengths import MeasuredLengths, measured_lengths
from rearkit.batch.remark import Remark
from rearkit.batch.survival import BatchSurvival
from rearkit.design.design import Design
from rearkit.logbook.logbook import Logbook
from rearkit.stats.growth.size_spread import share_at_least

FRY = 20.0  # joint outcomes are told per so many fry started


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitLengths:
    """Lengths of the units of a design on one day.

    Attributes
    ----------
    day : float or None
        The judging day if all measured units were sampled around it, else the latest day inside
        the samples of all of them; None if nothing can be compared.
    on_judging_day : bool
        Whether it is the judging day.
    long_mm : float or None
        The length that counts as long enough: the size to move, else the mean of all units.
    long_from : str
        ``"trial"``, ``"these fish"`` or ``"none"``.
    by_unit : DataFrame
        ``unit``, ``length`` (by the curves), ``joined`` (by joined means), ``length_cv`` (on the
        sampled day nearest), ``long_enough`` (of 20 fry, alive on the judging day and so long).
    remarks : tuple of Remark
        What was done to the rows.
    """

    day: float | None
    on_judging_day: bool
    long_mm: float | None
    long_from: str
    by_unit: pd.DataFrame
    remarks: tuple[Remark, ...]


def unit_lengths(
    log: Logbook, design: Design, day: float, by_batch: Mapping[str, BatchSurvival]
) -> UnitLengths:
    """Read the length of every unit off its containers' curves on one common sampled day.

    Parameters
    ----------
    log : Logbook
        The log.
    design : Design
        The layout as analysed.
    day : float
        The judging day.
    by_batch : mapping of BatchSurvival
        Survival to the judging day, for the joint outcome.

    Returns
    -------
    UnitLengths
        Nothing is read outside the sampled days. A unit without lengths has nan; a unit all of
        whose fish died has no length and no fry that are long enough.
    """
    batches = [b for bs in design.units["batches"] for b in bs]
    measured = measured_lengths(log, batches)
    alive = {b: s for b, s in measured.series.items() if by_batch[b].survival > 0}
    the_day = _common_day(design, alive, day)
    curves = grow_containers(measured) if measured.series else None
    values = {
        b: _batch(b, the_day, curves, measured) if b in alive else dict.fromkeys(NAMES, np.nan)
        for b in batches
    }
    long_mm, source = _long_enough(log, values)
    for b, row in values.items():
        row["long_enough"] = _joint(row, by_batch[b].survival, long_mm)
    rows = [
        {"unit": u.unit}
        | {n: _mean([values[b][n] for b in u.batches]) for n in (*NAMES, "long_enough")}
        for u in design.units.itertuples(index=False)
    ]
    return UnitLengths(
        day=the_day,
        on_judging_day=the_day is not None and abs(the_day - day) < 1e-9,
        long_mm=long_mm,
        long_from=source,
        by_unit=pd.DataFrame(rows),
        remarks=measured.remarks,
    )


NAMES = ("length", "joined", "length_cv")


def _mean(values: list[float]) -> float:
    """Mean over the containers of a unit that have a value."""
    known = [v for v in values if np.isfinite(v)]
    return float(np.mean(known)) if known else float("nan")


def _common_day(design: Design, series: Mapping[str, object], day: float) -> float | None:
    """Return the judging day, or the latest day that lies inside the samples of all batches."""
    inside = [series[b] for bs in design.units["batches"] for b in bs if b in series]
    spans = [(float(s.days[0]), float(s.days[-1])) for s in inside]  # type: ignore[attr-defined]
    if not spans:
        return None
    first, last = max(a for a, _ in spans), min(b for _, b in spans)
    if first <= day <= last:
        return day
    return last if last >= first else None


def _batch(
    batch: str, day: float | None, curves: ContainerCurves | None, measured: MeasuredLengths
) -> dict[str, float]:
    if day is None or curves is None:
        return dict.fromkeys(NAMES, float("nan"))
    one, spread = curves.containers[batch], measured.spreads[batch]
    known = np.flatnonzero(np.isfinite(spread.cv))
    nearest = known[np.argmin(np.abs(spread.days[known] - day))] if known.size else None
    return {
        "length": one.length_at(day),
        "joined": one.joined_at(day),
        "length_cv": float("nan") if nearest is None else float(spread.cv[nearest]),
    }


def _long_enough(log: Logbook, values: Mapping[str, dict[str, float]]) -> tuple[float | None, str]:
    wanted = log.trial.get("size_to_move_mm")
    if wanted is not None:
        return float(str(wanted)), "trial"
    mean = _mean([row["length"] for row in values.values()])
    return (round(2.0 * mean) / 2.0, "these fish") if np.isfinite(mean) else (None, "none")


def _joint(row: dict[str, float], survival: float, long_mm: float | None) -> float:
    if long_mm is None:
        return float("nan")
    if survival <= 0:
        return 0.0
    return FRY * survival * float(share_at_least(long_mm, row["length"], row["length_cv"]))
