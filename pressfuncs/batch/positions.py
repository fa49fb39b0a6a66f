"""The careful way of rewriting a sheet part: an XML parser tells where things are, edits are made in the bytes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from xml.etree import ElementTree
from xml.parsers import expat

from pressfuncs.batch.addresses import (
    column_index_from_string,
    coordinate_from_string,
    get_column_letter,
    range_boundaries,
)
from pressfuncs.batch.insertions import Cell, Edit, Row, insertions
from pressfuncs.batch.safexml import malformed, refuse_document_type
from pressfuncs.batch.stored import CellValue, encoded, escaped, stores, value_element
from pressfuncs.batch.tags import prefix_of, tag_at, with_extent, with_type

_NAMESPACES = (
    "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
    "http://purl.oclc.org/ooxml/spreadsheetml/main",
)
_DIMENSION, _DATA, _ROW, _CELL, _FORMULA, _VALUE, _INLINE = (
    {f"{namespace} {local}" for namespace in _NAMESPACES}
    for local in ("dimension", "sheetData", "row", "c", "f", "v", "is")
)
_EXTENT = re.compile(rb"\sref\s*=\s*[\"']([A-Z]{1,3}[1-9][0-9]{0,6}(?::[A-Z]{1,3}[1-9][0-9]{0,6})?)[\"']")
_NAME = "of the sheet"

Box = tuple[int, int, int, int]
"""first column, first row, last column, last row"""


class CellsNotFound(LookupError):
    """Values for cells without a formula that no array formula or data table fills; `cells`: (row, column)."""

    def __init__(self, cells: Iterable[Cell]) -> None:
        """Keep the cells."""
        self.cells = sorted(cells)
        shown = ", ".join(f"{get_column_letter(column)}{row}" for row, column in self.cells[:10])
        more = f" and {len(self.cells) - 10} more" if len(self.cells) > 10 else ""
        super().__init__(f"no formula fills {shown}{more}")


@dataclass
class _Found:
    """A cell that is to be written: where its tags and children are."""

    place: Cell
    start: int
    kind: bytes
    end: int = 0
    formula: tuple[int, int] | None = None
    value: tuple[int, int] | None = None
    inline: tuple[int, int] | None = None


def rewrite_by_positions(
    part: bytes, values: Mapping[Cell, CellValue], sizes: Mapping[Cell, str]
) -> tuple[bytes, int]:
    """Do what `writeback.rewrite_cells` says, for any well-formed part in UTF-8."""
    refuse_document_type(part, _NAME, "utf-8")
    scan = _Scan(part, values, sizes)
    absent = _check(scan, values, sizes)
    edits: list[Edit] = []
    changed = 0
    for found in scan.found:
        if found.formula and found.place not in values and found.place not in sizes:
            continue  # a formula that stands where an array was is its own master
        cell_edits = _cell_edits(part, found, values, sizes)
        edits += cell_edits
        changed += bool(cell_edits)
    new = {place: value for place, value in absent.items() if value is not None}
    if scan.data is not None:
        edits += insertions(part, scan.data, scan.rows, new)
    if scan.dimension is not None and new:
        edits += _widened(part, scan.dimension, new)
    changed += len(new)
    return (_edited(part, edits), changed) if changed else (part, 0)


class _Scan:
    """One pass over the part: the wanted cells, the extents of array formulas and data tables, and the rows."""

    def __init__(self, part: bytes, values: Mapping[Cell, CellValue], sizes: Mapping[Cell, str]) -> None:
        self.part = part
        self.values = values
        self.sizes = sizes
        self.found: list[_Found] = []
        self.extents: dict[Cell, Box] = {}
        self.given_up: list[tuple[Box, Box]] = []
        self.rows: list[Row] = []
        self.data: tuple[int, int] | None = None
        self.dimension: int | None = None
        self._depth = 0
        self._in_data = self._in_row = self._in_cell = False
        self._row = self._column = 0
        self._cell: _Found | None = None
        self._parser = parser = expat.ParserCreate("utf-8", namespace_separator=" ")
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        try:
            parser.Parse(part, True)
        except (expat.ExpatError, ValueError) as error:
            raise malformed(_NAME, error) from None

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._depth = depth = self._depth + 1
        if depth == 5:
            if self._in_cell:
                self._start_child(name, attributes)
        elif depth == 4:
            if self._in_row and name in _CELL:
                self._start_cell(attributes)
        elif depth == 3:
            if self._in_data and name in _ROW:
                self._in_row = True
                self._row = int(attributes["r"]) if "r" in attributes else self._row + 1
                self._column = 0
                self.rows.append(Row(self._row, self._parser.CurrentByteIndex))
        elif depth == 2:
            if name in _DATA:
                self._in_data = True
                self.data = (self._parser.CurrentByteIndex, 0)
            elif name in _DIMENSION:
                self.dimension = self._parser.CurrentByteIndex

    def _start_cell(self, attributes: dict[str, str]) -> None:
        self._in_cell = True
        address = attributes.get("r")
        if address:
            letters, self._row = coordinate_from_string(address.upper())
            self._column = column_index_from_string(letters)
        else:
            self._column += 1
        place = (self._row, self._column)
        if place in self.values or place in self.sizes or (self.given_up and self._is_given_up(place)):
            self._cell = _Found(place, self._parser.CurrentByteIndex, attributes.get("t", "").encode())
            self.found.append(self._cell)

    def _start_child(self, name: str, attributes: dict[str, str]) -> None:
        if name in _FORMULA:
            place = (self._row, self._column)
            if attributes.get("t") in ("array", "dataTable") and "ref" in attributes:
                self.extents[place] = old = _box(attributes["ref"])
                if place in self.sizes:
                    self.given_up.append((old, _box(self.sizes[place])))
            if self._cell is not None:
                self._cell.formula = (self._parser.CurrentByteIndex, 0)
        elif self._cell is not None:
            if name in _VALUE:
                self._cell.value = (self._parser.CurrentByteIndex, 0)
            elif name in _INLINE:
                self._cell.inline = (self._parser.CurrentByteIndex, 0)

    def _end(self, name: str) -> None:
        depth = self._depth
        self._depth -= 1
        if depth == 5:
            cell = self._cell
            if cell is not None and self._in_cell:
                if name in _FORMULA and cell.formula:
                    cell.formula = self._closed(cell.formula)
                elif name in _VALUE and cell.value:
                    cell.value = self._closed(cell.value)
                elif name in _INLINE and cell.inline:
                    cell.inline = self._closed(cell.inline)
        elif depth == 4:
            if self._cell is not None:
                self._cell.end = self._closed((self._cell.start, 0))[1]
            self._cell, self._in_cell = None, False
        elif depth == 3:
            if self._in_row:
                self.rows[-1].end = self._closed((self.rows[-1].start, 0))[1]
            self._in_row = False
        elif depth == 2:
            if self._in_data and self.data:
                self.data = self._closed(self.data)
            self._in_data = False

    def _closed(self, span: tuple[int, int]) -> tuple[int, int]:
        """Return the span of the element that begins there and ends at the parser's position."""
        at = self._parser.CurrentByteIndex
        tag = tag_at(self.part, span[0])
        return span[0], span[0] + len(tag) if tag.endswith(b"/>") else self.part.index(b">", at) + 1

    def _is_given_up(self, place: Cell) -> bool:
        return any(_inside(place, old) and not _inside(place, new) for old, new in self.given_up)


