"""A folder of logs: a report each, a list of them, and nothing that one log does hurts another."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest

from rearkit import cli
from rearkit.errors import LogUnreadable, SettingError
from rearkit.report.index import index_page
from rearkit.report.many import LogOutcome, find_logs, is_folder_of_logs, report_many
from tests.logs import batch, day, write_log

NOTEBOOK = {
    "cells": [
        {"cell_type": "markdown", "id": "t", "metadata": {}, "source": "# Test"},
        {
            "cell_type": "code",
            "id": "p",
            "metadata": {"tags": ["parameters"]},
            "source": 'log: str = ""  # the log',
            "outputs": [],
            "execution_count": None,
        },
        {
            "cell_type": "code",
            "id": "a",
            "metadata": {},
            "source": "import os\n"
            "from rearkit import check_log, compare_survival, read_log\n"
            'os.kill(os.getpid(), 9) if "deadly" in log else None\n'
            "check_log(read_log(log))",
            "outputs": [],
            "execution_count": None,
        },
    ],
    "metadata": {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}
    },
    "nbformat": 4,
    "nbformat_minor": 5,
}


@pytest.fixture
def notebook(tmp_path: Path) -> str:
    path = tmp_path / "tiny.ipynb"
    path.write_text(json.dumps(NOTEBOOK), encoding="utf-8")
    return str(path)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder of four logs: two good, one that kills its kernel, one that is no log."""
    logs = tmp_path / "club"
    for name in ("good <b>one", "good two", "deadly"):
        write_log(
            logs / name,
            batches=[batch("A", 30, 20), batch("B", 30, 25)],
            daily=[{"date": day(3), "batch": "A", "dead": 2}],
        )
    (logs / "broken.xlsx").write_bytes(b"%PDF-1.4 not a workbook")
    (logs / "~$open.xlsx").write_bytes(b"lock")
    (logs / ".~lock.good.ods#").write_bytes(b"lock")
    return logs


def test_only_logs_are_found(folder: Path) -> None:
    assert [p.name for p in find_logs(folder)] == [
        "broken.xlsx",
        "deadly",
        "good <b>one",
        "good two",
    ]
    assert is_folder_of_logs(folder)
    assert not is_folder_of_logs(folder / "deadly")


def test_one_bad_log_takes_no_other_with_it(folder: Path, notebook: str, tmp_path: Path) -> None:
    index, outcomes = report_many(folder, [notebook], out_dir=tmp_path / "out")
    made = {o.log: o.page is not None for o in outcomes}
    assert made == {
        "broken.xlsx": False,
        "deadly": False,
        "good <b>one": True,
        "good two": True,
    }
    assert {o.log for o in outcomes if o.failed} == {"deadly"}
    assert {o.batches for o in outcomes if o.page} == {2}
    page = index.read_text(encoding="utf-8")
    assert "2 of 4 logs have a report" in page
    assert "this is a PDF" in page
    assert "<b>one" not in page
    for link in re.findall(r'href="([^"#][^"]*\.html)"', page):
        from urllib.parse import unquote

        assert (index.parent / unquote(link)).is_file()


def test_two_logs_of_one_name_get_a_folder_each(tmp_path: Path, notebook: str) -> None:
    logs = tmp_path / "club"
    for name in ("same", "same.ods"):
        write_log(logs / name, batches=[batch("A", 30, 20)])
    os.rename(logs / "same.ods", logs / "Same")
    _, outcomes = report_many(logs, [notebook], out_dir=tmp_path / "out")
    pages = {o.page for o in outcomes}
    assert len(pages) == 2
    assert None not in pages


def test_an_empty_folder_and_a_misspelt_setting_are_refused(tmp_path: Path, notebook: str) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(LogUnreadable, match="no log in this folder"):
        report_many(tmp_path / "empty", [notebook])
    write_log(tmp_path / "logs" / "a", batches=[batch("A", 30, 20)])
    with pytest.raises(SettingError, match="dya"):
        report_many(tmp_path / "logs", [notebook], settings={"dya": "3"})


def test_the_command_lists_what_it_made_and_skipped(
    folder: Path, notebook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = cli.main(["report", str(folder), "--notebook", notebook, "--out", str(tmp_path / "o")])
    printed = capsys.readouterr()
    assert status == 1
    assert "2 of 4 logs" in printed.out
    assert "broken.xlsx: this is a PDF" in printed.err


def test_a_list_with_nothing_made_still_stands() -> None:
    page = index_page("club", [LogOutcome(log="a", page=None, headline="why")], "now")
    assert "0 of 1 logs" in page
    assert "Without a report" in page


SECRET = "Mossbank Lane 7"


def test_nothing_of_the_keeper_is_written_when_asked_not_to(tmp_path: Path) -> None:
    folder = write_log(
        tmp_path / "log",
        batches=[
            batch(f"B{i}", 40, 30, method=m, place=f"{SECRET}, {i}", note=SECRET, clutch=f"c{i}")
            for i, m in enumerate(["open", "shaded"])
        ],
        daily=[{"date": day(3), "batch": "B0", "dead": 2, "note": SECRET}],
        events=[{"started": day(2), "batch": "all", "what": "cleaning", "note": SECRET}],
        trial={"keeper": SECRET, "approval": SECRET, "note": SECRET},
    )
    out = tmp_path / "out"
    assert cli.main(["report", str(folder), "--anonymous", "--out", str(out)]) == 0
    written = [path for path in out.rglob("*") if path.is_file()]
    assert len(written) > 5
    for path in written:
        assert SECRET not in path.read_text(encoding="utf-8"), path.name


def test_a_notebook_that_would_tell_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write_log(tmp_path / "log", batches=[batch("A", 40, 30)])
    asked = ["report", str(folder), "--anonymous", "--notebook", "trial_report"]
    assert cli.main([*asked, "--notebook", "survival", "--out", str(tmp_path / "out")]) == 2
    assert "cannot leave out the keeper" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
