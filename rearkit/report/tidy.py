"""The frames of a log as CSV files that any program can read, described by a data package."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
from pandas.api import types

if TYPE_CHECKING:
    from rearkit.logbook.logbook import Logbook

FRAMES = (
    "batches",
    "daily",
    "sizes",
    "positions",
    "events",
    "account",
    "fates",
    "findings",
    "rows",
)
PACKAGE = "datapackage.json"
_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_PARTS_OF_A_COUNT = {
    "_low": "the fewest it can be",
    "_best": "the best single value",
    "_high": "the most it can be, INF if open",
    "_text": "as it was written",
}


def write_tidy(log: Logbook, folder: Path) -> tuple[Path, ...]:
    """Write every frame of a log as CSV, and ``datapackage.json`` beside them.

    Parameters
    ----------
    log : Logbook
    folder : Path
        Made if it is not there.

    Returns
    -------
    tuple of Path
        The files written.

    Notes
    -----
    The package follows Frictionless Data Package 1.0. Text that a spreadsheet program would take
    for a formula gets an apostrophe in front; numbers are left alone. A missing value is an empty
    cell, an open upper end is ``INF``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    trial = pd.DataFrame(
        {"field": list(log.trial), "value": list(log.trial.values())}, dtype=object
    )
    frames = {"trial": trial, **{name: getattr(log, name) for name in FRAMES}}
    resources = [_write_frame(name, frame, folder) for name, frame in frames.items()]
    package = {
        "profile": "tabular-data-package",
        "name": re.sub(r"[^a-z0-9]+", "-", log.name.lower()).strip("-") or "log",
        "title": log.name,
        "description": "The log as tidy tables. A text that begins like a formula has an "
        "apostrophe in front of it.",
        "sources": [{"title": log.path.name, "hash": f"sha256:{log.sha256}"}],
        "resources": resources,
    }
    described = folder / PACKAGE
    described.write_text(json.dumps(package, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    return (*(folder / str(resource["path"]) for resource in resources), described)


def inert(value: object) -> object:
    """Put an apostrophe before text that a spreadsheet would run as a formula.

    Parameters
    ----------
    value : object

    Returns
    -------
    object
        Anything but text as it was.

    Examples
    --------
    >>> inert("=1+1"), inert("tub 3"), inert(-2.5)
    ("'=1+1", 'tub 3', -2.5)
    """
    if isinstance(value, str) and value.startswith(_STARTS_A_FORMULA):
        return f"'{value}"
    return value


def _write_frame(name: str, frame: pd.DataFrame, folder: Path) -> dict[str, object]:
    cells = {_header(column): _cells(frame[column]) for column in frame.columns}
    text = pd.DataFrame(cells, dtype=object).to_csv(index=False, lineterminator="\n", na_rep="")
    data = text.encode("utf-8")
    (folder / f"{name}.csv").write_bytes(data)
    return {
        "name": name,
        "path": f"{name}.csv",
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
        "schema": {
            "fields": [_field(name, column, frame[column]) for column in frame.columns],
            "missingValues": [""],
        },
    }


def _header(column: object) -> str:
    return str(inert(str(column)))


def _cells(values: pd.Series) -> list[object]:
    return [_cell(value) for value in values]


def _cell(value: object) -> object:
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, dt.datetime):
        midnight = value.time() == dt.time()
        return value.date().isoformat() if midnight else value.isoformat(sep=" ")
    if isinstance(value, float) and math.isinf(value):
        return "INF" if value > 0 else "-INF"
    if isinstance(value, bool):
        return "true" if value else "false"
    return inert(value)


def _field(frame: str, column: object, values: pd.Series) -> dict[str, str]:
    field = {"name": _header(column), "type": _type_of(values)}
    description = _description(frame, str(column))
    return {**field, "description": description} if description else field


def _type_of(values: pd.Series) -> str:
    if types.is_bool_dtype(values):
        return "boolean"
    if types.is_integer_dtype(values):
        return "integer"
    if types.is_float_dtype(values):
        return "number"
    if types.is_datetime64_any_dtype(values):
        whole = (values.dropna().dt.normalize() == values.dropna()).all()
        return "date" if whole else "string"
    return "string"


def _description(frame: str, column: str) -> str:
    """Take what the log's own dictionary says of a column, if it is one of the log's."""
    from rearkit.logbook.schema.sheets import SHEETS

    declared = {
        listed.name: listed
        for sheet in SHEETS
        if sheet.name.lower() == frame
        for listed in sheet.columns
    }
    ending = next((end for end in _PARTS_OF_A_COUNT if column.endswith(end)), "")
    base = column.removesuffix(ending)
    if column in declared:
        return _said_of(declared[column].help, declared[column].unit)
    if ending and base in declared:
        help_text = _said_of(declared[base].help, declared[base].unit)
        return f"{help_text} Here: {_PARTS_OF_A_COUNT[ending]}."
    return ""


def _said_of(help_text: str, unit: str) -> str:
    return f"{help_text} Unit: {unit}." if unit else help_text