def _check(scan: _Scan, values: Mapping[Cell, CellValue], sizes: Mapping[Cell, str]) -> dict[Cell, CellValue]:
    """Return the values whose cells are not in the part but filled by an array; refuse what no formula fills."""
    held = {found.place for found in scan.found if found.formula}
    blank = {found.place for found in scan.found if not (found.formula or found.value or found.inline)}
    present = {found.place for found in scan.found}
    children = {place for place in values if place not in held}
    grown = [_box(sizes[place]) for place in sizes if place in scan.extents]
    filled = _filled(children, scan.extents.values())
    # A constant in the way of a growing array is the user's own; only blank cells are free to take.
    filled |= {place for place in _filled(children, grown) if place not in present or place in blank}
    lost = (children - filled) | {place for place in sizes if place not in scan.extents}
    if lost:
        raise CellsNotFound(lost)
    return {place: values[place] for place in children if place not in present}


def _filled(places: set[Cell], boxes: Iterable[Box]) -> set[Cell]:
    """Return those of the cells that lie in one of the boxes."""
    filled: set[Cell] = set()
    for box in boxes if places else ():
        left, top, right, bottom = box
        if (right - left + 1) * (bottom - top + 1) <= len(places):
            every = {(row, column) for row in range(top, bottom + 1) for column in range(left, right + 1)}
            filled |= places & every
        else:
            filled |= {place for place in places if _inside(place, box)}
    return filled


