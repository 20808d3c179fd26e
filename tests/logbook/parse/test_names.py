"""Names and their spellings."""

from __future__ import annotations

import pytest

from rearkit.logbook.parse.names import Names, name_key


@pytest.mark.parametrize(
    "text",
    ["k1-shade", " K1-Shade ", "K1–shade", "K1 - shade", "К1-shade", "K1-ѕhade", "K1-shade\u200b",
     "Ｋ1-shade"],
)  # fmt: skip
def test_spellings_of_one_name(text):
    assert name_key(text) == name_key("K1-shade")


@pytest.mark.parametrize("text", ["K1 shade", "K1shade", "Kl-shade", "K01-shade", "K1-shades"])
def test_other_names_stay_apart(text):
    assert name_key(text) != name_key("K1-shade")


def test_the_commonest_spelling_stands_for_a_name_whatever_the_order():
    for order in (["Open", "open", "open"], ["open", "Open", "open"], ["open", "open", "Open"]):
        names = Names()
        for text in order:
            names.add(text)
        assert names.spelling("OPEN") == "open"


def test_the_preferred_spelling_wins():
    names = Names(["K1-Open"])
    for _ in range(5):
        names.add("k1-open")
    assert names.spelling("k1-OPEN ") == "K1-Open"
    assert "k1-open" in names
    assert "K2" not in names


def test_latin_letters_win_over_look_alikes():
    names = Names()
    for text in ("К1", "К1", "K1"):
        names.add(text)
    assert names.spelling("К1") == "K1"


@pytest.mark.parametrize("text", ["K1-opne", "K1 open", "KI-OPEN", "k1_open"])
def test_the_nearest_name(text):
    assert Names(["K1-open", "K1-shade", "Q7"]).nearest(text) == "K1-open"


@pytest.mark.parametrize("text", ["zebra", "", "x" * 5000])
def test_no_name_is_near(text):
    assert Names(["K1-open", "K1-shade"]).nearest(text) is None
    assert Names().nearest(text) is None
