"""Checks the settings asked for against those that the notebooks declare."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches

from rearkit.errors import SettingError
from rearkit.report.parameters import KINDS, LOG, Parameter, Value, is_kind

_YES_NO = {"true": True, "yes": True, "on": True, "false": False, "no": False, "off": False}
_WHOLE = re.compile(r"[+-]?\d+")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")


def check_settings(
    given: Mapping[str, object], declared: Mapping[str, Sequence[Parameter]]
) -> dict[str, dict[str, Value]]:
    """Check the settings asked for and give every notebook its full set of values.

    Parameters
    ----------
    given : mapping of str to object
        Values by name, as text from the command line or as plain Python values.
    declared : mapping of str to sequence of Parameter
        The settings of each notebook asked for. The log is not a setting.

    Returns
    -------
    dict
        Notebook name to the values in force, the log left out.

    Raises
    ------
    SettingError
        If no notebook knows a name, a value has the wrong type, or two notebooks would give
        one setting two different values.
    """
    known = {parameter.name for listed in declared.values() for parameter in listed} - {LOG}
    for name in given:
        _check_name(name, known, declared)
    values = {
        notebook: {
            parameter.name: checked_value(given[parameter.name], parameter)
            if parameter.name in given
            else parameter.default
            for parameter in listed
            if parameter.name != LOG
        }
        for notebook, listed in declared.items()
    }
    joint_settings(values)
    return values


def joint_settings(values: Mapping[str, Mapping[str, Value]]) -> dict[str, Value]:
    """Put the settings of several notebooks into one, refusing a name with two values.

    Parameters
    ----------
    values : mapping of str to mapping
        Notebook name to its values in force.

    Returns
    -------
    dict

    Raises
    ------
    SettingError
        If two notebooks give one name different values.
    """
    joint: dict[str, Value] = {}
    source: dict[str, str] = {}
    for notebook, settings in values.items():
        for name, value in settings.items():
            if name in joint and joint[name] != value:
                raise SettingError(
                    f"the notebooks {source[name]} and {notebook} start from different values "
                    f"of {name}: {joint[name]!r} and {value!r}",
                    todo=f"Say which you want with --set {name}=…",
                )
            joint.setdefault(name, value)
            source.setdefault(name, notebook)
    return joint


def checked_value(given: object, parameter: Parameter) -> Value:
    """Turn a value into one that a setting may have, or refuse it.

    Parameters
    ----------
    given : object
        Text from the command line, or a plain Python value.
    parameter : Parameter

    Returns
    -------
    str, int, float, bool or None

    Raises
    ------
    SettingError
        If it is of another type.

    Examples
    --------
    >>> day = Parameter(name="day", kinds=("int", "None"), default=None, comment="")
    >>> checked_value("28", day), checked_value("none", day)
    (28, None)
    """
    if isinstance(given, str):
        for kind in sorted(parameter.kinds, key=("None", "bool", "int", "float", "str").index):
            try:
                return _from_text(given, kind)
            except ValueError:
                continue
    else:
        for kind in parameter.kinds:
            if is_kind(given, kind):
                return float(given) if kind == "float" else given  # type: ignore[arg-type, return-value]
    raise _wrong_type(given, parameter)


def did_you_mean(word: str, choices: Iterable[str]) -> str:
    """Offer the nearest of some names, or list them all where none is near."""
    listed = sorted(choices)
    lowered = {choice.lower(): choice for choice in listed}
    near = get_close_matches(word.lower(), lowered, n=1, cutoff=0.6)
    if near:
        return f"Did you mean {lowered[near[0]]}?"
    return f"There is: {', '.join(listed)}." if listed else "There are none."


def _check_name(name: str, known: set[str], declared: Mapping[str, Sequence[Parameter]]) -> None:
    if name == LOG:
        raise SettingError(
            "the log is not a setting", todo="Name it after the command: rearkit report LOG"
        )
    if name not in known:
        raise SettingError(
            f"no setting is called {name!r}",
            where=f"notebook{'s' if len(declared) > 1 else ''} {', '.join(declared)}",
            todo=did_you_mean(name, known),
        )


def _from_text(text: str, kind: str) -> Value:
    word = text.strip()
    if kind == "str":
        return text
    if kind == "None" and word.lower() == "none":
        return None
    if kind == "bool" and word.lower() in _YES_NO:
        return _YES_NO[word.lower()]
    if kind == "int" and _WHOLE.fullmatch(word):
        return int(word)
    if kind == "float" and _NUMBER.fullmatch(word) and math.isfinite(float(word)):
        return float(word)
    raise ValueError(kind)


def _wrong_type(given: object, parameter: Parameter) -> SettingError:
    text = str(given).strip()
    wanted = " or ".join(KINDS[kind] for kind in parameter.kinds)
    hint = ""
    if "float" in parameter.kinds and _COMMA_NUMBER.fullmatch(text):
        hint = f" Did you mean {text.replace(',', '.')}?"
    elif "int" in parameter.kinds and _NUMBER.fullmatch(text) and float(text).is_integer():
        hint = f" Did you mean {float(text):.0f}?"
    elif "bool" in parameter.kinds or "None" in parameter.kinds:
        words = [*(_YES_NO if "bool" in parameter.kinds else ()), "none"]
        near = get_close_matches(text.lower(), words, n=1, cutoff=0.6)
        hint = f" Did you mean {near[0]}?" if near else ""
    meaning = f" It is: {parameter.comment}." if parameter.comment else ""
    return SettingError(
        f"{given!r} will not do for the setting {parameter.name}",
        todo=f"It takes {wanted}, as in {parameter.name}={_as_typed(parameter.default)}."
        f"{hint}{meaning}",
    )


def _as_typed(value: Value) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
