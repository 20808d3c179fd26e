"""Imports go one way, without a circle, and every heavy library has its own doors into the kit."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "rearkit"
MODULES = sorted(PACKAGE.rglob("*.py"))
LONGEST_MODULE = 600

LAYERS = {
    "errors": 0,
    "locate": 1,
    "logbook": 1,
    "stats": 1,
    "batch": 2,
    "design": 3,
    "words": 4,
    "pictures": 5,
    "answers": 6,
    "report": 7,
    "terminal": 8,
    "cli": 9,
    "__main__": 10,
    "__init__": 10,
}
# The rooms of the logbook, lowest first: a room may use those before it.
LOGBOOK = ("schema", "files", "parse", "doubts", "read", "account", "blank")
DOORS = {
    "matplotlib": {"pictures/", "answers/"},
    "seaborn": {"pictures/", "answers/"},
    "papermill": {"report/run.py"},
    "nbclient": {"report/run.py"},
    "jupyter_client": {"report/kernel.py"},
    "nbconvert": {"report/page/"},
    "lifelines": {"stats/"},
    "statsmodels": {"stats/"},
    "openpyxl": {"logbook/blank/"},
    "xlrd": {"logbook/files/"},
    "PIL": {"pictures/picture.py"},
    "IPython": {"pictures/picture.py", "report/"},
}
MOST_SINGLE = 25
SINGLE = {  # modules outside answers/ that one other imports: each a subject of its own
    "batch.containers": "one container, where lines are the sum of several",
    "cli": "the commands; only the interpreter's -m reaches it",
    "logbook.account.account": "the account of a log, from which a Logbook is made",
    "logbook.account.reconcile_counts": "what is to be asked about counts, apart from adding up",
    "logbook.anonymous": "a log without names; the public names load it, too",
    "logbook.blank.workbook": "writes the blank log; a script calls it, too",
    "logbook.files.cells": "the one door to all kinds of files",
    "logbook.files.csv_folder": "one kind of file",
    "logbook.files.ods": "one kind of file",
    "logbook.files.xls": "one kind of file",
    "logbook.files.xlsx": "one kind of file",
    "logbook.read.measurements": "what measured values can be, whatever the sheet",
    "logbook.read.reader": "the order in which a log is read",
    "logbook.read.trial": "one sheet",
    "logbook.read.visit_sheets": "the sheets that tell of visits",
    "logbook.schema.batches": "the columns of one sheet",
    "report.many": "a folder of logs",
    "report.page.compose": "what may stand on a page",
    "report.page.render": "the only door to nbconvert",
    "report.tidy": "the tidy tables",
    "stats.compare.arrangements": "how relabellings are counted",
    "stats.growth.curve_choice": "which curve, apart from how one is fitted",
    "stats.growth.least_squares": "a solver that knows nothing of curves",
    "stats.survival.turnbull": "interval-censored curves",
    "terminal": "what is printed; the commands alone print",
}


def place(module: Path) -> str:
    return module.relative_to(PACKAGE).as_posix()


def dotted(module: Path) -> str:
    return ".".join(("rearkit", *module.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(
        ".__init__"
    )


NAMES = {dotted(module): module for module in MODULES}


def imported(tree: ast.AST) -> Iterator[str]:
    """Yield what is imported, in a function or not, but for what only a type checker sees."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            for other in node.orelse:
                yield from imported(other)
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "an import names its module in full"
            inside = {f"{node.module}.{alias.name}" for alias in node.names} & NAMES.keys()
            yield from inside or {str(node.module)}
        yield from imported(node)


def arrows_of(source: str) -> set[str]:
    """Return everything that a module's text imports."""
    return set(imported(ast.parse(source)))


ARROWS = {name: arrows_of(path.read_text("utf-8")) for name, path in NAMES.items()}


