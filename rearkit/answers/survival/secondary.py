"""Beside the headline: stages, hazard, days lived. Estimates only, never a second verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.batch.fates import fates_of
from rearkit.batch.stages import stages_by_batch
from rearkit.batch.survival import BatchSurvival
from rearkit.design.comparison import Comparison, compare_units, unit_means
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.logbook.logbook import Logbook
from rearkit.stats.survival.lifetable import restricted_mean

Floats = NDArray[np.float64]
FEWEST_FISH = 30  # a unit; with fewer, a rate ratio leans too much on single fish


@dataclass(frozen=True, kw_only=True, eq=False)
class SecondaryOutcomes:
    """What was measured beside survival to the day, on the same units.

    Attributes
    ----------
    stages : DataFrame
        One row a batch and stage: ``age_from``, ``age_to``, ``z_per_day``, ``survival``.
    hazard : Comparison or None
        Difference of mean log death rates (deaths over fish-days): its exponential is the hazard
        ratio. None where a unit began with fewer than ``FEWEST_FISH``.
    days_lived : Comparison or None
        Difference of the mean days lived from the landmark to the day.
    shape : Comparison or None
        Difference of log observed over expected deaths.
    fair_minimum : dict
        The fewest units with which a fair test could settle anything.
    """

    stages: pd.DataFrame
    hazard: Comparison | None
    days_lived: Comparison | None
    shape: Comparison | None
    fair_minimum: dict[str, int]

    def facts(self) -> dict[str, Any]:
        """Return the numbers, flat."""
        facts: dict[str, Any] = {f"fair_minimum_{k}": v for k, v in self.fair_minimum.items()}
        if self.hazard is not None:
            facts |= _ratio_facts("hazard_ratio", self.hazard)
        if self.shape is not None:
            facts |= _ratio_facts("observed_expected_ratio", self.shape)
        if self.days_lived is not None:
            facts |= {
                "days_lived_difference": self.days_lived.estimate,
                "days_lived_conf_low": self.days_lived.conf_low,
                "days_lived_conf_high": self.days_lived.conf_high,
            }
        facts["stages"] = self.stages.to_dict("records")
        return facts


def _ratio_facts(name: str, c: Comparison) -> dict[str, float | None]:
    def exp(x: float | None) -> float | None:
        return None if x is None else float(np.exp(x))

    return {
        name: exp(c.estimate),
        f"{name}_conf_low": exp(c.conf_low),
        f"{name}_conf_high": exp(c.conf_high),
    }


def secondary_outcomes(
    log: Logbook,
    design: Design,
    by_batch: dict[str, BatchSurvival],
    chosen: JudgingDay,
    stages: Sequence[float],
    minimum: dict[str, int],
) -> SecondaryOutcomes:
    """Compute the secondary outcomes of a survival comparison on the same units.

    Parameters
    ----------
    log, design, by_batch, chosen
        As in ``compare_survival``.
    stages : sequence of float
        Ages at which a stage begins; the last one runs to the end.
    minimum : dict
        The fewest units of a fair test.

    Returns
    -------
    SecondaryOutcomes
        Comparisons are None with one method.
    """
    fates = fates_of(log, design.compare)
    table = stages_by_batch(design.units, fates, stages)
    if design.tier == "single":
        return SecondaryOutcomes(
            stages=table, hazard=None, days_lived=None, shape=None, fair_minimum=minimum
        )
    few = any(
        sum(by_batch[b].start_best for b in batches) < FEWEST_FISH
        for batches in design.units["batches"]
    )
    rates = {b: _log_rate(fates[b], chosen) for b in by_batch}
    lived = {
        b: float(
            restricted_mean(
                s.curve["age"].to_numpy(dtype=float) - chosen.landmark,
                s.curve["survival"].to_numpy(dtype=float),
                chosen.day - chosen.landmark,
            )
        )
        for b, s in by_batch.items()
    }
    shape = _observed_expected(design, fates, chosen)
    return SecondaryOutcomes(
        stages=table,
        hazard=None if few else compare_units(design, unit_means(design, rates)),
        days_lived=compare_units(design, unit_means(design, lived)),
        shape=compare_units(design, unit_means(design, shape)),
        fair_minimum=minimum,
    )


def _log_rate(f: pd.DataFrame, chosen: JudgingDay) -> float:
    """Return log((deaths + ½)/fish-days) of one batch between the landmark and the day."""
    gone = (f["dead_found"] + f["missing"]).to_numpy(dtype=float)
    span = (f["age_to"] - f["age_from"]).to_numpy(dtype=float)
    inside = np.clip(
        np.minimum(f["age_to"], chosen.day) - np.maximum(f["age_from"], chosen.landmark), 0.0, None
    ).to_numpy(dtype=float)
    share = inside / np.maximum(span, 1e-12)
    fish_days = ((f["at_risk"].to_numpy(dtype=float) - gone / 2.0) * inside).sum()
    return float(np.log(((gone * share).sum() + 0.5) / max(fish_days, 0.5)))


def _observed_expected(
    design: Design, fates: dict[str, pd.DataFrame], chosen: JudgingDay
) -> dict[str, float]:
    """log((O + ½)/(E + ½)) of every batch, E from the hazard of its block with labels removed."""
    edges = np.arange(np.floor(chosen.landmark), np.ceil(chosen.day) + 1.0)
    deaths, at_risk = {}, {}
    for batches in design.units["batches"]:
        for b in batches:
            deaths[b], at_risk[b] = _daily_grid(fates[b], edges)
    out: dict[str, float] = {}
    block = design.units["block"].fillna("all")
    for _, units in design.units.groupby(block):
        members = [b for bs in units["batches"] for b in bs]
        d = np.sum([deaths[b] for b in members], axis=0)
        n = np.sum([at_risk[b] for b in members], axis=0)
        rate = np.divide(d, n, out=np.zeros_like(d), where=n > 0)
        for b in members:
            expected = float((rate * at_risk[b]).sum())
            out[b] = float(np.log((deaths[b].sum() + 0.5) / (expected + 0.5)))
    return out


def _daily_grid(f: pd.DataFrame, edges: Floats) -> tuple[Floats, Floats]:
    """Deaths (shared by days) and fish at risk in every day of the grid."""
    start = f["age_from"].to_numpy(dtype=float)[:, None]
    end = f["age_to"].to_numpy(dtype=float)[:, None]
    overlap = np.clip(np.minimum(end, edges[1:]) - np.maximum(start, edges[:-1]), 0.0, None)
    share = overlap / np.maximum(end - start, 1e-12)
    gone = (f["dead_found"] + f["missing"]).to_numpy(dtype=float)[:, None]
    n = f["at_risk"].to_numpy(dtype=float)[:, None]
    return (gone * share).sum(axis=0), (n * overlap).sum(axis=0)
