"""Words that no claim level allows, and words that need a level of at least so much."""

from __future__ import annotations

import re

NEVER = (
    r"\b(because|caus\w+|effect|prov(es?|en|ed)|proof|significan\w+|due to|thanks to|improv\w+|"
    r"helps?|works?|leads? to|results? in|no difference|no effect|clearly|certainly)\b"
)
NEEDS = {
    1: r"\bpattern\b",
    2: r"\b(association|goes? together|goes with|go together)\b",
    3: r"\bhint\b",
    4: r"\b(fair test|kept to|kept away|no worse|neither better|better|worse)\b",
}


def above(text: str, level: int) -> list[str]:
    """List the words of a sentence that its level does not allow."""
    found = re.findall(NEVER, text.lower())
    for needed, words in NEEDS.items():
        if needed > level:
            found += re.findall(words, text.lower())
    return [str(f) for f in found]
