"""What the words of a register say of a press: its drive, where the drive stands, and its frame."""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

import numpy as np

from pressfuncs.batch.assignment.registers import UNREAD, Floats, Register
from pressfuncs.functions.decision import FRAMES, Frame

HYDRAULIC, MECHANICAL, UNKNOWN = 1.0, 2.0, 0.0
"""Drives as numbers; UNKNOWN where none is written, NaN where the words are not clear."""

_WORDS = {
    name: re.compile(pattern)
    for name, pattern in {
        "hydraulic": r"hydraul|hidraul|idraul",
        "crank": r"mechan|mecan|meccan|crank|ec?centr|excent|exzent|kurbel|manivel|\b(un)?geared|flywheel",
        "other": r"knuckle|\blink|toggle|kniehebel|genouill|ginocch|rodiller",
        "servo": r"servo",
        "strange": r"pneumat|screw|spindel|friction|percussion|hammer|\bair\b",
        "under": r"\bunder ?driv|\bbottom ?driv|unterantrieb",
        "top": r"\btop ?driv|\boverhead|\bcrown|oberantrieb",
        "C-frame": r"\bc ?frame|\bgap ?frame|\bob[is]\b|\bc ?gestell|col de cygne|collo di cigno|cuello de cisne",
        "straight side": r"\bstraight ?side|\bh ?frame|\bo ?frame|zweistander|doppelstander|doppio montante",
        "column": r"\b(two|four|2|4) ?(posts?|columns?)\b|\bcolumns?\b|\bposts?\b|\btie ?rods?\b|saulen",
    }.items()
}


class Kind(NamedTuple):
    """What is known of a press by its words."""

    drive: float = UNKNOWN
    plain_crank: float = 1.0
    """1 where the slide moves as by a plain crank, if the drive is mechanical"""
    under: float = np.nan
    """1 with the crank below, 0 above, NaN where it is not said"""
    frame: Frame = "unknown"


def kind_of(text: str) -> Kind:
    """Read what a text says of a press.

    >>> kind_of("Hydraulic C-frame"), kind_of("gap frame").drive == UNKNOWN
    (Kind(drive=1.0, plain_crank=0.0, under=nan, frame='C-frame'), True)
    """
    if UNREAD in text:
        return Kind(np.nan, 0.0)
    spelled = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    plain = " ".join(re.split(r"[\W_]+", spelled)).strip()
    if not plain:
        return Kind()
    said = {name for name, pattern in _WORDS.items() if pattern.search(plain)}
    frames = [frame for frame in FRAMES if frame in said]
    frame: Frame = frames[0] if len(frames) == 1 else "unknown"
    under = np.nan if ("under" in said) == ("top" in said) else float("under" in said)
    mechanical = bool(said & {"crank", "other"}) or ("servo" in said and "hydraulic" not in said)
    if "strange" in said or ("hydraulic" in said and mechanical) or not said:
        return Kind(np.nan, 0.0, under, frame)
    if "hydraulic" in said:
        return Kind(HYDRAULIC, 0.0, under, frame)
    if mechanical or "under" in said or "top" in said:
        return Kind(MECHANICAL, 0.0 if said & {"other", "servo"} else 1.0, under, frame)
    return Kind(UNKNOWN, 1.0, under, frame)


def kinds(register: Register, *names: str) -> list[Kind]:
    """Return what the texts of these fields say together of each entry; what is not clear is noted once."""
    texts = [", ".join(filter(None, of)) for of in zip(*(register.text(name) for name in names))]
    found = {text: kind_of(text) for text in dict.fromkeys(texts)}
    for text, kind in found.items():
        if np.isnan(kind.drive):
            sentence = "names no drive that is known, or two at once: write hydraulic or mechanical"
            register.note(f'kind of press "{text}"', "", sentence)
    return [found[text] for text in texts]


def column(of: list[Kind], name: str) -> Floats:
    """Return one property of each kind as numbers."""
    return np.array([getattr(kind, name) for kind in of], dtype=float)
