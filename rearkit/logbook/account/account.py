"""The account of every batch: start = alive + dead + removed + missing, and nothing clipped."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.logbook.account.ages import add_ages, choose_clock, set_clock
from rearkit.logbook.account.follow_fish import Followed, follow
from rearkit.logbook.account.ledger import ENDS, REASONS, Ledger, write_ledger
from rearkit.logbook.account.reconcile_counts import gap_findings, place_finding, tighten
from rearkit.logbook.doubts.findings import Finding
from rearkit.logbook.read.frames import Frames

Floats = NDArray[np.float64]


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
        said, adds_up = tighten(ledger)
        followed = _follow_best(ledger) if adds_up else None
        findings += [place_finding(finding, batch, ledger, frames) for finding in said]
        findings += gap_findings(ledger, frames) if adds_up else []
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


ACCOUNT_COLUMNS = [
    "batch",
    *(f"start_{e}" for e in ENDS),
    "start_known",
    "added",
    "dead",
    "removed",
    *(f"removed_{why}" for why in REASONS),
    *(f"alive_{e}" for e in ENDS),
    "final_count",
    "ever_counted",
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
    followed = follow(
        ledger.start[1],
        ledger.dead[:, 1],
        ledger.removed[:, 1],
        ledger.added[:, 1],
        alive,
        ledger.days,
    )
    if not ledger.all_died:
        return followed
    dead = followed.dead + followed.missing
    return replace(followed, dead=dead, missing=np.zeros(dead.shape))


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
        "ever_counted": ledger.start_known or last >= 0,
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
    if ledger.all_died:
        row |= {f"missing_{e}": 0.0 for e in ENDS}
    elif last >= 0:
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
