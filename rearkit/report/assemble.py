"""Puts the pieces of a report together and moves it into place."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rearkit.errors import RunFailed
from rearkit.report.collect import SCHEMA, answers_of, gather, results_text
from rearkit.report.place import (
    RESULTS,
    TIDY,
    earlier_results,
    pages_to_keep,
    put_in_place,
    workshop,
)
from rearkit.report.plan import Plan
from rearkit.report.tidy import write_tidy

if TYPE_CHECKING:
    from rearkit.logbook.logbook import Logbook


def assemble(
    plan: Plan,
    log: Logbook,
    executed: Mapping[str, Mapping],
    pages: Mapping[str, str],
    target: Path,
) -> tuple[dict[str, dict], tuple[Path, ...]]:
    """Write pages, results and tidy tables beside the target, then swap them in.

    Parameters
    ----------
    plan : Plan
    log : Logbook
    executed, pages : mapping
        The executed notebook and the HTML page of every notebook.
    target : Path
        The folder of the report.

    Returns
    -------
    answers : dict
    tidy : tuple of Path

    Notes
    -----
    Pages of an earlier run stay, with their answers, as long as the log, the version of the kit
    and the settings are the same; otherwise they go, since they would contradict this run.
    """
    answers, shown_on = gather({name: answers_of(notebook) for name, notebook in executed.items()})
    results: dict[str, Any] = {
        "schema": SCHEMA,
        "rearkit": version("rearkit"),
        "log": {"name": log.path.name, "sha256": log.sha256},
        "settings": plan.settings,
        "pages": shown_on,
        "answers": answers,
    }
    earlier = earlier_results(target)
    with workshop(target) as part:
        for name, html in pages.items():
            (part / f"{name}.html").write_text(html, encoding="utf-8")
        for name, labels in pages_to_keep(earlier, results).items():
            old = target / f"{name}.html"
            if old.is_file():
                (part / old.name).write_bytes(old.read_bytes())
                _keep_answers(results, earlier, name, labels)
        (part / RESULTS).write_text(results_text(results), encoding="utf-8")
        tidy = write_tidy(log, part / TIDY)
        put_in_place(part, target)
    failure_file(target).unlink(missing_ok=True)
    return answers, tuple(target / TIDY / path.name for path in tidy)


def write_failure(failure: RunFailed, target: Path) -> RunFailed:
    """Keep the traceback of a failed run beside the report, and say where it is.

    Parameters
    ----------
    failure : RunFailed
    target : Path
        The folder of the report, which is not touched.

    Returns
    -------
    RunFailed
        The same, with what to do next.
    """
    file = failure_file(target)
    todo = "No report was written"
    todo += "; the earlier one is as it was." if target.exists() else "."
    if failure.details:
        with suppress(OSError):
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(f"{failure}\n\n{failure.details}", encoding="utf-8")
            todo += f" The full account for whoever can mend it: {file}"
    return RunFailed(failure.what, where=failure.where, todo=todo, details=failure.details)


def failure_file(target: Path) -> Path:
    """Name the file that the traceback of a failed run goes into."""
    return target.with_name(f"{target.name}.error.txt")


def safe_name(name: str) -> str:
    """Make a folder name from the name of a log.

    Examples
    --------
    >>> safe_name("kribensis 2025"), safe_name("../x"), safe_name("..")
    ('kribensis 2025', '.._x', 'log')
    """
    kept = "".join(c if c.isprintable() and c not in '/\\\\:*?"<>|' else "_" for c in name)
    return kept if kept.strip(". ") else "log"


def _keep_answers(results: dict, earlier: Mapping, page: str, labels: list[str]) -> None:
    results["pages"][page] = labels
    kept = earlier.get("answers", {})
    for label in labels:
        if label in kept:
            results["answers"].setdefault(label, kept[label])
    for name, value in earlier["settings"].items():
        results["settings"].setdefault(name, value)
