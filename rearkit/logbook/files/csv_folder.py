"""Cells out of a folder of CSV files, whatever their encoding and separator."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

from rearkit.errors import LogUnreadable
from rearkit.logbook.files.grid import MOST_COLUMNS, Budget, Cell, Grid, text_cell
from rearkit.logbook.schema.sheets import SHEETS, find_sheet

MOST_CSV_BYTES = 24 * 2**20
MOST_FILES = 20_000
SEPARATORS = (",", ";", "\t")
_ENDINGS = (".csv", ".tsv")
_LOOK_AT = 30  # records in which the header is looked for
_NAMED = 5  # other files that are named


def read_folder(folder: Path) -> dict[str, Grid]:
    """Read every CSV file of a folder that is a sheet of a log.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    dict of str to Grid
        By the name of the file without its ending, sorted; other CSV files are there without
        their cells.

    Raises
    ------
    LogUnreadable
        If there is no CSV file, or one is no text, or too large.
    """
    files, others = _files(folder)
    if not files:
        raise LogUnreadable(
            "the folder holds no CSV file",
            where=folder.name,
            todo="A log in a folder needs at least Batches.csv and Daily.csv.",
        )
    budget = Budget()
    grids: dict[str, Grid] = {}
    for file in files:
        grid = Grid(title=file.stem, skipped=find_sheet(file.stem) is None)
        if not grid.skipped:
            _fill(grid, file, budget)
        grids[file.name if file.stem in grids else file.stem] = grid
    if others:
        more = "…" if len(others) > _NAMED else None
        values = {"n": len(others), "names": others[:_NAMED], "more": more}
        next(iter(grids.values())).remarks.append(("other-files", values))
    return grids


def _files(folder: Path) -> tuple[list[Path], list[str]]:
    """Give the CSV files of a folder, sorted, and the names of what else is there."""
    files, others = [], []
    try:
        with os.scandir(folder) as entries:
            for n, entry in enumerate(entries):
                if n >= MOST_FILES:
                    raise LogUnreadable(
                        f"the folder holds more than {MOST_FILES:,} files",
                        where=folder.name,
                        todo="Put the CSV files of the log into a folder of their own.",
                    )
                wanted = entry.name.lower().endswith(_ENDINGS) and not entry.name.startswith(".")
                if wanted and _is_file(entry):
                    files.append(Path(entry.path))
                elif not entry.name.startswith("."):
                    others.append(entry.name)
    except OSError as error:
        raise LogUnreadable(
            "the folder cannot be opened", where=folder.name, todo="Check that you may read it."
        ) from error
    return sorted(files), sorted(others)


def _is_file(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_file()
    except OSError:
        return False


def _fill(grid: Grid, file: Path, budget: Budget) -> None:
    text = decode(_bytes(file), file.name)
    lines = io.StringIO(text, newline="")
    separator = find_separator(text)
    known: dict[str, Cell | None] = {"": None}
    try:
        for row, record in enumerate(csv.reader(lines, delimiter=separator), start=1):
            if row == 1 and len(record) <= 2 and "".join(record).lower().startswith("sep="):
                continue
            cells = _cells(record, known)
            if cells:
                budget.spend(len(cells))
                grid.rows[row] = cells
    except csv.Error as error:
        raise LogUnreadable(
            "a cell in this file is longer than any cell can be, or a quotation mark is never "
            "closed",
            where=file.name,
            todo="Open it in your spreadsheet program and save it again as CSV.",
        ) from error


def _cells(record: list[str], known: dict[str, Cell | None]) -> dict[int, Cell]:
    cells = {}
    for column, text in enumerate(record[:MOST_COLUMNS], start=1):
        if text not in known:
            known[text] = text_cell(text) if text.strip() else None
        cell = known[text]
        if cell is not None:
            cells[column] = cell
    return cells


def _bytes(file: Path) -> bytes:
    try:
        if file.stat().st_size > MOST_CSV_BYTES:
            raise LogUnreadable(
                f"the file is larger than {MOST_CSV_BYTES // 2**20} MB",
                where=file.name,
                todo="Delete what does not belong to the log.",
            )
        return file.read_bytes()
    except OSError as error:
        raise LogUnreadable(
            "the file cannot be opened", where=file.name, todo="Check that you may read it."
        ) from error


def decode(data: bytes, name: str) -> str:
    """Turn the bytes of a CSV file into text.

    Parameters
    ----------
    data : bytes
    name : str
        The name of the file, for the message.

    Returns
    -------
    str
        Read as UTF-8 (with or without its mark), as UTF-16 where marked so, else as Windows-1252.

    Raises
    ------
    LogUnreadable
        If it is no text.
    """
    encodings = ["utf-8-sig", "cp1252"]
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeError:
            continue
        if not _binary(text):
            return text
    raise LogUnreadable(
        "the file is not a text table",
        where=name,
        todo="Save the sheet as CSV (UTF-8) from your spreadsheet program.",
    )


def _binary(text: str) -> bool:
    """Whether there are control characters that no text has."""
    sample = text[:200_000]
    odd = sum(sample.count(chr(code)) for code in (*range(1, 9), *range(14, 27), *range(28, 32)))
    return "\x00" in text or odd > len(sample) // 1000 + 2


def find_separator(text: str) -> str:
    """Find what divides the cells: the separator that gives the most known column headings."""
    best, best_score = ",", (0, 0)
    head = io.StringIO(text[:20_000], newline="")
    first = head.readline().strip().lower()
    if first.startswith("sep=") and len(first) == 5:
        return first[4]
    for separator in SEPARATORS:
        head.seek(0)
        score = (0, 0)
        try:
            for _, record in zip(
                range(_LOOK_AT), csv.reader(head, delimiter=separator), strict=False
            ):
                filled = sum(1 for text in record if text.strip())
                score = max(score, (_headings(record), filled))
        except csv.Error:
            pass
        if score > best_score:
            best, best_score = separator, score
    return best


def _headings(record: list[str]) -> int:
    """Count the cells of a record that are headings of one and the same sheet."""
    return max(sum(sheet.find(text) is not None for text in record) for sheet in SHEETS)
