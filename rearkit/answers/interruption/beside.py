"""Beside the change of the death rate: other dates of the same log, and growth around the event."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.answers.interruption.windows import (
    Happening,
    ages_at,
    fates_by_batch,
    window,
)
from rearkit.batch.lengths import measured_lengths
from rearkit.logbook.logbook import Logbook


@dataclass(frozen=True, kw_only=True, eq=False)
class Placebo:
    """How unusual the date of the event is among all dates of the same batches.

    Attributes
    ----------
    log_ratio : float
        log((deaths after + ½) / fry-days) − log((deaths before + ½) / fry-days) at the event.
    others : DataFrame
        ``date`` and ``log_ratio`` of every other date whose windows keep clear of the event's.
    share : float or None
        Share of all dates, the event's among them, with a ratio at least as large.
    """

    log_ratio: float
    others: pd.DataFrame
    share: float | None

    @property
    def n_dates(self) -> int:
        """Dates compared, without the event's own."""
        return len(self.others)


def placebo_dates(
    log: Logbook, event: Happening, names: list[str], before: float, after: float
) -> Placebo:
    """Compare the change at the event with the change at every other date.

    Parameters
    ----------
    log : Logbook
        The log.
    event : Happening
        The event.
    names : list of str
        The batches it fell on.
    before, after : float
        Lengths of the windows, days.
    """
    fates = {b: f for b, f in fates_by_batch(log).items() if b in names}
    own = _log_ratio(log, fates, event.started, event.days, before, after)
    rows = []
    zero = log.batches.set_index("batch")["age_zero"]
    first = min(zero[b] + pd.Timedelta(days=float(f["age_from"].iloc[0])) for b, f in fates.items())
    last = max(zero[b] + pd.Timedelta(days=float(f["age_to"].iloc[-1])) for b, f in fates.items())
    reach = pd.Timedelta(days=event.days + after)
    for date in pd.date_range(first + pd.Timedelta(days=before), last - reach, freq="D"):
        if (
            date - pd.Timedelta(days=before) < event.started + reach
            and date + reach > event.started
        ):
            continue
        value = _log_ratio(log, fates, date, event.days, before, after)
        if np.isfinite(value):
            rows.append({"date": date, "log_ratio": value})
    others = pd.DataFrame(rows, columns=["date", "log_ratio"])
    n = len(others)
    as_large = int((others["log_ratio"] >= own - 1e-9).sum()) if n else 0
    return Placebo(log_ratio=own, others=others, share=(1 + as_large) / (1 + n) if n else None)


def _log_ratio(
    log: Logbook,
    fates: dict[str, pd.DataFrame],
    date: pd.Timestamp,
    days: float,
    before: float,
    after: float,
) -> float:
    ages = ages_at(log, date)
    pairs = [
        (window(f, ages[b] - before, ages[b]), window(f, ages[b], ages[b] + days + after))
        for b, f in fates.items()
    ]
    both = [(a, b) for a, b in pairs if a.fry_days > 0 and b.fry_days > 0]  # as at the event
    early, late = [a for a, _ in both], [b for _, b in both]
    time0, time1 = sum(w.fry_days for w in early), sum(w.fry_days for w in late)
    if not (time0 > 0 and time1 > 0):
        return float("nan")
    dead0, dead1 = sum(w.deaths for w in early), sum(w.deaths for w in late)
    return float(np.log((dead1 + 0.5) / time1) - np.log((dead0 + 0.5) / time0))


GROWTH_COLUMNS = ["batch", "span", "age_from", "age_to", "mm_from", "mm_to", "mm_a_day"]


def growth_around(log: Logbook, event: Happening | None, names: list[str]) -> pd.DataFrame:
    """Give growth a day between the measured days before, across and after an event.

    Parameters
    ----------
    log : Logbook
        The log.
    event : Happening or None
        The event.
    names : list of str
        The batches it fell on.

    Returns
    -------
    DataFrame
        One row a batch and span (``before``, ``across``, ``after``) that was measured.
    """
    if event is None:
        return pd.DataFrame(columns=GROWTH_COLUMNS)
    ages = ages_at(log, event.started)
    rows = []
    for b, series in measured_lengths(log, names).series.items():
        start, end = ages[b], ages[b] + event.days
        early = np.flatnonzero(series.days <= start + 1e-9)
        late = np.flatnonzero((series.days >= end - 1e-9) & (series.days > start + 1e-9))
        pairs = {}
        if len(early) > 1:
            pairs["before"] = (early[-2], early[-1])
        if len(early) and len(late):
            pairs["across"] = (early[-1], late[0])
        if len(late) > 1:
            pairs["after"] = (late[0], late[1])
        for span, (i, j) in pairs.items():
            days = float(series.days[j] - series.days[i])
            gain = float(series.means[j] - series.means[i])
            ends = (series.days[i], series.days[j], series.means[i], series.means[j])
            rows.append([b, span, *(float(x) for x in ends), gain / days])
    return pd.DataFrame(rows, columns=GROWTH_COLUMNS)
