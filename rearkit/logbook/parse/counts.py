"""Counts as people write them: "30-36", "~40", "none", "2 doz" become low, best and high."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from rearkit.logbook.parse.names import plain_text

LONGEST_COUNT = 200  # characters; anything longer is a story, not a count
MOST_DIGITS = 9

ASKED = frozenset(
    [
        "dozen",
        "word",
        "letter",
        "text",
        "reversed",
        "sum",
        "thousands",
        "fraction",
        "negative",
        "vague",
        "unreadable",
    ]
)
RANGED = frozenset(("range", "approximate", "at_least", "below"))


@dataclass(frozen=True, kw_only=True)
class Count:
    """A number of fish that is known only so far.

    Parameters
    ----------
    low, best, high : float
        The least, the most likely and the greatest number; ``high`` may be infinite.
    text : str
        The count as it was written.
    """

    low: float
    best: float
    high: float
    text: str

    @property
    def exact(self) -> bool:
        """Whether the count is one number."""
        return self.low == self.high


@dataclass(frozen=True, kw_only=True)
class CountReading:
    """What was made of one count.

    Parameters
    ----------
    count : Count or None
        None if the number is not known.
    kind : str
        How it was read: ``blank``, ``not_known``, ``unknown``, ``plain``, ``none``, ``unit``,
        ``decimal``, one of ``RANGED``, or one of ``ASKED``, which the keeper should confirm.
    """

    count: Count | None
    kind: str

    @property
    def asked(self) -> bool:
        """Whether the keeper should confirm this reading."""
        return self.kind in ASKED


_UP_TO_19 = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
    "fifteen sixteen seventeen eighteen nineteen"
)
_UP_TO_90 = "twenty thirty forty fifty sixty seventy eighty ninety"
_SMALL, _TENS = _UP_TO_19.split(), _UP_TO_90.split()
_NUMBER_WORDS = {word: n for n, word in enumerate(_SMALL)} | {
    word: 10 * n for n, word in enumerate(_TENS, start=2)
}
_NUM = r"(\d+(?:[.,]\d+)?)"
_APPROX = r"(?:~|≈|approximately|approx\.?|about|abt\.?|circa|ca\.?|c\.?|around|roughly|est\.?)"
_UNITS = re.compile(
    r"\b(?:fry|fish|fishes|larvae|eggs?|pcs|pieces|dead|died|alive|removed|found|seen|left)\b"
)
_BLANK = frozenset(("", "-", "--", "---", "n/a", "na", "."))
_NOT_KNOWN = frozenset(("?", "??", "???"))
_UNKNOWN = frozenset(("unknown", "not known", "unk", "don't know", "dont know", "unsure"))
_VAGUE = frozenset(
    [
        "lots",
        "many",
        "some",
        "few",
        "a few",
        "several",
        "loads",
        "most",
        "hundreds",
        "lots of",
        "a lot",
        "all",
        "couple",
        "a couple",
    ]
)
_NONE = frozenset(("none", "nil", "zero", "nothing", "no", "null"))


@lru_cache(maxsize=4096)
def read_count(text: str, *, approx_share: float = 0.10) -> CountReading:
    """Read a count as people write it.

    Parameters
    ----------
    text : str
        What stands in the cell.
    approx_share : float
        How far "about 40" may be off, as a share of the number.

    Returns
    -------
    CountReading
        The count, or None where the number is not known, and how it was read.

    Examples
    --------
    >>> read_count("30-36").count
    Count(low=30.0, best=33.0, high=36.0, text='30-36')
    >>> read_count("about 40").count.high
    44.0
    >>> read_count("lots").count is None
    True
    """
    written = text.strip()
    if len(text) > LONGEST_COUNT or any(unicodedata.category(c) == "No" for c in text):
        return CountReading(count=None, kind="unreadable")
    s = plain_text(text)
    for words, kind in (
        (_BLANK, "blank"),
        (_NOT_KNOWN, "not_known"),
        (_UNKNOWN, "unknown"),
        (_VAGUE, "vague"),
    ):
        if s in words:
            return CountReading(count=None, kind=kind)
    found = _read(s, approx_share)
    if found is None:
        return CountReading(count=None, kind="unreadable")
    kind, low, best, high = found
    if kind == "negative":
        return CountReading(count=None, kind=kind)
    return CountReading(count=Count(low=low, best=best, high=high, text=written), kind=kind)


Found = tuple[str, float, float, float]


def _read(s: str, share: float) -> Found | None:
    """Take doubts, remarks and units off, then try every way of writing a number."""
    bare, remark = _without_remark(s)
    doubtful = bare.endswith("?")
    bare = bare.rstrip("? ")
    unitless = " ".join(_UNITS.sub(" ", bare).split())
    had_unit = unitless != bare
    if had_unit and unitless == "no":
        unitless = "none"
    for form in _FORMS:
        found = form(unitless, share)
        if found is not None:
            break
    else:
        found = _leading_number(unitless)
    if found is None:
        return None
    if doubtful and found[0] in ("plain", "word", "text", "letter"):
        wide = _approximate(found[2], share)
        found = wide if found[0] == "plain" else (found[0], *wide[1:])
    return _with_extras(found, remark=remark, had_unit=had_unit, doubtful=doubtful)


def _with_extras(found: Found, *, remark: bool, had_unit: bool, doubtful: bool) -> Found:
    """Decide what the words around a number mean for how sure its reading is."""
    if remark or (had_unit and doubtful):
        return ("text", *found[1:]) if found[0] not in ASKED else found
    if had_unit and found[0] in ("plain", "none"):
        return ("unit", *found[1:])
    return found


def _without_remark(s: str) -> tuple[str, bool]:
    """Take a remark in brackets off, if it holds no number of its own."""
    match = re.fullmatch(r"([^()]*\S)\s*\(([^()\d]*)\)", s)
    return (match[1], True) if match else (s, False)


def _value(digits: str) -> float:
    return float(digits.replace(",", "."))


def _same(kind: str, n: float) -> Found:
    return kind, n, n, n


def _short(s: str) -> bool:
    return all(len(run) <= MOST_DIGITS for run in re.findall(r"\d+", s))


def _plain(s: str, share: float) -> Found | None:
    if re.fullmatch(r"[1-9]\d{0,2}(?:[.,' ]\d{3})+", s) and _short(s):
        return _same("thousands", float(re.sub(r"\D", "", s)))
    match = re.fullmatch(r"\+?" + _NUM, s)
    if not match or not _short(s):
        return None
    n = _value(match[1])
    if not n.is_integer():
        return _same("fraction", n)
    return _same("decimal" if "," in s else "plain", n)


def _none(s: str, share: float) -> Found | None:
    return _same("none", 0.0) if s in _NONE else None


def _approx(s: str, share: float) -> Found | None:
    match = re.fullmatch(rf"{_APPROX}\s*{_NUM}", s)
    match = match or re.fullmatch(rf"{_NUM}\s*-?\s*(?:ish|or so|approx\.?|~|est\.?)", s)
    return _approximate(_value(match[1]), share) if match and _short(s) else None


def _approximate(n: float, share: float) -> Found:
    return "approximate", round(n - share * n, 9), n, round(n + share * n, 9)


def _range(s: str, share: float) -> Found | None:
    joint = r"\s*(?:-|/|\.\.\.?|…|\bto\b|\bor\b|\buntil\b)\s*"
    match = re.fullmatch(rf"(?:{_APPROX}\s*)?{_NUM}{joint}{_NUM}\s*-?(?:ish)?", s)
    match = match or re.fullmatch(rf"between\s*{_NUM}\s*(?:and|-|to)\s*{_NUM}", s)
    if not match or not _short(s):
        return None
    low, high = _value(match[1]), _value(match[2])
    if low > high:
        return "reversed", high, (low + high) / 2.0, low
    return "range", low, (low + high) / 2.0, high


def _plus_minus(s: str, share: float) -> Found | None:
    match = re.fullmatch(rf"{_NUM}\s*(?:±|\+/-|\+-)\s*{_NUM}", s)
    if not match or not _short(s):
        return None
    n, off = _value(match[1]), _value(match[2])
    return ("range", n - off, n, n + off) if off <= n else None


def _open_above(s: str, share: float) -> Found | None:
    match = re.fullmatch(rf"(?:>=|=>|≥|at least|min\.?|minimum)\s*{_NUM}", s)
    match = match or re.fullmatch(rf"{_NUM}\s*(?:\+|or more|plus|and up|and more)", s)
    more = re.fullmatch(rf"(?:>|more than|over)\s*{_NUM}", s)
    if not (match or more) or not _short(s):
        return None
    n = _value(match[1]) if match else math.floor(_value(more[1])) + 1.0  # type: ignore[index]
    return "at_least", n, n, math.inf


def _below(s: str, share: float) -> Found | None:
    match = re.fullmatch(rf"(?:<=|=<|≤|up to|at most|max\.?|maximum)\s*{_NUM}", s)
    less = re.fullmatch(rf"(?:<|less than|fewer than|under|below)\s*{_NUM}", s)
    if not (match or less) or not _short(s):
        return None
    high = _value(match[1]) if match else math.ceil(_value(less[1])) - 1.0  # type: ignore[index]
    return ("below", 0.0, high / 2.0, high) if high >= 0 else ("negative", 0.0, 0.0, 0.0)


def _dozen(s: str, share: float) -> Found | None:
    match = re.fullmatch(r"(half a|an?|[\d.,]+|[a-z]+)?\s*(?:dozens?|doz|dz)\.?", s)
    if not match:
        return None
    how_many = match[1] or "a"
    if how_many == "half a":
        return _same("dozen", 6.0)
    inner = _same("word", 1.0) if how_many in ("a", "an") else _plain(how_many, share)
    inner = inner or _word(how_many, share)
    return _same("dozen", 12.0 * inner[2]) if inner else None


def _word(s: str, share: float) -> Found | None:
    if s in _NUMBER_WORDS:
        return _same("word", float(_NUMBER_WORDS[s]))
    match = re.fullmatch(rf"({'|'.join(_TENS)})[ -]?({'|'.join(_SMALL[1:10])})", s)
    return (
        _same("word", float(_NUMBER_WORDS[match[1]] + _NUMBER_WORDS[match[2]])) if match else None
    )


def _letters(s: str, share: float) -> Found | None:
    """Read letters that look like figures: O for 0, l and I for 1."""
    if not re.fullmatch(r"[\doli]+", s) or not re.search(r"[\do]", s) or not _short(s):
        return None
    digits = s.translate(str.maketrans("oli", "011"))
    return _same("letter", float(digits)) if len(digits) <= MOST_DIGITS else None


def _sum(s: str, share: float) -> Found | None:
    if not re.fullmatch(r"\d+(?:\s*\+\s*\d+)+", s) or not _short(s):
        return None
    return _same("sum", float(sum(int(part) for part in re.findall(r"\d+", s))))


def _negative(s: str, share: float) -> Found | None:
    return _same("negative", 0.0) if re.fullmatch(rf"-\s*{_NUM}", s) else None


def _leading_number(s: str) -> Found | None:
    """Read "2 i think": one number at the front and words, but no other number, behind it."""
    match = re.fullmatch(rf"{_NUM}(?=\W)[^\d]*[a-z][^\d]*", s)
    return _same("text", _value(match[1])) if match and _short(s) else None


_FORMS: tuple[Callable[[str, float], Found | None], ...] = (
    _plain,
    _none,
    _approx,
    _range,
    _plus_minus,
    _open_above,
    _below,
    _dozen,
    _word,
    _letters,
    _sum,
    _negative,
)
