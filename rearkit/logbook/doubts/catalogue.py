"""Everything that can be said of a log: one entry a thing, with its severity and its words.

The reader says *what* it noticed, by the key of an entry, *where*, and with which values. The
sentences stand here, as ``Doubt`` explains. A key is the code that a finding carries. A code that
has other words or another severity in some case has an entry for the case as well, its name behind
a slash (``"no-column/optional"``); that says only what differs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from rearkit.logbook.doubts.findings import At, Doubt, Finding

_CANNOT_WITHOUT = "nothing can be analysed without it"
_AS_A_COUNT = "Write a number such as 12, or a range such as 10-14; put words in note."
_SET_ORDER = "et date_order on the sheet Trial (day first or month first)."
_AMBIGUOUS = "{text:30} may be read day first or month first[, and so may {others:,} other dates]"
_EXCHANGED = "[ Is it {exchanged}, day and month exchanged?]"
_IF_A_FACT = "Nothing to do, unless it states a fact: then fill in {needed:whole}."
_NO_SUCH_BATCH = "there is no batch “{batch}” in Batches"
_NAME_IT = "[Did you mean “{near}”? ]Correct the name, or add the batch to Batches."
_ROW_OUT = "the row is left out"
_BATCH_OUT = "the batch is left out"

_note, _fix, _ask = (partial(Doubt, severity) for severity in ("NOTE", "FIX", "ASK"))
_stop_log, _stop_batch, _stop_row = (
    partial(Doubt, "STOP", scope=scope) for scope in ("log", "batch", "row")
)

_CODES: dict[str, Doubt] = {
    # ---- the file and its sheets ------------------------------------------------------------
    "macros": _note(
        "the workbook carries macros",
        "they are not run and not read",
        "Nothing to do; to be rid of them, save the log as .xlsx.",
    ),
    "links": _note(
        "the workbook links to other files",
        "no link is followed; the values stored last are used",
        "Check that the numbers taken from other files are up to date.",
    ),
    "other-files": _note(
        "{n:,} other things in the folder: {names:40}[, {more}]",
        "left alone; only CSV files are read",
        "Nothing to do, unless one of them is a sheet of your log.",
    ),
    "two-sheets": _ask(
        "two sheets are both read as {sheet}: “{used}” and “{unused}”",
        "only “{used}” is used",
        "Put the rows of both into one sheet, or rename the one that is not meant.",
    ),
    "no-sheet": _stop_log(
        "there is no sheet {sheet}",
        _CANNOT_WITHOUT,
        "Add a sheet called {sheet}. {help:whole}[ Is it “{near}”? Then call that {sheet}.]",
    ),
    "other-sheet": _note(
        "a sheet “{title}”, which is no sheet of a log",
        "not read",
        "Nothing to do, unless its title is misspelled.",
    ),
    # ---- headings and columns ---------------------------------------------------------------
    "title-lines": _fix(
        "[{several} lines|a line] above the headings",
        "left out; row {header} is read as the headings",
    ),
    "no-header": _stop_log(
        "no row of column headings was found",
        _CANNOT_WITHOUT,
        "Write the headings into one row; it needs at least {needed}.",
    ),
    "no-column": _stop_log(
        "the sheet has no column {column}",
        _CANNOT_WITHOUT,
        "Add a column {column}. {help:whole}[ Is it “{near}”? Then rename that.]",
    ),
    "double-column": _ask(
        "the heading “{heading}” means {double}, which is there already",
        "kept apart as {name}; only the other column is used",
        "Delete or rename one of the two columns.",
    ),
    "extra-factor": _note(
        "a column of your own, “{heading}”", "kept as {name}; batches can be compared by it"
    ),
    "unknown-column": _note(
        "a column that is not known, “{heading}”",
        "kept as {name}, but nothing is worked out from it",
        "Nothing to do, unless the heading is misspelled.",
    ),
    "unit-of-column": _fix(
        "the heading “{heading}” is in {unit}",
        "every number in it is turned into {own}",
        "Nothing to do; the column of the blank log is in {own}.",
    ),
    # ---- rows and cells ---------------------------------------------------------------------
    "totals": _fix("a row of totals: “{text}”", "left out; totals are worked out anew", _IF_A_FACT),
    "text-only": _fix(
        "a row that holds only text: “{text}”", "left out; no fact can be read from it", _IF_A_FACT
    ),
    "repeated-header": _fix("the headings once more: “{text}”", "left out", _IF_A_FACT),
    "empty-rows": _fix("empty rows between the facts", "the rows below them are read too"),
    "merged": _fix(
        "merged cells that hold “{text}”",
        "the value is taken for every row that they cover",
        "Nothing to do; one value in each row is safer.",
    ),
    "colours": _note(
        "cells of one column in different colours",
        "colours are not read",
        "If a colour means something, write it in a column, such as note.",
    ),
    "formula-error": _note(
        "the formula gives the error {text}",
        "the cell is read as blank",
        "Mend the formula or write the number itself.",
    ),
    "formula-no-value": _note(
        "a formula whose result was never stored",
        "the cell is read as blank",
        "Open the log in your spreadsheet program and save it, or write the number itself.",
    ),
    "long-text": _note(
        "a cell of {n:,} characters: “{text}”",
        "kept whole",
        "Check that nothing was pasted there by mistake.",
    ),
    # ---- the sheet Trial --------------------------------------------------------------------
    "double-field": _ask(
        "{field} is written twice", "the first is used: “{text}”", "Delete one of the two lines."
    ),
    "unknown-field": _note(
        "a field that is not known, “{text}”", "not used", "[Did you mean {near}?|Nothing to do.]"
    ),
    "unknown-compare": _ask(
        "compare is “{text}”, but Batches has no such column",
        "kept as written",
        "[Did you mean {near}?|Write the heading of a column of Batches.]",
    ),
    "unknown-value": _ask(
        "{column} is “{text}”, but no batch has that in {compare}",
        "kept as written; no batch can be counted to it",
        "[Did you mean “{near}”? ]Write one of: {known:30}.",
    ),
    # ---- dates ------------------------------------------------------------------------------
    "date-order": _stop_log(
        _AMBIGUOUS,
        "nothing is worked out until that is settled",
        f"S{_SET_ORDER} Dates such as 2025-04-03 are never misread.",
    ),
    "date-order-shown": _ask(
        _AMBIGUOUS,
        "read {order}, because of {named:whole}",
        f"S{_SET_ORDER} Then nothing is asked again.",
        mark="repaired",
    ),
    "date-order-dots": _note(
        _AMBIGUOUS,
        "read day first, as dates with dots are written",
        f"If that is wrong: s{_SET_ORDER}",
    ),
    "date-swapped": _ask(
        "the spreadsheet holds {day}, far from the dates around it ({first} to {last})",
        "day and month exchanged: read as {other}",
        "If so, write {other} there.",
    ),
    "date-other-order": _ask(
        "{text:30} is no date read {order}",
        "read the only other way, as {day}",
        "Write it as 2025-04-03, year first.",
    ),
    "date-no-year": _ask(
        "{text:30} has no year", "read as {day}, the year of the dates around it", "Write the year."
    ),
    "day-number": _fix(
        "{text:30} is a day as spreadsheets count them (from {system})",
        "read as {day}, and so for all of this column",
        "Nothing to do; format the column as dates to see them.",
    ),
    "never-ended": _note("“{text}” as the last day", "read as not ended yet"),
    "no-date": _ask("“{text}” is no date", "read as blank", "Write it as 2025-04-03, year first."),
    # ---- counts, numbers and choices --------------------------------------------------------
    "count-range": _note(
        "“{text}” is a count known only so far", "kept as a range; results carry it"
    ),
    "count-became-date": _ask(
        "the spreadsheet turned a count into the date {text}",
        "read as {count}",
        "Is that right? Format the column as text, then write the count again.",
    ),
    "number-became-date": _ask(
        "the spreadsheet turned a number into the date {text}",
        "read as {value}",
        "Format the column as text or as numbers and write the number again.",
    ),
    "text-in-numbers": _ask(
        "“{text}” in a column of numbers",
        "read as {value}",
        "Write one number, and put words in note.",
    ),
    "negative-count": _ask(
        "“{text}” in a column of counts",
        "read as not known",
        "A count cannot be below 0. Write the number of fish.",
    ),
    "part-of-a-fish": _ask("“{text}” in a column of counts", "read as {count}", _AS_A_COUNT),
    "decimal-comma": _fix("“{text}”", "read as {value}[ {unit}]"),
    "unit-in-cell": _fix("“{text}”", "read as {value}[ {unit}]"),
    "two-decimal-marks": _ask(
        "“{comma}” here and “{point}” in {other}: a comma and a point in one column",
        "both are read as decimal marks",
        "Use one of them, and neither to part thousands.",
    ),
    "percent-as-fraction": _ask(
        "{value} in a column of percentages", "read as {percent} %", "Write 20 for a fifth."
    ),
    "cannot-be": _ask(
        "“{text}” cannot be right here",
        "read as blank",
        "{help:whole} It lies between {least} and {most}.",
    ),
    "unknown-choice": _ask("“{text}”", "read as [{otherwise}|blank]", "Write one of: {choices}."),
    # ---- names ------------------------------------------------------------------------------
    "name-joined": _fix(
        "“{text}” is spelled unlike “{spelling}”",
        "joined with that name",
        "Nothing to do, if they are the same.",
    ),
    "unknown-batch": _ask(_NO_SUCH_BATCH, "the row is left out until that is settled", _NAME_IT),
    # ---- the sheet Batches ------------------------------------------------------------------
    "no-batches": _stop_log(
        "the sheet lists no batch",
        "nothing can be analysed without one",
        "Fill in a row for every batch.",
    ),
    "no-batch-name": _stop_row(
        "a row without the name of a batch", _ROW_OUT, "Give every batch a name of its own."
    ),
    "batch-name": _stop_batch(
        "row {before} tells of a batch “{batch}” too, and not the same of it",
        _BATCH_OUT,
        "Give every batch a name of its own, here and in the other sheets.",
    ),
    "no-start-count": _ask(
        "no start count",
        "taken as unknown: the fish are counted back from what is seen later",
        "Write a count, a range such as 30-36, or unknown.",
    ),
    "from-itself": _ask(
        "the batch “{batch}” is said to come from itself",
        "kept as written",
        "Write the batch that it came from, or leave it blank.",
    ),
    "end-without-date": _ask(
        "an end count without the day it was made",
        "taken for the last day that Daily has of this batch",
        "Fill in ended.",
    ),
    "end-not-counted": _ask(
        "ended on {ended}, and nobody wrote how many were left",
        "any number that the other counts allow may have been alive",
        "Fill in end_count; for none left, 0.",
    ),
    "died-but-alive": _ask(
        "all died, yet the end count is above 0",
        "the count is used",
        "Correct the end count or the reason.",
    ),
    "batch-dates": _stop_batch("no day on which the batch started", _BATCH_OUT, "Fill in started."),
    "dates-out-of-order": _ask(
        "{column} on {day}, before {earlier} on {first}",
        "both are kept as written",
        "Correct one of them." + _EXCHANGED,
    ),
    # ---- rows about a batch on a day --------------------------------------------------------
    "row-without-batch": _stop_row(
        "a row without a batch", _ROW_OUT, "Write the batch in every row[, or {every}]."
    ),
    "row-without-date": _stop_row(
        "a row without a date", _ROW_OUT, "Write the date in every row, as 2025-04-03."
    ),
    "impossible-year": _stop_row(
        "the year {year} cannot be right",
        _ROW_OUT,
        "Correct the date, or the dates of the batch." + _EXCHANGED,
    ),
    "before-start": _stop_row(
        "{day} is before the batch started ({started})",
        _ROW_OUT,
        "Correct the date, or the dates of the batch." + _EXCHANGED,
    ),
    "after-end": _stop_row(
        "{day} is after the batch ended ({ended})",
        _ROW_OUT,
        "Correct the date, or the dates of the batch." + _EXCHANGED,
    ),
    "row-twice": _ask(
        "row {before} once more, the same in every cell",
        "used once",
        "Delete one of them; if they were two visits, write so in note.",
    ),
    "two-visits": _note(
        "a second visit to “{visited}” on one day",
        "the two are added up",
        "Nothing to do, if they were two visits.",
    ),
    "count-for-all": _ask(
        "{column} is “{text}” for all batches together",
        "read as blank; nobody can tell which batch the fish belong to",
        "Write a row for every batch with its own count.",
    ),
    "nothing-ran": _stop_row(
        "a row for all batches on a day when none ran",
        _ROW_OUT,
        "Correct the date, or the dates of the batches.",
    ),
    "event-without-batch": _ask(
        "an event without a batch", "read as all batches", "Write the batch, or all."
    ),
    "event-dates": _ask(
        "the event ends before it begins",
        "the end is read as blank",
        "Correct one of the two days.",
    ),
    # ---- what was measured ------------------------------------------------------------------
    "nothing-measured": _stop_row(
        "neither a length nor a weight", _ROW_OUT, "Write a length or a weight, or delete the row."
    ),
    "cm-among-mm": _ask(
        "{length} mm is shorter than a fry can be, beside others that are in millimetres",
        "taken for centimetres, as all below 2 of this sheet: read as {longer} mm",
        "Write every length in millimetres.",
    ),
    "lengths-in-cm": _ask(
        "the lengths of this sheet are too short for fry in millimetres, such as {length}",
        "all are taken for centimetres: read as {longer} mm",
        "Write every length in millimetres.",
    ),
    "weights-in-grams": _ask(
        "the weights of this sheet are far too light for fish of their length in milligrams, such "
        "as {weight}",
        "all are taken for grams: read as {heavier} mg",
        "Write every weight in milligrams.",
    ),
    "two-kinds-of-length": _ask(
        "lengths of one batch are of different kinds: {kinds}",
        "all are kept as written, with their kind",
        "Measure one kind throughout, and write which in every row.",
    ),
    "scan-incomplete": _stop_row(
        "a scan without {missing:whole}",
        _ROW_OUT,
        "Write the place and how many fry you saw there; 0 if you saw none.",
    ),
    # ---- the account of a batch -------------------------------------------------------------
    "start-unknown": _note(
        "the start count is not known",
        "counted back from the fish that were seen later: at least {least}",
        "Count the fry when they enter the container; fry lost before the first count "
        "cannot be seen, so survival of this batch is 'at best'.",
        scope="batch",
    ),
    "start-tightened": _note(
        "start count {start}, but {least} fish are accounted for later",
        "the start is taken as at least {least}",
        "Nothing to do; the range is now narrower.",
        scope="batch",
    ),
    "does-not-add-up": _stop_batch(
        "start count {start}, but {least} fish are accounted for ({dead} dead and {removed} "
        "removed in all, {added} added)",
        "the batch is left out of every result",
        "Check the start count and the dead, removed and alive of this batch; if fish were "
        "put in, fill 'added'.",
    ),
    "alive-rises": _ask(
        "{alive} alive here, but {least} are accounted for later and none was added",
        "this count is taken as {least}, the least it can have been",
        "Was this count too low, or were fish added? Correct the count or fill 'added'.",
        scope="batch",
    ),
    "not-looked": _note(
        "no look from age {age_from} to {age_to} days",
        "kept as days on which nobody looked",
        "If you looked and found none dead, write 0; blank means you did not look.",
        scope="row",
    ),
    # ---- the layout -------------------------------------------------------------------------
    "layout": _note("the methods cannot be compared", "{what:whole}", "{todo:whole}", scope="log"),
    "cannot-be-told-apart": _note(
        "all containers of one method share one {what:whole} that the others do not have",
        "the result is called an association at most",
        "Next time deal the methods out within each of them.",
        scope="log",
    ),
    "first-count-later": _note(
        "batches were first counted at different ages: {ages:whole}",
        "all are compared from day {latest} on",
        "Count every batch at the same age, as early as it can be done gently.",
        scope="log",
    ),
}

_CASES: dict[str, dict[str, Any]] = {
    "macros/ods": dict(settle=Doubt.settle),
    "no-header/empty": dict(seen="the sheet is empty"),
    "no-header/optional": dict(severity="ASK", done="the sheet is left out", scope=""),
    "no-column/optional": dict(severity="ASK", done="the sheet is left out", scope=""),
    "text-only/batch": dict(
        seen="a row that holds only “{text}”",
        done="left out; it names no batch that any other sheet knows",
        settle="If it is a batch, fill in started and start_count.",
    ),
    "formula-no-value/text": dict(
        seen="a formula whose result was never stored: “{text}”",
        done="the cell is read as blank; nothing is worked out",
        settle="Write the number itself.",
    ),
    "date-order/conflict": dict(
        seen=_AMBIGUOUS + "; other dates contradict each other: {named:whole}"
    ),
    "count-became-date/small": dict(severity="FIX"),
    "text-in-numbers/middle": dict(done="read as {value}, the middle"),
    "text-in-numbers/none": dict(
        seen="“{text}” is no number",
        done="read as blank",
        settle="Write a number, and put words in note.",
    ),
    "text-in-numbers/count": dict(
        seen="“{text}” in a column of counts",
        done="read as [{count}|not known]",
        settle=_AS_A_COUNT,
    ),
    "unknown-choice/flag": dict(done="read as blank", settle="Write yes or no."),
    "name-joined/spaces": dict(
        seen="“{spelling}” with spaces before, after or within", done="needless spaces taken out"
    ),
    "name-joined/field": dict(
        seen="“{text}”", done="read as “{spelling}”, spelled as in Batches", settle=Doubt.settle
    ),
    "unknown-batch/removed-to": dict(
        done="kept as written; the fish are not followed into another batch"
    ),
    "unknown-batch/from-batch": dict(done="kept as written; no batch is followed back to it"),
    "batch-name/every": dict(seen="a batch is called “{batch}”, which stands for every batch"),
    "batch-dates/far": dict(
        seen="started in the year {year}, far from all other batches", settle="Correct the year."
    ),
    "batch-dates/end-first": dict(
        seen="ended on {day}, before it started", settle="Correct started or ended." + _EXCHANGED
    ),
    "batch-dates/years": dict(
        seen="ended on {day}, years after it started", settle="Correct the year."
    ),
    "row-without-date/unreadable": dict(seen="“{text}” is no date"),
    "row-without-date/event": dict(
        seen="an event without the day it began", settle="Write the day, as 2025-04-03."
    ),
    "impossible-year/early": dict(
        severity="ASK",
        seen="{column} on {day}, years from the start of the batch",
        done="read as blank",
        settle="Correct the year.",
        scope="",
    ),
    "row-twice/batch": dict(settle="Delete one of them."),
    "not-looked/deaths": dict(done="deaths in between are known only to that span"),
}

CATALOGUE: dict[str, Doubt] = _CODES | {
    key: replace(_CODES[key.partition("/")[0]], **differs) for key, differs in _CASES.items()
}


def doubt_of(key: str) -> Doubt:
    """Give the entry of a key.

    Raises
    ------
    KeyError
        If the catalogue has no such entry.
    """
    return CATALOGUE[key]


def finding_of(
    key: str, at: At, *, batch: str | None = None, values: Mapping[str, object]
) -> Finding:
    """Put one thing that was noticed into words.

    Parameters
    ----------
    key : str
        The entry of the catalogue.
    at : At
        Where it is.
    batch : str, optional
        The batch it concerns.
    values : mapping of str to object
        What the words are filled with.

    Returns
    -------
    Finding

    Raises
    ------
    KeyError
        If there is no such entry, or its words need a value that is not given.
    """
    return doubt_of(key).finding(key.partition("/")[0], at, batch=batch, values=values)
