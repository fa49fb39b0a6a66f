"""What is refreshed, what is kept and what is said: one small workbook a rule."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from books import F, Made, array, frozen_reason, make, one, refresh

from pressfuncs.batch.recalc import recalculate

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
        ("PF_REQUIRED_CAPACITY(B1,)", 100 / 0.6),
        ("PF_REQUIRED_CAPACITY(B1,0.5)", 200),
        ('PF_RELIEVED_SHEARING_FORCE(B1,C1,0.4,2,"straight",)', 40),
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
