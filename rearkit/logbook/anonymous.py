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
        itself; findings keep their cell and their advice, but not what was written there.
    """
    trial = dict(log.trial) | dict.fromkeys(LEFT_OUT)
    return replace(
        log,
        trial=trial,
        batches=_numbered_places(_without_notes(log.batches)),
        daily=_without_notes(log.daily),
        sizes=_without_notes(log.sizes),
        positions=_without_notes(log.positions),
        events=_without_notes(log.events),
        findings=log.findings.assign(seen=log.findings["code"].str.replace("-", " ")),
    )


def _without_notes(frame: pd.DataFrame) -> pd.DataFrame:
    """Leave out notes, and counts as they were written: people write notes into those too."""
    as_written = [c for c in frame.columns if c.endswith("_text")]
    return frame.assign(note=None, **dict.fromkeys(as_written))


def _numbered_places(batches: pd.DataFrame) -> pd.DataFrame:
    """Give every shelf a number, in the order of the log, and leave out the spot on it."""
    shelf = batches["place"].dropna().astype(str).str.split(",").str[0].str.strip()
    numbers = {name: f"shelf {i + 1}" for i, name in enumerate(dict.fromkeys(shelf))}
    return batches.assign(place=shelf.map(numbers).reindex(batches.index).astype(object))
