"""Cells become tidy frames, and everything that was odd about them is said."""

from __future__ import annotations

from collections.abc import Mapping

from rearkit.errors import SettingError
from rearkit.logbook.doubts.findings import At
from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.files.grid import Grid
from rearkit.logbook.parse.dates import ORDERS
from rearkit.logbook.read.batch_names import batch_names
from rearkit.logbook.read.batch_rows import read_batches
from rearkit.logbook.read.date_cells import DateCells, date_cells_of
from rearkit.logbook.read.frames import Frames
from rearkit.logbook.read.tables import find_tables
from rearkit.logbook.read.trial import (
    check_compared,
    date_fields,
    find_fields,
    read_trial,
    told_order,
)
from rearkit.logbook.read.typed_columns import Typist
from rearkit.logbook.read.visit_rows import Visits
from rearkit.logbook.read.visit_sheets import read_daily, read_events, read_positions, read_sizes


def read_frames(
    grids: Mapping[str, Grid], *, approx_share: float = 0.10, date_order: str | None = None
) -> Frames:
    """Make tidy frames of the cells of a log.

    Parameters
    ----------
    grids : mapping of str to Grid
        As ``read_cells`` gives them.
    approx_share : float
        What "about 40" may be off by, as a share of the count; from 0 to 1.
    date_order : str, optional
        ``"day first"``, ``"month first"`` or ``"year first"``; overrides the Trial sheet.

    Returns
    -------
    Frames
        Also when a finding stops the whole log; the frames are then as full as can be.

    Raises
    ------
    SettingError
        If a setting is out of its range.

    Notes
    -----
    A row is counted once: as unusable if a STOP leaves it or its batch out, else as waiting if
    an ASK concerns it, else as repaired, else as used as it is. A row that waits is used in the
    way that its finding states, unless that says that it is left out.
    """
    _check_settings(approx_share, date_order)
    teller = Teller()
    tables = find_tables(grids, teller)
    written = find_fields(tables["Trial"], teller)
    cells = [found for table in tables.values() for found in date_cells_of(table)]
    cells += date_fields(written, tables["Trial"])
    dates = DateCells(cells, date_order or told_order(written), teller)
    typist = Typist(teller, dates, approx_share=approx_share)
    names = batch_names(tables)
    trial = read_trial(written, typist, dates)
    batches = read_batches(tables, names, typist, teller, dated=not dates.unsettled)
    if batches.empty and tables["Batches"].usable:
        teller.tell("no-batches", At("Batches"))
    texts = [
        name for name in batches if batches[name].dtype == object and not name.endswith("_text")
    ]
    check_compared(trial, {name: list(batches[name]) for name in texts}, written, teller)
    visits = Visits(batches, names, dates, teller)
    frames = {
        "daily": read_daily(tables, visits, names, dates, typist, teller),
        "sizes": read_sizes(tables, visits, typist, teller),
        "positions": read_positions(tables, visits, dates, typist, teller),
        "events": read_events(tables, names, typist, teller),
    }
    return Frames(
        trial=trial,
        batches=batches,
        findings=teller.findings,
        rows=teller.rows_frame(),
        columns={name: dict(table.columns) for name, table in tables.items()},
        **frames,
    )


def _check_settings(approx_share: float, date_order: str | None) -> None:
    if not 0.0 <= approx_share <= 1.0:
        raise SettingError(
            f"approx_share is {approx_share!r}", todo="Give a share from 0 to 1, such as 0.10."
        )
    if date_order is not None and date_order not in ORDERS:
        raise SettingError(
            f"date_order is {date_order!r}", todo="Give one of: " + ", ".join(ORDERS) + "."
        )
