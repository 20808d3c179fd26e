"""Collect what is to be said about a log, and keep account of its rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field, replace

import pandas as pd

from rearkit.logbook.doubts.catalogue import doubt_of, finding_of
from rearkit.logbook.doubts.findings import SEVERITIES, At, Finding

ROW_COLUMNS = ("sheet", "n_read", "n_used", "n_repaired", "n_waiting", "n_unusable")
_MARKS = ("used", "repaired", "waiting", "unusable")
_MARK_OF = {"NOTE": "used", "FIX": "repaired", "ASK": "waiting", "STOP": "unusable"}
_ROWS_SHOWN = 6
MOST_ALIKE = 50  # findings of one kind in one column that are listed one by one


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
        key: str,
        at: At,
        *,
        batch: str | None = None,
        together: Hashable = None,
        **values: object,
    ) -> None:
        """Say one thing.

        Parameters
        ----------
        key : str
            What is said, as in the catalogue.
        at : At
            Where it is.
        batch : str, optional
            The batch it concerns.
        together : hashable, optional
            Findings of one code and sheet with an equal value here become one finding that
            names the other rows.
        **values : object
            What the words of the catalogue are filled with.
        """
        doubt = doubt_of(key)
        if at.sheet and at.row:
            self.mark(at.sheet, at.row, doubt.mark or _MARK_OF[doubt.severity])
        group = self._group(key, at, together)
        if group not in self._told:
            self._told[group] = _Told(finding=finding_of(key, at, batch=batch, values=values))
        elif at.row is not None:
            self._told[group].rows.append(at.row)

    def _group(self, key: str, at: At, together: Hashable) -> Hashable:
        """Give what findings must share to become one; beyond many of a kind, they all do."""
        kind = (key.partition("/")[0], at.sheet, at.column)
        group: Hashable = (*kind, together) if together is not None else (*kind, len(self._told))
        if group in self._told:
            return group
        self._alike[kind] += 1
        return group if self._alike[kind] <= MOST_ALIKE else (*kind, "and more")

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
