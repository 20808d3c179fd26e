"""The account of every batch: start = alive + dead + removed + missing, and nothing clipped."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.logbook.clock import add_ages, choose_clock, set_clock
from rearkit.logbook.findings import Finding, Severity
from rearkit.logbook.follow import Followed, follow
from rearkit.logbook.frames import Frames
from rearkit.logbook.ledger import ENDS, Ledger, write_ledger

Floats = NDArray[np.float64]
LONG_GAP_DAYS = 3.0  # from here on a stretch without a look is told to the keeper


@dataclass(frozen=True, kw_only=True, eq=False)
class Settled:
    """The frames with ages, the account and fate of every batch, and what is to be said of them."""

    batches: pd.DataFrame
    daily: pd.DataFrame
    sizes: pd.DataFrame
    positions: pd.DataFrame
    account: pd.DataFrame
    fates: pd.DataFrame
    findings: list[Finding]
    age_from: str


def settle(frames: Frames) -> Settled:
    """Add up every batch and follow its fish from look to look.

    Parameters
    ----------
    frames : Frames
        What the reader made of the log.

    Returns
    -------
    Settled
        A batch whose fish do not add up is marked ``stopped`` and left out of ``fates``; the
        others go on.
    """
    declared = frames.trial.get("age_from")
    age_from = choose_clock(frames.batches, None if declared is None else str(declared))
    batches = set_clock(frames.batches, age_from)
    daily = add_ages(frames.daily, batches)
    accounts, fates, findings = [], [], []
    stopped = batches["stopped"].to_numpy(dtype=bool).copy()
    by_batch = dict(iter(daily.groupby("batch", sort=False)))
    for i, (_, batch) in enumerate(batches.iterrows()):
        if stopped[i]:
            continue
        ledger = write_ledger(batch, by_batch.get(batch["batch"], daily.iloc[:0]))
        said, adds_up = _tighten(ledger)
        followed = _follow_best(ledger) if adds_up else None
        findings += [_place(finding, batch, ledger, frames) for finding in said]
        findings += _gaps(ledger, frames) if adds_up else []
        stopped[i] = not adds_up
        accounts.append(_account(ledger, followed))
        if followed is not None:
            fates.append(_fates(ledger, followed))
    return Settled(
        batches=batches.assign(stopped=stopped),
        daily=daily,
        sizes=add_ages(frames.sizes, batches),
        positions=add_ages(frames.positions, batches),
        account=pd.DataFrame(accounts, columns=ACCOUNT_COLUMNS),
        fates=pd.concat(fates, ignore_index=True) if fates else pd.DataFrame(columns=FATE_COLUMNS),
        findings=findings,
        age_from=age_from,
    )


# ---- tightening: a count can never be below what came after it ------------------------------


@dataclass(frozen=True, kw_only=True)
class _Said:
    """A finding about a batch whose place in the sheets is still to be looked up."""

    severity: Severity
    code: str
    interval: int  # -1 is the start count
    seen: str
    done: str
    settle: str


def _tighten(ledger: Ledger) -> tuple[list[_Said], bool]:
    """Raise every count to what is accounted for after it, from the last count back to the start.

    Returns what is to be said, and whether the fish add up. Changes ``ledger`` in place.
    """
    said: list[_Said] = []
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
            _Said(
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
            _Said(
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


def _raise_count(ledger: Ledger, i: int, needed: Floats) -> list[_Said]:
    count = ledger.alive[i].copy()
    if needed[0] <= count[2]:
        ledger.alive[i] = _raised(count, needed)
        return []
    ledger.alive[i] = [needed[0], needed[0], max(needed[0], needed[2])]
    return [
        _Said(
            severity="ASK",
            code="alive-rises",
            interval=i,
            seen=f"{_span(count)} alive here, but {_at_least(needed[0])} are accounted for later "
            "and none was added",
            done=f"this count is taken as {_at_least(needed[0])}, the least it can have been",
            settle="Was this count too low, or were fish added? Correct the count or fill 'added'.",
        )
    ]


def _over_account(ledger: Ledger, needed: Floats) -> _Said:
    dead, removed = ledger.dead[:, 0].sum(), ledger.removed[:, 0].sum()
    added = ledger.added[:, 2].sum()
    return _Said(
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


def _place(said: _Said, batch: pd.Series, ledger: Ledger, frames: Frames) -> Finding:
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


def _gaps(ledger: Ledger, frames: Frames) -> list[Finding]:
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


# ---- the frames -----------------------------------------------------------------------------

ACCOUNT_COLUMNS = [
    "batch",
    *(f"start_{e}" for e in ENDS),
    "start_known",
    "added",
    "dead",
    "removed",
    *(f"removed_{why}" for why in ("sold", "given", "sick", "runt", "large", "measured", "other")),
    *(f"alive_{e}" for e in ENDS),
    "final_count",
    *(f"missing_{e}" for e in ENDS),
    "age_first",
    "age_last",
    "days",
    "looks",
    "longest_gap",
    "dead_recorded",
    "adds_up",
]
FATE_COLUMNS = [
    "batch",
    "age_from",
    "age_to",
    "at_risk",
    "dead_found",
    "missing",
    "removed",
    "removed_ill",
    "added",
    *(f"{name}_{e}" for name in ("dead", "removed", "added", "alive") for e in ENDS),
]


def _follow_best(ledger: Ledger) -> Followed:
    """Follow the best values, brought into line so that no count exceeds what was there."""
    alive = ledger.alive[:, 1].copy()
    now = float(ledger.start[1])
    for i in range(alive.size):
        now = max(now - ledger.dead[i, 1] - ledger.removed[i, 1] + ledger.added[i, 1], 0.0)
        if not np.isnan(alive[i]):
            alive[i] = now = min(alive[i], now)
    return follow(
        ledger.start[1],
        ledger.dead[:, 1],
        ledger.removed[:, 1],
        ledger.added[:, 1],
        alive,
        ledger.days,
    )


def _account(ledger: Ledger, followed: Followed | None) -> dict[str, object]:
    counted = np.flatnonzero(ledger.counted)
    last = int(counted[-1]) if counted.size else -1
    until = slice(0, last + 1)
    row: dict[str, object] = {f"removed_{why}": n for why, n in ledger.by_reason.items()}
    row = {c: 0.0 for c in ACCOUNT_COLUMNS if c.startswith("removed")} | row
    row |= {"batch": ledger.batch, "start_known": ledger.start_known}
    row |= {f"start_{e}": ledger.start[j] for j, e in enumerate(ENDS)}
    row |= {
        "added": ledger.added[:, 1].sum(),
        "dead": ledger.dead[:, 1].sum(),
        "removed": ledger.removed[:, 1].sum(),
        "final_count": last == ledger.age_to.size - 1,
        "age_first": ledger.age_from[0],
        "age_last": ledger.age_to[-1],
        "days": ledger.age_to[-1] - ledger.age_from[0],
        "looks": ledger.age_to.size,
        "longest_gap": ledger.days.max(),
        "dead_recorded": ledger.dead_recorded,
        "adds_up": followed is not None,
    }
    if followed is None:
        return row | {f"{n}_{e}": np.nan for n in ("alive", "missing") for e in ENDS}
    alive_best = float(
        ledger.start[1]
        + followed.added.sum()
        - (followed.dead + followed.missing + followed.removed).sum()
    )
    row |= {f"alive_{e}": np.nan for e in ENDS} | {"alive_best": alive_best}
    row |= {"dead": followed.dead.sum(), "removed": followed.removed.sum()}
    row |= {f"missing_{e}": np.nan for e in ENDS} | {"missing_best": followed.missing.sum()}
    if last >= 0:
        gone = (ledger.dead + ledger.removed)[until].sum(0)
        came = ledger.added[until].sum(0)
        low = ledger.start[0] + came[0] - gone[2] - ledger.alive[last, 2]
        high = ledger.start[2] + came[2] - gone[0] - ledger.alive[last, 0]
        row |= {"missing_low": max(low, 0.0), "missing_high": max(high, 0.0)}
    if last == ledger.age_to.size - 1:
        row |= {f"alive_{e}": ledger.alive[last, j] for j, e in enumerate(ENDS) if e != "best"}
    return row


def _fates(ledger: Ledger, followed: Followed) -> pd.DataFrame:
    frame = pd.DataFrame(
        {
            "batch": ledger.batch,
            "age_from": ledger.age_from,
            "age_to": ledger.age_to,
            "at_risk": followed.at_risk,
            "dead_found": followed.dead,
            "missing": followed.missing,
            "removed": followed.removed,
            "removed_ill": np.minimum(ledger.removed_ill[:, 1], followed.removed),
            "added": followed.added,
        }
    )
    for name in ("dead", "removed", "added", "alive"):
        for j, end in enumerate(ENDS):
            frame[f"{name}_{end}"] = getattr(ledger, name)[:, j]
    return frame[FATE_COLUMNS]
