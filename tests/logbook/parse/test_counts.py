"""Counts as people write them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rearkit.logbook.parse.counts import read_count


def bounds(text: str) -> tuple[float, float, float]:
    count = read_count(text).count
    assert count is not None
    return count.low, count.best, count.high


@pytest.mark.parametrize(
    ("text", "expected", "kind"),
    [
        ("40", (40, 40, 40), "plain"),
        (" 40 ", (40, 40, 40), "plain"),
        ("40.0", (40, 40, 40), "plain"),
        ("０", (0, 0, 0), "plain"),
        ("30-36", (30, 33, 36), "range"),
        ("30–36", (30, 33, 36), "range"),
        ("30 — 36", (30, 33, 36), "range"),
        ("30 to 36", (30, 33, 36), "range"),
        ("30/36", (30, 33, 36), "range"),
        ("30..36", (30, 33, 36), "range"),
        ("between 30 and 36", (30, 33, 36), "range"),
        ("30-37", (30, 33.5, 37), "range"),
        ("30 ± 6", (24, 30, 36), "range"),
        ("30 +/- 6", (24, 30, 36), "range"),
        ("~40", (36, 40, 44), "approximate"),
        ("≈ 40", (36, 40, 44), "approximate"),
        ("approx 40", (36, 40, 44), "approximate"),
        ("Approx. 40", (36, 40, 44), "approximate"),
        ("about 40", (36, 40, 44), "approximate"),
        ("ca 40", (36, 40, 44), "approximate"),
        ("ca. 40", (36, 40, 44), "approximate"),
        ("40ish", (36, 40, 44), "approximate"),
        ("40-ish", (36, 40, 44), "approximate"),
        ("40?", (36, 40, 44), "approximate"),
        ("~3", (2.7, 3, 3.3), "approximate"),
        ("40+", (40, 40, math.inf), "at_least"),
        (">=40", (40, 40, math.inf), "at_least"),
        ("≥ 40", (40, 40, math.inf), "at_least"),
        ("at least 40", (40, 40, math.inf), "at_least"),
        (">40", (41, 41, math.inf), "at_least"),
        ("<10", (0, 4.5, 9), "below"),
        ("up to 10", (0, 5, 10), "below"),
        ("<1", (0, 0, 0), "below"),
        ("none", (0, 0, 0), "none"),
        ("nil", (0, 0, 0), "none"),
        ("None", (0, 0, 0), "none"),
        ("40 fry", (40, 40, 40), "unit"),
        ("no dead", (0, 0, 0), "unit"),
        ("3,0", (3, 3, 3), "decimal"),
    ],
)
def test_reads_without_asking(text, expected, kind):
    assert bounds(text) == expected
    reading = read_count(text)
    assert reading.kind == kind
    assert not reading.asked


@pytest.mark.parametrize(
    ("text", "expected", "kind"),
    [
        ("2 doz", (24, 24, 24), "dozen"),
        ("two dozen", (24, 24, 24), "dozen"),
        ("a dozen", (12, 12, 12), "dozen"),
        ("half a dozen", (6, 6, 6), "dozen"),
        ("three", (3, 3, 3), "word"),
        ("twenty-five", (25, 25, 25), "word"),
        ("O", (0, 0, 0), "letter"),
        ("1O", (10, 10, 10), "letter"),
        ("l2", (12, 12, 12), "letter"),
        ("2 dead?", (1.8, 2, 2.2), "text"),
        ("2 I think", (2, 2, 2), "text"),
        ("2 (I think)", (2, 2, 2), "text"),
        ("30-36 (photo)", (30, 33, 36), "text"),
        ("36-30", (30, 33, 36), "reversed"),
        ("12+3", (15, 15, 15), "sum"),
        ("1,200", (1200, 1200, 1200), "thousands"),
        ("3.5", (3.5, 3.5, 3.5), "fraction"),
    ],
)
def test_reads_and_asks(text, expected, kind):
    assert bounds(text) == expected
    reading = read_count(text)
    assert reading.kind == kind
    assert reading.asked


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("", "blank"),
        ("   ", "blank"),
        ("-", "blank"),
        ("–", "blank"),
        ("?", "not_known"),
        ("unknown", "unknown"),
        ("lots", "vague"),
        ("a few", "vague"),
        ("-3", "negative"),
        ("−3", "negative"),
        ("<0", "negative"),
        ("4²", "unreadable"),
        ("½", "unreadable"),
        ("3 (maybe 4)", "unreadable"),
        ("checked at 7", "unreadable"),
        ("<b>3</b>", "unreadable"),
        ("=1+1", "unreadable"),
        ("inf", "unreadable"),
        ("nan", "unreadable"),
        ("1e5", "unreadable"),
        ("9" * 10, "unreadable"),
        ("9" * 5000, "unreadable"),
        ("l", "unreadable"),
    ],
)
def test_leaves_what_is_not_known(text, kind):
    reading = read_count(text)
    assert reading.count is None
    assert reading.kind == kind


def test_keeps_the_text_as_written():
    count = read_count(" 30 – 36 ").count
    assert count is not None
    assert count.text == "30 – 36"
    assert not count.exact


@pytest.mark.parametrize(("share", "low", "high"), [(0.05, 38, 42), (0.25, 30, 50), (0.0, 40, 40)])
def test_the_share_of_about_is_a_setting(share, low, high):
    count = read_count("about 40", approx_share=share).count
    assert count is not None
    assert (count.low, count.best, count.high) == (low, 40, high)


@pytest.mark.parametrize("seed", range(20))
def test_low_never_exceeds_best_nor_best_high(seed):
    rng = np.random.default_rng(seed)
    a, b = sorted(int(n) for n in rng.integers(0, 500, size=2))
    forms = [f"{a}", f"{a}-{b}", f"{b} to {a}", f"~{b}", f"{a}+", f"<{b + 1}", f"{b}?", f"{a}/{b}"]
    for form in forms:
        low, best, high = bounds(form)
        assert 0 <= low <= best <= high
    assert bounds(f"{a}-{b}") == bounds(f"{b}-{a}") == bounds(f"{a} – {b}")
