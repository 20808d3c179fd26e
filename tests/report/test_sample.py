"""The sample report is what the kit makes of the demo log today."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest

from .make_sample import FILES, PICTURE, SAMPLE, make_sample

AGAIN = "out of step: run python tests/report/make_sample.py and commit reports/sample"


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sample")
    make_sample(folder)
    return folder


def alike(a: object, b: object) -> bool:
    """Compare JSON values; numbers may differ in the last digits between machines."""
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(alike(a[k], b[k]) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(alike, a, b))
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-9)
    return a == b


def words(page: str) -> str:
    """Return what a page says: no pictures, no versions, no stamp."""
    page = re.sub(r'src="data:[^"]*"|<p class="stamp">.*?</p>', "", page)
    return re.sub(r"<tr>\s*<td[^>]*>version of .*?</tr>", "", page, flags=re.DOTALL)


def test_the_numbers_are_those_of_today(fresh: Path) -> None:
    old, new = (json.loads((f / "results.json").read_text("utf-8")) for f in (SAMPLE, fresh))
    assert alike(old, new), AGAIN


def test_the_words_are_those_of_today(fresh: Path) -> None:
    old, new = (words((f / "trial_report.html").read_text("utf-8")) for f in (SAMPLE, fresh))
    assert old == new, AGAIN


def test_the_sample_is_light_and_whole() -> None:
    assert (SAMPLE / "trial_report.html").stat().st_size < 600_000
    assert {path.name for path in SAMPLE.iterdir()} == {*FILES, PICTURE}
    assert (SAMPLE / PICTURE).read_bytes().startswith(b"\x89PNG")
