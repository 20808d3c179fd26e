"""Cells of a spreadsheet with their addresses, whatever kind of file they came from."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Literal, NamedTuple

from rearkit.errors import LogUnreadable

CellKind = Literal["text", "number", "percent", "date", "time", "flag", "error", "no_value"]
CellValue = str | float | bool | dt.datetime | None

MOST_CELLS = 600_000
MOST_ROWS, MOST_COLUMNS = 1_048_576, 16_384
LONG_TEXT = 5_000  # characters; a longer cell is told to the keeper
_ERROR = re.compile(r"#(?:DIV/0!|N/A|NAME\?|NULL!|NUM!|REF!|VALUE!|SPILL!|CALC!)|Err:\d{3}")


class Cell(NamedTuple):
    """One cell that is not empty.

    ``text`` is what stands there as a keeper would read it, ``value`` the typed value, ``formula``
    whether it was worked out, ``look`` a number that is the same for cells of the same colour
    (0 for plain ones). A date shown without a day keeps a text without a day.
    """

    text: str
    value: CellValue
    kind: CellKind = "text"
    formula: bool = False
    look: int = 0


@dataclass(kw_only=True, eq=False)
class Grid:
    """The cells of one sheet.

    Parameters
    ----------
    title : str
        The title of the sheet or the name of the CSV file, without ``.csv``.
    rows : dict of int to dict of int to Cell
        By row and column, both counted from 1 as the spreadsheet does; empty cells are left out.
    merged : list of (int, int, int, int)
        First row, first column, last row and last column of every merged block.
    from_1904 : bool or None
        Whether day numbers count from 1904; None where the file cannot tell.
    skipped : bool
        Whether the sheet is no sheet of a log and was not read.
    remarks : list of (str, dict)
        What is to be said about the file as a whole, on the first grid: codes of the catalogue
        with their values.
    """

    title: str
    rows: dict[int, dict[int, Cell]] = field(default_factory=dict)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    from_1904: bool | None = None
    skipped: bool = False
    remarks: list[tuple[str, dict[str, Any]]] = field(default_factory=list)


class Budget:
    """Count the cells of a whole log, and refuse more than can be held."""

    def __init__(self) -> None:
        self.left = MOST_CELLS

    def spend(self, cells: int) -> None:
        """Take so many cells off what is left."""
        self.left -= cells
        if self.left < 0:
            raise LogUnreadable(
                f"the log holds more than {MOST_CELLS:,} filled cells",
                todo="Delete what was filled down by mistake, or split the log.",
            )


@lru_cache(maxsize=1024)
def column_letters(column: int) -> str:
    """Give the letters of a column: 1 is A, 27 is AA."""
    letters = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def address(row: int, column: int) -> str:
    """Give the address of a cell as spreadsheets write it.

    Examples
    --------
    >>> address(14, 3)
    'C14'
    """
    return f"{column_letters(column)}{row}"


def number_text(value: float) -> str:
    """Write a number as a spreadsheet shows it: 15 figures, no needless ``.0``."""
    return f"{value:.15g}"


def number_cell(
    value: float, *, kind: CellKind = "number", formula: bool = False, look: int = 0
) -> Cell:
    """Make the cell of a number or a percentage (a share, shown times 100)."""
    shown = number_text(value * 100) + "%" if kind == "percent" else number_text(value)
    return Cell(shown, float(f"{value:.15g}"), kind, formula, look)


def date_cell(
    value: dt.datetime, *, with_day: bool = True, formula: bool = False, look: int = 0
) -> Cell:
    """Make the cell of a date; its text is ISO, without the day where none was shown."""
    text = value.strftime("%Y-%m-%d") if with_day else value.strftime("%Y-%m")
    if with_day and (value.hour or value.minute):
        text += value.strftime(" %H:%M")
    return Cell(text, value, "date", formula, look)


def time_cell(minutes: int, *, formula: bool = False, look: int = 0) -> Cell:
    """Make the cell of a time of day, or of a span of time, in minutes."""
    hours, rest = divmod(minutes, 60)
    return Cell(f"{hours:02d}:{rest:02d}", float(minutes), "time", formula, look)


def text_cell(text: str, *, formula: bool = False, look: int = 0) -> Cell:
    """Make the cell of a text; what looks like an error of a formula is one."""
    if _ERROR.fullmatch(text.strip()):
        return Cell(text, None, "error", formula, look)
    return Cell(text, text, "text", formula, look)
