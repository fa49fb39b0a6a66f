"""A result that has become an error: what hangs on it is an error too, or no longer looks valid."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from books import F, array, make, refresh, values

from pressfuncs.batch.outcome import Outcome
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.report import FileResult, text_report
from pressfuncs.errors import CellError

VALUE, NOT_KNOWN = "#VALUE!", "#N/A"
CAPACITY = "PF_NO_SUCH_FUNCTION(9)"
"""A formula that nobody can compute here."""


def register(use: str, verdict: str = 'IF(D2<=0.8,"ok","NO")') -> dict[str, Any]:
    """A force whose thickness has become a text, a capacity that is left as stored, its use, and a verdict."""
    return {
        "A2": F("PF_SHEARING_FORCE(100,B2,300)", 60.0),
        "B2": "two",
        "C2": F(CAPACITY, 100.0),
        "D2": F(use, 0.6),
        "E2": F(verdict, "ok"),
    }


def recalculated(tmp_path: Path, cells: dict[str, Any]) -> tuple[dict[str, Any], Outcome]:
    return refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))


@pytest.mark.parametrize(
    "use",
    [
        *("A2/C2", "C2/A2", "-A2*C2", "A2%+C2", "C2&A2", "(A2>C2)+0", "SUM(C2,A2)", "ROUND(A2/C2,2)"),
        *("MAX(A2:C2)", "IF(A2>C2,1,C2)", "SUM(A2,MIN(C2,A2))", "C2^2-ABS(A2)", "AND(C2>1,A2>1)+0"),
    ],
)
def test_an_operand_that_is_an_error_makes_the_result_that_error_whatever_the_other_is(tmp_path, use):
    found, outcome = recalculated(tmp_path, register(use))
    assert [found[f"Dies!{cell}"] for cell in ("A2", "C2", "D2", "E2")] == [VALUE, 100.0, VALUE, VALUE]
    assert not outcome.complete  # the capacity is still to be refreshed
    assert outcome.not_refreshed == outcome.marked == []


@pytest.mark.parametrize(
    "use", ["IFERROR(A2/C2,0.5)", "IF(C2>1,A2,0.3)", "IF(ISERROR(A2),C2,0.2)", "COUNT(A2,C2)", "CHOOSE(1,C2,A2)"]
)
def test_what_may_catch_the_error_is_marked_and_not_guessed(tmp_path, use):
    found, outcome = recalculated(tmp_path, register(use))
    assert [found["Dies!D2"], found["Dies!E2"]] == [NOT_KNOWN, NOT_KNOWN]
    assert outcome.marked == [("Dies", "D2")]
    assert outcome.not_refreshed == [("Dies", "D2")]


@pytest.mark.parametrize(
    "verdict", ['IF(D2<=0.8,"ok","NO")', 'IF(ISNUMBER(D2),"ok","")', '"use "&TEXT(D2,"0%")&" ok"']
)
@pytest.mark.parametrize("use", ["A2/C2", "IFERROR(A2/C2,0.5)"])
def test_no_verdict_stays_ok_beside_the_error(tmp_path, use, verdict):
    found, _ = recalculated(tmp_path, register(use, verdict))
    assert "ok" not in found["Dies!E2"]


def test_what_is_left_without_a_fresh_error_keeps_what_it_stores(tmp_path):
    found, outcome = recalculated(tmp_path, register("A2/C2") | {"B2": 2.0})
    assert (found["Dies!D2"], found["Dies!E2"]) == (0.6, "ok")
    assert outcome.marked == []
    assert set(outcome.not_refreshed) == {("Dies", "D2"), ("Dies", "E2")}


def test_an_error_that_was_stored_before_is_not_fresh(tmp_path):
    cells = register("IFERROR(A2/C2,0.5)") | {"A2": F("PF_SHEARING_FORCE(100,B2,300)", CellError(VALUE))}
    found, outcome = recalculated(tmp_path, cells)
    assert found["Dies!D2"] == 0.6
    assert outcome.marked == []


def test_a_second_run_changes_nothing_and_a_check_says_what_would_change(tmp_path):
    path = make(tmp_path / "a.xlsx", {"Dies": register("A2/C2")})
    checked = recalculate(path, None)
    assert {change.cell for change in checked.changes} == {"A2", "D2", "E2"}
    recalculate(path, path)
    once = path.read_bytes()
    again = recalculate(path, path)
    assert path.read_bytes() == once
    assert list(again.changes) == []
    assert again.marked == []


@pytest.mark.parametrize("options", [Options(), Options(everything=True), Options(column_by_column=False)])
def test_columns_of_a_thousand_rows(tmp_path, options):
    cells: dict[str, Any] = {}
    for row in range(1, 1001):
        cells |= {
            f"A{row}": F(f"PF_SHEARING_FORCE(100,B{row},300)", 60.0),
            f"B{row}": "two" if row % 7 == 0 else 2.0,
            f"C{row}": F(CAPACITY, 100.0),
            f"D{row}": F(f"A{row}/C{row}", 0.6),
            f"E{row}": F(f'IF(D{row}<=0.8,"ok","NO")', "ok"),
            f"F{row}": F(f"D{row}+F{row - 1}" if row > 1 else "D1", 0.0),
        }
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    outcome = recalculate(path, path, options)
    found = values(path)
    for row in range(1, 1001):
        wanted = (VALUE, VALUE) if row % 7 == 0 else (0.6, "ok")
        assert (found[f"Dies!D{row}"], found[f"Dies!E{row}"]) == wanted
        assert (found[f"Dies!F{row}"] == VALUE) == (row >= 7)
    assert len(outcome.failing) == 142


def test_other_sheets_ranges_and_arrays_are_followed_too(tmp_path):
    dies = register("A2/C2") | {"G2": array("A2:A3*C2", "G2:G3", 6.0), "G3": 7.0}
    totals = {"A1": F("Dies!D2*2", 1.2), "B1": F("SUM(Dies!D:D)+Dies!C2", 3.0)}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": dies, "Sum": totals}))
    assert (found["Sum!A1"], found["Sum!B1"]) == (VALUE, VALUE)
    assert (found["Dies!G2"], found["Dies!G3"]) == (NOT_KNOWN, NOT_KNOWN)
    assert outcome.marked == [("Dies", "G2")]


def test_the_report_names_what_was_marked(tmp_path):
    path = make(tmp_path / "a.xlsx", {"Dies": register("IFERROR(A2/C2,0.5)")})
    said = "\n".join(text_report(FileResult(path, recalculate(path, None)), check=True))
    assert "of these, marked #N/A, since they rest on a result that has become an error (1):\n    Dies!D2" in said
