"""Make the sample report again: ``python tests/report/make_sample.py`` from the top of the tree.

Writes the demo's trial report, its numbers and the picture of the README into ``reports/sample/``.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from rearkit import compare_survival, read_log
from rearkit.report.run import run_notebooks

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_templates" / "demo_shade_trial.xlsx"
SAMPLE = ROOT / "reports" / "sample"
FILES = ("trial_report.html", "results.json")
PICTURE = "survival.png"


def make_sample(folder: Path) -> None:
    """Write the sample into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        made = run_notebooks(DEMO, ["trial_report"], out_dir=place)
        for name in FILES:
            shutil.copyfile(made.folder / name, folder / name)
    (folder / PICTURE).write_bytes(compare_survival(read_log(DEMO)).figure().png())


if __name__ == "__main__":
    make_sample(SAMPLE)
