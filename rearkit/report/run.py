"""Runs notebooks on a log and makes the report folder: pages, results and tidy tables."""

from __future__ import annotations

import logging
import tempfile
import threading
import traceback
from collections.abc import Mapping, Sequence
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rearkit import errors
from rearkit.errors import RearkitError, RunFailed
from rearkit.report.assemble import assemble, safe_name, write_failure
from rearkit.report.page.render import render, skip_address_grammar
from rearkit.report.parameters import ANONYMOUS, LOG, Value
from rearkit.report.place import keep_apart
from rearkit.report.plan import Plan, make_plan
from rearkit.report.verify import check_outputs, check_ran, in_one_line, plain_traceback
from rearkit.report.watch import Progress, Switch, Tell, Watch

if TYPE_CHECKING:
    from rearkit.logbook.logbook import Logbook

SECONDS_A_CELL = 600
SECONDS_TO_START = 120
SECONDS_TO_ANSWER = 60
AT_ONCE = 2
READING = ("approx_share", "date_order")
KEEPERS_ERRORS = ("LogUnreadable", "LogStopped", "SettingError", "DesignError")


@dataclass(frozen=True, kw_only=True, eq=False)
class RunResult:
    """Where a report is and what is in it.

    Parameters
    ----------
    folder : Path
    pages : tuple of Path
        The pages of this run, in the order asked for.
    results : Path
    tidy : tuple of Path
    answers : dict
        What ``results.json`` holds under ``answers``.
    """

    folder: Path
    pages: tuple[Path, ...]
    results: Path
    tidy: tuple[Path, ...]
    answers: dict[str, dict]


def run_notebooks(
    log_path: str | Path,
    names: Sequence[str],
    *,
    settings: Mapping[str, object] | None = None,
    out_dir: str | Path = "reports",
    called: str | None = None,
    progress: Tell | None = None,
    switch: Switch | None = None,
) -> RunResult:
    """Run notebooks on a log and put the report in place once all of it stands.

    Parameters
    ----------
    log_path : str or Path
        A workbook or a folder of CSV files.
    names : sequence of str
        Notebooks of the kit, or paths of ``.ipynb`` files.
    settings : mapping of str to object, optional
        Values by name, as text or as plain Python values; each goes to the notebooks that have it.
    out_dir : str or Path
        The report goes into a folder in here that is called like the log.
    called : str, optional
        Another name for that folder.
    progress : callable, optional
        Told how far each notebook is; called from more than one thread, one call at a time.
    switch : Switch, optional
        Ends the run from another thread.

    Returns
    -------
    RunResult

    Raises
    ------
    SettingError
        If a notebook or setting is not known, or the report would land on the log itself;
        nothing has run then.
    LogUnreadable, LogStopped
        If the log cannot be analysed; nothing has run then.
    RunFailed
        If a notebook stopped part of the way; an earlier report is as it was.

    Notes
    -----
    Two notebooks run at once, each in a kernel of its own: no state goes from one to the other,
    and a kernel that dies takes nothing with it.
    """
    plan = make_plan(names, settings or {})
    log = _read(Path(log_path).resolve(), plan.settings)
    log = _without_names(log, plan)
    target = Path(out_dir) / (called or safe_name(log.name))
    keep_apart(log.path, target)
    switch = switch or Switch()
    stamp = f"{datetime.now(UTC):Made on %Y-%m-%d at %H:%M UTC.}"
    try:
        executed = _execute_all(plan, log.path, _one_at_a_time(progress), switch)
        pages = {
            name: render(
                notebook, name=name, log_name=log.path.name, settings=plan.values[name], stamp=stamp
            )
            for name, notebook in executed.items()
        }
    except RunFailed as failure:
        if switch.broken.is_set():
            raise
        raise write_failure(failure, target) from None
    answers, tidy = assemble(plan, log, executed, pages, target)
    return RunResult(
        folder=target,
        pages=tuple(target / f"{name}.html" for name in pages),
        results=target / "results.json",
        tidy=tidy,
        answers=answers,
    )


