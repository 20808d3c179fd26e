"""Broken and hostile files end in plain words, in bounded time and memory."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from collections.abc import Iterable
from itertools import chain, repeat
from pathlib import Path

import openpyxl
import pytest

from rearkit.errors import LogUnreadable
from rearkit.logbook.doubts.findings import findings_frame
from rearkit.logbook.files.cells import read_cells
from rearkit.logbook.files.xls import MOST_XLS_BYTES
from tests.logbook.logs import clean, codes, frames_of, read, said
from tests.logbook.write_files import (
    share_strings,
    write_csv,
    write_ods,
    write_xlsx,
    xls_of_records,
    xls_record,
)

SECONDS, MEGABYTES = 10.0, 500.0
_MEASURE = """
import re, sys, time
from pathlib import Path
from rearkit.errors import LogUnreadable
from rearkit.logbook.files.cells import read_cells
from rearkit.logbook.read.reader import read_frames
start = time.process_time()  # the machine may be busy with other things
try:
    frames = read_frames(read_cells(sys.argv[1]))
    said = f"findings {len(frames.findings)} rows {len(frames.daily)}"
except LogUnreadable as error:
    said = f"unreadable {error.what}"
status = Path("/proc/self/status").read_text()  # rusage would count the parent's memory too
peak = int(re.search(r"VmHWM:\\s*(\\d+) kB", status)[1]) / 1024
print(round(time.process_time() - start, 2), round(peak), said, sep="|")
"""


def measured(path: Path) -> str:
    """Read a log in a process of its own; hold it to its time and memory; give what it said."""
    done = subprocess.run(
        [sys.executable, "-c", _MEASURE, str(path)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    seconds, megabytes, said_ = done.stdout.strip().split("|")
    assert float(seconds) < SECONDS
    assert float(megabytes) < MEGABYTES
    return said_


def rezip(source: Path, target: Path, **parts: bytes | Iterable[bytes]) -> Path:
    """Copy a zip file with some of its parts replaced or added (``__`` stands for ``/``)."""
    new = {name.replace("__", "/").replace("_dot_", "."): data for name, data in parts.items()}
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as out:
        for name in old.namelist():
            if name not in new:
                out.writestr(name, old.read(name))
        for name, data in new.items():
            with out.open(name, "w") as part:
                for piece in [data] if isinstance(data, bytes) else data:
                    part.write(piece)
    return target


def blanks(megabytes: int) -> Iterable[bytes]:
    return (b" " * 2**20 for _ in range(megabytes))


@pytest.fixture
def xlsx(tmp_path):
    return write_xlsx(tmp_path / "log.xlsx", clean())


@pytest.fixture
def ods(tmp_path):
    return write_ods(tmp_path / "log.ods", clean())


# ---- files that are no log --------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
@pytest.mark.parametrize("share", [0.02, 0.3, 0.7, 0.95, 0.999])
def test_a_truncated_file(request, tmp_path, kind, share):
    data = request.getfixturevalue(kind).read_bytes()
    cut = tmp_path / f"cut.{kind}"
    cut.write_bytes(data[: int(len(data) * share)])
    with pytest.raises(LogUnreadable, match="damaged or was cut short"):
        read_cells(cut)


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_flipped_bytes_never_end_in_a_traceback(request, tmp_path, kind, seed):
    data = bytearray(request.getfixturevalue(kind).read_bytes())
    step = len(data) // 41
    for at in range(seed * step, seed * step + 12):
        data[at] ^= 0x5A
    bad = tmp_path / f"bad.{kind}"
    bad.write_bytes(bytes(data))
    try:
        frames = read(bad)
    except LogUnreadable:
        return  # said in plain words
    assert frames.batches["batch"].is_unique


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("log.xlsx", b"%PDF-1.7\n...", "this is a PDF"),
        ("log.xlsx", b"\x89PNG\r\n\x1a\n", "this is a picture"),
        ("log.xls", b"<html><table><tr><td>1</td></tr></table></html>", "a web page"),
        ("log.xlsx", b"", "the file is empty"),
        ("log.xlsx", b"\x00" * 100, "not a spreadsheet"),
        ("log.csv", b"date,batch\n", "a single text table"),
        ("log.xlsx", b"PK\x03\x04", "damaged"),
    ],
)
def test_other_files_by_their_content(tmp_path, name, data, words):
    (tmp_path / name).write_bytes(data)
    with pytest.raises(LogUnreadable, match=words) as error:
        read_cells(tmp_path / name)
    assert name in str(error.value)
    assert error.value.todo


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("word/document.xml", "a document, not a spreadsheet"),
        ("xl/workbook.bin", "binary workbook"),
        ("Index/Document.iwa", "Numbers"),
        ("photo.jpg", "packed folder"),
    ],
)
def test_other_zip_files(tmp_path, part, words):
    with zipfile.ZipFile(tmp_path / "log.xlsx", "w") as out:
        out.writestr(part, b"x")
    with pytest.raises(LogUnreadable, match=words):
        read_cells(tmp_path / "log.xlsx")


def test_a_workbook_with_a_password(tmp_path):
    name = "EncryptedPackage".encode("utf-16-le")
    ole = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 1500
    (tmp_path / "log.xlsx").write_bytes(ole + name + b"\x00" * 500)
    with pytest.raises(LogUnreadable, match="protected by a password"):
        read_cells(tmp_path / "log.xlsx")


def test_an_ods_file_with_a_password(ods, tmp_path):
    manifest = b'<manifest:file-entry><manifest:encryption-data manifest:checksum="x"/>'
    locked = rezip(ods, tmp_path / "locked.ods", **{"META-INF__manifest_dot_xml": manifest})
    with pytest.raises(LogUnreadable, match="protected by a password"):
        read_cells(locked)
    locked = rezip(ods, tmp_path / "locked2.ods", **{"encrypted-package": b"\x00\x01"})
    with pytest.raises(LogUnreadable, match="protected by a password"):
        read_cells(locked)


def test_a_zip_file_with_a_password(xlsx, tmp_path):
    data = bytearray(xlsx.read_bytes())
    at = data.find(b"PK\x01\x02")
    while at >= 0:  # the flag of every entry in the table of contents
        data[at + 8] |= 1
        at = data.find(b"PK\x01\x02", at + 4)
    (tmp_path / "locked.xlsx").write_bytes(bytes(data))
    with pytest.raises(LogUnreadable, match="protected by a password"):
        read_cells(tmp_path / "locked.xlsx")


def test_a_missing_file(tmp_path):
    with pytest.raises(LogUnreadable, match="there is no file or folder"):
        read_cells(tmp_path / "nothing.xlsx")


def test_a_loop_of_links(tmp_path):
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(LogUnreadable, match="there is no file or folder"):
        read_cells(tmp_path / "a")
    folder = write_csv(tmp_path / "log", clean())
    (folder / "Events.csv").unlink()
    (folder / "Events.csv").symlink_to(tmp_path / "a")
    (folder / "deeper").symlink_to(folder)
    assert len(read(folder).daily) == 7


def test_a_device_and_a_pipe(tmp_path):
    with pytest.raises(LogUnreadable, match="neither a file nor a folder"):
        read_cells("/dev/zero")
    folder = write_csv(tmp_path / "log", clean())
    (folder / "Events.csv").unlink()
    os.mkfifo(folder / "Events.csv")
    assert len(read(folder).daily) == 7


def test_an_empty_folder(tmp_path):
    with pytest.raises(LogUnreadable, match="holds no CSV file"):
        read_cells(tmp_path)


def test_a_folder_of_ten_thousand_files(tmp_path):
    folder = write_csv(tmp_path / "log", clean())
    for n in range(10_000):
        (folder / f"x{n}.csv").touch()
    assert measured(folder).startswith("findings")
    found = said(read(folder), "other-sheet")
    assert [f.severity for f in found] == ["NOTE"]


@pytest.mark.parametrize("data", [b"\x00\x01\x02\x03" * 500, os.urandom(4000), b"\xff\xfe\x00"])
def test_a_csv_file_of_bytes(tmp_path, data):
    folder = write_csv(tmp_path / "log", clean())
    (folder / "Daily.csv").write_bytes(data)
    with pytest.raises(LogUnreadable, match="not a text table") as error:
        read_cells(folder)
    assert "Daily.csv" in str(error.value)


def test_a_quotation_mark_that_is_never_closed(tmp_path):
    folder = write_csv(tmp_path / "log", clean())
    text = (folder / "Daily.csv").read_text(encoding="utf-8")
    (folder / "Daily.csv").write_text(text + '"' + "x\n" * 100_000, encoding="utf-8")
    with pytest.raises(LogUnreadable, match="quotation mark is never closed"):
        read_cells(folder)


# ---- bombs ------------------------------------------------------------------------------------


def sheet_xml(rows: str) -> bytes:
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<worksheet xmlns="{space}"><sheetData>{rows}</sheetData></worksheet>'.encode()


DAILY_PART = "xl__worksheets__sheet3_dot_xml"


def test_a_million_empty_rows(xlsx, tmp_path):
    book = openpyxl.load_workbook(xlsx)
    assert book.sheetnames[2] == "Daily"
    rows = "".join(f'<row r="{n}" ht="15"><c r="A{n}" s="0"/></row>' for n in range(1, 1_000_001))
    made = rezip(xlsx, tmp_path / "empty.xlsx", **{DAILY_PART: sheet_xml(rows)})
    assert "findings" in measured(made)


def test_a_million_empty_rows_in_ods(ods, tmp_path):
    with zipfile.ZipFile(ods) as old:
        content = old.read("content.xml").decode()
    blank = (
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        'table:number-columns-repeated="16384"/></table:table-row></table:table>'
    )
    made = rezip(
        ods,
        tmp_path / "empty.ods",
        content_dot_xml=content.replace("</table:table>", blank).encode(),
    )
    assert measured(made).endswith("rows 7")


def test_a_million_empty_lines_of_csv(tmp_path):
    folder = write_csv(tmp_path / "log", clean())
    with (folder / "Daily.csv").open("a", encoding="utf-8") as file:
        file.write(",,,,,,,,\n" * 1_000_000)
    assert measured(folder).endswith("rows 7")


def test_one_cell_repeated_without_end_in_ods(ods, tmp_path):
    with zipfile.ZipFile(ods) as old:
        content = old.read("content.xml").decode()
    full = (
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        'office:value-type="float" office:value="1" table:number-columns-repeated="16384"/>'
        "</table:table-row></table:table>"
    )
    made = rezip(
        ods,
        tmp_path / "full.ods",
        content_dot_xml=content.replace("</table:table>", full).encode(),
    )
    assert "filled cells" in measured(made)


@pytest.mark.parametrize(
    "part", [DAILY_PART, "xl__sharedStrings_dot_xml", "xl__styles_dot_xml", "xl__workbook_dot_xml"]
)
def test_a_zip_bomb(xlsx, tmp_path, part):
    shared = share_strings(xlsx, tmp_path / "shared.xlsx")
    made = rezip(shared, tmp_path / "bomb.xlsx", **{part: blanks(300)})
    assert made.stat().st_size < 2**20
    assert "unpacks to far more" in measured(made)


def test_a_zip_bomb_that_lies_about_its_size(xlsx, tmp_path):
    made = rezip(xlsx, tmp_path / "bomb.xlsx", **{DAILY_PART: blanks(300)})
    size = (300 * 2**20).to_bytes(4, "little")
    data = made.read_bytes()
    assert data.count(size) >= 2
    made.write_bytes(data.replace(size, (1000).to_bytes(4, "little")))
    assert measured(made).startswith("unreadable")


@pytest.mark.parametrize("inner", ["<row><c><v>1</v></c></row>", "<row/>", "<a>", "<c t='s'/>"])
def test_elements_without_end(xlsx, tmp_path, inner):
    head, foot = sheet_xml("|").split(b"|")
    piece = inner.encode() * (2**20 // len(inner))
    pieces = chain([head], repeat(piece, 80), [foot])
    made = rezip(xlsx, tmp_path / "many.xlsx", **{DAILY_PART: pieces})
    assert measured(made).startswith("unreadable")


def test_one_endless_piece_of_text(xlsx, tmp_path):
    for n, head in enumerate((b"<worksheet a='", sheet_xml("<row><c><v>|").split(b"|")[0])):
        pieces = chain([head], repeat(b"x" * 2**20, 90))
        made = rezip(xlsx, tmp_path / f"long{n}.xlsx", **{DAILY_PART: pieces})
        assert measured(made).startswith("unreadable")


XLS_FORMAT = xls_record(0xE0, b"\x00" * 20)
XLS_FONT = xls_record(0x31, b"\xc8\x00" + b"\x00" * 12 + b"\x01\x00A")
XLS_FLOODS = {  # what is small in the file and large in memory, or slow
    "cell formats": (XLS_FORMAT, b""),
    "fonts": (XLS_FONT, b""),
    "widths": (b"", xls_record(0x7D, b"\x00\x00\x00\x01" + b"\x00" * 8)),
    "blank cells": (b"", xls_record(0xBE, b"\x00" * 516 + b"\xff\x00")),
    "numbers": (b"", xls_record(0xBD, b"\x00\x00\x00\x00" + b"\x00\x00\x02\x01\x00\x00" * 256
                                + b"\xff\x00")),
}  # fmt: skip


@pytest.mark.parametrize("flood", XLS_FLOODS)
def test_an_old_workbook_of_one_record_without_end(tmp_path, flood):
    more, sheet = (
        part * ((MOST_XLS_BYTES - 60_000) // max(len(part), 1)) for part in XLS_FLOODS[flood]
    )
    made = xls_of_records(tmp_path / "log.xls", sheet, more or XLS_FONT * 5 + XLS_FORMAT * 20)
    assert MOST_XLS_BYTES - 100_000 < made.stat().st_size <= MOST_XLS_BYTES
    assert measured(made).startswith("findings")


LAUGHS = (
    b'<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY l "lol">'
    + b"".join(
        b'<!ENTITY l%d "%s">' % (n, b"&l%s;" % (b"" if n == 1 else b"%d" % (n - 1)) * 10)
        for n in range(1, 10)
    )
    + b"]><worksheet>&l9;</worksheet>"
)


@pytest.mark.parametrize(
    "data",
    [
        LAUGHS,
        b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]><x>&e;</x>',
        b'<!DOCTYPE x SYSTEM "http://example.invalid/x.dtd"><x/>',
    ],
)
@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_entities_are_refused(request, tmp_path, kind, data):
    source = request.getfixturevalue(kind)
    part = DAILY_PART if kind == "xlsx" else "content_dot_xml"
    made = rezip(source, tmp_path / f"laughs.{kind}", **{part: data})
    with pytest.raises(LogUnreadable, match="defines names of its own"):
        read_cells(made)


def test_too_many_filled_cells(tmp_path):
    folder = write_csv(tmp_path / "log", clean())
    with (folder / "Daily.csv").open("a", encoding="utf-8") as file:
        file.write("2025-04-03,K1-open,1,2,3,4,5,6,7\n" * 200_000)
    assert "filled cells" in measured(folder)


def test_as_many_cells_as_are_allowed(tmp_path):
    folder = write_csv(tmp_path / "log", clean())
    with (folder / "Daily.csv").open("a", encoding="utf-8") as file:
        for n in range(50_000):
            file.write(f"2025-04-03,K1-open,{n % 3},,,,25.{n % 10},{n},note {n}\n")
    assert measured(folder).startswith("findings")


def test_a_folder_of_huge_csv(tmp_path):
    folder = write_csv(tmp_path / "log", clean())
    with (folder / "Daily.csv").open("wb") as file:
        file.truncate(2**31)
    with pytest.raises(LogUnreadable, match="larger than 24 MB"):
        read_cells(folder)


# ---- what a log may carry without harm --------------------------------------------------------


def test_macros_and_links_are_left_alone_and_told(xlsx, tmp_path):
    made = rezip(
        xlsx,
        tmp_path / "log.xlsm",
        xl__vbaProject_dot_bin=b"\xd0\xcf",
        xl__externalLinks__externalLink1_dot_xml=b"<x/>",
    )
    frames = read(made)
    assert {"macros", "links"} <= codes(frames, "NOTE")
    assert len(frames.daily) == 7


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        '=HYPERLINK("http://example.invalid","x")',
        "+cmd|' /C calc'!A0",
        "@SUM(1)",
        "{{7*7}}",
        "$x^2$",
        "../../etc/passwd",
        "K1\u202eopen",
        "'; DROP TABLE",
    ],
)
def test_markup_and_formulas_in_names_stay_text(tmp_path, text):
    sheets = clean()
    for row in sheets["Batches"][1:] + sheets["Daily"][1:] + sheets["Sizes"][1:]:
        for i, value in enumerate(row):
            if value == "K1-open":
                row[i] = text
    del sheets["Positions"]
    sheets["Batches"][0].append("<b>x</b>")
    sheets["Batches"][1].append("=1+1")
    folder = write_csv(tmp_path / "log", sheets)
    frames = read(folder)
    assert frames.batches["batch"].iloc[0] == text
    assert frames.batches["b_x_b"].iloc[0] == "=1+1"
    assert (frames.daily["batch"] == text).sum() == 3


def test_a_formula_in_a_number_column_is_not_worked_out(tmp_path):
    sheets = clean()
    sheets["Daily"][3][2] = "=1+1"
    sheets["Daily"][3][6] = "=20+5"
    frames = read(write_csv(tmp_path / "log", sheets))
    made = frames.daily.loc[frames.daily["sheet_row"] == 4].iloc[0]
    assert made[["dead_best", "temp_c"]].isna().all()
    assert {f.cell for f in said(frames, "formula-no-value")} == {"C4", "G4"}


def test_a_cell_of_fifty_thousand_characters(tmp_path):
    sheets = clean()
    sheets["Daily"][3][8] = "long " * 10_000
    sheets["Daily"][4][1] = "K" * 50_000
    sheets["Daily"][5][2] = "9" * 50_000
    for frames in (
        read(write_csv(tmp_path / "log", sheets)),
        frames_of(sheets),
    ):
        note = frames.daily.loc[frames.daily["sheet_row"] == 4, "note"].item()
        assert note == ("long " * 10_000).strip()
        assert {f.cell for f in said(frames, "long-text")} == {"I4", "B5", "C6"}
        table = findings_frame(frames.findings)
        for column in ("seen", "done", "settle", "batch"):
            assert table[column].dropna().str.len().max() < 500
        assert table["seen"].str.contains("…").any()


def test_many_questions_of_one_kind_are_put_together(tmp_path):
    sheets = clean()
    sheets["Daily"] += [["2025-04-03", f"Q{n}", 0] for n in range(5_000)]
    frames = read(write_csv(tmp_path / "log", sheets))
    found = said(frames, "unknown-batch")
    assert len(found) == 51
    assert "more rows" in found[-1].seen
    assert frames.rows.set_index("sheet").loc["Daily", "n_waiting"] == 5_000