def _cell_edits(
    part: bytes, found: _Found, values: Mapping[Cell, CellValue], sizes: Mapping[Cell, str]
) -> list[Edit]:
    """Return the edits of one cell, none if it stores its value already."""
    edits: list[Edit] = []
    if found.place in sizes and found.formula:
        tag = tag_at(part, found.formula[0])
        new = with_extent(tag, sizes[found.place].encode())
        if new != tag:
            edits.append((found.formula[0], found.formula[0] + len(tag), new))
        if found.place not in values:
            return edits
    kind, content = encoded(values.get(found.place))  # None too for a cell that an array gave up
    if stores(*_old(part, found), kind, content):
        return edits
    tag = tag_at(part, found.start)
    empty = tag.endswith(b"/>")
    head = tag.rstrip(b"/>").rstrip() if empty else tag[:-1]
    prefix = prefix_of(tag)
    element = value_element(prefix, kind, content)
    if empty:
        if element:
            new = b"%s>%s</%sc>" % (with_type(head, kind), element, prefix)
            edits.append((found.start, found.end, new))
        return edits
    edits.append((found.start, found.start + len(tag), with_type(head, kind) + b">"))
    old = found.value or found.inline
    if old:
        edits.append((*old, element))
        if found.value and found.inline:
            edits.append((*found.inline, b""))
    else:
        at = found.formula[1] if found.formula else found.start + len(tag)
        edits.append((at, at, element))
    return edits


def _old(part: bytes, found: _Found) -> tuple[bytes, bytes | None]:
    """Return type and text of what a cell stores, an inline text like one of its own."""
    if found.inline and found.kind == b"inlineStr":
        return b"str", escaped(_texts(part, found.inline))
    if not found.value:
        return found.kind, None
    start, end = found.value
    tag = tag_at(part, start)
    if tag.endswith(b"/>"):
        return found.kind, b""
    content = part[start + len(tag) : part.rindex(b"</", start, end)]
    if b"<" in content:  # comments, marked sections
        content = escaped("".join(ElementTree.fromstring(b"<v>%s</v>" % content).itertext()))
    return found.kind, content


def _texts(part: bytes, span: tuple[int, int]) -> str:
    """Return the text of an `<is>` element, without the reading aids beside it."""
    inline = part[slice(*span)]
    prefix = prefix_of(inline).decode()
    inside: list[str] = []
    texts: list[str] = []

    def text(data: str) -> None:
        if inside[-1] == f"{prefix}t" and f"{prefix}rPh" not in inside:
            texts.append(data)

    parser = expat.ParserCreate("utf-8")  # without namespaces: what declares them is not in this piece
    parser.StartElementHandler = lambda name, _: inside.append(name)
    parser.EndElementHandler = lambda _: inside.pop()
    parser.CharacterDataHandler = text
    parser.Parse(inline, True)
    return "".join(texts)


def _widened(part: bytes, start: int, new: Mapping[Cell, CellValue]) -> list[Edit]:
    """Return the edit that makes the extent a sheet declares hold new cells: some readers look no further."""
    tag = tag_at(part, start)
    declared = _EXTENT.search(tag)
    if declared is None:
        return []
    left, top, right, bottom = _box(declared[1].decode())
    rows, columns = zip(*new)
    first = f"{get_column_letter(min(left, *columns))}{min(top, *rows)}"
    last = f"{get_column_letter(max(right, *columns))}{max(bottom, *rows)}"
    if (left, top, right, bottom) == _box(f"{first}:{last}"):
        return []
    return [(start, start + len(tag), with_extent(tag, f"{first}:{last}".encode()))]


def _edited(part: bytes, edits: list[Edit]) -> bytes:
    """Apply edits that do not overlap; those at one position in the order given."""
    pieces: list[bytes] = []
    at = 0
    for start, end, new in sorted(edits, key=lambda edit: edit[:2]):
        pieces += (part[at:start], new)
        at = end
    return b"".join([*pieces, part[at:]])


def _box(extent: str) -> Box:
    left, top, right, bottom = range_boundaries(extent)
    if None in (left, top, right, bottom):
        raise ValueError(f"{extent} is not the extent of an array")
    return left, top, right, bottom


def _inside(place: Cell, box: Box) -> bool:
    return box[1] <= place[0] <= box[3] and box[0] <= place[1] <= box[2]
