"""What it takes to declare a sheet and a column of a rearing log."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

from rearkit.logbook.parse.numbers import unit_of_heading

Kind = Literal["text", "count", "number", "date", "choice", "flag"]


@lru_cache(maxsize=4096)
def heading_key(heading: str) -> str:
    """Reduce a heading to what is compared: letters and figures only, small letters.

    Parameters
    ----------
    heading : str
        A heading as somebody typed it.

    Returns
    -------
    str
        The same for ``"Start count"``, ``"start_count"`` and ``" START-COUNT "``.

    Examples
    --------
    >>> heading_key(" Start_Count ")
    'startcount'
    """
    return re.sub(r"[\W_]+", "", heading.casefold())


@dataclass(frozen=True, kw_only=True, eq=False)
class Column:
    """One column of a sheet, or one field of the Trial sheet.

    Parameters
    ----------
    name : str
        Its name in the blank log and in the frames.
    kind : {"text", "count", "number", "date", "choice", "flag"}
        What is written in it. A count may be a range; a flag is yes or no.
    help : str
        One sentence that says what to write.
    example : str
        A value as a keeper would write it.
    unit : str
        The unit of a number, empty if it has none.
    required : bool
        Whether a row means nothing without it.
    choices : tuple of str
        The words of a choice column.
    choice_words : tuple of (str, str)
        Other words for a choice, each with the choice that it stands for.
    otherwise : str or None
        The choice to fall back on for a word that is not known.
    synonyms : tuple of str
        Other headings that mean this column.
    joined : bool
        Whether the values are names, so that spellings of one name are joined.
    """

    name: str
    kind: Kind
    help: str
    example: str
    unit: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    choice_words: tuple[tuple[str, str], ...] = ()
    otherwise: str | None = None
    synonyms: tuple[str, ...] = ()
    joined: bool = False

    @cached_property
    def keys(self) -> frozenset[str]:
        """The reduced headings that mean this column."""
        return frozenset(heading_key(word) for word in (self.name, *self.synonyms))

    @cached_property
    def words(self) -> dict[str, str]:
        """Every accepted word of a choice column, reduced, with the choice it stands for."""
        own = {heading_key(choice): choice for choice in self.choices}
        return own | {heading_key(word): choice for word, choice in self.choice_words}


@dataclass(frozen=True, kw_only=True, eq=False)
class Sheet:
    """One sheet of a log.

    Parameters
    ----------
    name : str
        Its name in the blank log.
    help : str
        One sentence that says what a row is.
    columns : tuple of Column
        The declared columns, in the order of the blank log.
    required : bool
        Whether a log without it cannot be read.
    synonyms : tuple of str
        Other titles that mean this sheet.
    """

    name: str
    help: str
    columns: tuple[Column, ...]
    required: bool = False
    synonyms: tuple[str, ...] = ()

    @cached_property
    def keys(self) -> frozenset[str]:
        """The reduced titles that mean this sheet."""
        return frozenset(heading_key(word) for word in (self.name, *self.synonyms))

    def find(self, heading: str) -> Column | None:
        """Give the column that a heading means, or None.

        A unit in brackets or behind a comma (``"length (mm)"``) does not matter; another unit at
        the end (``"length_cm"``) is the reader's to turn into that of the column.
        """
        bare = re.sub(r"[\(\[].*?[\)\]]", "", heading)
        for key in (heading_key(heading), heading_key(bare)):
            for column in self.columns:
                if key and key in column.keys:
                    return column
        for column in self.columns:
            other = unit_of_heading(heading, column.unit)
            if other and heading_key(heading).removesuffix(other[0]) in column.keys:
                return column
        return None

    def column(self, heading: str) -> Column:
        """Give the column that a heading means.

        Raises
        ------
        KeyError
            If this sheet declares no such column.
        """
        found = self.find(heading)
        if found is None:
            raise KeyError(f"{self.name} has no column {heading!r}")
        return found
