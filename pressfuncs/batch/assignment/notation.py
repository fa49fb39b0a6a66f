"""Numbers that stand in a register as texts: with points or commas, thousands marked or not, and units behind."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_TEXT = re.compile(
    r"\s*(?P<sign>[-+]?)(?P<digits>[0-9][0-9.,'\u2019\u00a0\u202f]*|[.,][0-9]+)(?P<power>[eE][-+]?[0-9]+)?"
    r"\s*(?P<unit>1/[^0-9\s].*?|[^\s0-9.,+\-/'].*?)?\s*"
)
_SPACED = re.compile(r"[0-9]{1,3}(?:['\u2019\u00a0\u202f][0-9]{3})+(?:[.,][0-9]+)?")
_ONE_MARK = re.compile(r"([0-9]*)([.,])([0-9]*)")
_EITHER = re.compile(r"[-+]?[1-9][0-9]{0,2}\.[0-9]{3}")
_THOUSANDS = {
    ".": re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?"),
    ",": re.compile(r"[0-9]{1,3}(?:\.[0-9]{3})+(?:,[0-9]+)?"),
}
"""Numbers with thousands marked, by their decimal mark."""
_INCH = frozenset(
    ("in", "in.", "inch", "inches", '"', "\u2033", "'", "ft", "lbf", "psi", "ksi", "lb", "lbs", "tonf_us")
)
"""Units of shops that write no decimal commas."""


@dataclass(frozen=True)
class Reading:
    """What a text says with a decimal point and with a decimal comma; None where it says nothing so."""

    point: float | None
    comma: float | None
    mark: str
    """the only mark in it, where it could be either: "1.200" """
    unit: str


def reading(text: str) -> Reading | None:
    """Return what a text says as a number; None if it is no decimal number.

    >>> found = reading("1.200 kN")
    >>> found.point, found.comma, found.unit
    (1.2, 1200.0, 'kN')
    """
    match = _TEXT.fullmatch(text)
    if match is None:
        return None
    digits, unit = match["digits"], match["unit"] or ""
    if _SPACED.fullmatch(digits):
        digits = re.sub(r"['\u2019\u00a0\u202f]", "", digits)
    sign, power = match["sign"], match["power"] or ""

    def number(decimal: str) -> float | None:
        one = _ONE_MARK.fullmatch(digits)
        if digits.isdigit() or (one and one[2] == decimal and (one[1] or one[3]) and (one[3] or decimal == ".")):
            return float(sign + digits.replace(",", ".") + power)
        if not power and not digits.startswith("0") and _THOUSANDS[decimal].fullmatch(digits):
            return float(sign + digits.replace("." if decimal == "," else ",", "").replace(",", "."))
        return None

    point, comma = number("."), number(",")
    if point is None and comma is None:
        return None
    return Reading(point, comma, "." if "." in digits else "," if "," in digits else "", unit)


@dataclass
class Notation:
    """How a register writes its decimals: as the user says, else as its clear numbers show."""

    said: str | None = None
    """point or comma"""
    usual: str = ""
    """mark that is taken where nothing shows it: a point in files with commas between their cells"""
    points: bool = False
    commas: bool = False

    def learn(self, texts: Iterable[str]) -> None:
        """Note which marks clear numbers have."""
        for text in texts:
            if self.points and (self.commas or "," not in text):
                continue
            found = reading(text)
            if found is not None and found.mark:
                self.points |= found.comma is None
                self.commas |= found.point is None

    def takes_points(self, text: str) -> bool:
        """Whether a number that is written with a point, or none, is sure to be one with a decimal point."""
        if self.said is None and (self.commas or not (self.points or self.usual)):
            return _EITHER.fullmatch(text) is None
        return self.said != "comma" or "." not in text

    def value(self, found: Reading) -> float | None:
        """Return the number; None if it may be two, or has a mark that cannot be there.

        A clear decimal comma is a slip in a file with commas between its cells and points in its numbers.
        """
        if self.said is not None:
            return found.point if self.said == "point" else found.comma
        if found.point is None and self.points and self.usual:
            return None
        if found.point is None or found.comma is None or found.point == found.comma:
            return found.comma if found.point is None else found.point
        if self.commas:
            mark = "" if self.points else ","
        else:
            mark = "." if self.points or found.unit in _INCH else self.usual
        return None if found.mark != mark else found.point if mark == "." else found.comma
