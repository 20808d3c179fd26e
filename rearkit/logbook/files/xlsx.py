"""Cells out of .xlsx and .xlsm files; macros, links and pictures in them are left alone."""

from __future__ import annotations

import datetime as dt
import math
import posixpath
import re
from functools import lru_cache
from typing import Any

from rearkit.logbook.files.archive import Archive, damaged, too_big
from rearkit.logbook.files.formats import BUILT_IN, Look, LookKind, format_kind, formatted_cell
from rearkit.logbook.files.grid import (
    MOST_COLUMNS,
    MOST_ROWS,
    Budget,
    Cell,
    Grid,
    date_cell,
    text_cell,
)
from rearkit.logbook.schema.sheets import find_sheet

MOST_STRINGS = 400_000
MOST_STRING = 1_000_000  # characters
_REF = re.compile(r"([A-Z]{1,3})(\d{1,7})")
_ESCAPE = re.compile(r"_x000([9AD])_", re.IGNORECASE)
_ESCAPED = {"9": "\t", "a": "\n", "d": ""}


def read_xlsx(archive: Archive) -> dict[str, Grid]:
    """Read every sheet of a workbook that may belong to a log.

    Parameters
    ----------
    archive : Archive
        The opened file.

    Returns
    -------
    dict of str to Grid
        By title, in the order of the workbook; other sheets are there without their cells.
    """
    book = _main_part(archive)
    titles, from_1904 = _contents(archive, book)
    parts = _relations(archive, book)
    strings = _read_strings(archive, parts.get("sharedStrings", ""))
    looks = _read_looks(archive, parts.get("styles", ""))
    budget = Budget()
    grids: dict[str, Grid] = {}
    for title, key in titles:
        grid = Grid(title=title, from_1904=from_1904)
        if find_sheet(title) is None or parts.get(key, "") not in archive:
            grid.skipped = True
        else:
            sheet = _Sheet(grid, strings, looks, budget)
            archive.parse(parts[key], start=sheet.start, end=sheet.end, text=sheet.text)
        grids[title] = grid
    for grid in list(grids.values())[:1]:
        grid.remarks.extend(_remarks(archive))
    return grids


def _main_part(archive: Archive) -> str:
    found = [t for t in _relations(archive, "").values() if t.endswith("workbook.xml")]
    return found[0] if found else "xl/workbook.xml"


def _relations(archive: Archive, part: str) -> dict[str, str]:
    """Give the parts that a part refers to, by id and (for single ones) by the end of the type."""
    folder, name = posixpath.split(part)
    listing = posixpath.join(folder, "_rels", name + ".rels")
    found: dict[str, str] = {}

    def start(tag: str, attributes: dict[str, str]) -> None:
        if tag.endswith(" Relationship") and attributes.get("TargetMode") != "External":
            target = posixpath.normpath(posixpath.join("/", folder, attributes.get("Target", "")))
            found[attributes.get("Id", "")] = target.lstrip("/")
            found[attributes.get("Type", "").rpartition("/")[2]] = target.lstrip("/")

    if listing in archive:
        archive.parse(listing, start=start)
    return found


def _contents(archive: Archive, book: str) -> tuple[list[tuple[str, str]], bool]:
    """Give title and id of every sheet, and whether days are counted from 1904."""
    titles: list[tuple[str, str]] = []
    from_1904 = False

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal from_1904
        local = tag.rpartition(" ")[2]
        if local == "sheet":
            key = next((v for k, v in attributes.items() if k.endswith(" id")), "")
            titles.append((attributes.get("name", ""), key))
        elif local == "workbookPr":
            from_1904 = attributes.get("date1904", "0") in ("1", "true")

    archive.parse(book, start=start)
    if not titles:
        raise damaged()
    return titles, from_1904


def _remarks(archive: Archive) -> list[tuple[str, dict[str, Any]]]:
    said: list[tuple[str, dict[str, Any]]] = []
    if any(name.lower().endswith("vbaproject.bin") for name in archive.names):
        said.append(("macros", {}))
    if any("externalLinks/" in name for name in archive.names):
        said.append(("links", {}))
    return said


