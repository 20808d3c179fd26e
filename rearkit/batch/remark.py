"""What has to be said beside the numbers of a batch, a design or an answer, before it has words."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Remark:
    """Something to be said: a code that the words know, and the values that they need.

    Attributes
    ----------
    code : str
        A key of ``rearkit.words.remarks.SENTENCES`` or of an answer's own ``sentences``.
    values : dict
        What the sentence names.
    variant : str
        Which of the sentences of a code that has several; empty where it has one.
    """

    code: str
    values: dict[str, Any] = field(default_factory=dict)
    variant: str = ""
