"""Survival of every unit of a design to the judging day, and its comparison between two methods."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from rearkit.batch.survival import BatchSurvival, survive
from rearkit.design.comparison import Comparison, compare_units
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.logbook.logbook import Logbook
from rearkit.stats.compare.unit_t import empirical_logit


def follow_batches(
    log: Logbook, design: Design, chosen: JudgingDay, seed: int
) -> dict[str, BatchSurvival]:
    """Follow every batch of a design from the landmark to its day; one seed gives all of them."""
    accounts = log.account.set_index("batch", drop=False)
    fates = dict(iter(log.fates.groupby("batch", sort=False)))
    seeds = np.random.SeedSequence(seed).generate_state(len(log.batches))
    seed_of = dict(zip(log.batches["batch"], seeds, strict=True))
    followed: dict[str, BatchSurvival] = {}
    for b in (b for batches in design.units["batches"] for b in batches):
        key = ("survival", b, chosen.landmark, chosen.day_of(b), seed)
        if key not in log.worked_out:
            log.worked_out[key] = survive(
                fates[b],
                accounts.loc[b],
                landmark=chosen.landmark,
                day=chosen.day_of(b),
                seed=int(seed_of[b]),
            )
        followed[b] = log.worked_out[key]
    return followed


def survival_by_unit(design: Design, by_batch: dict[str, BatchSurvival]) -> pd.DataFrame:
    """One row a unit; the batches of one unsplit clutch are added up and their shares averaged."""
    rows = []
    for unit in design.units.itertuples(index=False):
        parts = [by_batch[b] for b in unit.batches]
        draws = np.mean([p.draws for p in parts], axis=0)
        row: dict[str, Any] = {
            "unit": unit.unit,
            "block": unit.block,
            "method": unit.method,
            "tested": unit.tested,
        }
        for name in (
            "start_low",
            "start_best",
            "start_high",
            "added",
            "dead",
            "removed",
            "missing",
        ):
            row[name] = float(sum(getattr(p, name) for p in parts))
        row["alive"] = float(sum(p.alive for p in parts))
        row["survival"] = float(np.mean([p.survival for p in parts]))
        row["survival_low"] = float(np.quantile(draws, 0.025))
        row["survival_high"] = float(np.quantile(draws, 0.975))
        for name in ("look_low", "look_high", "count_low", "count_high"):
            row[name] = float(np.mean([getattr(p, name) for p in parts]))
        row["dead_recorded"] = any(p.dead_recorded for p in parts)
        row["at_best"] = not all(p.start_known and p.final_count for p in parts)
        rows.append(row)
    return pd.DataFrame(rows)


def compare_unit_survival(
    design: Design, by_unit: pd.DataFrame, by_batch: dict[str, BatchSurvival]
) -> Comparison | None:
    """Compare survival by unit; judged on logits where nearly all or nearly none live."""
    if design.tier == "single":
        return None
    values = by_unit.set_index("unit")["survival"]
    logits = None
    if values.mean() > 0.9 or values.mean() < 0.1:
        logits = pd.Series(
            {
                unit.unit: float(
                    np.mean(
                        [
                            empirical_logit(by_batch[b].logit_alive, by_batch[b].logit_n)
                            for b in unit.batches
                        ]
                    )
                )
                for unit in design.units.itertuples(index=False)
            }
        )
    return compare_units(design, values, test_scale=logits)
