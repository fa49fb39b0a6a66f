"""What is refreshed, what is kept and what is said: one small workbook a rule."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest
from books import NOTHING, F, Made, Styled, force, frozen_reason, make, one, refresh, values
from parts import differing_parts, fingerprint

from pressfuncs.batch.engine import Formualizer
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.errors import CellError

CELLS: dict[str, Any] = {"B1": 100.0, "C1": 2.0, "D1": 300.0, "E1": "12.5 in", "F1": "inch"}
PF = "PF_SHEARING_FORCE(B1,C1,D1)"


@pytest.mark.parametrize(
    "spelling",
    [
        "PF_SHEARING_FORCE",
        "pf_Shearing_force",
        "[1]!PF_SHEARING_FORCE",
        r"'C:\press tools\press.xlam'!PF_SHEARING_FORCE",
        "_xll.PF_SHEARING_FORCE",
        "com.example.pressfuncs.addin.pf_shearing_force",
    ],
)
def test_every_spelling_of_our_functions_is_known(tmp_path: Path, spelling: str) -> None:
    made = Made(external="press.xlam")
    assert one(tmp_path, f"{spelling}(B1,C1,D1)", CELLS, made) == 60
    assert one(tmp_path, f"{spelling}({spelling}(B1,C1,D1)*10,C1,D1)+1", CELLS, made) == 361


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        (f"({PF})", 60),
        (f"+{PF}", 60),
        ("PF_SHEARING_FORCE( B1 , C1 , D1 )", 60),
        ("PF_SHEARING_FORCE(B1*2,C1+1,D1)", 180),
        ("PF_SHEARING_FORCE(SUM(B1,C1),2,300)", 61.2),
        ("PF_SHEARING_FORCE(-B1*-1,C1,D1)", 60),
        ("PF_SHEARING_FORCE(50%*200,C1,D1)", 60),
        ("PF_SHEARING_FORCE(1E2,2.0,300)", 60),
        ('PF_SHEARING_FORCE("100 mm","2 mm","300 MPa")', 60),
        ("PF_SHEARING_FORCE(E1,C1,D1)", 12.5 * 25.4 * 2 * 300 / 1000),
        ("PF_SHEARING_FORCE(B1,C1,D1,F1)", 30),
        ('PF_SHEARING_FORCE(B1,C1,D1,"inch")', 30),
        ("PF_REQUIRED_CAPACITY(B1,)", 125),
        ("PF_REQUIRED_CAPACITY(B1,0.5)", 200),
        ("PF_RELIEVED_SHEARING_FORCE(B1,C1,0.4,2,)", 40),
        (f"IF(B1>50,{PF},0)", 60),
        (f"IF(B1>500,{PF},0)", 0),
        ('IF(B1="","",PF_SHEARING_FORCE(A1,C1,D1))', "#VALUE!"),
        ('IF(A1="","",PF_SHEARING_FORCE(A1,C1,D1))', None),
        ("IFERROR(PF_SHEARING_FORCE(0,C1,D1),-1)", -1),
        ("PF_SHEARING_FORCE(-1,C1,D1)", "#NUM!"),
        ("PF_SHEARING_FORCE(TRUE,C1,D1)", "#VALUE!"),
        ("PF_SHEARING_FORCE(A1,C1,D1)", "#VALUE!"),
        ("PF_SHEARING_FORCE(#N/A,C1,D1)", "#N/A"),
        ("PF_SHEARING_FORCE(B1/0,C1,D1)", "#DIV/0!"),
        ("PF_SHEARING_FORCE(COLUMN()*10,ROW()*2,100)", 52),
        ("LET(_xlpm.x,2,_xlpm.x*" + PF + ")", 120),
        ("PF_SHEARING_FORCE(INDEX(B1:B5,1),C1,D1)", 60),
        ("PF_SHEARING_FORCE(INDEX(B1:C1,0),C1,D1)", 60),
        ("SUM(PF_SHEARING_FORCE({100;200},C1,D1))", 180),
        ("SUM(PF_SHEARING_FORCE(B1:C1,2,D1))", 61.2),
        ("SUM(PF_SHEARING_FORCE(B1:C1*2,2,D1))", 122.4),
        ("PF_SHEARING_FORCE(B1:C1,C1,D1)*2", 120),
        (f"MAX({PF},PF_SHEARING_FORCE(B1,C1,400))", 80),
        (f"ROUND({PF}/7,2)", 8.57),
        (f'{PF}&" kN"', "60 kN"),
        (f'TEXT({PF},"0.0")', "60.0"),
    ],
)
def test_calls_stand_anywhere_in_a_formula(tmp_path: Path, formula: str, expected: Any) -> None:
    found = one(tmp_path, formula, CELLS)
    assert found == (pytest.approx(expected, rel=1e-12) if isinstance(expected, (int, float)) else expected)


def test_units_may_come_from_a_cell_of_each_row(tmp_path: Path) -> None:
    cells: dict[str, Any] = {}
    for row, system in enumerate(["inch", "metric", None, "INCH", "inch", "x", "metric", "inch", "inch"], 2):
        cells |= {f"A{row}": 10.0, f"B{row}": 0.5, f"C{row}": 4000.0, f"D{row}": system}
        cells[f"E{row}"] = F(f"PF_SHEARING_FORCE(A{row},B{row},C{row},D{row})")
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    given = [found[f"Dies!E{row}"] for row in range(2, 11)]
    assert given == [10, 20, 20, 10, 10, "#VALUE!", 20, 10, 10]
    assert [failing.cell for failing in outcome.failing] == ["E7"]
    assert "metric" in outcome.failing[0].sentence


def test_the_sentence_of_a_failing_cell_speaks_the_units_of_its_call(tmp_path: Path) -> None:
    cells = {"B1": -1.0, "Z1": F('PF_SHEARING_FORCE(B1,1,1,"inch")'), "Z2": F("PF_SHEARING_FORCE(B1,1,1)")}
    _, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    sentences = [failing.sentence for failing in outcome.failing]
    assert sentences == [
        "cut_length must be greater than 0 in, got -1 in",
        "cut_length must be greater than 0 mm, got -1 mm",
    ]
    assert {(f.function, f.error) for f in outcome.failing} == {("PF_SHEARING_FORCE", "#NUM!")}


def test_a_failure_that_the_formula_absorbs_is_not_reported(tmp_path: Path) -> None:
    cells = {"Z1": F('IFERROR(PF_SHEARING_FORCE(0,1,1),"none")'), "Z2": F("IF(TRUE,5,PF_SHEARING_FORCE(0,1,1))")}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert (found["Dies!Z1"], found["Dies!Z2"], outcome.failing) == ("none", 5, [])


# Ranges and series


def test_series_take_fixed_growing_and_whole_columns(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"A1": "force", "B1": "position"}
    for row in range(2, 7):
        cells |= {f"A{row}": 10.0 * row, f"B{row}": float(row)}
        cells[f"C{row}"] = F(f"PF_LOAD_CENTRE(A$2:A{row},B$2:B{row})")
        cells[f"D{row}"] = F(f"PF_LOAD_CENTRE(A{row}:A$6,B{row}:B$6)")
    cells["E1"] = F("PF_LOAD_CENTRE(A2:A6,B2:B6)")
    cells["E2"] = F("PF_LOAD_CENTRE($A$2:$A$6,$B$2:$B$6*1)")
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells, "Sum": _whole_columns()}))
    assert outcome.complete

    def centre(rows: range) -> float:
        return sum(10 * r * r for r in rows) / sum(10 * r for r in rows)

    for row in range(2, 7):
        assert found[f"Dies!C{row}"] == pytest.approx(centre(range(2, row + 1)))
        assert found[f"Dies!D{row}"] == pytest.approx(centre(range(row, 7)))
    assert found["Dies!E1"] == found["Dies!E2"] == pytest.approx(centre(range(2, 7)))
    assert found["Sum!D1"] == found["Sum!D2"] == pytest.approx(centre(range(1, 4)))


def _whole_columns() -> dict[str, Any]:
    cells: dict[str, Any] = {"D1": F("PF_LOAD_CENTRE(A:A,B:B)"), "D2": F("PF_LOAD_CENTRE($A:$A,$B:$B)")}
    for row in range(1, 4):  # no cell below stores a value yet: the column must not be cut short for that
        cells |= {f"A{row}": F(f"PF_SHEARING_FORCE({row}*100,10,10)"), f"B{row}": F(f"{row}+0")}
    return cells


# Names, tables, intersection


TABLE = Made(tables={"tDies+totals": ("Dies", "A1:D5", ["L", "t", "tau [MPa]", "F"])})


def table_cells() -> dict[str, Any]:
    cells: dict[str, Any] = {"A1": "L", "B1": "t", "C1": "tau [MPa]", "D1": "F"}
    for row in range(2, 5):
        cells |= {f"A{row}": 100.0 * row, f"B{row}": 2.0, f"C{row}": 300.0}
        this_row = "tDies[[#This Row],[{}]]".format
        arguments = ",".join(this_row(name) for name in ("L", "t", "tau '[MPa']"))
        cells[f"D{row}"] = F(f"PF_SHEARING_FORCE({arguments})")
    return cells


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("SUM(tDies[F])", 540),
        ("PF_REQUIRED_CAPACITY(SUM(tDies[F]),0.5)", 1080),
        ("MAX(tdies[[L]:[t]])", 400),
        ("ROWS(tDies)", 3),
        ("ROWS(tDies[#All])", 5),
        ("tDies[[#Headers],[F]]&tDies[[#Headers],[tau '[MPa']]]", "Ftau [MPa]"),
        ("SUM(tDies[[#Totals],[F]])+COUNT(tDies[[#Data],[#Totals],[F]])", 3),
        ("PF_LOAD_CENTRE(tDies[F],tDies[L])", (120 * 200 + 180 * 300 + 240 * 400) / 540),
    ],
)
def test_table_references_are_followed(tmp_path: Path, formula: str, expected: Any) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": {**table_cells(), "H1": F(formula)}}, TABLE)
    found, outcome = refresh(path)
    assert outcome.complete, outcome
    assert found["Dies!H1"] == (pytest.approx(expected) if not isinstance(expected, str) else expected)


def test_this_row_is_followed_from_beside_the_table_only(tmp_path: Path) -> None:
    cells = table_cells() | {
        f"F{r}": F(f"PF_REQUIRED_CAPACITY(tDies[[#This Row],[F]],0.5)&{r}") for r in (1, 3, 6)
    }
    found, _ = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}, TABLE))
    assert [found[f"Dies!F{r}"] for r in (1, 3, 6)] == ["#VALUE!", "3603", "#VALUE!"]


NAMES = Made(
    names=[
        ("tau", "Dies!$D$1"),
        ("limit", "0.5"),
        ("system", '"metric"'),
        ("doubled", "Dies!$B$1*2"),
        ("left", "Dies!Y1"),
        ("above", "Dies!Z1048576"),
        ("here", "PF_SHEARING_FORCE(Dies!$B$1,Dies!$C$1,tau)"),
        ("loop", "loop+1"),
        ("far", "[1]Other!$A$1"),
        ("tau", "Press!$A$1", 1),
        ("twice", "LAMBDA(_xlpm.x,_xlpm.x*2)"),
        ("gone", "#REF!"),
    ]
)


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("PF_SHEARING_FORCE(B1,C1,tau)", 60),
        ("PF_SHEARING_FORCE(B1,C1,Press!tau)", 80),
        ("PF_SHEARING_FORCE(doubled,C1,TAU,system)", 120),
        ("PF_REQUIRED_CAPACITY(B1,limit)", 200),
        ("here*2", 120),
        ("PF_SHEARING_FORCE(B1,C1,gone)", "#REF!"),
    ],
)
def test_defined_names_are_followed(tmp_path: Path, formula: str, expected: Any) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": CELLS | {"Z1": F(formula)}, "Press": {"A1": 400.0}}, NAMES)
    found, outcome = refresh(path)
    assert outcome.complete, outcome
    assert found["Dies!Z1"] == expected


def test_relative_names_look_from_the_cell_that_uses_them(tmp_path: Path) -> None:
    cells = {f"Z{row}": F(f"PF_SHEARING_FORCE(left,1,1000)+N(above)*{int(row > 2)}") for row in (2, 3, 4)}
    cells |= {f"X{row}": 10.0 * row for row in range(1, 5)} | {"Y1": 5.0}
    made = Made(names=[("left", "Dies!XFC1"), ("above", "Dies!A1048576")])
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}, made))
    assert outcome.complete, outcome
    assert [found[f"Dies!Z{row}"] for row in (2, 3, 4)] == [20, 50, 90]


@pytest.mark.parametrize(
    ("formula", "reason"),
    [
        ("PF_SHEARING_FORCE(loop,1,1)", "in a circle"),
        ("PF_SHEARING_FORCE(far,1,1)", "another workbook"),
        ("PF_SHEARING_FORCE(twice(2),1,1)", "is a LAMBDA"),
        ("PF_SHEARING_FORCE(unheard,1,1)", '"unheard" is not defined'),
        ("PF_SHEARING_FORCE([1]Other!A1,1,1)", "another workbook"),
        ("PF_SHEARING_FORCE('[Other book.xlsx]Sheet 1'!A1,1,1)", "another workbook"),
        ("[1]!Other_function(PF_SHEARING_FORCE(1,1,1))", "function of another workbook"),
        ('PF_SHEARING_FORCE(1,1,1)+GETPIVOTDATA("a",A1)', "GETPIVOTDATA"),
        ("PF_NO_SUCH(1)", "PF_NO_SUCH is not a function of this version"),
        ("PF_SHEARING_FORCE(Nowhere!A1,1,1)", '"Nowhere"'),
        ("PF_SHEARING_FORCE(Dies:Press!B1,1,1)", "several sheets"),
        ("PF_SHEARING_FORCE(tNone[L],1,1)", '"tNone" does not exist'),
        ("LET(_xlpm.x,2,PF_SHEARING_FORCE(_xlpm.x,1,1))", "variable of LET"),
        ("PF_SHEARING_FORCE(Z1,1,1)", "circular"),
        ("IF(FALSE,Z1,PF_SHEARING_FORCE(1,1,1))", "circular"),
        ("PF_SHEARING_FORCE(_xlfn.SINGLE(INDEX(B1:B3,0)),1,1)", "(@) of a computed range"),
        ('PF_SHEARING_FORCE(CELL("row"),1,1)', "CELL"),
        ('TEXT(PF_SHEARING_FORCE(1,1,1),"# ?/?")', "TEXT"),
        ("SUMPRODUCT(B1:B3>PF_SHEARING_FORCE(1,1,1))", "SUMPRODUCT"),
        ("XLOOKUP(PF_SHEARING_FORCE(1,1,1),B1:B3,C1:C3,,-1)", "nearest"),
        ("LOOKUP(2,1/(B1:B3>PF_SHEARING_FORCE(1,1,1)),B1:B3)", "LOOKUP"),
        ('CONVERT(PF_SHEARING_FORCE(1,1,1),"lbf","N")', "CONVERT"),
        ("FIXED(PF_SHEARING_FORCE(1,1,1),1)", "FIXED"),
        ('"unclosed&PF_SHEARING_FORCE(1,1,1)', "cannot be read"),
        ("PF_SHEARING_FORCE(1,1,1)+)(", "cannot"),
    ],
)
def test_what_cannot_be_computed_is_frozen_with_the_reason(tmp_path: Path, formula: str, reason: str) -> None:
    made = Made(external="press.xlam", names=NAMES.names[:8] + NAMES.names[8:9] + [NAMES.names[10]])  # type: ignore[operator]
    assert reason in frozen_reason(tmp_path, formula, CELLS, made)


def test_old_formulas_take_the_cell_of_their_own_row_from_a_range(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"B{row}": 100.0 * row for row in range(1, 6)}
    cells |= {f"D{row}": F("ROUND(B2:B4,0)*PF_SHEARING_FORCE(1,1,1000)+IF(B:B > 250,1,0)") for row in range(1, 6)}
    cells |= {f"E{row}": F("_xlfn.SINGLE(B:B)*PF_SHEARING_FORCE(1,1,1000)") for row in range(1, 6)}
    cells |= {"H1": F("VLOOKUP(B:B,B1:B5,1,FALSE)+PF_SHEARING_FORCE(1,1,1000)"), "A1": "x"}
    cells["H2"] = F("_xlfn.SINGLE(A1:A1)&PF_SHEARING_FORCE(1,1,1000)")
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete, outcome
    assert [found[f"Dies!D{r}"] for r in range(1, 6)] == ["#VALUE!", 200, 301, 401, "#VALUE!"]
    assert [found[f"Dies!E{r}"] for r in range(1, 6)] == [100, 200, 300, 400, 500]
    assert (found["Dies!H1"], found["Dies!H2"]) == (101, "x1")


# Shared and array formulas


def test_shared_formulas_are_read_from_their_first_cell(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"B{row}": 100.0 * row for row in range(1, 5)}
    cells["C1"] = F("PF_SHEARING_FORCE(B1,$B$1,10)", 0.0, 't="shared" ref="C1:C4" si="0"')
    cells |= {f"C{row}": F("", 0.0, 't="shared" si="0"') for row in (2, 3, 4)}
    cells["D1"] = F("C1*2", 0.0, 't="shared" ref="D1:E4" si="1"')
    cells |= {f"{c}{r}": F("", 0.0, 't="shared" si="1"') for c in "DE" for r in range(1, 5) if c + str(r) != "D1"}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    found, outcome = refresh(path)
    assert outcome.complete
    for row in range(1, 5):
        assert [found[f"Dies!{c}{row}"] for c in "CDE"] == [100 * row, 200 * row, 400 * row]


def array(text: str, area: str, stored: Any = NOTHING, dynamic: bool = False) -> F:
    return F(text, stored, f't="array" ref="{area}"', 'cm="1"' if dynamic else "")


def test_array_formulas_fill_their_area(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"B{row}": 100.0 * row for row in range(1, 4)}
    cells["D1"] = array("PF_SHEARING_FORCE(B1:B3,1,1000)", "D1:D5", 0.0)
    cells |= {f"D{row}": 0.0 for row in range(2, 6)}
    cells["E1"] = array("PF_SHEARING_FORCE(B1:B3,1,1000)*2", "E1:E2", 0.0)
    cells["E2"] = 0.0
    cells["F1"] = array("SUM(PF_SHEARING_FORCE(B1:B3,1,1000)*(B1:B3>100))", "F1", 0.0)
    cells["G1"] = array("PF_SHEARING_FORCE(B1,1,1000)", "G1:H2", 0.0)
    cells |= {"H1": 0.0, "G2": 0.0, "H2": 0.0}
    cells["J1"] = F("SUM(D1:D3)")
    cells["J2"] = F('IF(ISNA(D5),"short","full")')
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete, outcome
    assert [found[f"Dies!D{r}"] for r in range(1, 6)] == [100, 200, 300, "#N/A", "#N/A"]
    assert [found[f"Dies!E{r}"] for r in (1, 2)] == [200, 400]
    assert found["Dies!F1"] == 500
    assert [found[f"Dies!{c}"] for c in ("G1", "H1", "G2", "H2")] == [100] * 4
    assert (found["Dies!J1"], found["Dies!J2"]) == (600, "short")


def test_a_dynamic_array_grows_and_what_hangs_on_the_new_cells_follows(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"B{row}": 100.0 * row for row in range(1, 5)}
    cells["D1"] = array("PF_SHEARING_FORCE(B1:B4,1,1000)", "D1:D2", 0.0, dynamic=True)
    cells |= {"D2": 0.0, "F1": F("D4+1", 1.0), "F2": F("D2+1", 1.0)}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    found, outcome = refresh(path)
    assert outcome.complete
    assert [found[f"Dies!D{r}"] for r in range(1, 5)] == [100, 200, 300, 400]
    assert (found["Dies!F1"], found["Dies!F2"]) == (401, 201)
    again = recalculate(path.with_name("a_out.xlsx"), None)
    assert again.changes == []


def test_a_dynamic_array_shrinks_and_leaves_blank_cells(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"B1": 100.0, "B2": 200.0}
    cells["D1"] = array("PF_SHEARING_FORCE(B1:B2,1,1000)", "D1:D4", 0.0, dynamic=True)
    cells |= {"D2": 0.0, "D3": 7.0, "D4": 7.0, "F1": F("COUNT(D1:D4)", 4.0), "F2": F("D4+1", 8.0)}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete
    assert (found["Dies!D1"], found["Dies!D2"]) == (100, 200)
    assert "Dies!D3" not in found
    assert "Dies!D4" not in found
    assert (found["Dies!F1"], found["Dies!F2"]) == (2, 1)


@pytest.mark.parametrize("in_the_way", [5.0, F("1+1", 2.0), F("1+1")])
def test_a_dynamic_array_without_room_is_frozen(tmp_path: Path, in_the_way: Any) -> None:
    cells: dict[str, Any] = {f"B{row}": 100.0 * row for row in range(1, 5)}
    cells["D1"] = array("PF_SHEARING_FORCE(B1:B4,1,1000)", "D1:D2", 1.0, dynamic=True)
    cells |= {"D2": 2.0, "D4": in_the_way, "F1": F("D2+1", 3.0)}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [(f.cell, f.reason) for f in outcome.frozen] == [("D1", "its array has no room: D4 is not empty")]
    assert outcome.not_refreshed == [("Dies", "F1")]
    assert (found["Dies!D1"], found["Dies!D2"], found["Dies!F1"]) == (1, 2, 3)


def test_blank_cells_in_an_array_show_as_nought(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"B1": 1.0, "D1": array("IF(PF_SHEARING_FORCE(1,1,1)>0,B1:B3)", "D1:D3", 9.0)}
    found, _ = refresh(make(tmp_path / "a.xlsx", {"Dies": cells | {"D2": 9.0, "D3": 9.0}}))
    assert [found[f"Dies!D{r}"] for r in (1, 2, 3)] == [1, 0, 0]


def test_a_range_outside_of_a_series_spills_nowhere_from_a_plain_formula(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"B{row}": 100.0 * row for row in range(1, 4)}
    cells |= {"D1": F("PF_SHEARING_FORCE(B1:B3,1,1000)*2", 0.0), "F1": F("D2+D3+PF_SHEARING_FORCE(1,1,1000)", 0.0)}
    cells["G1"] = F("PF_SHEARING_FORCE(B1:B3,1,1000)", 0.0)
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete
    assert (found["Dies!D1"], found["Dies!F1"], found["Dies!G1"]) == (200, 1, 100)
    assert "Dies!D2" not in found
    assert "Dies!G2" not in found


def test_an_ordinary_formula_that_gives_several_values_is_frozen(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"B{row}": F(f"PF_SHEARING_FORCE({row},1,1000)", 0.0) for row in range(1, 4)}
    cells |= {"D1": F("INDEX(B1:B3,0)", 7.0), "F1": F("D1+1", 8.0), "F3": F("D2+B1", 0.0)}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [f.cell for f in outcome.frozen] == ["D1"]
    assert outcome.not_refreshed == [("Dies", "F1")]
    assert (found["Dies!D1"], found["Dies!F1"], found["Dies!F3"]) == (7, 8, 1)


# What hangs on what


def test_chains_run_down_rows_and_across_sheets(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"A1": 1.0, "C1": 1.0}
    for row in range(2, 30):
        cells[f"A{row}"] = F(f"PF_SHEARING_FORCE(A{row - 1},1,2000)", 0.0)
        cells[f"B{row}"] = F(f"PF_SHEARING_FORCE(C{row - 1}+0,1,1000)", 0.0)
        cells[f"C{row}"] = F(f"B{row}+1", 0.0)
    sheets = {
        "Dies": cells,
        "Sum": {"A1": F("PF_SHEARING_FORCE(Dies!C29,1,1000)", 0.0), "A2": F("Press!A1+A1", 0.0)},
        "Press": {"A1": F("PF_REQUIRED_CAPACITY(Sum!A1,0.5)", 0.0), "A2": F("PF_REQUIRED_CAPACITY(Sum!A2)", 0.0)},
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", sheets))
    assert outcome.complete
    assert found["Dies!A29"] == 2**28
    assert found["Dies!C29"] == 29
    assert [found[c] for c in ("Sum!A1", "Press!A1", "Sum!A2", "Press!A2")] == [29, 58, 87, 108.75]


@pytest.mark.parametrize(
    "cells",
    [
        {"A1": F("PF_SHEARING_FORCE(A2,1,1)", 5.0), "A2": F("A1+1", 6.0)},
        {"A1": F("PF_SHEARING_FORCE(A2,1,1)", 5.0), "A2": F("PF_SHEARING_FORCE(A1,1,1)", 6.0)},
        {"A1": F("PF_SHEARING_FORCE(A3,1,1)", 5.0), "A2": F("Press!A1", 6.0), "A3": F("A2*2", 12.0)},
        {"A1": F("SUM(A1:A2)+PF_SHEARING_FORCE(1,1,1)", 5.0), "A2": 1.0},
    ],
)
def test_circles_are_frozen_and_the_rest_is_refreshed(tmp_path: Path, cells: dict[str, Any]) -> None:
    press = {"A1": F("Dies!A1", 5.0), "A2": F("PF_SHEARING_FORCE(1,1,1000)", 0.0), "A3": F("A1*2", 10.0)}
    path = make(tmp_path / "a.xlsx", {"Dies": cells, "Press": press})
    before = values(path)
    found, outcome = refresh(path)
    assert not outcome.complete
    assert all("circular" in f.reason for f in outcome.frozen)
    assert found == before | {"Press!A2": 1}
    told = {(f.sheet, f.cell) for f in outcome.frozen} | set(outcome.not_refreshed)
    formulas = {("Dies", c) for c, content in cells.items() if isinstance(content, F)}
    assert told == formulas | {("Press", "A1"), ("Press", "A3")}


def test_computed_references_are_followed_to_our_cells(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "A1": F("PF_SHEARING_FORCE(B1,1,1000)", 1.0),
        "B1": 50.0,
        "C1": F('INDIRECT("A1")*2', 2.0),
        "C2": F("OFFSET(B1,0,-1)+1", 2.0),
        "C3": F("C1+C2", 4.0),
        "C4": F('PF_SHEARING_FORCE(INDIRECT("A"&ROW()-3),1,1000)', 1.0),
        "C5": F("PF_SHEARING_FORCE(SUM(OFFSET(A1,0,0,1,1)),1,2000)", 1.0),
        "C6": F("PF_REQUIRED_CAPACITY(C3,0.5)", 1.0),
        "C7": F('INDIRECT("C"&6)', 1.0),
        "C8": F('PF_LOAD_CENTRE(OFFSET(B1,0,0,1,1),INDIRECT("C7"))', 1.0),
        "D1": F('INDIRECT("B1")', 50.0),
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete, outcome
    given = [found[f"Dies!{c}"] for c in ("A1", "C1", "C2", "C3", "C4", "C5", "C6", "C7", "C8", "D1")]
    assert given == [50, 100, 51, 151, 50, 100, 302, 302, 302, 50]


def test_computed_references_are_not_trusted_beside_frozen_cells(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "A1": F("PF_NO_SUCH(1)", 1.0),
        "A2": F('PF_SHEARING_FORCE(INDIRECT("A1"),1,1000)', 7.0),
        "A3": F("PF_SHEARING_FORCE(3,1,1000)", 7.0),
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.not_refreshed == [("Dies", "A2")]
    assert (found["Dies!A2"], found["Dies!A3"]) == (7, 3)


def test_what_hangs_on_a_frozen_cell_is_kept_and_named(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "A1": F("[1]Other!A1*2", 3.0),
        "A2": F("A1+1", 4.0),
        "A3": F("PF_SHEARING_FORCE(A2,1,1000)", 9.0),
        "A4": F('A3&"x"', "9x"),
        "A5": F("PF_SHEARING_FORCE(5,1,1000)", 9.0),
        "B1": F("[1]Other!A1*3", 3.0),
        "B2": F("B1*2", 6.0),
        "B3": F("[1]Other!A1*A5", 77.0),
    }
    path = make(tmp_path / "a.xlsx", {"Dies": cells}, Made(external="Other.xlsx"))
    found, outcome = refresh(path)
    assert [f.cell for f in outcome.frozen] == ["A1", "B3"]
    assert outcome.not_refreshed == [("Dies", "A2"), ("Dies", "A3"), ("Dies", "A4")]
    assert outcome.left_alone == 1
    assert found == values(path) | {"Dies!A5": 5}


def test_a_frozen_formula_that_cannot_be_read_at_all_counts_as_below_ours(tmp_path: Path) -> None:
    cells = {"A1": F("PF_SHEARING_FORCE(1,1,1)"), "A2": F('"unclosed & A1', 1.0)}
    _, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [f.cell for f in outcome.frozen] == ["A2"]


def test_a_data_table_over_ours_is_frozen_with_what_hangs_on_its_cells(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"A1": 1.0, "C1": F("PF_SHEARING_FORCE(A1,1,1000)", 0.0), "B2": 1.0, "B3": 2.0}
    cells["C2"] = F("", 5.0, 't="dataTable" ref="C2:C3" dt2D="0" dtr="0" r1="A1"')
    cells |= {"C3": 6.0, "D3": F("C3*2", 12.0), "E1": F("B2+1", 2.0)}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [(f.cell, f.reason) for f in outcome.frozen] == [("C2", "it is a data table")]
    assert outcome.not_refreshed == [("Dies", "D3")]
    assert [found[f"Dies!{c}"] for c in ("C1", "C2", "C3", "D3")] == [1, 5, 6, 12]


def test_a_data_table_that_has_nothing_to_do_with_ours_is_left_alone(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"C1": F("A1*2", 0.0), "C2": F("", 5.0, 't="dataTable" ref="C2:C3" r1="A1"')}
    cells |= {"C3": 5.0, "H1": F("PF_SHEARING_FORCE(1,1,1000)", 0.0)}
    _, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete
    assert outcome.left_alone == 1


# Ordinary formulas apart from ours


def test_ordinary_formulas_that_differ_keep_and_lend_their_stored_value(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "A1": 10.0,
        "B1": F("A1*2", 999.0),
        "B2": F("B1+1", 1000.0),
        "B3": F("A1+1", 11.0),
        "B4": F("B2+B3", 1011.0),
        "C1": F("PF_SHEARING_FORCE(B2,1,1000)", 0.0),
        "C2": F("B4+C1", 0.0),
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete
    assert [(d.cell, d.stored, d.computed) for d in outcome.disagreements] == [("B1", 999.0, 20.0)]
    assert outcome.compared == 3
    assert [found[f"Dies!{c}"] for c in ("B1", "B2", "B4", "C1", "C2")] == [999, 1000, 1011, 1000, 2011]


def test_a_whole_column_that_differs_is_settled_in_one_go(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"A1": 10.0, "Z1": F("PF_SHEARING_FORCE(SUM(D1:D300),1,1000)")}
    for row in range(1, 301):
        cells |= {f"B{row}": F(f"$A$1*{row}", 1.0), f"C{row}": F(f"B{row}+1", 2.0), f"D{row}": F(f"C{row}*2", 4.0)}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert {d.cell[0] for d in outcome.disagreements} == {"B"}
    assert (len(outcome.disagreements), outcome.compared) == (300, 600)
    assert found["Dies!Z1"] == 1200


def test_everything_refreshes_ordinary_formulas_too(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"A1": 10.0, "B1": F("A1*2", 999.0), "C1": F("PF_SHEARING_FORCE(B1,1,1000)", 0.0)}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}), everything=True)
    assert (found["Dies!B1"], found["Dies!C1"], outcome.disagreements) == (20, 20, [])


def test_array_formulas_apart_from_ours_are_compared_too(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"A{r}": float(r) for r in (1, 2, 3)}
    cells |= {"B1": array("A1:A3*2", "B1:B3", 2.0), "B2": 4.0, "B3": 6.0}
    cells |= {"C1": array("A1:A3*3", "C1:C3", 3.0), "C2": 77.0, "C3": 9.0}
    cells |= {"D1": F("PF_SHEARING_FORCE(C2,1,1000)", 0.0), "E1": F("TODAY()*0+5", 4.0)}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [(d.cell, d.stored, d.computed) for d in outcome.disagreements] == [("C2", 77.0, 6.0)]
    assert outcome.compared == 5
    assert (found["Dies!C2"], found["Dies!D1"]) == (77, 77)


def test_functions_known_to_be_wrong_are_trusted_where_they_get_what_is_stored(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "A1": 1.0,
        "A2": 2.0,
        "B1": F("LOOKUP(9,A1:A2)", 2.0),
        "B2": F('TEXT(A1,"0.0 x")', "1.0 y"),
    }
    cells["C1"] = F("PF_SHEARING_FORCE(B1,1,1000)", 0.0)
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete
    assert found["Dies!C1"] == 2
    assert [(d.cell, d.functions) for d in outcome.disagreements] == [("B2", ("TEXT",))]


def test_volatile_formulas_apart_from_ours_are_kept(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "A1": F("TODAY()", 45000.0),
        "A2": F("RAND()", 0.25),
        "A3": F("A1+1", 45001.0),
        "A4": F("RAND()"),
        "B1": F("PF_SHEARING_FORCE(A2,1,1000)", 0.0),
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [found[f"Dies!{c}"] for c in ("A1", "A2", "A3", "B1")] == [45000, 0.25, 45001, 0.25]
    assert 0 <= found["Dies!A4"] < 1
    assert outcome.volatile == 2


def test_volatile_formulas_that_depend_on_ours_are_refreshed(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "A1": 100.0,
        "B1": F("PF_SHEARING_FORCE(A1,2,300)", 1.0),
        "C1": F("B1+0*TODAY()", 1.0),
        "C2": F("IF(B1>TODAY()*0,B1,0)", 1.0),
        "C3": F("C1*2", 2.0),
        "C4": F("PF_REQUIRED_CAPACITY(B1+0*NOW(),0.5)", 2.0),
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [found[f"Dies!{c}"] for c in ("B1", "C1", "C2", "C3", "C4")] == [60, 60, 60, 120, 120]
    assert outcome.complete
    assert outcome.volatile == 0


def test_a_doubtful_function_is_frozen_where_a_computed_reference_may_lead_to_ours(tmp_path: Path) -> None:
    """Its stored value is confirmed at first, which says nothing of the value that it gets from ours."""
    cells: dict[str, Any] = {"A1": 100.0, "D2": F("PF_SHEARING_FORCE(A1,2,300)", 1.0)}
    cells["G1"] = F('FIXED(INDIRECT("D"&2),1)', "1.0")
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}), second_engine=False)
    assert (found["Dies!D2"], found["Dies!G1"]) == (60, "1.0")
    assert [frozen.cell for frozen in outcome.frozen] == ["G1"]


def test_functions_of_web_services_are_what_they_stored(tmp_path: Path) -> None:
    """Their exports write a name that no application has, and the result beside it."""
    cells: dict[str, Any] = {"A1": 100.0, "D1": F("PF_SHEARING_FORCE(A1,2,300)", 1.0)}
    cells["E1"] = F('IFERROR(__xludf.DUMMYFUNCTION("QUERY(A1:A2,""select A"")"),12.5)', 12.5)
    cells["F1"] = F("D1*E1", 1.0)
    cells["G1"] = F('IFERROR(__xludf.DUMMYFUNCTION("""COMPUTED_VALUE"""),"kept")&D1', "kept1")
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [found[f"Dies!{c}"] for c in ("D1", "E1", "F1", "G1")] == [60, 12.5, 750, "kept60"]
    assert outcome.complete


def test_a_doubtful_text_freezes_the_formulas_of_its_rows_and_no_others(tmp_path: Path) -> None:
    cells: dict[str, Any] = {}
    odd = (1, 700, 701, 2000)
    for row in range(1, 2001):
        cells |= {f"A{row}": 100.0, f"B{row}": "2,5" if row in odd else 2.0}
        cells[f"C{row}"] = F(f"PF_SHEARING_FORCE(A{row},2,300)", 1.0)
        cells[f"D{row}"] = F(f"C{row}*B{row}", 1.0)
        cells[f"E{row}"] = F(f"IF(C{row}>0,D{row}+1,0)", 1.0)
    for by_columns in (True, False):
        path = make(tmp_path / f"{by_columns}.xlsx", {"Dies": cells})
        found, outcome = refresh(path, column_by_column=by_columns)
        assert [frozen.cell for frozen in outcome.frozen] == [f"D{row}" for row in odd]
        assert outcome.not_refreshed == [("Dies", f"E{row}") for row in odd]
        assert (found["Dies!D2"], found["Dies!E2"], found["Dies!D1"]) == (120, 121, 1)


def test_cells_without_a_result_rest_on_stored_values_like_all_others(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "A1": 2.0,
        "B1": F("A1*9", 7.0),
        "C1": F("B1*2"),
        "D1": F("PF_SHEARING_FORCE(B1,1,1000)"),
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [(d.cell, d.stored, d.computed) for d in outcome.disagreements] == [("B1", 7.0, 18.0)]
    assert [found[f"Dies!{c}"] for c in ("B1", "C1", "D1")] == [7, 14, 7]


def test_so_many_computed_references_that_the_engine_gives_up_are_frozen(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"H1": F("PF_SHEARING_FORCE(A1,2,300)", 1.0)}
    for row in range(1, 301):
        cells |= {f"A{row}": 100.0, f"B{row}": 2.0}
        cells[f"C{row}"] = F(f"SUM(OFFSET(A$1:B$6,{row % 5},{row % 3 - 1}))", 0.0)
        cells[f"D{row}"] = F(f"OFFSET(C$1:C$6,{row % 5},0)", 0.0)
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert found["Dies!H1"] == 60
    assert {frozen.reason for frozen in outcome.frozen} == {
        "the engine gives up on so many computed references (INDIRECT, OFFSET)"
    }


def test_the_nearest_value_among_sorted_constants_is_looked_up_from_one_cell(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"A{row}": 100.0 * row for row in range(1, 6)}
    cells |= {f"B{row}": 10.0 * row for row in range(1, 6)}
    cells["D1"] = F("PF_SHEARING_FORCE(250,1,1000)", 1.0)
    cells["E1"] = F("VLOOKUP(D1,A1:B5,2,TRUE)", 1.0)
    cells["E2"] = F("VLOOKUP(D1,A1:D5,2)", 1.0)
    cells["E3"] = F("MATCH(D1,A1:A9)", 1.0)
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [found[f"Dies!E{row}"] for row in (1, 2, 3)] == [20, 20, 2]
    assert outcome.complete
    cells |= {"A3": F("100*3", 300.0)}  # no constant any more
    _, outcome = refresh(make(tmp_path / "b.xlsx", {"Dies": cells}))
    assert [frozen.cell for frozen in outcome.frozen] == ["E1", "E2", "E3"]


def test_one_sentence_is_said_once_a_cell(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"A1": 100.0, "A9": 100.0, "B1": F("SUM(PF_SHEARING_FORCE(A1:A9,2,300))", 1.0)}
    _, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert [failing.cell for failing in outcome.failing] == ["B1"]


def test_cells_without_stored_values_are_computed_and_the_report_says_so(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"A1": 2.0, "B1": F("A1*2"), "B2": F('""'), "B3": F("PF_SHEARING_FORCE(B1,1,1000)")}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    found, outcome = refresh(path)
    assert (found["Dies!B1"], found["Dies!B3"]) == (4, 4)
    assert outcome.nothing_stored
    assert not recalculate(path.with_name("a_out.xlsx"), None).nothing_stored


@pytest.mark.parametrize("count", [40, 295, 1000])
def test_long_columns_with_stored_values_are_computed_to_their_end(tmp_path: Path, count: int) -> None:
    cells: dict[str, Any] = {"A1": 10.0}
    for row in range(1, count + 1):
        cells |= {
            f"B{row}": F(f"$A$1*{row}", 10.0 * row),
            f"C{row}": F(f'PF_SHEARING_FORCE(B{row}+0,1,1000)&""', "old"),
            f"D{row}": F(f"C{row}*2", 0.0),
            f"E{row}": F(f"PF_SHEARING_FORCE(D{row},1,1000)", 0.0),
        }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete
    assert outcome.disagreements == []
    for row in range(1, count + 1):
        assert found[f"Dies!C{row}"] == str(10 * row)
        assert found[f"Dies!E{row}"] == 20 * row


def test_the_engine_is_never_given_a_formula_where_a_value_was() -> None:
    engine = Formualizer()
    engine.add_sheet("Dies")
    engine.set_values("Dies", 5, 2, [1.0, 2.0])
    engine.set_formulas("Dies", 7, 2, ["B5+B6"])
    with pytest.raises(RuntimeError, match="over a value"):
        engine.set_formulas("Dies", 4, 2, ["1", "2"])
    engine.evaluate()
    assert engine.values("Dies", 2, 5, 7) == [1.0, 2.0, 3.0]


def test_a_computed_reference_apart_from_ours_that_only_passed_a_difference_on_still_follows_ours(
    tmp_path: Path,
) -> None:
    cells: dict[str, Any] = {
        "A1": F("1+1", 5.0),
        "A2": F('A1+INDIRECT("A3")', 15.0),
        "A3": F("PF_SHEARING_FORCE(100,1,1000)", 10.0),
        "A4": F('PF_SHEARING_FORCE(1,1,1000)&"x"', "0x"),
        "A5": F('INDIRECT("A4")&"y"', "0xy"),
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete
    assert [(d.cell, d.stored, d.computed) for d in outcome.disagreements] == [("A1", 5.0, 2.0)]
    assert [found[f"Dies!A{row}"] for row in range(1, 6)] == [5, 105, 100, "1x", "1xy"]


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
