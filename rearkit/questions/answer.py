"""What every answer has in common: whoever knows one knows all."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
import pandas as pd

if TYPE_CHECKING:  # an answer speaks and draws through the report layer, reached when asked
    from rearkit.report.picture import Picture
    from rearkit.report.wording.html_table import ReadableTable
    from rearkit.report.wording.prose import AnswerBox, Prose

ANSWER_MIME = "application/vnd.rearkit.answer+json"


@dataclass(frozen=True, kw_only=True)
class Remark:
    """Something to be said of an answer: a code that wording knows, and the values it needs."""

    code: str
    values: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, eq=False)
class Answer:
    """A keeper's question, answered: numbers and remarks; words and pictures when asked for.

    Attributes
    ----------
    log_name : str
        Where the numbers came from.
    remarks : tuple of Remark
        What has to be said beside the numbers, most important first.
    """

    key: ClassVar[str] = ""

    log_name: str
    remarks: tuple[Remark, ...] = ()

    @property
    def headline(self) -> str:
        """The answer in one plain sentence, never above its claim level."""
        from rearkit.report.wording import headline

        return headline(self)

    @property
    def limits(self) -> tuple[str, ...]:
        """What this cannot show, one sentence each."""
        from rearkit.report.wording import limits

        return limits(self)

    def table(self) -> pd.DataFrame:
        """Return a tidy frame, one row a unit or an estimate."""
        raise NotImplementedError

    def facts(self) -> dict[str, Any]:
        """Return a flat dict of numbers, JSON-safe, at full precision."""
        raise NotImplementedError

    def figure(self, which: str = "main") -> Picture:
        """Draw the answer; the picture carries its own alt text."""
        from rearkit.report.figures import draw

        return draw(self, which)

    def readable(self, which: str = "main") -> ReadableTable:
        """Lay a table of the answer out for people: rounded, in words, escaped."""
        from rearkit.report.wording.tables import readable

        return readable(self, which)

    def say(self, which: str) -> Prose | AnswerBox:
        """Say one part of the answer in sentences."""
        from rearkit.report.wording.prose import say

        return say(self, which)

    def remark(self, code: str) -> Remark | None:
        """Return the first remark with this code, if there is one."""
        return next((r for r in self.remarks if r.code == code), None)

    def kept(self) -> dict[str, Any]:
        """Return what ``results.json`` keeps: the name, the facts and the headline, JSON-safe."""
        facts = self.facts() | {"headline": self.headline}
        return {"name": self.key, "facts": json_safe(facts)}

    def _repr_html_(self) -> str:
        from rearkit.report.wording import answer_html

        return answer_html(self)

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
