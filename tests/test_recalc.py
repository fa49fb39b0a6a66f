"""Whole files: nothing but stored values changes, whatever wrote the workbook and whatever else it holds."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from books import F, Made, make, refresh, values, without_values
from openpyxl.chart import BarChart, Reference
from openpyxl.comments import Comment
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import PatternFill
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.table import Table
from parts import SHEET, differing_parts, fingerprint, raw_entries, write_zip

from pressfuncs.batch.archive import DEFAULT_LIMITS
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.refusals import Refused

ROWS = range(2, 12)


def register() -> openpyxl.Workbook:
    """Make a register with all that openpyxl can put around cells."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Dies"
    sheet.append(["die", "L", "t", "tau", "force", "label"])
    for row in ROWS:
        formula = f"=PF_SHEARING_FORCE(B{row},C{row},D{row})"
        sheet.append(
            [f"D{row}", 100 * row, 2, 310, formula, f'=IF(E{row}>300,"heavy","light")&" "&ROUND(E{row},1)']
        )
    sheet.add_table(Table(displayName="tDies", ref="A1:F11"))
    chart = BarChart()
    chart.add_data(Reference(sheet, min_col=5, min_row=1, max_row=11), titles_from_data=True)
    sheet.add_chart(chart, "H2")
    sheet["E2"].comment = Comment("cut along the whole edge", "shop")
    validation = DataValidation(type="decimal", operator="greaterThan", formula1="0")
    validation.add("C2:C11")
    sheet.add_data_validation(validation)
    red = PatternFill("solid", bgColor="FFC7CE")
    sheet.conditional_formatting.add("E2:E11", CellIsRule(operator="greaterThan", formula=["500"], fill=red))
    sheet.merge_cells("H20:J20")
    sheet.freeze_panes = "B2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.auto_filter.ref = "A1:F11"
    other = book.create_sheet("Sum")
    other["A1"] = "=SUM(Dies!E2:E11)"
    other["A2"] = "=PF_REQUIRED_CAPACITY(A1,0.8)"
    book.create_sheet("Notes")["A1"] = "nothing is computed here"
    return book


def parts_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as book:
        return {name: book.read(name) for name in book.namelist()}


def rich(tmp_path: Path) -> Path:
    """Save the register, with parts that openpyxl does not write."""
    plain = tmp_path / "plain.xlsx"
    register().save(plain)
    more = {
        "xl/printerSettings/printerSettings1.bin": bytes(range(200)),
        "xl/media/image1.png": b"\x89PNG\r\n\x1a\n" + bytes(64),
        "customXml/item1.xml": b"<order><number>1</number></order>",
        "xl/threadedComments/threadedComment1.xml": b"<ThreadedComments/>",
        "xl/vbaProject.bin": bytes(range(256)) * 9,
        "xl/ctrlProps/ctrlProp1.xml": b"<formControlPr/>",
    }
    return write_zip(tmp_path / "rich.xlsx", parts_of(plain) | more)


WANT = {f"Dies!E{row}": pytest.approx(100 * row * 2 * 310 / 1000) for row in ROWS} | {
    "Dies!F2": "light 124",
    "Dies!F11": "heavy 682",
    "Sum!A1": pytest.approx(4030),
    "Sum!A2": pytest.approx(4030 / 0.8),
}


def holds(found: dict[str, Any], want: dict[str, Any]) -> None:
    assert {address: found.get(address) for address in want} == want


def test_only_stored_values_of_formula_cells_change(tmp_path: Path) -> None:
    path = rich(tmp_path)
    found, outcome = refresh(path)
    out = tmp_path / "rich_out.xlsx"
    assert outcome.complete
    holds(found, WANT)
    changed = {"xl/worksheets/sheet1.xml": "changed", "xl/worksheets/sheet2.xml": "changed"}
    assert differing_parts(path, out) == changed
    for name in changed:
        assert without_values(parts_of(path)[name]) == without_values(parts_of(out)[name])
    old, new = raw_entries(path), raw_entries(out)
    assert {name for name in old if old[name] != new[name]} == set(changed)


def test_formulas_stay_formulas(tmp_path: Path) -> None:
    path = rich(tmp_path)
    refresh(path)
    before, after = (openpyxl.load_workbook(p) for p in (path, tmp_path / "rich_out.xlsx"))
    for sheet in before.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert after[sheet.title][cell.coordinate].value == cell.value


def test_a_second_run_finds_nothing_to_do(tmp_path: Path) -> None:
    path = rich(tmp_path)
    recalculate(path, path)
    before = fingerprint(path)
    outcome = recalculate(path, path)
    assert outcome.changes == []
    assert outcome.written is None or fingerprint(path) == before
    assert fingerprint(path) == before


def test_no_forced_recalculation_is_asked_for_on_load(tmp_path: Path) -> None:
    """It would turn our functions into #NAME? for a colleague without the add-in."""
    path = rich(tmp_path)
    refresh(path)
    assert parts_of(path)["xl/workbook.xml"] == parts_of(tmp_path / "rich_out.xlsx")["xl/workbook.xml"]


# Other ways of writing the same


def strict(parts: dict[str, bytes]) -> dict[str, bytes]:
    swaps = [
        (
            b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
            b"http://purl.oclc.org/ooxml/spreadsheetml/main",
        ),
        (
            b"http://schemas.openxmlformats.org/officeDocument/2006/relationships",
            b"http://purl.oclc.org/ooxml/officeDocument/relationships",
        ),
    ]
    for old, new in swaps:
        parts = {name: content.replace(old, new) for name, content in parts.items()}
    return parts


