from __future__ import annotations

import json
import os
import re
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from rearkit.errors import LogStopped, RearkitError, RunFailed, SettingError
from rearkit.report.run import execute, run_notebooks
from rearkit.report.watch import Progress, Switch

WriteNotebook = Callable[..., Path]
TABLE = "import pandas as pd\npd.DataFrame({'batch': ['<b>1</b>', 'b'], 'n': [30, 31]})"


def html_of(page: Path) -> str:
    return page.read_text("utf-8")


def without_stamp(text: str) -> str:
    return re.sub(r'<p class="stamp">.*?</p>', "", text)


def tree(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*.*")}


def run_one(path: Path, log: SimpleNamespace, out: Path, **asked: object) -> run_notebooks:  # type: ignore[valid-type]
    return run_notebooks(log.path, [str(path)], out_dir=out, **asked)  # type: ignore[arg-type]


@pytest.fixture
def good(write_notebook: WriteNotebook, answer_cell: str, picture_cell: str) -> Path:
    seen = "from pathlib import Path\nprint(Path(log).name, Path(log).is_absolute(), day, share)"
    cells = ["# Tiny question", "## Seen", seen, "## Table", TABLE, answer_cell, picture_cell]
    return write_notebook("tiny", cells)


def test_a_report_holds_page_results_and_tables(
    good: Path, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    result = run_notebooks(reads_tiny_log.path, [str(good)], settings={"day": "28"}, out_dir=out)
    assert result.folder == out / "club 7"
    assert result.pages == (out / "club 7" / "tiny.html",)
    assert set(tree(result.folder)) == {
        "tiny.html",
        "results.json",
        *(path.relative_to(result.folder).as_posix() for path in result.tidy),
    }
    assert json.loads(result.results.read_text("utf-8")) == {
        "schema": 1,
        "rearkit": __import__("rearkit").__version__,
        "log": {"name": "club 7.xlsx", "sha256": "ab" * 32},
        "settings": {"day": 28, "share": 0.1},
        "pages": {"tiny": ["tiny"]},
        "answers": {"tiny": {"day": 28, "third": 1 / 3}},
    }
    assert result.answers == {"tiny": {"day": 28, "third": 1 / 3}}

    html = html_of(result.pages[0])
    assert '<pre class="printed">club 7.xlsx True 28 0.1\n</pre>' in html
    assert "<td>&lt;b&gt;1&lt;/b&gt;</td>" in html
    assert html.count("<table") == 1
    assert html.count("<figure>") == 1
    assert "Five more of 20" in html
    assert str(tmp_path) not in html
    assert [path.name for path in out.iterdir()] == ["club 7"]


def test_the_same_log_and_settings_give_the_same_bytes_but_for_the_stamp(
    good: Path, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    first = run_notebooks(reads_tiny_log.path, [str(good)], out_dir=tmp_path / "one")
    second = run_notebooks(reads_tiny_log.path, [str(good)], out_dir=tmp_path / "two")
    ours, theirs = tree(first.folder), tree(second.folder)
    assert ours.keys() == theirs.keys()
    for name in ours.keys() - {"tiny.html"}:
        assert ours[name] == theirs[name]
    assert without_stamp(html_of(first.pages[0])) == without_stamp(html_of(second.pages[0]))
    assert html_of(first.pages[0]).count('class="stamp"') == 1


def test_several_notebooks_share_nothing_and_say_how_far_they_are(
    write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path, answer_cell: str
) -> None:
    names = ["one", "two", "three"]
    paths = [
        write_notebook(name, ["assert 'left' not in globals()\nleft = 1", answer_cell])
        for name in names
    ]
    steps: list[Progress] = []
    result = run_notebooks(
        reads_tiny_log.path, [str(p) for p in paths], out_dir=tmp_path / "o", progress=steps.append
    )
    assert [page.name for page in result.pages] == ["one.html", "two.html", "three.html"]
    for name in names:
        mine = [(step.done, step.total) for step in steps if step.notebook == name]
        assert mine[0] == (0, 3)
        assert mine[-1] == (3, 3)
        assert mine == sorted(mine)


def test_settings_for_reading_the_log_reach_the_reader(
    write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    settings = 'log: str = "a"\napprox_share: float = 0.1\ndate_order: str | None = None'
    path = write_notebook("tiny", ["1"], settings=settings)
    run_notebooks(
        reads_tiny_log.path, [str(path)], settings={"approx_share": "0.2"}, out_dir=tmp_path / "o"
    )
    assert reads_tiny_log.asked == [{"approx_share": 0.2, "date_order": None}]


def test_pages_of_an_earlier_run_stay_while_they_agree(
    write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path, answer_cell: str
) -> None:
    one, two = write_notebook("one", [answer_cell]), write_notebook("two", ["1"])
    out = tmp_path / "out"
    run_one(one, reads_tiny_log, out)
    again = run_one(two, reads_tiny_log, out)
    assert {path.name for path in again.folder.glob("*.html")} == {"one.html", "two.html"}
    kept = json.loads(again.results.read_text("utf-8"))
    assert kept["pages"] == {"one": ["tiny"], "two": []}
    assert kept["answers"]["tiny"]["day"] is None

    reads_tiny_log.sha256 = "cd" * 32
    changed = run_one(two, reads_tiny_log, out)
    assert [path.name for path in changed.folder.glob("*.html")] == ["two.html"]
    assert json.loads(changed.results.read_text("utf-8"))["answers"] == {}


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("raise ValueError('no\\nfish')", "a cell stopped: ValueError: no fish"),
        ("import sys\nsys.exit(0)", "a cell stopped: SystemExit: 0"),
        ("import os\nos._exit(0)", "the Python that ran it was ended from outside"),
        ("import os, signal\nos.kill(os.getpid(), signal.SIGKILL)", "the Python that ran it was"),
        ("from rearkit.errors import FitError\nraise FitError('x')", "a cell stopped: FitError: x"),
    ],
)
def test_a_failed_run_says_where_keeps_the_traceback_and_the_old_report(
    cell: str,
    said: str,
    write_notebook: WriteNotebook,
    reads_tiny_log: SimpleNamespace,
    tmp_path: Path,
) -> None:
    out = tmp_path / "out"
    old = run_one(write_notebook("tiny", ["1"]), reads_tiny_log, out)
    before = tree(old.folder)
    bad = write_notebook("tiny", ["# T", "1", "## How *many* lived", cell, "2"])
    with pytest.raises(RunFailed, match=re.escape(said)) as caught:
        run_one(bad, reads_tiny_log, out)
    assert caught.value.where == "notebook tiny, under “How many lived”"
    assert "the earlier one is as it was" in caught.value.todo
    assert tree(old.folder) == before
    account = (out / "club 7.error.txt").read_text("utf-8")
    assert "How many lived" in account
    assert len(account.splitlines()) > 2
    assert {path.name for path in out.iterdir()} == {"club 7", "club 7.error.txt"}

    run_one(write_notebook("tiny", ["1"]), reads_tiny_log, out)
    assert [path.name for path in out.iterdir()] == ["club 7"]


def test_a_failed_first_run_writes_no_report(
    write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    bad = write_notebook("tiny", ["1 / 0"])
    with pytest.raises(RunFailed, match=r"ZeroDivisionError.*No report was written"):
        run_one(bad, reads_tiny_log, tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["club 7.error.txt"]


def test_an_error_that_was_allowed_for_counts_all_the_same(
    write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    path = write_notebook("tiny", ["1 / 0"])
    notebook = json.loads(path.read_text("utf-8"))
    notebook["cells"][1]["metadata"]["tags"] = ["raises-exception"]
    path.write_text(json.dumps(notebook), "utf-8")
    with pytest.raises(RunFailed, match="ZeroDivisionError"):
        run_one(path, reads_tiny_log, tmp_path / "out")


def test_a_notebook_that_cannot_even_start_is_a_failed_run(
    write_notebook: WriteNotebook,
    reads_tiny_log: SimpleNamespace,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(*args: object, **kwargs: object) -> None:
        raise OSError("no sockets left")

    monkeypatch.setattr("papermill.execute.execute_notebook", refuse)
    with pytest.raises(RunFailed, match="it could not be run: OSError: no sockets left"):
        run_one(write_notebook("tiny", ["1"]), reads_tiny_log, tmp_path / "out")


def test_a_notebook_that_does_not_name_its_language_runs_too(
    write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    path = write_notebook("tiny", ["print('ran')"])
    notebook = json.loads(path.read_text("utf-8"))
    notebook["metadata"] = {}
    path.write_text(json.dumps(notebook), "utf-8")
    result = run_one(path, reads_tiny_log, tmp_path / "out")
    assert "ran" in html_of(result.pages[0])


@pytest.mark.parametrize("kind", ["SettingError", "DesignError", "LogStopped", "LogUnreadable"])
def test_what_a_notebook_says_to_the_keeper_is_passed_on_as_it_is(
    kind: str, write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    raises = f"from rearkit.errors import {kind}\nraise {kind}('no such method', where='day')"
    bad = write_notebook("tiny", [raises])
    with pytest.raises(RearkitError, match=r"^no such method \(day\)\.$") as caught:
        run_one(bad, reads_tiny_log, tmp_path / "out")
    assert type(caught.value).__name__ == kind
    assert not (tmp_path / "out").exists()


def test_when_one_notebook_fails_the_others_are_ended(
    write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    paths = [
        write_notebook("slow", ["import time\ntime.sleep(120)"]),
        write_notebook("bad", ["1 / 0"]),
        write_notebook("later", ["1"]),
    ]
    began = time.monotonic()
    with pytest.raises(RunFailed, match="notebook bad"):
        run_notebooks(reads_tiny_log.path, [str(p) for p in paths], out_dir=tmp_path / "out")
    assert time.monotonic() - began < 60


def test_a_run_that_is_broken_off_ends_its_kernel(
    write_notebook: WriteNotebook, tmp_path: Path
) -> None:
    path = write_notebook("slow", ["import time\ntime.sleep(120)"])
    switch = Switch()
    timer = threading.Timer(4.0, switch.stop)
    timer.start()
    began = time.monotonic()
    with pytest.raises(RunFailed, match="ended from outside"):
        execute(
            path, name="slow", log_path=tmp_path, settings={}, tell=lambda step: None, switch=switch
        )
    timer.cancel()
    assert time.monotonic() - began < 60
    assert switch.kernels == set()


def test_a_cell_has_a_time_limit(write_notebook: WriteNotebook, tmp_path: Path) -> None:
    path = write_notebook("slow", ["# T", "import time\ntime.sleep(120)"])
    with pytest.raises(RunFailed, match=r"took more than 1 seconds \(notebook slow, under “T”\)"):
        execute(
            path,
            name="slow",
            log_path=tmp_path,
            settings={},
            tell=lambda step: None,
            switch=Switch(),
            seconds=1,
        )


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        (
            "import matplotlib.pyplot as plt\nplt.plot([1])\nplt.show()",
            "a picture without a description",
        ),
        ("from IPython.display import Javascript\nJavascript('1')", "a script"),
        (
            "from IPython.display import HTML\nHTML('<img src=\"https://x.example/a.png\">')",
            "a picture has no description",
        ),
    ],
)
def test_an_output_that_a_page_cannot_hold_stops_the_run(
    cell: str,
    said: str,
    write_notebook: WriteNotebook,
    reads_tiny_log: SimpleNamespace,
    tmp_path: Path,
) -> None:
    with pytest.raises(RunFailed, match=rf"{said}.*notebook tiny"):
        run_one(write_notebook("tiny", [cell]), reads_tiny_log, tmp_path / "out")


def test_nothing_runs_when_a_setting_is_wrong(
    good: Path, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    with pytest.raises(SettingError, match="Did you mean day"):
        run_one(good, reads_tiny_log, tmp_path / "out", settings={"dya": "28"})
    assert reads_tiny_log.asked == []
    assert not (tmp_path / "out").exists()


def test_nothing_runs_when_the_log_is_stopped(
    good: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def read_log(path: Path, **reading: object) -> None:
        raise LogStopped("no dates", findings=[])

    monkeypatch.setattr("rearkit.logbook.logbook.read_log", read_log)
    with pytest.raises(LogStopped, match="no dates"):
        run_notebooks(tmp_path / "a.xlsx", [str(good)], out_dir=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_the_readers_own_start_up_scripts_are_not_run(
    write_notebook: WriteNotebook,
    reads_tiny_log: SimpleNamespace,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    startup = tmp_path / "ipython" / "profile_default" / "startup"
    startup.mkdir(parents=True)
    (startup / "00.py").write_text("trespass = 1")
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    check = "import os, sys\nassert 'trespass' not in globals()\nprint(sys.executable)"
    where = "assert not os.listdir('.'), os.listdir('.')"
    run_one(write_notebook("tiny", [f"{check}\n{where}"]), reads_tiny_log, tmp_path / "out")
    assert os.environ["IPYTHONDIR"] == str(tmp_path / "ipython")


def test_braces_and_quotes_in_a_path_do_no_harm(
    write_notebook: WriteNotebook, reads_tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    odd = tmp_path / "a {b} 'c' \"d\" é.xlsx"
    odd.write_bytes(b"log")
    reads_tiny_log.path = odd
    path = write_notebook("tiny", ["print(open(log).read())"])
    result = run_one(path, reads_tiny_log, tmp_path / "out {x}")
    assert '<pre class="printed">log\n</pre>' in html_of(result.pages[0])
