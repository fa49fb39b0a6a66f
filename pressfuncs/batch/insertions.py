"""New cells in a sheet part: the edits that put them into their rows, in order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from xml.parsers import expat

from pressfuncs.batch.addresses import column_index_from_string, coordinate_from_string, get_column_letter
from pressfuncs.batch.stored import CellValue, encoded, value_element
from pressfuncs.batch.tags import name_of, prefix_of, tag_at, with_type

Cell = tuple[int, int]
"""row and column, both from 1"""
Edit = tuple[int, int, bytes]
"""start and end of the bytes to replace, and what by"""


@dataclass
class Row:
    """A row of the part: its number, and where it begins and ends."""

    number: int
    start: int
    end: int = 0


def insertions(part: bytes, data: tuple[int, int], rows: list[Row], new: Mapping[Cell, CellValue]) -> list[Edit]:
    """Return the edits that put new cells into rows, and new rows among them, in order.

    Arguments:
        part: the bytes of the sheet part
        data: where `<sheetData>` begins and ends
        rows: the rows that are there
        new: the values of the new cells
    """
    by_row: dict[int, list[Cell]] = defaultdict(list)
    for place in sorted(new):
        by_row[place[0]].append(place)
    tag = tag_at(part, data[0])
    prefix = prefix_of(tag)
    written = {place: _new_cell(prefix, place, value) for place, value in new.items()}
    existing = {row.number: row for row in rows}
    edits: list[Edit] = []
    at_end: list[bytes] = []
    following = iter(sorted(rows, key=lambda row: row.number))
    after = next(following, None)
    for number in sorted(by_row):
        cells = by_row[number]
        if number in existing:
            edits += _row_insertions(part, existing[number], [(place[1], written[place]) for place in cells])
            continue
        row = b'<%srow r="%d">%s</%srow>' % (prefix, number, b"".join(written[place] for place in cells), prefix)
        while after is not None and after.number < number:
            after = next(following, None)
        if after is None:
            at_end.append(row)
        else:
            edits.append((after.start, after.start, row))
    if at_end:
        edits += _appended(part, data, b"".join(at_end))
    return edits


def _row_insertions(part: bytes, row: Row, cells: list[tuple[int, bytes]]) -> list[Edit]:
    """Return the edits that put cells into a row before the first cell of a higher column."""
    starts = _cell_starts(part[row.start : row.end])
    edits: list[Edit] = []
    last = b""
    for column, cell in cells:
        at = next((start for there, start in starts if there > column), None)
        if at is None:
            last += cell
        else:
            edits.append((row.start + at, row.start + at, cell))
    return edits + (_appended(part, (row.start, row.end), last) if last else [])


def _cell_starts(row: bytes) -> list[tuple[int, int]]:
    """Return column and position of every cell in the bytes of a row."""
    starts: list[tuple[int, int]] = []
    depth = 0
    parser = expat.ParserCreate("utf-8")

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth == 2 and name.rpartition(":")[2] == "c":
            address = attributes.get("r")
            column = (
                column_index_from_string(coordinate_from_string(address.upper())[0])
                if address
                else (starts[-1][0] + 1 if starts else 1)
            )
            starts.append((column, parser.CurrentByteIndex))

    def end(name: str) -> None:
        nonlocal depth
        depth -= 1

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.Parse(row, True)
    return starts


def _appended(part: bytes, span: tuple[int, int], content: bytes) -> list[Edit]:
    """Return the edits that put content at the end of an element, which may be an empty one."""
    tag = tag_at(part, span[0])
    if not tag.endswith(b"/>"):
        at = part.rindex(b"</", *span)
        return [(at, at, content)]
    return [(*span, b"%s>%s</%s>" % (tag[:-2].rstrip(), content, name_of(tag)))]


def _new_cell(prefix: bytes, place: Cell, value: CellValue) -> bytes:
    kind, content = encoded(value)
    head = b'<%sc r="%s%d"' % (prefix, get_column_letter(place[1]).encode(), place[0])
    return b"%s>%s</%sc>" % (with_type(head, kind), value_element(prefix, kind, content), prefix)
