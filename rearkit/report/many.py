"""Reports of a whole folder of logs: one each, and a page that lists them."""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from html import escape
from itertools import chain, count
from pathlib import Path
from typing import Any
from urllib.parse import quote

from rearkit.errors import LogUnreadable, RearkitError, RunFailed
from rearkit.logbook.schema.sheets import find_sheet
from rearkit.report.assemble import safe_name, write_failure
from rearkit.report.parameters import ANONYMOUS
from rearkit.report.place import write_page
from rearkit.report.plan import make_plan
from rearkit.report.run import run_notebooks
from rearkit.report.watch import Switch
from rearkit.words.comparisons import CLAIMS

AT_ONCE = 2
STYLE = Path(__file__).parent / "page" / "page.css"
WORKBOOKS = (".xlsx", ".xlsm", ".ods", ".xls", ".xlsb", ".numbers")  # the last two say why not
TABLES = (".csv", ".tsv")
INDEX = "index.html"
UNTOLD = "It cannot be analysed; rearkit check says why, to the keeper alone."
UNTOLD_STOP = "A notebook stopped part of the way."
OWN_FAULT = "a mistake in rearkit itself, not in the log"


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
    claim : str
        How far the words of the answer may go; empty if it compares nothing.
    batches : int or None
        Batches in the log.
    failed : bool
        Whether a run broke, as against a log that cannot be analysed.
    """

    log: str
    page: str | None
    headline: str
    claim: str = ""
    batches: int | None = None
    failed: bool = False


def is_folder_of_logs(path: Path) -> bool:
    """Tell a folder of logs from a folder that is itself a log of CSV files.

    Notes
    -----
    A folder is a log if one of its tables is called like a sheet of a log, or if it holds
    tables and no log that could be meant instead.
    """
    if not path.is_dir():
        return False
    tables = _tables(path)
    if any(find_sheet(table.stem) is not None for table in tables):
        return False
    return not tables or bool(find_logs(path))


def find_logs(folder: Path) -> list[Path]:
    """List the logs of a folder: workbooks, and folders of CSV files, by name.

    Hidden files and the lock files of spreadsheet programs are passed over.
    """
    found = [
        path
        for path in folder.iterdir()
        if not path.name.startswith((".", "~"))
        and (_tables(path) if path.is_dir() else path.suffix.lower() in WORKBOOKS)
    ]
    return sorted(found, key=lambda path: (path.name.casefold(), path.name))


def folder_names(logs: Sequence[Path]) -> list[str]:
    """Name the folder of every log's report: like the log, and no two alike.

    Parameters
    ----------
    logs : sequence of Path

    Returns
    -------
    list of str
        Logs of one name (a.xlsx and a.ods) keep their endings; what is alike even then, or like
        the list itself, gets a number. Capitals tell no two apart: not every disk minds them.
    """
    short = [safe_name(log.name if log.is_dir() else log.stem) for log in logs]
    folded = [name.casefold() for name in short]
    taken = {INDEX}
    names = []
    for log, name in zip(logs, short, strict=True):
        stem = name if folded.count(name.casefold()) == 1 else safe_name(log.name)
        numbered = chain([stem], (f"{stem} ({number})" for number in count(2)))
        names.append(next(name for name in numbered if name.casefold() not in taken))
        taken.add(names[-1].casefold())
    return names


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
        Told when a log is done; one call at a time.

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
    RearkitError
        If the list cannot be written.
    """
    logs = find_logs(folder)
    if not logs:
        raise LogUnreadable(
            "there is no log in this folder",
            where=str(folder),
            todo="Put workbooks (.xlsx, .xls, .ods) or folders of CSV files into it.",
        )
    plan = make_plan(names, settings or {})
    out = Path(out_dir)
    untold = bool(plan.settings.get(ANONYMOUS))
    lock = threading.Lock()

    def one(log: Path, name: str, switch: Switch) -> LogOutcome:
        try:
            result = run_notebooks(
                log, names, settings=settings, out_dir=out, called=name, switch=switch
            )
            page = result.pages[0].relative_to(out).as_posix()
            outcome = _made(log, page, result.answers)
        except RearkitError as error:
            outcome = _not_made(log, error, untold=untold)
        except Exception as error:
            details = "".join(traceback.format_exception(error))
            failure = RunFailed(OWN_FAULT, where=repr(error), details=details)
            outcome = _not_made(log, write_failure(failure, out / name), untold=untold)
        if tell is not None:
            with lock:
                tell(outcome)
        return outcome

    outcomes = _two_at_once(one, logs)
    stamp = f"{datetime.now(UTC):Made on %Y-%m-%d at %H:%M UTC.}"
    page = index_page(folder.resolve().name, outcomes, stamp)
    return write_page(out / INDEX, page), outcomes


