"""A folder of logs: a report each, a list of them, and nothing that one log does hurts another."""

from __future__ import annotations

import json
import os
import re
import shutil
import time
from pathlib import Path
from urllib.parse import unquote

import pytest

from rearkit import cli
from rearkit.errors import LogUnreadable, SettingError
from rearkit.report.many import (
    LogOutcome,
    find_logs,
    folder_names,
    index_page,
    is_folder_of_logs,
    report_many,
)
from tests.logs import batch, day, write_log

DEMO = Path(__file__).parents[2] / "data_templates" / "demo_shade_trial.xlsx"

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
    """A folder of five logs: two good, one kills its kernel, one stops, one is no log."""
    logs = tmp_path / "club"
    for name in ("good <b>one", "good two", "deadly"):
        write_log(
            logs / name,
            batches=[batch("A", 30, 20), batch("B", 30, 25)],
            daily=[{"date": day(3), "batch": "A", "dead": 2}],
        )
    write_log(logs / "no batches", batches=[])
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
        "no batches",
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
        "no batches": False,
    }
    assert {o.log for o in outcomes if o.failed} == {"deadly"}
    assert {o.batches for o in outcomes if o.page} == {2}
    page = index.read_text(encoding="utf-8")
    assert "2 of 5 logs have a report" in page
    assert "this is a PDF" in page
    assert "ended from outside" in page
    assert page.index("Skipped: ") < page.index("no batches") < page.index("a run stopped")
    assert "<b>one" not in page
    assert "<script" not in page
    links = re.findall(r'href="([^"#][^"]*\.html)"', page)
    assert len(links) == 2
    for link in links:
        assert (index.parent / unquote(link)).is_file()
    assert not [path for path in index.parent.iterdir() if path.name.startswith(".")]


def test_two_logs_of_one_name_get_a_folder_each(tmp_path: Path, notebook: str) -> None:
    logs = tmp_path / "club"
    for name in ("same", "Same", "index.html"):
        write_log(logs / name, batches=[batch("A", 30, 20)])
    shutil.copyfile(DEMO, logs / "same.xlsx")
    index, outcomes = report_many(logs, [notebook], out_dir=tmp_path / "out")
    assert [o.page for o in outcomes] == [
        "index.html (2)/tiny.html",
        "Same/tiny.html",
        "same (2)/tiny.html",
        "same.xlsx/tiny.html",
    ]
    assert {path.name.casefold() for path in index.parent.iterdir() if path.is_dir()} == {
        "index.html (2)",
        "same",
        "same (2)",
        "same.xlsx",
    }


@pytest.mark.parametrize(
    "names", [["a.xlsx", "a.ods", "A.xlsx", "a.xlsx.xlsx"], ['b"c.ods', "b_c.ods", "b:c.ods"]]
)
def test_no_two_folders_are_alike_whatever_the_names(tmp_path: Path, names: list[str]) -> None:
    logs = [tmp_path / name for name in names]
    given = folder_names(logs)
    assert len({name.casefold() for name in given}) == len(names)
    assert folder_names(logs) == given
    assert not [name for name in given if re.search(r'[":]', name)]


def test_a_folder_with_tables_is_a_log_unless_others_could_be_meant(tmp_path: Path) -> None:
    write_log(tmp_path / "log", batches=[batch("A", 30, 20)])
    shutil.copyfile(DEMO, tmp_path / "log" / "copy.xlsx")
    assert not is_folder_of_logs(tmp_path / "log")
    (tmp_path / "members.csv").write_text("name\nA\n")
    assert is_folder_of_logs(tmp_path)
    (tmp_path / "lone").mkdir()
    (tmp_path / "lone" / "TABLE.CSV").write_text("a\n1\n")
    assert not is_folder_of_logs(tmp_path / "lone")
    assert not is_folder_of_logs(DEMO)
    assert not is_folder_of_logs(tmp_path / "nowhere")


