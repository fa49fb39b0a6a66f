"""Column by column and cell by cell come to the same; so do parts as most programs write them, and other forms."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import pytest
from books import NOTHING, F, Made, make, refresh
from column_differ import run

from pressfuncs.batch.book import Sheet
from pressfuncs.batch.formulas import NotUnderstood
from pressfuncs.batch.outcome import Changes
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.sheet_reading import SheetReader
from pressfuncs.batch.writeback import rewrite_cells, rewrite_columns

ROW = '<row r="{r}"><c r="A{r}"><v>100</v></c><c r="B{r}"{head}><f{formula}>PF_X(A{r})</f><v>1</v></c></row>'
NAMESPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def test_random_workbooks_come_to_the_same_by_columns_and_by_cells() -> None:
    counts = run(600.0, 60, 1)
    assert counts["workbooks"] == 60
    assert counts["cells"] > 5_000


def part_of(rows: str) -> str:
    return f'<worksheet xmlns="{NAMESPACE}"><sheetData>{rows}</sheetData></worksheet>'


def read(part: str, by_blocks: bool = True) -> tuple[Any, ...]:
    """Return values, and formulas with their kinds, by cell."""
    sheet = Sheet("Dies", "xl/worksheets/sheet1.xml")
    SheetReader(sheet, ["steel", "copper"], frozenset((2,)), False).read(part.encode(), by_blocks)
    cells: dict[Any, Any] = {}
    for found in sheet.runs:
        for cell in found.cells():
            try:
                text = found.template.bind(found.column)(cell[1]) if found.template is not None else ""
            except NotUnderstood:
                text = ""
            cells[cell] = (text, found.area, found.frozen)
    return {c: repr(rows) for c, rows in sheet.values.items() if rows}, cells, sheet.dates


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("<c r=", "<c\nr="),
        ("<c r=", "<c\tr="),
        ("<c r=", "<c\r\nr="),
        ('<c r="A{r}">', "<c r=\"A{r}\" t='s'>"),
        ('<c r="A{r}">', "<c r=\"A{r}\" t='b'>"),
        ('<c r="A{r}">', '<c r="A{r}" t = "b">'),
        ('<c r="A{r}">', "<c r=\"A{r}\" s='2'>"),
        ('<c r="A{r}">', '<c r="A{r}" my-own="1" t="b">'),
        ("<f{formula}>", "<f t='array' ref='B{r}'>"),
        ("<f{formula}>", '<f t = "array" ref = "B{r}">'),
        ("<v>1</v>", "<v>1</v ></c><c r='C{r}'><v>4</v>"),
        ("<v>100</v>", '<v>100</v></c><c r="C{r}" t="str"><v></v>'),
        ("<v>100</v>", '<v>100</v></c><c r="C{r}" t="str"><v/>'),
        ("<v>100</v>", '<v>100</v></c><c r="C{r}" t="str">'),
        ("<v>100</v>", '<v>100</v></c><c r="C{r}" t="b"><v></v>'),
        ("<v>100</v>", '<v>100</v></c><c r="C{r}" t="inlineStr"><is><t></t></is>'),
        ("<v>100</v>", '<v>100</v></c><c r="C{r}" t="str"><v>a\r\nb\rc</v>'),
        ("PF_X(A{r})", 'PF_X(A{r},"a\r\nb")'),
        ('<row r="{r}">', '<?x <c r="D{r}"><v>7</v></c> ?><row r="{r}">'),
    ],
)
def test_any_way_of_writing_a_cell_is_read_as_an_xml_parser_reads_it(old: str, new: str) -> None:
    row = ROW.replace(old, new)
    assert row != ROW
    rows = "".join(
        row.replace("{r}", str(r)).replace("{head}", "").replace("{formula}", "").replace("<v>100", f"<v>{r % 2}")
        for r in range(2, 7)
    )
    part = part_of(rows)
    careful = read(part.replace("<sheetData>", "<!-- --><sheetData>"))
    assert careful[0][1]
    assert read(part) == careful
    assert read(part, by_blocks=False) == careful


@pytest.mark.parametrize("head", [" t='e'", ' t = "b"', " t='b' s='1'", ' my-own="1" t="b"', '\nt="b"'])
@pytest.mark.parametrize("value", [2.5, "text", True])
def test_any_way_of_writing_a_type_is_replaced_by_that_of_the_new_value(head: str, value: Any) -> None:
    rows = "".join(
        ROW.replace("{r}", str(r)).replace("{head}", head).replace("{formula}", "") for r in range(2, 7)
    )
    part = part_of(rows)
    new = {(row, 2): value for row in range(2, 7)}
    noted, count = rewrite_cells(part.replace("<sheetData>", "<!-- --><sheetData>").encode(), new)
    want = noted.replace(b"<!-- -->", b""), count
    columns = {2: {row: value for row in range(2, 7)}}
    assert rewrite_columns(part.encode(), columns) == want
    assert rewrite_columns(part.encode(), columns, by_blocks=False) == want


@pytest.mark.parametrize("formula", ['IF(A2:A4="","",A2:A4*2)', 'IF(A2:A4="","",A2:A4*PF_SHEARING_FORCE(1,2,3))'])
@pytest.mark.parametrize("rows", [3, 1])
def test_an_array_that_holds_empty_texts_is_up_to_date_once_it_is_written(
    tmp_path: Path, formula: str, rows: int
) -> None:
    cells: dict[str, Any] = {"A2": 5.0 if rows == 3 else None, "A3": None, "A4": None}
    cells["C2"] = F(formula, NOTHING, 't="array" ref="C2:C4"')
    cells |= {"C3": None, "C4": None, "D2": F("PF_SHEARING_FORCE(2,3,4)"), "D3": F('IF(C3="","none",C3)')}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    for by_columns in (True, False):
        _, outcome = refresh(path, column_by_column=by_columns)
        assert outcome.complete
        again = recalculate(path.with_name("a_out.xlsx"), None, Options(column_by_column=by_columns))
        assert not [*again.changes, *again.disagreements, *again.frozen]


def test_a_column_on_which_the_engine_fails_fails_for_that_column_and_what_hangs_on_it(tmp_path: Path) -> None:
    cells = {"A2": 0.2, "B2": F("PF_SHEARING_FORCE(A2,A2,A2)"), "C2": F("+B2*-B2%^A2-1"), "D2": F("C2+1")}
    path = make(tmp_path / "a.xlsx", {"Dies": cells | {"E2": F("LEN(C2)")}})
    ways = [refresh(path, everything=True, column_by_column=by_columns) for by_columns in (True, False)]
    assert ways[0][0] == ways[1][0]
    for _, outcome in ways:
        assert "C2" in [found.cell for found in outcome.frozen]
        assert {"C2", "D2", "E2"} == {f.cell for f in outcome.frozen} | {cell for _, cell in outcome.not_refreshed}


@pytest.mark.parametrize("formula", ['IF(0.5%-A2="","",NOT(-1))', 'IF(A2="","x",$A$2)', "IF(A2>1,AND(2>1),A2)"])
def test_values_that_are_the_same_in_all_rows_are_plain_values(tmp_path: Path, formula: str) -> None:
    ours = {"Z2": F("PF_SHEARING_FORCE(A2,A2,A2)", 0.008)}
    path = make(tmp_path / "a.xlsx", {"Dies": ours | {"A2": 2.0, "F2": F(formula)}})
    found, _ = refresh(path, everything=True, column_by_column=False)
    path = make(tmp_path / "a.xlsx", {"Dies": ours | {"A2": 2.0, "F2": F(formula, found["Dies!F2"])}})
    assert not refresh(path, everything=True)[1].changes


def ends(formula: str, tmp_path: Path, **more: Any) -> list[Any]:
    """Return what becomes of a formula in D2 beside a column B of ours that is out of date, by both ways."""
    cells = {f"{c}{row}": n * row for row in range(2, 6) for c, n in (("A", 100.0), ("C", 2.0))} | more
    cells |= {f"B{row}": F(f"PF_SHEARING_FORCE(A{row},C{row},300)", 5.0) for row in range(2, 6)}
    path = make(tmp_path / "a.xlsx", {"Dies": cells | {"D2": F(formula, 1.0)}, "Other": {"A1": 2.0}})
    found = []
    for by_columns in (True, False):
        values, outcome = refresh(path, column_by_column=by_columns)
        assert not outcome.disagreements
        found.append("frozen" if "D2" in [f.cell for f in outcome.frozen] else values["Dies!D2"])
    return found


@pytest.mark.parametrize(
    ("formula", "want"),
    [
        ("SUM(B2:INDEX(B:B,3))", 240 + 540),
        ("SUM($B$2:INDEX($B$2:$B$5,COUNT(A2:A5)))", 60 * (4 + 9 + 16 + 25)),
        ("SUM(Dies!$B$2:INDEX(Dies!$B$2:$B$5,COUNT(A2:A5)))", 60 * (4 + 9 + 16 + 25)),
        ("SUM($B$2:INDEX(Dies!$B$2:$B$5,COUNT(A2:A5)))", "frozen"),
        ("SUM(Other!A2:INDEX(A2:A5,2))", "frozen"),
        ("SUM(A2:INDEX(A2:C5,2,3))+B2", 200 + 300 + 240 + 540 + 4 + 6 + 240),
        ("SUM(A2:INDEX(C2:C5,2))", "frozen"),
        ("SUM(A2:INDEX(C2:C5,2))+B2", "frozen"),
        ("SUM(A1:INDEX(A2:C5,2,3))+B2", "frozen"),
        ("SUM(A2:IF(A2>1,C3,C4))", "frozen"),
        ("SUM(A2:CHOOSE(1,C3))", "frozen"),
        ("SUM(INDEX(A:A,2):INDEX(C:C,3))", "frozen"),
        ("SUM(INDEX(A:A,2):C3)", "frozen"),
        ("SUM(A2:(C3))", "frozen"),
        ("SUM((A2):(C3))", "frozen"),
        ("SUM(A2: INDEX(C:C,3))", "frozen"),
        ("SUM(A2:INDEX(A2:A5,2)*2)", "frozen"),
        ("SUM(2*A2:INDEX(A2:A5,2))", "frozen"),
        ("COUNT(1,A$2:INDEX(A$2:A5,2),3)+B2", 4 + 240),
        ("IF(A2:INDEX(A2:A5,2)>1,B2)", "frozen"),
        ("PF_LOAD_CENTRE(A2:INDEX(A2:A5,2),C2:INDEX(C2:C5,2))", "frozen"),
        ("PF_REQUIRED_CAPACITY(SUM(A2:INDEX(A2:A5,2))/1000,0.8)", pytest.approx(0.5 / 0.8)),
    ],
)
def test_a_range_to_a_computed_cell_is_read_where_it_is_known_what_it_may_hold(
    tmp_path: Path, formula: str, want: Any
) -> None:
    assert ends(formula, tmp_path) == [want, want]


class Counted(dict[int, Any]):
    """Rows of a column that count how often they are looked at."""

    looks = 0

    def __contains__(self, row: object) -> bool:
        Counted.looks += 1
        return super().__contains__(row)


def test_listing_changes_looks_at_each_once_however_wide_the_sheet_is() -> None:
    columns = {column: Counted({column: 1.0, 1: 2.0}) for column in range(2, 2000)}
    listed = list(Changes({"Dies": columns}, {}))
    assert len(listed) == 2 * len(columns)
    assert [change.cell for change in listed[:2]] == ["B1", "C1"]
    assert listed[-1].cell == "BXW1999"
    assert Counted.looks < 10 * len(listed)


def broken_off(path: Path, rows: int) -> float:
    """Return the processor seconds for a column of which every second row cannot be computed."""
    cells: dict[str, Any] = {}
    for row in range(2, rows + 2):
        cells[f"A{row}"] = float(row)
        cells[f"B{row}"] = F(f"[1]X!A{row}" if row % 2 else f"A{row}", 5.0)
        cells[f"C{row}"] = F(f"PF_SHEARING_FORCE(A{row},2,B{row})", 5.0)
        cells[f"D{row}"] = F(f"C{row}*2", 10.0)
    make(path, {"Dies": cells}, Made(external="x.xlsx"))
    start = time.process_time()
    outcome = recalculate(path, None, Options(second_engine=False))
    assert len(outcome.frozen) == rows // 2
    assert len(outcome.not_refreshed) == rows
    return time.process_time() - start


def test_a_column_cut_into_many_pieces_costs_in_proportion_to_them(tmp_path: Path) -> None:
    broken_off(tmp_path / "first.xlsx", 50)
    assert broken_off(tmp_path / "long.xlsx", 6000) < 8 * broken_off(
        tmp_path / "short.xlsx", 1500
    )  # 4 in proportion, 16 if square


@pytest.mark.parametrize("held", [7.0, F("A2*2", 2.0)])
def test_an_array_without_room_stays_frozen_whatever_the_second_engine_is_given(tmp_path: Path, held: Any) -> None:
    cells = {"A2": 1.0, "B2": 2.0, "A3": 3.0, "F2": held, "Z1": F("PF_SHEARING_FORCE(A2,B2,3)")}
    cells["E1"] = F("A2:B4*2", NOTHING, 't="array" ref="E1"', 'cm="1"')
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}), everything=True, second_engine=True)
    assert [(f.cell, f.reason.split(";")[0]) for f in outcome.frozen] == [
        ("E1", "its array has no room: F2 is not empty")
    ]
    assert "Dies!E1" not in found
