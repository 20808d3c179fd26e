"""What a page says of all its answers together: limits, facts, and where the numbers come from."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.metadata import version

import pandas as pd

from rearkit.answers.answer import ANSWER_MIME, Answer
from rearkit.logbook.logbook import Logbook
from rearkit.words.blocks import Groups, ReadableTable

PACKAGES = ("rearkit", "pandas", "numpy", "scipy", "matplotlib")


def limits_of(**answers: Answer) -> Groups:
    """List what several answers cannot show, each under its name and no sentence twice.

    Parameters
    ----------
    **answers : Answer
        Answers by the name of their list; ``_`` stands for a blank.
    """
    seen: set[str] = set()
    groups = []
    for name, answer in answers.items():
        items = [text for text in answer.limits if text not in seen]
        seen |= set(items)
        if items:
            groups.append((name.replace("_", " ").capitalize(), items))
    return Groups(groups=groups)


def keep(*answers: Answer) -> None:
    """Hand the facts of answers to whoever runs the notebook; nothing is shown.

    Parameters
    ----------
    *answers : Answer
        Answers whose numbers belong to the page.
    """
    from IPython.display import publish_display_data

    for answer in answers:
        publish_display_data({ANSWER_MIME: answer.kept()})


def provenance(log: Logbook, settings: Mapping[str, object]) -> ReadableTable:
    """Say from which log, with which settings and by which versions a page was made.

    Parameters
    ----------
    log : Logbook
        The log.
    settings : mapping
        The settings in force; None stands for "as the Trial sheet says".

    Returns
    -------
    ReadableTable
        Names and values; no path, no time.
    """
    rows = [("log", log.path.name), ("sha256 of the log", log.sha256)]
    rows += [
        (f"setting {name}", "as the Trial sheet says" if value is None else str(value))
        for name, value in settings.items()
    ]
    rows += [(f"version of {name}", version(name)) for name in PACKAGES]
    return ReadableTable(frame=pd.DataFrame(rows, columns=["what", "value"]), caption="Made from")
