"""A heading with another unit: the numbers below it are turned into the unit of the column."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from rearkit import read_log
from tests.logs import batch, day, write_log


@pytest.mark.parametrize("heading", ["length_cm", "length (cm)", "Length, cm"])
def test_centimetres_in_the_heading(tmp_path: Path, heading: str) -> None:
    folder = write_log(tmp_path / "log", batches=[batch("A", 30, 20)])
    with (folder / "Sizes.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(
            [["date", "batch", heading], [day(5), "A", "0.62"], [day(12), "A", "24 mm"]]
        )
    log = read_log(folder)
    assert list(log.sizes["length_mm"]) == [6.2, 24.0]
    found = log.findings[log.findings["code"] == "unit-of-column"].iloc[0]
    assert (found["severity"], found["cell"]) == ("FIX", "C1")


def test_grams_in_the_heading(tmp_path: Path) -> None:
    folder = write_log(
        tmp_path / "log",
        batches=[batch("A", 30, 20)],
        sizes=[{"date": day(5), "batch": "A", "weight_g": 0.004}],
    )
    assert list(read_log(folder).sizes["weight_mg"]) == [4.0]
