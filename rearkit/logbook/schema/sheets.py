"""Every sheet, column and trial field of a rearing log, declared once.

The reader, the blank log and the column dictionary are all made from these tables. The columns
themselves stand in ``batches`` and ``visits`` beside this module, the trial fields in
``trial_fields``.

Examples
--------
>>> columns_of("Daily")[0].name
'date'
>>> sheet_named("batches").column("Start count").name
'start_count'
"""

from __future__ import annotations

from rearkit.logbook.schema.batches import BATCHES
from rearkit.logbook.schema.declare import Column, Sheet, heading_key
from rearkit.logbook.schema.trial_fields import TRIAL_COLUMNS
from rearkit.logbook.schema.visits import DAILY, EVENTS, POSITIONS, SIZES

SHEETS: tuple[Sheet, ...] = (
    Sheet(
        name="Trial",
        help="What the trial is about: one line a field. Fill in what you know, before you start.",
        columns=TRIAL_COLUMNS,
        synonyms=("about", "settings", "trial info", "info"),
    ),
    Sheet(
        name="Batches",
        help="One row a batch: the fry of one clutch kept in one container.",
        columns=BATCHES,
        required=True,
        synonyms=("batch", "batch list", "containers", "tubs"),
    ),
    Sheet(
        name="Daily",
        help="One row a batch a day, or a row a visit. A dead count of 0 means you looked.",
        columns=DAILY,
        required=True,
        synonyms=("days", "daily log", "day log", "diary"),
    ),
    Sheet(
        name="Sizes",
        help="One row a measured fish, or a row a group of fish measured together.",
        columns=SIZES,
        synonyms=("size", "lengths", "measurements", "growth"),
    ),
    Sheet(
        name="Positions",
        help="Where the fry were: one row a place each time you scanned a container.",
        columns=POSITIONS,
        synonyms=("position", "places", "scans"),
    ),
    Sheet(
        name="Events",
        help="Anything that went wrong or was done once: a power cut, a missed feed, a treatment.",
        columns=EVENTS,
        synonyms=("event", "incidents", "happenings"),
    ),
)

SHEET_NAMES: tuple[str, ...] = tuple(sheet.name for sheet in SHEETS)


def sheet_named(title: str) -> Sheet:
    """Give the sheet with this name or one of its synonyms.

    Parameters
    ----------
    title : str
        As written on the tab or as the name of the CSV file.

    Returns
    -------
    Sheet

    Raises
    ------
    KeyError
        If no sheet of a log goes by that name.
    """
    found = find_sheet(title)
    if found is None:
        raise KeyError(f"No sheet of a log is called {title!r}")
    return found


def find_sheet(title: str) -> Sheet | None:
    """Give the sheet with this name or one of its synonyms, or None."""
    key = heading_key(title)
    for sheet in SHEETS:
        if key in sheet.keys:
            return sheet
    return None


def columns_of(sheet: str) -> tuple[Column, ...]:
    """Give the declared columns of one sheet, in the order of the blank log.

    Parameters
    ----------
    sheet : str
        The name of a sheet, such as ``"Daily"``.

    Returns
    -------
    tuple of Column

    Raises
    ------
    KeyError
        If no sheet of a log goes by that name.
    """
    return sheet_named(sheet).columns
