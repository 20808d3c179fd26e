"""Everything that happened in a log, in the order of its days."""

from __future__ import annotations

import numpy as np
import pandas as pd

from rearkit.logbook.account.ages import DAY
from rearkit.logbook.logbook import Logbook

LONG_GAP_DAYS = 3.0  # from here on a stretch without a look is told
COLUMNS = ["date", "ended", "batch", "kind", "what", "n", "note"]


def timeline_of(log: Logbook) -> pd.DataFrame:
    """Gather starts, ends, events, fish taken out or put in, and stretches without a look.

    Parameters
    ----------
    log : Logbook
        The log.

    Returns
    -------
    DataFrame
        One row a happening, by date: ``date``, ``ended``, ``batch``, ``kind`` (``start``, ``end``,
        ``event``, ``removed``, ``added``, ``not looked``), ``what``, ``n`` (fish), ``note``.
    """
    rows: list[dict[str, object]] = []
    for b in log.batches.itertuples(index=False):
        rows.append(_row("start", b.started, b.batch, "started", b.start_count_best, b.note))
        if pd.notna(b.ended):
            rows.append(_row("end", b.ended, b.batch, b.end_reason, b.end_count_best))
    for e in log.events.itertuples(index=False):
        rows.append(_row("event", e.started, e.batch, e.what, np.nan, e.note, e.ended))
    for v in log.daily.itertuples(index=False):
        if v.removed_best > 0:
            rows.append(_row("removed", v.date, v.batch, v.removed_why, v.removed_best, v.note))
        if v.added_best > 0:
            rows.append(_row("added", v.date, v.batch, None, v.added_best, v.note))
    rows += _gaps(log)
    frame = pd.DataFrame(rows, columns=COLUMNS)
    frame["date"] = pd.to_datetime(frame["date"])
    frame = frame.dropna(subset=["date"])  # a batch of which nobody wrote when it began
    return frame.sort_values("date", kind="stable").reset_index(drop=True)


def death_rate_of(log: Logbook) -> pd.DataFrame:
    """Work out the deaths found and the fry-days of every day of a log, all batches together.

    Parameters
    ----------
    log : Logbook
        The log.

    Returns
    -------
    DataFrame
        One row a day: ``date``, ``deaths`` (found dead; those between two looks shared by days),
        ``fry_days`` and ``per_100``, deaths for every 100 fry a day.
    """
    if log.fates.empty:
        return pd.DataFrame(columns=["date", "deaths", "fry_days", "per_100"])
    zero = log.batches.set_index("batch")["age_zero"]
    first = log.fates["batch"].map(zero) + log.fates["age_from"] * DAY
    origin = first.min().normalize()
    begin = ((first - origin) / DAY).to_numpy()
    length = (log.fates["age_to"] - log.fates["age_from"]).to_numpy(dtype=float)
    days = np.arange(int(np.ceil((begin + length).max())))
    overlap = np.minimum(begin[:, None] + length[:, None], days + 1.0) - np.maximum(
        begin[:, None], days
    )
    overlap = np.clip(overlap, 0.0, None)
    share = overlap / np.maximum(length, 1e-12)[:, None]
    deaths = (log.fates["dead_found"].to_numpy(dtype=float)[:, None] * share).sum(axis=0)
    fry_days = (log.fates["at_risk"].to_numpy(dtype=float)[:, None] * overlap).sum(axis=0)
    per_100 = np.divide(
        100.0 * deaths, fry_days, out=np.full(deaths.shape, np.nan), where=fry_days > 0
    )
    return pd.DataFrame(
        {
            "date": origin + days * DAY,
            "deaths": deaths,
            "fry_days": fry_days,
            "per_100": per_100,
        }
    )


def _row(
    kind: str,
    date: object,
    batch: object,
    what: object,
    n: object = np.nan,
    note: object = None,
    ended: object = pd.NaT,
) -> dict[str, object]:
    values = (date, ended, batch, kind, what, n, note)
    return dict(zip(COLUMNS, values, strict=True))


def _gaps(log: Logbook) -> list[dict[str, object]]:
    if log.fates.empty:
        return []
    zero = log.batches.set_index("batch")["age_zero"]
    long = log.fates[log.fates["age_to"] - log.fates["age_from"] > LONG_GAP_DAYS]
    return [
        _row(
            "not looked",
            zero[f.batch] + float(f.age_from) * DAY,
            f.batch,
            None,
            np.nan,
            None,
            zero[f.batch] + float(f.age_to) * DAY,
        )
        for f in long.itertuples(index=False)
    ]
