"""Cells out of .ods files; macros, links and pictures in them are left alone."""

from __future__ import annotations

import datetime as dt
import math
import re
from typing import Any

from rearkit.logbook.files.archive import Archive, too_big
from rearkit.logbook.files.grid import (
    MOST_COLUMNS,
    MOST_ROWS,
    Budget,
    Cell,
    Grid,
    date_cell,
    number_cell,
    text_cell,
    time_cell,
)
from rearkit.logbook.schema.sheets import find_sheet

_SPACE = "urn:oasis:names:tc:opendocument:xmlns:"
_OFFICE, _TABLE, _TEXT, _STYLE, _FO = (
    _SPACE + name
    for name in ("office:1.0 ", "table:1.0 ", "text:1.0 ", "style:1.0 ", "xsl-fo-compatible:1.0 ")
)
_CELL, _COVERED = _TABLE + "table-cell", _TABLE + "covered-table-cell"
_TIME = re.compile(r"-?PT(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)(?:[.,]\d+)?S)?")
_MOST_TEXT = 1_000_000


def is_protected(archive: Archive) -> bool:
    """Whether the parts of the file are encrypted."""
    if "encrypted-package" in archive:
        return True
    listing = "META-INF/manifest.xml"
    return listing in archive and b"encryption-data" in archive.read(listing, most=4 * 2**20)


def read_ods(archive: Archive) -> dict[str, Grid]:
    """Read every sheet of an OpenDocument spreadsheet that may belong to a log.

    Parameters
    ----------
    archive : Archive
        The opened file.

    Returns
    -------
    dict of str to Grid
        By title, in the order of the file; other sheets are there without their cells.
    """
    content = _Content()
    archive.parse("content.xml", start=content.start, end=content.end, text=content.text)
    for grid in content.grids.values():
        grid.from_1904 = content.from_1904
    for grid in list(content.grids.values())[:1]:
        grid.remarks.extend(_remarks(archive, content))
    return content.grids


def _remarks(archive: Archive, content: _Content) -> list[tuple[str, dict[str, Any]]]:
    said: list[tuple[str, dict[str, Any]]] = []
    if any(name.startswith(("Basic/", "Scripts/")) for name in archive.names):
        said.append(("macros/ods", {}))
    if content.linked:
        said.append(("links", {}))
    return said


