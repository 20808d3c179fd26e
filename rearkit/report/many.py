"""Reports of a whole folder of logs: one each, and a page that lists them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from rearkit.errors import LogUnreadable, RearkitError, RunFailed
from rearkit.report.assemble import safe_name
from rearkit.report.index import index_page
from rearkit.report.plan import make_plan
from rearkit.report.run import run_notebooks

AT_ONCE = 2
WORKBOOKS = (".xlsx", ".xlsm", ".ods")
INDEX = "index.html"


@dataclass(frozen=True, kw_only=True, eq=False)
class LogOutcome:
    """What became of one log of a folder.

    Attributes
    ----------
    log : str
        Its file name.
    page : str or None
        Its first page, as the list links it; None if there is no report.
    headline : str
        The answer in a sentence, or why there is no report.
    batches : int or None
        Batches in the log.
    failed : bool
        Whether a run broke, as against a log that cannot be analysed.
    """

    log: str
    page: str | None
    headline: str
    batches: int | None = None
    failed: bool = False


def is_folder_of_logs(path: Path) -> bool:
    """Tell a folder of logs from a folder that is itself a log of CSV files."""
    return path.is_dir() and not any(path.glob("*.csv"))


def find_logs(folder: Path) -> list[Path]:
    """List the logs of a folder: workbooks, and folders of CSV files, by name.

    Hidden files and the lock files of spreadsheet programs are passed over.
    """
    found = [
        path
        for path in folder.iterdir()
        if not path.name.startswith((".", "~"))
        and (
            (path.is_file() and path.suffix.lower() in WORKBOOKS)
            or (path.is_dir() and any(path.glob("*.csv")))
        )
    ]
    return sorted(found, key=lambda path: path.name.casefold())


def report_many(
    folder: Path,
    names: Sequence[str],
    *,
    settings: Mapping[str, object] | None = None,
    out_dir: str | Path = "reports",
    tell: Callable[[LogOutcome], None] | None = None,
) -> tuple[Path, list[LogOutcome]]:
    """Run notebooks on every log of a folder, two at once, and list what came of each.

    Parameters
    ----------
    folder : Path
        A folder of workbooks and of folders of CSV files.
    names, settings, out_dir
        As for ``run_notebooks``.
    tell : callable, optional
        Told when a log is done.

    Returns
    -------
    index : Path
        The page that lists the reports.
    outcomes : list of LogOutcome
        In the order of the names. A log that cannot be analysed, or whose run breaks, takes
        nothing of the others with it.

    Raises
    ------
    LogUnreadable
        If there is no log in the folder.
    SettingError
        If a notebook or setting is not known; nothing has run then.
    """
    logs = find_logs(folder)
    if not logs:
        raise LogUnreadable(
            "there is no log in this folder",
            where=str(folder),
            todo="Put workbooks (.xlsx, .ods) or folders of CSV files into it.",
        )
    make_plan(names, settings or {})
    out = Path(out_dir)

    def one(log: Path) -> LogOutcome:
        outcome = _report_one(log, _place_of(log, logs, out), out, names, settings or {})
        if tell is not None:
            tell(outcome)
        return outcome

    with ThreadPoolExecutor(max_workers=AT_ONCE) as pool:
        outcomes = list(pool.map(one, logs))
    out.mkdir(parents=True, exist_ok=True)
    index = out / INDEX
    stamp = f"{datetime.now(UTC):Made on %Y-%m-%d at %H:%M UTC.}"
    index.write_text(index_page(folder.resolve().name, outcomes, stamp), encoding="utf-8")
    return index, outcomes


def _place_of(log: Path, logs: Sequence[Path], out: Path) -> Path:
    """Give two logs of one name (a.xlsx and a.ods) a folder each."""
    name = safe_name(_stem(log))
    twins = [other for other in logs if safe_name(_stem(other)).casefold() == name.casefold()]
    return out if len(twins) == 1 else out / safe_name(log.name)


def _stem(log: Path) -> str:
    return log.name if log.is_dir() else log.stem


def _report_one(
    log: Path, out: Path, top: Path, names: Sequence[str], settings: Mapping[str, object]
) -> LogOutcome:
    try:
        result = run_notebooks(log, names, settings=settings, out_dir=out)
    except RunFailed as error:
        return LogOutcome(log=log.name, page=None, headline=str(error), failed=True)
    except RearkitError as error:
        return LogOutcome(log=log.name, page=None, headline=str(error))
    shown = result.pages[0].relative_to(top)
    return LogOutcome(
        log=log.name,
        page=shown.as_posix(),
        headline=_headline(result.answers),
        batches=_batches(result.answers),
    )


def _headline(answers: Mapping[str, Any]) -> str:
    """Take the answer that a reader looks for first."""
    for key in ("survival", "methods", *answers):
        if "headline" in answers.get(key, {}):
            return str(answers[key]["headline"])
    return ""


def _batches(answers: Mapping[str, Any]) -> int | None:
    account = answers.get("log_check", {}).get("account")
    return None if account is None else len(account)