def circles(arrows: Mapping[str, set[str]]) -> list[set[str]]:
    """Return every set of modules each of which can be reached from all others (Tarjan 1972)."""
    number: dict[str, int] = {}
    lowest: dict[str, int] = {}
    stack: list[str] = []
    found: list[set[str]] = []

    def visit(name: str) -> None:
        number[name] = lowest[name] = len(number)
        stack.append(name)
        for other in arrows[name] & arrows.keys():
            if other not in number:
                visit(other)
                lowest[name] = min(lowest[name], lowest[other])
            elif other in stack:
                lowest[name] = min(lowest[name], number[other])
        if lowest[name] == number[name]:
            ring: set[str] = set()
            while name not in ring:
                ring.add(stack.pop())
            if len(ring) > 1:
                found.append(ring)

    for name in arrows:
        if name not in number:
            visit(name)
    return found


def layer(name: str) -> str:
    parts = name.split(".")
    return parts[1] if len(parts) > 1 else "__init__"


each_module = pytest.mark.parametrize("name", NAMES)


def test_there_is_no_circle() -> None:
    assert circles(ARROWS) == []


def test_a_circle_would_be_found() -> None:
    ring = dict(ARROWS)
    ring["rearkit.errors"] = arrows_of("def f():\n    from rearkit.answers.survival import answer")
    assert [sorted(c)[-1] for c in circles(ring)] == ["rearkit.words.comparisons"]
    assert "rearkit.answers.survival.answer" in circles(ring)[0]


def upward(arrows: Mapping[str, set[str]]) -> list[str]:
    """List the imports that go from a layer to one above it."""
    ours = ((name, other) for name, others in arrows.items() for other in others & NAMES.keys())
    return [
        f"{name} imports {other}"
        for name, other in ours
        if LAYERS[layer(name)] < LAYERS[layer(other)]
    ]


def test_imports_go_one_way() -> None:
    assert upward(ARROWS) == []


def test_an_arrow_upwards_would_be_found() -> None:
    arrow = {"rearkit.design.claims": arrows_of("from rearkit.words.numbers import about")}
    assert upward(ARROWS | arrow) == ["rearkit.design.claims imports rearkit.words.numbers"]


@each_module
def test_logs_and_statistics_know_nothing_of_each_other(name: str) -> None:
    other = {"stats": "logbook", "logbook": "stats"}.get(layer(name))
    assert other not in {layer(target) for target in ARROWS[name] & NAMES.keys()}
    if layer(name) == "stats":
        assert not {target for target in ARROWS[name] if target.split(".")[0] == "pandas"}


@each_module
def test_questions_do_not_import_each_other(name: str) -> None:
    folders = {target.split(".")[2] for target in ARROWS[name] if inside_a_question(target)}
    if inside_a_question(name):
        assert folders <= {name.split(".")[2]}
    elif layer(name) == "answers":
        assert not folders


def inside_a_question(name: str) -> bool:
    parts = name.split(".")
    return parts[:2] == ["rearkit", "answers"] and len(parts) > 3


@each_module
def test_every_heavy_library_comes_in_by_its_own_doors(name: str) -> None:
    for found in ARROWS[name]:
        doors = DOORS.get(found.split(".")[0])
        if doors is not None:
            assert place(NAMES[name]).startswith(tuple(doors)), f"{name} imports {found}"


@each_module
def test_nothing_is_evaluated_from_text(name: str) -> None:
    called = {
        ast.unparse(node.func)
        for node in ast.walk(ast.parse(NAMES[name].read_text("utf-8")))
        if isinstance(node, ast.Call)
    }
    forbidden = {"eval", "exec", "compile", "os.system", "os.popen", "pickle.load", "pickle.loads"}
    assert not called & forbidden
    assert not {found for found in called if found.endswith((".eval", ".query"))}


@each_module
def test_a_module_can_be_read_in_one_sitting(name: str) -> None:
    assert len(NAMES[name].read_text("utf-8").splitlines()) <= LONGEST_MODULE


def test_few_modules_serve_one_other_alone() -> None:
    used = {n: [m for m, arrows in ARROWS.items() if n in arrows] for n in NAMES}
    single = {
        n.removeprefix("rearkit.")
        for n, by in used.items()
        if len(by) == 1 and layer(n) != "answers" and NAMES[n].name != "__init__.py"
    }
    assert single - set(SINGLE) == set()
    assert len(single) < MOST_SINGLE


def test_every_layer_is_there_and_every_module_is_in_one() -> None:
    assert {layer(name) for name in NAMES} == set(LAYERS)
