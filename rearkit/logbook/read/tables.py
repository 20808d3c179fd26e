"""Find the table in every sheet: its header row, its columns and its rows of facts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rearkit.logbook.declare import Column, Sheet, heading_key
from rearkit.logbook.findings import shown
from rearkit.logbook.frames import names_in_frame
from rearkit.logbook.grid import Cell, Grid
from rearkit.logbook.names import Names
from rearkit.logbook.numbers import unit_of_heading
from rearkit.logbook.sheets import SHEETS, find_sheet
from rearkit.logbook.table_rows import keep_facts
from rearkit.logbook.telling import At, Teller

_LOOK_AT = 60  # rows in which the header is looked for
_OWN_NAMES = frozenset(("sheet_row", "stopped", "start_known", "age_days", "age_zero", "clock"))


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
        Whether the required columns are there.
    """

    sheet: Sheet
    columns: dict[str, int] = field(default_factory=dict)
    extras: dict[str, str] = field(default_factory=dict)
    rows: dict[int, dict[int, Cell]] = field(default_factory=dict)
    factors: dict[str, float] = field(default_factory=dict)
    from_1904: bool | None = None
    usable: bool = True

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
        By the name of the declared sheet.
    """
    tables = {}
    for sheet, grid in _grids_of_sheets(grids, teller).items():
        tables[sheet.name] = _table(sheet, grid, teller)
    _tell_missing_sheets(grids, tables, teller)
    return tables


def _grids_of_sheets(grids: Mapping[str, Grid], teller: Teller) -> dict[Sheet, Grid]:
    chosen: dict[Sheet, Grid] = {}
    for grid in grids.values():
        teller.add(grid.remarks)
        sheet = find_sheet(grid.title)
        if sheet is None or grid.skipped:
            continue
        before = chosen.get(sheet)
        exact = heading_key(grid.title) == heading_key(sheet.name)
        if before is None or (exact and heading_key(before.title) != heading_key(sheet.name)):
            chosen[sheet] = grid
        unused = grid if before is not None and chosen[sheet] is before else before
        if unused is not None:
            teller.tell(
                "ASK",
                "two-sheets",
                At(sheet.name),
                seen=f"two sheets are both read as {sheet.name}: "
                f"“{shown(chosen[sheet].title)}” and “{shown(unused.title)}”",
                done=f"only “{shown(chosen[sheet].title)}” is used",
                settle="Put the rows of both into one sheet, or rename the one that is not meant.",
            )
    return {sheet: chosen[sheet] for sheet in SHEETS if sheet in chosen}


def _tell_missing_sheets(
    grids: Mapping[str, Grid], tables: Mapping[str, Table], teller: Teller
) -> None:
    unknown = [grid.title for grid in grids.values() if find_sheet(grid.title) is None]
    for sheet in SHEETS:
        if sheet.required and sheet.name not in tables:
            near = Names(unknown).nearest(sheet.name)
            hint = f" Is it “{shown(near)}”? Then call that {sheet.name}." if near else ""
            teller.tell(
                "STOP",
                "no-sheet",
                At(sheet.name),
                scope="log",
                seen=f"there is no sheet {sheet.name}",
                done="nothing can be analysed without it",
                settle=f"Add a sheet called {sheet.name}. {sheet.help}{hint}",
            )
    for title in unknown:
        teller.tell(
            "NOTE",
            "other-sheet",
            At(),
            seen=f"a sheet “{shown(title)}”, which is no sheet of a log",
            done="not read",
            settle="Nothing to do, unless its title is misspelled.",
            together="other-sheet" if len(unknown) > 20 else title,
        )


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
        teller.tell(
            "FIX",
            "title-lines",
            table.at(min(titles)),
            seen="a line above the headings"
            if len(titles) == 1
            else f"{len(titles)} lines above the headings",
            done=f"left out; row {header} is read as the headings",
            settle="Nothing to do.",
        )
    _map_columns(table, grid.rows[header], header, teller)
    _tell_missing_columns(table, teller)
    rows = {row: cells for row, cells in sorted(grid.rows.items()) if row > header}
    rows = _unmerged(table, rows, grid, header, teller)
    table.rows = keep_facts(table, rows, grid.rows[header], teller)
    used = {index for row in table.rows.values() for index in row}
    for name in [name for name in table.extras if table.columns[name] not in used]:
        del table.extras[name], table.columns[name]
    if sheet.name != "Trial":
        teller.count_rows(sheet.name, table.rows)
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
    needed = ", ".join(column.name for column in sheet.columns if column.required)
    if sheet.required:
        teller.tell(
            "STOP",
            "no-header",
            At(sheet.name),
            scope="log",
            seen="no row of column headings was found" if grid.rows else "the sheet is empty",
            done="nothing can be analysed without it",
            settle=f"Write the headings into one row; it needs at least {needed}.",
        )
    elif grid.rows:
        teller.tell(
            "ASK",
            "no-header",
            At(sheet.name),
            seen="no row of column headings was found",
            done="the sheet is left out",
            settle=f"Write the headings into one row; it needs at least {needed}.",
        )


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
    teller.tell(
        "FIX",
        "unit-of-column",
        At(table.sheet.name, row, column.name, table.columns[column.name]),
        seen=f"the heading “{shown(heading)}” is in {other[0]}",
        done=f"every number in it is turned into {column.unit}",
        settle=f"Nothing to do; the column of the blank log is in {column.unit}.",
    )


def _extra_column(
    table: Table, at: At, heading: str, double: Column | None, teller: Teller
) -> None:
    name = _new_name(table, heading)
    table.columns[name] = at.number or 0
    table.extras[name] = heading
    if double is not None:
        teller.tell(
            "ASK",
            "double-column",
            at,
            seen=f"the heading “{shown(heading)}” means {double.name}, which is there already",
            done=f"kept apart as {name}; only the other column is used",
            settle="Delete or rename one of the two columns.",
        )
    elif table.sheet.name == "Batches":
        teller.tell(
            "NOTE",
            "extra-factor",
            at,
            seen=f"a column of your own, “{shown(heading)}”",
            done=f"kept as {name}; batches can be compared by it",
            settle="Nothing to do.",
        )
    else:
        teller.tell(
            "NOTE",
            "unknown-column",
            at,
            seen=f"a column that is not known, “{shown(heading)}”",
            done=f"kept as {name}, but nothing is worked out from it",
            settle="Nothing to do, unless the heading is misspelled.",
        )


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
        settle = f"Add a column {column.name}. {column.help}"
        near = Names(table.extras.values()).nearest(column.name)
        settle += f" Is it “{shown(near)}”? Then rename that." if near else ""
        if sheet.required:
            teller.tell(
                "STOP",
                "no-column",
                At(sheet.name, None, column.name),
                scope="log",
                seen=f"the sheet has no column {column.name}",
                done="nothing can be analysed without it",
                settle=settle,
            )
        elif sheet.name != "Trial":
            teller.tell(
                "ASK",
                "no-column",
                At(sheet.name, None, column.name),
                seen=f"the sheet has no column {column.name}",
                done="the sheet is left out",
                settle=settle,
            )


def _unmerged(
    table: Table, rows: dict[int, dict[int, Cell]], grid: Grid, header: int, teller: Teller
) -> dict[int, dict[int, Cell]]:
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
                teller.tell(
                    "FIX",
                    "merged",
                    at,
                    seen=f"merged cells that hold “{shown(cell.text)}”",
                    done="the value is taken for every row that they cover",
                    settle="Nothing to do; one value in each row is safer.",
                    together=(first, column),
                )
    return rows
