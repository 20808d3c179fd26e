"""The notebooks are clean, simple, and say the same as the library whatever they are asked."""

from __future__ import annotations

import ast
import itertools
import json
import os
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from rearkit import (
    Logbook,
    check_log,
    compare_effort,
    compare_growth,
    compare_methods,
    compare_survival,
    cost_of_interruption,
    describe_trial,
    hide_names,
    read_log,
    use_of_place,
    when_to_move,
)
from rearkit.answers.answer import Answer
from rearkit.report.collect import ANSWER, gather, plain_json, results_text
from rearkit.report.parameters import TAG, Value, parameters_index, read_parameters
from rearkit.report.run import READING, run_notebooks
from rearkit.report.settings import joint_settings

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data_templates" / "demo_shade_trial.xlsx"
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


# Settings other than those a notebook starts from, and what the library itself says to both.
OTHER_SETTINGS: dict[str, dict[str, Value]] = {
    "growth": {
        "day": 21.0,
        "earlier_looks": 1,
        "length_mm": 9.0,
        "curve": "gompertz",
        "zero_growth_c": 15.0,
    },
    "interruption": {"event": 2, "window_days": 4.0, "before_days": 6.0},
    "log_check": {"approx_share": 0.25},
    "method_test": {"compare": "parents", "day": 21.0, "main_outcome": "length"},
    "moving": {"size_to_move_mm": 9.0, "most_fish_per_litre": 4.0, "free_litres": "20, 40"},
    "place_use": {"place": "open", "windows": "0-5, 5+", "day": 14.0},
    "survival": {"day": 14.0, "usual": "shaded", "tested": "open", "earlier_looks": 2},
    "trial_report": {"day": 14.0, "earlier_looks": 2, "anonymous": True},
}


def asked_of_the_library(name: str, log: Logbook, settings: dict[str, Value]) -> list[Answer]:
    """Ask the library what a notebook asks it."""
    if name == "log_check":
        return [check_log(log)]
    if name == "survival":
        asked = {key: value for key, value in settings.items() if key not in READING}
        return [check_log(log), compare_survival(log, **asked)]  # type: ignore[arg-type]
    if name == "growth":
        asked = {key: value for key, value in settings.items() if key not in READING}
        return [check_log(log), compare_growth(log, **asked)]  # type: ignore[arg-type]
    if name == "moving":
        asked = {key: value for key, value in settings.items() if key not in READING}
        return [check_log(log), when_to_move(log, **asked)]  # type: ignore[arg-type]
    if name == "place_use":
        asked = {key: settings[key] for key in ("place", "windows")}
        return [check_log(log), use_of_place(log, **asked)]  # type: ignore[arg-type]
    if name == "interruption":
        asked = {key: value for key, value in settings.items() if key not in READING}
        return [check_log(log), cost_of_interruption(log, **asked)]  # type: ignore[arg-type]
    if name == "method_test":
        asked = {key: value for key, value in settings.items() if key not in READING}
        hours = asked.pop("older_every_hours")
        main = asked.pop("main_outcome")
        return [
            check_log(log),
            compare_methods(log, main_outcome=main, **asked),  # type: ignore[arg-type]
            compare_effort(log, older_every_hours=hours, **asked),  # type: ignore[arg-type]
        ]
    if name == "trial_report":
        return asked_by_the_report(log, settings)
    raise LookupError(f"say in this test what the notebook {name} asks the library")


def asked_by_the_report(log: Logbook, settings: dict[str, Value]) -> list[Answer]:
    log = hide_names(log) if settings["anonymous"] else log
    methods = {key: settings[key] for key in ("compare", "usual", "tested")}
    judged: dict = methods | {key: settings[key] for key in ("day", "earlier_looks", "seed")}
    return [
        check_log(log),
        describe_trial(log, **methods),  # type: ignore[arg-type]
        compare_survival(log, **judged),
        compare_growth(log, **judged),
        compare_effort(log, **judged),
        cost_of_interruption(log),
    ]


def facts_of(answer: Answer) -> tuple[str, dict]:
    told = answer._repr_mimebundle_()[ANSWER]
    return told["name"], plain_json(told["facts"])


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, bool], dict]:
    """Run a notebook as the command does, on the demo log, once with each set of settings."""

    @cache
    def run(name: str, other: bool) -> dict:
        settings = OTHER_SETTINGS[name] if other else {}
        out = tmp_path_factory.mktemp(name)
        made = run_notebooks(DEMO, [name], settings=settings, out_dir=out)
        read: dict = json.loads(made.results.read_text("utf-8"))
        return read

    return run


@each_notebook
@pytest.mark.parametrize("other", [False, True], ids=["as it is", "other settings"])
def test_a_run_says_what_the_library_says(
    path: Path, other: bool, results: Callable[[str, bool], dict]
) -> None:
    ran = results(path.stem, other)
    settings = ran["settings"]
    if other:
        assert OTHER_SETTINGS[path.stem].items() <= settings.items()
    reading = {key: settings[key] for key in READING if key in settings}
    said = asked_of_the_library(path.stem, read_log(DEMO, **reading), settings)
    answers, pages = gather({path.stem: [facts_of(answer) for answer in said]})
    assert ran["answers"] == json.loads(results_text(answers))
    assert ran["pages"] == pages


@each_notebook
def test_other_settings_change_the_answers(
    path: Path, results: Callable[[str, bool], dict]
) -> None:
    assert results(path.stem, False)["answers"] != results(path.stem, True)["answers"]


def test_two_kits_of_settings_are_known_for_every_notebook() -> None:
    assert set(OTHER_SETTINGS) == {path.stem for path in NOTEBOOKS}


def test_they_run_where_they_lie_on_the_log_they_name() -> None:
    nbval = ["--nbval-lax", "--nbval-current-env", "--nbval-cell-timeout=120"]
    plain = ["-q", "-p", "no:cacheprovider", "-o", "addopts=", "-o", "filterwarnings=default"]
    outer = ("PYTEST_", "COV_")
    bare = {key: value for key, value in os.environ.items() if not key.startswith(outer)}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *nbval, *plain, "notebooks"],
        cwd=ROOT,
        env=bare,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
