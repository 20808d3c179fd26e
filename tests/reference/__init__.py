"""Read reference values and data sets; SOURCES.md says where they come from."""

from __future__ import annotations

import csv
import json
from functools import cache
from pathlib import Path
from typing import Any

_HERE = Path(__file__).parent


@cache
def _cases() -> dict[str, Any]:
    text = (_HERE / "survival_and_units.json").read_text(encoding="utf-8")
    return json.loads(text)["cases"]


def case(name: str) -> dict[str, Any]:
    """Give one reference case with its source, tolerance and expected values."""
    return _cases()[name]


def expected(name: str) -> dict[str, Any]:
    """Give the expected values of one reference case."""
    return case(name)["expected"]


def rows(name: str) -> list[dict[str, str]]:
    """Give the rows of one data set as text."""
    with (_HERE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
