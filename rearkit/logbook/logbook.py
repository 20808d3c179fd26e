"""The log as the questions see it: tidy frames, the account of every batch, and what was found."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
import pandas as pd

from rearkit.errors import LogStopped
from rearkit.logbook.account.account import Settled, settle
from rearkit.logbook.doubts.findings import findings_frame
from rearkit.logbook.files.cells import read_cells
from rearkit.logbook.read.frames import Frames
from rearkit.logbook.read.reader import read_frames

Worked = TypeVar("Worked")


class _HandedOut:
    """A frame of a log, handed out as a copy."""

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = f"_{name}"

    def __get__(self, log: Logbook | None, owner: type) -> pd.DataFrame:
        if log is None:  # asked of the class: there is no default
            raise AttributeError(self._name)
        frame: pd.DataFrame = vars(log)[self._name]
        return frame.copy()

    def __set__(self, log: Logbook, frame: pd.DataFrame) -> None:
        vars(log)[self._name] = frame


@dataclass(frozen=True, kw_only=True, eq=False)
class Logbook:
    """A rearing log, read and checked.

    Nothing that is done with a log changes it: every frame is handed out as a copy, so that what
    one answer does to it no other answer sees.

    Attributes
    ----------
    name, path, sha256 : str, Path, str
        Where the log came from and the fingerprint of its bytes.
    trial : mapping
        Every field of the Trial sheet; None where it is blank. It cannot be written to.
    batches, daily, sizes, positions, events : DataFrame
        The sheets as tidy frames. Dates are ``datetime64``; ``age_days`` counts from ``age_from``;
        a count ``x`` is ``x_low``, ``x_best``, ``x_high`` and ``x_text``.
    account : DataFrame
        One row a batch: start, dead, removed, missing, alive, looks.
    fates : DataFrame
        One row an interval between looks: at risk, found dead, missing, removed.
    findings : DataFrame
        What was said about the log, each with its cell.
    rows : DataFrame
        Rows read, used, repaired, waiting and unusable, by sheet.
    age_from : str
        The clock that ages are counted by: hatch, free_swimming or start.
    approx_share : float
        What "about 40" may be off by, as a share of the count.
    """

    name: str
    path: Path
    sha256: str
    trial: Mapping[str, object]
    batches: _HandedOut = _HandedOut()
    daily: _HandedOut = _HandedOut()
    sizes: _HandedOut = _HandedOut()
    positions: _HandedOut = _HandedOut()
    events: _HandedOut = _HandedOut()
    account: _HandedOut = _HandedOut()
    fates: _HandedOut = _HandedOut()
    findings: _HandedOut = _HandedOut()
    rows: _HandedOut = _HandedOut()
    age_from: str
    approx_share: float
    _worked_out: dict[Hashable, Any] = field(default_factory=dict, init=False, repr=False)

    def __post_init__(self) -> None:
        """Let nobody write to the fields of the Trial sheet."""
        object.__setattr__(self, "trial", MappingProxyType(dict(self.trial)))

    def __repr__(self) -> str:
        """Say what is in the log in one line."""
        return f"Logbook({self.name!r}: {len(self.batches)} batches, {len(self.daily)} daily rows)"

    def once(self, key: Hashable, work: Callable[[], Worked]) -> Worked:
        """Give what ``work`` makes of this log; it is done only the first time a key is asked for.

        Parameters
        ----------
        key : hashable
            Names the work with all that it depends on beside the log.
        work : callable
            Takes nothing; what it returns is kept and must not be changed afterwards.
        """
        if key not in self._worked_out:
            self._worked_out[key] = work()
        worked: Worked = self._worked_out[key]
        return worked


def read_log(
    path: str | Path, *, approx_share: float = 0.10, date_order: str | None = None
) -> Logbook:
    """Read a rearing log and add up every batch in it.

    Parameters
    ----------
    path : str or Path
        An ``.xlsx``, ``.xls`` or ``.ods`` workbook or a folder of CSV files. It is never written
        to.
    approx_share : float
        What "about 40" may be off by, as a share of the count.
    date_order : str, optional
        ``"day first"``, ``"month first"`` or ``"year first"``, where dates such as 03/04/2025
        cannot settle it; overrides the Trial sheet.

    Returns
    -------
    Logbook
        The log, with everything that was found in ``findings``.

    Raises
    ------
    LogUnreadable
        If the file cannot be opened as a log.
    LogStopped
        If a finding stops the whole log; the exception carries all findings.
    """
    path = Path(path)
    frames = read_frames(read_cells(path), approx_share=approx_share, date_order=date_order)
    stops = [f for f in frames.findings if f.severity == "STOP" and f.scope == "log"]
    if stops:
        raise LogStopped(
            f"the log {path.name!r} cannot be analysed: {stops[0].seen}",
            where=stops[0].sheet or "",
            todo=stops[0].settle,
            findings=frames.findings,
        )
    settled = settle(frames)
    return Logbook(
        name=path.stem if path.is_file() else path.name,
        path=path,
        sha256=fingerprint(path),
        trial=frames.trial,
        batches=settled.batches,
        daily=settled.daily,
        sizes=settled.sizes,
        positions=settled.positions,
        events=frames.events,
        account=settled.account,
        fates=settled.fates,
        findings=findings_frame([*frames.findings, *settled.findings]),
        rows=_rows_after(frames, settled),
        age_from=settled.age_from,
        approx_share=approx_share,
    )


def _rows_after(frames: Frames, settled: Settled) -> pd.DataFrame:
    """Count the rows of batches that the account stopped as unusable."""
    before = frames.batches.loc[frames.batches["stopped"].astype(bool), "batch"]
    stopped = settled.batches.loc[settled.batches["stopped"].astype(bool), "batch"]
    newly = set(stopped) - set(before)
    rows = frames.rows.copy()
    for sheet in ("batches", "daily", "sizes", "positions"):
        frame = getattr(frames, sheet)
        n = int(frame.loc[frame["batch"].isin(newly), "sheet_row"].nunique())
        at = rows["sheet"].str.lower() == sheet
        for mark in ("n_used", "n_waiting", "n_repaired"):
            moved = np.minimum(rows.loc[at, mark], n)
            rows.loc[at, mark] -= moved
            rows.loc[at, "n_unusable"] += moved
            n -= int(moved.sum())
    return rows


def fingerprint(path: Path) -> str:
    """Return the sha256 of a file, or of the names and bytes of the CSV files in a folder."""
    digest = hashlib.sha256()
    files = [path] if path.is_file() else sorted(path.glob("*.csv"))
    for file in files:
        if not path.is_file():
            digest.update(file.name.encode())
        digest.update(file.read_bytes())
    return digest.hexdigest()
