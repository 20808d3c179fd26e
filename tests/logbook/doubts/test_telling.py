"""Findings of one kind are put together, and every row is counted once."""

from __future__ import annotations

import pytest

from rearkit.logbook.doubts import catalogue
from rearkit.logbook.doubts.catalogue import Doubt
from rearkit.logbook.doubts.findings import At
from rearkit.logbook.doubts.telling import MOST_ALIKE, Teller

WORDS = {"seen": "seen", "done": "done", "settle": "settle"}


@pytest.fixture(autouse=True)
def entries(monkeypatch):
    """A catalogue in which a code is a severity, or a severity and a scope, or and a mark."""
    made = {s: Doubt(severity=s, **WORDS) for s in ("ASK", "FIX", "NOTE")}
    made["STOP"] = Doubt(severity="STOP", scope="row", **WORDS)
    made["STOP/log"] = Doubt(severity="STOP", scope="log", **WORDS)
    made["ASK/repaired"] = Doubt(severity="ASK", mark="repaired", **WORDS)
    monkeypatch.setattr(catalogue, "CATALOGUE", made)


def tell(teller, key, row, **more):
    teller.tell(key, At("Daily", row, "dead", 3), **more)


def test_every_row_is_counted_once_by_its_gravest_mark():
    teller = Teller()
    for severity, row in (("ASK", 3), ("FIX", 3), ("NOTE", 2), ("FIX", 4), ("STOP", 5), ("ASK", 5)):
        tell(teller, severity, row)
    teller.count_rows("Daily", range(2, 8))
    tell(teller, "ASK", 99)  # a row that is not a fact is not counted
    line = teller.rows_frame().iloc[0]
    assert line.tolist() == ["Daily", 6, 3, 1, 1, 1]


def test_the_mark_may_be_lighter_than_the_finding():
    teller = Teller()
    teller.count_rows("Daily", [2])
    tell(teller, "ASK/repaired", 2)
    assert teller.rows_frame()["n_repaired"].item() == 1


def test_like_findings_become_one_that_names_the_rows():
    teller = Teller()
    for row in (4, 9, 7):
        tell(teller, "FIX", row, together="x")
    (found,) = teller.findings
    assert (found.row, found.cell) == (4, "C4")
    assert found.seen == "seen; also in 2 more rows: 7, 9"


def test_beyond_many_of_a_kind_the_rest_are_put_together():
    teller = Teller()
    for row in range(1, MOST_ALIKE + 101):
        tell(teller, "ASK", row)
    assert len(teller.findings) == MOST_ALIKE + 1
    assert "99 more rows" in teller.findings[-1].seen


def test_what_stops_the_log_comes_first():
    teller = Teller()
    for key in ("NOTE", "STOP", "ASK", "STOP/log"):
        tell(teller, key, 2)
    assert [(f.severity, f.scope) for f in teller.findings] == [
        ("STOP", "log"),
        ("STOP", "row"),
        ("ASK", ""),
        ("NOTE", ""),
    ]
