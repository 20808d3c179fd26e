from __future__ import annotations

import pytest

from rearkit.errors import RunFailed
from rearkit.report.collect import ANSWER
from rearkit.report.verify import check_outputs, check_ran, heading_of, in_one_line, place_of


def words(text: str) -> dict:
    return {"cell_type": "markdown", "metadata": {}, "source": text}


def code(*outputs: dict, status: str = "completed", source: str = "1") -> dict:
    papermill = {"papermill": {"status": status}}
    return {"cell_type": "code", "metadata": papermill, "source": source, "outputs": list(outputs)}


def data(**mimes: object) -> dict:
    return {
        "output_type": "display_data",
        "data": {key.replace("_", "/", 1).replace("_", "-"): value for key, value in mimes.items()},
    }


def test_finds_the_heading_a_cell_stands_under() -> None:
    notebook = {"cells": [code(), words("# One\n\ntext\n\n## How *many* `lived` ##"), code()]}
    assert heading_of(notebook, 0) == ""
    assert heading_of(notebook, 2) == "How many lived"
    assert place_of(notebook, 2, name="survival") == "notebook survival, under “How many lived”"
    assert place_of(notebook, 0, name="survival") == "notebook survival"


def test_a_run_whose_cells_all_completed_is_good() -> None:
    empty = code(status="pending", source="\n ")
    check_ran({"cells": [words("# One"), code(data(text_plain="1")), empty]}, name="tiny")


def test_a_cell_that_never_ran_is_named() -> None:
    notebook = {"cells": [code(), words("## The answer"), code(status="pending")]}
    with pytest.raises(
        RunFailed, match=r"a cell did not run \(notebook tiny, under “The answer”\)"
    ):
        check_ran(notebook, name="tiny")


def test_a_program_that_ends_itself_counts_as_stopped() -> None:
    ended = {
        "output_type": "error",
        "ename": "SystemExit",
        "evalue": "0",
        "traceback": ["\x1b[1mx"],
    }
    notebook = {"cells": [words("## The answer"), code(ended, status="failed")]}
    with pytest.raises(RunFailed, match="a cell stopped: SystemExit: 0") as caught:
        check_ran(notebook, name="tiny")
    assert caught.value.details == "x\n"


@pytest.mark.parametrize(
    ("output", "said"),
    [
        (data(**{"application_vnd.jupyter.widget-view+json": {}, "text_plain": "w"}), "a control"),
        (data(application_javascript="alert(1)"), "a script"),
        (data(image_png="iVBO", text_plain="<Figure>"), "a picture without a description"),
        (data(**{"image_svg+xml": "<svg>"}), "a picture without a description"),
        (data(application_json={}), "something a page cannot hold: application/json"),
    ],
)
def test_refuses_an_output_that_a_page_cannot_show(output: dict, said: str) -> None:
    with pytest.raises(RunFailed, match=rf"a cell shows {said}.*\(notebook tiny, under “P”\)"):
        check_outputs({"cells": [words("# P"), code(output)]}, name="tiny")


def test_takes_html_text_and_answers() -> None:
    outputs = [
        data(text_html="<p>"),
        data(image_png="iVBO", text_html="<figure>"),
        {"output_type": "display_data", "data": {ANSWER: {}}},
        {"output_type": "stream", "name": "stdout", "text": "x"},
    ]
    check_outputs({"cells": [code(*outputs)]}, name="tiny")


def test_puts_an_exception_on_one_line() -> None:
    assert in_one_line("ValueError", "a\n  \x1b[31mb\x1b[0m") == "ValueError: a b"
    assert in_one_line("KeyboardInterrupt", "") == "KeyboardInterrupt"
