"""Writing stored values into a sheet part, every other byte of it kept.

Parts as spreadsheet apps write them are rewritten by one pass of a pattern; whatever looks different (prefixes,
comments, cells without addresses, other encodings, spills that change their size) by the positions an XML
parser gives. Both ways give the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache

from openpyxl.utils import get_column_letter

from pressfuncs.batch.positions import CellsNotFound as CellsNotFound
from pressfuncs.batch.positions import rewrite_by_positions
from pressfuncs.batch.safexml import malformed
from pressfuncs.batch.stored import CellValue as CellValue
from pressfuncs.batch.stored import encoded, stores, value_element
from pressfuncs.batch.tags import with_type

Cell = tuple[int, int]

_FORMULA_CELL = re.compile(
    rb"(<c r=\"([A-Z]{1,3}[1-9][0-9]{0,6})\"([^<>']*))>"
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
    if not values and not sizes:
        return part, 0
    if not sizes:
        fast = _rewrite_canonical(part, values)
        if fast is not None:
            return fast
    codec = _codec(part)
    if codec is None:
        return rewrite_by_positions(part, values, sizes or {})
    try:
        text = part.decode(codec)
    except (LookupError, UnicodeDecodeError) as error:
        raise malformed("of the sheet", error) from None
    rewritten, changed = rewrite_by_positions(text.encode("utf-8"), values, sizes or {})
    return (rewritten.decode("utf-8").encode(codec, "xmlcharrefreplace"), changed) if changed else (part, 0)


def _rewrite_canonical(part: bytes, values: Mapping[Cell, CellValue]) -> tuple[bytes, int] | None:
    """Rewrite a part of the usual form, or return None if it is of another, or not every cell is there."""
    bounds = _canonical_bounds(part)
    if bounds is None:
        return None
    wanted = {b"%s%d" % (_letters(column), row): value for (row, column), value in values.items()}
    found: set[bytes] = set()
    matched = changed = 0

    def rewritten(match: re.Match[bytes]) -> bytes:
        nonlocal matched, changed
        matched += 1
        whole, head, address, attributes, formula, element, old = match.group(0, 1, 2, 3, 4, 5, 6)
        if address not in wanted:
            return whole
        found.add(address)
        kind, content = encoded(wanted[address])
        old_kind = _TYPE.search(attributes) if attributes else None
        stored = None if element is None else old or b""
        if stores(old_kind[1] if old_kind else b"", stored, kind, content):
            return whole
        changed += 1
        return b"%s>%s%s</c>" % (with_type(head, kind), formula, value_element(b"", kind, content))

    start, end = bounds
    try:
        body = _FORMULA_CELL.sub(rewritten, part[start:end])
    except ValueError:  # bytes or numbers that are no letters: the careful way says so in a sentence
        return None
    if len(found) != len(wanted) or matched != len(_FORMULA.findall(part, start, end)):
        return None
    return (part[:start] + body + part[end:], changed) if changed else (part, 0)


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
def _letters(column: int) -> bytes:
    letters: str = get_column_letter(column)
    return letters.encode()
