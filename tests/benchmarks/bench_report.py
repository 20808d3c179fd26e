"""What the trial report costs beside any notebook of the kit: ``python bench_report.py``.

The base is the same command on the same log with a notebook that starts a kernel, imports what the
report imports and shows nothing: start of the command, kernel, imports, HTML and tidy tables.
Printed are medians of three interleaved runs, and their ratio.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_templates" / "demo_shade_trial.xlsx"
IMPORTS = """\
import rearkit
import lifelines
[getattr(rearkit, name) for name in rearkit.__all__]
None"""


def base_notebook(folder: Path) -> Path:
    """Write the report's notebook with all but its settings and its imports taken out."""
    notebook = json.loads((ROOT / "notebooks" / "trial_report.ipynb").read_text("utf-8"))
    settings = next(c for c in notebook["cells"] if c["metadata"].get("tags") == ["parameters"])
    imports = {**settings, "id": "imports", "metadata": {}, "source": IMPORTS}
    notebook["cells"] = [notebook["cells"][0], settings, imports]
    path = folder / "base.ipynb"
    path.write_text(json.dumps(notebook), encoding="utf-8")
    return path


def seconds(notebook: str, folder: Path) -> float:
    """Time one command."""
    command = [sys.executable, "-m", "rearkit", "report", str(DEMO), "--out", str(folder)]
    begun = time.perf_counter()
    subprocess.run([*command, "--notebook", notebook], check=True, capture_output=True)
    return time.perf_counter() - begun


def main() -> None:
    """Run both three times and print the ratio."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        base = str(base_notebook(folder))
        seconds(base, folder)  # files are in memory from here on
        pairs = [(seconds(base, folder), seconds("trial_report", folder)) for _ in range(3)]
    low, high = (median(times) for times in zip(*pairs, strict=True))
    print(f"base {low:.2f} s, trial report {high:.2f} s, ratio {high / low:.2f}")


if __name__ == "__main__":
    main()
