"""What the simulated logs came to, as tables in Markdown."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from tests.simulation.conditions import WITH_A_DIFFERENCE, WITHOUT_A_DIFFERENCE, Condition
from tests.simulation.judging import Tally

BEGIN, END = "<!-- simulation table: begin -->", "<!-- end -->"
INTRODUCTION = (
    "Made-up trials, written as log files and read back; what is counted is what the answer says. "
    "Fry die early rather than late, tubs differ (two fry of one tub correlate .02, .08 and .20 in "
    "turn), methods are drawn, and a plan was written before unless it is said otherwise. Every "
    "row has its own logs, with {runs} of each."
)
WITHOUT = (
    "**The methods are alike.** A log in which any page calls the question settled is a false "
    "alarm (promised: at most 7 in 100); a range should hold the truth, which is no difference "
    "(promised: at least 93 in 100)."
)
WITH = (
    "**The methods differ.** Of the logs that the test alone settles by exact counts, the share "
    "told as settled at the level that the layout allows (promised: at least 95 in 100); the share "
    "settled with the wrong sign, and the ranges that hold the true difference."
)


def table_of(tallies: Mapping[str, Tally]) -> str:
    """Write the tables of the conditions that were run."""
    runs = sorted({t.runs for t in tallies.values()})
    span = f"{runs[0]:,}" if len(runs) == 1 else f"{runs[0]:,} to {runs[-1]:,}"
    parts = [INTRODUCTION.format(runs=span)]
    alike = [c for c in WITHOUT_A_DIFFERENCE if c.name in tallies]
    differ = [c for c in WITH_A_DIFFERENCE if c.name in tallies]
    if alike:
        head = [
            "condition", "logs", "with a verdict", "with a range", "false alarms",
            "of them a hint or more", "before the end", "ranges that hold", "exceptions",
        ]  # fmt: skip
        parts += [WITHOUT, _markdown(head, [_without(c, tallies[c.name]) for c in alike])]
    if differ:
        head = [
            "condition", "logs", "with a verdict", "with a range", "settled",
            "the test alone settles", "of them stay settled", "wrong sign", "ranges that hold",
            "exceptions",
        ]  # fmt: skip
        parts += [WITH, _markdown(head, [_with(c, tallies[c.name]) for c in differ])]
    errors = [
        f"- {name}: {count} × {text}"
        for name, t in tallies.items()
        for text, count in t.errors.most_common()
    ]
    if errors:
        parts += ["Exceptions:", "\n".join(errors)]
    return "\n\n".join(parts) + "\n"


def _without(c: Condition, t: Tally) -> list[str]:
    return [
        c.name,
        f"{t.runs:,}",
        _share(t.verdicts, t.runs),
        _share(t.ranged, t.runs),
        _share(t.settled, t.runs),
        _share(t.claimed, t.runs),
        _share(t.settled_running, t.runs) if c.peeks else "",
        _share(t.held, t.ranges),
        f"{t.errors.total():,}",
    ]


def _with(c: Condition, t: Tally) -> list[str]:
    return [
        c.name,
        f"{t.runs:,}",
        _share(t.verdicts, t.runs),
        _share(t.ranged, t.runs),
        _share(t.settled, t.runs),
        _share(t.alone, t.runs) if c.fully_counted else "",
        _share(t.stayed, t.alone) if c.fully_counted else "",
        _share(t.misled, t.runs),
        _share(t.held, t.ranges),
        f"{t.errors.total():,}",
    ]


def _share(n: int, of: int) -> str:
    return f"{100 * n / of:.1f} %" if of else "–"


def _markdown(head: list[str], rows: list[list[str]]) -> str:
    lines = [head, ["---", *["---:"] * (len(head) - 1)], *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def put_between_markers(text: str, table: str) -> str:
    """Replace what stands between the two marker comments of a Markdown text.

    Parameters
    ----------
    text : str
        Holds ``BEGIN`` once and ``END`` after it.
    table : str

    Raises
    ------
    ValueError
        If the markers are not there, each in its place.
    """
    before, begin, rest = text.partition(BEGIN)
    _old, end, after = rest.partition(END)
    if not begin or not end or BEGIN in rest:
        raise ValueError(f"the text has no {BEGIN} … {END} to put a table between")
    return f"{before}{BEGIN}\n\n{table.strip()}\n\n{END}{after}"


def write_table(file: Path, table: str) -> None:
    """Write a new file, or put the table between the markers of one that is there."""
    if file.exists():
        table = put_between_markers(file.read_text(encoding="utf-8"), table)
    file.write_text(table, encoding="utf-8")
