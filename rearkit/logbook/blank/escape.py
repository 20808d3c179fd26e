"""Keep text from being taken for a formula by the program that opens a written file."""

from __future__ import annotations

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def looks_like_formula(value: object) -> bool:
    """Tell whether a spreadsheet might take this text for a formula.

    Parameters
    ----------
    value : object
        What is to be written in a cell. A number is never a formula, nor is text that is one.

    Returns
    -------
    bool

    Examples
    --------
    >>> looks_like_formula("=1+1"), looks_like_formula("-2"), looks_like_formula(-2)
    (True, False, False)
    """
    if not isinstance(value, str) or not value.lstrip(" ").startswith(FORMULA_STARTS):
        return False
    try:
        float(value)
    except ValueError:
        return value.strip() not in ("-", "+")
    return False


def csv_safe(value: object) -> object:
    """Put an apostrophe before text that a spreadsheet might take for a formula.

    Parameters
    ----------
    value : object
        What is to be written in a cell of a CSV file.

    Returns
    -------
    object
        The value itself, or the text with an apostrophe before it.

    Examples
    --------
    >>> csv_safe("=HYPERLINK(1)"), csv_safe("K1-a"), csv_safe(3)
    ("'=HYPERLINK(1)", 'K1-a', 3)
    """
    return f"'{value}" if looks_like_formula(value) else value


__all__ = ["csv_safe", "looks_like_formula"]
