"""Writing stored values where a part is not of the usual form, and where arrays grow and shrink."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from parts import MAIN, SHEET, workbook_parts, write_zip
from sheets import STRICT, sheet, texts, with_comment

from pressfuncs.batch.package import Package
from pressfuncs.batch.writeback import CellsNotFound, CellValue, rewrite_cells
from pressfuncs.errors import CellError

ARRAY = (
    '<row r="2"><c r="A2"><v>1</v></c><c r="B2" cm="1"><f t="array" ref="B2:C3">X</f><v>1</v></c>'
    '<c r="C2"><v>2</v></c></row>'
    '<row r="3"><c r="B3" s="4"><v>3</v></c><c r="C3"><v>4</v></c><c r="E3"><f>1</f><v>1</v></c></row>'
)


def array_after(values: dict[tuple[int, int], CellValue], extent: str | None = None, rows: str = ARRAY) -> str:
    part = sheet(rows)
    new, changed = rewrite_cells(part, values, {(2, 2): extent} if extent else None)
    assert (new == part) == (changed == 0)
    ElementTree.fromstring(new)
    return new.decode().partition("<sheetData>")[2].partition("</sheetData>")[0]


def test_cells_that_an_array_fills_are_written() -> None:
    assert array_after({(2, 3): "x", (3, 2): None, (3, 3): 4.0}) == ARRAY.replace(
        '<c r="C2"><v>2</v>', '<c r="C2" t="str"><v>x</v>'
    ).replace('<c r="B3" s="4"><v>3</v></c>', '<c r="B3" s="4"></c>')


def test_cells_that_an_array_fills_are_inserted_where_they_are_missing() -> None:
    rows = '<row r="2"><c r="B2"><f t="array" ref="B2:D4">X</f><v>1</v></c></row><row r="4"><c r="C4"/></row>'
    values: dict[tuple[int, int], CellValue] = {(r, c): 10.0 * r + c for r in (2, 3, 4) for c in (2, 3, 4)}
    assert array_after(values, rows=rows) == (
        '<row r="2"><c r="B2"><f t="array" ref="B2:D4">X</f><v>22</v></c><c r="C2"><v>23</v></c>'
        '<c r="D2"><v>24</v></c></row>'
        '<row r="3"><c r="B3"><v>32</v></c><c r="C3"><v>33</v></c><c r="D3"><v>34</v></c></row>'
        '<row r="4"><c r="B4"><v>42</v></c><c r="C4"><v>43</v></c><c r="D4"><v>44</v></c></row>'
    )


def test_a_spill_that_grows_takes_blank_cells_in_order() -> None:
    rows = ARRAY + '<row r="4" ht="20"/><row r="6"><c r="A6"/><c r="B6" s="2"/><c r="D6"><v>1</v></c></row>'
    values: dict[tuple[int, int], CellValue] = {(r, c): True for r in (4, 5, 6, 7) for c in (2, 3)}
    after = array_after(values, "B2:C7", rows)
    cell = '<c r="{}" t="b"><v>1</v></c>'
    assert after == ARRAY.replace('ref="B2:C3"', 'ref="B2:C7"') + (
        f'<row r="4" ht="20">{cell.format("B4")}{cell.format("C4")}</row>'
        f'<row r="5">{cell.format("B5")}{cell.format("C5")}</row>'
        f'<row r="6"><c r="A6"/><c r="B6" s="2" t="b"><v>1</v></c>{cell.format("C6")}<c r="D6"><v>1</v></c></row>'
        f'<row r="7">{cell.format("B7")}{cell.format("C7")}</row>'
    )


def test_a_spill_that_shrinks_clears_what_it_gives_up_and_nothing_else() -> None:
    assert array_after({(2, 2): 5.0, (2, 3): 6.0}, "B2:C2") == (
        '<row r="2"><c r="A2"><v>1</v></c><c r="B2" cm="1"><f t="array" ref="B2:C2">X</f><v>5</v></c>'
        '<c r="C2"><v>6</v></c></row><row r="3"><c r="B3" s="4"></c><c r="C3"></c>'
        '<c r="E3"><f>1</f><v>1</v></c></row>'
    )
    with_formula = ARRAY.replace('<c r="C3"><v>4</v>', '<c r="C3"><f>7</f><v>7</v>')
    assert '<c r="C3"><f>7</f><v>7</v></c>' in array_after({}, "B2", with_formula)


def test_a_spill_never_takes_the_place_of_a_constant() -> None:
    blocked = ARRAY + '<row r="4"><c r="B4"><v>99</v></c></row>'
    with pytest.raises(CellsNotFound, match=r"fills B4$"):
        array_after({(4, 2): 1.0, (4, 3): 1.0}, "B2:C4", blocked)


def test_a_spill_into_an_empty_sheet_end_keeps_prefixes() -> None:
    part = (
        f"<x:worksheet xmlns:x='{STRICT}'><x:sheetData><x:row r='1'>"
        "<x:c r='A1'><x:f t='array' ref='A1'>X</x:f></x:c></x:row></x:sheetData></x:worksheet>"
    ).encode()
    new, changed = rewrite_cells(part, {(1, 1): 1.0, (1, 2): " a", (3, 1): 3.0}, {(1, 1): "A1:B3"})
    assert changed == 3
    assert new == part.replace(b"ref='A1'", b'ref="A1:B3"').replace(
        b"</x:f></x:c></x:row>",
        b'</x:f><x:v>1</x:v></x:c><x:c r="B1" t="str"><x:v xml:space="preserve"> a</x:v></x:c></x:row>'
        b'<x:row r="3"><x:c r="A3"><x:v>3</x:v></x:c></x:row>',
    )


def test_huge_extents_cost_nothing() -> None:
    rows = '<row r="2"><c r="B2"><f t="array" ref="A1:XFD1048576">X</f><v>1</v></c></row>'
    assert 'ref="B2:B2"' in array_after({(2, 2): 2.0}, "B2:B2", rows)


def prefixed(part: bytes) -> bytes:
    return re.sub(rb"<(/?)([A-Za-z])", rb"<\1x:\2", part).replace(b" xmlns=", b" xmlns:x=")


def without_addresses(part: bytes) -> bytes:
    return re.sub(rb' r="[A-Z]*[0-9]+"', b"", part)


def in_utf16(part: bytes) -> bytes:
    return part.decode("utf-8").replace("UTF-8", "UTF-16").encode("utf-16")


def in_big_endian(part: bytes) -> bytes:
    return part.decode("utf-8").replace("UTF-8", "UTF-16").encode("utf-16-be")


def in_latin(part: bytes) -> bytes:
    return part.decode("utf-8").replace("UTF-8", "windows-1252").encode("cp1252", "xmlcharrefreplace")


def in_ascii(part: bytes) -> bytes:
    return part.decode("utf-8").replace("UTF-8", "us-ascii").encode("ascii", "xmlcharrefreplace")


def with_mark(part: bytes) -> bytes:
    return b"\xef\xbb\xbf" + part


def strict(part: bytes) -> bytes:
    return part.replace(MAIN.encode(), STRICT.encode())


def without_declaration(part: bytes) -> bytes:
    return part[part.index(b"<worksheet") :]


def with_hostile_neighbours(part: bytes) -> bytes:
    decoy = (
        b'<oddHeader>&lt;c r="A1">&lt;f></oddHeader><!-- <sheetData><c r="A1"><f>1</f><v>9</v></c></sheetData> -->'
    )
    return part.replace(b"<pageMargins/>", decoy)


DRESSES: list[Callable[[bytes], bytes]] = [
    with_comment, prefixed, without_addresses, in_utf16, in_big_endian, in_latin, in_ascii, with_mark, strict,
    without_declaration, with_hostile_neighbours,
]  # fmt: skip

TEXTS = st.one_of(
    st.text(max_size=12),
    st.text("ab_x0041\r\n\t &<>'\"]\x01ü€\ufffe", max_size=12),
    st.sampled_from(["\ud83d", "\ud83d\udd29", "_x000D_", "]]>", "<!--", "&amp;", "true", "1"]),
)
VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(),
    st.integers(-(10**6), 10**6),
    st.sampled_from([CellError("#N/A"), CellError("#SPILL!")]),
    TEXTS,
)


def old_cell(address: str, choice: int) -> str:
    """Return a formula cell of some form that stores something."""
    f = ["<f>A1</f>", '<f t="shared" si="0"/>', '<f t="shared" ref="A1:B9" si="0">A1&amp;"ü"</f>'][choice % 3]
    attributes = ["", ' s="2"', ' s="2" cm="1"', ' vm="3"', ' t="s"', ' t="n"', ' t="e" vm="1"'][choice % 7]
    value_part = ["", "<v/>", "<v>1</v>", "<v>#N/A</v>", "<v>0</v>"][choice % 5]
    return f'<c r="{address}"{attributes}>{f}{value_part}</c>'


@given(
    st.lists(st.tuples(st.integers(0, 104), VALUES, VALUES, st.booleans()), min_size=1, max_size=12),
    st.sampled_from(DRESSES),
)
def test_every_way_of_writing_a_part_gives_the_same_cells(
    cells: list[tuple[int, CellValue, CellValue, bool]], dress: Callable[[bytes], bytes]
) -> None:
    places = [(i // 3 + 1, i % 3 + 1) for i in range(len(cells))]
    rows: dict[int, str] = {}
    for (row, column), (choice, _, _, constant) in zip(places, cells):
        address = f"{'ABC'[column - 1]}{row}"
        cell = f'<c r="{address}" s="1"><v>5</v></c>' if constant else old_cell(address, choice)
        rows[row] = rows.get(row, "") + cell
    part = sheet("".join(f'<row r="{row}">{content}</row>' for row, content in rows.items()))
    first = {place: cell[1] for place, cell in zip(places, cells) if not cell[3]}
    second = {place: cell[2] for place, cell in zip(places, cells) if not cell[3]}
    for values in (first, second, second):
        plain, changed = rewrite_cells(part, values)
        dressed, also = rewrite_cells(dress(part), values)
        assert changed == also
        assert dressed == dress(plain)
        assert rewrite_cells(plain, values) == (plain, 0), "writing twice changes nothing"
        part = plain
    if dress is not without_addresses:
        assert texts(dress(part)) == texts(part)


@given(st.lists(VALUES, min_size=1, max_size=6))
def test_another_program_reads_the_values_that_were_written(values: list[CellValue]) -> None:
    addresses = [f"A{row + 1}" for row in range(len(values))]
    rows = "".join(f'<row r="{a[1:]}"><c r="{a}"><f>1</f></c></row>' for a in addresses)
    part, _ = rewrite_cells(sheet(rows), {(row + 1, 1): value for row, value in enumerate(values)})
    for address, value in zip(addresses, values):
        kind, text = texts(part)[address]
        if value is None:
            assert (kind, text) == ("", None)
        elif isinstance(value, bool):
            assert (kind, text) == ("b", str(int(value)))
        elif isinstance(value, CellError):
            assert kind == "e"
        elif isinstance(value, str):
            assert text is not None
            read = re.sub("_x([0-9A-F]{4})_", lambda found: chr(int(found[1], 16)), text)
            assert (kind, read) == (
                "str",
                value.encode("utf-16", "surrogatepass").decode("utf-16", "surrogatepass"),
            )
        elif not math.isfinite(value):
            assert (kind, text) == ("e", "#NUM!")
        else:
            assert kind == ""
            assert float(text or "") == value


def test_a_long_column_is_written_in_a_moment(tmp_path: Path) -> None:
    rows = "".join(f'<row r="{r}"><c r="A{r}"><f>PF_X({r})</f><v>{r}</v></c></row>' for r in range(1, 20_001))
    path = write_zip(tmp_path / "book.xlsx", workbook_parts(rows))
    with Package.open(path) as package:
        part, changed = rewrite_cells(package.read(SHEET), {(r, 1): r + 0.5 for r in range(1, 20_001)})
    assert changed == 20_000
    assert texts(part) == {f"A{r}": ("", f"{r}.5") for r in range(1, 20_001)}
