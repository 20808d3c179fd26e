"""Everything that can be said of a log is said of a log that calls for it, and of no other."""

from __future__ import annotations

import ast
import datetime as dt
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from openpyxl.utils import coordinate_to_tuple

import rearkit.logbook
from rearkit import check_log, read_log
from rearkit.logbook.account.account import settle
from rearkit.logbook.doubts import catalogue
from rearkit.logbook.doubts.catalogue import CATALOGUE, Doubt, finding_of
from rearkit.logbook.doubts.findings import At, Finding
from rearkit.logbook.files.cells import read_cells
from rearkit.logbook.files.grid import Cell, number_cell
from rearkit.logbook.parse.counts import Count
from rearkit.logbook.read.reader import read_frames
from tests.logbook.logs import Sheets, clean, day, grids
from tests.logbook.write_files import add_parts, write_csv, write_ods, write_xlsx


def quiet() -> Sheets:
    """A log with nothing to say of it: no range, and a look at least every three days."""
    sheets = clean()
    sheets["Batches"][2][7] = 40
    sheets["Batches"][3][5] = day(4, 2)  # every batch starts at four days
    looks = [day(4, 5), *(day(4, 7) + dt.timedelta(days=3 * n) for n in range(12))]
    sheets["Daily"] += [[date, "all", 0] for date in looks]
    return sheets


NEXT = len(quiet()["Daily"]) + 1  # the first free row of Daily


@dataclass(frozen=True, kw_only=True)
class Planted:
    """A quiet log with one thing planted in it.

    ``at`` is where it is said ("Daily C4", "Daily 4" for a row, "Daily" for a sheet, "" for the
    log); ``cells`` are written over those of the quiet log, None clears one; ``spoil`` changes it
    further; ``merged`` are blocks of Daily; ``file`` writes it instead; ``laid_out`` tells whether
    it is said of the layout, by the check of the whole log.
    """

    at: str
    cells: Mapping[str, object] = field(default_factory=dict)
    spoil: Callable[[Sheets], object] = lambda sheets: None
    merged: tuple[tuple[int, int, int, int], ...] = ()
    file: Callable[[Path, Sheets], Path] | None = None
    settings: Mapping[str, Any] = field(default_factory=dict)
    laid_out: bool = False

    def read(self, folder: Path) -> list[Any]:
        """Read the log; give everything that was said of it."""
        sheets = quiet()
        for place, value in self.cells.items():
            write(sheets, place, value)
        self.spoil(sheets)
        if self.laid_out:
            found = check_log(read_log(write_csv(folder / "log", sheets))).findings
            rows = found.astype(object).where(found.notna(), None).to_dict("records")
            return [Finding(**row) for row in rows]
        made = grids(sheets) if self.file is None else read_cells(self.file(folder, sheets))
        if self.merged:
            made["Daily"].merged.extend(self.merged)
        frames = read_frames(made, **self.settings)
        stopped = any(f.scope == "log" and f.severity == "STOP" for f in frames.findings)
        return [*frames.findings, *([] if stopped else settle(frames).findings)]


def write(sheets: Sheets, place: str, value: object) -> None:
    """Write one cell of a sheet, such as "Daily C4"."""
    title, address = place.split()
    row, column = coordinate_to_tuple(address)
    rows = sheets[title]
    rows.extend([] for _ in range(row - len(rows)))
    rows[row - 1].extend([None] * (column - len(rows[row - 1])))
    rows[row - 1][column - 1] = value


def headless(title: str) -> Callable[[Sheets], object]:
    return lambda sheets: sheets[title].pop(0)


def again(title: str, row: int) -> Callable[[Sheets], object]:
    """Write a row once more, below all others."""
    return lambda sheets: sheets[title].append(list(sheets[title][row - 1]))


def one(place: str, value: object, **more: Any) -> Planted:
    """One cell that something is said of."""
    return Planted(at=place, cells={place: value}, **more)


