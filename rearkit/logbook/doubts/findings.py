"""What is said about a log: one finding a thing, each with its address."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from string import Formatter
from typing import Any, Literal, NamedTuple

import pandas as pd

from rearkit.logbook.files.grid import address, number_text
from rearkit.logbook.parse.counts import Count

Severity = Literal["STOP", "ASK", "FIX", "NOTE"]
Scope = Literal["", "log", "batch", "row"]

SEVERITIES: tuple[Severity, ...] = ("STOP", "ASK", "FIX", "NOTE")

FINDING_COLUMNS: tuple[str, ...] = (
    "severity",
    "scope",
    "code",
    "sheet",
    "row",
    "column",
    "cell",
    "batch",
    "seen",
    "done",
    "settle",
)

LONGEST_SHOWN = 80
_PART = re.compile(r"\[([^\[\]|]*)(?:\|([^\[\]]*))?\]")
_PLACE_OF_SCOPE = {"log": 0, "batch": 1, "row": 2, "": 3}


class At(NamedTuple):
    """Where something is: the sheet, its row, the column by name and by number."""

    sheet: str | None = None
    row: int | None = None
    column: str | None = None
    number: int | None = None

    @property
    def cell(self) -> str | None:
        """The address of the cell, or None if it is not one cell."""
        return address(self.row, self.number) if self.row and self.number else None


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing the reader noticed.

    Parameters
    ----------
    severity : {"STOP", "ASK", "FIX", "NOTE"}
        STOP leaves something out, ASK reads it in the stated way but wants the keeper's word,
        FIX is repaired, NOTE is only told.
    code : str
        A short key, the same for every finding of one kind.
    seen, done, settle : str
        What was seen, what was done about it, and how to settle it.
    scope : {"", "log", "batch", "row"}
        What it concerns; a STOP leaves this out.
    sheet, column, cell : str or None
        Where it is; None if it is not in one place.
    row : int or None
        The row as the spreadsheet numbers it.
    batch : str or None
        The batch it concerns, None if none or many.
    """

    severity: Severity
    code: str
    seen: str
    done: str
    settle: str
    scope: Scope = ""
    sheet: str | None = None
    row: int | None = None
    column: str | None = None
    cell: str | None = None
    batch: str | None = None

    def __post_init__(self) -> None:
        """Refuse a severity that is not one, and a STOP that does not say what it stops."""
        if self.severity not in SEVERITIES:
            raise ValueError(f"Finding {self.code!r} has the severity {self.severity!r}")
        if self.severity == "STOP" and not self.scope:
            raise ValueError(f"Finding {self.code!r}: a STOP says what it stops, in scope")

    @property
    def where(self) -> str:
        """The address in words, such as ``"Daily, row 14, dead, C14"``."""
        row = f"row {self.row}" if self.row is not None else None
        return ", ".join(part for part in (self.sheet, row, self.column, self.cell) if part)


@dataclass(frozen=True)
class Doubt:
    """One thing that can be said of a log, with its words.

    Parameters
    ----------
    severity : {"STOP", "ASK", "FIX", "NOTE"}
    seen, done, settle : str
        The words for what was seen, what was done about it, and how to settle it.
    scope : {"", "log", "batch", "row"}
        What it concerns; a STOP leaves this out.
    mark : str, optional
        How its row is counted, where that is not what the severity calls for.

    Notes
    -----
    In the words, ``{name}`` is a value. A text of the log comes shortened and on one line
    (``{name:30}`` for another length, ``{name:whole}`` for a text of our own), several with commas,
    dates as 2025-04-03. A part in square brackets is left out where a value in it is None;
    ``[a|b]`` then says b.
    """

    severity: Severity
    seen: str
    done: str
    settle: str = "Nothing to do."
    scope: Scope = ""
    mark: str | None = None

    def finding(
        self, code: str, at: At, *, batch: str | None, values: Mapping[str, object]
    ) -> Finding:
        """Say it of one place; the words may also name the place and the batch.

        Raises
        ------
        KeyError
            If the words need a value that is not given.
        """
        place = {"sheet": at.sheet, "row": at.row, "column": at.column, "cell": at.cell}
        known = place | {"batch": batch} | dict(values)
        return Finding(
            severity=self.severity,
            code=code,
            scope=self.scope,
            sheet=at.sheet,
            row=at.row,
            column=at.column,
            cell=at.cell,
            batch=None if batch is None else shown(batch),
            seen=_filled(self.seen, known),
            done=_filled(self.done, known),
            settle=_filled(self.settle, known),
        )


def shown(value: object, *, longest: int = LONGEST_SHOWN) -> str:
    """Put a value from a log into a sentence: on one line, and shortened with … if long.

    Parameters
    ----------
    value : object
        What was written.
    longest : int
        The most characters to show.

    Returns
    -------
    str

    Examples
    --------
    >>> shown("two  dead   (I think)")
    'two dead (I think)'
    >>> shown("abcdefgh", longest=5)
    'abcd…'
    """
    text = str(value)[: 20 * longest]
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def _filled(words: str, values: Mapping[str, object]) -> str:
    """Fill words with values; a part in square brackets only where all of its own are known."""

    def chosen(part: re.Match[str]) -> str:
        needed = [name for _, name, _, _ in Formatter().parse(part[1]) if name]
        return part[1] if all(values[name] is not None for name in needed) else part[2] or ""

    return _WORDS.vformat(_PART.sub(chosen, words), (), values)


class _Words(Formatter):
    """Write values as they stand in a sentence."""

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec == "whole":
            return str(value)
        if isinstance(value, Count):
            return _span(value)
        if isinstance(value, list):
            return ", ".join(self.format_field(item, format_spec) for item in value)
        if isinstance(value, dt.date):
            return dt.date(value.year, value.month, value.day).isoformat()
        if isinstance(value, float):
            return number_text(value)
        if isinstance(value, str):
            return shown(value, longest=int(format_spec or LONGEST_SHOWN))
        return str(format(value, format_spec))


def _span(count: Count) -> str:
    if count.exact:
        return number_text(count.low)
    if math.isinf(count.high):
        return f"{number_text(count.low)} or more"
    return f"{number_text(count.low)} to {number_text(count.high)}"


_WORDS = _Words()


def findings_frame(findings: Iterable[Finding]) -> pd.DataFrame:
    """Lay findings out as a frame, the gravest first, then in the order of the log.

    Parameters
    ----------
    findings : iterable of Finding

    Returns
    -------
    DataFrame
        One row a finding; ``row`` is a nullable integer, every other column text or None.
    """
    listed = sorted(findings, key=_rank)
    rows = [[getattr(finding, name) for name in FINDING_COLUMNS] for finding in listed]
    frame = pd.DataFrame(rows, columns=list(FINDING_COLUMNS), dtype=object)
    return frame.astype({"row": "Int64"})


def _rank(finding: Finding) -> tuple[int, int, str, int, str, str]:
    return (
        SEVERITIES.index(finding.severity),
        _PLACE_OF_SCOPE[finding.scope] if finding.severity == "STOP" else 0,
        finding.sheet or "",
        finding.row or 0,
        finding.column or "",
        finding.code,
    )
