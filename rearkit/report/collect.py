"""The facts of the answers, taken out of executed notebooks for ``results.json``."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import Any

ANSWER = "application/vnd.rearkit.answer+json"
SCHEMA = 1


def answers_of(notebook: Mapping) -> list[tuple[str, dict]]:
    """List the answers a notebook showed, in their order.

    Parameters
    ----------
    notebook : mapping
        An executed notebook in nbformat 4.

    Returns
    -------
    list of (name, facts)
    """
    return [
        (str(output["data"][ANSWER]["name"]), plain_json(output["data"][ANSWER]["facts"]))
        for cell in notebook["cells"]
        for output in cell.get("outputs", ())
        if ANSWER in output.get("data", {})
    ]


def gather(
    shown: Mapping[str, Iterable[tuple[str, dict]]],
) -> tuple[dict[str, dict], dict[str, list[str]]]:
    """Put answers under their names; one that is shown twice with other facts gets a number.

    Parameters
    ----------
    shown : mapping of str to iterable of (name, facts)
        The answers on each page.

    Returns
    -------
    answers : dict
        Facts by name.
    pages : dict
        Page to the names of its answers, sorted.

    Examples
    --------
    >>> gather({"a": [("survival", {"day": 28}), ("survival", {"day": 14})],
    ...         "b": [("survival", {"day": 28})]})[1]
    {'a': ['survival', 'survival_2'], 'b': ['survival']}
    """
    answers: dict[str, dict] = {}
    pages: dict[str, list[str]] = {}
    for page, listed in shown.items():
        labels = set()
        for name, facts in listed:
            label, number = name, 1
            while label in answers and answers[label] != facts:
                number += 1
                label = f"{name}_{number}"
            answers.setdefault(label, facts)
            labels.add(label)
        pages[page] = sorted(labels)
    return answers, pages


def without_answers(notebook: dict) -> dict:
    """Take the facts out of a notebook's outputs, and outputs that hold nothing else.

    Parameters
    ----------
    notebook : dict
        It is changed.

    Returns
    -------
    dict
        The same notebook.
    """
    for cell in notebook["cells"]:
        for output in cell.get("outputs", ()):
            output.get("data", {}).pop(ANSWER, None)
        if "outputs" in cell:
            cell["outputs"] = [out for out in cell["outputs"] if out.get("data") != {}]
    return notebook


def plain_json(value: Any) -> Any:
    """Give a value as JSON can hold it: a number that is not finite becomes null.

    Parameters
    ----------
    value : object
        Mappings, sequences, text, numbers, None.

    Returns
    -------
    object
    """
    if isinstance(value, Mapping):
        return {str(key): plain_json(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain_json(inner) for inner in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def results_text(results: Mapping) -> str:
    """Write results as JSON text, keys sorted and numbers in full."""
    return (
        json.dumps(
            plain_json(results), sort_keys=True, indent=2, ensure_ascii=False, allow_nan=False
        )
        + "\n"
    )
