"""What must be said beside a survival answer."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from rearkit.batch.remark import Remark
from rearkit.batch.survival import BatchSurvival
from rearkit.design.claims import Claim
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay
from rearkit.design.layout_remarks import about_the_claim, about_the_day, this_look
from rearkit.design.sensitivity import LEANS_TESTED, LEANS_USUAL
from rearkit.logbook.logbook import Logbook


def remarks_of(
    log: Logbook,
    design: Design,
    by_unit: pd.DataFrame,
    by_batch: dict[str, BatchSurvival],
    chosen: JudgingDay,
    comparison: Comparison | None,
    sensitivity: pd.DataFrame,
    level: Claim,
    earlier_looks: int,
) -> Iterator[Remark]:
    """Yield every remark that the log and the result call for, most important first."""
    if comparison is not None:
        yield from about_the_claim(design, comparison, level, by_unit)
    yield from design.remarks
    yield from about_the_day(log, design, chosen)
    if design.tier != "single" and (chosen.interim or earlier_looks):
        yield this_look(log, earlier_looks)
    yield from about_the_counts(by_unit, by_batch, comparison, sensitivity)
    if comparison is None:
        yield Remark(code="nothing_to_compare", values={"n": len(by_unit)})


def about_the_counts(
    by_unit: pd.DataFrame,
    by_batch: dict[str, BatchSurvival],
    comparison: Comparison | None,
    sensitivity: pd.DataFrame,
) -> Iterator[Remark]:
    """Yield what the counts leave open: unknown starts, no last count, missing fish, ranges."""
    unknown = sorted(b for b, s in by_batch.items() if not s.start_known)
    if unknown:
        yield Remark(code="start_unknown", values={"batches": unknown})
    unseen = sorted(b for b, s in by_batch.items() if not s.final_count)
    if unseen:
        yield Remark(code="no_final_count", values={"batches": unseen})
    silent = sorted(b for b, s in by_batch.items() if not s.dead_recorded)
    if silent:
        yield Remark(code="dead_not_recorded", values={"batches": silent})
    missing = float(by_unit["missing"].sum())
    if missing >= 0.5 and by_unit["dead_recorded"].any():
        yield Remark(
            code="missing_fish",
            values={"missing": missing, "start": float(by_unit["start_best"].sum())},
        )
    ranged = (by_unit["start_high"] > by_unit["start_low"]).any()
    if ranged and comparison is not None:
        against = LEANS_USUAL if comparison.estimate > 0 else LEANS_TESTED
        lean = float(sensitivity.set_index("way").at[against, "difference"])
        yield Remark(
            code="count_ranges", variant="holds" if lean * comparison.estimate > 0 else "turns"
        )
    ill = sum(s.removed_ill for s in by_batch.values())
    if ill >= 0.5:
        yield Remark(code="ill_removed", values={"n_ill": ill})
