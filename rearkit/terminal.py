"""Words for a terminal: nothing from a log can move its cursor or colour it."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    import pandas as pd

    from rearkit.report.many import LogOutcome
    from rearkit.report.watch import Progress

WIDTH = 96
GROUPS = {
    "STOP": "Left out, or stops the log",
    "ASK": "Please settle",
    "FIX": "Repaired",
    "NOTE": "Noted",
}
ROW_COUNTS = {
    "n_read": "read",
    "n_used": "used as they are",
    "n_repaired": "repaired",
    "n_waiting": "waiting for you",
    "n_unusable": "unusable",
}


class ProgressLines:
    """Shows how far each notebook is: in place on a terminal, a line when done elsewhere.

    Parameters
    ----------
    stream : text file
    """

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream
        self.live = stream.isatty()
        self.state: dict[str, Progress] = {}
        self.drawn = 0

    def show(self, step: Progress) -> None:
        """Take in one step and draw."""
        self.state[step.notebook] = step
        if self.live:
            self._redraw()
        elif step.done == step.total:
            print(_progress_line(step), file=self.stream, flush=True)

    def end(self) -> None:
        """Leave the lines as they are."""
        self.drawn = 0

    def _redraw(self) -> None:
        up = f"\x1b[{self.drawn}A" if self.drawn else ""
        lines = "".join(f"\r\x1b[K{_progress_line(step)}\n" for step in self.state.values())
        self.stream.write(up + lines)
        self.stream.flush()
        self.drawn = len(self.state)


class LogLines:
    """Says of each log of a folder, when it is done, what came of it.

    Parameters
    ----------
    stream : text file
    total : int
        How many logs there are.
    """

    def __init__(self, stream: TextIO, *, total: int) -> None:
        self.stream = stream
        self.total = total
        self.done = 0
        self.made = 0

    def show(self, outcome: LogOutcome) -> None:
        """Write the line of one log."""
        self.done += 1
        self.made += outcome.page is not None
        said = "report made" if outcome.page is not None else outcome.headline
        line = f"{self.done} of {self.total}  {plain(outcome.log)}: {plain(said)}"
        print(line, file=self.stream, flush=True)


def plain(text: str) -> str:
    r"""Put text on one line and show every character that would act on a terminal as its code.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> plain("tub\x1b[31m 3")
    'tub\\x1b[31m 3'
    """
    return "".join(c if c.isprintable() else _code(c) for c in text)


def findings_lines(findings: pd.DataFrame) -> list[str]:
    """Lay out what was found in a log, the gravest first.

    Parameters
    ----------
    findings : DataFrame
        As ``Logbook.findings``.

    Returns
    -------
    list of str
    """
    lines: list[str] = []
    for severity, title in GROUPS.items():
        group = findings[findings["severity"] == severity]
        if group.empty:
            continue
        lines += [f"{severity}  {title} ({len(group)})", ""]
        for finding in group.to_dict("records"):
            lines += [*_finding_lines(finding), ""]
    return lines or ["Nothing to say: every row was read as it is.", ""]


def rows_line(rows: pd.DataFrame) -> str:
    """Count the rows of a log in one line.

    Parameters
    ----------
    rows : DataFrame
        As ``Logbook.rows``.

    Returns
    -------
    str
    """
    counts = [f"{int(rows[column].sum())} {word}" for column, word in ROW_COUNTS.items()]
    return f"Rows: {', '.join(counts)}."


def _finding_lines(finding: dict) -> list[str]:
    row = finding["row"]
    parts = [
        finding["sheet"],
        f"row {row}" if isinstance(row, int) else "",
        finding["column"],
        finding["cell"],
    ]
    place = ", ".join(plain(str(part)) for part in parts if part)
    batch = f"batch {plain(str(finding['batch']))}" if finding["batch"] else ""
    head = "; ".join(part for part in (place, batch) if part) or "The whole log"
    said = {"": finding["seen"], "Done: ": finding["done"], "To settle: ": finding["settle"]}
    lines = [f"  {head}"]
    for label, words in said.items():
        if words:
            lines += textwrap.wrap(
                label + plain(str(words)),
                WIDTH,
                initial_indent="    ",
                subsequent_indent="      ",
                break_on_hyphens=False,
            )
    return lines


def _progress_line(step: Progress) -> str:
    state = "done" if step.done == step.total else "running"
    return f"{plain(step.notebook)}: {step.done} of {step.total} cells, {state}"


def _code(character: str) -> str:
    return " " if character.isspace() else character.encode("unicode_escape").decode("ascii")
