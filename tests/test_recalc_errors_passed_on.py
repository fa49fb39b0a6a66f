"""An operand that is an error makes the result one, whatever the others are; what is left must not look valid."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from books import NOTHING, F, Made, array, make, refresh, values
from click.testing import CliRunner

from pressfuncs.batch.outcome import Outcome
from pressfuncs.batch.recalc import recalculate
from pressfuncs.cli.app import main
from pressfuncs.errors import CellError

OUTSIDE = Made(external="presses.xlsx")
KEPT = "[1]Presses!B2"
"""A formula that cannot be computed here: the capacity stands in another workbook."""
VALUE, NA = "#VALUE!", "#N/A"


def cells_with(formula: str, stored: Any, **more: Any) -> dict[str, Any]:
    """Return a force in A2 that fails now, a capacity in C2 that is kept, and a formula in D2."""
    cells: dict[str, Any] = {"F2": "1 kg", "G2": 2.0, "H2": 300.0, "B2": 0.0, "J2": "steel"}
    cells |= {"A2": F("PF_SHEARING_FORCE(F2,G2,H2)", 60.0), "C2": F(KEPT, 400.0), "D2": F(formula, stored)}
    return cells | more


def found_in(tmp_path: Path, cells: dict[str, Any], **options: Any) -> tuple[dict[str, Any], Outcome]:
    """Refresh a workbook of one sheet, and once more: the second time nothing changes."""
    path = make(tmp_path / "dies.xlsx", {"Dies": cells}, OUTSIDE)
    found, outcome = refresh(path, both_ways=True, **options)
    assert outcome.ways is not None
    assert not outcome.ways.differences
    by_cells, other = refresh(path, column_by_column=False, **options)
    assert by_cells == found
    assert (other.marked, other.not_refreshed, other.frozen) == (
        outcome.marked,
        outcome.not_refreshed,
        outcome.frozen,
    )
    refreshed = path.with_name("dies_out.xlsx")
    before = refreshed.read_bytes()
    again = recalculate(refreshed, refreshed)
    assert not again.changes
    assert not again.marked
    assert refreshed.read_bytes() == before
    return {cell.removeprefix("Dies!"): value for cell, value in found.items()}, outcome


def test_an_old_ok_does_not_stay_beside_an_error(tmp_path: Path) -> None:
    cells = cells_with("A2/C2", 0.15, E2=F('IF(D2<=0.8,"ok","NO")', "ok"))
    found, outcome = found_in(tmp_path, cells)
    assert [found[cell] for cell in ("A2", "C2", "D2", "E2")] == [VALUE, 400, VALUE, VALUE]
    assert [(f.cell, f.reason) for f in outcome.frozen] == [("C2", "it refers to another workbook")]
    assert not outcome.not_refreshed
    assert not outcome.marked
    assert not outcome.complete


@pytest.mark.parametrize("second_engine", [False, True])
@pytest.mark.parametrize(
    "formula",
    [
        "A2/C2",
        "C2/A2",
        "A2+C2*2",
        "2*C2+1-A2",
        "-A2^C2",
        "A2%+C2",
        "(C2-A2)/C2",
        '"F "&A2&" of "&C2',
        'C2&" "&A2',
        "A2>C2",
        "C2<=A2",
        "SUM(A2,C2)",
        "SUM(A2:C2)",
        "SUM(A2:C2,5)*C2",
        "ROUND(A2/C2,2)",
        "ROUND(C2,A2)",
        "ABS(C2-A2)",
        "MAX(C2,A2)",
        "MIN(A1:A3)+C2",
        "AVERAGE(A2:C2)",
        "AND(C2>1,A2>1)",
        "OR(A2>1,C2>1)",
        "NOT(A2>C2)",
        'IF(A2>C2,"NO","ok")',
        'IF(AND(A2<C2,C2>0),"ok","NO")',
        'IF(A2<=0.8*C2,IF(C2>5,"ok","weak"),"NO")',
        "CHOOSE(A2,C2,C2)",
        "VLOOKUP(A2,B2:C2,2,FALSE)+C2",
        'TEXT(A2,"0.0")&C2',
        "FIXED(A2,1)&C2",
        "PF_UTILISATION(A2,C2)",
        "PF_UTILISATION(C2,A2)",
        "ROUND(PF_UTILISATION(A2+1,C2),2)",
        "SQRT(LN(EXP(A2/C2)))",
        "NOSUCHFUNCTION(C2)+A2",
    ],
)
def test_operators_and_plain_functions_hand_on_an_error(tmp_path: Path, formula: str, second_engine: bool) -> None:
    found, outcome = found_in(tmp_path, cells_with(formula, "ok"), second_engine=second_engine)
    assert found["D2"] == VALUE
    assert found["C2"] == 400
    assert not outcome.marked
    assert not outcome.complete


@pytest.mark.parametrize(
    "formula",
    [
        'IFERROR(A2/C2,"none")',
        "ISERROR(A2)+C2",
        "COUNT(A2,C2)",
        "COUNTA(A2:C2)",
        'COUNTIF(A2:C2,">1")',
        "IF(C2>0,C2,A2)",
        "IF(B2=0,C2,A2)",
        "CHOOSE(C2,1,A2)",
        "AGGREGATE(9,6,A2:C2)",
        "SUBTOTAL(9,A2:C2)",
        "INDEX(A2:C2,1,C2)",
        "NOSUCHFUNCTION(A2,C2)",
        "SUMIF(A2:C2,C2)",
        "A2:C2 C2",
        "IFERROR(A2,C2)&C2",
        "ISTEXT(A2)&C2",
        "nosuchname+COUNT(A2)",
        "SUM(share)",
        "share+1",
    ],
)
def test_what_may_pass_over_an_error_is_marked(tmp_path: Path, formula: str) -> None:
    """`share` is COUNT(A2)*nosuchname: what can be read of a name is not its value."""
    made = Made(external="presses.xlsx", names=[("share", "COUNT(Dies!$A$2)*nosuchname")])
    path = make(tmp_path / "dies.xlsx", {"Dies": cells_with(formula, "ok", E2=F("LEN(D2)", 2.0))}, made)
    found, outcome = refresh(path, both_ways=True)
    assert (found["Dies!D2"], found["Dies!E2"]) == (NA, NA)
    assert outcome.marked == [("Dies", "D2"), ("Dies", "E2")]
    assert outcome.ways is not None
    assert not outcome.ways.differences
    assert not outcome.complete


def test_what_follows_an_error_is_computed_where_it_can_be(tmp_path: Path) -> None:
    """IFERROR and COUNTIF have all they need once D2 is known to be an error."""
    more = {
        "E2": F('IFERROR(D2,"see the force")', 0.15),
        "E3": F('IF(ISERROR(D2),"NO","ok")', "ok"),
        "E4": F("COUNT(A2:A3,D2)", 2.0),
        "E5": F('IFERROR(E2*1,"none")', "0.15"),
    }
    found, outcome = found_in(tmp_path, cells_with("A2/C2", 0.15, **more))
    assert [found[f"E{row}"] for row in range(2, 6)] == ["see the force", "NO", 0, "none"]
    assert not outcome.not_refreshed


def test_the_left_error_is_the_result(tmp_path: Path) -> None:
    errors: dict[str, Any] = {"K2": CellError("#NUM!"), "L2": CellError("#DIV/0!")}
    for formula, expected in (
        ("K2+L2+C2+A2", "#NUM!"),
        ("L2/K2*C2+A2", "#DIV/0!"),
        ("B2*2-#REF!+C2-A2", "#REF!"),
        ("SUM(L2,K2,C2,A2)", "#DIV/0!"),
        ("IF(K2>L2,C2,A2)", "#NUM!"),
        ("B2+L2+C2+A2", "#DIV/0!"),
    ):
        found, _ = found_in(tmp_path, cells_with(formula, 1.0, **errors))
        assert found["D2"] == expected, formula


def test_a_formula_that_cannot_be_computed_is_refreshed_where_it_is_an_error_for_certain(tmp_path: Path) -> None:
    found, outcome = found_in(tmp_path, cells_with("A2+[1]Presses!B9", 5.0))
    assert found["D2"] == VALUE
    assert outcome.complete


def test_an_error_of_another_kind_stays_where_the_kind_is_not_certain(tmp_path: Path) -> None:
    """C2 stands before A2 and may be another error: the one that is stored may be right."""
    found, _ = found_in(tmp_path, cells_with("C2/A2", CellError("#DIV/0!")))
    assert found["D2"] == "#DIV/0!"
    found, _ = found_in(tmp_path, cells_with("A2/C2", CellError("#DIV/0!")))
    assert found["D2"] == VALUE


def test_an_error_that_was_there_before_is_handed_on_too(tmp_path: Path) -> None:
    """As after a run of an earlier version: the force is an error in the file, the verdict beside it is "ok"."""
    cells = cells_with("A2/C2", 0.15, E2=F('IF(D2<=0.8,"ok","NO")', "ok"), E3=F("COUNT(A2,C2)", 2.0))
    cells["A2"] = F("PF_SHEARING_FORCE(F2,G2,H2)", CellError(VALUE))
    found, outcome = found_in(tmp_path, cells)
    assert [found[cell] for cell in ("D2", "E2", "E3")] == [VALUE, VALUE, 2]
    assert outcome.not_refreshed == [("Dies", "E3")]
    assert not outcome.marked


def test_only_what_rests_on_the_new_error_is_marked(tmp_path: Path) -> None:
    """The second row has nothing to do with the error: what cannot be refreshed there stays as it is stored."""
    more = {
        "F3": 100.0,
        "G3": 2.0,
        "H3": 300.0,
        "A3": F("PF_SHEARING_FORCE(F3,G3,H3)", 1.0),
        "C3": F("[1]Presses!B3", 100.0),
        "D3": F("COUNT(A3,C3)", 2.0),
        "E3": F("A3/C3", 0.7),
        "E4": F("D2+D3", 4.0),
        "E5": F("COUNT(D3)", 1.0),
        "E6": F("COUNT(D2)", NOTHING),
    }
    found, outcome = found_in(tmp_path, cells_with("COUNT(A2,C2)", 2.0, **more))
    assert [found.get(cell) for cell in ("A3", "C3", "D2", "D3", "E3", "E4", "E5", "E6")] == [
        60, 100, NA, 2, 0.7, NA, 1, None,
    ]  # fmt: skip
    assert outcome.marked == [("Dies", "D2"), ("Dies", "E4")]
    assert outcome.not_refreshed == [("Dies", cell) for cell in ("D2", "D3", "E3", "E4", "E5", "E6")]


def test_without_a_new_error_everything_left_stays(tmp_path: Path) -> None:
    cells = cells_with("COUNT(A2,C2)", 2.0, E2=F('IF(A2/C2<0.8,"ok","NO")', "ok")) | {"F2": 100.0}
    found, outcome = found_in(tmp_path, cells)
    assert [found[cell] for cell in ("A2", "C2", "D2", "E2")] == [60, 400, 2, "ok"]
    assert not outcome.marked


def test_columns_filled_down_hand_on_errors_row_by_row(tmp_path: Path) -> None:
    """Every third force fails; totals that run down, or up, are errors from the first one on."""
    rows = range(2, 1002)
    cells: dict[str, Any] = {}
    for row in rows:
        bad = row % 3 == 0
        cells |= {f"F{row}": "1 kg" if bad else 100.0, f"G{row}": 2.0, f"H{row}": 300.0}
        cells[f"A{row}"] = F(f"PF_SHEARING_FORCE(F{row},G{row},H{row})", 60.0)
        cells[f"C{row}"] = F(f"[1]Presses!B{row}", 400.0)
        cells[f"D{row}"] = F(f"A{row}/C{row}", 0.15)
        cells[f"E{row}"] = F(f'IF(D{row}<=0.8,"ok","NO")', "ok")
        cells[f"I{row}"] = F(f"I{row - 1}+D{row}", 1.0)
        cells[f"K{row}"] = F(f"K{row + 1}+D{row}", 1.0)
        cells[f"L{row}"] = F(f"SUM(D$2:D{row})", 1.0)
        cells[f"M{row}"] = F(f"COUNT(D{row})", 1.0)
    found, outcome = found_in(tmp_path, cells)
    for row in rows:
        bad = row % 3 == 0
        assert [found[f"{letter}{row}"] for letter in "ADEM"] == (
            [VALUE, VALUE, VALUE, 0] if bad else [60, 0.15, "ok", 1]
        )
        assert found[f"I{row}"] == (1 if row < 3 else VALUE)
        assert found[f"L{row}"] == (1 if row < 3 else VALUE)
        assert found[f"K{row}"] == (VALUE if row <= 999 else 1)
    assert len(outcome.frozen) == len(rows)


def test_errors_are_handed_on_through_names_tables_and_sheets(tmp_path: Path) -> None:
    dies = cells_with("force/capacity", 0.15)
    dies |= {"A1": "force", "B1": "b", "C1": "capacity", "D1": "use"}
    dies["E2"] = F("SUM(tDies[[#This Row],[force]],tDies[[#This Row],[capacity]])", 460.0)
    dies["E3"] = F("SUM(tDies[force])", 60.0)
    other = {"A1": F("Dies!D2*100", 15.0), "A2": F('IF(A1<=80,"ok","NO")', "ok"), "A3": F("MAX(tDies[use])", 0.15)}
    made = Made(
        external="presses.xlsx",
        names=[("force", "Dies!$A$2"), ("capacity", "Dies!$C$2")],
        tables={"tDies": ("Dies", "A1:D2", ["force", "b", "capacity", "use"])},
    )
    path = make(tmp_path / "dies.xlsx", {"Dies": dies, "Sum": other}, made)
    found, _ = refresh(path)
    for cell in ("Dies!D2", "Dies!E2", "Dies!E3", "Sum!A1", "Sum!A2", "Sum!A3"):
        assert found[cell] == VALUE, cell


def test_all_cells_of_an_array_and_of_a_data_table_are_marked(tmp_path: Path) -> None:
    more: dict[str, Any] = {
        "D2": array("A2:A3/C2:C3", "D2:D3", 0.15),
        "D3": 0.2,
        "L2": F("", 5.0, 't="dataTable" ref="L2:L3" dt2D="0" dtr="0" r1="A2"'),
        "L3": 6.0,
    }
    path = make(tmp_path / "dies.xlsx", {"Dies": cells_with("A2", 1.0) | more}, OUTSIDE)
    found, outcome = refresh(path)
    assert (found["Dies!D2"], found["Dies!D3"]) == (NA, NA)
    assert ("Dies", "D3") in outcome.marked
    assert (found["Dies!L2"], found["Dies!L3"]) == (NA, NA)


def test_with_all_ordinary_formulas_hand_on_errors_too(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"A2": F("1/B2", 5.0), "B2": 0.0, "C2": F(KEPT, 400.0), "D2": F("A2/C2", 0.1)}
    cells |= {"E2": F('IF(D2<1,"ok","NO")', "ok"), "E3": F("COUNT(A2,C2)", 2.0)}
    found, outcome = found_in(tmp_path, cells)
    assert (found["D2"], found["E2"], found["E3"]) == (0.1, "ok", 2)
    found, outcome = refresh(make(tmp_path / "all.xlsx", {"Dies": cells}, OUTSIDE), everything=True)
    assert [found[f"Dies!{cell}"] for cell in ("A2", "D2", "E2", "E3")] == ["#DIV/0!"] * 3 + [NA]
    assert outcome.marked == [("Dies", "E3")]


def test_a_mark_is_no_value_that_the_second_engine_is_measured_by(tmp_path: Path) -> None:
    """It gets an error where K2 stores a number, and is not believed; no more so where K2 was marked."""
    more = {"K2": F("IRR(L2:L2)", 0.1), "L2": F("GAUSS(COUNT(A2))", 2.0)}
    found, outcome = found_in(tmp_path, cells_with("A2", 60.0, **more), second_engine=True)
    assert (found["L2"], found["K2"]) == (0, NA)
    assert outcome.marked == [("Dies", "K2")]


def test_no_ok_comes_back_before_it_is_computed(tmp_path: Path) -> None:
    """When the force is mended, the errors and marks stay as long as the capacity cannot be computed."""
    cells = cells_with("A2/C2", 0.15, E2=F('IF(D2<=0.8,"ok","NO")', "ok"), E3=F("COUNT(A2,C2)", 2.0))
    found, _ = found_in(tmp_path, cells)
    mended = cells | {"F2": 100.0} | {c: F(cells[c].text, CellError(found[c])) for c in ("A2", "D2", "E2", "E3")}
    found, outcome = found_in(tmp_path, mended)
    assert [found[cell] for cell in ("A2", "D2", "E2", "E3")] == [60, VALUE, VALUE, NA]
    assert len(outcome.not_refreshed) == 3


PIECES = [
    "{0}+{1}", "{0}-{1}*{2}", "{0}/{1}", "-{0}", "{0}%", "{0}&{1}", "{0}>{1}", "({0}<={1})*{2}", "{0}^2", "2*{0}",
    "SUM({0},{1})", "SUM({range})", "MAX({range})", "AND({0}>1,{1}>1)", "OR({range})", "ROUND({0},2)", "ABS({0})",
    'IF({0}>1,{1},{2})', 'IFERROR({0},{1})', "ISERROR({0})", "COUNT({0},{1},{2})", "COUNT({range})", "LEN({0})",
    "IF(ISERROR({0}),{1},{2})", "CHOOSE({0},{1},{2})", "MIN({0},{1})", "NOT({0})", "PRODUCT({range})", "SQRT({0})",
    "PF_UTILISATION({0},{1})", "PF_REQUIRED_CAPACITY({0})", 'IF({0}<=0.8,"ok","NO")', "AVERAGE({0},{1})",
]  # fmt: skip


@pytest.mark.parametrize("seed", range(60))
def test_what_is_refreshed_holds_whatever_the_kept_cells_are(tmp_path: Path, seed: int) -> None:
    """Random sheets with cells that cannot be computed: what else is put in their place changes no result."""
    draw = random.Random(seed)
    inputs: list[Any] = [1.0, 2.0, 0.0, 3.5, "ok", CellError("#NUM!"), CellError(NA)]
    cells: dict[str, Any] = {f"A{row}": draw.choice(inputs) for row in range(1, 7)}
    kept = [f"A{row}" for row in draw.sample(range(1, 7), 2)]
    cells |= {cell: F(f"[1]Presses!B{number}", 2.0) for number, cell in enumerate(kept, 1)}
    for row in range(7, 40):
        names = [f"A{draw.randint(max(1, row - 12), row - 1)}" for _ in range(3)]
        first = draw.randint(max(1, row - 6), row - 1)
        text = draw.choice(PIECES).format(*names, range=f"A{first}:A{row - 1}")
        cells[f"A{row}"] = F(text, draw.choice([1.0, "ok", CellError(VALUE)]))
    found, outcome = refresh(
        make(tmp_path / "kept.xlsx", {"Dies": cells}, OUTSIDE), everything=True, both_ways=True
    )
    assert outcome.ways is not None
    assert not outcome.ways.differences
    left = {cell for _, cell in [*((f.sheet, f.cell) for f in outcome.frozen), *outcome.not_refreshed]}
    for value in (7.0, "abc", CellError("#DIV/0!")):
        other, whole = refresh(
            make(tmp_path / "known.xlsx", {"Dies": cells | dict.fromkeys(kept, value)}), everything=True
        )
        open_too = {f.cell for f in whole.frozen} | {cell for _, cell in whole.not_refreshed}
        for cell in cells.keys() - left - open_too - {*kept}:
            one, two = found.get(f"Dies!{cell}"), other.get(f"Dies!{cell}")
            both_errors = str(one).startswith("#") and str(two).startswith("#")
            assert one == two or both_errors, (cell, cells[cell], value)


def run(*arguments: str | Path) -> Any:
    return CliRunner().invoke(main, ["recalc", *map(str, arguments)])


def test_the_report_names_what_is_marked_and_ends_with_1(tmp_path: Path) -> None:
    cells = cells_with("COUNT(A2,C2)", 2.0, E2=F("AGGREGATE(14,6,A2:C2,1)", 400.0))
    path = make(tmp_path / "dies.xlsx", {"Dies": cells}, OUTSIDE)
    before = path.read_bytes()
    checked = run(path, "--check")
    assert checked.exit_code == 1
    assert "3 stored results out of date; 3 formulas NOT REFRESHED, 2 cells MARKED #N/A" in checked.stdout
    assert path.read_bytes() == before
    table = tmp_path / "report.csv"
    written = run(path, "--in-place", "--json", "--report", table)
    assert written.exit_code == 1
    file = json.loads(written.stdout)["files"][0]
    assert file["marked"] == [{"sheet": "Dies", "cell": "D2"}, {"sheet": "Dies", "cell": "E2"}]
    assert {"sheet": "Dies", "cell": "D2", "before": 2, "after": NA} in file["changes"]
    assert "Dies,D2,marked,,,#N/A,it cannot be refreshed" in table.read_text()
    assert values(path)["Dies!D2"] == NA
    after = path.read_bytes()
    again = run(path, "--in-place")
    assert again.exit_code == 1
    assert "already up to date; 3 formulas NOT REFRESHED" in again.stdout
    assert "MARKED" not in again.stdout
    assert path.read_bytes() == after
    text = run(make(tmp_path / "again.xlsx", {"Dies": cells}, OUTSIDE), "--in-place").stdout
    assert "rest on a result that is an error now: marked #N/A (2):\n    Dies!D2\n" in text
    assert "kept as stored (1):\n    Dies!C2  it refers to another workbook" in text
    assert "not refreshed, since" not in text
