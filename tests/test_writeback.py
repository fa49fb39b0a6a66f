"""Writing stored values into sheet parts: only they change, the fast and the careful way alike."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import openpyxl
import openpyxl.formatting.rule
import openpyxl.worksheet.datavalidation
import openpyxl.worksheet.formula
import pytest
from parts import SHEET, differing_parts
from sheets import sheet, with_comment

from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.writeback import CellsNotFound, CellValue, rewrite_cells
from pressfuncs.errors import CellError


def rewritten(cell: str, value: CellValue) -> str:
    """Return the bytes of cell B2 after a value was written, the same by both ways, nothing else touched."""
    before, after = '<row r="2"><c r="A2"><v>1</v></c>', "</row>"
    part = sheet(before + cell + after)
    fast, changed = rewrite_cells(part, {(2, 2): value})
    careful, also = rewrite_cells(with_comment(part), {(2, 2): value})
    assert careful == with_comment(fast)
    assert changed == also == (fast != part)
    head, tail = sheet(before), sheet(after)
    head, tail = head[: head.index(b"</sheetData>")], tail[tail.index(b"</row>") :]
    assert fast.startswith(head)
    assert fast.endswith(tail)
    return fast[len(head) : -len(tail)].decode()


F = "<f>A2*2</f>"
ARRAY_OF_ONE = '<f t="array" ref="B2">A1:A9</f>'
MARKED = '<f><![CDATA[A2>"</c>"]]></f>'
OTHER = 'xmlns:x="y" x:a="1>2 t=\'s\'"'


@pytest.mark.parametrize(
    ("cell", "value", "expected"),
    [
        # a value of each type in the place of one of each
        (f'<c r="B2" s="3">{F}<v>2</v></c>', 4.0, f'<c r="B2" s="3">{F}<v>4</v></c>'),
        (f'<c r="B2" s="3">{F}<v>2</v></c>', "fits", f'<c r="B2" s="3" t="str">{F}<v>fits</v></c>'),
        (f'<c r="B2">{F}<v>2</v></c>', True, f'<c r="B2" t="b">{F}<v>1</v></c>'),
        (f'<c r="B2">{F}<v>2</v></c>', CellError("#N/A"), f'<c r="B2" t="e">{F}<v>#N/A</v></c>'),
        (f'<c r="B2">{F}<v>2</v></c>', None, f'<c r="B2">{F}</c>'),
        (f'<c r="B2" t="str">{F}<v>fits</v></c>', 4.5, f'<c r="B2">{F}<v>4.5</v></c>'),
        (f'<c r="B2" t="str">{F}<v>fits</v></c>', "not", f'<c r="B2" t="str">{F}<v>not</v></c>'),
        (f'<c r="B2" t="b" s="1">{F}<v>1</v></c>', False, f'<c r="B2" t="b" s="1">{F}<v>0</v></c>'),
        (f'<c r="B2" t="e" s="1">{F}<v>#N/A</v></c>', "", f'<c r="B2" t="str" s="1">{F}<v></v></c>'),
        (f'<c r="B2" t="n" s="1">{F}<v>1</v></c>', 2.0, f'<c r="B2" t="n" s="1">{F}<v>2</v></c>'),
        (f'<c r="B2" t="s">{F}<v>7</v></c>', "text", f'<c r="B2" t="str">{F}<v>text</v></c>'),
        (f'<c r="B2" t="s">{F}<v>7</v></c>', 7.0, f'<c r="B2">{F}<v>7</v></c>'),
        (f'<c r="B2" t="d">{F}<v>2024-05-17</v></c>', 1.0, f'<c r="B2">{F}<v>1</v></c>'),
        (f'<c r="B2" t="inlineStr">{F}<is><t>a</t></is></c>', "b", f'<c r="B2" t="str">{F}<v>b</v></c>'),
        (f'<c r="B2" t="inlineStr">{F}<is><t>a</t></is></c>', None, f'<c r="B2">{F}</c>'),
        # no value yet
        (f'<c r="B2">{F}</c>', 4.0, f'<c r="B2">{F}<v>4</v></c>'),
        (f'<c r="B2">{F}<v/></c>', 4.0, f'<c r="B2">{F}<v>4</v></c>'),
        (f'<c r="B2">{F}<v></v></c>', 0.0, f'<c r="B2">{F}<v>0</v></c>'),
        (f'<c r="B2">{F}<v /></c>', "", f'<c r="B2" t="str">{F}<v></v></c>'),
        # shapes of formulas
        ('<c r="B2"><f t="shared" si="0"/><v>1</v></c>', 2.0, '<c r="B2"><f t="shared" si="0"/><v>2</v></c>'),
        ('<c r="B2"><f>A2&gt;1</f><v>1</v></c>', 2.0, '<c r="B2"><f>A2&gt;1</f><v>2</v></c>'),
        ("<c r=\"B2\"><f>'My Dies'!A1</f><v>1</v></c>", 2.0, "<c r=\"B2\"><f>'My Dies'!A1</f><v>2</v></c>"),
        (f'<c r="B2">{ARRAY_OF_ONE}<v>1</v></c>', 2.0, f'<c r="B2">{ARRAY_OF_ONE}<v>2</v></c>'),
        # metadata: the old value's goes, the formula's stays
        (
            f'<c r="B2" s="1" t="e" cm="1" vm="2">{F}<v>#VALUE!</v></c>',
            3.0,
            f'<c r="B2" s="1" cm="1">{F}<v>3</v></c>',
        ),
        (f'<c r="B2" vm="2">{F}<v>3</v></c>', 4.0, f'<c r="B2">{F}<v>4</v></c>'),
        (f'<c r="B2" vm="2" ph="1">{F}<v>3</v></c>', "x", f'<c r="B2" ph="1" t="str">{F}<v>x</v></c>'),
        # what else is in the cell
        (
            f'<c r="B2">{F}<v>1</v><extLst><ext uri="{{x}}"><f>1</f></ext></extLst></c>',
            2.0,
            f'<c r="B2">{F}<v>2</v><extLst><ext uri="{{x}}"><f>1</f></ext></extLst></c>',
        ),
        (f'<c r="B2">{F}<extLst/></c>', 2.0, f'<c r="B2">{F}<v>2</v><extLst/></c>'),
        (f'<c r="B2"\n s="1" >\n {F}\n <v>1</v>\n</c>', True, f'<c r="B2"\n s="1"  t="b">\n {F}\n <v>1</v>\n</c>'),
        (f"<c r='B2' t='e' s='1'>{F}<v>#N/A</v></c>", "x", f"<c r='B2' t=\"str\" s='1'>{F}<v>x</v></c>"),
        (f'<c s="1" t="b" r="B2">{F}<v>1</v></c>', 2.0, f'<c s="1" r="B2">{F}<v>2</v></c>'),
        (f'<c s="1">{F}<v>1</v></c>', 2.0, f'<c s="1">{F}<v>2</v></c>'),
        (f'<c r="b2">{F}<v>1</v></c>', 2.0, f'<c r="b2">{F}<v>2</v></c>'),
        (f'<c r="B2" {OTHER}>{F}<v>1</v></c>', 2.0, f'<c r="B2" {OTHER}>{F}<v>2</v></c>'),
        (f'<c r="B2"><!--1-->{F}<v>1</v><!--3--></c>', 2.0, f'<c r="B2"><!--1-->{F}<v>2</v><!--3--></c>'),
        (f'<c r="B2">{MARKED}<v>1</v></c>', 2.0, f'<c r="B2">{MARKED}<v>2</v></c>'),
        ('<c r="B2"><f>A2</f><?app x?><v>1</v></c>', 2.0, '<c r="B2"><f>A2</f><?app x?><v>2</v></c>'),
    ],
)  # fmt: skip
def test_writes_only_the_stored_value(cell: str, value: CellValue, expected: str) -> None:
    assert rewritten(cell, value) == expected


@pytest.mark.parametrize(
    ("value", "kind", "written"),
    [
        (0.1 + 0.2, "", "0.30000000000000004"),
        (1e-7, "", "1E-07"),
        (-1.5e300, "", "-1.5E+300"),
        (5e-324, "", "5E-324"),
        (123456789012345680.0, "", "1.2345678901234568E+17"),
        (3, "", "3"),
        (-0.0, "", "0"),
        (math.nan, "e", "#NUM!"),
        (-math.inf, "e", "#NUM!"),
        (10**400, "e", "#NUM!"),
        (np.float64(2.5), "", "2.5"),
        (np.int64(7), "", "7"),
        (np.bool_(True), "b", "1"),
        (np.str_("fits"), "str", "fits"),
        (CellError("#SPILL!"), "e", "#VALUE!"),
        (CellError("#GETTING_DATA"), "e", "#GETTING_DATA"),
        ("a<b>&\"c\"'", "str", "a&lt;b&gt;&amp;\"c\"'"),
        ("too tall by 3,2 mm ü €", "str", "too tall by 3,2 mm ü €"),
        ("\U0001f529 bolt", "str", "\U0001f529 bolt"),
        ("\ud83d\udd29 bolt", "str", "\U0001f529 bolt"),
        ("half \ud83d letter", "str", "half _xD83D_ letter"),
        ("line\r\nline\ttab", "str", "line_x000D_\nline\ttab"),
        ("\x00\x0b\x1f\ufffe\uffff", "str", "_x0000__x000B__x001F__xFFFE__xFFFF_"),
        ("_x0041_ and _x0041_x0042_", "str", "_x005F_x0041_ and _x005F_x0041_x005F_x0042_"),
        ("_x41_ _x0041 x0041_", "str", "_x41_ _x0041 x0041_"),
        ("x" * 32_767, "str", "x" * 32_767),
        ("x" * 32_768, "e", "#VALUE!"),
        ("\U0001f529" * 16_384, "e", "#VALUE!"),
    ],
)  # fmt: skip
def test_values_are_written_as_the_format_wants_them(value: CellValue, kind: str, written: str) -> None:
    kind = f' t="{kind}"' if kind else ""
    assert rewritten(f'<c r="B2">{F}<v>2</v></c>', value) == f'<c r="B2"{kind}>{F}<v>{written}</v></c>'


@pytest.mark.parametrize("text", [" lead", "trail ", "\nline", "tab\t", " "])
def test_white_space_at_the_ends_is_kept(text: str) -> None:
    assert f'<v xml:space="preserve">{text}</v>' in rewritten(f'<c r="B2">{F}<v>2</v></c>', text)


def test_other_values_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(TypeError, match="cannot hold a list"):
        rewrite_cells(sheet(f'<row r="2"><c r="B2">{F}</c></row>'), {(2, 2): [1.0]})  # type: ignore[dict-item]


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        (f'<c r="B2">{F}<v>0.30000000000000004</v></c>', 0.3),
        (f'<c r="B2">{F}<v>3.00000000000000E-1</v></c>', 0.3),
        (f'<c r="B2" t="n" vm="1">{F}<v>0.3</v></c>', 0.30000000000000004),
        (f'<c r="B2">{F}<v>-0</v></c>', 0.0),
        (f'<c r="B2">{F}<v> 12 </v></c>', 12),
        (f'<c r="B2" t="b">{F}<v>true</v></c>', True),
        (f'<c r="B2" t="b">{F}<v>0</v></c>', False),
        (f'<c r="B2" t="e" vm="1">{F}<v>#VALUE!</v></c>', CellError("#VALUE!")),
        (f'<c r="B2" t="str">{F}<v>a &quot;b&quot;&#10;&#x41;</v></c>', 'a "b"\nA'),
        (f'<c r="B2" t="str">{F}<v>a\r\nb_x000d_</v></c>', "a\nb\r"),
        (f'<c r="B2" t="str">{F}<v>&#x85;</v></c>', "\x85"),
        (f'<c r="B2" t="str">{F}<v></v></c>', ""),
        (f'<c r="B2" t="str">{F}<v/></c>', ""),
        (f'<c r="B2" t="str">{F}</c>', ""),
        (f'<c r="B2" t="str">{F}<v>a<!-- b -->c<![CDATA[<&]]></v></c>', "ac<&"),
        (f'<c r="B2" t="inlineStr">{F}<is><r><t>a </t></r><rPh><t>z</t></rPh><r><t>b</t></r></is></c>', "a b"),
        (f'<c r="B2">{F}<v/></c>', None),
        (f'<c r="B2">{F}</c>', None),
    ],
)  # fmt: skip
def test_a_value_that_is_stored_already_keeps_its_bytes(cell: str, value: CellValue) -> None:
    assert rewritten(cell, value) == cell


@pytest.mark.parametrize(
    ("old", "new"),
    [("1", 1.00000000000001), ("9.99999999999999", 10.0), ("0", 5e-324), ("1e400", 2.0), ("1", -1.0)],
)
def test_a_difference_in_15_digits_is_a_difference(old: str, new: float) -> None:
    assert rewritten(f'<c r="B2">{F}<v>{old}</v></c>', new) != f'<c r="B2">{F}<v>{old}</v></c>'


def test_a_part_with_nothing_to_change_is_returned_as_it_is() -> None:
    for part in (sheet(f'<row r="2"><c r="B2">{F}<v>2</v></c></row>'), sheet("").decode().encode("utf-16")):
        assert rewrite_cells(part, {}) == (part, 0)
    part = sheet(f'<row r="2"><c r="B2">{F}<v>2</v></c></row>')
    assert rewrite_cells(part, {(2, 2): 2.0})[0] is part
    assert rewrite_cells(with_comment(part), {(2, 2): 2.0})[1] == 0


@pytest.mark.parametrize("dress", [lambda part: part, with_comment])
def test_cells_without_formula_are_never_written_and_never_lost(dress: Callable[[bytes], bytes]) -> None:
    part = dress(sheet(f'<row r="2"><c r="A2"><v>1</v></c><c r="B2">{F}<v>2</v></c><c r="C2" s="1"/></row>'))
    with pytest.raises(CellsNotFound, match=r"no formula fills A2, C2, B7$") as caught:
        rewrite_cells(part, {(2, 1): 9.0, (2, 2): 4.0, (2, 3): 1.0, (7, 2): 1.0})
    assert caught.value.cells == [(2, 1), (2, 3), (7, 2)]
    with pytest.raises(CellsNotFound, match=r"B1, .* and 90 more"):
        rewrite_cells(part, {(row, 2): 1.0 for row in range(1, 102)})
    with pytest.raises(CellsNotFound, match="B2"):
        rewrite_cells(part, {(2, 2): 1.0}, {(2, 2): "B2:B3"})


@pytest.mark.parametrize(
    "cell",
    [
        f'<c r="B2" s="1" t="str">{F}<v>fits</v></c>',
        '<c r="B2" t="n"><f aca="false">A2*2</f><v>2</v></c>',
        f'<c r="B2">{F}<v /></c>',
        '<c r="B2" s="1"><f t="shared" ref="B2:B9" si="0">A2*2</f><v>2</v></c>',
        "<c r=\"B2\"><f>'C:\\shop\\[dies.xlsx]Dies'!A1</f><v>2</v></c>",
    ],
)
def test_parts_as_the_usual_programs_write_them_go_the_fast_way(
    cell: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delattr("pressfuncs.batch.writeback.rewrite_by_positions")
    _, changed = rewrite_cells(sheet(f'<row r="2"><c r="A2"><v>1</v></c>{cell}</row>'), {(2, 2): 7.0})
    assert changed == 1
    with pytest.raises(NameError):
        rewrite_cells(with_comment(sheet(f'<row r="2">{cell}</row>')), {(2, 2): 7.0})


@pytest.mark.parametrize("extra", ["", "<!-- careful -->"])
def test_declared_entities_are_refused(extra: str) -> None:
    declaration = f'<!DOCTYPE worksheet [<!ENTITY a "b">]>{extra}'
    with pytest.raises(Refused, match="declares a document type"):
        rewrite_cells(sheet(f'<row r="2"><c r="B2">{F}</c></row>', declaration), {(2, 2): 1.0})


@pytest.mark.parametrize(
    "part",
    [
        sheet(f'<row r="2"><c r="B2">{F}<!-- --></row>'),
        sheet('<row r="2"><c r="B">x</c><!-- --></row>'),
        sheet('<row r="x"><!-- --></row>'),
        sheet(f'<row r="2"><c r="B2" t="str">{F}<v>@</v></c></row>').replace(b"@", b"\xff"),
        sheet(f'<row r="2"><c r="B2" t="str">{F}<v>&#9999999;</v></c></row>'),
        sheet("", '<?xml version="1.0" encoding="no-such-code"?>'),
        sheet("", '<?xml version="1.0" encoding="hex"?>'),
        sheet("").decode().encode("utf-16")[:-1],
        b"",
    ],
)
def test_parts_that_cannot_be_read_are_refused(part: bytes) -> None:
    with pytest.raises(Refused, match="of the sheet is damaged"):
        rewrite_cells(part, {(2, 2): "fits"})


def test_a_real_workbook_keeps_everything_but_its_values(tmp_path: Path) -> None:
    path = tmp_path / "register.xlsx"
    book = openpyxl.Workbook()
    dies = book.active
    dies["A1"], dies["B1"], dies["C1"] = 3.2, "=A1*2", '=IF(A1>3,"fits","no")'
    dies["B2"] = openpyxl.worksheet.formula.ArrayFormula("B2:B3", "=A1:A2")
    dies.column_dimensions["A"].width = 30
    dies.conditional_formatting.add(
        "A1:A9", openpyxl.formatting.rule.CellIsRule(operator="greaterThan", formula=["3"])
    )
    dies.add_data_validation(openpyxl.worksheet.datavalidation.DataValidation("whole", sqref="A5"))
    book.create_sheet("Presses")["A1"] = "=Sheet!A1"
    book.save(path)
    values: dict[tuple[int, int], CellValue] = {
        (1, 2): 6.4, (1, 3): "fits", (2, 2): CellError("#N/A"), (3, 2): False,
    }  # fmt: skip
    with Package.open(path) as package:
        part, changed = rewrite_cells(package.read(SHEET), values)
        assert changed == 4
        package.save(tmp_path / "new.xlsx", {SHEET: part})
    assert differing_parts(path, tmp_path / "new.xlsx") == {SHEET: "changed"}
    stored = openpyxl.load_workbook(tmp_path / "new.xlsx", data_only=True)["Sheet"]
    assert [stored[a].value for a in ("B1", "C1", "B2", "B3")] == [6.4, "fits", "#N/A", False]
    formulas = openpyxl.load_workbook(tmp_path / "new.xlsx")["Sheet"]
    assert (formulas["B1"].value, formulas["C1"].value) == ("=A1*2", '=IF(A1>3,"fits","no")')
    assert formulas["B2"].value.ref == "B2:B3"
