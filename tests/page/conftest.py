from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from rearkit.report.parameters import Value
from rearkit.report.plan import make_plan
from rearkit.report.run import execute
from rearkit.report.watch import Switch

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
    "--no-first-run",
    "--metrics-recording-only",
]


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A real Chromium, or a skip that says what is missing."""
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "chrome"))), None)
    if found is None:
        pytest.skip("no Chromium on this machine: the page tests need one")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=found, args=FLAGS)
        yield opened
        opened.close()


Open = Callable[..., Any]


@pytest.fixture
def open_page(browser: Any) -> Iterator[Open]:
    """Open a file; the page keeps what it asked for and what it complained about."""
    opened = []

    def show(path: Path, *, width: int = 1200, scheme: str = "light") -> Any:
        context = browser.new_context(
            viewport={"width": width, "height": 900}, color_scheme=scheme, offline=True
        )
        page = context.new_page()
        page.asked, page.answered, page.complaints = [], [], []
        page.on("request", lambda request: page.asked.append(request.url))
        page.on("response", lambda response: page.answered.append(response.url))
        page.on("console", lambda message: page.complaints.append(message.text))
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        page.on("dialog", lambda dialog: page.complaints.append(dialog.message))
        page.goto(path.as_uri())
        opened.append(context)
        return page

    yield show
    for context in opened:
        context.close()


@pytest.fixture(scope="session")
def run_notebook() -> Callable[..., tuple[dict, dict[str, Value]]]:
    """Run one notebook of the kit on a log, and give the settings that were in force."""

    def run(name: str, log: Path, **settings: object) -> tuple[dict, dict[str, Value]]:
        plan = make_plan([name], settings)
        (label,) = plan.notebooks
        executed = execute(
            plan.notebooks[label],
            name=label,
            log_path=log.resolve(),
            settings=plan.values[label],
            tell=lambda step: None,
            switch=Switch(),
        )
        return executed, dict(plan.values[label])

    return run
