"""Logs of small trials whose fish were counted as they should be, to be spoiled one way each."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rearkit import Logbook, read_log
from tests.logs import day, write_log

DAY = 28
TRIAL: dict[str, object] = {
    "plan_written_on": "2025-03-01",
    "judged_on_day": DAY,
    "age_from": "start",
    "usual": "open",
    "tested": "shade",
}


def tub(
    name: str, method: str, start: object, end: object, *, clutch: str, **more: object
) -> dict[str, object]:
    """Return a batch drawn by lot and counted on the judging day."""
    row: dict[str, object] = {
        "batch": name,
        "method": method,
        "clutch": clutch,
        "how_assigned": "random draw",
        "started": day(0),
        "start_count": start,
        "ended": day(DAY),
        "end_count": end,
        "end_reason": "planned end",
    }
    return row | more


def visits(batch: str, ages: Sequence[int], **what: object) -> list[dict[str, object]]:
    """Return the same visit to one batch at several ages."""
    return [{"date": day(age), "batch": batch} | what for age in ages]


def log_of(
    folder: Path,
    batches: Sequence[dict[str, object]],
    daily: Sequence[dict[str, object]] = (),
    **trial: object,
) -> Logbook:
    """Write a log of the trial and read it; fields that are empty are left out."""
    fields = {k: v for k, v in (TRIAL | trial).items() if v != ""}
    return read_log(write_log(folder / "log", batches=batches, daily=daily, trial=fields))