def with_macros(folder: Path, sheets: Sheets) -> Path:
    path = write_xlsx(folder / "log.xlsx", sheets)
    return add_parts(path, folder / "log.xlsm", {"xl/vbaProject.bin": b"\xd0\xcf"})


def with_links(folder: Path, sheets: Sheets) -> Path:
    path = write_xlsx(folder / "log.xlsx", sheets)
    return add_parts(path, folder / "linked.xlsx", {"xl/externalLinks/externalLink1.xml": b"<x/>"})


def with_ods_macros(folder: Path, sheets: Sheets) -> Path:
    path = write_ods(folder / "log.ods", sheets)
    return add_parts(path, folder / "macros.ods", {"Basic/Standard/Module1.xml": b"<x/>"})


def with_a_photo(folder: Path, sheets: Sheets) -> Path:
    path = write_csv(folder / "log", sheets)
    (path / "photo.jpg").touch()
    return path


FREE = f"Daily A{NEXT}"
PLANTED: dict[str, Planted] = {
    # the file and its sheets
    "macros": Planted(at="", file=with_macros),
    "macros/ods": Planted(at="", file=with_ods_macros),
    "links": Planted(at="", file=with_links),
    "other-files": Planted(at="", file=with_a_photo),
    "two-sheets": Planted(at="Daily", spoil=lambda s: s.update({"Daily log": s["Daily"]})),
    "no-sheet": Planted(at="Daily", spoil=lambda s: s.pop("Daily")),
    "other-sheet": Planted(at="", spoil=lambda s: s.update({"Shopping": [["shrimp", 2]]})),
    # headings and columns
    "title-lines": Planted(at="Daily 1", spoil=lambda s: s["Daily"].insert(0, ["Spring"])),
    "no-header": Planted(at="Daily", spoil=headless("Daily")),
    "no-header/empty": Planted(at="Daily", spoil=lambda s: s["Daily"].clear()),
    "no-header/optional": Planted(at="Sizes", spoil=headless("Sizes")),
    "no-column": Planted(at="Daily", cells={"Daily A1": None}),
    "no-column/optional": Planted(at="Positions", cells={"Positions E1": None}),
    "double-column": Planted(at="Batches H1", cells={"Batches B1": "start_count"}),
    "extra-factor": Planted(at="Batches L1", cells={"Batches L1": "lamp", "Batches L2": "red"}),
    "unknown-column": Planted(at="Daily J1", cells={"Daily J1": "Moon", "Daily J2": "full"}),
    "unit-of-column": one("Sizes D1", "length_cm"),
    # rows and cells
    "totals": Planted(at=f"Daily {NEXT}", cells={FREE: "Total", f"Daily C{NEXT}": 4}),
    "text-only": Planted(at=f"Daily {NEXT}", cells={FREE: "--- second week ---"}),
    "text-only/batch": Planted(at="Batches 5", cells={"Batches A5": "spring"}),
    "repeated-header": Planted(at=f"Daily {NEXT}", spoil=again("Daily", 1)),
    "empty-rows": Planted(
        at=f"Daily {NEXT}",
        cells={f"Daily A{NEXT + 1}": day(4, 20), f"Daily B{NEXT + 1}": "K1-open"},
    ),
    "merged": Planted(at="Daily A4", cells={"Daily A5": None}, merged=((4, 1, 5, 1),)),
    "colours": one("Daily C5", number_cell(1.0, look=7)),
    "formula-error": one("Daily C4", "#DIV/0!"),
    "formula-no-value": one("Daily C4", Cell("", None, "no_value", True)),
    "formula-no-value/text": one("Daily C4", "=1+1"),
    "long-text": one("Daily I4", "long " * 2000),
    # the sheet Trial
    "double-field": Planted(at="Trial B9", spoil=again("Trial", 4)),
    "unknown-field": Planted(at="Trial A9", cells={"Trial A9": "colour", "Trial B9": "red"}),
    "unknown-compare": one("Trial B3", "moon"),
    "unknown-value": one("Trial B5", "shadow"),
    # dates
    "date-order": one("Daily A2", "03/04/2025"),
    "date-order/conflict": Planted(
        at="Daily A2",
        cells={"Daily A2": "03/04/2025", "Daily A3": "23/04/2025", "Daily A4": "04/24/2025"},
    ),
    "date-order-shown": Planted(
        at="Daily A2", cells={"Daily A2": "03/04/2025", "Daily A3": "23/04/2025"}
    ),
    "date-order-dots": one("Daily A2", "03.04.2025"),
    "date-swapped": Planted(
        at="Sizes A4",
        cells={"Sizes A2": "13/04/2025", "Sizes A3": "14/04/2025", "Sizes A4": day(11, 4)},
    ),
    "date-other-order": one("Daily A2", "04/13/2025", settings={"date_order": "day first"}),
    "date-no-year": one("Daily A2", "3 Apr"),
    "day-number": one("Daily A2", (day(4, 3) - dt.date(1899, 12, 30)).days),
    "never-ended": Planted(
        at="Batches I2", cells={"Batches I2": "9999-12-31", "Batches J2": None, "Batches K2": None}
    ),
    "no-date": one("Batches F2", "soon"),
    # counts, numbers and choices
    "count-range": one("Daily F2", "~40"),
    "count-became-date": one("Daily C4", day(12, 10)),
    "count-became-date/small": one("Daily C4", dt.date(1900, 1, 2)),
    "number-became-date": one("Daily G4", day(5, 25)),
    "text-in-numbers": one("Daily G4", "three"),
    "text-in-numbers/middle": one("Daily G4", "25-26"),
    "text-in-numbers/none": one("Daily G4", "warm"),
    "text-in-numbers/count": one("Daily C4", "three"),
    "negative-count": one("Daily C4", -2),
    "part-of-a-fish": one("Daily C4", 1.5),
    "decimal-comma": one("Daily G4", "25,5"),
    "unit-in-cell": one("Daily G4", "25.5 °C"),
    "two-decimal-marks": Planted(at="Daily G3", cells={"Daily G3": "25,5", "Daily G4": "25.5"}),
    "percent-as-fraction": Planted(
        at="Daily J2", cells={"Daily J1": "water_changed_percent", "Daily J2": 0.2}
    ),
    "cannot-be": one("Daily G4", 255),
    "unknown-choice": one("Daily E7", "eaten"),
    "unknown-choice/flag": one("Trial B7", "perhaps"),
    # names
    "name-joined": one("Daily B4", "k1-OPEN"),
    "name-joined/spaces": one("Daily B4", "K1-open "),
    "name-joined/field": one("Trial B4", "OPEN"),
    "unknown-batch": one("Daily B4", "K9"),
    "unknown-batch/removed-to": Planted(
        at="Daily J7", cells={"Daily J1": "removed_to", "Daily J7": "K9"}
    ),
    "unknown-batch/from-batch": Planted(
        at="Batches L2", cells={"Batches L1": "from_batch", "Batches L2": "K9"}
    ),
    # the sheet Batches
    "no-batches": Planted(at="Batches", spoil=lambda s: s.update({"Batches": s["Batches"][:1]})),
    "no-batch-name": Planted(at="Batches A5", cells={"Batches G5": day(4, 1), "Batches H5": 20}),
    "batch-name": one("Batches A3", "k1-open"),
    "batch-name/every": one("Batches A4", "all"),
    "no-start-count": one("Batches H2", None),
    "from-itself": Planted(
        at="Batches L2", cells={"Batches L1": "from_batch", "Batches L2": "K1-open"}
    ),
    "end-without-date": one("Batches I2", None),
    "end-not-counted": Planted(at="Batches J2", cells={"Batches J2": None}),
    "died-but-alive": one("Batches K2", "all died"),
    "batch-dates": one("Batches G2", None),
    "batch-dates/far": one("Batches G2", day(4, 1, 2045)),
    "batch-dates/end-first": one("Batches I2", day(3, 1)),
    "batch-dates/years": one("Batches I2", day(5, 10, 2052)),
    "dates-out-of-order": Planted(
        at="Batches L2", cells={"Batches L1": "free_swimming", "Batches L2": day(3, 20)}
    ),
    # rows about a batch on a day
    "row-without-batch": one("Daily B4", None),
    "row-without-date": one("Daily A4", None),
    "row-without-date/unreadable": one("Daily A4", "soon"),
    "row-without-date/event": one("Events A2", None),
    "impossible-year": one("Daily A4", day(4, 3, 2052)),
    "impossible-year/early": one("Batches F2", day(3, 28, 2005)),
    "before-start": one("Daily A4", day(3, 31)),
    "after-end": one("Daily A4", day(5, 11)),
    "row-twice": Planted(at=f"Daily {NEXT}", spoil=again("Daily", 4)),
    "row-twice/batch": Planted(at="Batches 5", spoil=again("Batches", 2)),
    "two-visits": Planted(at=f"Daily {NEXT}", cells={FREE: day(4, 2), f"Daily B{NEXT}": "K1-open"}),
    "count-for-all": one("Daily C9", 2),
    "nothing-ran": Planted(at=FREE, cells={FREE: day(1, 3), f"Daily B{NEXT}": "all"}),
    "event-without-batch": one("Events C2", None),
    "event-dates": one("Events B2", day(4, 1)),
    # what was measured
    "nothing-measured": Planted(at="Sizes 3", cells={"Sizes D3": None}),
    "cm-among-mm": Planted(
        at="Sizes D4", cells={"Sizes A4": day(4, 12), "Sizes B4": "K1-open", "Sizes D4": 0.7}
    ),
    "lengths-in-cm": Planted(
        at="Sizes D2", cells={"Sizes D2": 0.55, "Sizes D3": 0.55, "Sizes D4": 0.8}
    ),
    "weights-in-grams": one("Sizes E4", 0.009),
    "two-kinds-of-length": one("Sizes F3", "standard"),
    "scan-incomplete": one("Positions E3", None),
    # the account of a batch
    "start-unknown": one("Batches H3", "unknown"),
    "start-tightened": one("Batches H2", "30-50"),
    "does-not-add-up": one("Batches H2", 20),
    "alive-rises": one("Daily F8", 30),
    "not-looked": Planted(at="Daily C12", cells={"Daily A12": day(4, 15)}),
    "not-looked/deaths": Planted(
        at="Daily C12", cells={"Daily A12": day(4, 15), "Daily B12": "K1-open", "Daily C12": 1}
    ),
    # the layout
    "layout": Planted(at="Batches", cells={"Trial B5": "shadow"}, laid_out=True),
    "cannot-be-told-apart": Planted(
        at="Batches",
        cells={
            "Batches B3": "K9",
            "Batches L1": "place",
            "Batches L2": "left",
            "Batches L3": "right",
            "Batches L4": "left",
        },
        laid_out=True,
    ),
    "first-count-later": Planted(at="Batches", cells={"Batches F3": day(3, 26)}, laid_out=True),
}


