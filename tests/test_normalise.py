"""Names, tables and ranges of old formulas, written out in plain references."""

from __future__ import annotations

from typing import Any

import pytest

from pressfuncs.batch.book import Book, Run, Sheet, Table
from pressfuncs.batch.formulas import parse
from pressfuncs.batch.normalise import normalise_runs

TABLE = Table("Dies", (1, 1, 6, 3), 1, 1, {"l": 1, "tau [mpa]": 2, "a#b": 3})
NAMES: dict[tuple[str | None, str], str] = {
    (None, "tau"): "Dies!$D$1",
    ("Press", "tau"): "Press!$A$1",
    (None, "rate"): "0.5+1",
    (None, "left"): "Dies!XFD1",
    (None, "both"): "Dies!$A$1:$A$3,Dies!$C$1",
    (None, "chain"): "tau*rate",
    (None, "up"): "up",
}


def book(run: Run) -> Book:
    sheets = {name: Sheet(name, "") for name in ("Dies", "Press", "Last")}
    sheets[run.sheet].runs = [run]
    return Book(sheets, NAMES, {"tdies": TABLE}, False)


def normal(
    text: str, first: int = 3, last: int | None = None, column: int = 9, sheet: str = "Dies", **run: Any
) -> Any:
    """Return (first row, last row, text) of each piece, or the reason why it is frozen."""
    made = Run(sheet, column, first, last or first, parse(text, first, column), **run)
    runs = sorted(normalise_runs(book(made)), key=lambda piece: piece.first)
    found = [(r.first, r.last, r.frozen or r.template.bind(column)(r.first)) for r in runs if r.template]
    return found[0][2] if len(found) == 1 else found


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("tau*2", "'Dies'!$D$1*2"),
        ("Press!tau", "'Press'!$A$1"),
        ("Press!rate", "(0.5+1)"),
        ("TAU", "'Dies'!$D$1"),
        ("chain", "('Dies'!$D$1*(0.5+1))"),
        ("left", "'Dies'!H3"),
        ("tDies[L]*SUM(tDies[L])", "'Dies'!$A3*SUM('Dies'!$A$2:$A$5)"),
        ("SUM(tDies[[#All],[L]:[tau '[MPa']]])", "SUM('Dies'!$A$1:$B$6)"),
        ("SUM(tDies[[#Headers],[a'#b]])", "SUM('Dies'!$C$1)"),
        ("tDies[[#This Row],[L]]", "'Dies'!$A3"),
        ("tDies[@L]", "'Dies'!$A3"),
        ("SUM(tDies)", "SUM('Dies'!$A$2:$C$5)"),
        ("SUM(tDies[])", "SUM('Dies'!$A$2:$C$5)"),
        ("SUM(tDies[#Totals])", "SUM('Dies'!$A$6:$C$6)"),
        ("dies!B2", "'Dies'!B2"),
        ("_xlfn.XLOOKUP(B2,C:C,D:D)", "XLOOKUP(B2,C:C,D:D)"),
        ("_xlfn.LET(_xlpm.x,2,_xlpm.x*B2)", "LET(x,2,x*B2)"),
    ],
)
def test_names_and_tables_are_written_out(text: str, plain: str) -> None:
    assert normal(text) == plain


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("B1:B5*2", "B3*2"),
        ("B1:B5 * 2", "B3 * 2"),
        ("A$1:K$1", "I1"),
        ("B10:B20", "#VALUE!"),
        ("B:B+1", "B3+1"),
        ("SUM(B1:B5)", "SUM(B1:B5)"),
        ("SUM(B1:B5*2)", "SUM(B3*2)"),
        ("SUM((B1:B5)*2)", "SUM((B3)*2)"),
        ("SUM(ABS(B1:B5))", "SUM(ABS(B3))"),
        ("AND(B1:B5>1)", "AND(B3>1)"),
        ("SUMPRODUCT(B1:B5*2)", "SUMPRODUCT(B1:B5*2)"),
        ("SUM(IF(A1,B1:B5,C1:C5))", "SUM(IF(A1,B1:B5,C1:C5))"),
        ("IF(A1,B1:B5)", "IF(A1,B3)"),
        ("VLOOKUP(B1:B5,A1:C5,2,0)", "VLOOKUP(B3,A1:C5,2,0)"),
        ("COUNTIF(B1:B5,B1:B5)", "COUNTIF(B1:B5,B3)"),
        ("_xlfn.SINGLE(B1:B5)*2", "(B3)*2"),
        ("PF_LOAD_CENTRE(B1:B5,C1:C5)", "PF_LOAD_CENTRE(B1:B5,C1:C5)"),
        ("INDEX(B1:B5*2,2)", "INDEX(B1:B5*2,2)"),
        ("SUM(B1:B5 A3:C3)", "SUM(B1:B5 A3:C3)"),
    ],
)
def test_a_range_is_cut_to_a_cell_where_one_value_is_wanted(text: str, plain: str) -> None:
    assert normal(text).replace("$", "") == plain


def test_array_formulas_keep_their_ranges() -> None:
    assert normal("B1:B5*2", area=(3, 9, 7, 9)) == "B1:B5*2"
    assert normal("_xlfn.SINGLE(B1:B5)*C1:C5", area=(3, 9, 7, 9), dynamic=True) == "($B3)*C1:C5"


def test_runs_are_cut_where_a_range_or_a_table_begins_and_ends() -> None:
    assert normal("B$3:B$5*2", 1, 7) == [(1, 2, "#VALUE!*2"), (3, 5, "$B3*2"), (6, 7, "#VALUE!*2")]
    assert normal("tDies[@L]", 1, 7) == [(1, 1, "#VALUE!"), (2, 5, "'Dies'!$A2"), (6, 7, "#VALUE!")]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("up", "circle"),
        ("nothing", '"nothing" is not defined'),
        ("tNone[L]", '"tNone" does not exist'),
        ("tDies[None]", 'no column "None"'),
        ("Nowhere!A1", '"Nowhere"'),
        ("_xlfn.SINGLE(INDEX(B1:B5,0))", "(@) of a computed range"),
    ],
)
def test_what_is_not_understood_is_frozen_with_the_reason(text: str, reason: str) -> None:
    assert reason in normal(text)


def test_frozen_formulas_still_show_what_they_hang_on() -> None:
    run = Run("Dies", 9, 3, 3, parse("nothing*tDies[[#This Row],[L]]+SUM(Dies:Last!B2)+tau", 3, 9))
    (frozen,) = normalise_runs(book(run))
    assert frozen.frozen
    assert frozen.template is not None
    found = {(ref.sheet, *ref.rectangle(3, 9)[:2]) for ref in frozen.template.refs}
    assert found == {("Dies", 3, 1), ("Dies", 2, 2), ("Press", 2, 2), ("Last", 2, 2), ("Dies", 1, 4)}


def test_normalising_leaves_the_book_as_it_was() -> None:
    made = Run("Dies", 9, 3, 3, parse("tau", 3, 9))
    normalise_runs(book(made))
    assert made.template == parse("tau", 3, 9)
