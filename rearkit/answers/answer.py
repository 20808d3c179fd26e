"""What every answer has in common: whoever knows one knows all."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
import pandas as pd

from rearkit.batch.remark import Remark
from rearkit.errors import UnknownPart
from rearkit.words.blocks import Prose, ReadableTable, Said, summary_html
from rearkit.words.remarks import SENTENCES, WRITTEN, sentence

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

ANSWER_MIME = "application/vnd.rearkit.answer+json"
NO_LIMITS = "Nothing in the log stands in the way beyond what is said above."


@dataclass(frozen=True, kw_only=True, eq=False)
class Answer:
    """A keeper's question, answered: numbers and remarks; words and pictures when asked for.

    Attributes
    ----------
    log_name : str
        Where the numbers came from.
    remarks : tuple of Remark
        What has to be said beside the numbers, most important first.

    Notes
    -----
    A kind of answer names its own parts in the class: ``headline_words`` says it in a sentence,
    ``prose_parts``, ``table_parts`` and ``picture_parts()`` hold a function of the answer by the
    name of the part, ``sentences`` and ``written`` the words of its remarks.
    """

    key: ClassVar[str]
    sentences: ClassVar[Mapping[str, str]] = SENTENCES
    written: ClassVar[Mapping[str, Callable[[Any], str]]] = WRITTEN
    prose_parts: ClassVar[Mapping[str, Callable[[Any], Said]]] = {}
    table_parts: ClassVar[Mapping[str, Callable[[Any], ReadableTable]]] = {}

    log_name: str
    remarks: tuple[Remark, ...] = ()

    @staticmethod
    def headline_words(answer: Any) -> str:
        """Say the answer in a sentence; every kind of answer has its own."""
        raise NotImplementedError

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[Any], Picture]]:
        """Return the pictures of this kind of answer by name; loads the drawing libraries."""
        return {}

    @classmethod
    def parts(cls) -> dict[str, list[str]]:
        """List what can be asked of this answer: the names for say, readable and figure."""
        return {
            "say": ["headline", "limits", *cls.prose_parts],
            "readable": list(cls.table_parts),
            "figure": list(cls.picture_parts()),
        }

    @property
    def headline(self) -> str:
        """The answer in one plain sentence, never above its claim level."""
        return type(self).headline_words(self)

    @property
    def limits(self) -> tuple[str, ...]:
        """What this cannot show, one sentence each, none twice."""
        said = (sentence(r, self.sentences, self.written) for r in self.remarks)
        return tuple(dict.fromkeys(said))

    def table(self) -> pd.DataFrame:
        """Return a tidy frame, one row a unit or an estimate."""
        raise NotImplementedError

    def facts(self) -> dict[str, Any]:
        """Return a flat dict of numbers, JSON-safe, at full precision."""
        raise NotImplementedError

    def figure(self, part: str = "main") -> Picture:
        """Draw a picture of the answer; it carries its own alt text.

        Raises
        ------
        UnknownPart
            If this answer has no such picture.
        """
        return self._part(part, self.picture_parts(), "figure")(self)

    def readable(self, part: str = "main") -> ReadableTable:
        """Lay a table of the answer out for people: rounded, in words, escaped.

        Raises
        ------
        UnknownPart
            If this answer has no such table.
        """
        return self._part(part, self.table_parts, "readable")(self)

    def say(self, part: str) -> Said:
        """Say one part of the answer in sentences: ``headline``, ``limits`` or one of its own.

        Raises
        ------
        UnknownPart
            If this answer has no such part.
        """
        if part == "headline":
            return Prose(paragraphs=(self.headline,))
        if part == "limits":
            limits = self.limits
            return Prose(items=limits) if limits else Prose(paragraphs=(NO_LIMITS,))
        return self._part(part, self.prose_parts, "say")(self)

    def _part(self, part: str, parts: Mapping[str, Callable[[Any], Any]], asked: str) -> Callable:
        if part in parts:
            return parts[part]
        names = self.parts()[asked]
        near = get_close_matches(str(part), names, n=1)
        raise UnknownPart(
            f"this answer has no part {part!r} for {asked}()",
            where=type(self).__name__,
            todo=(f"Did you mean {near[0]!r}? " if near else "")
            + f"It has: {', '.join(names) or 'none'}.",
        )

    def remark(self, code: str) -> Remark | None:
        """Return the first remark with this code, if there is one."""
        return next((r for r in self.remarks if r.code == code), None)

    def kept(self) -> dict[str, Any]:
        """Return what ``results.json`` keeps: the name, the facts and the headline, JSON-safe."""
        facts = self.facts() | {"headline": self.headline}
        return {"name": self.key, "facts": json_safe(facts)}

    def __repr__(self) -> str:
        """Say in one line what was asked, of which log, and the answer."""
        return f"{type(self).__name__}({self.log_name!r}: {self.headline})"

    def _repr_html_(self) -> str:
        return summary_html(self.headline, self.limits)

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> dict[str, Any]:
        return {
            "text/html": self._repr_html_(),
            "text/plain": self.headline,
            ANSWER_MIME: self.kept(),
        }


def json_safe(value: Any) -> Any:
    """Turn numpy and pandas values into plain JSON ones; what is not a finite number is null."""
    if isinstance(value, dict):
        return {str(k): json_safe(v) for k, v in value.items()}
    if isinstance(value, list | tuple | set | np.ndarray):
        return [json_safe(v) for v in value]
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    if value is None or value is pd.NaT:
        return None
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return str(value)
