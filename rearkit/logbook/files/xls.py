"""Cells out of old .xls files, through xlrd; macros, links and pictures in them are left alone.

xlrd gives the stored value of a formula and not that it was one. A row in which every cell is
worked out is therefore known for a row of totals only by the word in it.
"""

from __future__ import annotations

import io
from pathlib import Path

import xlrd

from rearkit.errors import LogUnreadable
from rearkit.logbook.files.archive import FORMATS, damaged, protected
from rearkit.logbook.files.formats import BUILT_IN, Look, format_kind, formatted_cell
from rearkit.logbook.files.grid import Budget, Cell, Grid, text_cell
from rearkit.logbook.schema.sheets import find_sheet

MOST_XLS_BYTES = 4 * 2**20  # xlrd turns some records into a hundred times their size
_MACROS = "_VBA_PROJECT_CUR".encode("utf-16-le")
_PLAIN_FONTS = (8, 0x7FFF)  # black, and what the system takes


def read_xls(path: Path) -> dict[str, Grid]:
    """Read every sheet of an old workbook that may belong to a log.

    Parameters
    ----------
    path : Path
        A file that begins as old office files do.

    Returns
    -------
    dict of str to Grid
        By title, in the order of the workbook; other sheets are there without their cells.

    Raises
    ------
    LogUnreadable
        If it is no workbook, damaged, protected, or larger than a log can be.
    """
    if path.stat().st_size > MOST_XLS_BYTES:
        raise LogUnreadable(
            f"this .xls file is larger than {MOST_XLS_BYTES // 2**20} MB",
            todo="Open it in your spreadsheet program, save it as .xlsx and use that.",
        )
    data = path.read_bytes()
    try:
        with xlrd.open_workbook(
            file_contents=data,
            formatting_info=True,
            on_demand=True,
            ragged_rows=True,
            logfile=io.StringIO(),
        ) as book:
            grids = _grids(book)
    except LogUnreadable:
        raise
    except Exception as error:  # xlrd trusts a file; a broken one may bring it down anywhere
        raise _unreadable(error) from error
    for grid in list(grids.values())[:1]:
        grid.remarks.extend([("macros", {})] if _MACROS in data else [])
    return grids


def _unreadable(error: Exception) -> LogUnreadable:
    said = str(error).lower()
    if "encrypted" in said:
        return protected()
    if "can't find workbook" in said:
        return LogUnreadable("this is an old office file, but no workbook", todo=FORMATS)
    return damaged()


def _grids(book: xlrd.Book) -> dict[str, Grid]:
    looks: dict[int, Look] = {}
    budget = Budget()
    grids: dict[str, Grid] = {}
    for title in book.sheet_names():
        grid = Grid(title=title, from_1904=book.datemode == 1, skipped=find_sheet(title) is None)
        if not grid.skipped:
            _fill(grid, book, book.sheet_by_name(title), looks, budget)
        grids[title] = grid
    if not grids:
        raise damaged()
    return grids


def _fill(
    grid: Grid, book: xlrd.Book, sheet: xlrd.sheet.Sheet, looks: dict[int, Look], budget: Budget
) -> None:
    for row in range(sheet.nrows):
        kinds, values = sheet.row_types(row), sheet.row_values(row)
        for column, (kind, value) in enumerate(zip(kinds, values, strict=True)):
            if kind in (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK):
                continue
            index = sheet.cell_xf_index(row, column)
            if index not in looks:
                looks[index] = _look(book, index)
            cell = _cell(kind, value, looks[index], from_1904=grid.from_1904)
            if cell is not None:
                budget.spend(1)
                grid.rows.setdefault(row + 1, {})[column + 1] = cell
    for first, end, left, right in sheet.merged_cells:
        budget.spend(1)
        grid.merged.append((first + 1, left + 1, end, right))


def _cell(kind: int, value: object, look: Look, *, from_1904: bool | None) -> Cell | None:
    if kind == xlrd.XL_CELL_TEXT:
        return text_cell(str(value), look=look.colour) if str(value).strip() else None
    if kind == xlrd.XL_CELL_ERROR:
        text = xlrd.error_text_from_code.get(value, "#N/A")
        return Cell(text, None, "error", False, look.colour)
    if kind == xlrd.XL_CELL_BOOLEAN:
        return Cell("TRUE" if value else "FALSE", bool(value), "flag", False, 0)
    number = float(str(value)) if not isinstance(value, float) else value
    return formatted_cell(number, look, from_1904=from_1904)


def _look(book: xlrd.Book, index: int) -> Look:
    """Give what a cell format makes of a number, and its colours as one number."""
    found = book.xf_list[index]
    kind = BUILT_IN.get(found.format_key)
    if kind is None:
        kind = format_kind(book.format_map[found.format_key].format_str)
    filled = found.background.fill_pattern
    fill = 1 + found.background.pattern_colour_index if filled else 0
    font = book.font_list[found.font_index].colour_index
    return Look(kind=kind, colour=1000 * fill + (0 if font in _PLAIN_FONTS else font + 1))
