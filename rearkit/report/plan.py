"""Which notebooks a run takes, and with which settings: all of it settled before anything runs."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from rearkit.errors import SettingError
from rearkit.locate import notebook_paths
from rearkit.report.parameters import ANONYMOUS, Value, read_parameters
from rearkit.report.settings import check_settings, did_you_mean, joint_settings


@dataclass(frozen=True, kw_only=True, eq=False)
class Plan:
    """The notebooks of a run in the order asked for, each with the settings in force.

    Parameters
    ----------
    notebooks : mapping of str to Path
    values : mapping of str to mapping
        Notebook name to its settings, the log left out.
    """

    notebooks: Mapping[str, Path]
    values: Mapping[str, Mapping[str, Value]]

    @property
    def settings(self) -> dict[str, Value]:
        """The settings of all notebooks together."""
        return joint_settings(self.values)


def make_plan(names: Sequence[str], settings: Mapping[str, object]) -> Plan:
    """Find the notebooks asked for and check the settings against them.

    Parameters
    ----------
    names : sequence of str
        Names of notebooks of the kit, or paths of ``.ipynb`` files.
    settings : mapping of str to object
        Values by name, as text or as plain Python values.

    Returns
    -------
    Plan

    Raises
    ------
    SettingError
        If a notebook or a setting is not known, a value has the wrong type, or a notebook
        cannot leave the keeper out where that is asked for.
    """
    notebooks = dict(_find(name) for name in names)
    declared = {name: read_parameters(_load(path), name=name) for name, path in notebooks.items()}
    telling = [
        name
        for name, listed in declared.items()
        if ANONYMOUS not in (parameter.name for parameter in listed)
    ]
    if ANONYMOUS in settings and len(telling) == len(declared):
        raise _cannot_leave_out(telling)
    plan = Plan(notebooks=notebooks, values=check_settings(settings, declared))
    if telling and plan.settings.get(ANONYMOUS):
        raise _cannot_leave_out(telling)
    return plan


def _cannot_leave_out(telling: Sequence[str]) -> SettingError:
    able = [
        name
        for name, path in notebook_paths().items()
        if any(p.name == ANONYMOUS for p in read_parameters(_load(path), name=name))
    ]
    return SettingError(
        f"the notebook {telling[0]} cannot leave out the keeper and the places",
        where=ANONYMOUS,
        todo=f"Nothing was written. What can: {', '.join(able) or 'none'}.",
    )


def _find(name: str) -> tuple[str, Path]:
    path = Path(name)
    if path.suffix == ".ipynb":
        if not path.is_file():
            raise SettingError("there is no such notebook", where=name)
        return path.stem, path.resolve()
    known = notebook_paths()
    if name not in known:
        raise SettingError(f"no notebook is called {name!r}", todo=did_you_mean(name, known))
    return name, known[name]


def _load(path: Path) -> dict:
    try:
        notebook = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        notebook = None
    if not isinstance(notebook, dict) or notebook.get("nbformat") != 4:
        raise SettingError(
            "this file is not a notebook", where=str(path), todo="Save it again from JupyterLab."
        )
    return notebook
