from __future__ import annotations

from pathlib import Path

import pytest

from rearkit import locate
from rearkit.errors import RearkitError


def test_in_a_checkout_the_folders_beside_the_package_are_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(locate, "PACKAGE", tmp_path / "rearkit")
    for folder in ("notebooks", "rearkit/shipped/notebooks"):
        (tmp_path / folder).mkdir(parents=True)
    assert locate.folder_of("notebooks") == tmp_path / "rearkit" / "shipped" / "notebooks"
    (tmp_path / "pyproject.toml").write_text("")
    assert locate.folder_of("notebooks") == tmp_path / "notebooks"


def test_a_folder_that_did_not_come_along_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(locate, "PACKAGE", tmp_path / "rearkit")
    with pytest.raises(RearkitError, match="the folder data_templates did not come with"):
        locate.folder_of("data_templates")


def test_notebooks_are_found_by_name_in_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(locate, "PACKAGE", tmp_path / "rearkit")
    folder = tmp_path / "rearkit" / "shipped" / "notebooks"
    folder.mkdir(parents=True)
    for name in ("survival.ipynb", "growth.ipynb", "notes.txt"):
        (folder / name).write_text("")
    assert locate.notebook_paths() == {
        "growth": folder / "growth.ipynb",
        "survival": folder / "survival.ipynb",
    }


def test_templates_are_logs_and_their_dictionary_and_no_scripts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(locate, "PACKAGE", tmp_path / "rearkit")
    folder = tmp_path / "rearkit" / "shipped" / "data_templates"
    for name in ("demo/Daily.csv", "making/make.py", "blank.xlsx", "columns.md", "make.py"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("")
    names = [path.name for path in locate.template_paths()]
    assert names == ["blank.xlsx", "columns.md", "demo"]
