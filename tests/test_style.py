"""The style is checked where the tests are run, so that nobody has to remember to."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
CHECKS = {
    "lint": ["ruff", "check", "--no-cache", "."],
    "format": ["ruff", "format", "--no-cache", "--check", "."],
    "types": ["mypy"],
}


@pytest.mark.parametrize("check", CHECKS)
def test_style(check: str) -> None:
    command = [sys.executable, "-m", *CHECKS[check]]
    if check == "types":
        command += ["--cache-dir", str(ROOT / ".mypy_cache")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_text_files_are_utf_8_and_end_in_one_newline() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    endings = {".py", ".md", ".toml", ".css", ".j2"}
    files = [ROOT / name for name in listed.stdout.split("\0") if Path(name).suffix in endings]
    assert files
    for path in files:
        if not path.is_file():
            continue
        text = path.read_bytes().decode("utf-8")
        assert "\r" not in text, path
        assert not text or text.endswith("\n"), path