@pytest.fixture
def said(monkeypatch) -> set[str]:
    """The keys of the catalogue that were asked for since."""
    asked: set[str] = set()

    class Watched(dict[str, Doubt]):
        def __getitem__(self, key: str) -> Doubt:
            asked.add(key)
            return super().__getitem__(key)

    monkeypatch.setattr(catalogue, "CATALOGUE", Watched(CATALOGUE))
    return asked


def test_every_entry_has_a_planted_log():
    assert set(PLANTED) == set(CATALOGUE)


def test_nothing_is_said_of_a_quiet_log(said, tmp_path):
    assert Planted(at="").read(tmp_path) == []
    assert Planted(at="", laid_out=True).read(tmp_path) == []
    assert said == set()


@pytest.mark.parametrize("key", PLANTED)
def test_what_is_planted_is_said_where_it_is(said, tmp_path, key):
    planted = PLANTED[key]
    found = planted.read(tmp_path)
    assert key in said
    title, _, place = planted.at.partition(" ")
    row = int(re.sub(r"\D", "", place)) if place else None
    cell = place if place.strip("0123456789") else None
    here = [
        f
        for f in found
        if (f.code, f.sheet, f.row, f.cell) == (key.split("/")[0], title or None, row, cell)
    ]
    assert here, [(f.code, f.where) for f in found]
    assert {f.severity for f in here} == {CATALOGUE[key].severity}
    assert {f.scope for f in here} == {CATALOGUE[key].scope}


