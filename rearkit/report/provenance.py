"""Where the numbers of a page come from: the log, the settings and the versions."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.metadata import version

import pandas as pd

from rearkit.logbook.logbook import Logbook
from rearkit.words.blocks import ReadableTable

PACKAGES = ("rearkit", "pandas", "numpy", "scipy", "matplotlib")


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
