"""The tidy frames of a log, as the reader hands them on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from rearkit.logbook.doubts.findings import At, Finding
from rearkit.logbook.schema.declare import Column, Kind
from rearkit.logbook.schema.sheets import columns_of

COUNT_PARTS = ("low", "best", "high", "text")


@dataclass(frozen=True, kw_only=True, eq=False)
class Frames:
    """What the reader made of a log.

    Attributes
    ----------
    trial : mapping of str to object
        Every declared field of the Trial sheet; None where it is blank.
    batches, daily, sizes, positions, events : DataFrame
        One tidy frame a sheet. A count ``x`` is ``x_low``, ``x_best``, ``x_high``, ``x_text``;
        ``sheet_row`` is the row as the spreadsheet numbers it.
    findings : list of Finding
        Everything that was noticed, the gravest first.
    rows : DataFrame
        A row a sheet: how many rows were read, used as they are, repaired, are waiting for the
        keeper's word, are unusable. The last four add up to the first.
    columns : mapping of str to mapping of str to int
        By sheet and column name, which column of the spreadsheet it is, counted from 1.
    """

    trial: Mapping[str, object]
    batches: pd.DataFrame
    daily: pd.DataFrame
    sizes: pd.DataFrame
    positions: pd.DataFrame
    events: pd.DataFrame
    findings: list[Finding]
    rows: pd.DataFrame
    columns: Mapping[str, Mapping[str, int]] = field(default_factory=dict)

    def at(self, sheet: str, row: int, column: str) -> At:
        """Give the place of a cell; it has no address if the sheet lacks the row or the column."""
        return At(sheet, row or None, column, self.columns.get(sheet, {}).get(column))


def names_in_frame(column: Column) -> tuple[str, ...]:
    """Give the frame columns that one column of a sheet becomes."""
    if column.kind == "count":
        return tuple(f"{column.name}_{part}" for part in COUNT_PARTS)
    return (column.name,)


def blank_values(kind: Kind, name: str, n: int) -> list[object]:
    """Give ``n`` missing values of a frame column."""
    if kind == "date":
        return [pd.NaT] * n
    if kind == "number" or (kind == "count" and not name.endswith("_text")):
        return [np.nan] * n
    return [None] * n


def make_frame(
    sheet: str, values: Mapping[str, list[object]], rows: list[int], more: Mapping[str, str]
) -> pd.DataFrame:
    """Lay the values of one sheet out as a frame of the promised columns and types.

    Parameters
    ----------
    sheet : str
    values : mapping of str to list
        By frame column, every declared one.
    rows : list of int
        The row of the spreadsheet for every row of the frame.
    more : mapping of str to str
        Further columns with their type (``bool`` or ``object``), which must be in ``values``.
    """
    series: dict[str, pd.Series] = {}
    for column in columns_of(sheet):
        for name in names_in_frame(column):
            series[name] = _typed(column.kind, name, values[name])
    for name, dtype in more.items():
        series[name] = pd.Series(values[name], dtype=dtype)
    series["sheet_row"] = pd.Series(rows, dtype="int64")
    return pd.DataFrame(series)


def _typed(kind: Kind, name: str, data: list[object]) -> pd.Series:
    if kind == "date":
        return pd.Series(pd.to_datetime(pd.Series(data, dtype=object)).astype("datetime64[ns]"))
    if kind == "number" or (kind == "count" and not name.endswith("_text")):
        return pd.Series(data, dtype="float64")
    return pd.Series(data, dtype=object)
