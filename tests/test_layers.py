"""Imports go one way, and every heavy library has one door into the kit."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "rearkit"
MODULES = sorted(PACKAGE.rglob("*.py"))
LONGEST_MODULE = 350

LAYERS = {
    "errors": 0,
    "locate": 1,
    "logbook": 1,
    "stats": 1,
    "questions": 2,
    "report": 3,
    "terminal": 4,
    "cli": 5,
    "__main__": 6,
    "__init__": 6,
}
# An answer speaks and draws through the report layer, from inside its methods.
SPEAKS = {"questions/answer.py": {"rearkit.report.wording", "rearkit.report.figures"}}
DOORS = {
    "matplotlib": {"report/figures", "report/picture.py"},
    "seaborn": {"report/figures"},
    "papermill": {"report/run.py"},
    "nbclient": {"report/run.py"},
    "jupyter_client": {"report/kernel.py"},
    "nbconvert": {"report/page/render.py"},
    "lifelines": {"stats/lifetable.py"},
    "openpyxl": {"logbook/"},
    "odf": {"logbook/"},
    "PIL": {"report/picture.py"},
    "IPython": {"report/picture.py", "report/keep.py"},
}
QUESTIONS = {
    "effort",
    "growth",
    "interruption",
    "log_check",
    "methods",
    "moving",
    "next_trial",
    "place_use",
    "pooled",
    "survival",
}


class Import(NamedTuple):
    """One import that runs: what is imported, and whether only inside a function."""

    name: str
    lazy: bool


def place(module: Path) -> str:
    return module.relative_to(PACKAGE).as_posix()


def layer(name: str) -> str:
    return name.split("/")[0].removesuffix(".py")


def imports_of(module: Path) -> list[Import]:
    return list(walk(ast.parse(module.read_text("utf-8")), lazy=False))


def walk(node: ast.AST, *, lazy: bool) -> Iterator[Import]:
    """Yield the imports below a node, but for those that only a type checker sees."""
    if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
        children: list[ast.AST] = list(node.orelse)
    else:
        children = list(ast.iter_child_nodes(node))
    if isinstance(node, ast.Import):
        yield from (Import(alias.name, lazy) for alias in node.names)
    elif isinstance(node, ast.ImportFrom):
        assert node.level == 0, "an import names its module in full"
        yield Import(str(node.module), lazy)
        if node.module == "rearkit":
            yield from (Import(f"rearkit.{alias.name}", lazy) for alias in node.names)
    inside = lazy or isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    for child in children:
        yield from walk(child, lazy=inside)


def ours(module: Path) -> list[tuple[Import, str]]:
    """List the imports of our own modules, each with its place in the package."""
    own = [found for found in imports_of(module) if found.name.startswith("rearkit.")]
    return [(found, found.name.removeprefix("rearkit.").replace(".", "/")) for found in own]


each_module = pytest.mark.parametrize("module", MODULES, ids=place)


@each_module
def test_imports_go_one_way(module: Path) -> None:
    here = layer(place(module))
    for found, target in ours(module):
        there = layer(target)
        if there not in LAYERS:
            continue
        spoken = SPEAKS.get(place(module), set())
        if found.lazy and any(found.name.startswith(door) for door in spoken):
            continue
        same = here == there
        assert same or LAYERS[there] < LAYERS[here], f"{place(module)} imports {found.name}"


@each_module
def test_logs_and_statistics_know_nothing_of_each_other(module: Path) -> None:
    here = layer(place(module))
    other = {"stats": "logbook", "logbook": "stats"}.get(here)
    assert other not in {layer(target) for _, target in ours(module)}
    if here == "stats":
        assert not [found for found in imports_of(module) if found.name.split(".")[0] == "pandas"]


@each_module
def test_questions_do_not_import_each_other(module: Path) -> None:
    if layer(place(module)) != "questions":
        return
    imported = {
        target.split("/")[1] for _, target in ours(module) if target.startswith("questions/")
    }
    others = {name for name in QUESTIONS if not module.stem.startswith(name)}
    assert not imported & others


@each_module
def test_every_heavy_library_comes_in_by_its_own_door(module: Path) -> None:
    for found in imports_of(module):
        doors = DOORS.get(found.name.split(".")[0])
        if doors is not None:
            assert place(module).startswith(tuple(doors)), f"{place(module)} imports {found.name}"


@each_module
def test_nothing_is_evaluated_from_text(module: Path) -> None:
    called = {
        ast.unparse(node.func)
        for node in ast.walk(ast.parse(module.read_text("utf-8")))
        if isinstance(node, ast.Call)
    }
    forbidden = {"eval", "exec", "compile", "os.system", "os.popen", "pickle.load", "pickle.loads"}
    assert not called & forbidden
    assert not {name for name in called if name.endswith((".eval", ".query"))}


@each_module
def test_modules_stay_short(module: Path) -> None:
    assert len(module.read_text("utf-8").splitlines()) <= LONGEST_MODULE


def test_every_layer_is_there_and_every_module_is_in_one() -> None:
    assert {layer(place(module)) for module in MODULES} == set(LAYERS)
