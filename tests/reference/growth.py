"""Read the reference values of growth; each entry of the two files names its source."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

_HERE = Path(__file__).parent


@cache
def _file(name: str) -> dict[str, Any]:
    return json.loads((_HERE / name).read_text(encoding="utf-8"))


def nist(name: str) -> dict[str, Any]:
    """Give one certified NIST data set."""
    return _file("growth_nist.json")[name]


def growth_value(name: str) -> dict[str, Any]:
    """Give one case with its data and expected values."""
    return _file("growth_values.json")[name]
