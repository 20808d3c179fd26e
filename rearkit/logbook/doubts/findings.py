"""What is said about a log: one finding a thing, each with its address."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import pandas as pd

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
_PLACE_OF_SCOPE = {"log": 0, "batch": 1, "row": 2, "": 3}


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


__all__ = [
    "FINDING_COLUMNS",
    "SEVERITIES",
    "Finding",
    "Scope",
    "Severity",
    "findings_frame",
    "shown",
]