def _two_at_once(
    one: Callable[[Path, str, Switch], LogOutcome], logs: Sequence[Path]
) -> list[LogOutcome]:
    """Work through the logs; if the reader breaks off, end what is running and begin no more."""
    switches = [Switch() for _ in logs]
    with ThreadPoolExecutor(max_workers=AT_ONCE) as pool:
        jobs = [
            pool.submit(one, *each) for each in zip(logs, folder_names(logs), switches, strict=True)
        ]
        try:
            return [job.result() for job in jobs]
        except BaseException:
            for job, switch in zip(jobs, switches, strict=True):
                job.cancel()
                switch.break_off()
            raise


def _tables(folder: Path) -> list[Path]:
    """List the CSV files of a folder; none if it cannot be opened."""
    try:
        return [
            path
            for path in folder.iterdir()
            if path.suffix.lower() in TABLES and not path.name.startswith(".") and path.is_file()
        ]
    except OSError:
        return []


def _made(log: Path, page: str, answers: Mapping[str, Any]) -> LogOutcome:
    account = answers.get("log_check", {}).get("account")
    main = _main_answer(answers)
    return LogOutcome(
        log=log.name,
        page=page,
        headline=str(main.get("headline", "")),
        claim=CLAIMS.get(main.get("claim_level", -1), ""),
        batches=None if account is None else len(account),
    )


def _not_made(log: Path, error: RearkitError, *, untold: bool) -> LogOutcome:
    """Say why there is no report; what a log holds is not quoted where the keeper is left out."""
    failed = isinstance(error, RunFailed)
    reason = str(error)
    if untold and not isinstance(error, LogUnreadable):
        reason = UNTOLD_STOP if failed else UNTOLD
    return LogOutcome(log=log.name, page=None, headline=reason, failed=failed)


def _main_answer(answers: Mapping[str, Any]) -> Mapping[str, Any]:
    """Take the answer that a reader looks for first."""
    for key in ("survival", "methods", *answers):
        if "headline" in answers.get(key, {}):
            found: Mapping[str, Any] = answers[key]
            return found
    return {}


def index_page(title: str, logs: Iterable[LogOutcome], stamp: str) -> str:
    """Write the list as one page that needs nothing from anywhere else.

    Parameters
    ----------
    title : str
        The name of the folder.
    logs : iterable
        What became of each log: ``log``, ``page`` (None if there is none), ``headline``,
        ``claim``, ``batches``, ``failed``.
    stamp : str
        The line that says when it was made.

    Returns
    -------
    str
        HTML; everything from the logs is escaped.
    """
    listed = list(logs)
    made = [entry for entry in listed if entry.page is not None]
    skipped = [entry for entry in listed if entry.page is None and not entry.failed]
    failed = [entry for entry in listed if entry.page is None and entry.failed]
    parts = [_reports_table(made)] if made else []
    if skipped:
        parts.append(_reasons_table("Skipped: cannot be analysed as they are", skipped))
    if failed:
        parts.append(_reasons_table("Without a report: a run stopped", failed))
    heading = f"{len(made)} of {len(listed)} logs have a report"
    policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="referrer" content="no-referrer">
<title>Reports – {escape(title)}</title>
<link rel="icon" href="data:,">
<style>
{STYLE.read_text(encoding="utf-8")}</style>
</head>
<body>
<header class="mast"><span class="kit">rearkit</span>
<span class="log">{escape(title)}</span></header>
<div class="sheet">
<main id="report">
<h1>{heading}</h1>
{"".join(parts)}
</main>
</div>
<footer><p class="stamp">{escape(stamp)}</p></footer>
</body>
</html>
"""


def _reports_table(entries: list[LogOutcome]) -> str:
    rows = "".join(
        f'<tr><td><a href="{escape(quote(str(entry.page)))}">{escape(entry.log)}</a></td>'
        f'<td class="number">{"" if entry.batches is None else entry.batches}</td>'
        f'<td class="long">{escape(entry.headline)}</td>'
        f'<td class="long">{escape(entry.claim)}</td></tr>\n'
        for entry in entries
    )
    return _table("Reports", ("log", "batches", "answer", "how far the words go"), rows)


def _reasons_table(title: str, entries: list[LogOutcome]) -> str:
    rows = "".join(
        f'<tr><td>{escape(entry.log)}</td><td class="long">{escape(entry.headline)}</td></tr>\n'
        for entry in entries
    )
    return f"<h2>{title}</h2>\n" + _table(title, ("log", "why"), rows)


def _table(caption: str, heads: tuple[str, ...], rows: str) -> str:
    head = "".join(f'<th scope="col">{name}</th>' for name in heads)
    return (
        f'<div class="table" tabindex="0" role="region" aria-label="{caption}"><table>'
        f"<caption>{caption}</caption><thead><tr>{head}</tr></thead><tbody>\n{rows}</tbody>"
        "</table></div>\n"
    )