def keys_in(tree: ast.AST) -> Iterator[str]:
    """Yield every key that a module says something by, where it is written out."""
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        named = {
            target.id: node.value
            for node in ast.walk(function)
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        for call in ast.walk(function):
            if isinstance(call, ast.Call) and ast.unparse(call.func).endswith(SAYING):
                arguments = [*call.args[:1], *(k.value for k in call.keywords if k.arg == "key")]
                for argument in arguments:
                    if isinstance(argument, ast.Name):
                        argument = named.get(argument.id, argument)
                    if isinstance(argument, ast.IfExp):
                        yield from (c.value for c in (argument.body, argument.orelse))
                    if isinstance(argument, ast.Constant):
                        yield argument.value


SAYING = ("teller.tell", "finding_of", "tell_unknown_batch", "Said")


def test_nothing_is_said_that_the_catalogue_lacks():
    modules = Path(rearkit.logbook.__file__).parent.rglob("*.py")
    used = {key for module in modules for key in keys_in(ast.parse(module.read_text("utf-8")))}
    assert len(used) > 0.8 * len(CATALOGUE)  # others are chosen by a table or handed on
    assert used <= set(CATALOGUE)


# ---- the words ----------------------------------------------------------------------------------


def words(template: str, **values: object) -> str:
    doubt = Doubt(severity="NOTE", seen=template, done="done")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(catalogue, "CATALOGUE", {"x": doubt})
        at = At("Daily", 4, "dead", 3)
        return finding_of("x", at, batch=str(values.pop("batch", "K1")), values=values).seen


@pytest.mark.parametrize(
    ("template", "value", "expected"),
    [
        ("{value}", "two\n dead", "two dead"),
        ("{value:5}", "abcdefgh", "abcd…"),
        ("{value:whole}", "a" * 200, "a" * 200),
        ("{value}", ["a", "b"], "a, b"),
        ("{value:4}", ["abcdef", "b"], "abc…, b"),
        ("{value}", 25.0, "25"),
        ("{value:,}", 1200, "1,200"),
        ("{value}", dt.date(2025, 4, 3), "2025-04-03"),
        ("{value}", dt.datetime(2025, 4, 3, 12), "2025-04-03"),
        ("{value}", Count(low=4.0, best=4.0, high=4.0, text=""), "4"),
        ("{value}", Count(low=4.0, best=5.0, high=6.0, text=""), "4 to 6"),
        ("{value}", Count(low=4.0, best=4.0, high=float("inf"), text=""), "4 or more"),
        ("a[ and {value}]", None, "a"),
        ("a[ and {value}]", "b", "a and b"),
        ("[{value} lines|a line]", None, "a line"),
        ("{value}", "[x|y] {cell} {0}", "[x|y] {cell} {0}"),
        ("{sheet} {row} {column} {cell} {batch}{value}", "", "Daily 4 dead C4 K1"),
    ],
)
def test_values_in_words(template, value, expected):
    assert words(template, value=value) == expected


def test_a_value_that_is_missing_is_no_silent_gap():
    with pytest.raises(KeyError, match="value"):
        words("{value}")
