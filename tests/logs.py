"""Small logs for tests, written as the CSV folders that a keeper could have written."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from rearkit import Logbook, read_log

Row = Mapping[str, object]


def write_log(
    folder: Path,
    *,
    batches: Sequence[Row],
    daily: Sequence[Row] = (),
    trial: Row | None = None,
    sizes: Sequence[Row] = (),
    positions: Sequence[Row] = (),
    events: Sequence[Row] = (),
) -> Path:
    """Write a log as a folder of CSV files and return the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    fields = [{"field": k, "value": v} for k, v in (trial or {}).items()]
    sheets = {
        "Trial": (fields, ["field", "value"]),
        "Batches": (batches, ["batch", "started", "start_count"]),
        "Daily": (daily, ["date", "batch", "dead"]),
        "Sizes": (sizes, ["date", "batch", "length_mm"]),
        "Positions": (positions, ["date", "batch", "place", "seen"]),
        "Events": (events, ["started", "batch", "what"]),
    }
    for name, (rows, columns) in sheets.items():
        if not rows and name not in ("Batches", "Daily"):
            continue
        header = list(dict.fromkeys([*columns, *(key for row in rows for key in row)]))
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, header, restval="")
            writer.writeheader()
            writer.writerows(rows)
    return folder


def day(n: int) -> str:
    """Return the date of day ``n`` of an invented spring."""
    import datetime

    return (datetime.date(2025, 4, 1) + datetime.timedelta(days=n)).isoformat()


def batch(
    name: str, start: object, end: object = "", *, days: int = 28, **more: object
) -> dict[str, object]:
    """Return a batch that started on day 0 and was counted on its last day."""
    row: dict[str, object] = {"batch": name, "started": day(0), "start_count": start}
    if end != "":
        row |= {"ended": day(days), "end_count": end, "end_reason": "planned end"}
    return row | more


def trial_of(
    folder: Path,
    usual: Sequence[float],
    tested: Sequence[float],
    *,
    fish: int = 100,
    **more: object,
) -> Logbook:
    """Read a trial of whole clutches whose survivals are given: usual "open", tested "shaded"."""
    rows = [
        batch(
            f"{arm}{i + 1}",
            fish,
            round(fish * s),
            clutch=f"{arm}{i + 1}",
            method=arm,
            how_assigned="random draw",
            hatched=day(0),
        )
        for arm, values in (("open", usual), ("shaded", tested))
        for i, s in enumerate(values)
    ]
    trial = {
        "usual": "open",
        "tested": "shaded",
        "judged_on_day": 28,
        "plan_written_on": day(-3),
        "looks_planned": 1,
    } | more
    return read_log(write_log(folder, batches=rows, trial=trial))


def split_trial(
    folder: Path,
    usual: Sequence[float],
    tested: Sequence[float],
    *,
    fish: int = 100,
    **more: object,
) -> Logbook:
    """Read a trial in which every clutch was split between an open and a shaded container."""
    rows = [
        batch(
            f"C{i + 1}-{arm}",
            fish,
            round(fish * s),
            clutch=f"C{i + 1}",
            method=arm,
            how_assigned="random draw",
            hatched=day(0),
        )
        for i, pair in enumerate(zip(usual, tested, strict=True))
        for arm, s in zip(("open", "shaded"), pair, strict=True)
    ]
    trial = {
        "usual": "open",
        "tested": "shaded",
        "judged_on_day": 28,
        "plan_written_on": day(-3),
        "looks_planned": 1,
    } | more
    return read_log(write_log(folder, batches=rows, trial=trial))


def fair_sheets() -> dict[str, Any]:
    """Return the sheets of a fair trial with nothing to confess: four whole clutches a method.

    They are what ``write_log`` takes; a test changes what it is about before they are written.
    Clutches ``open0`` to ``open3`` and ``shaded0`` to ``shaded3`` begin with 40 fry each; 24 to 27
    and 30 to 33 are left on day 28, and every body was found on day 5.
    """
    batches, daily, sizes = [], [], []
    for i in range(4):
        for arm, left in (("open", 24), ("shaded", 30)):
            name = f"{arm}{i}"
            more = {
                "method": arm,
                "clutch": name,
                "how_assigned": "random draw",
                "place": f"shelf {i % 2}, {arm}",
                "hatched": day(0),
                "water": "own",
            }
            batches.append(batch(name, 40, left + i, **more))
            daily.append({"date": day(5), "batch": name, "dead": 40 - left - i, "minutes": 5 + i})
            sizes += [
                {"date": day(d), "batch": name, "length_mm": mm + i / 10 + fish / 5}
                for d, mm in ((7, 5), (28, 12))
                for fish in range(4)
            ]
    trial = {"usual": "open", "tested": "shaded", "judged_on_day": 28, "looks_planned": 1}
    trial |= {"plan_written_on": day(-1), "exclusions": "leaks"}
    return {"batches": batches, "daily": daily, "sizes": sizes, "trial": trial}


def without(sheets: dict[str, Any], *names: str) -> None:
    """Take batches out of every sheet of a log that is not written yet."""
    for sheet in ("batches", "daily", "sizes"):
        sheets[sheet] = [row for row in sheets[sheet] if row["batch"] not in names]