@lru_cache(maxsize=4096)
def _column(letters: str) -> int:
    n = 0
    for letter in letters:
        n = 26 * n + ord(letter) - 64
    return n


def _place(ref: str) -> tuple[int, int]:
    match = _REF.fullmatch(ref)
    row, column = (int(match[2]), _column(match[1])) if match else (0, 0)
    if not (0 < row <= MOST_ROWS and 0 < column <= MOST_COLUMNS):
        raise damaged()
    return row, column


class _Sheet:
    """Collect the cells of one sheet while its XML goes by."""

    def __init__(self, grid: Grid, strings: list[str], looks: list[Look], budget: Budget) -> None:
        self.grid, self.strings, self.looks, self.budget = grid, strings, looks, budget
        self.known: dict[tuple[str, str, str, bool], Cell | None] = {}
        self.row = self.column = 0
        self.inside = ""  # "", "c" in a cell, "v" in its value, "t" in its text
        self.kind = self.style = ""
        self.formula = False
        self.pieces: list[str] = []
        self.plain: dict[str, str] = {}

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Note where we are."""
        local = self.plain.get(tag)
        if local is None:
            local = self.plain[tag] = tag.rpartition(" ")[2]
        if local == "c":
            self._start_cell(attributes)
        elif local == "row":
            self.row = self._row_number(attributes)
            self.column = 0
        elif self.inside:
            if local in ("v", "t"):
                self.inside = local
            elif local == "f":
                self.formula = True
            elif local == "rPh":
                self.inside = "skip"
        elif local == "mergeCell":
            self._merge(attributes.get("ref", ""))

    def text(self, data: str) -> None:
        """Keep the text of a value."""
        if self.inside in ("v", "t"):
            self.pieces.append(data)

    def end(self, tag: str) -> None:
        """Store a cell when it is complete."""
        if not self.inside:
            return
        local = self.plain.get(tag)
        if local == "c":
            self._end_cell()
        elif local == self.inside or local == "rPh":
            self.inside = "c"

    def _row_number(self, attributes: dict[str, str]) -> int:
        given = attributes.get("r", "")
        row = int(given) if given.isdecimal() and len(given) < 8 else self.row + 1
        if not 0 < row <= MOST_ROWS:
            raise damaged()
        return row

    def _start_cell(self, attributes: dict[str, str]) -> None:
        ref = attributes.get("r")
        if ref:
            self.row, self.column = _place(ref)
        else:
            self.column += 1
        self.kind, self.style = attributes.get("t", "n"), attributes.get("s", "0")
        self.formula, self.inside = False, "c"
        self.pieces.clear()

    def _end_cell(self) -> None:
        self.inside = ""
        raw = "".join(self.pieces)
        if len(raw) > MOST_STRING:
            raise too_big()
        key = (self.kind, self.style, raw, self.formula)
        if key not in self.known:
            self.known[key] = self._make(raw)
        cell = self.known[key]
        if cell is not None:
            self.budget.spend(1)
            self.grid.rows.setdefault(self.row, {})[self.column] = cell

    def _merge(self, ref: str) -> None:
        first, _, last = ref.partition(":")
        if last:
            self.grid.merged.append((*_place(first), *_place(last)))
            self.budget.spend(1)

    def _make(self, raw: str) -> Cell | None:
        look = self._look()
        if raw == "" and self.formula and self.kind != "str":
            return Cell("", None, "no_value", True, look.colour)
        if self.kind == "s":
            index = int(raw) if raw.isdecimal() and len(raw) < 10 else -1
            if not 0 <= index < len(self.strings):
                raise damaged()
            raw = self.strings[index]
        if self.kind in ("s", "str", "inlineStr"):
            text = _ESCAPE.sub(lambda m: _ESCAPED[m[1].lower()], raw)
            return text_cell(text, formula=self.formula, look=look.colour) if text.strip() else None
        if raw == "":
            return None
        if self.kind == "b":
            return Cell("TRUE" if raw == "1" else "FALSE", raw == "1", "flag", self.formula, 0)
        if self.kind == "e":
            return Cell(raw, None, "error", self.formula, look.colour)
        return self._number(raw, look)

    def _look(self) -> Look:
        index = int(self.style) if self.style.isdecimal() and len(self.style) < 7 else 0
        return self.looks[index] if index < len(self.looks) else Look()

    def _number(self, raw: str, look: Look) -> Cell:
        if self.kind == "d":
            try:
                day = dt.datetime.fromisoformat(raw.strip()).replace(tzinfo=None)
            except ValueError:
                return text_cell(raw, formula=self.formula, look=look.colour)
            return date_cell(day, formula=self.formula, look=look.colour)
        try:
            value = float(raw)
        except ValueError:
            return text_cell(raw, formula=self.formula, look=look.colour)
        if not math.isfinite(value):
            return Cell(raw, None, "error", self.formula, look.colour)
        return formatted_cell(value, look, from_1904=self.grid.from_1904, formula=self.formula)


# ---- the texts that cells share, and the cell formats ----------------------------------------


def _read_strings(archive: Archive, part: str) -> list[str]:
    """Read the texts that the cells share, without their phonetic guides."""
    strings = _Strings()
    if part in archive:
        archive.parse(part, start=strings.start, end=strings.end, text=strings.text)
    return strings.found


def _read_looks(archive: Archive, part: str) -> list[Look]:
    """Read what every cell format is: a date, a percentage, a colour."""
    styles = _Styles()
    if part in archive:
        archive.parse(part, start=styles.start, end=styles.end)
    return styles.looks


class _Strings:
    """Collect the shared texts while their XML goes by."""

    def __init__(self) -> None:
        self.found: list[str] = []
        self.pieces: list[str] = []
        self.inside = {"t": False, "rPh": False}

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        local = tag.rpartition(" ")[2]
        if local == "si":
            self.pieces.clear()
        elif local in self.inside:
            self.inside[local] = True

    def text(self, data: str) -> None:
        if self.inside["t"] and not self.inside["rPh"]:
            self.pieces.append(data)

    def end(self, tag: str) -> None:
        local = tag.rpartition(" ")[2]
        if local == "si":
            self.found.append("".join(self.pieces))
            if len(self.found) > MOST_STRINGS or len(self.found[-1]) > MOST_STRING:
                raise too_big()
        elif local in self.inside:
            self.inside[local] = False


class _Styles:
    """Collect number formats, fills, fonts and the formats made of them."""

    def __init__(self) -> None:
        self.formats: dict[str, LookKind] = {}
        self.fills: list[bool] = []
        self.fonts: list[bool] = []
        self.looks: list[Look] = []
        self.path: list[str] = []

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        local = tag.rpartition(" ")[2]
        within = self.path[-1] if self.path else ""
        self.path.append(local)
        if local == "numFmt" and within == "numFmts":
            code = attributes.get("formatCode", "")
            self.formats[attributes.get("numFmtId", "")] = format_kind(code)
        elif local == "fill" and within == "fills":
            self.fills.append(False)
        elif local == "patternFill" and self.fills and within == "fill":
            self.fills[-1] = attributes.get("patternType", "none") not in ("none", "gray125")
        elif local == "font" and within == "fonts":
            self.fonts.append(False)
        elif local == "color" and self.fonts and within == "font":
            self.fonts[-1] = attributes.get("rgb", "FF000000")[-6:] != "000000"
        elif local == "xf" and within == "cellXfs":
            self.looks.append(self._look(attributes))

    def end(self, tag: str) -> None:
        self.path.pop()

    def _look(self, attributes: dict[str, str]) -> Look:
        number = attributes.get("numFmtId", "0")
        kind = self.formats.get(number)
        if kind is None:
            kind = BUILT_IN.get(int(number) if number.isdecimal() else 0, "number")
        fill, font = attributes.get("fillId", "0"), attributes.get("fontId", "0")
        colour = 1000 * _index(fill, self.fills) + _index(font, self.fonts)
        return Look(kind=kind, colour=colour)


def _index(given: str, coloured: list[bool]) -> int:
    """Give the number of a fill or font, 0 if it is a plain one."""
    index = int(given) if given.isdecimal() and len(given) < 6 else 0
    return index + 1 if index < len(coloured) and coloured[index] else 0
