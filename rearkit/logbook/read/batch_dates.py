"""Check the dates of every batch against each other."""

from __future__ import annotations

import pandas as pd

from rearkit.logbook.date_order import swapped
from rearkit.logbook.dates import FIRST_YEAR, LAST_YEAR
from rearkit.logbook.findings import shown
from rearkit.logbook.tables import Table
from rearkit.logbook.telling import Teller

LONGEST_DAYS = 2 * 366  # a batch reared for longer than this is a mistyped year
_FAR_DAYS = 10 * 366  # from one batch to the others
_BEFORE_START = (("spawned", "hatched"), ("hatched", "free_swimming"), ("spawned", "started"))
_EARLY = ("spawned", "hatched", "free_swimming")


def check_dates(table: Table, batches: pd.DataFrame, teller: Teller) -> pd.Series:
    """Find the batches whose dates make no sense.

    Parameters
    ----------
    table : Table
        The sheet Batches.
    batches : DataFrame
        The frame of batches; an impossible date that the batch can do without is blanked in it.
    teller : Teller

    Returns
    -------
    Series of bool
        Whether the batch must be left out.
    """
    middle = batches["started"].dropna().sort_values()
    near = middle.iloc[len(middle) // 2] if len(middle) else None
    stopped = []
    for i in batches.index:
        bad = _check_start(table, batches, i, near, teller)
        if not bad:
            _check_early(table, batches, i, teller)
            bad = _check_end(table, batches, i, teller)
        stopped.append(bad)
    return pd.Series(stopped, index=batches.index, dtype=bool)


def _stop(
    table: Table, batches: pd.DataFrame, i: int, column: str, teller: Teller, seen: str, settle: str
) -> bool:
    teller.tell(
        "STOP",
        "batch-dates",
        table.at(int(batches.at[i, "sheet_row"]), column),
        scope="batch",
        seen=seen,
        done="the batch is left out",
        settle=settle,
        batch=shown(batches.at[i, "batch"]),
    )
    return True


def _check_start(
    table: Table, batches: pd.DataFrame, i: int, near: pd.Timestamp | None, teller: Teller
) -> bool:
    started = batches.at[i, "started"]
    if pd.isna(started):
        seen, settle = "no day on which the batch started", "Fill in started."
        return _stop(table, batches, i, "started", teller, seen, settle)
    far = near is not None and abs((started - near).days) > _FAR_DAYS
    if far or not FIRST_YEAR <= started.year <= LAST_YEAR:
        seen = f"started in the year {started.year}, far from all other batches"
        return _stop(table, batches, i, "started", teller, seen, "Correct the year.")
    return False


def _check_early(table: Table, batches: pd.DataFrame, i: int, teller: Teller) -> None:
    """Ask about spawning, hatching and swimming on days that cannot be, or in an odd order."""
    row, batch = int(batches.at[i, "sheet_row"]), shown(batches.at[i, "batch"])
    for name in _EARLY:
        day = batches.at[i, name]
        if pd.notna(day) and abs((day - batches.at[i, "started"]).days) > LONGEST_DAYS:
            teller.tell(
                "ASK",
                "impossible-year",
                table.at(row, name),
                seen=f"{name} on {day.date().isoformat()}, years from the start of the batch",
                done="read as blank",
                settle="Correct the year.",
                batch=batch,
            )
            batches.at[i, name] = pd.NaT
    for before, after in _BEFORE_START:
        first, then = batches.at[i, before], batches.at[i, after]
        if pd.notna(first) and pd.notna(then) and first > then:
            teller.tell(
                "ASK",
                "dates-out-of-order",
                table.at(row, after),
                seen=f"{after} on {then.date().isoformat()}, before {before} on "
                f"{first.date().isoformat()}",
                done="both are kept as written",
                settle="Correct one of them." + swap_hint(then, from_=first),
                batch=batch,
            )


def _check_end(table: Table, batches: pd.DataFrame, i: int, teller: Teller) -> bool:
    started, ended = batches.at[i, "started"], batches.at[i, "ended"]
    if pd.isna(ended):
        return False
    if ended < started:
        seen = f"ended on {ended.date().isoformat()}, before it started"
        settle = "Correct started or ended." + swap_hint(ended, from_=started)
        return _stop(table, batches, i, "ended", teller, seen, settle)
    if (ended - started).days > LONGEST_DAYS:
        seen = f"ended on {ended.date().isoformat()}, years after it started"
        return _stop(table, batches, i, "ended", teller, seen, "Correct the year.")
    return False


def swap_hint(
    day: pd.Timestamp, *, from_: pd.Timestamp | None = None, to: pd.Timestamp | None = None
) -> str:
    """Point out that day and month may be the wrong way about, if that would bring it in line."""
    other = swapped(day.date())
    if other is None:
        return ""
    there = pd.Timestamp(other)
    if (from_ is not None and there < from_) or (to is not None and there > to):
        return ""
    return f" Is it {other.isoformat()}, day and month exchanged?"
