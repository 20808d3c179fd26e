"""Numbers in words, and text reduced to what is compared."""

from __future__ import annotations

import re
import unicodedata

SMALL = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
NUMBER_WORDS = {word: n for n, word in enumerate(SMALL)} | {
    word: 10 * n for n, word in enumerate(TENS, start=2)
}


def plain_text(text: str) -> str:
    """Reduce text to what is compared: one kind of dash, single spaces, small letters."""
    text = unicodedata.normalize("NFKC", text).casefold()
    text = re.sub("[\u2010-\u2015\u2212\u00ad\ufe58\ufe63\uff0d]", "-", text)
    text = "".join(c for c in text if unicodedata.category(c) != "Cf")
    return " ".join(text.split())
