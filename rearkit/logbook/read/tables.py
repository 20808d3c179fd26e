"""Find the table in every sheet: its header row, its columns and its rows of facts."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from rearkit.logbook.doubts.findings import At
from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.files.grid import LONG_TEXT, Cell, Grid
from rearkit.logbook.parse.names import Names
from rearkit.logbook.parse.numbers import unit_of_heading
from rearkit.logbook.read.frames import names_in_frame
from rearkit.logbook.schema.declare import Column, Sheet, heading_key
from rearkit.logbook.schema.sheets import SHEETS, find_sheet

Rows = dict[int, dict[int, Cell]]

_LOOK_AT = 60  # rows in which the header is looked for
_OWN_NAMES = frozenset(("sheet_row", "stopped", "start_known", "age_days", "age_zero", "clock"))
_TOTALS = re.compile(
    r"(?:grand |sub)?totals?|sum|sums|average|averages|mean|overall|summe|gesamt", re.IGNORECASE
)


@dataclass(kw_only=True, eq=False)
class Table:
    """The facts of one sheet.

    Parameters
    ----------
    sheet : Sheet
        What the sheet is declared to hold.
    columns : dict of str to int
        By name, which column of the spreadsheet it is; extra columns too.
    extras : dict of str to str
        The name and the heading of every column that is not declared.
    rows : dict of int to dict of int to Cell
        The rows of facts, by row and column of the spreadsheet.
    factors : dict of str to float
        By column name, what its numbers are multiplied by where the heading has another unit.
    from_1904 : bool or None
        Whether day numbers count from 1904, if the file tells.
    usable : bool
        Whether the sheet and its required columns are there.
    """

    sheet: Sheet
    columns: dict[str, int] = field(default_factory=dict)
    extras: dict[str, str] = field(default_factory=dict)
    rows: Rows = field(default_factory=dict)
    factors: dict[str, float] = field(default_factory=dict)
    from_1904: bool | None = None
    usable: bool = True

    @property
    def facts(self) -> list[int]:
        """The rows that can be used."""
        return list(self.rows) if self.usable else []

    def cell(self, row: int, name: str) -> Cell | None:
        """Give a cell, or None if it is empty."""
        index = self.columns.get(name)
        return self.rows[row].get(index) if index is not None else None

    def at(self, row: int | None = None, name: str | None = None) -> At:
        """Give the address of a row or a cell."""
        return At(self.sheet.name, row, name, self.columns.get(name) if name else None)


def find_tables(grids: Mapping[str, Grid], teller: Teller) -> dict[str, Table]:
    """Find the tables of a log.

    Parameters
    ----------
    grids : mapping of str to Grid
        The cells of every sheet by title.
    teller : Teller
        Is told about all that was passed over, repaired or missing.

    Returns
    -------
    dict of str to Table
        By the name of the declared sheet; a sheet that is missing has no rows.
    """
    found = _grids_of_sheets(grids, teller)
    tables = {
        sheet.name: _table(sheet, found[sheet], teller)
        if sheet in found
        else Table(sheet=sheet, usable=False)
        for sheet in SHEETS
    }
    _tell_missing_sheets(grids, found, teller)
    return tables


def _grids_of_sheets(grids: Mapping[str, Grid], teller: Teller) -> dict[Sheet, Grid]:
    chosen: dict[Sheet, Grid] = {}
    for grid in grids.values():
        for key, values in grid.remarks:
            teller.tell(key, At(), **values)
        sheet = find_sheet(grid.title)
        if sheet is None or grid.skipped:
            continue
        before = chosen.get(sheet)
        exact = heading_key(grid.title) == heading_key(sheet.name)
        if before is None or (exact and heading_key(before.title) != heading_key(sheet.name)):
            chosen[sheet] = grid
        unused = grid if before is not None and chosen[sheet] is before else before
        if unused is not None:
            used = chosen[sheet].title
            teller.tell("two-sheets", At(sheet.name), used=used, unused=unused.title)
    return chosen


def _tell_missing_sheets(
    grids: Mapping[str, Grid], found: Mapping[Sheet, Grid], teller: Teller
) -> None:
    unknown = [grid.title for grid in grids.values() if find_sheet(grid.title) is None]
    for sheet in SHEETS:
        if sheet.required and sheet not in found:
            near = Names(unknown).nearest(sheet.name)
            teller.tell("no-sheet", At(sheet.name), help=sheet.help, near=near)
    for title in unknown:
        together = "other-sheet" if len(unknown) > 20 else title
        teller.tell("other-sheet", At(), together=together, title=title)


def _table(sheet: Sheet, grid: Grid, teller: Teller) -> Table:
    table = Table(sheet=sheet, from_1904=grid.from_1904)
    header = _header_row(sheet, grid)
    if header is None and sheet.name == "Trial":
        table.columns = {"field": 1, "value": 2, "note": 3}
        table.rows = dict(sorted(grid.rows.items()))
        return table
    if header is None:
        _tell_no_header(table, grid, teller)
        return table
    titles = [row for row in grid.rows if row < header]
    if titles:
        several = len(titles) if len(titles) > 1 else None
        teller.tell("title-lines", table.at(min(titles)), several=several, header=header)
    _map_columns(table, grid.rows[header], header, teller)
    _tell_missing_columns(table, teller)
    rows = {row: cells for row, cells in sorted(grid.rows.items()) if row > header}
    rows = _unmerged(table, rows, grid, header, teller)
    table.rows = _facts(table, rows, grid.rows[header], teller)
    used = {index for row in table.rows.values() for index in row}
    for name in [name for name in table.extras if table.columns[name] not in used]:
        del table.extras[name], table.columns[name]
    if sheet.name != "Trial":
        teller.count_rows(sheet.name, table.rows)
    if not table.usable and not sheet.required:
        table.extras.clear()
        for row in table.rows:
            teller.mark(sheet.name, row, "waiting")
    return table


def _header_row(sheet: Sheet, grid: Grid) -> int | None:
    """Find the row with the most declared headings; the first of them if several have as many."""
    best, best_score = None, 1
    for row in sorted(grid.rows)[:_LOOK_AT]:
        found = {
            column.name
            for cell in grid.rows[row].values()
            if cell.kind == "text" and (column := sheet.find(cell.text)) is not None
        }
        if len(found) > best_score:
            best, best_score = row, len(found)
    return best


def _tell_no_header(table: Table, grid: Grid, teller: Teller) -> None:
    sheet = table.sheet
    table.usable = False
    needed = [column.name for column in sheet.columns if column.required]
    if sheet.required:
        key = "no-header" if grid.rows else "no-header/empty"
        teller.tell(key, At(sheet.name), needed=needed)
    elif grid.rows:
        teller.tell("no-header/optional", At(sheet.name), needed=needed)


def _map_columns(table: Table, header: Mapping[int, Cell], row: int, teller: Teller) -> None:
    """Find out which column is which; a column's own name wins over other words for it."""
    headings = [(index, cell.text) for index, cell in sorted(header.items()) if cell.text.strip()]
    found: list[tuple[bool, int, str, Column | None]] = []
    for index, text in headings:
        column = table.sheet.find(text)
        own = column is not None and heading_key(text) == heading_key(column.name)
        found.append((not own, index, text, column))
    for _, index, text, column in sorted(found, key=lambda entry: entry[:2]):
        if column is not None and column.name not in table.columns:
            table.columns[column.name] = index
            _other_unit(table, column, text, row, teller)
    taken = set(table.columns.values())
    for _, index, text, column in found:
        if index not in taken:
            _extra_column(table, At(table.sheet.name, row, None, index), text, column, teller)


