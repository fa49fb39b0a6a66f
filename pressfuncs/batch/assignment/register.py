"""What a register holds when it is read: figures in core units, texts, and what could not be used.

A bad row never stops the rest and never counts: it is set aside with a sentence. A missing figure stays
missing (NaN), so that a check that needs it says "not checked".
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from pressfuncs.batch.assignment.fields import fields

Floats = np.ndarray[Any, np.dtype[np.float64]]

UNREAD = "?"
"""Text of a field that could not be read; no kind of press or material is called so."""


@dataclass(frozen=True)
class Trouble:
    """A row or a column of a register that cannot be used, or only in part."""

    register: str
    place: str
    name: str
    sentence: str


@dataclass
class Register:
    """A register read; all columns have the length of `ids`."""

    kind: str
    source: str
    ids: list[str] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    """row of each entry in its file"""
    numbers: dict[str, Floats] = field(default_factory=dict)
    """figures in core units by field; NaN where none is given"""
    texts: dict[str, list[str]] = field(default_factory=dict)
    """texts by field; "" where none is given"""
    series: dict[str, list[tuple[float, ...]]] = field(default_factory=dict)
    """figures of fields that take several, in core units; () where none is given"""
    unread: dict[str, np.ndarray[Any, np.dtype[np.bool_]]] = field(default_factory=dict)
    """entries whose figure is there and could not be read: neither given nor blank, so no default stands for it"""
    blanks: dict[str, float | str] = field(default_factory=dict)
    """what the shop says a blank means in its registers, in core units"""
    headings: dict[str, str] = field(default_factory=dict)
    """field -> the heading it was read from"""
    units: dict[str, str] = field(default_factory=dict)
    carried: dict[str, list[Any]] = field(default_factory=dict)
    """columns that mean nothing to the checks, as they are"""
    unknown: dict[str, str] = field(default_factory=dict)
    """headings of carried columns that are not known -> the nearest known heading, "" where none is near"""
    as_text: dict[str, tuple[int, str]] = field(default_factory=dict)
    """headings of columns in which a sheet stores numbers as text -> how many, and the first cell"""
    troubles: list[Trouble] = field(default_factory=list)
    system: str = "metric"
    """units that sentences about it are written in"""
    noted: set[Trouble] = field(default_factory=set, repr=False)
    """what was found by comparing figures, so that it is said once"""

    def __len__(self) -> int:
        """Return how many entries can be used."""
        return len(self.ids)

    def note(self, place: str, name: str, sentence: str) -> None:
        """Add a trouble, unless it was noted before."""
        trouble = Trouble(self.kind, place, name, sentence)
        if trouble not in self.noted:
            self.noted.add(trouble)
            self.troubles.append(trouble)

    def number(self, name: str) -> Floats:
        """Return a field's figures: as given, else what the shop or the field says of a blank, else NaN."""
        blank = self.blanks.get(name, fields(self.kind)[name].default)
        given = self.numbers.get(name, np.full(len(self), np.nan))
        filled = given if blank is None else np.where(np.isnan(given), float(blank), given)
        return np.where(self.unread[name], np.nan, filled) if name in self.unread else filled

    def text(self, name: str) -> list[str]:
        """Return a field's texts, "" where none is given and UNREAD where it could not be read."""
        blank = str(self.blanks.get(name, ""))
        texts = [text or blank for text in self.texts.get(name, [""] * len(self))]
        unread = self.unread.get(name, np.zeros(len(self), bool))
        return [UNREAD if bad else text for text, bad in zip(texts, unread)]

    def several(self, name: str) -> list[tuple[float, ...]]:
        """Return the figures of a field that takes several, () where none is given, (NaN,) where not read."""
        given = self.series.get(name, [()] * len(self))
        unread = self.unread.get(name, np.zeros(len(self), bool))
        return [(np.nan,) if bad else figures for figures, bad in zip(given, unread)]


def noun(kind: str) -> str:
    """Return what an entry of a register is called in a sentence.

    >>> noun("drawing")
    'die'
    """
    return "die" if kind == "drawing" else kind
