"""Writing stored values into a sheet part, every other byte of it kept.

Rows of one layout are rewritten as blocks, column by column; other cells of the usual form by a pattern; whatever
looks different (prefixes, comments, cells without addresses, other encodings, spills that change their size) by
the positions an XML parser gives. All ways give the same bytes.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from functools import cache, lru_cache
from itertools import chain

from pressfuncs.batch.addresses import column_index_from_string
from pressfuncs.batch.layouts import Block, Stretch, blocks
from pressfuncs.batch.positions import CellsNotFound as CellsNotFound
from pressfuncs.batch.positions import rewrite_by_positions
from pressfuncs.batch.safexml import malformed
from pressfuncs.batch.stored import CellValue as CellValue
from pressfuncs.batch.stored import encoded, number_elements, same_number, stores, value_element
from pressfuncs.batch.tags import with_type

Cell = tuple[int, int]
Columns = Mapping[int, Mapping[int, CellValue]]
"""Values by column and row, both from 1."""

_FORMULA_CELL = re.compile(
    rb'(<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"(?: [A-Za-z][A-Za-z0-9:]*="[^<>"]*")*)>'
    rb"(<f(?:\s[^<>]*)?(?:/>|>[^<]*</f>))"
    rb"(<v(?:\s[^<>]*)?(?:/>|>([^<]*)</v>))?</c>"
)
_FORMULA = re.compile(rb"<f[\s>/]")
_TYPE = re.compile(rb'\st="([^"]*)"')
_DECLARATION = re.compile(rb"(?:\xef\xbb\xbf)?<\?xml\s[^<>]*\?>")
_ENCODING = re.compile(rb"\sencoding\s*=\s*[\"']([A-Za-z0-9._-]+)[\"']")


def rewrite_cells(
    part: bytes,
    values: Mapping[Cell, CellValue],
    sizes: Mapping[Cell, str] | None = None,
) -> tuple[bytes, int]:
    """Write stored values of formula cells into a sheet part.

    Arguments:
        part: the bytes of the sheet part
        values: new values by (row, column), both from 1; None clears the stored value. Cells are formula
            cells, or cells that an array formula fills.
        sizes: new extents ("B2:B9") of dynamic arrays by the cell that holds the formula; what an array gives
            up is cleared, what it gains is inserted

    Returns:
        The new part, and how many cells changed. A cell that stores its value already, numbers to 15
        significant digits, keeps its bytes; if all do, the part is returned as it is. A formula cell that
        stores its text in the shared strings always counts as changed.

    Raises:
        CellsNotFound: some cells hold no formula and are filled by none; nothing is written then.
        Refused: the part is not well-formed, or declares entities.
    """
    columns: dict[int, dict[int, CellValue]] = defaultdict(dict)
    for (row, column), value in values.items():
        columns[column][row] = value
    return rewrite_columns(part, columns, sizes)


def rewrite_columns(
    part: bytes, columns: Columns, sizes: Mapping[Cell, str] | None = None, by_blocks: bool = True
) -> tuple[bytes, int]:
    """Do what `rewrite_cells` does, for values by column and row; `by_blocks=False` looks at each cell alone."""
    if not any(columns.values()) and not sizes:
        return part, 0
    if not sizes:
        fast = _rewrite_canonical(part, columns, by_blocks)
        if fast is not None:
            return fast
    values = {(row, column): value for column, new in columns.items() for row, value in new.items()}
    codec = _codec(part)
    if codec is None:
        return rewrite_by_positions(part, values, sizes or {})
    try:
        text = part.decode(codec)
    except (LookupError, UnicodeDecodeError) as error:
        raise malformed("of the sheet", error) from None
    rewritten, changed = rewrite_by_positions(text.encode("utf-8"), values, sizes or {})
    return (rewritten.decode("utf-8").encode(codec, "xmlcharrefreplace"), changed) if changed else (part, 0)


def _rewrite_canonical(part: bytes, columns: Columns, by_blocks: bool) -> tuple[bytes, int] | None:
    """Rewrite a part of the usual form, or return None if it is of another, or not every cell is there."""
    bounds = _canonical_bounds(part)
    if bounds is None:
        return None
    start, end = bounds
    work = _Rewriting(part, columns)
    pieces = [part[:start]]
    try:
        for piece in blocks(part, start, end, writing=True) if by_blocks else [Stretch(start, end)]:
            pieces.append(work.block(piece) if isinstance(piece, Block) else work.stretch(piece))
    except ValueError:  # bytes or numbers that are no letters: the careful way says so in a sentence
        return None
    if work.odd or work.found != sum(map(len, columns.values())):
        return None
    pieces.append(part[end:])
    return (b"".join(pieces), work.changed) if work.changed else (part, 0)


class _Rewriting:
    """Rewrites pieces of a part, and counts what it found and changed."""

    def __init__(self, part: bytes, columns: Columns) -> None:
        self.part = part
        self.columns = {column: new for column, new in columns.items() if new}
        self.found = 0
        self.changed = 0
        self.odd = False  # whether there is a formula of another form
        self._done: set[Cell] = set()

    # Rows of one layout

    def block(self, block: Block) -> bytes:
        """Return the rows with their new values."""
        groups = list(zip(*block.rows))
        rows = range(block.first, block.first + len(block.rows))
        out: list[tuple[bytes, ...] | list[bytes]] = []
        for number, place in enumerate(block.layout.formulas):
            before, heads, old = groups[1 + 3 * number : 4 + 3 * number]
            new = self.columns.get(place.column, {})
            held = [row for row in rows if row in new] if new else []
            self.found += len(held)
            if len(held) == len(rows) and all(map(_untyped, set(heads))):
                elements = number_elements([new[row] for row in rows])
                if elements is not None:
                    out += (before, self.kept(elements, old, new, rows))
                    continue
            out += self.column(before, heads, old, new, rows)
        out.append(groups[-1])
        return b"".join(chain.from_iterable(zip(*out)))

    def kept(
        self, elements: list[bytes], old: tuple[bytes | None, ...], new: Mapping[int, CellValue], rows: range
    ) -> list[bytes]:
        """Return the new elements, but the old ones where they stand for the same numbers."""
        self.changed += len(elements)
        if any(old):
            for i, content in enumerate(old):
                if content and same_number(float(content), new[rows[i]]):  # type: ignore[arg-type]
                    elements[i] = b"<v>%s</v>" % content
                    self.changed -= 1
        return elements

    def column(
        self,
        before: tuple[bytes, ...],
        heads: tuple[bytes, ...],
        old: tuple[bytes | None, ...],
        new: Mapping[int, CellValue],
        rows: range,
    ) -> tuple[list[bytes], list[bytes]]:
        """Return the stretches before the values and the values of a column, each on its own."""
        stretches, elements = list(before), []
        for i, row in enumerate(rows):
            content, head = old[i], heads[i]
            element = b"" if content is None else b"<v>%s</v>" % content
            changed = self.value(head, content, new[row]) if row in new else None
            if changed is not None:
                stretch = stretches[i]
                at = stretch.index(b'"', stretch.rindex(b'<c r="') + 6) + 1  # where its attributes begin
                stretches[i] = stretch[:at] + changed[0] + stretch[at + len(head) :]
                element = changed[1]
            elements.append(element)
        return stretches, elements

    # Cell by cell

    def stretch(self, stretch: Stretch) -> bytes:
        """Return a stretch of the part with the new values of the cells in it."""
        matched = 0

        def rewritten(match: re.Match[bytes]) -> bytes:
            nonlocal matched
            matched += 1
            whole, head, letters, number, formula, element, old = match.group(0, 1, 2, 3, 4, 5, 6)
            row, column = int(number), _column(letters)
            new = self.columns.get(column)
            if new is None or row not in new:
                return whole
            if (row, column) not in self._done:
                self._done.add((row, column))
                self.found += 1
            changed = self.value(head, None if element is None else old or b"", new[row])
            return whole if changed is None else b"%s>%s%s</c>" % (changed[0], formula, changed[1])

        body = self.part[stretch.start : stretch.end]
        done = _FORMULA_CELL.sub(rewritten, body)
        self.odd = self.odd or matched != len(_FORMULA.findall(body))
        return done

    def value(self, head: bytes, old: bytes | None, value: CellValue) -> tuple[bytes, bytes] | None:
        """Return the new attributes of a cell, or its new start tag, and its value; None if it stores that."""
        kind, content = _encoded_text(value) if isinstance(value, str) else encoded(value)
        old_kind = _TYPE.search(head)
        if stores(old_kind[1] if old_kind else b"", old, kind, content):
            return None
        self.changed += 1
        return _with_type(head, kind), value_element(b"", kind, content)


_encoded_text = lru_cache(maxsize=1024)(encoded)  # of the texts of a column, most come again and again
_with_type = lru_cache(maxsize=1024)(with_type)  # columns are styled alike


def _canonical_bounds(part: bytes) -> tuple[int, int] | None:
    """Return where the cells begin and end, if the part is UTF-8, unprefixed, and nothing but elements."""
    start, end = part.find(b"<sheetData>"), part.rfind(b"</sheetData>")
    if (
        start < 0
        or end < start
        or b"<!" in part
        or part.count(b"<?") != bool(_DECLARATION.match(part))
        or part.count(b"<sheetData") != 1
        or _codec(part) is not None
    ):
        return None
    return start, end


def _codec(part: bytes) -> str | None:
    """Return the codec of a part that is not UTF-8, so that its bytes come back the same; None for UTF-8."""
    if part[:2] in (b"\xff\xfe", b"<\0"):
        return "utf-16-le"
    if part[:2] in (b"\xfe\xff", b"\0<"):
        return "utf-16-be"
    declaration = _DECLARATION.match(part)
    encoding = _ENCODING.search(declaration[0]) if declaration else None
    return None if encoding is None or encoding[1].lower() == b"utf-8" else encoding[1].decode()


@cache
def _column(letters: bytes) -> int:
    return int(column_index_from_string(letters.decode()))


def _untyped(attributes: bytes) -> bool:
    """Whether the attributes of a cell can stay as they are when it gets a number."""
    return b't="' not in attributes and b"vm=" not in attributes