def _other_unit(table: Table, column: Column, heading: str, row: int, teller: Teller) -> None:
    other = unit_of_heading(heading, column.unit)
    if other is None:
        return
    table.factors[column.name] = other[1]
    at = At(table.sheet.name, row, column.name, table.columns[column.name])
    teller.tell("unit-of-column", at, heading=heading, unit=other[0], own=column.unit)


def _extra_column(
    table: Table, at: At, heading: str, double: Column | None, teller: Teller
) -> None:
    name = _new_name(table, heading)
    table.columns[name] = at.number or 0
    table.extras[name] = heading
    if double is not None:
        teller.tell("double-column", at, heading=heading, double=double.name, name=name)
    elif table.sheet.name == "Batches":
        teller.tell("extra-factor", at, heading=heading, name=name)
    else:
        teller.tell("unknown-column", at, heading=heading, name=name)


def _new_name(table: Table, heading: str) -> str:
    """Make a column name of a heading: small letters, figures and underscores, not yet taken."""
    words = "".join(c if c.isalnum() else " " for c in heading.casefold()).split()
    name = "_".join(words)[:40].strip("_") or "column"
    taken = {part for column in table.sheet.columns for part in names_in_frame(column)}
    taken |= _OWN_NAMES | set(table.columns) | {column.name for column in table.sheet.columns}
    if name[0].isdigit():
        name = f"column_{name}"
    unique, n = name, 2
    while unique in taken:
        unique, n = f"{name}_{n}", n + 1
    return unique


def _tell_missing_columns(table: Table, teller: Teller) -> None:
    sheet = table.sheet
    for column in sheet.columns:
        if not column.required or column.name in table.columns:
            continue
        table.usable = False
        at = At(sheet.name, None, column.name)
        near = Names(table.extras.values()).nearest(column.name)
        if sheet.required:
            teller.tell("no-column", at, help=column.help, near=near)
        elif sheet.name != "Trial":
            teller.tell("no-column/optional", at, help=column.help, near=near)


