"""Write a blank rearing log, or one with its batches filled in, from the declared columns."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell.cell import Cell, MergedCell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from rearkit.errors import RearkitError, SettingError
from rearkit.logbook.schema.declare import Column, Sheet
from rearkit.logbook.schema.sheets import SHEETS, columns_of
from rearkit.logbook.schema.trial_fields import TRIAL_FIELDS

Filled = Sequence[Mapping[str, object]]

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
ROWS_PREPARED = 3000  # drop-down lists and checks reach this far down
TEXT, DATE, GENERAL = "@", "yyyy-mm-dd", "General"
TRIAL_HEADER = ("field", "value", "what to write")
DARK = PatternFill("solid", fgColor="1F4E4A")
PALE = PatternFill("solid", fgColor="D9E6E2")
WIDTHS = {"text": 16, "count": 12, "number": 12, "date": 13, "choice": 15, "flag": 10}
WIDE = {"note": 40, "question": 40, "food": 22}

HOW_TO_SHEET = "How to"

# (heading, lines under it)
HOW_TO: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "How to fill in this log",
        (
            "Two sheets are enough: Batches (one row for the fry of one clutch in one container) "
            "and Daily (one row for one batch on one day). Fill in the others if you can.",
            "Point at a heading to see what goes under it. Dark headings must be filled in.",
            "Do not rename the headings. Your own columns are welcome in Batches, to the right.",
        ),
    ),
    (
        "Before the fry go in",
        (
            "Write down your question, the two methods and the day on which you will judge them "
            "in the sheet Trial. A plan written beforehand is worth far more than one written "
            "afterwards.",
            "Let a coin or a draw say which container gets which method, even if it feels silly. "
            "Where you can, split every clutch so that both methods get a share of it.",
            "Give every batch a short name and write it the same way everywhere.",
        ),
    ),
    (
        "Counting",
        (
            "Write what you know: 40, or 30-36, or ~40, or unknown for a start that nobody "
            "counted. An honest range is better than a made-up number.",
            "Dead fish: if you looked and found none, write 0. Leave it blank if you did not look. "
            "That is the most useful habit in this log.",
            "Fry you took out alive go under removed, with the reason. Count all that are alive "
            "(alive) now and then, and on the last day.",
            "Some fish will vanish without a trace. That is normal, and the kit reckons with it.",
        ),
    ),
    (
        "Dates and decimals",
        (
            "Write dates as 2025-04-03: that can never be misread. One date a cell.",
            "Lengths are in millimetres, weights in milligrams, temperatures in degrees Celsius.",
        ),
    ),
    (
        "The fish come first",
        (
            "Decide beforehand at which losses you would stop, and write it in the sheet Trial. "
            "Every batch gets food, warmth and clean water, whatever the trial says.",
            "For sick fish, medicines or putting a fish down ask a veterinarian and keep to the "
            "rules where you live. For a school, a fair or a university ask for permission first.",
        ),
    ),
    (
        "What you get",
        (
            "rearkit check THIS-FILE says what it could not read, cell by cell. "
            "rearkit report THIS-FILE writes the report. Neither ever changes your log.",
        ),
    ),
)


def write_blank(
    path: str | Path, *, batches: Filled | None = None, trial: Mapping[str, object] | None = None
) -> Path:
    """Write a blank log: a workbook if the name ends in .xlsx, otherwise a folder of CSV files.

    Parameters
    ----------
    path : str or Path
        Where to write; nothing may be there yet.
    batches : sequence of mapping, optional
        Rows of the sheet Batches to fill in, as column name and value. A column that no log
        declares is put to the right, as a factor of the keeper's own.
    trial : mapping, optional
        Fields of the sheet Trial to fill in.

    Returns
    -------
    Path
        What was written.

    Raises
    ------
    RearkitError
        If something is there already.
    SettingError
        If the name ends in something else than .xlsx, or ``trial`` holds a field unknown to a log.
    """
    path = Path(path)
    if path.exists():
        raise RearkitError(
            f"there is already something called {path.name!r}",
            where=str(path.parent),
            todo="Choose another name, or move the old one away; a log is never overwritten.",
        )
    if path.suffix.lower() not in ("", ".xlsx"):
        raise SettingError(
            f"a blank log cannot be written as {path.suffix!r}",
            where=path.name,
            todo="End the name in .xlsx, or give the name of a folder for CSV files.",
        )
    grids = _grids(batches or (), trial or {})
    if path.suffix:
        _workbook(grids).save(path)
    else:
        _folder(grids, path)
    return path


def _grids(batches: Filled, trial: Mapping[str, object]) -> dict[str, list[list[object]]]:
    """Lay out every sheet as rows of values, the header first."""
    unknown = [name for name in trial if name not in {field.name for field in TRIAL_FIELDS}]
    if unknown:
        raise SettingError(f"the sheet Trial has no field {unknown[0]!r}", where="trial")
    grids: dict[str, list[list[object]]] = {}
    for sheet in SHEETS:
        if sheet.name == "Trial":
            lines = [[f.name, trial.get(f.name), _ask(f)] for f in TRIAL_FIELDS]
            grids[sheet.name] = [list(TRIAL_HEADER), *lines]
            continue
        names = [column.name for column in sheet.columns]
        rows = batches if sheet.name == "Batches" else ()
        names += dict.fromkeys(name for row in rows for name in row if name not in names)
        grids[sheet.name] = [list(names), *([row.get(name) for name in names] for row in rows)]
    return grids


def _ask(column: Column) -> str:
    """Say in one or two sentences what goes under a heading."""
    unit = f" In {column.unit}." if column.unit and column.unit != "fish" else ""
    choices = f" One of: {', '.join(column.choices)}." if column.choices else ""
    return f"{column.help}{unit}{choices} For example: {column.example}"


# ---- a folder of CSV files ------------------------------------------------------------------


def how_to_text() -> str:
    """Return the page as plain text, for a folder of CSV files.

    Returns
    -------
    str
        Headings and lines, with line breaks.
    """
    parts = [
        "\n".join([heading, "-" * len(heading), *(f"* {line}" for line in lines)])
        for heading, lines in HOW_TO
    ]
    return "\n\n".join(parts) + "\n"


def _folder(grids: Mapping[str, list[list[object]]], folder: Path) -> None:
    folder.mkdir(parents=True)
    (folder / "how_to.txt").write_text(how_to_text(), encoding="utf-8", newline="\n")
    for name, grid in grids.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerows([csv_safe(value) for value in row] for row in grid)


# ---- a workbook -----------------------------------------------------------------------------


def _workbook(grids: Mapping[str, list[list[object]]]) -> Workbook:
    workbook = Workbook()
    workbook.properties.creator = "rearkit"
    first = workbook.worksheets[0]
    first.title = HOW_TO_SHEET
    _how_to(first)
    for sheet in SHEETS:
        worksheet = workbook.create_sheet(sheet.name)
        for i, row in enumerate(grids[sheet.name], start=1):
            for j, value in enumerate(row, start=1):
                _put(worksheet, i, j, value)
        worksheet.freeze_panes = "A2" if sheet.name in ("Trial", "Batches") else "C2"
        _for_print(worksheet, header=True)
        if sheet.name == "Trial":
            _dress_trial(worksheet)
        else:
            _dress(worksheet, sheet)
    return workbook


def _put(worksheet: Worksheet, row: int, column: int, value: object) -> None:
    """Write one cell; text that begins like a formula stays text."""
    cell = worksheet.cell(row, column)
    if not isinstance(cell, Cell) or value is None:
        return
    cell.value = value if isinstance(value, int | float | date) else str(value)
    if looks_like_formula(value):
        cell.data_type = "s"
        cell.quotePrefix = True


def _how_to(worksheet: Worksheet) -> None:
    worksheet.column_dimensions["A"].width = 74
    worksheet.sheet_view.showGridLines = False
    row = 1
    for heading, lines in HOW_TO:
        worksheet.cell(row, 1, heading).font = Font(
            name="Calibri", bold=True, size=14, color="1F4E4A"
        )
        for line in lines:
            row += 1
            worksheet.cell(row, 1, line).alignment = Alignment(wrap_text=True, vertical="top")
            worksheet.row_dimensions[row].height = 16 * (1 + len(line) // 84)
        row += 2
    _for_print(worksheet, header=False)


def _dress(worksheet: Worksheet, sheet: Sheet) -> None:
    """Give every column its heading, width, format, list of choices and comment."""
    for j, heading in enumerate(worksheet[1], start=1):
        column = sheet.find(str(heading.value))
        _head(heading, column)
        letter = get_column_letter(j)
        if column is None:
            worksheet.column_dimensions[letter].width = WIDTHS["text"]
            continue
        width = WIDE.get(column.name, max(WIDTHS[column.kind], len(column.name) + 3))
        worksheet.column_dimensions[letter].width = width
        worksheet.column_dimensions[letter].number_format = _format(column)
        for below in worksheet[letter][1:]:
            below.number_format = _format(column)
        check = _check(column, sheet.name)
        if check is not None:
            check.add(f"{letter}2:{letter}{ROWS_PREPARED}")
            worksheet.add_data_validation(check)


def _dress_trial(worksheet: Worksheet) -> None:
    for letter, width in zip("ABC", (28, 45, 85), strict=True):
        worksheet.column_dimensions[letter].width = width
    for heading, column in zip(worksheet[1], columns_of("Trial"), strict=True):
        _head(heading, column if heading.value == column.name else None)
    for row, field in enumerate(TRIAL_FIELDS, start=2):
        name, value, help_ = worksheet[row]
        name.font = Font(name="Calibri", bold=True)
        worksheet.row_dimensions[row].height = 16 * (1 + len(_ask(field)) // 92)
        name.alignment = Alignment(vertical="top")
        help_.font = Font(name="Calibri", italic=True, color="555555")
        value.number_format = _format(field)
        value.alignment = Alignment(horizontal="left", wrap_text=True, vertical="top")
        help_.alignment = Alignment(wrap_text=True, vertical="top")
        check = _check(field, "Trial")
        if check is not None:
            check.add(value.coordinate)
            worksheet.add_data_validation(check)


def _head(cell: Cell | MergedCell, column: Column | None) -> None:
    must = column is not None and column.required
    cell.font = Font(name="Calibri", bold=True, color="FFFFFF" if must else "1F4E4A")
    cell.fill = DARK if must else PALE
    cell.number_format = TEXT
    if column is not None:
        cell.comment = Comment(_ask(column), "rearkit", height=110, width=300)


def _format(column: Column) -> str:
    """Return a cell format: counts are text, lest a spreadsheet make a date of 10-12."""
    if column.kind == "date":
        return DATE
    return GENERAL if column.kind == "number" else TEXT


def _check(column: Column, sheet: str) -> DataValidation | None:
    """Return the list or the limits for the cells of a column; they warn and never forbid."""
    check = DataValidation(type="list", allow_blank=True, errorStyle="warning")
    check.errorTitle, check.error = column.name, column.help
    if column.choices:
        check.formula1 = f'"{",".join(column.choices)}"'
    elif column.name in ("batch", "removed_to", "from_batch") and sheet != "Trial":
        if (sheet, column.name) == ("Batches", "batch"):
            return None
        check.formula1 = f"Batches!$A$2:$A${ROWS_PREPARED}"
        check.showErrorMessage = False  # "all" is no batch, yet allowed
        return check
    elif column.kind == "date":
        check.type, check.operator, check.formula1 = "date", "greaterThan", "36526"  # 2000-01-01
    elif column.kind == "number":
        check.type, check.operator, check.formula1 = "decimal", "greaterThanOrEqual", "0"
    else:
        return None
    check.showErrorMessage = True
    return check


def _for_print(worksheet: Worksheet, *, header: bool) -> None:
    worksheet.page_setup.orientation = "landscape" if header else "portrait"
    worksheet.page_setup.paperSize = worksheet.PAPERSIZE_A4
    worksheet.page_setup.fitToWidth, worksheet.page_setup.fitToHeight = 1, 0
    worksheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    worksheet.print_options.gridLines = header
    if header:
        worksheet.print_title_rows = "1:1"


# ---- text that a spreadsheet might take for a formula -------------------------------------------


def looks_like_formula(value: object) -> bool:
    """Tell whether a spreadsheet might take this text for a formula.

    Parameters
    ----------
    value : object
        What is to be written in a cell. A number is never a formula, nor is text that is one.

    Returns
    -------
    bool

    Examples
    --------
    >>> looks_like_formula("=1+1"), looks_like_formula("-2"), looks_like_formula(-2)
    (True, False, False)
    """
    if not isinstance(value, str) or not value.lstrip(" ").startswith(FORMULA_STARTS):
        return False
    try:
        float(value)
    except ValueError:
        return value.strip() not in ("-", "+")
    return False


def csv_safe(value: object) -> object:
    """Put an apostrophe before text that a spreadsheet might take for a formula.

    Parameters
    ----------
    value : object
        What is to be written in a cell of a CSV file.

    Returns
    -------
    object
        The value itself, or the text with an apostrophe before it.

    Examples
    --------
    >>> csv_safe("=HYPERLINK(1)"), csv_safe("K1-a"), csv_safe(3)
    ("'=HYPERLINK(1)", 'K1-a', 3)
    """
    return f"'{value}" if looks_like_formula(value) else value
