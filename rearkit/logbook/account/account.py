"""The account of every batch: start = alive + dead + removed + missing, and nothing clipped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.logbook.account.ages import add_ages, choose_clock, set_clock
from rearkit.logbook.account.bounds import bounds_on, holding_both, least_alive
from rearkit.logbook.account.ledger import ENDS, REASONS, Ledger, with_arrivals, write_ledger
from rearkit.logbook.account.looks import History, Looks, as_counted
from rearkit.logbook.account.reconcile_counts import (
    end_findings,
    gap_findings,
    place_finding,
    reconcile_counts,
)
from rearkit.logbook.doubts.findings import Finding
from rearkit.logbook.read.frames import Frames


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
    told = add_ages(with_arrivals(frames.daily, batches), batches)
    by_batch = dict(iter(told.groupby("batch", sort=False)))
    for i, (_, batch) in enumerate(batches.iterrows()):
        if stopped[i]:
            continue
        ledger = write_ledger(batch, by_batch.get(batch["batch"], daily.iloc[:0]))
        looks = ledger.looks()
        history = as_counted(looks)
        said, adds_up = reconcile_counts(ledger, possible=history is not None)
        history = history if adds_up else None
        findings += [place_finding(finding, batch, ledger, frames) for finding in said]
        findings += gap_findings(ledger, frames) if adds_up else []
        findings += end_findings(batch, ledger, frames) if adds_up else []
        stopped[i] = not adds_up
        accounts.append(_account(ledger, looks, history))
        if history is not None:
            fates.append(fate_frame(ledger.batch, looks, history))
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


def _account(ledger: Ledger, looks: Looks, history: History | None) -> dict[str, object]:
    row: dict[str, object] = {c: 0.0 for c in ACCOUNT_COLUMNS if c.startswith("removed")}
    row |= {f"removed_{why}": n for why, n in ledger.by_reason.items()}
    row |= {
        "batch": ledger.batch,
        "start_known": ledger.start_known,
        "added": ledger.added[:, 1].sum(),
        "dead": ledger.dead[:, 1].sum(),
        "removed": ledger.removed[:, 1].sum(),
        "ever_counted": ledger.start_known or bool(looks.full.any()),
        "final_count": bool(looks.full[-1]),
        "age_first": ledger.age_from[0],
        "age_last": ledger.age_to[-1],
        "days": ledger.age_to[-1] - ledger.age_from[0],
        "looks": ledger.age_to.size,
        "longest_gap": ledger.days.max(),
        "dead_recorded": ledger.dead_recorded,
        "adds_up": history is not None,
    }
    if history is None:
        row |= {f"start_{e}": ledger.start[j] for j, e in enumerate(ENDS)}
        return row | {f"{n}_{e}": np.nan for n in ("alive", "missing") for e in ENDS}
    cells, _ = holding_both(looks.cells)
    bounds = bounds_on(cells, float(ledger.age_to[-1]))
    alive = (0.0, np.inf) if bounds is None else (bounds.alive_low, bounds.alive_high)
    start = (history.start,) * 3
    if ledger.start_known:
        low = max(float(ledger.start[0]), float(least_alive(cells)[0]))
        start = (low, history.start, float(ledger.start[2]))
    gone, came = cells.dead + cells.out, cells.into.sum(axis=0)
    lost = gone.sum(axis=0)
    missing = (
        max(start[0] + came[0] - lost[1] - alive[1], 0.0),
        float(history.missing.sum()),
        max(start[2] + came[1] - lost[0] - alive[0], 0.0),
    )
    row |= {
        "added": history.into.sum(),
        "dead": history.dead.sum(),
        "removed": history.out.sum(),
    }
    row |= dict(zip((f"start_{e}" for e in ENDS), start, strict=True))
    row |= dict(zip((f"missing_{e}" for e in ENDS), missing, strict=True))
    left = float(history.after[-1])
    return row | {"alive_low": alive[0], "alive_best": left, "alive_high": alive[1]}


def fate_frame(name: str, looks: Looks, history: History) -> pd.DataFrame:
    """Lay out what became of some fish from look to look, beside what was typed.

    Parameters
    ----------
    name : str
        The batch, or the first batch of a line.
    looks : Looks
        What was typed.
    history : History
        What became of the fish, as counted.

    Returns
    -------
    DataFrame
        One row a look, with the columns ``FATE_COLUMNS``.
    """
    frame = pd.DataFrame(
        {
            "batch": name,
            "age_from": looks.age_from,
            "age_to": looks.age,
            "at_risk": history.at_risk,
            "dead_found": history.dead,
            "missing": history.missing,
            "removed": history.out,
            "removed_ill": np.minimum(np.nan_to_num(looks.ill[:, 1]), history.out),
            "added": history.into,
        }
    )
    typed = {"dead": looks.dead, "removed": looks.out, "added": looks.into, "alive": looks.alive}
    for what, counts in typed.items():
        shown = np.where(looks.full[:, None], counts, np.nan) if what == "alive" else counts
        for j, end in enumerate(ENDS):
            frame[f"{what}_{end}"] = shown[:, j]
    return frame[FATE_COLUMNS]
