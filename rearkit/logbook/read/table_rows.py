"""Tell rows of facts from totals, repeated headings, lines of text and empty rows."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

from rearkit.logbook.declare import heading_key
from rearkit.logbook.findings import shown
from rearkit.logbook.grid import LONG_TEXT, Cell
from rearkit.logbook.telling import At, Teller

if TYPE_CHECKING:
    from rearkit.logbook.tables import Table

_TOTALS = re.compile(
    r"(?:grand |sub)?totals?|sum|sums|average|averages|mean|overall|summe|gesamt", re.IGNORECASE
)
_LEFT_OUT = {
    "totals": ("a row of totals", "left out; totals are worked out anew"),
    "text-only": ("a row that holds only text", "left out; no fact can be read from it"),
    "repeated-header": ("the headings once more", "left out"),
}


def keep_facts(
    table: Table,
    rows: Mapping[int, dict[int, Cell]],
    header: Mapping[int, Cell],
    teller: Teller,
) -> dict[int, dict[int, Cell]]:
    """Keep the rows of a table that state facts, and tell what the others were.

    Parameters
    ----------
    table : Table
        Its columns must be known.
    rows : mapping
        Every row below the headings that is not empty.
    header : mapping
        The cells of the headings.
    teller : Teller

    Returns
    -------
    dict of int to dict of int to Cell
    """
    headings = {index: heading_key(cell.text) for index, cell in header.items()}
    keys = [c.name for c in table.sheet.columns if c.required]
    kept = {}
    for row, cells in rows.items():
        why = _not_a_fact(cells, [table.columns.get(name) for name in keys], headings)
        if why is None:
            kept[row] = cells
            continue
        seen, done = _LEFT_OUT[why]
        teller.tell(
            "FIX",
            why,
            table.at(row),
            seen=f"{seen}: “{shown(_first_text(cells))}”",
            done=done,
            settle="Nothing to do, unless it states a fact: then fill in "
            + " and ".join(keys)
            + ".",
        )
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
        teller.tell(
            "FIX",
            "empty-rows",
            table.at(gaps[0]),
            seen="empty rows between the facts",
            done="the rows below them are read too",
            settle="Nothing to do.",
        )


def _tell_cells(table: Table, kept: Mapping[int, dict[int, Cell]], teller: Teller) -> None:
    """Tell about formulas that failed, very long texts, and colours."""
    names = {index: name for name, index in table.columns.items()}
    looks: dict[int, dict[int, int]] = {}
    for row, cells in kept.items():
        for index, cell in cells.items():
            if cell.look or index in looks:
                looks.setdefault(index, {}).setdefault(cell.look, row)
            if cell.kind in ("error", "no_value"):
                at = At(table.sheet.name, row, names.get(index), index)
                _tell_formula(at, cell, teller)
            elif len(cell.text) > LONG_TEXT:
                at = At(table.sheet.name, row, names.get(index), index)
                _tell_long(at, cell, teller)
    for index, by_look in looks.items():
        plain_too = any(c[index].look == 0 for c in kept.values() if index in c)
        if len(by_look) > 1 or plain_too:
            row = min(row for look, row in by_look.items() if look)
            teller.tell(
                "NOTE",
                "colours",
                At(table.sheet.name, row, names.get(index), index),
                seen="cells of one column in different colours",
                done="colours are not read",
                settle="If a colour means something, write it in a column, such as note.",
                together="colours",
            )


def _tell_formula(at: At, cell: Cell, teller: Teller) -> None:
    error = cell.kind == "error"
    teller.tell(
        "NOTE",
        "formula-error" if error else "formula-no-value",
        at,
        seen=f"the formula gives the error {shown(cell.text)}"
        if error
        else "a formula whose result was never stored",
        done="the cell is read as blank",
        settle="Mend the formula or write the number itself."
        if error
        else "Open the log in your spreadsheet program and save it, or write the number itself.",
        together=(at.column, at.number),
    )


def _tell_long(at: At, cell: Cell, teller: Teller) -> None:
    teller.tell(
        "NOTE",
        "long-text",
        at,
        seen=f"a cell of {len(cell.text):,} characters: “{shown(cell.text)}”",
        done="kept whole",
        settle="Check that nothing was pasted there by mistake.",
    )
