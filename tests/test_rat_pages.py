"""A log of another animal altogether, with nothing but counts, renders in every notebook."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rearkit.locate import notebook_paths
from rearkit.report.run import run_notebooks
from tests.answers.survival.test_answer import rat_log

NAMES = sorted(notebook_paths())


def test_the_rat_litters_render_in_every_notebook(tmp_path: Path) -> None:
    log = rat_log(tmp_path)
    made = run_notebooks(log.path, NAMES, settings={}, out_dir=tmp_path / "out")
    answers = json.loads(made.results.read_text("utf-8"))["answers"]
    pages = {path.stem for path in made.results.parent.glob("*.html")}
    assert pages == set(NAMES)
    # Case C08 of the reference values, now by the other question
    assert answers["methods"]["p_value"] == pytest.approx(0.0665281993312074, rel=1e-9)
    assert answers["methods"]["contrasts"][0]["arrangements"] == 601_080_390
    assert answers["interruption"]["event"] is None
    assert answers["place_use"]["n_scans"] == 0
    assert answers["effort"]["minutes_difference"] is None
