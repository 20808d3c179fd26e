"""The Trial sheet: one line a field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from rearkit.logbook.doubts.findings import At, shown
from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.files.grid import Cell
from rearkit.logbook.parse.names import Names, tidy_name
from rearkit.logbook.read.date_cells import DateCells
from rearkit.logbook.read.tables import Table
from rearkit.logbook.read.typed_columns import Typist
from rearkit.logbook.schema.declare import Column, heading_key
from rearkit.logbook.schema.sheets import sheet_named
from rearkit.logbook.schema.trial_fields import TRIAL_FIELDS

_NAMED = 6  # values of the compared column that are named
Written = dict[str, tuple[At, Cell]]


def find_fields(table: Table, teller: Teller) -> Written:
    """Find the value that is written for every field.

    Parameters
    ----------
    table : Table
        The Trial sheet.
    teller : Teller

    Returns
    -------
    dict of str to (At, Cell)
        By the name of the field; blank fields are left out.
    """
    found: Written = {}
    if not {"field", "value"} <= set(table.columns):
        return found
    for row in table.rows:
        name, value = table.cell(row, "field"), table.cell(row, "value")
        if name is None:
            continue
        field = _field(name.text)
        if field is None:
            near = Names(field.name for field in TRIAL_FIELDS).nearest(name.text)
            teller.tell("unknown-field", table.at(row, "field"), text=name.text, near=near)
        elif value is not None and field.name in found:
            at, text = table.at(row, "value"), found[field.name][1].text
            teller.tell("double-field", at, field=field.name, text=text)
        elif value is not None:
            found[field.name] = (At("Trial", row, field.name, table.columns["value"]), value)
    return found


def _field(text: str) -> Column | None:
    key = heading_key(text)
    return next((field for field in TRIAL_FIELDS if key and key in field.keys), None)


def date_fields(written: Written, table: Table) -> Iterable[tuple[At, Cell, bool | None]]:
    """Give the cells of the fields that are dates."""
    for field in TRIAL_FIELDS:
        if field.kind == "date" and field.name in written:
            at, cell = written[field.name]
            yield at, cell, table.from_1904


def told_order(written: Written) -> str | None:
    """Give the order of day and month that the Trial sheet states, if it does."""
    field = next(field for field in TRIAL_FIELDS if field.name == "date_order")
    if field.name not in written:
        return None
    return field.words.get(heading_key(written[field.name][1].text))


def read_trial(written: Written, typist: Typist, dates: DateCells) -> dict[str, object]:
    """Give the value of every declared field, None where it is blank.

    Parameters
    ----------
    written : dict
        As ``find_fields`` gives it.
    typist : Typist
        Reads the values.
    dates : DateCells
        Has read the dates.

    Returns
    -------
    dict of str to object
        Text, float, bool or a ``datetime.date``.
    """
    values: dict[str, object] = {}
    for field in TRIAL_FIELDS:
        value: object = None
        if field.name in written:
            at, cell = written[field.name]
            value = _value(field, at, cell, typist, dates)
        values[field.name] = value
    return values


def _value(field: Column, at: At, cell: Cell, typist: Typist, dates: DateCells) -> object:
    if field.kind == "date":
        day: dt.date | None = dates.date(at)
        if day is None and cell.kind not in ("error", "no_value"):
            typist.tell_no_date(at, cell)
        return day
    if field.kind == "number":
        return typist.number(field, at, cell)
    if field.kind == "choice":
        return typist.choice(field, at, cell)
    if field.kind == "flag":
        return typist.flag(at, cell)
    return typist.text(cell)


def check_compared(
    trial: dict[str, object],
    values: Mapping[str, Iterable[object]],
    written: Written,
    teller: Teller,
) -> None:
    """Bring compare, usual and tested into line with the columns of Batches and their values.

    Parameters
    ----------
    trial : dict
        Is changed in place.
    values : mapping of str to iterable
        By column of Batches, the values in it.
    written : dict
        Where the fields stand.
    teller : Teller
    """
    compare = "method"
    if trial["compare"] is not None:
        compare = _compared_column(trial, values, written, teller) or compare
    known = [str(value) for value in values.get(compare, ()) if value is not None]
    names = Names(known)
    for field in ("usual", "tested"):
        text = trial[field]
        if text is None:
            continue
        at = written[field][0]
        if str(text) in names:
            trial[field] = spelling = names.spelling(str(text))
            if spelling != text:
                teller.tell("name-joined/field", at, text=text, spelling=spelling)
        elif known:
            near = names.nearest(str(text))
            some = sorted({shown(value, longest=30) for value in known})[:_NAMED]
            teller.tell("unknown-value", at, text=text, compare=compare, near=near, known=some)


def _compared_column(
    trial: dict[str, object],
    values: Mapping[str, Iterable[object]],
    written: Written,
    teller: Teller,
) -> str | None:
    text = tidy_name(str(trial["compare"]))
    by_key = {heading_key(name): name for name in values}
    declared = sheet_named("Batches").find(text)
    name = by_key.get(heading_key(text)) or (declared.name if declared else None)
    if name in values:
        trial["compare"] = name
        return name
    near = Names(values).nearest(text)
    teller.tell("unknown-compare", written["compare"][0], text=text, near=near)
    return None
