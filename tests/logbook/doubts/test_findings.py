"""Findings and their frame."""

from __future__ import annotations

import pandas as pd
import pytest

from rearkit.logbook.doubts.findings import FINDING_COLUMNS, Finding, findings_frame, shown


def finding(severity="NOTE", **more):
    return Finding(severity=severity, code="a-code", seen="s", done="d", settle="t", **more)


def test_a_stop_says_what_it_stops():
    with pytest.raises(ValueError, match="says what it stops"):
        finding("STOP")
    assert finding("STOP", scope="row").scope == "row"


def test_an_unknown_severity_is_refused():
    with pytest.raises(ValueError, match="has the severity 'WARN'"):
        finding("WARN")


def test_the_gravest_come_first_then_the_order_of_the_log():
    frame = findings_frame(
        [
            finding(sheet="Daily", row=3),
            finding("ASK", sheet="Daily", row=9),
            finding("STOP", scope="row", sheet="Batches", row=2),
            finding("FIX", sheet="Daily", row=1),
            finding("STOP", scope="log", sheet="Daily"),
            finding("ASK", sheet="Daily", row=4),
        ]
    )
    assert list(frame.columns) == list(FINDING_COLUMNS)
    assert list(frame["severity"]) == ["STOP", "STOP", "ASK", "ASK", "FIX", "NOTE"]
    assert list(frame["scope"].iloc[:2]) == ["log", "row"]
    assert frame["row"].iloc[2:4].tolist() == [4, 9]
    assert frame["row"].dtype == pd.Int64Dtype()


def test_no_findings_still_make_a_frame():
    frame = findings_frame([])
    assert len(frame) == 0
    assert list(frame.columns) == list(FINDING_COLUMNS)


def test_where_names_only_what_is_known():
    assert finding(sheet="Daily", row=14, column="dead", cell="C14").where == (
        "Daily, row 14, dead, C14"
    )
    assert finding(sheet="Daily").where == "Daily"
    assert finding().where == ""


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("plain", "plain"),
        ("two\nlines\tand\x00more", "two lines and more"),
        ("x" * 81, "x" * 79 + "…"),
        ("x" * 50_000, "x" * 79 + "…"),
        (12, "12"),
    ],
)
def test_a_value_is_shown_on_one_short_line(value, expected):
    assert shown(value) == expected
