"""The few ways in which rearkit refuses: what was wrong, where, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


class RearkitError(Exception):
    """Say what is wrong, where it was seen and what the keeper can do.

    Parameters
    ----------
    what : str
        What was wrong, with the value that was seen.
    where : str
        Sheet, row, column and cell, or the file or setting; empty if it is everywhere.
    todo : str
        How to settle it, as one sentence.
    """

    def __init__(self, what: str, *, where: str = "", todo: str = "") -> None:
        self.what = what
        self.where = where
        self.todo = todo
        place = f" ({where})" if where else ""
        super().__init__(f"{what}{place}." + (f" {todo}" if todo else ""))


class LogUnreadable(RearkitError):
    """The file cannot be opened as a rearing log at all."""


class LogStopped(RearkitError):
    """The file opens, but what it holds cannot be analysed; ``findings`` says why."""

    def __init__(
        self, what: str, *, where: str = "", todo: str = "", findings: Sequence[Any] = ()
    ) -> None:
        super().__init__(what, where=where, todo=todo)
        self.findings = tuple(findings)


class SettingError(RearkitError):
    """A setting has a name that nothing knows, or a value of the wrong type."""


class DesignError(RearkitError):
    """What was asked cannot be asked of this layout of containers."""


class UnknownPart(RearkitError, KeyError):
    """An answer was asked for a part that it does not have."""

    __str__ = Exception.__str__  # a KeyError would show the sentence in quotes


class FitError(RearkitError):
    """A curve could not be fitted to these measurements."""


class RunFailed(RearkitError):
    """A notebook stopped part of the way; ``details`` is the full traceback for a file."""

    def __init__(self, what: str, *, where: str = "", todo: str = "", details: str = "") -> None:
        super().__init__(what, where=where, todo=todo)
        self.details = details
