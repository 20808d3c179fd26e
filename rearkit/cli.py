"""The commands: they read what was typed, call the library and say what came of it."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rearkit.errors import LogStopped, RearkitError, RunFailed, SettingError
from rearkit.locate import notebook_paths, template_paths
from rearkit.terminal import LogLines, ProgressLines, findings_lines, plain, rows_line

if TYPE_CHECKING:
    from rearkit.report.run import RunResult

FIRST_CHOICE = "trial_report"
SECOND_CHOICE = "survival"
FINE, FAILED, STOPPED, BROKEN_OFF = 0, 1, 2, 130


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str, optional
        What was typed after ``rearkit``; that of this process if not given.

    Returns
    -------
    int
        The exit status: 0 fine; 1 a notebook stopped, or ``check`` has something to ask;
        2 the log or a setting stops it; 130 broken off.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    asked = _parser().parse_args(arguments)
    try:
        status: int = asked.command(asked)
        return status
    except RearkitError as error:
        print(f"rearkit: {plain(str(error))}", file=sys.stderr)
        if isinstance(error, LogStopped) and asked.command is report:
            print("Everything that was found: rearkit check LOG", file=sys.stderr)
        return FAILED if isinstance(error, RunFailed) else STOPPED
    except KeyboardInterrupt:
        print("\nBroken off. Nothing was changed.", file=sys.stderr)
        return BROKEN_OFF
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except Exception as error:
        return _own_fault(error)


def report(asked: argparse.Namespace) -> int:
    """Run notebooks on a log and say where the pages are."""
    from rearkit.report.many import is_folder_of_logs
    from rearkit.report.run import run_notebooks

    if is_folder_of_logs(Path(asked.log)):
        return _report_folder(asked)
    lines = ProgressLines(sys.stderr)
    try:
        result = run_notebooks(
            asked.log,
            _notebooks_asked(asked),
            settings=_report_settings(asked),
            out_dir=asked.out,
            progress=lines.show,
        )
    finally:
        lines.end()
    _say_where(result)
    if asked.open:
        import webbrowser

        webbrowser.open(result.pages[0].resolve().as_uri())
    return FINE


def _report_folder(asked: argparse.Namespace) -> int:
    """Make a report of every log in a folder, and a page that lists them."""
    from rearkit.report.many import find_logs, report_many

    lines = LogLines(sys.stderr, total=len(find_logs(Path(asked.log))))
    try:
        index, outcomes = report_many(
            Path(asked.log),
            _notebooks_asked(asked),
            settings=_report_settings(asked),
            out_dir=asked.out,
            tell=lines.show,
        )
    except KeyboardInterrupt:
        print(f"\nBroken off. {lines.made} reports were done and stay.", file=sys.stderr)
        return BROKEN_OFF
    print(f"{lines.made} of {len(outcomes)} logs: {plain(str(index))}")
    if asked.open:
        import webbrowser

        webbrowser.open(index.resolve().as_uri())
    if not lines.made and not any(outcome.failed for outcome in outcomes):
        return STOPPED
    return FINE if lines.made == len(outcomes) else FAILED


def _report_settings(asked: argparse.Namespace) -> dict[str, str]:
    settings = _settings(asked.set)
    return settings | {"anonymous": "yes"} if asked.anonymous else settings


def check(asked: argparse.Namespace) -> int:
    """Say what is found in a log, and whether it can be analysed."""
    from rearkit.answers.log_check.answer import check_log
    from rearkit.logbook.doubts.findings import findings_frame
    from rearkit.logbook.logbook import read_log

    try:
        log = read_log(asked.log, **_reading(asked.set))
    except LogStopped as stopped:
        print("\n".join(findings_lines(findings_frame(stopped.findings))))
        raise
    answer = check_log(log)
    print("\n".join(findings_lines(answer.findings)))
    print(rows_line(log.rows))
    return answer.exit_code


def new(asked: argparse.Namespace) -> int:
    """Write a blank log."""
    from rearkit.logbook.blank.workbook import write_blank

    path = Path(asked.file)
    if path.suffix.lower() != ".xlsx":
        raise RearkitError(
            "a blank log is an Excel file", where=str(path), todo="Give a name that ends in .xlsx."
        )
    _refuse_existing(path)
    write_blank(path)
    print(f"A blank log: {plain(str(path))}")
    return FINE


def notebooks(asked: argparse.Namespace) -> int:
    """Copy the notebooks, and the logs they start from, so that they run as they are."""
    folder = Path(asked.folder)
    copies = {path: folder / "notebooks" / path.name for path in notebook_paths().values()}
    copies |= {path: folder / "data_templates" / path.name for path in template_paths()}
    for copy in copies.values():
        _refuse_existing(copy)
    try:
        for path, copy in copies.items():
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy_one = shutil.copytree if path.is_dir() else shutil.copyfile
            copy_one(path, copy)
    except OSError as error:
        raise RearkitError(
            f"the notebooks cannot be written: {error.strerror}", where=str(folder)
        ) from None
    print(f"{len(notebook_paths())} notebooks in {plain(str(folder / 'notebooks'))}")
    return FINE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="rearkit", description="From a fry-rearing log to an answer you may believe."
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    add = commands.add_parser(
        "report",
        help="run notebooks on a log, or on a folder of logs, and write the pages",
        epilog="A folder of logs gives a report each, two at a time, and index.html to list them; "
        "a log that cannot be analysed or whose run fails stops no other. Ends with 0 if every log "
        "has a report, 2 if none can be analysed (or a setting is wrong), else with 1.",
    )
    add.add_argument(
        "log",
        metavar="LOG",
        help="an .xlsx, .xls or .ods file, a folder of CSV files, or a folder of several logs",
    )
    add.add_argument(
        "--notebook", metavar="NAME", action="append", default=[], help="which one; may be repeated"
    )
    add.add_argument("--all", action="store_true", help="every notebook")
    _add_set(add)
    add.add_argument(
        "--anonymous",
        action="store_true",
        help="leave out the keeper, the approval, the places and the notes, in the tables too (the "
        "name of the file and your words for batches, methods, parents, water and food stay)",
    )
    add.add_argument("--out", metavar="DIR", default="reports", help="where to (default: reports)")
    add.add_argument("--open", action="store_true", help="open the page in your browser")
    add.set_defaults(command=report)

    add = commands.add_parser("check", help="say what is found in a log")
    add.add_argument(
        "log", metavar="LOG", help="an .xlsx, .xls or .ods file, or a folder of CSV files"
    )
    _add_set(add)
    add.set_defaults(command=check)

    add = commands.add_parser("new", help="write a blank log")
    add.add_argument("file", metavar="FILE.xlsx")
    add.set_defaults(command=new)

    add = commands.add_parser("notebooks", help="copy the notebooks, to open them in JupyterLab")
    add.add_argument("folder", metavar="DIR")
    add.set_defaults(command=notebooks)
    return parser


def _add_set(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--set",
        metavar="NAME=VALUE",
        action="append",
        default=[],
        help="a setting, as in day=28; may be repeated",
    )


def _own_fault(error: Exception) -> int:
    """Say that the kit itself is wrong, and keep the traceback in a file for whoever mends it."""
    file, path = tempfile.mkstemp(prefix="rearkit-", suffix=".error.txt", text=True)
    with open(file, "w", encoding="utf-8") as account:
        account.write("".join(traceback.format_exception(error)))
    print(
        f"rearkit: a mistake in rearkit itself, not in your log: {plain(repr(error))}. "
        f"Please report it with this file: {plain(path)}",
        file=sys.stderr,
    )
    return FAILED


def _notebooks_asked(asked: argparse.Namespace) -> list[str]:
    if asked.all:
        return list(notebook_paths())
    if asked.notebook:
        return list(dict.fromkeys(asked.notebook))
    return [FIRST_CHOICE if FIRST_CHOICE in notebook_paths() else SECOND_CHOICE]


def _settings(pairs: Sequence[str]) -> dict[str, str]:
    settings: dict[str, str] = {}
    for pair in pairs:
        name, sign, value = pair.partition("=")
        name = name.strip()
        if not (sign and name.isidentifier()):
            raise SettingError(f"{pair!r} is not a setting", todo="Write it as in --set day=28")
        if settings.get(name, value) != value:
            raise SettingError(f"the setting {name} is given twice", todo="Leave one out.")
        settings[name] = value
    return settings


def _reading(pairs: Sequence[str]) -> dict:
    from rearkit.report.parameters import Parameter
    from rearkit.report.settings import check_settings

    known = (
        Parameter(
            name="approx_share",
            kinds=("float",),
            default=0.1,
            comment="what about 40 may be off by, as a share",
        ),
        Parameter(
            name="date_order",
            kinds=("str", "None"),
            default=None,
            comment="day first, month first or year first",
        ),
    )
    return check_settings(_settings(pairs), {"check": known})["check"]


def _refuse_existing(path: Path) -> None:
    if path.exists():
        raise RearkitError(
            f"{path.name} is there already",
            where=str(path.parent),
            todo="Nothing was written. Choose another name, or move it away first.",
        )


def _say_where(result: RunResult) -> None:
    for page in result.pages:
        print(plain(str(page)))
    print(f"Numbers: {plain(str(result.results))}")
    print(f"Tables:  {plain(str(result.folder / 'tidy'))}")