def _unmerged(table: Table, rows: Rows, grid: Grid, header: int, teller: Teller) -> Rows:
    """Give the value of a merged block to every row of it."""
    names = {index: name for name, index in table.columns.items()}
    for first, column, last, _ in grid.merged:
        cell = grid.rows.get(first, {}).get(column)
        if cell is None or first <= header or last <= first:
            continue
        below = range(first + 1, last + 1)
        for row in below if len(below) < len(rows) else [r for r in rows if r in below]:
            if row in rows and column not in rows[row]:
                rows[row] = rows[row] | {column: cell}
                teller.mark(table.sheet.name, row, "repaired")
                at = At(table.sheet.name, first, names.get(column), column)
                teller.tell("merged", at, together=(first, column), text=cell.text)
    return rows


# ---- rows of facts and other rows ---------------------------------------------------------------


def _facts(table: Table, rows: Rows, header: Mapping[int, Cell], teller: Teller) -> Rows:
    """Keep the rows below the headings that state facts, and tell what the others were."""
    headings = {index: heading_key(cell.text) for index, cell in header.items()}
    keys = [c.name for c in table.sheet.columns if c.required]
    kept = {}
    for row, cells in rows.items():
        why = _not_a_fact(cells, [table.columns.get(name) for name in keys], headings)
        if why is None:
            kept[row] = cells
            continue
        needed = " and ".join(keys)
        teller.tell(why, table.at(row), text=_first_text(cells), needed=needed)
    _tell_empty_rows(table, rows, teller)
    _tell_cells(table, kept, teller)
    return kept


def _first_text(cells: Mapping[int, Cell]) -> str:
    return next((cell.text for _, cell in sorted(cells.items()) if cell.text.strip()), "")


def _not_a_fact(
    cells: Mapping[int, Cell], keys: list[int | None], headings: Mapping[int, str]
) -> str | None:
    same = [i for i, cell in cells.items() if heading_key(cell.text) == headings.get(i)]
    if len(same) >= 2 and 2 * len(same) > len(cells):
        return "repeated-header"
    held = [cells[i] for i in keys if i is not None and i in cells]
    totals = [cell for cell in cells.values() if _is_total(cell)]
    if totals and (len(held) < 2 or any(_is_total(cell) for cell in held)):
        return "totals"
    if not held and all(cell.formula for cell in cells.values()):
        return "totals"
    if len(cells) <= 2 and len(held) < 2 and all(_only_text(cell) for cell in cells.values()):
        return "text-only" if not held or _no_key(held[0]) else None
    return None


def _is_total(cell: Cell) -> bool:
    return cell.kind == "text" and bool(_TOTALS.fullmatch(cell.text.strip(" :=-\t")))


def _only_text(cell: Cell) -> bool:
    return cell.kind in ("text", "no_value") and not re.fullmatch(r"[\d\s.,/-]+", cell.text)


def _no_key(cell: Cell) -> bool:
    """Whether a lone text is a line to divide the rows rather than a date or a name."""
    text = cell.text.strip()
    return len(text.split()) > 3 or text.endswith(":") or not re.match(r"\w", text)


def _tell_empty_rows(table: Table, rows: Mapping[int, object], teller: Teller) -> None:
    gaps = [a + 1 for a, b in itertools.pairwise(sorted(rows)) if b > a + 1]
    if gaps and table.sheet.name != "Trial":
        teller.tell("empty-rows", table.at(gaps[0]))


def _tell_cells(table: Table, kept: Rows, teller: Teller) -> None:
    """Tell about formulas that failed, very long texts, and colours."""
    names = {index: name for name, index in table.columns.items()}
    looks: dict[int, dict[int, int]] = {}
    for row, cells in kept.items():
        for index, cell in cells.items():
            if cell.look or index in looks:
                looks.setdefault(index, {}).setdefault(cell.look, row)
            if cell.kind in ("error", "no_value") or len(cell.text) > LONG_TEXT:
                _tell_cell(At(table.sheet.name, row, names.get(index), index), cell, teller)
    for index, by_look in looks.items():
        plain_too = any(c[index].look == 0 for c in kept.values() if index in c)
        if len(by_look) > 1 or plain_too:
            row = min(row for look, row in by_look.items() if look)
            at = At(table.sheet.name, row, names.get(index), index)
            teller.tell("colours", at, together="colours")


def _tell_cell(at: At, cell: Cell, teller: Teller) -> None:
    if cell.kind == "error":
        teller.tell("formula-error", at, together=at[2:], text=cell.text)
    elif cell.kind == "no_value":
        teller.tell("formula-no-value", at, together=at[2:])
    else:
        teller.tell("long-text", at, n=len(cell.text), text=cell.text)
