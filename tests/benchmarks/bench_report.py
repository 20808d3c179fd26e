"""What the trial report costs beside any notebook of the kit: ``python bench_report.py``.

The base is the same runner on the same log with a notebook that starts a kernel, imports what the
report imports and shows nothing: kernel start, imports, HTML and tidy tables. Printed are medians
of three interleaved runs in this one process, and their ratio.
"""

from __future__ import annotations

import json
import tempfile
import time
from pathlib import Path
from statistics import median

from rearkit.report.run import run_notebooks

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_templates" / "demo_shade_trial.xlsx"
IMPORTS = """\
import rearkit
from rearkit.report import figures
from rearkit.report.wording import prose, tables
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
    """Time one run."""
    begun = time.perf_counter()
    run_notebooks(DEMO, [notebook], out_dir=folder)
    return time.perf_counter() - begun


def main() -> None:
    """Run both three times and print the ratio."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        base = str(base_notebook(folder))
        seconds(base, folder)  # the imports of this process are paid for here
        pairs = [(seconds(base, folder), seconds("trial_report", folder)) for _ in range(3)]
    low, high = (median(times) for times in zip(*pairs, strict=True))
    print(f"base {low:.2f} s, trial report {high:.2f} s, ratio {high / low:.2f}")


if __name__ == "__main__":
    main()
