"""Bring the counts of a batch into line: none can be below what came after it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.logbook.account.ledger import Ledger
from rearkit.logbook.doubts.findings import Finding, Severity
from rearkit.logbook.read.frames import Frames

Floats = NDArray[np.float64]
LONG_GAP_DAYS = 3.0  # from here on a stretch without a look is told to the keeper


@dataclass(frozen=True, kw_only=True)
class Said:
    """A finding about a batch whose place in the sheets is still to be looked up."""

    severity: Severity
    code: str
    interval: int  # -1 is the start count
    seen: str
    done: str
    settle: str


def tighten(ledger: Ledger) -> tuple[list[Said], bool]:
    """Raise every count to what is accounted for after it, from the last count back to the start.

    Returns what is to be said, and whether the fish add up. Changes ``ledger`` in place.
    """
    said: list[Said] = []
    needed = np.zeros(3)
    for i in range(ledger.age_to.size - 1, -1, -1):
        if ledger.counted[i]:
            said += _raise_count(ledger, i, needed)
            needed = ledger.alive[i].copy()
        gone = ledger.dead[i] + ledger.removed[i]
        needed = needed + gone - ledger.added[i, ::-1]
        needed = np.maximum(needed, 0.0)
    if not ledger.start_known:
        ledger.start[:] = needed
        n = _number(needed[1])
        said.append(
            Said(
                severity="NOTE",
                code="start-unknown",
                interval=-1,
                seen="the start count is not known",
                done=f"counted back from the fish that were seen later: at least {n}",
                settle="Count the fry when they enter the container; fry lost before the first "
                "count cannot be seen, so survival of this batch is 'at best'.",
            )
        )
        return said, True
    if needed[0] > ledger.start[2]:
        said.append(_over_account(ledger, needed))
        return said, False
    if needed[0] > ledger.start[0]:
        said.append(
            Said(
                severity="NOTE",
                code="start-tightened",
                interval=-1,
                seen=f"start count {_span(ledger.start)}, but {_at_least(needed[0])} fish are "
                "accounted for later",
                done=f"the start is taken as at least {_at_least(needed[0])}",
                settle="Nothing to do; the range is now narrower.",
            )
        )
    ledger.start[:] = _raised(ledger.start, needed)
    return said, True


def _raised(count: Floats, needed: Floats) -> Floats:
    """Tighten a (low, best, high) count from below; a range keeps its middle as the best value."""
    low, best, high = count
    if needed[0] > low:
        low = needed[0]
        best = max(best, low) if np.isinf(high) else (low + high) / 2.0
    return np.array([low, min(max(best, needed[1]), high), high])


def _raise_count(ledger: Ledger, i: int, needed: Floats) -> list[Said]:
    count = ledger.alive[i].copy()
    if needed[0] <= count[2]:
        ledger.alive[i] = _raised(count, needed)
        return []
    ledger.alive[i] = [needed[0], needed[0], max(needed[0], needed[2])]
    return [
        Said(
            severity="ASK",
            code="alive-rises",
            interval=i,
            seen=f"{_span(count)} alive here, but {_at_least(needed[0])} are accounted for later "
            "and none was added",
            done=f"this count is taken as {_at_least(needed[0])}, the least it can have been",
            settle="Was this count too low, or were fish added? Correct the count or fill 'added'.",
        )
    ]


def _over_account(ledger: Ledger, needed: Floats) -> Said:
    dead, removed = ledger.dead[:, 0].sum(), ledger.removed[:, 0].sum()
    added = ledger.added[:, 2].sum()
    return Said(
        severity="STOP",
        code="does-not-add-up",
        interval=-1,
        seen=f"start count {_span(ledger.start)}, but {_at_least(needed[0])} fish are accounted "
        f"for ({_number(dead)} dead and {_number(removed)} removed in all, {_number(added)} added)",
        done="the batch is left out of every result",
        settle="Check the start count and the dead, removed and alive of this batch; "
        "if fish were put in, fill 'added'.",
    )


def _number(x: float) -> str:
    return f"{round(x, 1):g}"


def _at_least(x: float) -> str:
    return f"{math.ceil(x - 1e-9)}"


def _span(count: Floats) -> str:
    low, _, high = count
    if low == high:
        return _number(low)
    return f"{_number(low)} or more" if np.isinf(high) else f"{_number(low)} to {_number(high)}"


def place_finding(said: Said, batch: pd.Series, ledger: Ledger, frames: Frames) -> Finding:
    """Give a finding its sheet, row, column and cell."""
    row = int(ledger.rows[said.interval]) if said.interval >= 0 else 0
    sheet, column = ("Daily", "alive") if row else ("Batches", "start_count")
    if said.interval >= 0 and not row:
        column = "end_count"
    row = row or int(batch["sheet_row"])
    return Finding(
        severity=said.severity,
        code=said.code,
        scope="batch",
        sheet=sheet,
        row=row,
        column=column,
        cell=frames.address(sheet, row, column),
        batch=ledger.batch,
        seen=said.seen,
        done=said.done,
        settle=said.settle,
    )


def gap_findings(ledger: Ledger, frames: Frames) -> list[Finding]:
    """Tell every stretch of days in which nobody looked for dead fish."""
    found = []
    for i in np.flatnonzero(ledger.days > LONG_GAP_DAYS):
        row = int(ledger.rows[i])
        lost = ledger.dead[i, 2] > 0
        found.append(
            Finding(
                severity="NOTE",
                code="not-looked",
                scope="row",
                sheet="Daily",
                row=row or None,
                column="dead",
                cell=frames.address("Daily", row, "dead") if row else None,
                batch=ledger.batch,
                seen=f"no look from age {_number(ledger.age_from[i])} to "
                f"{_number(ledger.age_to[i])} days",
                done="deaths in between are known only to that span"
                if lost
                else "kept as days on which nobody looked",
                settle="If you looked and found none dead, write 0; blank means you did not look.",
            )
        )
    return found
