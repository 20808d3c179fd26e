"""What is installed is what is in the checkout: a wheel is built, installed aside and used."""

from __future__ import annotations

import ast
import importlib.metadata
import importlib.util
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
NOT_IMPORTED = {
    "jupyterlab": "the notebooks open in it",
    "ipykernel": "the kernel that runs the notebooks, started by name",
}
TESTED_BY_NAME = ("rearkit/report/page/index.html.j2", "rearkit/report/page/page.css")


def run(*command: str, **how: object) -> subprocess.CompletedProcess[str]:
    done: subprocess.CompletedProcess[str] = subprocess.run(  # type: ignore[call-overload]
        [sys.executable, *command], capture_output=True, text=True, check=False, **how
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel of this checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    here = ["--no-build-isolation"] if importlib.util.find_spec("hatchling") else []
    run("-m", "pip", "wheel", "-q", "--no-deps", *here, "-w", str(folder), str(ROOT))
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The environment of a process that finds the wheel's package before the checkout's."""
    folder = tmp_path_factory.mktemp("installed")
    run("-m", "pip", "install", "-q", "--no-deps", "--no-index", "-t", str(folder), str(wheel))
    return {**os.environ, "PYTHONPATH": str(folder)}


def imported() -> set[str]:
    """Name every library that some module imports, inside functions too."""
    names = set()
    for path in (ROOT / "rearkit").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module.split(".")[0])
    return names - sys.stdlib_module_names - {"rearkit"}


def plain(name: str) -> str:
    """Spell the name of a library as package indexes compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def declared() -> set[str]:
    """Name every library that pyproject asks for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return {plain(re.split(r"[^\w.-]", need)[0]) for need in project["dependencies"]}


def distributions() -> dict[str, set[str]]:
    """Say for every importable name which installed libraries bring it."""
    found = importlib.metadata.packages_distributions()
    return {name: {plain(one) for one in brought} for name, brought in found.items()}


def test_every_declared_dependency_is_imported_or_says_why_not() -> None:
    brought_by = distributions()
    used = {one for name in imported() for one in brought_by[name]}
    assert declared() - used == set(NOT_IMPORTED)


def test_every_imported_library_is_declared() -> None:
    brought_by = distributions()
    assert {name for name in imported() if not brought_by[name] & declared()} == set()


def test_the_wheel_holds_every_module_notebook_and_template(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "rearkit").rglob("*.py")}
    notebooks = {f"rearkit/shipped/notebooks/{p.name}" for p in ROOT.glob("notebooks/*.ipynb")}
    logs = {
        f"rearkit/shipped/{path.relative_to(ROOT).as_posix()}"
        for pattern in ("*.xlsx", "*.md", "*/*.csv")
        for path in (ROOT / "data_templates").glob(pattern)
    }
    assert notebooks
    assert logs
    assert modules | notebooks | logs | set(TESTED_BY_NAME) <= inside
    assert not {name for name in inside if "__pycache__" in name or name.startswith("tests/")}


def test_the_installed_command_works_away_from_the_checkout(
    installed: dict[str, str], tmp_path: Path
) -> None:
    where = run("-c", "import rearkit; print(rearkit.__file__)", cwd=tmp_path, env=installed)
    assert where.stdout.startswith(installed["PYTHONPATH"])
    shown = run("-m", "rearkit", "--help", cwd=tmp_path, env=installed)
    assert "usage: rearkit" in shown.stdout
    run("-m", "rearkit", "notebooks", "mine", cwd=tmp_path, env=installed)
    copied = {path.name for path in (tmp_path / "mine" / "notebooks").iterdir()}
    assert copied == {path.name for path in (ROOT / "notebooks").glob("*.ipynb")}


def test_the_installed_command_makes_a_report_of_the_copied_demo(
    installed: dict[str, str], tmp_path: Path
) -> None:
    run("-m", "rearkit", "notebooks", "mine", cwd=tmp_path, env=installed)
    demo = "mine/data_templates/demo_shade_trial.xlsx"
    asked = ["report", demo, "--notebook", "log_check"]
    done = run("-m", "rearkit", *asked, cwd=tmp_path, env=installed)
    page = tmp_path / "reports" / "demo_shade_trial" / "log_check.html"
    assert page.is_file()
    assert done.stdout.splitlines()[0] == str(page.relative_to(tmp_path))
