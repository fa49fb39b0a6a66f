"""Finding the headings of a register: below titles, under a row of groups, with units in a row of their own."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from pressfuncs.batch.assignment.fields import Heading, NotUsed, bare_unit, group_words, is_unit
from pressfuncs.batch.assignment.sources import Grid
from pressfuncs.quantities import TEXT

_WITHIN = 30  # rows from the top in which the headings are looked for
_MOST_WORDS = 4  # of the name of a group; a longer text is a title

Read = Callable[[str], "Heading | NotUsed | None"]


@dataclass(frozen=True)
class Head:
    """The headings of a grid."""

    row: int
    """place of the row that holds them"""
    first: int
    """place of the first row below"""
    texts: list[str]
    headings: list[Heading | NotUsed | None]

    @property
    def known(self) -> int:
        """How many say something."""
        return sum(heading is not None for heading in self.headings)

    @property
    def has_id(self) -> bool:
        """Whether one of them is that of the name of an entry."""
        return any(isinstance(h, Heading) and h.field.name == "id" for h in self.headings)


def find_head(grids: Sequence[Grid], register: str, read: Read) -> tuple[Grid, Head] | None:
    """Return the grid with the most headings that are known, and these; None if none holds a register."""
    best: tuple[Grid, Head] | None = None
    for grid in grids:
        for row in range(min(_WITHIN, len(grid.cells)) if not grid.table else 1):
            head = _head(grid, row, register, read)
            if head.known >= 2 and head.has_id and (best is None or head.known > best[1].known):
                best = (grid, head)
    if best is None:
        return None
    return best[0], _with_units_below(*best, read)


def _head(grid: Grid, row: int, register: str, read: Read) -> Head:
    labels = _labels(grid, row)
    texts, headings = [], []
    for c, cell in enumerate(grid.cells[row]):
        text = cell.strip() if isinstance(cell, str) else ""
        label, wide = labels.get(c, ("", False))
        both = f"{label} {text}".strip()
        heading = read(both) if label else None
        if heading is None and text and label:
            both, heading = text, read(text)
            if wide and isinstance(heading, Heading) and not _harmless(label, register):
                why = f'stands under "{label}", so it is not clear whose it is: write it out in one heading'
                heading = NotUsed(f"{why}; the column is not used", (heading.field.name,))
        elif not label:
            heading = read(text) if text else None
        texts.append(both if heading is not None else text or ("" if cell is None else str(cell).strip()))
        headings.append(heading)
    return Head(row, row + 1, texts, headings)


def _labels(grid: Grid, row: int) -> dict[int, tuple[str, bool]]:
    """Return, by column, what stands in the row of groups above, and whether that spans several columns."""
    if row == 0 or grid.table or grid.row_numbers[row] - grid.row_numbers[row - 1] != 1:
        return {}
    above = grid.cells[row - 1]
    texts = {c: " ".join(cell.split()) for c, cell in enumerate(above) if isinstance(cell, str) and cell.strip()}
    if not texts or any(cell is not None and not isinstance(cell, str) for cell in above):
        return {}
    if not grid.merged and len(texts) == 1 and 0 in texts:
        return {}  # a title
    spans = (grid.merged or {}).get(grid.row_numbers[row - 1], [])
    last = len(grid.cells[row]) - 1
    found: dict[int, tuple[str, bool]] = {}
    starts = sorted(texts)
    for c, following in zip(starts, [*starts[1:], last + 1]):
        number = grid.column_numbers[c]
        if spans:
            end = next((c2 for c1, c2 in spans if c1 == number), number)
            covered = [k for k in range(c, last + 1) if number <= grid.column_numbers[k] <= end]
        else:
            covered = list(range(c, following))
        found |= {k: (texts[c], len(covered) > 1) for k in covered}
    if any(len([k for k, label in found.items() if label[0] == text]) == last + 1 for text in texts.values()):
        return {}  # a title over the whole width
    return found


def _harmless(label: str, register: str) -> bool:
    """Whether a label above some headings leaves them what they are."""
    words = re.split(r"[\s,/]+", label.casefold())
    title = len(words) > _MOST_WORDS or any(sign.isdigit() or sign == ":" for sign in label)
    return title or group_words(register).issuperset(words)


def _with_units_below(grid: Grid, head: Head, read: Read) -> Head:
    """Return the headings with the units of a second row, if the next row holds units.

    A unit in the heading itself goes before; where the two differ the column is not used.
    """
    below = grid.cells[head.first] if head.first < len(grid.cells) else []
    words: dict[int, Any] = {c: cell for c, cell in enumerate(below) if cell is not None and str(cell).strip()}
    if not words or not all(isinstance(cell, str) and is_unit(cell) for cell in words.values()):
        return head
    ids = [c for c, h in enumerate(head.headings) if isinstance(h, Heading) and h.field.name == "id"]
    if any(words.get(c, "-") != "-" for c in ids):
        return head  # an entry, whatever it is called
    found = list(head.headings)
    for c, cell in words.items():
        heading, unit = head.headings[c] if c < len(head.headings) else None, bare_unit(cell)
        if isinstance(heading, Heading) and (heading.field.kind is TEXT or heading.stated):
            if heading.field.kind is not TEXT and unit != heading.unit:
                sentence = f'heading "{head.texts[c]}" has the unit {heading.unit}, the row below it {unit}'
                found[c] = NotUsed(f"{sentence}; the column is not used", (heading.field.name,))
        elif c < len(head.texts) and head.texts[c]:
            found[c] = read(f"{head.texts[c]} [{unit}]")
    texts = [
        f"{text} [{bare_unit(words[c])}]" if found[c] is None and c in words else text
        for c, text in enumerate(head.texts)
    ]
    return replace(head, first=head.first + 1, headings=found, texts=texts)
