"""Text reduced to what is compared: one name however it is spelled, and the nearest known one."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from functools import lru_cache

# Letters of other alphabets that look like Latin ones (after folding to small letters).
_LOOK_ALIKE = str.maketrans(
    "аеорсухікмтвнјѕԁһԛԝ" + "αβεικνορτυχγ" + "ı" + "‘’`´′" + "“”",
    "aeopcyxikmtbhjsdhqw" + "abeiknoptuxy" + "i" + "'''''" + '""',
)
_LONGEST = 80


def plain_text(text: str) -> str:
    """Reduce text to what is compared: one kind of dash, single spaces, small letters."""
    text = unicodedata.normalize("NFKC", text).casefold()
    text = re.sub("[\u2010-\u2015\u2212\u00ad\ufe58\ufe63\uff0d]", "-", text)
    text = "".join(c for c in text if unicodedata.category(c) != "Cf")
    return " ".join(text.split())


def tidy_name(text: str) -> str:
    """Take needless spaces out of a name."""
    return " ".join(text.split())


@lru_cache(maxsize=8192)
def name_key(text: str) -> str:
    """Reduce a name to what is compared: no case, no needless spaces, look-alikes made Latin.

    Examples
    --------
    >>> name_key("K1 – Shade ") == name_key("k1-shade")
    True
    >>> name_key("K1 shade") == name_key("K1-shade")
    False
    """
    return re.sub(r"\s*-\s*", "-", plain_text(text).translate(_LOOK_ALIKE))


class Names:
    """The spellings of some names, and the one that stands for each.

    Parameters
    ----------
    preferred : iterable of str
        Spellings that win, such as those of the sheet Batches.
    """

    def __init__(self, preferred: Iterable[str] = ()) -> None:
        self._spellings: dict[str, Counter[str]] = {}
        self._preferred: dict[str, Counter[str]] = {}
        for text in preferred:
            self._preferred.setdefault(name_key(text), Counter())[tidy_name(text)] += 1

    def add(self, text: str) -> None:
        """Take note of one more spelling."""
        self._spellings.setdefault(name_key(text), Counter())[tidy_name(text)] += 1

    def __contains__(self, text: object) -> bool:
        """Whether a name is known, however it is spelled."""
        key = name_key(str(text))
        return key in self._preferred or key in self._spellings

    def spelling(self, text: str) -> str:
        """Give the spelling that stands for a name: the preferred, else the commonest one."""
        key = name_key(text)
        known = self._preferred.get(key) or self._spellings.get(key)
        if not known:
            return tidy_name(text)
        return min(known, key=lambda spelling: (not spelling.isascii(), -known[spelling], spelling))

    def nearest(self, text: str) -> str | None:
        """Give the known name that is spelled most like this one, or None."""
        known = {key: key for key in (*self._preferred, *self._spellings)}
        if len(text) > _LONGEST:
            return None
        loose = {re.sub(r"\W|_", "", key).translate(_FIGURES): key for key in known}
        wanted = re.sub(r"\W|_", "", name_key(text)).translate(_FIGURES)
        found = difflib.get_close_matches(wanted, sorted(loose), n=1, cutoff=0.6)
        return self.spelling(loose[found[0]]) if found else None


_FIGURES = str.maketrans("oli", "011")
