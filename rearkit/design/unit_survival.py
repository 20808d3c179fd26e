"""Survival of every unit of a design to the judging day, and its comparison between two methods."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from rearkit.batch.evidence import GRADES, Evidence, judge
from rearkit.batch.fates import accounts_of, fates_of, lines_of
from rearkit.batch.lines import Line
from rearkit.batch.survival import BatchSurvival, survive
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.logbook.logbook import Logbook


def follow_batches(
    log: Logbook, design: Design, chosen: JudgingDay, seed: int
) -> dict[str, BatchSurvival]:
    """Follow every line of a design from the landmark to its day."""
    names = [b for batches in design.units["batches"] for b in batches]
    return follow_lines(log, design.compare, names, chosen, seed)


def follow_lines(
    log: Logbook, compare: str, names: Sequence[str], chosen: JudgingDay, seed: int
) -> dict[str, BatchSurvival]:
    """Follow some lines of a log from the landmark to their day, each once for all questions.

    The draws of a line's own interval hang on the seed and on its counts alone, not on its name
    or its place in the log.
    """
    accounts = accounts_of(log, compare)
    fates = fates_of(log, compare)
    lines = lines_of(log, compare)
    followed: dict[str, BatchSurvival] = {}
    for b in names:
        day = chosen.day_of(b) if b in chosen.lasts or chosen.together else chosen.day
        key = ("survival", compare, b, chosen.landmark, day, chosen.near, seed)
        work = partial(
            survive,
            fates[b],
            accounts.loc[b],
            evidence_of(lines[b], chosen),
            landmark=chosen.landmark,
            day=day,
            seed=_seed(fates[b], seed),
        )
        followed[b] = log.once(key, work)
    return followed


def evidence_of(line: Line, chosen: JudgingDay) -> Evidence:
    """Return what the log proves of one line between the landmark and its day."""
    since = chosen.landmark if chosen.landmark > line.looks.age_start else None
    return judge(line, chosen.day_of(line.name), since=since, near=chosen.near)


def _seed(fates: pd.DataFrame, seed: int) -> int:
    counts = fates.select_dtypes("number").to_numpy(dtype=float)
    return zlib.crc32(np.ascontiguousarray(counts).tobytes(), seed % 2**32)


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
        row["grade"] = max((p.grade for p in parts), key=GRADES.index)
        row["at_best"] = not all(p.start_known and p.final_count for p in parts)
        rows.append(row)
    return pd.DataFrame(rows)