def execute(
    path: Path,
    *,
    name: str,
    log_path: Path,
    settings: Mapping[str, Value],
    tell: Tell,
    switch: Switch,
    seconds: int = SECONDS_A_CELL,
) -> dict:
    """Run one notebook in a kernel of its own.

    Parameters
    ----------
    path : Path
    name : str
    log_path : Path
        Absolute; the notebook gets it as ``log``.
    settings : mapping of str to value
    tell : callable
        Told how far it is.
    switch : Switch
        Ends it early.
    seconds : int
        The most that one cell may take.

    Returns
    -------
    dict
        The executed notebook, every cell of which ran to its end.

    Raises
    ------
    RunFailed
        If a cell stopped, ended the program, took too long or killed the kernel.
    SettingError, DesignError, LogStopped, LogUnreadable
        If a cell refused the settings or the log in plain words.
    """
    skip_address_grammar()
    import nbformat
    from papermill.execute import execute_notebook

    from rearkit.report.kernel import kernel_class

    notebook = nbformat.read(path, as_version=4)
    watch = Watch(notebook, name=name, tell=tell, switch=switch)
    logging.getLogger("papermill").setLevel(logging.CRITICAL)
    with tempfile.TemporaryDirectory(prefix="rearkit-") as folder:
        try:
            executed = execute_notebook(
                notebook,
                None,
                parameters={LOG: str(log_path), **settings},
                kernel_name="python3",
                language="python",
                progress_bar=False,
                start_timeout=SECONDS_TO_START,
                execution_timeout=seconds,
                iopub_timeout=SECONDS_TO_ANSWER,
                shutdown_kernel="immediate",
                kernel_manager_class=kernel_class(Path(folder), switch.kernels),
                on_cell_start=watch.begin,
                on_cell_executed=watch.end,
            )
        except RearkitError:
            raise
        except Exception as error:
            raise _in_words(error, where=watch.where, seconds=seconds) from None
    check_ran(executed, name=name)
    check_outputs(executed, name=name)
    return executed


def _in_words(error: Exception, *, where: str, seconds: int) -> RearkitError:
    """Turn what went wrong in a run into what the keeper is told."""
    from nbclient.exceptions import CellTimeoutError
    from papermill.exceptions import PapermillExecutionError

    if isinstance(error, PapermillExecutionError):
        if error.ename in KEEPERS_ERRORS:
            told: type[RearkitError] = getattr(errors, error.ename)
            return told(error.evalue.rstrip().removesuffix("."))
        what = f"a cell stopped: {in_one_line(error.ename, error.evalue)}"
        return RunFailed(what, where=where, details=plain_traceback(error.traceback))
    details = "".join(traceback.format_exception(error))
    if isinstance(error, CellTimeoutError):
        return RunFailed(f"a cell took more than {seconds} seconds", where=where, details=details)
    if isinstance(error, RuntimeError):
        what = "the Python that ran it was ended from outside, or ran out of memory"
        return RunFailed(what, where=where, details=details)
    what = f"it could not be run: {in_one_line(type(error).__name__, str(error))}"
    return RunFailed(what, where=where, details=details)


def _read(path: Path, settings: Mapping[str, Value]) -> Logbook:
    from rearkit.logbook.logbook import read_log

    reading: dict[str, Any] = {key: settings[key] for key in READING if key in settings}
    return read_log(path, **reading)


def _without_names(log: Logbook, plan: Plan) -> Logbook:
    """Leave the keeper out of the tidy tables where the pages leave the keeper out."""
    if not plan.settings.get(ANONYMOUS):
        return log
    from rearkit.logbook.anonymous import hide_names

    return hide_names(log)


def _execute_all(plan: Plan, log_path: Path, tell: Tell, switch: Switch) -> dict[str, dict]:
    """Run the notebooks, two at once; if one fails or the reader breaks off, end the others."""
    with ThreadPoolExecutor(max_workers=AT_ONCE) as pool:
        jobs = {
            name: pool.submit(
                _execute_in_thread,
                path,
                name=name,
                log_path=log_path,
                settings=plan.values[name],
                tell=tell,
                switch=switch,
            )
            for name, path in plan.notebooks.items()
        }
        try:
            finished = wait(jobs.values(), return_when=FIRST_EXCEPTION)
            for job in jobs.values():
                if job in finished.done:
                    job.result()
            return {name: job.result() for name, job in jobs.items()}
        finally:
            switch.stop()
            pool.shutdown(wait=True, cancel_futures=True)


def _execute_in_thread(path: Path, **asked: Any) -> dict:
    """Run one notebook and close the event loop that talking to its kernel left open."""
    from jupyter_core.utils import ensure_event_loop

    try:
        return execute(path, **asked)
    finally:
        ensure_event_loop().close()


def _one_at_a_time(progress: Tell | None) -> Tell:
    lock = threading.Lock()

    def tell(step: Progress) -> None:
        if progress is not None:
            with lock:
                progress(step)

    return tell
