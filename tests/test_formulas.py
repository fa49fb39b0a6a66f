"""Formulas as templates: references, filled-down columns, calls and their arguments."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.formula.translate import Translator
from openpyxl.utils import get_column_letter

from pressfuncs.batch.formulas import (
    LAST_ROW,
    NotUnderstood,
    Template,
    arguments_of,
    call_end,
    our_function,
    our_spec,
    parse,
    parse_ref,
    quote_sheet,
)


@pytest.mark.parametrize(
    "text",
    [
        "B2*$C$3+D$4-$E5",
        "SUM(B2:D4)+MAX($B$2:B2)",
        "SUM(B:B,$C:D,3:3,$4:7,$5:$6)",
        "'Shop''s presses'!B2+Sheet2!$C$3",
        'IF(A1="a ""quoted"" text",B2,{1,2;3,4})',
        '-B2%^2&"x"',
        "B2:C3 C2:D4",
    ],
)
@pytest.mark.parametrize(("row", "column"), [(9, 9), (10, 9), (77, 30)])
def test_a_template_says_elsewhere_what_a_spreadsheet_fills_in(text: str, row: int, column: int) -> None:
    template = parse(text, 9, 9)
    want = Translator("=" + text, "I9").translate_formula(f"{get_column_letter(column)}{row}")[1:]
    assert template.bind(column, as_written=True)(row) == want
    assert template == parse(want, row, column)


def test_sheets_are_quoted_for_the_engine() -> None:
    assert parse("Sheet2!B2+B3", 1, 1).bind(1)(1) == "'Sheet2'!B2+B3"
    assert quote_sheet("it's") == "'it''s'!"


@given(st.integers(1, 60), st.integers(1, 60), st.integers(1, 60), st.booleans(), st.booleans())
def test_rectangles_are_those_of_the_written_range(at: int, first: int, last: int, fix1: bool, fix2: bool) -> None:
    ref = parse_ref(f"B{'$' if fix1 else ''}{first}:D{'$' if fix2 else ''}{last}", at, 5)
    assert ref is not None
    assert ref.rectangle(at, 5) == (min(first, last), 2, max(first, last), 4)
    moved = ref.rectangle(at + 3, 5)
    rows = sorted([first if fix1 else first + 3, last if fix2 else last + 3])
    assert (moved[0], moved[2]) == tuple(rows)


@pytest.mark.parametrize(
    "text", ["tau", "XFE1", "A0", "A1048577x", "B", "R1C1x", "Dies!tau", "1", "A1:B", "tDies[L]"]
)
def test_names_are_no_references(text: str) -> None:
    assert parse_ref(text, 1, 1) is None


def test_references_off_the_sheet_are_not_understood() -> None:
    template = parse("A1+B2", 2, 2)
    with pytest.raises(NotUnderstood, match="leaves the sheet"):
        template.bind(2)(1)
    with pytest.raises(NotUnderstood, match="leaves the sheet"):
        template.bind(1)
    with pytest.raises(NotUnderstood, match="leaves the sheet"):
        parse("A2", 1, 1).refs[0].rectangle(LAST_ROW, 1)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("PF_SHEARING_FORCE(", "shearing_force"),
        ("pf_x(", "x"),
        ("[1]!PF_X(", "x"),
        (r"'C:\a b\press.xlam'!PF_X(", "x"),
        ("_xll.PF_X(", "x"),
        ("org.example.addin.pf_x(", "x"),
        ("SUM(", None),
        ("NOTPF_X(", None),
        ("PFX(", None),
        ("(", None),
    ],
)
def test_our_functions_are_told_from_others(text: str, name: str | None) -> None:
    assert our_function(text) == name


def test_an_unknown_function_of_ours_is_named() -> None:
    with pytest.raises(NotUnderstood, match="PF_NO_SUCH is not a function"):
        our_spec("[1]!PF_NO_SUCH(")
    assert our_spec("SUM(") is None


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("[1]Other!A1*E2+F3", "another workbook"),
        ("'[Other.xlsx]Sheet 1'!A1*E2+F3", "another workbook"),
        ("[1]!Their_function(E2)+F3", "function of another workbook"),
    ],
)
def test_what_leads_out_of_the_workbook_still_shows_what_it_hangs_on(text: str, reason: str) -> None:
    with pytest.raises(NotUnderstood, match=reason) as caught:
        parse(text, 1, 1)
    template = caught.value.template
    assert template is not None
    assert {ref.rectangle(1, 1)[:2] for ref in template.refs} == {(2, 5), (3, 6)}


def test_an_unreadable_formula_still_shows_that_it_calls_ours() -> None:
    with pytest.raises(NotUnderstood, match="cannot be read") as caught:
        parse('"open & PF_SHEARING_FORCE(1,1,1)', 1, 1)
    assert caught.value.template is not None
    assert caught.value.template.has_ours
    with pytest.raises(NotUnderstood) as caught:
        parse('"open', 1, 1)
    assert caught.value.template is None


@pytest.mark.parametrize(
    ("text", "arguments"),
    [
        ("PF_X()", []),
        ("PF_X(1)", ["1"]),
        ("PF_X(,1,)", ["", "1", ""]),
        ("PF_X( A1 , (B1,C1) , SUM(1,2) )", ["A1", "(B1,C1)", "SUM(1,2)"]),
        ('PF_X("a,b",{1,2;3,4})', ['"a,b"', "{1,2;3,4}"]),
    ],
)
def test_arguments_are_split_at_their_own_commas(text: str, arguments: list[str]) -> None:
    tokens = parse(text, 1, 1).tokens
    end = call_end(tokens, 0)
    assert end == len(tokens) - 1
    found = [Template(argument).bind(1)(1) for argument in arguments_of(tokens, 0, end)]
    assert found == arguments
