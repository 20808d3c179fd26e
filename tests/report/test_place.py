from __future__ import annotations

import json
from pathlib import Path

import pytest

from rearkit.errors import RearkitError
from rearkit.report.place import earlier_results, pages_to_keep, put_in_place, workshop


def results(**changes: object) -> dict:
    return {
        "schema": 1,
        "rearkit": "0.1",
        "log": {"name": "a.xlsx", "sha256": "aa"},
        "settings": {"day": 28, "share": 0.1},
        "pages": {"survival": ["survival"]},
        "answers": {},
        **changes,
    }


def make_report(folder: Path, **files: str) -> None:
    for name, text in files.items():
        path = folder / name.replace("__", "/").replace("_", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)


def tree(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): path.read_text()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_a_finished_folder_goes_where_there_was_none(tmp_path: Path) -> None:
    target = tmp_path / "reports" / "log"
    with workshop(target) as part:
        make_report(part, a_html="new")
        put_in_place(part, target)
    assert tree(tmp_path) == {"reports/log/a.html": "new"}


def test_what_a_run_made_is_replaced_and_what_it_did_not_make_stays(tmp_path: Path) -> None:
    target = tmp_path / "log"
    earlier = json.dumps(results(pages={"survival": [], "growth": []}))
    package = json.dumps({"resources": [{"path": "daily.csv"}, {"path": "old.csv"}]})
    make_report(
        target,
        survival_html="old",
        growth_html="old",
        notes_txt="mine",
        other_html="mine",
        results_json=earlier,
        tidy__datapackage_json=package,
        tidy__daily_csv="old",
        tidy__old_csv="old",
        tidy__mine_csv="mine",
    )
    with workshop(target) as part:
        make_report(part, survival_html="new", results_json="{}", tidy__daily_csv="new")
        put_in_place(part, target)
    assert tree(tmp_path) == {
        "log/survival.html": "new",
        "log/results.json": "{}",
        "log/notes.txt": "mine",
        "log/other.html": "mine",
        "log/tidy/daily.csv": "new",
        "log/tidy/mine.csv": "mine",
    }


def test_nothing_is_left_behind_when_the_work_breaks_off(tmp_path: Path) -> None:
    target = tmp_path / "log"
    make_report(target, a_html="old")

    def break_off() -> None:
        with workshop(target) as part:
            make_report(part, a_html="half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt, match=r"^$"):
        break_off()
    assert tree(tmp_path) == {"log/a.html": "old"}
    assert [path.name for path in tmp_path.iterdir()] == ["log"]


def test_the_old_report_comes_back_if_the_new_one_cannot_be_moved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "log"
    make_report(target, a_html="old")
    rename = Path.rename

    def refuse(self: Path, to: Path) -> Path:
        if self.suffix == ".part":
            raise PermissionError(13, "Permission denied")
        return rename(self, to)

    monkeypatch.setattr(Path, "rename", refuse)
    with workshop(target) as part:
        make_report(part, a_html="new")
        with pytest.raises(RearkitError, match=r"cannot be written: permission denied \(.*log\)"):
            put_in_place(part, target)
    assert tree(tmp_path) == {"log/a.html": "old"}


def test_a_place_that_cannot_be_written_is_said_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with (
        pytest.raises(RearkitError, match=r"cannot be written: .*another place with --out"),
        workshop(tmp_path / "file" / "log"),
    ):
        pass


def test_a_report_can_be_read_by_others(tmp_path: Path) -> None:
    (tmp_path / "usual").mkdir()
    with workshop(tmp_path / "log") as part:
        put_in_place(part, tmp_path / "log")
    assert (tmp_path / "log").stat().st_mode == (tmp_path / "usual").stat().st_mode


@pytest.mark.parametrize("text", ["", "[]", "{", "\x00"])
def test_results_that_cannot_be_read_are_as_none(tmp_path: Path, text: str) -> None:
    (tmp_path / "results.json").write_text(text)
    assert earlier_results(tmp_path) == {}
    assert earlier_results(tmp_path / "nowhere") == {}


def test_pages_of_the_same_log_and_settings_are_kept() -> None:
    earlier = results(pages={"survival": ["survival"], "growth": ["growth"]})
    assert pages_to_keep(earlier, results()) == {"growth": ["growth"]}
    assert pages_to_keep(earlier, results(settings={"day": 28, "seed": 1})) == {
        "growth": ["growth"]
    }


@pytest.mark.parametrize(
    "now",
    [
        {"log": {"name": "a.xlsx", "sha256": "bb"}},
        {"settings": {"day": 14}},
        {"rearkit": "0.2"},
        {"schema": 2},
    ],
)
def test_pages_that_would_contradict_this_run_are_not_kept(now: dict) -> None:
    earlier = results(pages={"growth": []})
    assert pages_to_keep(earlier, results(**now)) == {}
    assert pages_to_keep({}, results()) == {}
    assert pages_to_keep({**earlier, "pages": 3}, results()) == {}
