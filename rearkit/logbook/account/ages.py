"""The age clock: from which day the fish of every batch are counted as old."""

from __future__ import annotations

import pandas as pd

DAY = pd.Timedelta(1, "D")
"""By which a span of time is divided to count its days, and days are multiplied to give a span.

Written with its unit: ``pd.Timedelta(days=1)`` makes pandas 2 ask numpy for a span without a unit,
which numpy 2.5 warns of.
"""

CLOCKS = {"hatch": "hatched", "free_swimming": "free_swimming", "start": "started"}


def choose_clock(batches: pd.DataFrame, declared: str | None) -> str:
    """Choose the event that ages are counted from.

    Parameters
    ----------
    batches : DataFrame
        One row a batch, with the dates ``hatched``, ``free_swimming`` and ``started``.
    declared : str or None
        ``age_from`` of the Trial sheet.

    Returns
    -------
    str
        ``"hatch"``, ``"free_swimming"`` or ``"start"``: the declared one, else the first whose
        date is known for every batch.
    """
    if declared in CLOCKS:
        return str(declared)
    for clock, column in CLOCKS.items():
        if batches[column].notna().all():
            return clock
    return "start"


def set_clock(batches: pd.DataFrame, clock: str) -> pd.DataFrame:
    """Add ``age_zero`` (date) and ``clock`` to every batch.

    A batch without the date of the chosen clock is counted from the nearest later event that it
    has; its ``clock`` says so, and a comparison of unequal clocks costs a step of the claim ladder.
    """
    names = list(CLOCKS)
    order = names[names.index(clock) :]
    out = batches.copy()
    out["age_zero"] = pd.NaT
    out["age_zero"] = out["age_zero"].astype("datetime64[ns]")
    out["clock"] = None
    for name in order:
        empty = out["age_zero"].isna() & out[CLOCKS[name]].notna()
        out.loc[empty, "age_zero"] = out.loc[empty, CLOCKS[name]]
        out.loc[empty, "clock"] = name
    return out


def add_ages(frame: pd.DataFrame, batches: pd.DataFrame, *, date: str = "date") -> pd.DataFrame:
    """Add ``age_days``, the days since ``age_zero`` of the batch, to a frame with a date."""
    zero = frame["batch"].map(batches.set_index("batch")["age_zero"])
    days = (frame[date] - pd.to_datetime(zero)) / DAY
    return frame.assign(age_days=days.astype(float))
