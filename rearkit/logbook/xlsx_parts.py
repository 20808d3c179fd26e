"""The shared texts and the cell formats of an .xlsx file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from rearkit.logbook.archive import Archive, too_big

LookKind = Literal["number", "percent", "date", "month", "time"]
MOST_STRINGS = 400_000
MOST_STRING = 1_000_000
_BUILT_IN: dict[int, LookKind] = {
    **dict.fromkeys((9, 10), "percent"),
    17: "month",
    **dict.fromkeys((14, 15, 16, 22, *range(27, 37), *range(50, 59)), "date"),
    **dict.fromkeys((18, 19, 20, 21, 45, 46, 47), "time"),
}


@dataclass(frozen=True, kw_only=True)
class Look:
    """What a cell format makes of a number, and a number for its colour (0 if plain)."""

    kind: LookKind = "number"
    colour: int = 0


def read_strings(archive: Archive, part: str) -> list[str]:
    """Read the texts that the cells share, without their phonetic guides."""
    strings = _Strings()
    if part in archive:
        archive.parse(part, start=strings.start, end=strings.end, text=strings.text)
    return strings.found


def read_looks(archive: Archive, part: str) -> list[Look]:
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
            kind = _BUILT_IN.get(int(number) if number.isdecimal() else 0, "number")
        fill, font = attributes.get("fillId", "0"), attributes.get("fontId", "0")
        colour = 1000 * _index(fill, self.fills) + _index(font, self.fonts)
        return Look(kind=kind, colour=colour)


def _index(given: str, coloured: list[bool]) -> int:
    """Give the number of a fill or font, 0 if it is a plain one."""
    index = int(given) if given.isdecimal() and len(given) < 6 else 0
    return index + 1 if index < len(coloured) and coloured[index] else 0


def format_kind(code: str) -> LookKind:
    """Tell what a number format shows.

    Examples
    --------
    >>> format_kind("d. mmm yyyy"), format_kind("mmm-yy"), format_kind("hh:mm"), format_kind("0%")
    ('date', 'month', 'time', 'percent')
    >>> format_kind('0.0 "days"'), format_kind("[Red]0")
    ('number', 'number')
    """
    code = code.split(";")[0].lower()
    code = re.sub(r'"[^"]*"|\\.|_.|\*.', "", code)
    spans = re.search(r"\[(?:h+|m+|s+)\]", code)
    code = re.sub(r"\[[^\]]*\]", "", code)
    if spans:
        return "time"
    if "general" in code:
        return "number"
    if "y" in code or "d" in code:
        return "date" if "d" in code else "month"
    if "h" in code or "s" in code:
        return "time"
    if "mmm" in code:
        return "month"
    return "percent" if "%" in code else "number"