def of_sheets(change: Callable[[bytes], bytes]) -> Callable[[dict[str, bytes]], dict[str, bytes]]:
    def changed(parts: dict[str, bytes]) -> dict[str, bytes]:
        return {name: change(part) if "worksheets/sheet" in name else part for name, part in parts.items()}

    return changed


def prefixed(part: bytes) -> bytes:
    part = re.sub(rb"<(/?)(?!\?)([A-Za-z])", rb"<\1x:\2", part)
    return part.replace(b"xmlns=", b"xmlns:x=", 1)


def without_addresses(part: bytes) -> bytes:
    return re.sub(rb'<(c|row) r="[A-Z0-9]+"', rb"<\1", part)


def utf16(part: bytes) -> bytes:
    text = part.decode("utf-8").replace("encoding='UTF-8'", "encoding='UTF-16'").replace('"UTF-8"', '"UTF-16"')
    if not text.startswith("<?xml"):
        text = "<?xml version='1.0' encoding='UTF-16'?>" + text
    return text.encode("utf-16")


def commented(part: bytes) -> bytes:
    return part.replace(b"<sheetData>", b"<!-- by hand --><sheetData>", 1)


def single_quotes(part: bytes) -> bytes:
    return re.sub(rb'(<c r=)"([A-Z0-9]+)"', rb"\1'\2'", part)


SPELLINGS = {
    "strict": strict,
    "prefix": of_sheets(prefixed),
    "no addresses": of_sheets(without_addresses),
    "utf-16": of_sheets(utf16),
    "comment": of_sheets(commented),
    "single quotes": of_sheets(single_quotes),
}


@pytest.mark.parametrize("name", SPELLINGS)
def test_other_spellings_of_the_format_are_read_and_kept(tmp_path: Path, name: str) -> None:
    plain = tmp_path / "plain.xlsx"
    register().save(plain)
    path = write_zip(tmp_path / "other.xlsx", SPELLINGS[name](parts_of(plain)))
    out = tmp_path / "out.xlsx"
    outcome = recalculate(path, out)
    assert outcome.complete
    assert {change.cell: change.after for change in outcome.changes if change.sheet == "Sum"} == {
        "A1": pytest.approx(4030),
        "A2": pytest.approx(4030 / 0.8),
    }
    assert set(differing_parts(path, out)) == {"xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"}
    assert recalculate(out, None).changes == []
    if name in ("prefix", "comment", "single quotes"):
        holds(values(out), WANT)


def test_inputs_of_every_stored_kind_are_read(tmp_path: Path) -> None:
    strings = (
        b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>100 mm</t></si>'
        b"<si><r><t>2</t></r><r><t xml:space='preserve'> mm</t></r><rPh sb='0' eb='1'><t>x</t></rPh></si></sst>"
    )
    path = make(tmp_path / "a.xlsx", {"Dies": {"D1": F("PF_SHEARING_FORCE(A1,B1,C1)"), "D2": F("A2+1")}})
    parts = parts_of(path)
    sheet = parts[SHEET].replace(
        b'<row r="1">',
        b'<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c>'
        b'<c r="C1" t="inlineStr"><is><r><t>300</t></r><r><t> MPa</t></r></is></c>',
    )
    sheet = sheet.replace(b'<row r="2">', b'<row r="2"><c r="A2" t="d"><v>2024-01-31</v></c>')
    parts |= {SHEET: sheet, "xl/sharedStrings.xml": strings}
    parts["xl/_rels/workbook.xml.rels"] = parts["xl/_rels/workbook.xml.rels"].replace(
        b"</Relationships>",
        b'<Relationship Id="rIdT" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/'
        b'sharedStrings" Target="sharedStrings.xml"/></Relationships>',
    )
    parts["[Content_Types].xml"] = parts["[Content_Types].xml"].replace(
        b"</Types>",
        b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.'
        b'spreadsheetml.sharedStrings+xml"/></Types>',
    )
    outcome = recalculate(write_zip(path, parts), None)
    assert {c.cell: c.after for c in outcome.changes} == {"D1": pytest.approx(60), "D2": 45323.0}


def test_long_columns_are_computed_column_by_column_and_cell_by_cell_alike(tmp_path: Path) -> None:
    cells: dict[str, Any] = {}
    for row in range(1, 60):
        cells |= {
            f"A{row}": 10.0 * row if row % 7 else "x",
            f"B{row}": row % 5 / 4,
            f"C{row}": "inch" if row % 3 else "",
        }
        cells[f"D{row}"] = F(f"PF_SHEARING_FORCE(A{row},B{row},300,C{row})", 1.0)
        cells[f"E{row}"] = F(f'IFERROR(D{row},0)&"|"&PF_REQUIRED_CAPACITY(IFERROR(D{row},1)+1)', "1")
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    fast, outcome = refresh(path)
    slow, other = refresh(path, column_by_column=False)
    assert fast == slow
    assert outcome.failing == other.failing
    assert outcome.failing


def test_limits_refuse_a_large_book_with_one_sentence(tmp_path: Path) -> None:
    path = rich(tmp_path)
    before = fingerprint(path)
    from dataclasses import replace

    with pytest.raises(Refused) as refused:
        recalculate(path, path, Options(limits=replace(DEFAULT_LIMITS, total=1000, part=1000)))
    assert "\n" not in str(refused.value)
    assert fingerprint(path) == before


def test_a_macro_workbook_keeps_its_macros(tmp_path: Path) -> None:
    sheets = {"Dies": {"A1": F("PF_SHEARING_FORCE(1,1,1000)", 0.0)}}
    path = make(tmp_path / "a.xlsm", sheets, Made(macros=True))
    found, _ = refresh(path)
    assert found == {"Dies!A1": 1}
    assert differing_parts(path, tmp_path / "a_out.xlsm") == {SHEET: "changed"}
