"""What must be said beside the change of a death rate around an event."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from rearkit.answers.interruption.windows import Happening, disturbed
from rearkit.batch.remark import Remark
from rearkit.logbook.logbook import Logbook

FIRST_WEEK = 7.0  # losses are said to be heaviest in it: common practice, no source
MOST_IN_ONE = 0.5  # one container with a larger share of the deaths is named


def remarks_of(
    log: Logbook,
    events: tuple[Happening, ...],
    event: Happening | None,
    table: pd.DataFrame,
    growth: pd.DataFrame,
    before: float,
    after: float,
) -> Iterator[Remark]:
    """Yield what keeps a change of the death rate from being the cost of the event."""
    if event is None:
        return
    if len(events) > 1:
        yield Remark(code="several_events", values={"n": len(events), "number": event.number})
    hit = table[table["role"] == "affected"]
    if hit.empty:
        return
    yield Remark(code="not_dealt_out")
    yield from _about_controls(log, event, table)
    yield from _about_the_deaths(hit)
    young = hit.loc[hit["age"] - before < FIRST_WEEK, "batch"]
    if len(young):
        yield Remark(code="first_week", values={"batches": list(young)})
    zero = log.batches.set_index("batch")["age_zero"]
    others = tuple(e for e in events if e.number != event.number)
    mixed = [
        b
        for b, age in zip(hit["batch"], hit["age"], strict=True)
        if disturbed(others, b, zero[b], age - before, age + event.days + after)
    ]
    if mixed:
        yield Remark(code="other_events_inside", values={"batches": mixed})
    if growth.empty:
        yield Remark(code="growth_not_measured")


def _about_controls(log: Logbook, event: Happening, table: pd.DataFrame) -> Iterator[Remark]:
    beside = table[table["role"] == "control"]
    if beside.empty:
        yield Remark(code="no_controls")
        return
    zero = log.batches.set_index("batch")["age_zero"]
    apart = [
        b
        for b, age in zip(beside["batch"], beside["age"], strict=True)
        if zero[b] + pd.Timedelta(days=age) != event.started
    ]
    if apart:
        yield Remark(code="controls_on_other_days", values={"batches": apart})
    if beside["deaths_before"].sum() + beside["deaths_after"].sum() < 0.5:
        yield Remark(code="controls_without_deaths")


def _about_the_deaths(hit: pd.DataFrame) -> Iterator[Remark]:
    shared = hit[[c for c in hit if c.startswith(("deaths_low", "deaths_high"))]].sum()
    loose = (shared["deaths_high_before"] - shared["deaths_low_before"]) + (
        shared["deaths_high_after"] - shared["deaths_low_after"]
    )
    if loose > 1e-6:
        yield Remark(code="deaths_shared", values={"n": float(loose)})
    missing = float(hit["missing_before"].sum() + hit["missing_after"].sum())
    if missing >= 0.5:
        yield Remark(code="missing_around", values={"missing": missing})
    total = float(hit["deaths_after"].sum())
    most = hit.loc[hit["deaths_after"].idxmax()]
    if len(hit) > 1 and total > 0 and most["deaths_after"] > MOST_IN_ONE * total:
        yield Remark(
            code="one_container_holds_most",
            values={"batch": most["batch"], "share": float(most["deaths_after"]) / total},
        )
