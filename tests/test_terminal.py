from __future__ import annotations

import io

import pandas as pd
import pytest

from rearkit.logbook.doubts.findings import Finding, findings_frame
from rearkit.report.watch import Progress
from rearkit.terminal import WIDTH, ProgressLines, findings_lines, plain, rows_line


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("tub 3 – é 鱼", "tub 3 – é 鱼"),
        ("a\x1b[2Jb", "a\\x1b[2Jb"),
        ("a\nb\tc", "a b c"),
        ("a\rb", "a b"),
        ("a\x07\x00b", "a\\x07\\x00b"),
        ("a\u202eb", "a\\u202eb"),
        ("a\u00a0b\u2028c", "a b c"),
        ("\x9b31m", "\\x9b31m"),
    ],
)
def test_nothing_that_acts_on_a_terminal_gets_through(text: str, shown: str) -> None:
    assert plain(text) == shown


def finding(severity: str, **other: object) -> Finding:
    words = {"code": "x", "seen": "seen", "done": "done", "settle": "settle", **other}
    return Finding(severity=severity, **words)  # type: ignore[arg-type]


def test_findings_are_grouped_by_gravity_with_place_and_what_to_do() -> None:
    frame = findings_frame(
        [
            finding("NOTE", seen="a range", done="", settle=""),
            finding(
                "ASK",
                sheet="Daily",
                row=14,
                column="dead",
                cell="C14",
                batch="tub\x1b 3",
                seen="'three'",
            ),
            finding("STOP", scope="row", sheet="Daily", row=9),
        ]
    )
    assert findings_lines(frame) == [
        "STOP  Left out, or stops the log (1)",
        "",
        "  Daily, row 9",
        "    seen",
        "    Done: done",
        "    To settle: settle",
        "",
        "ASK  Please settle (1)",
        "",
        "  Daily, row 14, dead, C14; batch tub\\x1b 3",
        "    'three'",
        "    Done: done",
        "    To settle: settle",
        "",
        "NOTE  Noted (1)",
        "",
        "  The whole log",
        "    a range",
        "",
    ]


def test_long_words_are_wrapped() -> None:
    lines = findings_lines(findings_frame([finding("NOTE", seen="word " * 60)]))
    assert max(len(line) for line in lines) <= WIDTH
    assert " ".join(lines).count("word") == 60


def test_a_log_with_nothing_to_say_says_so() -> None:
    assert findings_lines(findings_frame([]))[0] == "Nothing to say: every row was read as it is."


def test_the_last_line_counts_the_rows_of_all_sheets() -> None:
    rows = pd.DataFrame(
        {
            "n_read": [10, 5],
            "n_used": [7, 5],
            "n_repaired": [1, 0],
            "n_waiting": [1, 0],
            "n_unusable": [1, 0],
        }
    )
    assert rows_line(rows) == (
        "Rows: 15 read, 12 used as they are, 1 repaired, 1 waiting for you, 1 unusable."
    )


def test_progress_is_redrawn_in_place_on_a_terminal() -> None:
    screen = Terminal()
    lines = ProgressLines(screen)
    lines.show(Progress(notebook="one", done=0, total=2))
    lines.show(Progress(notebook="two", done=1, total=3))
    lines.show(Progress(notebook="one", done=2, total=2))
    drawn = screen.getvalue().split("\x1b[2A")[-1]
    assert drawn == "\r\x1b[Kone: 2 of 2 cells, done\n\r\x1b[Ktwo: 1 of 3 cells, running\n"


def test_progress_elsewhere_is_one_line_a_notebook_when_it_is_done() -> None:
    out = io.StringIO()
    lines = ProgressLines(out)
    for done in range(3):
        lines.show(Progress(notebook="one", done=done, total=2))
    assert out.getvalue() == "one: 2 of 2 cells, done\n"
