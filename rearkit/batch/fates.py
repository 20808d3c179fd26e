"""The lines of a log, and what became of the fish of each between one look and the next."""

from __future__ import annotations

import numpy as np
import pandas as pd

from rearkit.batch.lines import Line, find_lines
from rearkit.logbook.account.account import fate_frame
from rearkit.logbook.account.looks import as_counted
from rearkit.logbook.logbook import Logbook

ENDS = ("low", "best", "high")


def lines_of(log: Logbook, compare: str = "method") -> dict[str, Line]:
    """Follow the fish of a log through the containers they were moved to, once for all questions.

    Parameters
    ----------
    log : Logbook
    compare : str
        The column of Batches that tells methods apart.

    Returns
    -------
    dict of Line
        By the name of its first batch.
    """
    found = log.once(
        ("lines", compare), lambda: find_lines(log.batches, log.daily, compare=compare)
    )
    return {line.name: line for line in found}


def fates_of(log: Logbook, compare: str = "method") -> dict[str, pd.DataFrame]:
    """Return the fate of every line that adds up, as rows like those of ``log.fates``.

    Returns
    -------
    dict of DataFrame
        One row a look: ages, at risk, found dead, missing, removed, added, and the typed counts.
        A line whose cells no history fits is not in it.
    """

    def work() -> dict[str, pd.DataFrame]:
        lines = lines_of(log, compare)
        fates = {name: _fate(line) for name, line in lines.items() if not line.stopped}
        return {name: fate for name, fate in fates.items() if fate is not None}

    return log.once(("fates", compare), work)


def accounts_of(log: Logbook, compare: str = "method") -> pd.DataFrame:
    """Return the account of every line in ``fates_of``, as rows like those of ``log.account``.

    Returns
    -------
    DataFrame, indexed by line
        ``batch``, ``start_low/best/high``, ``start_known``, ``dead_recorded``.
    """
    recorded = log.account.set_index("batch")["dead_recorded"].astype(bool)
    rows = []
    for name, fate in fates_of(log, compare).items():
        line = lines_of(log, compare)[name]
        start = line.looks.start
        best = float(fate["at_risk"].iloc[0])
        known = line.looks.start_known
        rows.append(
            {
                "batch": name,
                "start_low": float(start[0]) if known else best,
                "start_best": best,
                "start_high": float(start[2]) if known else best,
                "start_known": known,
                "dead_recorded": any(bool(recorded.get(b, False)) for b in line.batches),
            }
        )
    columns = ["batch", *(f"start_{e}" for e in ENDS), "start_known", "dead_recorded"]
    return pd.DataFrame(rows, columns=columns).set_index("batch", drop=False)


def _fate(line: Line) -> pd.DataFrame | None:
    looks, history = line.looks, as_counted(line.looks)
    if history is None:
        return None
    frame = fate_frame(line.name, looks, history)
    if len(frame):
        return frame
    row: dict[str, object] = dict.fromkeys(frame.columns, 0.0)
    row |= {"batch": line.name, "age_from": looks.age_start, "age_to": looks.age_start}
    row |= {"at_risk": history.start} | {f"alive_{e}": np.nan for e in ENDS}
    return pd.DataFrame([row])
