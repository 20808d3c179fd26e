"""Join the spellings of one name, and know the batches by name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.parse.names import Names, name_key, tidy_name
from rearkit.logbook.read.tables import Table

EVERY_BATCH = frozenset(
    ("all", "every", "everything", "all batches", "every batch", "all tubs", "all tanks", "*")
)


def means_all(text: str | None) -> bool:
    """Whether a batch name stands for every batch."""
    return text is not None and name_key(text) in EVERY_BATCH


def written(table: Table, name: str, rows: Iterable[int]) -> list[str | None]:
    """Give the texts of a column as they were written, None where blank."""
    cells = (table.cell(row, name) for row in rows)
    return [cell.text if cell is not None and cell.text.strip() else None for cell in cells]


def batch_names(tables: Mapping[str, Table]) -> Names:
    """Learn the names of the batches: those of Batches, in the spelling used there."""
    table = tables["Batches"]
    return Names(text for text in written(table, "batch", table.rows) if text is not None)


def joined(
    table: Table, name: str, rows: Sequence[int], teller: Teller, names: Names | None = None
) -> list[object]:
    """Give the names of a column, every one in the one spelling that stands for it.

    Parameters
    ----------
    table : Table
    name : str
        The column.
    rows : sequence of int
    teller : Teller
        Is told where spellings were joined.
    names : Names, optional
        The known names; by default those of the column itself.

    Returns
    -------
    list of str or None
    """
    texts = written(table, name, rows)
    if names is None:
        names = Names()
        for text in texts:
            if text is not None:
                names.add(text)
    values: list[object] = []
    for row, text in zip(rows, texts, strict=True):
        if text is None:
            values.append(None)
            continue
        spelling = names.spelling(text) if text in names else tidy_name(text)
        values.append(spelling)
        if spelling != text:
            tell_joined(table, row, name, text, spelling, teller)
    return values


def tell_joined(
    table: Table, row: int, name: str, text: str, spelling: str, teller: Teller
) -> None:
    """Say that one spelling was read as another."""
    key = "name-joined/spaces" if tidy_name(text) == spelling else "name-joined"
    at = table.at(row, name)
    teller.tell(key, at, together=(name, text), text=text, spelling=spelling)


def tell_unknown_batch(
    key: str, table: Table, row: int, name: str, text: str, names: Names, teller: Teller
) -> None:
    """Ask about a batch that Batches lacks, with the name nearest to it."""
    together = (name, name_key(text))
    near = names.nearest(text)
    teller.tell(key, table.at(row, name), batch=text, together=together, near=near)
