"""Puts a finished report where it belongs, all of it or nothing."""

from __future__ import annotations

import json
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from rearkit.errors import RearkitError, SettingError
from rearkit.report.parameters import ANONYMOUS

RESULTS = "results.json"
TIDY = "tidy"
PACKAGE = "datapackage.json"


@contextmanager
def workshop(target: Path) -> Iterator[Path]:
    """Make an empty folder beside the target and clear it away whatever happens.

    Parameters
    ----------
    target : Path
        The folder of the report. Its parents are made.

    Yields
    ------
    Path

    Raises
    ------
    RearkitError
        If nothing can be written there.
    """
    part = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        part.mkdir(parents=True)
    except OSError as error:
        raise _cannot_write(target, error) from None
    try:
        yield part
    finally:
        shutil.rmtree(part, ignore_errors=True)


def put_in_place(part: Path, target: Path) -> None:
    """Swap a finished folder in for the report that was there.

    Files in the old report that no run made are carried over.

    Parameters
    ----------
    part : Path
        The finished folder; it is gone afterwards.
    target : Path
        Where it goes.

    Raises
    ------
    RearkitError
        If the old report cannot be moved; it is then as it was.
    """
    old = part.with_suffix(".old")
    try:
        if not target.exists():
            part.rename(target)
            return
        carry_foreign(target, part)
        target.rename(old)
        try:
            part.rename(target)
        except OSError:
            old.rename(target)
            raise
    except OSError as error:
        raise _cannot_write(target, error) from None
    shutil.rmtree(old, ignore_errors=True)


def keep_apart(log: Path, target: Path) -> None:
    """Refuse to put a report where the log is.

    Parameters
    ----------
    log : Path
        The workbook, or the folder of CSV files.
    target : Path
        The folder of the report.

    Raises
    ------
    SettingError
        If one of them is, or holds, the other: the log would be moved or added to.
    """
    log, target = log.resolve(), target.resolve()
    if log == target or log in target.parents or target in log.parents:
        raise SettingError(
            "the report would land in the folder of the log, and a log is never written to",
            where=str(target),
            todo="Name another place with --out.",
        )


def write_page(path: Path, html: str) -> Path:
    """Write one page beside the reports, all of it or nothing.

    Raises
    ------
    RearkitError
        If nothing can be written there.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(html, encoding="utf-8")
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise _cannot_write(path, error) from None
    return path


def earlier_results(target: Path) -> dict:
    """Read what an earlier run left in ``results.json``; empty if there is nothing readable."""
    try:
        found = json.loads((target / RESULTS).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def pages_to_keep(earlier: Mapping, results: Mapping) -> dict[str, list[str]]:
    """Say which pages of an earlier run still agree with this one.

    Parameters
    ----------
    earlier, results : mapping
        The ``results.json`` of the earlier run and of this one.

    Returns
    -------
    dict
        Page name to the names of the answers on it. Empty if the log, the version of the kit or
        any setting that both know has changed, or if one leaves the keeper out and the other
        does not.
    """
    same = all(earlier.get(key) == results[key] for key in ("schema", "rearkit", "log"))
    old, new = earlier.get("settings"), results["settings"]
    pages = earlier.get("pages")
    if not (same and isinstance(old, Mapping) and isinstance(pages, Mapping)):
        return {}
    if any(old[name] != new[name] for name in old.keys() & new.keys()):
        return {}
    if bool(old.get(ANONYMOUS)) != bool(new.get(ANONYMOUS)):
        return {}
    return {page: list(names) for page, names in pages.items() if page not in results["pages"]}


def carry_foreign(target: Path, part: Path) -> None:
    """Copy the files of the old report that no run made into the new one."""
    made = _made_by_a_run(target)
    for path in sorted(target.rglob("*")):
        inside = path.relative_to(target)
        if path.is_file() and inside not in made and not (part / inside).exists():
            (part / inside).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, part / inside)


def _made_by_a_run(target: Path) -> set[Path]:
    earlier = earlier_results(target)
    pages = earlier.get("pages")
    made = {Path(RESULTS), Path(TIDY, PACKAGE)}
    made |= {Path(f"{page}.html") for page in pages} if isinstance(pages, Mapping) else set()
    try:
        package = json.loads((target / TIDY / PACKAGE).read_text(encoding="utf-8"))
        made |= {Path(TIDY, resource["path"]) for resource in package["resources"]}
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return made


def _cannot_write(target: Path, error: OSError) -> RearkitError:
    reason = error.strerror or os.strerror(error.errno or 0)
    return RearkitError(
        f"the report cannot be written: {reason.lower()}",
        where=str(target),
        todo="Close any file of it that is open elsewhere, or choose another place with --out.",
    )
