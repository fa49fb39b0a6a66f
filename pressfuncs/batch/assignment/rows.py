"""What rows and figures of a register may be: rows of totals, ranges of figures."""

from __future__ import annotations

import re

from pressfuncs.batch.assignment.fields import field_entry

_SUM = (
    r"(?:(?:grand|sub|sous|zwischen|gesamt)[ \-]?)*(?:totals?|totale[sn]?|totaux|totali|summen?|sums?|suma|somma"
    r"|somme|subtotali?|subtotales?|gesamt|insgesamt|average|mittelwert|durchschnitt|moyenne|promedio)"
)
_TOTAL = re.compile(rf"{_SUM}(?:[ :].*)?", re.IGNORECASE)
_ALONE = re.compile(
    rf"{_SUM}(?: g[\u00e9e]n[\u00e9e]ral| generale?)?(?: (?:of )?[0-9a-z]{{0,9}})?:?", re.IGNORECASE
)


def is_total(name: str, first: str) -> bool:
    """Whether a row is one of totals, by the name of its entry or by the first text in it.

    >>> is_total("Subtotal 3", ""), is_total("D1", "Total"), is_total("D1", "Total cover plate")
    (True, True, False)
    """
    first = first.strip()
    return bool(_TOTAL.fullmatch(name) or _ALONE.fullmatch(first) or (not name and _TOTAL.fullmatch(first)))


def field_range(kind: str, name: str) -> str:
    """Return the range a field's figures must be in, as fields.toml says it."""
    return str(field_entry(kind, name).get("range", "above 0"))


def out_of_range(value: float, range_: str) -> str:
    """Return what is wrong with a figure, "" if nothing is."""
    if range_ == "any" or (range_ == "may be 0" and value >= 0) or (range_ == "above 0" and value > 0):
        return ""
    if range_ == "share":
        return "" if 0 < value <= 1 else "must be above 0 and at most 1 (85 % is 0.85)"
    if range_ == "share or 0":
        return "" if 0 <= value <= 1 else "must be from 0 to 1 (85 % is 0.85)"
    if range_ == "whole":
        return "" if value >= 1 and value % 1 == 0 else "must be a whole number, 1 or more"
    return "must not be less than 0" if range_ == "may be 0" else "must be greater than 0"
