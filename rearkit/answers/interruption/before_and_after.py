"""Every batch before and after a date: deaths, fry-days and growth, its controls, other dates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.batch.lengths import measured_lengths
from rearkit.logbook.account.ages import DAY
from rearkit.logbook.logbook import Logbook

INTERRUPTIONS = ("feed gap", "culture crash", "heater off", "power cut", "water problem")
GROWTH_COLUMNS = ["batch", "span", "age_from", "age_to", "mm_from", "mm_to", "mm_a_day"]


@dataclass(frozen=True, kw_only=True)
class Happening:
    """One event: from when to when, to which batch.

    Attributes
    ----------
    number : int
        Its place in the Events sheet, from 1.
    what : str or None
        What happened.
    batch : str
        One batch, or ``all``.
    started, ended : Timestamp
        The end is the start where none was written down.
    note : str or None
        The keeper's words.
    """

    number: int
    what: str | None
    batch: str
    started: pd.Timestamp
    ended: pd.Timestamp
    note: str | None

    @property
    def days(self) -> float:
        """How long it lasted, in days."""
        return float((self.ended - self.started) / DAY)


@dataclass(frozen=True, kw_only=True)
class Window:
    """Deaths and fry-days of one batch in one stretch of age.

    Attributes
    ----------
    deaths : float
        Found dead; those of an interval that lies only partly inside are shared by days.
    deaths_low, deaths_high : float
        None or all of these shared ones.
    missing : float
        Fish that vanished without a body, as the account places them.
    fry_days : float
        Fry alive at the look before, times days.
    alive : float
        Fry at risk where the stretch begins.
    """

    deaths: float
    deaths_low: float
    deaths_high: float
    missing: float
    fry_days: float
    alive: float


def happenings(log: Logbook) -> tuple[Happening, ...]:
    """Return the events of a log, in the order of the sheet."""
    return tuple(
        Happening(
            number=i + 1,
            what=e.what,
            batch=str(e.batch),
            started=e.started,
            ended=e.started if pd.isna(e.ended) else e.ended,
            note=e.note,
        )
        for i, e in enumerate(log.events.itertuples(index=False))
    )


def window(fates: pd.DataFrame, start: float, end: float) -> Window:
    """Count deaths and fry-days of one batch in ``(start, end]``, ages in days.

    Parameters
    ----------
    fates : DataFrame
        The rows of ``log.fates`` of the batch.
    start, end : float
        Ages in days. Dead fish found on day ``start`` died before it began.
    """
    a = fates["age_from"].to_numpy(dtype=float)
    b = fates["age_to"].to_numpy(dtype=float)
    overlap = np.clip(np.minimum(b, end) - np.maximum(a, start), 0.0, None)
    share = overlap / np.maximum(b - a, 1e-12)
    dead = fates["dead_found"].to_numpy(dtype=float)
    at_risk = fates["at_risk"].to_numpy(dtype=float)
    inside = np.flatnonzero(overlap > 0)
    return Window(
        deaths=float((dead * share).sum()),
        deaths_low=float(dead[share > 1 - 1e-9].sum()),
        deaths_high=float(dead[share > 1e-9].sum()),
        missing=float((fates["missing"].to_numpy(dtype=float) * share).sum()),
        fry_days=float((at_risk * overlap).sum()),
        alive=float(at_risk[inside[0]]) if inside.size else 0.0,
    )


def fates_by_batch(log: Logbook) -> dict[str, pd.DataFrame]:
    """Return the rows of ``log.fates`` of every batch."""
    return {str(b): f for b, f in log.fates.groupby("batch", sort=False)}


def ages_at(log: Logbook, date: pd.Timestamp) -> dict[str, float]:
    """Return the age of every batch on a date, whether or not it lived then."""
    zero = log.batches.set_index("batch")["age_zero"]
    return {str(b): float((date - z) / DAY) for b, z in zero.items()}


def affected(log: Logbook, event: Happening, before: float, after: float) -> dict[str, float]:
    """Return the batches an event fell on, with fry in both windows, and their age then."""
    fates, ages = fates_by_batch(log), ages_at(log, event.started)
    names = list(fates) if event.batch == "all" else [event.batch]
    return {
        b: ages[b]
        for b in names
        if b in fates
        and window(fates[b], ages[b] - before, ages[b]).fry_days > 0
        and window(fates[b], ages[b], ages[b] + event.days + after).fry_days > 0
    }


def controls(
    log: Logbook, event: Happening, hit: Mapping[str, float], before: float, after: float
) -> dict[str, tuple[float, str]]:
    """Find batches that passed the same ages with nothing of the kind happening to them.

    Returns
    -------
    dict
        Batch to (the age that stands for the event, the affected batch it stands beside). A batch
        is used once, beside the affected batch of its method that has fewest controls so far.
    """
    fates = fates_by_batch(log)
    zero = log.batches.set_index("batch")["age_zero"]
    method = log.batches.set_index("batch")["method"].to_dict()
    found: dict[str, tuple[float, str]] = {}
    load = dict.fromkeys(hit, 0)
    for b, f in fates.items():
        if b in hit:
            continue
        first, last = float(f["age_from"].iloc[0]), float(f["age_to"].iloc[-1])
        able = [
            (str(method.get(h)) != str(method.get(b)), load[h], h)
            for h, age in hit.items()
            if first <= age - before + 1e-9
            and last >= age + event.days + after - 1e-9
            and not disturbed(happenings(log), b, zero[b], age - before, age + event.days + after)
        ]
        if able:
            beside = min(able, key=lambda one: one[:2])[2]
            load[beside] += 1
            found[b] = (hit[beside], beside)
    return found


def disturbed(
    events: tuple[Happening, ...], batch: str, zero: pd.Timestamp, start: float, end: float
) -> bool:
    """Whether one of these events was an interruption that fell on a batch between two ages."""
    return any(
        e.what in INTERRUPTIONS
        and e.batch in ("all", batch)
        and (e.started - zero) / DAY < end
        and (e.ended - zero) / DAY >= start
        for e in events
    )


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
    first = min(zero[b] + float(f["age_from"].iloc[0]) * DAY for b, f in fates.items())
    last = max(zero[b] + float(f["age_to"].iloc[-1]) * DAY for b, f in fates.items())
    reach = (event.days + after) * DAY
    for date in pd.date_range(first + before * DAY, last - reach, freq="D"):
        if date - before * DAY < event.started + reach and date + reach > event.started:
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
