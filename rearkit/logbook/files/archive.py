"""The zip inside .xlsx and .ods files, opened so that it can neither fill memory nor run on."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Any
from xml.parsers import expat

from rearkit.errors import LogUnreadable

MOST_FILE_BYTES = 200 * 2**20
MOST_DIRECTORY_BYTES = 2 * 2**20
MOST_ENTRY_BYTES = 96 * 2**20
MOST_READ_BYTES = 200 * 2**20
MOST_ELEMENTS = 4_000_000
DEEPEST = 200  # elements within elements
MOST_PENDING_BYTES = 4 * 2**20
FORMATS = "A log is an .xlsx, .xls or .ods workbook, or a folder of CSV files."
_CHUNK = 1 << 16
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    OSError,
    ValueError,
    KeyError,
    OverflowError,
)
_AGAIN = "Open it in your spreadsheet program and save it again, or copy it again."


class Archive:
    """A zip file of which only named parts are read, each and all of them up to a limit.

    Parameters
    ----------
    path : Path

    Raises
    ------
    LogUnreadable
        If the file is damaged, protected, or unpacks to more than a log can be.
    """

    def __init__(self, path: Path) -> None:
        _check_directory(path)
        try:
            self._zip = zipfile.ZipFile(path)
        except _DAMAGED as error:
            raise damaged() from error
        self._entries = {info.filename: info for info in self._zip.infolist()}
        self._left = MOST_READ_BYTES

    def __enter__(self) -> Archive:
        """Return itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file."""
        self._zip.close()

    @property
    def names(self) -> list[str]:
        """The names of all parts."""
        return list(self._entries)

    def __contains__(self, name: object) -> bool:
        """Whether there is such a part."""
        return name in self._entries

    def chunks(self, name: str) -> Iterator[bytes]:
        """Unpack one part piece by piece.

        What it says to unpack to is checked first; what it does unpack to is counted on the way.
        """
        info = self._entries.get(name)
        if info is None:
            raise damaged()
        if info.flag_bits & 0x1:
            raise protected()
        if info.file_size > min(MOST_ENTRY_BYTES, self._left):
            raise too_big()
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise damaged()
        read = 0
        try:
            with self._zip.open(info) as part:
                while piece := part.read(_CHUNK):
                    read += len(piece)
                    self._left -= len(piece)
                    if read > MOST_ENTRY_BYTES or self._left < 0:
                        raise too_big()
                    yield piece
        except _DAMAGED as error:
            raise damaged() from error

    def read(self, name: str, *, most: int = 2**20) -> bytes:
        """Unpack one small part whole; more than ``most`` bytes are refused."""
        whole = bytearray()
        for piece in self.chunks(name):
            whole += piece
            if len(whole) > most:
                raise too_big()
        return bytes(whole)

    def parse(
        self,
        name: str,
        *,
        start: Callable[[str, dict[str, str]], Any] | None = None,
        end: Callable[[str], Any] | None = None,
        text: Callable[[str], Any] | None = None,
    ) -> None:
        """Go through the XML of one part; names come as ``"namespace local"``.

        Document types and entities are refused, so nothing can be expanded or fetched.
        """
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = _refuse
        parser.EntityDeclHandler = _refuse
        parser.ExternalEntityRefHandler = _refuse
        seen = depth = 0

        def begin(tag: str, attributes: dict[str, str]) -> None:
            nonlocal seen, depth
            seen += 1
            depth += 1
            if seen > MOST_ELEMENTS or depth > DEEPEST:
                raise too_big()
            if start is not None:
                start(tag, attributes)

        def finish(tag: str) -> None:
            nonlocal depth
            depth -= 1
            if end is not None:
                end(tag)

        parser.StartElementHandler = begin
        parser.EndElementHandler = finish
        parser.CharacterDataHandler = text
        fed = 0
        try:
            for piece in self.chunks(name):
                parser.Parse(piece, False)
                fed += len(piece)
                if fed - parser.CurrentByteIndex > MOST_PENDING_BYTES:
                    raise too_big()
            parser.Parse(b"", True)
        except expat.ExpatError as error:
            raise damaged() from error


def _refuse(*_: object) -> int:
    raise LogUnreadable(
        "the file defines names of its own (an XML document type), as no spreadsheet does",
        todo="Do not open it unless you know where it came from.",
    )


def _check_directory(path: Path) -> None:
    """Look at the size of the file and of its table of contents before reading that."""
    size = path.stat().st_size
    if size > MOST_FILE_BYTES:
        raise too_big()
    with path.open("rb") as file:
        file.seek(max(0, size - 66_000))
        tail = file.read()
    end = tail.rfind(b"PK\x05\x06")
    if end < 0 or len(tail) - end < 22:
        raise damaged()
    directory = int.from_bytes(tail[end + 12 : end + 16], "little")
    if directory > MOST_DIRECTORY_BYTES or tail[max(0, end - 20) : end].startswith(b"PK\x06\x07"):
        raise too_big()


def damaged() -> LogUnreadable:
    """Say that a file is cut short or damaged."""
    return LogUnreadable("the file is damaged or was cut short", todo=_AGAIN)


def protected() -> LogUnreadable:
    """Say that a file is protected by a password."""
    return LogUnreadable(
        "the file is protected by a password",
        todo="Save a copy without a password and use that.",
    )


def too_big() -> LogUnreadable:
    """Say that a file unpacks to more than a log can be."""
    return LogUnreadable(
        "the file unpacks to far more than a rearing log can hold",
        todo="If it is your log, copy the filled cells of each sheet into a new file.",
    )
