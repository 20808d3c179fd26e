"""The notebooks are clean, simple, and say the same as the library whatever they are asked."""

from __future__ import annotations

import ast
import itertools
import json
from pathlib import Path

import pytest

from rearkit.report.parameters import TAG, parameters_index, read_parameters
from rearkit.report.settings import joint_settings

ROOT = Path(__file__).resolve().parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
LANGUAGE = {"name", "version", "mimetype", "file_extension", "pygments_lexer"}
LONGEST_CELL = 15


def load(path: Path) -> dict:
    notebook: dict = json.loads(path.read_text("utf-8"))
    return notebook


def source(cell: dict) -> str:
    return "".join(cell["source"])


each_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def test_there_are_notebooks() -> None:
    assert NOTEBOOKS


@each_notebook
def test_no_output_and_no_trace_of_a_run(path: Path) -> None:
    for cell in load(path)["cells"]:
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            assert cell["execution_count"] is None
        assert "execution" not in cell["metadata"]
        assert "papermill" not in cell["metadata"]


@each_notebook
def test_ids_are_there_unique_and_speaking(path: Path) -> None:
    ids = [cell["id"] for cell in load(path)["cells"]]
    assert len(set(ids)) == len(ids)
    assert all(word.replace("-", "").isalnum() and not word.isdigit() for word in ids)


@each_notebook
def test_it_opens_as_saved(path: Path) -> None:
    notebook = load(path)
    assert (notebook["nbformat"], notebook["nbformat_minor"]) >= (4, 5)
    assert notebook["metadata"]["kernelspec"] == {
        "display_name": "Python 3 (ipykernel)",
        "language": "python",
        "name": "python3",
    }
    assert notebook["metadata"]["language_info"].keys() >= LANGUAGE
    assert set(notebook["metadata"]) == {"kernelspec", "language_info"}


@each_notebook
def test_one_cell_of_settings_each_with_its_meaning(path: Path) -> None:
    notebook = load(path)
    read = read_parameters(notebook, name=path.stem)
    assert read[0].name == "log"
    assert all(parameter.comment for parameter in read)
    before = notebook["cells"][parameters_index(notebook, name=path.stem) - 1]
    assert before["cell_type"] == "markdown"


def test_a_setting_means_the_same_in_every_notebook() -> None:
    read = {path.stem: read_parameters(load(path), name=path.stem) for path in NOTEBOOKS}
    joint_settings({name: {p.name: p.default for p in listed} for name, listed in read.items()})
    meanings = {(p.name, p.kinds) for listed in read.values() for p in listed}
    assert len({name for name, _ in meanings}) == len(meanings)


@each_notebook
def test_cells_only_call_the_library(path: Path) -> None:
    for cell in load(path)["cells"]:
        if cell["cell_type"] != "code":
            continue
        tree = ast.parse(source(cell))
        refused = (ast.FunctionDef, ast.ClassDef, ast.Lambda, ast.While, ast.Try)
        assert not [node for node in ast.walk(tree) if isinstance(node, refused)]
        assert TAG in cell["metadata"].get("tags", ()) or (
            len(source(cell).splitlines()) <= LONGEST_CELL
        )


@each_notebook
def test_code_is_folded_but_for_the_settings(path: Path) -> None:
    for cell in load(path)["cells"]:
        if cell["cell_type"] == "code":
            hidden = cell["metadata"].get("jupyter", {}).get("source_hidden", False)
            assert hidden != (TAG in cell["metadata"].get("tags", ()))


@each_notebook
def test_it_begins_with_one_title_and_no_heading_is_skipped(path: Path) -> None:
    levels = [
        len(line) - len(line.lstrip("#"))
        for cell in load(path)["cells"]
        if cell["cell_type"] == "markdown"
        for line in source(cell).splitlines()
        if line.startswith("#")
    ]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