def test_a_mistake_of_the_kit_in_one_log_leaves_the_others(
    folder: Path, notebook: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from rearkit.report import many

    run = many.run_notebooks

    def stumble(log: Path, *asked: object, **more: object) -> object:
        if log.name == "good two":
            raise ZeroDivisionError("of 0")
        return run(log, *asked, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(many, "run_notebooks", stumble)
    _, outcomes = report_many(folder, [notebook], out_dir=tmp_path / "out")
    said = {o.log: o for o in outcomes}
    assert said["good <b>one"].page is not None
    assert said["good two"].failed
    assert said["good two"].headline.startswith("a mistake in rearkit itself")
    account = tmp_path / "out" / "good two.error.txt"
    assert "ZeroDivisionError: of 0" in account.read_text("utf-8")
    assert account.name in said["good two"].headline


def test_breaking_off_ends_what_runs_and_begins_no_more(folder: Path, tmp_path: Path) -> None:
    slow = json.loads(json.dumps(NOTEBOOK))
    slow["cells"][2]["source"] = "import time\ntime.sleep(60)"
    path = tmp_path / "slow.ipynb"
    path.write_text(json.dumps(slow), encoding="utf-8")
    begun = time.perf_counter()

    def stop_at_the_first(outcome: LogOutcome) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt, match=r"^$"):
        report_many(folder, [str(path)], out_dir=tmp_path / "out", tell=stop_at_the_first)
    assert time.perf_counter() - begun < 30
    assert not (tmp_path / "out").exists()


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
    assert "2 of 5 logs" in printed.out
    assert "broken.xlsx: this is a PDF" in printed.err
    lines = printed.err.splitlines()
    assert sorted(line.split("  ")[0] for line in lines) == [f"{n} of 5" for n in range(1, 6)]


@pytest.mark.parametrize(("kept", "status"), [(("good two",), 0), (("broken.xlsx",), 2)])
def test_the_exit_status_says_whether_all_or_none_were_made(
    folder: Path, notebook: str, tmp_path: Path, kept: tuple[str, ...], status: int
) -> None:
    for path in find_logs(folder):
        if path.name not in kept:
            shutil.rmtree(path) if path.is_dir() else path.unlink()
    asked = ["report", str(folder), "--notebook", notebook, "--out", str(tmp_path / "o")]
    assert cli.main(asked) == status
    assert (tmp_path / "o" / "index.html").is_file()


def test_a_list_that_cannot_be_written_is_refused_in_words(
    folder: Path, notebook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("deadly", "good <b>one", "good two", "no batches"):
        shutil.rmtree(folder / name)
    (tmp_path / "taken").write_text("a file")
    asked = ["report", str(folder), "--notebook", notebook, "--out", str(tmp_path / "taken")]
    assert cli.main(asked) == 2
    assert "the report cannot be written" in capsys.readouterr().err


def test_a_report_never_lands_on_its_log(
    tmp_path: Path, notebook: str, capsys: pytest.CaptureFixture[str]
) -> None:
    log = write_log(tmp_path / "logs" / "a", batches=[batch("A", 30, 20)])
    shutil.copyfile(DEMO, tmp_path / "logs" / "b.xlsx")
    before = sorted(path.name for path in log.iterdir())
    asked = ["report", str(log), "--notebook", notebook, "--out"]
    assert cli.main([*asked, str(tmp_path / "logs")]) == 2
    assert "a log is never written to" in capsys.readouterr().err
    assert cli.main([*asked, str(log / "reports")]) == 2
    _, outcomes = report_many(tmp_path / "logs", [notebook], out_dir=tmp_path / "logs")
    assert [o.page for o in outcomes] == [None, "b/tiny.html"]
    assert sorted(path.name for path in log.iterdir()) == before
    assert [path.name for path in find_logs(tmp_path / "logs")] == ["a", "b.xlsx"]


def test_a_list_with_nothing_made_still_stands() -> None:
    page = index_page("club", [LogOutcome(log="a", page=None, headline="why")], "now")
    assert "0 of 1 logs" in page
    assert "Skipped: cannot be analysed" in page


def test_the_list_says_how_far_the_words_go(tmp_path: Path) -> None:
    rows = [
        batch(f"{arm}{i}", 40, end, clutch=f"{arm}{i}", method=arm)
        for arm, ends in (("open", (20, 22)), ("shaded", (30, 33)))
        for i, end in enumerate(ends)
    ]
    write_log(tmp_path / "logs" / "pair", batches=rows, trial={"usual": "open", "tested": "shaded"})
    index, (outcome,) = report_many(tmp_path / "logs", ["survival"], out_dir=tmp_path / "out")
    assert "too little" in outcome.claim
    assert outcome.headline in index.read_text("utf-8").replace("&#x27;", "'")
    assert outcome.claim in index.read_text("utf-8")


SECRET = "Mossbank Lane 7"


def secret_log(folder: Path, **trial: object) -> Path:
    """Write a log that names its keeper wherever a keeper can."""
    rows = [
        batch(f"B{i}", 40, 30, method=m, place=f"{SECRET}, {i}", note=SECRET, clutch=f"c{i}")
        for i, m in enumerate(["open", "shaded"])
    ]
    visits = [
        {"date": day(3), "batch": "B0", "dead": 2, "note": SECRET},
        {"date": day(4), "batch": "B1", "dead": f"1 {SECRET}", "note": ""},
        {"date": day(5), "batch": "B1", "removed": 1, "removed_to": SECRET},
        {"date": f"soon {SECRET}", "batch": "B1", "dead": 1},
        {"date": day(6), "batch": SECRET, "dead": 1},
    ]
    told = {"keeper": SECRET, "approval": SECRET, "note": SECRET, "phone": SECRET}
    return write_log(
        folder,
        batches=rows,
        daily=visits,
        sizes=[{"date": day(9), "batch": "B0", "length_mm": 7.5, "note": SECRET}],
        positions=[{"date": day(9), "batch": "B0", "place": "shade", "seen": 4, "note": SECRET}],
        events=[{"started": day(2), "batch": "all", "what": SECRET, "note": SECRET}],
        trial=told | {"stop_rule": "half of a batch lost in three days"} | trial,
    )


def telling(folder: Path) -> list[str]:
    """List the files below a folder that name the keeper."""
    written = [path for path in folder.rglob("*") if path.is_file()]
    assert len(written) > 5
    return [path.name for path in written if SECRET in path.read_text(encoding="utf-8")]


def test_nothing_of_the_keeper_is_written_when_asked_not_to(tmp_path: Path) -> None:
    log, out = secret_log(tmp_path / "log"), tmp_path / "out"
    assert cli.main(["report", str(log), "--out", str(out)]) == 0
    assert {"trial_report.html", "trial.csv", "daily.csv", "findings.csv"} <= set(telling(out))
    assert cli.main(["report", str(log), "--anonymous", "--out", str(out)]) == 0
    assert telling(out) == []
    page = (out / "log" / "trial_report.html").read_text("utf-8")
    assert "half of a batch lost in three days" in page


def test_a_page_that_tells_does_not_stay_beside_one_that_does_not(
    tmp_path: Path, notebook: str
) -> None:
    log, out = secret_log(tmp_path / "log"), tmp_path / "out"
    asked = ["report", str(log), "--out", str(out)]
    assert cli.main([*asked, "--notebook", notebook]) == 0
    assert cli.main([*asked, "--anonymous"]) == 0
    assert not (out / "log" / "tiny.html").exists()
    assert cli.main([*asked, "--notebook", notebook]) == 0
    assert not (out / "log" / "trial_report.html").exists()


def test_the_list_of_a_folder_tells_nothing_either(tmp_path: Path) -> None:
    logs, out = tmp_path / "club", tmp_path / "out"
    secret_log(logs / "fine")
    write_log(logs / "stopped", batches=[], trial={"title": SECRET})
    two = [batch("A", 30, 20, method=SECRET), batch("B", 30, 20, method="shade")]
    write_log(logs / "odd", batches=two, trial={"usual": "open"})
    assert cli.main(["report", str(logs), "--anonymous", "--out", str(out)]) == 1
    assert telling(out) == []
    assert "rearkit check says why" in (out / "index.html").read_text("utf-8")


@pytest.mark.parametrize("more", [["--notebook", "trial_report"], []])
@pytest.mark.parametrize("many", [False, True])
def test_a_notebook_that_would_tell_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], many: bool
) -> None:
    log = write_log(tmp_path / "logs" / "log", batches=[batch("A", 40, 30)])
    asked = ["report", str(log.parent if many else log), "--anonymous", *more]
    assert cli.main([*asked, "--notebook", "survival", "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "the notebook survival cannot leave out the keeper" in said
    assert "What can: trial_report." in said
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_fifty_logs_give_fifty_reports(tmp_path: Path) -> None:
    logs = tmp_path / "club"
    for i in range(48):
        rows = [batch(f"{m}{j}", 40, 20 + i % 9 + j, method=m) for m in "AB" for j in range(3)]
        write_log(logs / f"keeper {i:02}", batches=rows, trial={"usual": "A", "tested": "B"})
    shutil.copyfile(DEMO, logs / "demo.xlsx")
    (logs / "broken.xlsx").write_bytes(b"%PDF-1.4 not a workbook")
    before = os.times()
    begun = time.perf_counter()
    index, outcomes = report_many(logs, ["trial_report"], out_dir=tmp_path / "out")
    took = time.perf_counter() - begun
    spent = sum(os.times()[:4]) - sum(before[:4])
    assert [o.log for o in outcomes if o.page is None] == ["broken.xlsx"]
    assert len(list(index.parent.glob("*/trial_report.html"))) == 49
    print(f"49 reports in {took:.0f} s, {spent / took:.2f} cores")
    assert spent / took > 1.2
