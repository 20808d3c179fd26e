from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest

from rearkit import cli
from rearkit.errors import LogStopped, LogUnreadable, RearkitError, RunFailed
from rearkit.logbook.doubts.findings import Finding, findings_frame
from rearkit.report.run import RunResult
from tests.logs import batch, day, write_log

ROOT = Path(__file__).resolve().parents[1]
ROWS = pd.DataFrame(
    {"n_read": [3], "n_used": [3], "n_repaired": [0], "n_waiting": [0], "n_unusable": [0]}
)


def finding(severity: str, scope: str = "", seen: str = "seen") -> Finding:
    return Finding(
        severity=severity,  # type: ignore[arg-type]
        scope=scope,  # type: ignore[arg-type]
        code="x",
        seen=seen,
        done="left out",
        settle="look again",
    )


@pytest.fixture
def read_with(monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Stand in for the reader of logs; what it finds can be set."""
    stub = SimpleNamespace(findings=[], error=None, asked=[])

    def read_log(path: str, **reading: object) -> SimpleNamespace:
        stub.asked.append((path, reading))
        if stub.error is not None:
            raise stub.error
        return SimpleNamespace(findings=findings_frame(stub.findings), rows=ROWS)

    monkeypatch.setattr("rearkit.logbook.logbook.read_log", read_log)
    monkeypatch.setattr(
        "rearkit.answers.log_check.answer.check_log",
        lambda log: SimpleNamespace(findings=log.findings, exit_code=0),
    )
    return stub


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> SimpleNamespace:
    """Stand in for the runner; what it raises can be set."""
    stub = SimpleNamespace(asked=[], error=None)

    def run_notebooks(log: str, names: list[str], **asked: object) -> RunResult:
        asked.pop("progress")
        stub.asked.append((log, names, asked))
        if stub.error is not None:
            raise stub.error
        folder = tmp_path / "a"
        return RunResult(
            folder=folder,
            pages=(folder / "survival.html",),
            results=folder / "results.json",
            tidy=(),
            answers={},
        )

    monkeypatch.setattr("rearkit.report.run.run_notebooks", run_notebooks)
    known = {name: Path(f"{name}.ipynb") for name in ("growth", "survival")}
    monkeypatch.setattr(cli, "notebook_paths", lambda: known)
    stub.known = known
    return stub


CLEAN = batch("A", 40, 30, hatched=day(0))
DEAD = {"date": day(3), "batch": "A", "dead": 2}


@pytest.mark.parametrize(
    ("batches", "daily", "status"),
    [
        ([CLEAN], [DEAD], 0),
        ([CLEAN | {"start_count": "38-42"}], [DEAD], 0),
        ([CLEAN], [DEAD | {"dead": "2 dead?"}], 1),
        ([CLEAN], [DEAD, DEAD | {"date": "2052-04-05"}], 1),
        ([CLEAN, batch("B", 10, 30, hatched=day(0))], [DEAD], 1),
    ],
    ids=["clean", "a range", "a question", "a row left out", "a batch left out"],
)
def test_check_tells_by_its_status_whether_something_is_to_be_settled(
    batches: list[dict],
    daily: list[dict],
    status: int,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder = write_log(tmp_path / "log", batches=batches, daily=daily)
    assert cli.main(["check", str(folder)]) == status
    out = capsys.readouterr().out.splitlines()
    assert out[-1].startswith(f"Rows: {len(batches) + len(daily)} read")


def test_check_lists_what_stops_a_log(
    read_with: SimpleNamespace, capsys: pytest.CaptureFixture[str]
) -> None:
    read_with.error = LogStopped(
        "no order of dates", findings=[finding("STOP", "log", "03/04/2025"), finding("ASK")]
    )
    assert cli.main(["check", "a.xlsx"]) == 2
    printed = capsys.readouterr()
    assert "03/04/2025" in printed.out
    assert "ASK  Please settle (1)" in printed.out
    assert printed.err == "rearkit: no order of dates.\n"


def test_check_hands_on_how_to_read(read_with: SimpleNamespace) -> None:
    cli.main(["check", "a.xlsx", "--set", "date_order=day first", "--set", "approx_share=0.2"])
    assert read_with.asked == [("a.xlsx", {"approx_share": 0.2, "date_order": "day first"})]


def test_a_file_that_is_no_log_gives_one_plain_message(
    read_with: SimpleNamespace, capsys: pytest.CaptureFixture[str]
) -> None:
    read_with.error = LogUnreadable("not a spreadsheet", where="a\x1b[31m.xlsx", todo="Save again.")
    assert cli.main(["check", "a.xlsx"]) == 2
    assert capsys.readouterr().err == "rearkit: not a spreadsheet (a\\x1b[31m.xlsx). Save again.\n"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("dat_order=x", "Did you mean date_order?"),
        ("approx_share=a lot", "It takes a number"),
        ("date_order", "Write it as in --set day=28"),
        ("=3", "Write it as in --set day=28"),
    ],
)
def test_a_wrong_setting_is_status_2(
    typed: str, said: str, read_with: SimpleNamespace, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["check", "a.xlsx", "--set", typed]) == 2
    assert said in capsys.readouterr().err
    assert read_with.asked == []


def test_a_setting_given_twice_is_refused(
    read_with: SimpleNamespace, capsys: pytest.CaptureFixture[str]
) -> None:
    twice = ["--set", "date_order=day first", "--set", "date_order=month first"]
    assert cli.main(["check", "a.xlsx", *twice]) == 2
    assert "the setting date_order is given twice" in capsys.readouterr().err


def test_report_runs_survival_until_there_is_a_trial_report(ran: SimpleNamespace) -> None:
    assert cli.main(["report", "a.xlsx"]) == 0
    ran.known["trial_report"] = Path("trial_report.ipynb")
    assert cli.main(["report", "a.xlsx"]) == 0
    assert [names for _, names, _ in ran.asked] == [["survival"], ["trial_report"]]


def test_report_hands_on_what_was_typed_and_says_where_the_files_are(
    ran: SimpleNamespace, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = ["--notebook", "growth", "--notebook", "survival", "--notebook", "growth"]
    typed += ["--set", "day=28", "--out", "d"]
    assert cli.main(["report", "a.xlsx", *typed, "--set", "tested=a=b"]) == 0
    settings = {"day": "28", "tested": "a=b"}
    asked = ("a.xlsx", ["growth", "survival"], {"settings": settings, "out_dir": "d"})
    assert ran.asked == [asked]
    assert capsys.readouterr().out.splitlines() == [
        str(tmp_path / "a" / "survival.html"),
        f"Numbers: {tmp_path / 'a' / 'results.json'}",
        f"Tables:  {tmp_path / 'a' / 'tidy'}",
    ]


def test_report_all_runs_every_notebook(ran: SimpleNamespace) -> None:
    cli.main(["report", "a.xlsx", "--all"])
    assert ran.asked[0][1] == ["growth", "survival"]


def test_report_opens_the_first_page_when_asked(
    ran: SimpleNamespace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    cli.main(["report", "a.xlsx", "--open"])
    assert opened == [(tmp_path / "a" / "survival.html").as_uri()]


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (RunFailed("a cell stopped", where="notebook survival"), 1, "a cell stopped (notebook"),
        (LogStopped("no dates", findings=[finding("STOP", "log")]), 2, "rearkit check"),
        (RearkitError("no room"), 2, "rearkit: no room."),
        (KeyboardInterrupt(), 130, "Broken off. Nothing was changed."),
    ],
)
def test_report_never_shows_a_traceback(
    error: BaseException,
    status: int,
    said: str,
    ran: SimpleNamespace,
    capsys: pytest.CaptureFixture[str],
) -> None:
    ran.error = error
    assert cli.main(["report", "a.xlsx"]) == status
    printed = capsys.readouterr()
    assert printed.out == ""
    assert said in printed.err
    assert "Traceback" not in printed.err


def test_a_mistake_of_the_kit_itself_is_kept_in_a_file(
    ran: SimpleNamespace, capsys: pytest.CaptureFixture[str]
) -> None:
    ran.error = KeyError("batch")
    assert cli.main(["report", "a.xlsx"]) == 1
    said = capsys.readouterr().err
    assert "a mistake in rearkit itself, not in your log: KeyError('batch')" in said
    account = Path(said.rpartition(": ")[2].strip())
    assert "Traceback" in account.read_text("utf-8")
    account.unlink()


def test_new_writes_a_blank_log_and_never_over_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.xlsx"
    assert cli.main(["new", str(path)]) == 0
    written = path.read_bytes()
    assert written.startswith(b"PK")
    assert cli.main(["new", str(path)]) == 2
    assert path.read_bytes() == written
    assert "log.xlsx is there already" in capsys.readouterr().err


def test_new_wants_an_excel_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["new", str(tmp_path / "log.csv")]) == 2
    assert "Give a name that ends in .xlsx" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_notebooks_are_copied_with_the_logs_they_start_from_and_never_over_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    kit = tmp_path / "kit"
    (kit / "demo").mkdir(parents=True)
    known = {name: kit / f"{name}.ipynb" for name in ("growth", "survival")}
    for name, path in known.items():
        path.write_text(name)
    (kit / "demo" / "Daily.csv").write_text("a log")
    monkeypatch.setattr(cli, "notebook_paths", lambda: known)
    monkeypatch.setattr(cli, "template_paths", lambda: [kit / "demo"])

    mine = tmp_path / "my" / "copy"
    assert cli.main(["notebooks", str(mine)]) == 0
    copied = {p.relative_to(mine).as_posix(): p.read_text() for p in mine.rglob("*") if p.is_file()}
    assert copied == {
        "notebooks/growth.ipynb": "growth",
        "notebooks/survival.ipynb": "survival",
        "data_templates/demo/Daily.csv": "a log",
    }
    (mine / "notebooks" / "growth.ipynb").unlink()
    (mine / "notebooks" / "survival.ipynb").write_text("mine")
    assert cli.main(["notebooks", str(mine)]) == 2
    assert [p.read_text() for p in (mine / "notebooks").iterdir()] == ["mine"]
    assert "survival.ipynb is there already" in capsys.readouterr().err


@pytest.mark.parametrize("typed", [[], ["reprot"], ["report"], ["check", "a", "b"]])
def test_a_command_that_cannot_be_read_is_status_2(
    typed: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit, match="2"):
        cli.main(typed)
    assert "usage: rearkit" in capsys.readouterr().err


def rearkit(*typed: str, **how: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "rearkit", *typed]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, **how)  # type: ignore[call-overload, no-any-return]


def test_help_names_every_command() -> None:
    shown = rearkit("--help")
    assert shown.returncode == 0
    for command in ("report", "check", "new", "notebooks"):
        assert re.search(rf"^    {command}\s", shown.stdout, re.MULTILINE)


def test_help_is_quick_because_nothing_heavy_is_loaded() -> None:
    code = (
        "import sys; from rearkit.cli import _parser; _parser(); "
        "print([m for m in ('matplotlib', 'papermill', 'nbconvert', 'nbformat', 'seaborn', "
        "'lifelines', 'scipy.stats', 'statsmodels') if m in sys.modules])"
    )
    command = [sys.executable, "-c", code]
    shown = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"


def test_a_missing_log_is_said_in_one_line(tmp_path: Path) -> None:
    shown = rearkit("report", str(tmp_path / "none.xlsx"), "--out", str(tmp_path / "out"))
    assert shown.returncode == 2
    assert shown.stderr.startswith("rearkit: ")
    assert len(shown.stderr.splitlines()) == 1
    assert not (tmp_path / "out").exists()


def test_a_name_that_the_terminal_cannot_show_is_no_error(tmp_path: Path) -> None:
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    shown = rearkit("check", str(tmp_path / "é鱼.xlsx"), env=environment)
    assert shown.returncode == 2
    assert "Traceback" not in shown.stderr


@pytest.mark.skipif(os.name == "nt", reason="sends a signal as a terminal does")
def test_breaking_off_leaves_no_kernel_and_no_files(tmp_path: Path) -> None:
    from nbformat.v4 import new_code_cell, new_notebook, writes

    settings = new_code_cell('log: str = "a"', metadata={"tags": ["parameters"]})
    mark = tmp_path / "began"
    body = f"import os, time\nopen({str(mark)!r}, 'w').write(str(os.getpid()))\ntime.sleep(120)"
    notebook = tmp_path / "slow.ipynb"
    notebook.write_text(writes(new_notebook(cells=[settings, new_code_cell(body)])), "utf-8")
    demo = next((ROOT / "data_templates").glob("demo_*.xlsx"))
    typed = ["report", str(demo), "--notebook", str(notebook), "--out", str(tmp_path / "out")]
    with subprocess.Popen(
        [sys.executable, "-m", "rearkit", *typed], cwd=ROOT, stderr=subprocess.PIPE, text=True
    ) as running:
        wait_until(lambda: mark.is_file() and mark.read_text().isdigit())
        running.send_signal(signal.SIGINT)
        said = running.communicate(timeout=60)[1]
    assert running.returncode == 130
    assert "Broken off. Nothing was changed." in said
    assert "Traceback" not in said
    wait_until(lambda: not alive(int(mark.read_text())))
    assert not (tmp_path / "out").exists() or list((tmp_path / "out").iterdir()) == []


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def wait_until(true, seconds: float = 60.0) -> None:  # type: ignore[no-untyped-def]
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.1)
