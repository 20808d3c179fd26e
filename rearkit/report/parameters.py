"""The settings of a notebook, as its tagged cell declares them."""

from __future__ import annotations

import ast
import io
import math
import tokenize
from collections.abc import Mapping
from dataclasses import dataclass

from rearkit.errors import SettingError

Value = str | int | float | bool | None

LOG = "log"
ANONYMOUS = "anonymous"
TAG = "parameters"
INJECTED = "injected-parameters"
KINDS = {
    "str": "text",
    "int": "a whole number",
    "float": "a number",
    "bool": "yes or no",
    "None": "none",
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Parameter:
    """One setting as a notebook declares it.

    Parameters
    ----------
    name : str
    kinds : tuple of str
        The types it may have: keys of ``KINDS``.
    default : str, int, float, bool or None
    comment : str
        What it means, and its unit.
    """

    name: str
    kinds: tuple[str, ...]
    default: Value
    comment: str

    def line(self, value: Value) -> str:
        """Write the setting with a value in force, as its line in the notebook reads."""
        comment = f"  # {self.comment}" if self.comment else ""
        return f"{self.name}: {' | '.join(self.kinds)} = {value!r}{comment}"


def parameters_index(notebook: Mapping, *, name: str) -> int:
    """Find the one cell of a notebook that is tagged ``parameters``.

    Parameters
    ----------
    notebook : mapping
        A notebook in nbformat 4.
    name : str
        What to call it in a message.

    Returns
    -------
    int

    Raises
    ------
    SettingError
        If there is none, or more than one.
    """
    tagged = [
        index
        for index, cell in enumerate(notebook["cells"])
        if cell["cell_type"] == "code" and TAG in cell["metadata"].get("tags", ())
    ]
    if len(tagged) != 1:
        raise SettingError(
            f"{len(tagged)} cells are tagged {TAG!r}",
            where=f"notebook {name}",
            todo="Tag exactly one cell, the one that holds the settings.",
        )
    return tagged[0]


def is_injected(cell: Mapping) -> bool:
    """Say whether a cell was put in by the run, to hand the settings in."""
    return INJECTED in cell["metadata"].get("tags", ())


def source_index(notebook: Mapping, index: int, *, name: str) -> int:
    """Turn the place of a cell in the executed notebook into its place in the file.

    Parameters
    ----------
    notebook : mapping
        The notebook as it is in the file.
    index : int
        The place among the cells that ran: one more was put in below the settings.
    name : str

    Returns
    -------
    int
    """
    return index - 1 if index > parameters_index(notebook, name=name) else index


def read_parameters(notebook: Mapping, *, name: str) -> tuple[Parameter, ...]:
    """Read the settings a notebook declares, in their order.

    Parameters
    ----------
    notebook : mapping
        A notebook in nbformat 4, with one cell tagged ``parameters`` of lines
        ``name: type = literal  # what it means, unit``.
    name : str
        What to call the notebook in a message.

    Returns
    -------
    tuple of Parameter

    Raises
    ------
    SettingError
        If the cell is missing or holds anything but such lines.
    """
    source = "".join(notebook["cells"][parameters_index(notebook, name=name)]["source"])
    where = f"notebook {name}, cell of settings"
    try:
        statements = ast.parse(source).body
    except SyntaxError as error:
        raise SettingError(
            f"line {error.lineno} cannot be read",
            where=where,
            todo="Write each setting as: name: type = value  # what it means",
        ) from None
    comments = _comments(source)
    return tuple(
        _parameter(statement, comments.get(statement.lineno, ""), where) for statement in statements
    )


def is_kind(value: object, kind: str) -> bool:
    """Say whether a plain value is of one of ``KINDS``; a whole number is a number too."""
    if kind == "None":
        return value is None
    if kind == "bool":
        return isinstance(value, bool)
    if kind == "str":
        return isinstance(value, str)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return isinstance(value, int) if kind == "int" else math.isfinite(value)


def _parameter(statement: ast.stmt, comment: str, where: str) -> Parameter:
    problem = SettingError(
        f"line {statement.lineno} is not a setting",
        where=where,
        todo="Write each setting as: name: type = value  # what it means",
    )
    if not (
        isinstance(statement, ast.AnnAssign)
        and isinstance(statement.target, ast.Name)
        and statement.value is not None
    ):
        raise problem
    kinds = tuple(part.strip() for part in ast.unparse(statement.annotation).split("|"))
    if not set(kinds) <= set(KINDS):
        raise problem
    try:
        default = ast.literal_eval(statement.value)
    except ValueError:
        raise problem from None
    if not any(is_kind(default, kind) for kind in kinds):
        raise problem
    return Parameter(name=statement.target.id, kinds=kinds, default=default, comment=comment)


def _comments(source: str) -> dict[int, str]:
    tokens = tokenize.generate_tokens(io.StringIO(source).readline)
    return {
        token.start[0]: token.string.lstrip("# ").strip()
        for token in tokens
        if token.type == tokenize.COMMENT
    }
