"""A log without what points to a keeper: names, places, notes."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from rearkit.logbook.logbook import Logbook

LEFT_OUT = ("keeper", "approval", "note")


def hide_names(log: Logbook) -> Logbook:
    """Leave out the keeper, the places and every free note of a log.

    Parameters
    ----------
    log : Logbook
        The log; it is not changed.

    Returns
    -------
    Logbook
        Shelves keep a number, so that it can still be told whether a method had a shelf to
        itself; findings keep their cell and their advice, but not what was written there. Where
        fish went is kept if it is a batch of the log: it could be a buyer.
    """
    trial = dict(log.trial) | dict.fromkeys(LEFT_OUT)
    names = set(log.batches["batch"])
    return replace(
        log,
        trial=trial,
        batches=_numbered_places(_without_notes(log.batches)),
        daily=_only_batches(_without_notes(log.daily), "removed_to", names),
        sizes=_without_notes(log.sizes),
        positions=_without_notes(log.positions),
        events=_without_notes(log.events),
        findings=_only_batches(
            log.findings.assign(seen=log.findings["code"].str.replace("-", " ")), "batch", names
        ),
    )


def _without_notes(frame: pd.DataFrame) -> pd.DataFrame:
    """Leave out notes, and counts as they were written: people write notes into those too."""
    as_written = [c for c in frame.columns if c.endswith("_text")]
    return frame.assign(note=None, **dict.fromkeys(as_written))


def _only_batches(frame: pd.DataFrame, column: str, names: set[str]) -> pd.DataFrame:
    """Leave out what stands where a batch should and is none: people write names there."""
    kept = frame[column].astype(object).where(frame[column].isin(names))
    return frame.assign(**{column: kept.where(kept.notna(), None)})


def _numbered_places(batches: pd.DataFrame) -> pd.DataFrame:
    """Give every shelf a number, in the order of the log, and leave out the spot on it."""
    shelf = batches["place"].dropna().astype(str).str.split(",").str[0].str.strip()
    numbers = {name: f"shelf {i + 1}" for i, name in enumerate(dict.fromkeys(shelf))}
    return batches.assign(place=shelf.map(numbers).reindex(batches.index).astype(object))
