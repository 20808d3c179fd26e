"""Deaths and fry-days before and after a date, batch by batch, and who can stand as control."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.logbook.logbook import Logbook

INTERRUPTIONS = ("feed gap", "culture crash", "heater off", "power cut", "water problem")


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
        return float((self.ended - self.started) / pd.Timedelta(days=1))


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
    return {str(b): float((date - z) / pd.Timedelta(days=1)) for b, z in zero.items()}


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
        and (e.started - zero) / pd.Timedelta(days=1) < end
        and (e.ended - zero) / pd.Timedelta(days=1) >= start
        for e in events
    )
