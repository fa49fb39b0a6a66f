"""Rows of one layout: reading and writing by blocks comes to the same as cell by cell, on any sheet."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pressfuncs.batch.book import Sheet
from pressfuncs.batch.layouts import Block, Stretch, blocks, layout_of
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.sheet_reading import SheetReader
from pressfuncs.batch.writeback import rewrite_cells, rewrite_columns
from pressfuncs.errors import CellError

ROOT = '<worksheet xmlns="http://purl.oclc.org/ooxml/spreadsheetml/main">'
STRINGS = ["steel", "a < b", ""]
FORMULAS = [
    "<f>PF_SHEARING_FORCE(A{r},B{r},310)</f>",
    "<f>$A{r}*B$2+A{r}/{r}</f>",
    "<f>B{r}&amp;&quot;A{r}&quot;</f>",
    "<f>SUM(A$1:A{r})-LOG10(A{r})</f>",
    "<f>A{before}+1</f>",
    "<f>'Shop{r}'!A{r}</f>",
    "<f>rate{r}*2</f>",
    '<f t="shared" si="0"/>',
    '<f t="array" ref="C{r}">B{r}*2</f>',
    '<f ca="1">NOW()+A{r}</f>',
    "<f>[1]Other!A{r}</f>",
]
CONTENTS = ["", "<v>1</v>", "<v>2.5E-3</v>", "<v></v>", "<v/>", '<v xml:space="preserve"> 7</v>']
HEADS = ["", ' s="1"', ' s="2"', ' t="n"', ' t="str"', ' t="b"', ' t="e"', ' cm="1"', ' vm="1"']
VALUES: list[Any] = [
    None,
    0.0,
    -0.0,
    1.0,
    1e300,
    2.5e-3,
    1e-7,
    float("nan"),
    True,
    "ok",
    "a & b",
    CellError("#N/A"),
]

plain_cells = st.sampled_from(
    [
        '<c r="{c}{r}"><v>{r}</v></c>',
        '<c r="{c}{r}" s="2"><v>2.5</v></c>',
        '<c r="{c}{r}" t="s"><v>0</v></c>',
        '<c r="{c}{r}" s="1" t="s"><v>1</v></c>',
        '<c r="{c}{r}" s="1"/>',
        '<c r="{c}{r}" s="2"/>',
        '<c r="{c}{r}" t="inlineStr"><is><t>free &amp; easy</t></is></c>',
        '<c r="{c}{r}" t="inlineStr"><is><r><t>rich</t></r></is></c>',
        '<c r="{c}{r}" t="b"><v>1</v></c>',
        '<c r="{c}{r}" t="e"><v>#DIV/0!</v></c>',
        '<c r="{c}{r}" t="d"><v>2026-03-01</v></c>',
        "",
    ]
)
formula_cells = st.builds(
    lambda head, formula, content: '<c r="{c}{r}"' + head + ">" + formula + content + "</c>",
    st.sampled_from(HEADS),
    st.sampled_from(FORMULAS),
    st.sampled_from(CONTENTS),
)
starts = st.sampled_from(['<row r="{r}">', '<row r="{r}" spans="1:4" ht="15">', '<row r="{r}" hidden="1">'])


@st.composite
def sheets(draw: st.DrawFn) -> str:
    """Draw rows filled down from a few others, with gaps and odd rows between them."""
    patterns = draw(st.lists(st.tuples(starts, *[plain_cells | formula_cells] * 4), min_size=1, max_size=3))
    rows, r = [], 0
    for pattern, count, gap in draw(
        st.lists(st.tuples(st.sampled_from(patterns), st.integers(1, 5), st.integers(1, 2)), max_size=6)
    ):
        r += gap
        for _ in range(count):
            start, *cells = pattern
            rows.append(
                "".join([start, *(cell.replace("{c}", "ABCD"[i]) for i, cell in enumerate(cells)), "</row>"])
            )
            rows[-1] = rows[-1].format(r=r, before=max(1, r - 1))
            r += 1
    separator = draw(st.sampled_from(["", "\n", '<row r="999"/>']))
    return f"{ROOT}<sheetData>{separator.join(rows)}</sheetData></worksheet>"


def read(part: str, by_blocks: bool = True) -> tuple[Any, ...]:
    """Return everything that is read from a part, with texts in the place of runs."""
    sheet = Sheet("Dies", "xl/worksheets/sheet1.xml")
    SheetReader(sheet, STRINGS, frozenset((2,)), False).read(part.encode(), by_blocks)
    cells = {
        cell: (run.template, run.area, run.dynamic, run.frozen)
        for run in sheet.runs
        for cell in run.cells()
        if run.template or run.frozen
    }
    return {c: rows for c, rows in sheet.values.items() if rows}, sheet.dates, cells, sheet.hidden_rows


@settings(max_examples=300, deadline=None)
@given(sheets())
def test_blocks_are_read_as_cell_by_cell_and_as_an_xml_parser_reads(part: str) -> None:
    by_blocks = read(part)
    assert by_blocks == read(part, by_blocks=False)
    assert by_blocks == read(part.replace("<sheetData>", "<!-- --><sheetData>"))


@settings(max_examples=300, deadline=None)
@given(sheets(), st.lists(st.sampled_from(VALUES), min_size=4, max_size=4), st.integers(0, 2))
def test_blocks_are_written_as_cell_by_cell_and_by_positions(part: str, values: list[Any], skip: int) -> None:
    cells = [(row, column) for (_, row, column), (_, area, *_) in read(part)[2].items() if area is None]
    new = {cell: values[sum(cell) % 4] for i, cell in enumerate(cells) if not skip or i % skip}
    columns: dict[int, dict[int, Any]] = {}
    for (row, column), value in new.items():
        columns.setdefault(column, {})[row] = value
    raw, noted = part.encode(), part.replace("<sheetData>", "<!-- --><sheetData>").encode()
    written, changed = rewrite_columns(raw, columns)
    assert (written, changed) == rewrite_columns(raw, columns, by_blocks=False)
    careful, also = rewrite_cells(noted, new)
    assert (written, changed) == (careful.replace(b"<!-- -->", b""), also)


def test_a_filled_down_register_is_a_few_blocks() -> None:
    row = '<row r="{r}"><c r="A{r}" s="{s}"><v>{r}</v></c><c r="B{r}"><f>A{r}*2</f><v>1</v></c></row>'
    odd = '<row r="3001"><c r="A3001"><f>SUM(A1:A3000)</f></c></row>'
    part = "".join(row.format(r=r, s=r % 2) for r in range(1, 3001)) + odd
    found = list(blocks(part.encode(), 0, len(part)))
    assert [(piece.first, len(piece.rows)) for piece in found if isinstance(piece, Block)] == [
        (1, 2048),
        (2049, 952),
    ]
    assert [piece for piece in found if isinstance(piece, Stretch)] == [Stretch(len(part) - len(odd), len(part))]


@pytest.mark.parametrize(
    "row",
    [
        '<row r="5"><c r="A6"><v>1</v></c></row>',  # a cell of another row
        '<row r="5"><c r="A5"><f>A4</f></c></row>',  # looks at another row
        '<row r="5"><c r="A5"><f>"</f></c></row>',  # cannot be read
        '<row r="5"><c r="A5"><f t="array" ref="A5:A6">B5:B6</f></c></row>',
        '<row r="5"><c r="A5"><v>1</v></c>',
        '<row r="5"><c r="A5"><f></f><v>1</v></c></row>',
        '<row r="5"><c><v>1</v></c></row>',
        '<row r="5"/>',
        '<row r="5"></row>',
    ],
)
def test_rows_of_another_kind_have_no_layout(row: str) -> None:
    assert layout_of(row.encode()) is None


@pytest.mark.parametrize(
    ("formula", "in_row_17"),
    [
        ("A5*5", "A17*5"),
        ("A$5+A5", "A$5+A17"),
        ("A5+5E5", "A17+5E5"),
        ("rate5+A5", "rate5+A17"),
        ("A5&amp;&quot;A5&quot;", None),
        ("'A5'!A5", None),
        ("LOG5(A5)", "LOG5(A17)"),
        ("SUM(A5:$B5,5:5)", None),
        ("tDies[A5]+A5", None),
    ],
)
def test_numbers_in_texts_names_and_constants_are_not_taken_for_rows(formula: str, in_row_17: str | None) -> None:
    found = layout_of(f'<row r="5"><c r="B5"><f>{formula}</f></c></row>'.encode())
    assert (found and found.formulas[0].formula_in(17)) == in_row_17


@pytest.mark.parametrize("root", ["<worksheet>", '<worksheet xs="urn:x">', '<chartsheet xmlns="urn:x">'])
def test_what_is_no_worksheet_is_refused(root: str) -> None:
    end = root[1:].split(">")[0].split()[0]
    part = f'{root}<sheetData><row r="1"><c r="A1"><v>1</v></c></row></sheetData></{end}>'
    for by_blocks in (True, False):
        with pytest.raises(Refused, match="is no worksheet"):
            read(part, by_blocks)


def test_a_cell_with_two_formulas_is_refused() -> None:
    rows = [f'<row r="{r}"><c r="A{r}"><f>B{r}*2</f></c><c r="B{r}"><v>1</v></c></row>' for r in range(1, 30)]
    twice = rows[6].replace("</row>", '<c r="A7"><f>B7*3</f></c></row>')
    for changed in ([*rows[:6], twice, *rows[7:]], [*rows, rows[6]]):
        for by_blocks in (True, False):
            with pytest.raises(ValueError, match="the cell A7 is there twice"):
                read(f"{ROOT}<sheetData>{''.join(changed)}</sheetData></worksheet>", by_blocks)
    out_of_order = [*rows[10:], *rows[:10]]
    assert read(f"{ROOT}<sheetData>{''.join(out_of_order)}</sheetData></worksheet>")[0][2] == dict.fromkeys(
        range(1, 30), 1.0
    )


@pytest.mark.parametrize("stored", ["INF", "NaN", "1e999", "-Infinity"])
def test_what_is_no_number_is_not_taken_for_one(stored: str) -> None:
    rows = [f'<row r="{r}"><c r="A{r}"><v>{stored if r == 7 else r}</v></c></row>' for r in range(1, 10)]
    for by_blocks in (True, False):
        with pytest.raises(ValueError, match="not finite"):
            read(f"{ROOT}<sheetData>{''.join(rows)}</sheetData></worksheet>", by_blocks)
