"""The unit spellings that pressfuncs takes, and their factors to core units.

`units.toml` lists the spellings and pint computes the factors, once, into `generated/unit_factors.json`:
so a bare number never pays for pint, and the Calc extension needs none.
"""

from __future__ import annotations

import json
import math
import re
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from pressfuncs import errors

FACTORS_FILE = Path(__file__).parent / "generated" / "unit_factors.json"

_QUANTITY = re.compile(
    r"""\s*(?P<sign>[-+]?)\s*
    (?:(?P<whole>\d+)\s+(?P<mixed_over>\d+)/(?P<mixed_under>\d+)   # 1 3/8 in
      |(?P<over>\d+)/(?P<under>\d+)                                # 3/8 in
      |(?P<number>(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?))           # 9.525 mm
    \s*(?P<unit>((?<=\s)1/)?[^\d\s.,+-].*?)?\s*""",  # the unit may be 1/min
    re.VERBOSE,
)


@lru_cache(maxsize=1)
def table() -> dict[str, dict[str, Any]]:
    """Return the table: dimension -> {"name", "factors", "pint", "refused"}, the last three by spelling."""
    loaded: dict[str, dict[str, Any]] = json.loads(FACTORS_FILE.read_text(encoding="utf-8"))
    return loaded


@cache
def factor(spelling: str, dimension: str | None = None) -> float:
    """Return how many core units one `spelling` is; KeyError if the table does not hold it.

    >>> factor("in")
    25.4
    """
    for name, entry in table().items():
        if dimension in (None, name) and spelling in entry["factors"]:
            return float(entry["factors"][spelling])
    raise KeyError(spelling)


def pint_name(spelling: str, dimension: str) -> str:
    """Return what a spelling is called in pint.

    >>> pint_name("tonf_us", "force")
    'force_ton'
    """
    name: str = table()[dimension]["pint"][spelling]
    return name


def dimensions_of(spelling: str) -> tuple[str, ...]:
    """Return the dimensions that know this spelling, as they are named in a sentence."""
    return tuple(entry["name"] for entry in table().values() if spelling in entry["factors"])


@lru_cache(maxsize=4096)
def factor_for(spelling: str, dimension: str, argument: str, examples: str) -> float:
    """Return the factor of a spelling for an argument of this dimension; `examples` are units to suggest.

    Raises:
        WrongUnit: the spelling is of another dimension, ambiguous or unknown; the sentence gives the cure.
    """
    entry = table()[dimension]
    if spelling in entry["factors"]:
        return float(entry["factors"][spelling])
    if spelling in entry["refused"]:
        why = f'{argument}: "{spelling}" is not clear for a {entry["name"]}: {entry["refused"][spelling]}'
    else:
        others = dimensions_of(spelling)
        found = f"{spelling} is a {others[0]}" if others else f'unit "{spelling}" is not known'
        article = "an" if entry["name"][0] in "aeiou" else "a"
        why = f"{argument}: {found}, {article} {entry['name']} is wanted ({examples}, ...)"
    raise errors.WrongUnit(why, argument=argument, value=spelling)


def split_quantity(text: str) -> tuple[float, str] | None:
    """Split "0.125 in" or "1 3/8 in" into its number and its unit spelling; None if it is neither.

    >>> split_quantity("1 3/8 in")
    (1.375, 'in')
    """
    match = _QUANTITY.fullmatch(text)
    if match is None:
        return None
    part = match.groupdict()
    try:
        if part["whole"]:
            size = int(part["whole"]) + int(part["mixed_over"]) / int(part["mixed_under"])
        elif part["over"]:
            size = int(part["over"]) / int(part["under"])
        else:
            size = float(part["number"])
    except (ArithmeticError, ValueError):  # x/0, or more digits than Python reads
        return None
    if size == math.inf:
        return None
    return (-size if part["sign"] == "-" else size), part["unit"] or ""
