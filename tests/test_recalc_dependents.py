"""What hangs on what, and ordinary formulas beside ours: one small workbook a rule."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from books import F, Made, array, make, refresh, values

from pressfuncs.batch.engine import Formualizer
from pressfuncs.batch.recalc import recalculate

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
        "Press": {
            "A1": F("PF_REQUIRED_CAPACITY(Sum!A1,0.5)", 0.0),
            "A2": F("PF_REQUIRED_CAPACITY(Sum!A2,0.8)", 0.0),
        },
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
