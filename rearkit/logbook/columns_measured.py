"""The columns of the sheets Sizes and Positions: what was measured now and then."""

from __future__ import annotations

from rearkit.logbook.columns_shared import BATCH, DATE, NOTE
from rearkit.logbook.declare import Column

SIZES: tuple[Column, ...] = (
    DATE,
    BATCH,
    Column(
        name="fish",
        kind="number",
        help="How many fish this row stands for; leave blank for one.",
        example="1",
        unit="fish",
        synonyms=("n", "number", "n fish", "how many"),
    ),
    Column(
        name="length_mm",
        kind="number",
        help="Length in millimetres; the mean if the row stands for several fish.",
        example="7.5",
        unit="mm",
        synonyms=("length", "size", "size mm", "mm", "tl", "tl mm", "sl", "mean length"),
    ),
    Column(
        name="length_sd_mm",
        kind="number",
        help="How much the lengths differ (standard deviation), if the row stands for several.",
        example="0.6",
        unit="mm",
        synonyms=("length sd", "sd", "sd mm", "spread"),
    ),
    Column(
        name="weight_mg",
        kind="number",
        help="Weight in milligrams; the mean if the row stands for several fish.",
        example="6",
        unit="mg",
        synonyms=("weight", "mass", "mass mg", "mg", "mean weight"),
    ),
    Column(
        name="kind",
        kind="choice",
        help="Total length is to the tip of the tail fin, standard length to where the fin begins.",
        example="total",
        choices=("total", "standard"),
        choice_words=(
            ("tl", "total"),
            ("total length", "total"),
            ("sl", "standard"),
            ("standard length", "standard"),
        ),
        synonyms=("length kind", "which length", "measure", "length type"),
    ),
    NOTE,
)

POSITIONS: tuple[Column, ...] = (
    DATE,
    Column(
        name="time",
        kind="text",
        help="The time of the scan.",
        example="18:30",
        synonyms=("hour", "clock", "scan time"),
    ),
    BATCH,
    Column(
        name="place",
        kind="text",
        help="The part of the container, such as under the leaf or open water.",
        example="under the leaf",
        required=True,
        synonyms=("where", "zone", "spot"),
        joined=True,
    ),
    Column(
        name="seen",
        kind="count",
        help="How many fry you saw there.",
        example="12",
        unit="fish",
        required=True,
        synonyms=("fry seen", "number seen", "n seen", "count"),
    ),
    Column(
        name="not_seen",
        kind="count",
        help="How many fry you could not see anywhere in this scan.",
        example="4",
        unit="fish",
        synonyms=("unseen", "hidden", "not visible"),
    ),
    Column(
        name="area_percent",
        kind="number",
        help="How much of the container this place takes up; 25 means a quarter.",
        example="25",
        unit="%",
        synonyms=("area", "share of area", "area share"),
    ),
    NOTE,
)
