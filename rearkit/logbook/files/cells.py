"""A log becomes cells with their addresses: .xlsx, .xls, .ods or a folder of CSV files."""

from __future__ import annotations

import stat
from pathlib import Path

from rearkit.errors import LogUnreadable
from rearkit.logbook.files.archive import (
    FORMATS,
    MOST_FILE_BYTES,
    Archive,
    damaged,
    protected,
    too_big,
)
from rearkit.logbook.files.csv_folder import read_folder
from rearkit.logbook.files.grid import Grid
from rearkit.logbook.files.ods import is_protected, read_ods
from rearkit.logbook.files.xls import read_xls
from rearkit.logbook.files.xlsx import read_xlsx

_ODS = b"application/vnd.oasis.opendocument.spreadsheet"
_OTHER_FILES = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"{\\rtf", "a text document"),
    (b"\x1f\x8b", "a packed file"),
    (b"7z\xbc\xaf", "a packed file"),
    (b"Rar!", "a packed file"),
)


def read_cells(path: str | Path) -> dict[str, Grid]:
    """Read the cells of a log, without running or fetching anything that it holds.

    Parameters
    ----------
    path : str or Path
        An ``.xlsx``, ``.xls`` or ``.ods`` workbook or a folder of CSV files; what it is, is seen
        from the content and not from the name.

    Returns
    -------
    dict of str to Grid
        The sheets by title. Sheets that are no sheets of a log come without cells.

    Raises
    ------
    LogUnreadable
        If it is missing, damaged, protected, of another kind, or larger than a log can be.
    """
    path = Path(path)
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError, RuntimeError) as error:
        raise LogUnreadable(
            f"there is no file or folder {path.name!r}", todo="Check the name and the folder."
        ) from error
    if stat.S_ISDIR(mode):
        return read_folder(path)
    if not stat.S_ISREG(mode):
        raise LogUnreadable("this is neither a file nor a folder", where=path.name, todo=FORMATS)
    try:
        return _read_file(path)
    except LogUnreadable as error:
        if error.where:
            raise
        raise LogUnreadable(error.what, where=path.name, todo=error.todo) from error
    except (OSError, MemoryError, RecursionError) as error:
        raise LogUnreadable(
            "the file cannot be read", where=path.name, todo="Check that you may open it."
        ) from error


def _read_file(path: Path) -> dict[str, Grid]:
    with path.open("rb") as file:
        head = file.read(4096)
    if head.startswith(b"PK\x03\x04"):
        with Archive(path) as archive:
            return _read_workbook(archive)
    if head.startswith(b"\xd0\xcf\x11\xe0"):
        if _is_encrypted(path):
            raise protected()
        return read_xls(path)
    raise _not_a_log(path, head)


def _read_workbook(archive: Archive) -> dict[str, Grid]:
    names = archive.names
    if "mimetype" in archive or "content.xml" in archive:
        kind = archive.read("mimetype", most=1000) if "mimetype" in archive else _ODS
        if is_protected(archive):
            raise protected()
        if not kind.startswith(_ODS) or "content.xml" not in archive:
            raise LogUnreadable("this is not a spreadsheet", todo=FORMATS)
        return read_ods(archive)
    if "xl/workbook.bin" in archive:
        raise LogUnreadable(
            "this is a binary workbook (.xlsb)", todo="Save it as .xlsx and use that."
        )
    if any(name.startswith("Index/") for name in names):
        raise LogUnreadable("this is a Numbers file", todo="Export it as .xlsx and use that.")
    if any(name.startswith(("word/", "ppt/")) for name in names):
        raise LogUnreadable("this is a document, not a spreadsheet", todo=FORMATS)
    if any(name.startswith("xl/") for name in names):
        return read_xlsx(archive)
    if not names:
        raise damaged()
    raise LogUnreadable(
        "this is a packed folder, not a spreadsheet", todo="Unpack it first. " + FORMATS
    )


def _is_encrypted(path: Path) -> bool:
    """Tell a newer workbook with a password from one of the old kind: both begin alike."""
    if path.stat().st_size > MOST_FILE_BYTES:
        raise too_big()
    mark = "EncryptedPackage".encode("utf-16-le")
    rest = b""
    with path.open("rb") as file:
        while piece := file.read(2**20):
            if mark in rest + piece:
                return True
            rest = piece[-64:]
    return False


def _not_a_log(path: Path, head: bytes) -> LogUnreadable:
    for mark, what in _OTHER_FILES:
        if head.startswith(mark):
            return LogUnreadable(f"this is {what}, not a spreadsheet", todo=FORMATS)
    if not head.strip():
        return LogUnreadable("the file is empty", todo=FORMATS)
    if head.lstrip().lower().startswith((b"<!doctype", b"<html", b"<?xml", b"\xef\xbb\xbf<")):
        return LogUnreadable(
            "this is a web page or plain XML under the name of a spreadsheet",
            todo="Open it in your spreadsheet program, save it as .xlsx and use that.",
        )
    if path.suffix.lower() in (".csv", ".tsv", ".txt"):
        return LogUnreadable(
            "this is a single text table, and a log has at least two",
            todo="Put Batches.csv and Daily.csv into one folder and give that folder.",
        )
    return LogUnreadable("this is not a spreadsheet", todo=FORMATS)