class _Content:
    """Collect the cells of every sheet while content.xml goes by."""

    def __init__(self) -> None:
        self.grids: dict[str, Grid] = {}
        self.budget = Budget()
        self.from_1904 = False
        self.linked = False
        self.colours: dict[str, int] = {}
        self.style = ""
        self.grid: Grid | None = None
        self.depth = 0  # tables within tables
        self.row = self.column = 0
        self.row_times = 1
        self.cells: dict[int, Cell] = {}
        self.cell: dict[str, str] | None = None
        self.covered = False  # by a merged cell
        self.paragraphs: list[str] = []
        self.length = 0
        self.muted = 0  # inside a remark or a drawing

    # ---- elements --------------------------------------------------------------------------

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Note where we are."""
        if self.muted or tag.endswith((" annotation", ":drawing:1.0 frame")):
            self.muted += 1
        elif self.cell is not None:
            self._inside_cell(tag, attributes)
        elif tag in (_CELL, _COVERED):
            self.cell, self.covered = attributes, tag == _COVERED
            self.paragraphs, self.length = [], 0
        elif tag == _TABLE + "table-row":
            self.cells, self.column = {}, 0
            self.row_times = _times(attributes, "number-rows-repeated", MOST_ROWS)
        elif tag == _TABLE + "table":
            self._start_table(attributes)
        else:
            self._settings(tag, attributes)

    def text(self, data: str) -> None:
        """Keep the text of a cell."""
        if self.cell is not None and not self.muted and self.paragraphs:
            self._add(data)

    def end(self, tag: str) -> None:
        """Store a cell, a row or a sheet when it is complete."""
        if self.muted:
            self.muted -= 1
        elif tag in (_CELL, _COVERED) and self.cell is not None and self.depth <= 1:
            self._end_cell(self.cell)
            self.cell = None
        elif tag == _TABLE + "table-row" and self.depth <= 1:
            self._end_row()
        elif tag == _TABLE + "table":
            self.depth -= 1
            self.grid = self.grid if self.depth else None

    # ---- sheets and their settings ---------------------------------------------------------

    def _start_table(self, attributes: dict[str, str]) -> None:
        self.depth += 1
        title = attributes.get(_TABLE + "name", "")
        self.grid = Grid(title=title, skipped=find_sheet(title) is None)
        self.grids[title] = self.grid
        self.row = 0

    def _settings(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == _STYLE + "style":
            self.style = attributes.get(_STYLE + "name", "")
        elif tag == _STYLE + "table-cell-properties":
            self._colour(attributes.get(_FO + "background-color", "transparent"), "transparent")
        elif tag == _STYLE + "text-properties":
            self._colour(attributes.get(_FO + "color", "#000000"), "#000000")
        elif tag == _TABLE + "null-date":
            self.from_1904 = attributes.get(_TABLE + "date-value", "").startswith("1904-01-01")
        elif tag in (_TABLE + "table-source", _TABLE + "cell-range-source"):
            self.linked = True

    def _colour(self, colour: str, plain: str) -> None:
        if self.style and colour != plain:
            told = re.fullmatch(r"#([0-9a-fA-F]{6})", colour)
            number = 1 + int(told[1], 16) if told else 1
            self.colours[self.style] = self.colours.get(self.style, 0) + number

    # ---- cells ------------------------------------------------------------------------------

    def _inside_cell(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == _TABLE + "table":
            self.muted = 1  # a table inside a cell
        elif tag == _TEXT + "p":
            self.paragraphs.append("")
        elif not self.paragraphs:
            return
        elif tag == _TEXT + "s":
            self._add(" " * _times(attributes, "c", 1000, space=_TEXT))
        elif tag == _TEXT + "tab":
            self._add("\t")
        elif tag == _TEXT + "line-break":
            self._add("\n")

    def _add(self, data: str) -> None:
        self.length += len(data)
        if self.length > _MOST_TEXT:
            raise too_big()
        self.paragraphs[-1] += data

    def _end_cell(self, attributes: dict[str, str]) -> None:
        times = _times(attributes, "number-columns-repeated", MOST_COLUMNS)
        if self.grid is not None and not self.grid.skipped and not self.covered:
            cell = self._make(attributes)
            if cell is not None:
                self.budget.spend(times * self.row_times)
                self.cells.update((self.column + i, cell) for i in range(1, times + 1))
            self._merge(attributes)
        self.column += times

    def _merge(self, attributes: dict[str, str]) -> None:
        wide = _times(attributes, "number-columns-spanned", MOST_COLUMNS)
        high = _times(attributes, "number-rows-spanned", MOST_ROWS)
        if self.grid is not None and (wide > 1 or high > 1):
            row, column = self.row + 1, self.column + 1
            self.budget.spend(1)
            self.grid.merged.append((row, column, row + high - 1, column + wide - 1))

    def _end_row(self) -> None:
        if self.cells and self.grid is not None:
            for i in range(1, self.row_times + 1):
                self.grid.rows[self.row + i] = self.cells
        self.row += self.row_times

    def _make(self, attributes: dict[str, str]) -> Cell | None:
        kind = attributes.get(_OFFICE + "value-type")
        formula = _TABLE + "formula" in attributes
        colour = self.colours.get(attributes.get(_TABLE + "style-name", ""), 0)
        text = "\n".join(self.paragraphs)
        if kind in ("float", "currency", "percentage"):
            value = _number(attributes.get(_OFFICE + "value", ""))
            if value is not None:
                as_kind = "percent" if kind == "percentage" else "number"
                return number_cell(value, kind=as_kind, formula=formula, look=colour)  # type: ignore[arg-type]
        elif kind == "date":
            day = _day(attributes.get(_OFFICE + "date-value", ""))
            if day is not None:
                return date_cell(day, formula=formula, look=colour)
        elif kind == "time":
            minutes = _minutes(attributes.get(_OFFICE + "time-value", ""))
            if minutes is not None:
                return time_cell(minutes, formula=formula, look=colour)
        elif kind == "boolean":
            true = attributes.get(_OFFICE + "boolean-value") == "true"
            return Cell("TRUE" if true else "FALSE", true, "flag", formula, colour)
        elif kind == "string" and not text:
            text = attributes.get(_OFFICE + "string-value", "")
        if text.strip():
            return text_cell(text, formula=formula, look=colour)
        return Cell("", None, "no_value", True, colour) if formula and kind is None else None


def _times(attributes: dict[str, str], name: str, most: int, *, space: str = _TABLE) -> int:
    given = attributes.get(space + name, "1")
    return max(1, min(most, int(given))) if given.isdecimal() and len(given) < 10 else 1


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _day(text: str) -> dt.datetime | None:
    try:
        return dt.datetime.fromisoformat(text[:26]).replace(tzinfo=None)
    except ValueError:
        return None


def _minutes(text: str) -> int | None:
    match = _TIME.fullmatch(text)
    if not match or len(text) > 20:
        return None
    hours, minutes, seconds = (int(part or 0) for part in match.groups())
    return round(hours * 60 + minutes + seconds / 60)
