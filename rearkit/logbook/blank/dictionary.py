"""Write the data dictionary of a log from the declared columns, so that the two never differ."""

from __future__ import annotations

import math
from pathlib import Path

from rearkit.logbook.doubts.findings import SEVERITIES
from rearkit.logbook.parse.counts import read_count
from rearkit.logbook.schema.declare import Column, Sheet
from rearkit.logbook.schema.sheets import SHEETS
from rearkit.logbook.schema.trial_fields import TRIAL_FIELDS

COUNTS_SHOWN = (
    *("40", "30-36", "30 to 36", "30/36", "~40", "about 40", "40ish", "40?", "40+", ">=40"),
    *("<10", "2 doz", "three", "2 dead?", "none", "0", "-", "lots", "unknown"),
)
APPROX_SHARE = 0.10

OPENING = """# What goes into a rearing log

<!-- Written from the declared columns by data_templates/make_blank_logs.py; edit those. -->

A log is one workbook (`.xlsx`, `.xls` or `.ods`) or one folder of CSV files, one file a sheet.
**Batches** and **Daily** are enough; the other sheets are optional. One row of headings, one fact
a row. Headings are matched without regard to case, spaces or underscores, a unit in brackets does
not matter, and the other headings named below work too. A column of your own in Batches becomes a
factor that you can compare; elsewhere it is kept and mentioned. The kit never writes to your log.

- **container**: one separate body of water with its own fry.
- **clutch**: the eggs of one spawning.
- **batch**: the fry of one clutch kept in one container; a clutch split over four tubs is four
  batches.
- **unit**: what was separately given a method, the container if clutches are split over the
  methods, otherwise the clutch. A fish is never the unit.

Two blank logs lie beside this page, `rearing_log.xlsx` and the folder `rearing_log_csv`.
"""

COUNTS = """## Counts

A count may be a number, a range, or about so many. It becomes four columns, `…_low`, `…_best`,
`…_high` and `…_text` (as written), and every result carries the range. "About" means give or take
{share:.0%}; that share is a setting and is printed.

**0 and blank are not the same.** If you looked and found none dead, write 0. Blank means that
nobody looked, and then a death is known only to lie between the last look and the next.
"""

MADE_OF = {
    "text": "kept as text",
    "count": "`{0}_low`, `{0}_best`, `{0}_high`, `{0}_text`",
    "number": "`{0}`, a number",
    "date": "`{0}`, a date",
    "choice": "`{0}`, one of the choices",
    "flag": "`{0}`, yes or no",
}

SEVERITY_MEANS = {
    "STOP": "Something cannot be used: a row, a batch or the whole log. It is left out and named; "
    "nothing is clipped or guessed.",
    "ASK": "Read in the way that is stated, but please confirm it or correct the cell.",
    "FIX": "Repaired, because there is only one way to mean it, and told.",
    "NOTE": "Only told: something to keep in mind when you read the results.",
}

FINDINGS = """## What the kit says about a log

`rearkit check` lists everything at once, each with its sheet, row, column and cell.
"""

FRAMES = """## What comes out

Every sheet becomes a tidy table of the same name, with `age_days` counted from `age_from`. Two
more tables are made from them:

- `account`, a row a batch: start = alive + dead + removed + missing.
- `fates`, a row an interval between two looks: at risk, found dead, missing, removed.

A start range is tightened by what comes later: it is never below the fish that were accounted
for. A start that is `unknown` is counted back from them, and everything built on it is marked "at
best".
"""


def dictionary_text() -> str:
    """Return the data dictionary as Markdown.

    Returns
    -------
    str
        Every sheet, column, unit, choice and example, the ways to write a count, and what the
        severities of a finding mean.
    """
    parts = [OPENING, *(_sheet(sheet) for sheet in SHEETS)]
    parts += [COUNTS.format(share=APPROX_SHARE), _counts(), FINDINGS, _severities(), FRAMES]
    return "\n".join(part.rstrip("\n") + "\n" for part in parts)


def write_dictionary(path: str | Path) -> Path:
    """Write the data dictionary, in place of the one that is there.

    Parameters
    ----------
    path : str or Path
        The Markdown file to write.

    Returns
    -------
    Path
        What was written.
    """
    path = Path(path)
    path.write_text(dictionary_text(), encoding="utf-8", newline="\n")
    return path


def _sheet(sheet: Sheet) -> str:
    needed = "needed" if sheet.required else "optional"
    columns = TRIAL_FIELDS if sheet.name == "Trial" else sheet.columns
    what = "field" if sheet.name == "Trial" else "column"
    head = (what, "what to write", "unit or choices", "example", "what becomes of it", "also read")
    rows = [head, *(_column(column) for column in columns)]
    star = " A star marks what a row cannot do without." if any(c.required for c in columns) else ""
    return f"## {sheet.name} ({needed})\n\n{sheet.help}{star}\n\n{_table(rows)}"


def _column(column: Column) -> tuple[str, ...]:
    made = MADE_OF[column.kind].format(column.name)
    if column.joined:
        made = "a name; spellings that differ in case or spaces are joined"
    return (
        f"`{column.name}`{' *' if column.required else ''}",
        column.help,
        ", ".join(column.choices) or column.unit,
        f"`{column.example}`",
        made,
        ", ".join(column.synonyms),
    )


def _counts() -> str:
    rows: list[tuple[str, ...]] = [("written", "low", "best", "high", "the kit asks")]
    for text in COUNTS_SHOWN:
        reading = read_count(text, approx_share=APPROX_SHARE)
        count = reading.count
        ends = (count.low, count.best, count.high) if count else (math.nan,) * 3
        rows.append((f"`{text}`", *map(_number, ends), "yes" if reading.asked else ""))
    return _table(rows) + "\n`unknown` is meant for `start_count` only.\n"


def _number(value: float) -> str:
    if math.isnan(value):
        return "not known"
    return "open" if math.isinf(value) else f"{value:g}"


def _severities() -> str:
    return _table([("severity", "what it means"), *((s, SEVERITY_MEANS[s]) for s in SEVERITIES)])


def _table(rows: list[tuple[str, ...]]) -> str:
    """Lay rows out as a Markdown table; a bar within a cell is escaped."""
    lines = ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]
    lines.insert(1, "|" + " --- |" * len(rows[0]))
    return "\n".join(lines) + "\n"
