"""Rows of one layout: registers are filled down, so one pattern fits thousands of rows, and a row costs one match.

A `Layout` is learned from the bytes of a row. Cells that hold no formula may be missing or blank in other rows,
styles and types may differ; formulas must be the same but for the row number, which the pattern demands by going
back to the number of the row itself. Rows that fit no layout are left to whoever reads or writes cell by cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from pressfuncs.batch.addresses import column_index_from_string
from pressfuncs.batch.formulas import LAST_ROW, NotUnderstood, parse
from pressfuncs.batch.stored import resolved

_ROW = re.compile(rb'<row r="([1-9][0-9]{0,6})"[^<>]*(?<!/)>')
_ATTRIBUTES = rb'(?: [A-Za-z][A-Za-z0-9:]*+="[^<>"]*+")*+'
_CELL = re.compile(
    rb'<c r="([A-Z]{1,3})([0-9]+)"(%s)' % _ATTRIBUTES + rb"(?: ?/>|>(?:<f( [^<>]*?)?(?:/>|>([^<]*)</f>))?"
    rb"(?:<v>[^<]*</v>|(<is><t(?: xml:space=\"preserve\")?>[^<]*</t></is>))?</c>)"
)
_CHILD = re.compile(rb' t="shared" si="[0-9]+"')
_REFERENCE = re.compile(rb"(?<![A-Za-z0-9_.$])(\$?[A-Z]{1,3})([1-9][0-9]{0,6})(?![A-Za-z0-9_.(!])")
_VALUE = rb"(?:<v>([^<]*+)</v>)?+"
_TEXT = rb'(?:<v>([^<]*+)</v>|<is><t(?: xml:space="preserve")?>([^<]*+)</t></is>)?+'
_MOST_CELLS = 400
_MOST_LAYOUTS = 24
_PATIENCE = 500
_BLOCK = 2048
"""Rows handed on together; enough to make columns worth their while, and little memory."""


@dataclass(frozen=True)
class Place:
    """One cell of a layout; `group` is the first of its groups in `Layout.reading`: attributes, value, text."""

    column: int
    group: int
    formula: tuple[bytes, ...] | None = None  # the text of the formula as in the file, cut at the row numbers
    attributes: bytes = b""  # those of `<f>`
    inline: bool = False
    head: bytes = b""
    body: bytes = b""

    @property
    def has_formula(self) -> bool:
        """Whether the cell holds a formula."""
        return self.formula is not None

    def formula_in(self, row: int) -> str:
        """Return the formula, without "=", as a row holds it."""
        return resolved((b"%d" % row).join(self.formula or ()).decode("utf-8"))


@dataclass(frozen=True)
class Layout:
    """Rows built alike."""

    places: tuple[Place, ...]

    @cached_property
    def formulas(self) -> tuple[Place, ...]:
        """The cells that hold formulas."""
        return tuple(place for place in self.places if place.has_formula)

    @cached_property
    def reading(self) -> re.Pattern[bytes]:
        """A pattern with a group for the number of the row, and the groups of each place."""
        pieces = [rb'<row r="([1-9][0-9]{0,6}+)"[^<>]*+(?<!/)>']
        for place in self.places:
            value = _TEXT if place.inline else _VALUE
            if place.has_formula:
                pieces.append(rb'<c r="%s\1"(%s)>%s%s</c>' % (place.head, _ATTRIBUTES, place.body, value))
            else:
                pieces.append(rb'(?:<c r="%s\1"(%s)(?: ?/>|>%s</c>))?+' % (place.head, _ATTRIBUTES, value))
        return re.compile(b"".join([*pieces, b"</row>"]))

    @cached_property
    def writing(self) -> re.Pattern[bytes]:
        """A pattern of stretches that stay, each up to the value of a formula cell, and of those values.

        Groups: the number of the row; then for each formula cell the stretch before its value, the attributes of
        the cell, and the value; then what is left of the row.
        """
        pieces = [rb'(?=<row r="([1-9][0-9]{0,6}+)")(<row r="[0-9]++"[^<>]*+(?<!/)>']
        for place in self.places:
            if place.has_formula:
                pieces.append(rb'<c r="%s\1"(%s)>%s)%s(</c>' % (place.head, _ATTRIBUTES, place.body, _VALUE))
            else:
                value = rb"(?:<v>[^<]*+</v>|<is><t(?: xml:space=\"preserve\")?>[^<]*+</t></is>)?+"
                pieces.append(rb'(?:<c r="%s\1"[^<>/]*+(?:/>|>%s</c>))?+' % (place.head, value))
        return re.compile(b"".join([*pieces, b"</row>)"]))


@dataclass(frozen=True)
class Block:
    """Rows of one layout that follow each other: the groups of each, as tuples."""

    layout: Layout
    first: int
    rows: list[tuple[bytes, ...]]


@dataclass(frozen=True)
class Stretch:
    """Bytes from `start` to `end` of the part that fit no layout."""

    start: int
    end: int


def blocks(part: bytes, start: int, end: int, writing: bool = False) -> Iterator[Block | Stretch]:
    """Cut the rows between two positions into blocks of one layout, and stretches of whatever else there is.

    Arguments:
        part: the sheet part
        start: where the first row begins
        end: where the last row has ended
        writing: whether the groups are those of `Layout.writing`
    """
    layouts = _Layouts(part, end, writing)
    layout: Layout | None = None
    rows: list[tuple[bytes, ...]] = []
    first = 0
    at = taken = start
    while at < end:
        match = layouts.match(at)
        if match is None:
            at = _row_after(part, at, end)
            continue
        number = int(match[1])
        goes_on = layout is layouts.current and number == first + len(rows) and len(rows) < _BLOCK and taken == at
        if rows and layout is not None and not goes_on:
            yield Block(layout, first, rows)
            rows = []
        if taken < at:
            yield Stretch(taken, at)
        if not rows:
            first, layout = number, layouts.current
        rows.append(match.groups())
        at = taken = match.end()
    if rows and layout is not None:
        yield Block(layout, first, rows)
    if taken < end:
        yield Stretch(taken, end)


def _row_after(part: bytes, at: int, end: int) -> int:
    """Return where the row after the one that begins at a position begins."""
    following = part.find(b"<row", at + 1, end)
    return end if following < 0 else following


class _Layouts:
    """The layouts met in a part; the one of the last row is tried first."""

    def __init__(self, part: bytes, end: int, writing: bool) -> None:
        self.part = part
        self.end = end
        self.writing = writing
        self.known: list[Layout] = []
        self.current: Layout | None = None
        self._balance = _PATIENCE

    def match(self, at: int) -> re.Match[bytes] | None:
        """Match the row that begins at a position with a layout, which is then the current one."""
        if self._balance < 0:  # a sheet of which no row is like another
            return None
        match = self._try(self.current, at) if self.current is not None else None
        if match is not None:
            return match
        for layout in self._others(at):
            if match := self._try(layout, at):
                self.current = layout
                self._balance += 1
                return match
        self._balance -= 2
        return None

    def _others(self, at: int) -> Iterator[Layout]:
        """Yield the layouts that the row may have: those met before, then that of the row itself."""
        yield from (layout for layout in self.known if layout is not self.current)
        if len(self.known) < _MOST_LAYOUTS:
            layout = layout_of(self.part[at : _row_after(self.part, at, self.end)])
            if layout is not None:
                self.known.append(layout)
                yield layout

    def _try(self, layout: Layout, at: int) -> re.Match[bytes] | None:
        return (layout.writing if self.writing else layout.reading).match(self.part, at, self.end)


def layout_of(row: bytes) -> Layout | None:
    """Return the layout of a row, None if it cannot be had by a pattern."""
    head = _ROW.match(row)
    if head is None or not row.endswith(b"</row>"):
        return None
    number, at, group = head[1], head.end(), 2
    places: list[Place] = []
    while match := _CELL.match(row, at):
        letters, cell_row, _, attributes, formula, inline = match.groups()
        if cell_row != number or len(places) == _MOST_CELLS:
            return None
        column = column_index_from_string(letters.decode())
        if formula is None and attributes is None:
            places.append(Place(column, group, inline=inline is not None, head=letters))
        else:
            child = attributes is not None and not formula and _CHILD.fullmatch(attributes)
            if inline or not (child or (formula and not attributes)):
                return None
            pieces = _pieces(formula or b"", int(number), column)
            if pieces is None:
                return None
            body = rb"<f>%s</f>" % rb"\1".join(map(re.escape, pieces)) if formula else rb"<f%s/>" % attributes
            places.append(Place(column, group, pieces, attributes or b"", head=letters, body=body))
        group += 3 if inline else 2
        at = match.end()
    return Layout(tuple(places)) if places and row[at:] == b"</row>" else None


def _pieces(formula: bytes, row: int, column: int) -> tuple[bytes, ...] | None:
    """Cut a formula at the numbers of its own row; None if another row writes the same formula otherwise."""
    written = b"%d" % row
    pieces: list[bytes] = []
    at = 0
    for match in _REFERENCE.finditer(formula):
        if match[2] == written:
            pieces.append(formula[at : match.start(2)])
            at = match.end(2)
    pieces.append(formula[at:])
    if not formula:
        return (b"",)
    try:
        write = parse(resolved(formula.decode("utf-8")), row, column).bind(column, as_written=True)
        for other in (row, LAST_ROW):  # the pieces are between the row numbers, and nowhere else
            if write(other) != resolved((b"%d" % other).join(pieces).decode("utf-8")):
                return None
    except (NotUnderstood, UnicodeDecodeError):
        return None
    return tuple(pieces)
