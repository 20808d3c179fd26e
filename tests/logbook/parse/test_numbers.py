"""Measurements as people write them."""

from __future__ import annotations

import pytest

from rearkit.logbook.parse.numbers import read_number


@pytest.mark.parametrize(
    ("text", "unit", "value", "kind"),
    [
        ("25.5", "°C", 25.5, "plain"),
        ("-2", "°C", -2, "plain"),
        (".5", "mm", 0.5, "plain"),
        ("1e2", "mg", 100, "plain"),
        ("7,5", "mm", 7.5, "comma"),
        ("25.5 °C", "°C", 25.5, "unit"),
        ("25,5C", "°C", 25.5, "unit"),
        ("20%", "%", 20, "unit"),
        ("8 litres", "L", 8, "unit"),
        ("10 min.", "min", 10, "unit"),
        ("1.2 cm", "mm", 12, "other_unit"),
        ("0,3 g", "mg", 300, "other_unit"),
        ("1.5 h", "min", 90, "other_unit"),
        ("500 ml", "L", 0.5, "other_unit"),
        ("77 F", "°C", 25, "other_unit"),
        ("three", "feeds", 3, "text"),
        ("2 I think", "feeds", 2, "text"),
        ("25-26", "°C", 25.5, "middle"),
        ("~25", "°C", 25, "middle"),
        ("", "mm", None, "blank"),
        ("–", "mm", None, "blank"),
        ("?", "mm", None, "not_known"),
        ("warm", "°C", None, "unreadable"),
        ("5 furlongs long 3", "mm", None, "unreadable"),
        ("nan", "mm", None, "unreadable"),
        ("inf", "mm", None, "unreadable"),
        ("1e999", "mm", None, "unreadable"),
        ("9" * 400, "mm", None, "unreadable"),
    ],
)
def test_reading(text, unit, value, kind):
    reading = read_number(text, unit)
    assert reading.kind == kind
    assert reading.value == (None if value is None else pytest.approx(value, rel=1e-12))


def test_a_number_in_full_precision_is_read():
    assert read_number("6.266666666666667", "mm").value == 6.266666666666667
