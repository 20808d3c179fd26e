"""Collect what is to be said about a log, and keep account of its rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import pandas as pd

from rearkit.logbook.findings import SEVERITIES, Finding, Scope, Severity
from rearkit.logbook.frames import ROW_COLUMNS
from rearkit.logbook.grid import address

_MARKS = ("used", "repaired", "waiting", "unusable")
_MARK_OF = {"NOTE": "used", "FIX": "repaired", "ASK": "waiting", "STOP": "unusable"}
_ROWS_SHOWN = 6
MOST_ALIKE = 50  # findings of one kind in one column that are listed one by one


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


@dataclass(kw_only=True, eq=False)
class _Told:
    finding: Finding
    rows: list[int] = field(default_factory=list)


class Teller:
    """Collect findings, put the like of one kind together, and mark the rows they concern."""

    def __init__(self) -> None:
        self._told: dict[Hashable, _Told] = {}
        self._alike: Counter[Hashable] = Counter()
        self._read: dict[str, set[int]] = {}
        self._marks: dict[tuple[str, int], int] = {}

    def count_rows(self, sheet: str, rows: Iterable[int]) -> None:
        """Count rows as read; what nothing else is said of is used as it is."""
        self._read.setdefault(sheet, set()).update(rows)

    def mark(self, sheet: str, row: int, mark: str) -> None:
        """Mark a row as ``repaired``, ``waiting`` or ``unusable``; the gravest mark stays."""
        self._marks[sheet, row] = max(self._marks.get((sheet, row), 0), _MARKS.index(mark))

    def tell(
        self,
        severity: Severity,
        code: str,
        at: At,
        *,
        seen: str,
        done: str,
        settle: str,
        scope: Scope = "",
        batch: str | None = None,
        together: Hashable = None,
        mark: str | None = None,
    ) -> None:
        """Say one thing.

        Parameters
        ----------
        severity, code, seen, done, settle, scope, batch
            As in ``Finding``.
        at : At
            Where it is.
        together : hashable, optional
            Findings of one code and sheet with an equal value here become one finding that
            names the other rows.
        mark : str, optional
            The mark of the row where it differs from what the severity calls for.
        """
        if at.sheet and at.row:
            self.mark(at.sheet, at.row, mark or _MARK_OF[severity])
        key = self._key(code, at, together)
        if key in self._told:
            if at.row is not None:
                self._told[key].rows.append(at.row)
            return
        finding = Finding(
            severity=severity,
            code=code,
            scope=scope,
            sheet=at.sheet,
            row=at.row,
            column=at.column,
            cell=at.cell,
            batch=batch,
            seen=seen,
            done=done,
            settle=settle,
        )
        self._told[key] = _Told(finding=finding)

    def _key(self, code: str, at: At, together: Hashable) -> Hashable:
        """Give what findings must share to become one; beyond many of a kind, they all do."""
        kind = (code, at.sheet, at.column)
        key: Hashable = (*kind, together) if together is not None else (*kind, len(self._told))
        if key in self._told:
            return key
        self._alike[kind] += 1
        return key if self._alike[kind] <= MOST_ALIKE else (*kind, "and more")

    def add(self, findings: Iterable[Finding]) -> None:
        """Take over findings that were made elsewhere."""
        for finding in findings:
            self._told["taken over", len(self._told)] = _Told(finding=finding)

    @property
    def findings(self) -> list[Finding]:
        """Everything that was said, the gravest first."""
        made = [_with_rows(told) for told in self._told.values()]
        return sorted(made, key=lambda f: (SEVERITIES.index(f.severity), f.scope != "log"))

    def rows_frame(self) -> pd.DataFrame:
        """Give the account of the rows, a row a sheet."""
        lines = []
        for sheet, rows in self._read.items():
            marks = Counter(self._marks.get((sheet, row), 0) for row in rows)
            lines.append([sheet, len(rows), *(marks[i] for i in range(len(_MARKS)))])
        frame = pd.DataFrame(lines, columns=list(ROW_COLUMNS))
        return frame.astype(dict.fromkeys(ROW_COLUMNS[1:], "int64"))


def _with_rows(told: _Told) -> Finding:
    others = sorted(set(told.rows) - {told.finding.row})
    if not others:
        return told.finding
    some = ", ".join(str(row) for row in others[:_ROWS_SHOWN])
    tail = ", …" if len(others) > _ROWS_SHOWN else ""
    n = len(others)
    more = f"; also in {'row' if n == 1 else f'{n:,} more rows:'} {some}{tail}"
    return replace(told.finding, seen=told.finding.seen + more)
