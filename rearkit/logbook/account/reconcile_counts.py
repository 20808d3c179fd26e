"""Bring the counts of a batch into line: none can be below what came after it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.logbook.account.ledger import Ledger
from rearkit.logbook.doubts.catalogue import finding_of
from rearkit.logbook.doubts.findings import Finding
from rearkit.logbook.parse.counts import Count
from rearkit.logbook.read.frames import Frames

Floats = NDArray[np.float64]
LONG_GAP_DAYS = 3.0  # from here on a stretch without a look is told to the keeper


@dataclass(frozen=True, kw_only=True)
class Said:
    """What is to be said of a batch: a key of the catalogue, where, and the values for its words.

    ``interval`` is the one between looks that it concerns, -1 for the start count.
    """

    key: str
    interval: int
    values: dict[str, object]


def reconcile_counts(ledger: Ledger, *, possible: bool) -> tuple[list[Said], bool]:
    """Hold every count against what is accounted for after it, from the last one back to the start.

    Parameters
    ----------
    ledger : Ledger
        What was typed; it stays as it is.
    possible : bool
        Whether any history of whole fish fits it.

    Returns
    -------
    said : list of Said
        What is to be said.
    adds_up : bool
        Whether the fish add up.
    """
    said: list[Said] = []
    needed = np.zeros(3)
    for i in range(ledger.age_to.size - 1, -1, -1):
        if ledger.counted[i]:
            said += _rises(ledger.alive[i], i, needed)
            needed = _raised(ledger.alive[i], needed)
        gone = ledger.dead[i] + ledger.removed[i]
        needed = needed + gone - ledger.added[i, ::-1]
        needed = np.maximum(needed, 0.0)
    if not ledger.start_known:
        values: dict[str, object] = {"least": _number(needed[1])}
        said.append(Said(key="start-unknown", interval=-1, values=values))
        return said, True
    if needed[0] > ledger.start[2] or not possible:
        said.append(_over_account(ledger, needed))
        return said, False
    if needed[0] > ledger.start[0]:
        values = {"start": _span(ledger.start), "least": _at_least(needed[0])}
        said.append(Said(key="start-tightened", interval=-1, values=values))
    return said, True


def _raised(count: Floats, needed: Floats) -> Floats:
    """Return a count that is at least what came after it."""
    if needed[0] > count[2]:
        return np.array([needed[0], needed[0], max(needed[0], needed[2])])
    return np.maximum(count, [needed[0], min(needed[1], count[2]), needed[0]])


def _rises(count: Floats, i: int, needed: Floats) -> list[Said]:
    if needed[0] <= count[2]:
        return []
    values: dict[str, object] = {"alive": _span(count), "least": _at_least(needed[0])}
    return [Said(key="alive-rises", interval=i, values=values)]


def _over_account(ledger: Ledger, needed: Floats) -> Said:
    values: dict[str, object] = {
        "start": _span(ledger.start),
        "least": _at_least(needed[0]),
        "dead": _number(ledger.dead[:, 0].sum()),
        "removed": _number(ledger.removed[:, 0].sum()),
        "added": _number(ledger.added[:, 2].sum()),
    }
    return Said(key="does-not-add-up", interval=-1, values=values)


def _number(x: float) -> float:
    return float(round(x, 1))


def _at_least(x: float) -> int:
    return math.ceil(x - 1e-9)


def _span(count: Floats) -> Count:
    low, best, high = (_number(x) for x in count)
    return Count(low=low, best=best, high=high, text="")


def place_finding(said: Said, batch: pd.Series, ledger: Ledger, frames: Frames) -> Finding:
    """Give a finding its sheet, row, column and cell."""
    row = int(ledger.rows[said.interval]) if said.interval >= 0 else 0
    sheet, column = ("Daily", "alive") if row else ("Batches", "start_count")
    if said.interval >= 0 and not row:
        column = "end_count"
    row = row or int(batch["sheet_row"])
    at = frames.at(sheet, row, column)
    return finding_of(said.key, at, batch=ledger.batch, values=said.values)


def gap_findings(ledger: Ledger, frames: Frames) -> list[Finding]:
    """Tell every stretch of days in which nobody looked for dead fish."""
    found = []
    for i in np.flatnonzero(ledger.days > LONG_GAP_DAYS):
        key = "not-looked/deaths" if ledger.dead[i, 2] > 0 else "not-looked"
        at = frames.at("Daily", int(ledger.rows[i]), "dead")
        values = {"age_from": _number(ledger.age_from[i]), "age_to": _number(ledger.age_to[i])}
        found.append(finding_of(key, at, batch=ledger.batch, values=values))
    return found


def end_findings(batch: pd.Series, ledger: Ledger, frames: Frames) -> list[Finding]:
    """Ask about a batch that ended without a count of the fish that were left."""
    if pd.isna(batch["ended"]) or ledger.counted[-1] or batch["end_reason"] == "moved":
        return []
    at = frames.at("Batches", int(batch["sheet_row"]), "end_count")
    return [finding_of("end-not-counted", at, batch=ledger.batch, values={"ended": batch["ended"]})]
