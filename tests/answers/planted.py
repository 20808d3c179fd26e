"""A limit is planted in a log to be said, and taken out of it to be silent."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from rearkit.answers.answer import Answer
from rearkit.words.remarks import SENTENCES, sentence
from tests.answers.claim_levels import NEVER

Ask = Callable[[Path], Answer]


@dataclass(frozen=True, kw_only=True)
class Planted:
    """An answer that has to say a limit, and the like of it that has not."""

    said: Ask
    silent: Ask


def keys_of(answer: Answer) -> list[str]:
    """List the templates that the remarks of an answer are said by."""
    return [f"{r.code}.{r.variant}" if r.variant else r.code for r in answer.remarks]


@cache
def keys_of_another(ask: Ask) -> frozenset[str]:
    """List the templates of an answer that several limits are silent in; it is asked once."""
    with TemporaryDirectory() as folder:
        return frozenset(keys_of(ask(Path(folder) / "log")))


def own_keys(answers: type[Answer]) -> set[str]:
    """Return the templates of a question that no other one shares."""
    return set(answers.sentences) - set(SENTENCES)


def check_planted(key: str, planted: Mapping[str, Planted], folder: Path) -> None:
    """Check that a limit is said, in a whole sentence, where it is planted and nowhere else."""
    answer = planted[key].said(folder / "said")
    keys = keys_of(answer)
    assert key in keys
    text = sentence(answer.remarks[keys.index(key)], answer.sentences, answer.written)
    assert text in answer.limits
    assert text[0].isupper() or answer.sentences[key].startswith("{")  # a name is as it is
    assert text.endswith(".")
    names = text.replace("size_to_move_mm", "").replace("most_fish_per_litre", "")
    assert not re.search(r"[{}\[]|\b(None|nan|inf)\b|_", names.replace("(area_percent)", "")), text
    assert not re.search(NEVER, text.lower())
    assert key not in keys_of_another(planted[key].silent)
