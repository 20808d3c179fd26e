"""Follows a run cell by cell: how far it is, where it stands, and how to end it early."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from rearkit.errors import RunFailed
from rearkit.report.parameters import is_injected, source_index
from rearkit.report.verify import place_of


@dataclass(frozen=True, kw_only=True, eq=False)
class Progress:
    """How far one notebook is: cells done, out of how many."""

    notebook: str
    done: int
    total: int


Tell = Callable[[Progress], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class Switch:
    """Ends a run early: its kernels at once, its threads at their next cell."""

    stopped: threading.Event = field(default_factory=threading.Event)
    broken: threading.Event = field(default_factory=threading.Event)
    kernels: set[int] = field(default_factory=set)

    def stop(self) -> None:
        """End everything that this run started."""
        from rearkit.report.kernel import end_kernels

        self.stopped.set()
        end_kernels(self.kernels)

    def break_off(self) -> None:
        """End everything because the reader wants no more of it."""
        self.broken.set()
        self.stop()


class Watch:
    """What is known of one notebook while it runs; its methods are the hooks of the run.

    Parameters
    ----------
    notebook : mapping
        As it is in the file.
    name : str
    tell : callable
        Told after every cell.
    switch : Switch
    """

    def __init__(self, notebook: Mapping, *, name: str, tell: Tell, switch: Switch) -> None:
        self.notebook = notebook
        self.name = name
        self.tell = tell
        self.switch = switch
        self.cell = 0
        self.done = 0
        self.total = sum(
            cell["cell_type"] == "code" and bool("".join(cell["source"]).strip())
            for cell in notebook["cells"]
        )
        self._say()

    @property
    def where(self) -> str:
        """The cell that is running, in words."""
        index = source_index(self.notebook, self.cell, name=self.name)
        return place_of(self.notebook, index, name=self.name)

    def begin(self, cell: Any, cell_index: int) -> None:
        """Note that a cell begins; stop here if the run was broken off."""
        self.cell = cell_index
        if self.switch.stopped.is_set():
            raise RunFailed("the run was broken off", where=f"notebook {self.name}")

    def end(self, cell: Any, cell_index: int, execute_reply: Any) -> None:
        """Note that a cell has ended."""
        self.done += not is_injected(cell)
        self._say()

    def _say(self) -> None:
        self.tell(Progress(notebook=self.name, done=self.done, total=self.total))
