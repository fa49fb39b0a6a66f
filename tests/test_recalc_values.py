"""Which values are computed and written, and what of the file stays: one small workbook a rule."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest
from books import F, Made, Styled, force, make, one, refresh
from parts import differing_parts, fingerprint

from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.errors import CellError

# Values


def test_dates_are_refused_as_quantities(tmp_path: Path) -> None:
    cells = {
        "A1": Styled(100.0),
        "B1": F("PF_SHEARING_FORCE(A1,1,1000)"),
        "B2": F("PF_SHEARING_FORCE(A1+0,1,1000)"),
    }
    for date1904 in (False, True):
        found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}, Made(date1904=date1904)))
        assert (found["Dies!B1"], found["Dies!B2"]) == ("#VALUE!", 100)
        day = "1904-04-10" if date1904 else "1900-04-09"
        assert f"the date or time {day}" in outcome.failing[0].sentence


def test_the_1904_calendar_holds_for_ordinary_formulas(tmp_path: Path) -> None:
    cells = {"A1": 0.0, "B1": F("PF_SHEARING_FORCE(YEAR(A1)-1900,1,1000)+YEAR(A1)")}
    assert one(tmp_path, "YEAR(A1)+PF_SHEARING_FORCE(1,1,1000)", cells, Made(date1904=True)) == 1905


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ('PF_SHEARING_FORCE(100,1,1)+0.2&""', "0.3"),
        ('"F="&PF_SHEARING_FORCE(100,1,1)/3&" kN"', "F=0.0333333333333333 kN"),
        ("PF_SHEARING_FORCE(100,1,1)+0.2=0.3", True),
        ("PF_SHEARING_FORCE(100,1,1)+0.2>0.3", False),
        ("PF_SHEARING_FORCE(100,1,1)+0.2<=A1", True),
        ('IF(AND(PF_SHEARING_FORCE(100,1,1)+0.2<=A1,TRUE),"fits","no")', "fits"),
        ("PF_SHEARING_FORCE(100,1,1)+0.2-0.3", 0),
        ("LEN(PF_SHEARING_FORCE(100,1,1)/3)", 18),
        ('CONCATENATE(PF_SHEARING_FORCE(100,1,1)+0.2,"x")', "0.3x"),
        ('TEXTJOIN("-",TRUE,PF_SHEARING_FORCE(100,1,1)+0.2,B1)', "0.3-7"),
        ("CEILING(PF_SHEARING_FORCE(100,1,1)*3*10,1)", 3),
        ("FLOOR(PF_SHEARING_FORCE(100,1,1)*30,0.5)", 3),
        ("ROUNDUP(PF_SHEARING_FORCE(100,1,1)*3*10,0)", 3),
        ("SUMPRODUCT(E1:E3,C1:C3)+PF_SHEARING_FORCE(100,1,1)", 0.4),
        ("SUMPRODUCT((C1:C3=PF_SHEARING_FORCE(100,1,1)+0.2)*1)", 2),
        ('PF_SHEARING_FORCE(100,1,1)*1E20&""', "10000000000000000000"),
        ('PF_SHEARING_FORCE(100,1,1)*1E21&""', "1E+20"),
        ('IF(D1="",PF_SHEARING_FORCE(100,1,1),0)', 0.1),
        ("(D1=0)&(PF_SHEARING_FORCE(100,1,1)>D1)", "TRUETRUE"),
        ('IF(PF_SHEARING_FORCE(100,1,1)>0,D1,"")', 0),
        ('("A"="a")&("10"<9)&(TRUE>99)&PF_SHEARING_FORCE(1000,1,1)', "TRUEFALSETRUE1"),
        ('UPPER("äß")&PF_SHEARING_FORCE(1000,1,1)', "Äß1"),
    ],
)
def test_numbers_are_joined_and_compared_by_15_digits(tmp_path: Path, formula: str, expected: Any) -> None:
    cells = {"A1": 0.3, "B1": 7.0, "C1": 0.3, "C2": 0.1 + 0.2, "C3": 5.0, "E1": 1.0, "E2": True, "E3": "12"}
    assert one(tmp_path, formula, cells) == expected


@pytest.mark.parametrize("rows", ["", 'hidden="1"'])
def test_subtotals_are_left_to_the_application_where_rows_are_hidden(tmp_path: Path, rows: str) -> None:
    cells = {f"A{row}": F(f"PF_SHEARING_FORCE({row},1,1000)") for row in (1, 2, 3)} | {
        "A4": F("SUBTOTAL(109,A1:A3)", 9.0)
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}, Made(rows=rows)))
    assert outcome.complete == (not rows)
    assert found["Dies!A4"] == (9 if rows else 6)


@pytest.mark.parametrize(
    "name", ["sheet1", "SHEET1", "Shop's & <presses>", "Werkzeuge ä", "型", "A1", "1st", "a!b", "x.y", "TRUE"]
)
def test_sheets_may_have_any_name_and_be_hidden(tmp_path: Path, name: str) -> None:
    quoted = name.replace("'", "''")
    sheets = {
        name: {"A1": 100.0, "B1": F("PF_SHEARING_FORCE(A1,1,1000)", 0.0), "B2": F("B1*2", 0.0)},
        "Last": {"A1": F(f"PF_SHEARING_FORCE('{quoted}'!B2,1,1000)+'{quoted}'!A1", 0.0)},
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", sheets, Made(states={name: "veryHidden"})))
    assert outcome.complete, outcome
    assert (found[f"{name}!B2"], found["Last!A1"]) == (200, 300)


def test_errors_of_other_cells_are_passed_on(tmp_path: Path) -> None:
    for code in ("#N/A", "#REF!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#VALUE!"):
        assert one(tmp_path, "PF_SHEARING_FORCE(A1,1,1)", {"A1": CellError(code)}) == code


# The file


def test_a_no_op_leaves_the_file_as_it_is(tmp_path: Path) -> None:
    cells = {"A1": 0.1, "B1": F("PF_SHEARING_FORCE(A1,1,1000)+0.2", 0.3), "B2": F('B1&""', "0.3")}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    before = fingerprint(path)
    outcome = recalculate(path, path)
    assert outcome.changes == []
    assert fingerprint(path) == before
    copy = tmp_path / "copy.xlsx"
    recalculate(path, copy)
    assert fingerprint(copy) == before


def test_a_check_writes_nothing(tmp_path: Path) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": {"B1": F("PF_SHEARING_FORCE(1,1,1000)", 0.0)}})
    before = fingerprint(path)
    outcome = recalculate(path, None)
    assert [(c.cell, c.before, c.after) for c in outcome.changes] == [("B1", 0.0, 1.0)]
    assert outcome.written is None
    assert fingerprint(path) == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.xlsx"]


def test_only_sheets_with_stale_results_change(tmp_path: Path) -> None:
    sheets = {
        "Dies": {"B1": F("PF_SHEARING_FORCE(1,1,1000)", 0.0)},
        "Fresh": {"B1": F("PF_SHEARING_FORCE(1,1,1000)", 1.0)},
        "Plain": {"A1": "text"},
    }
    path = make(tmp_path / "a.xlsm", sheets, Made(macros=True, external="press.xlam"))
    out = tmp_path / "out.xlsm"
    recalculate(path, out)
    assert differing_parts(path, out) == {"xl/worksheets/sheet1.xml": "changed"}


def test_force_is_the_reference_that_these_tests_use(tmp_path: Path) -> None:
    assert one(tmp_path, "PF_SHEARING_FORCE(123.4,3.2,310)") == pytest.approx(force(123.4, 3.2, 310), rel=1e-12)


def test_clean_names_gives_calls_their_plain_names_and_the_same_values(tmp_path: Path):
    book = openpyxl.Workbook()
    book.active.append(
        [100, 2, 310, "=PRESSFUNCS.CALC.FUNCTIONS.PF_SHEARING_FORCE(A1,B1,C1)", "=_xll.PF_UTILISATION(D1,100)"]
    )
    book.save(tmp_path / "long.xlsx")
    outcome = recalculate(tmp_path / "long.xlsx", tmp_path / "plain.xlsx", Options(clean_names=True))
    assert outcome.renamed == 2
    sheet = openpyxl.load_workbook(tmp_path / "plain.xlsx").active
    assert [cell.value for cell in sheet[1]][3:] == ["=PF_SHEARING_FORCE(A1,B1,C1)", "=PF_UTILISATION(D1,100)"]
    stored = openpyxl.load_workbook(tmp_path / "plain.xlsx", data_only=True).active
    assert [cell.value for cell in stored[1]][3:] == [62, 0.62]
    again = recalculate(tmp_path / "plain.xlsx", None, Options(clean_names=True))
    assert not again.changes
