"""Small logs of an invented club, as rows of cells."""

from __future__ import annotations

import copy
import datetime as dt
from pathlib import Path

from rearkit.logbook.files.cells import read_cells
from rearkit.logbook.files.grid import Cell, Grid, date_cell, number_cell, text_cell
from rearkit.logbook.read.frames import Frames
from rearkit.logbook.read.reader import read_frames

Sheets = dict[str, list[list[object]]]


def day(month: int, of_month: int, year: int = 2025) -> dt.date:
    return dt.date(year, month, of_month)


CLEAN: Sheets = {
    "Trial": [
        ["field", "value"],
        ["title", "Shaded corner"],
        ["compare", "method"],
        ["usual", "open"],
        ["tested", "shaded"],
        ["judged_on_day", 28],
        ["counted_blind", "no"],
        ["plan_written_on", day(3, 20)],
    ],
    "Batches": [
        ["batch", "clutch", "method", "container", "litres", "hatched", "started", "start_count",
         "ended", "end_count", "end_reason"],
        ["K1-open", "K1", "open", "tub 1", 8, day(3, 28), day(4, 1), 40, day(5, 10), 31,
         "planned end"],
        ["K1-shade", "K1", "shaded", "tub 2", 8, day(3, 28), day(4, 1), "38-42", day(5, 10), 35,
         "planned end"],
        ["K2-open", "K2", "open", "tub 3", 7.5, day(4, 3), day(4, 6), 30, None, None, None],
    ],
    "Daily": [
        ["date", "batch", "dead", "removed", "removed_why", "alive", "temp_c", "minutes", "note"],
        [day(4, 1), "K1-open", 0, None, None, 40, 25.5, 10, None],
        [day(4, 1), "K1-shade", 0, None, None, None, 25.5, 10, None],
        [day(4, 2), "K1-open", 2, None, None, None, 25, 5, "pale"],
        [day(4, 2), "K1-shade", 1, None, None, None, 25, 5, None],
        [day(4, 6), "K2-open", 0, None, None, None, 25, 5, None],
        [day(4, 8), "K1-open", None, 3, "sold", None, None, None, "to Ann"],
        [day(4, 9), "K1-shade", 1, None, None, 38, 24.5, 15, None],
    ],
    "Sizes": [
        ["date", "batch", "fish", "length_mm", "weight_mg", "kind"],
        [day(4, 5), "K1-open", None, 5.5, None, "total"],
        [day(4, 5), "K1-open", None, 5.5, None, "total"],
        [day(4, 20), "K1-shade", 5, 8, 9, "total"],
    ],
    "Positions": [
        ["date", "time", "batch", "place", "seen", "not_seen", "area_percent"],
        [day(4, 5), "18:30", "K1-open", "under the leaf", 12, 4, 25],
        [day(4, 5), "18:30", "K1-open", "open water", 20, 4, 75],
    ],
    "Events": [
        ["started", "ended", "batch", "what", "note"],
        [day(4, 12), day(4, 12), "all", "power cut", "two hours"],
    ],
}  # fmt: skip


def clean() -> Sheets:
    """A log with nothing to ask, as a copy to spoil."""
    return copy.deepcopy(CLEAN)


def grids(sheets: Sheets) -> dict[str, Grid]:
    """Cells as a workbook would hold them."""
    made = {}
    for title, rows in sheets.items():
        grid = Grid(title=title, from_1904=False)
        for r, row in enumerate(rows, start=1):
            cells = {c: _cell(value) for c, value in enumerate(row, start=1) if value is not None}
            if cells:
                grid.rows[r] = cells
        made[title] = grid
    return made


def _cell(value: object) -> Cell:
    if isinstance(value, Cell):
        return value
    if isinstance(value, dt.date):
        return date_cell(dt.datetime(value.year, value.month, value.day))
    if isinstance(value, (int, float)):
        return number_cell(float(value))
    return text_cell(str(value))


def frames_of(sheets: Sheets, **settings) -> Frames:
    return read_frames(grids(sheets), **settings)


def read(path: Path, **settings) -> Frames:
    return read_frames(read_cells(path), **settings)


def said(frames: Frames, code: str):
    """All findings of one code."""
    return [finding for finding in frames.findings if finding.code == code]


def codes(frames: Frames, *severities: str) -> set[str]:
    """The codes that were said, of these severities or of all."""
    return {f.code for f in frames.findings if not severities or f.severity in severities}
