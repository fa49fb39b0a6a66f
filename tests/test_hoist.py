"""Taking our calls out of formulas: what becomes an argument, what is left for the engine, and where it stands."""

from __future__ import annotations

from typing import Any

import pytest

from pressfuncs.batch.book import Run
from pressfuncs.batch.formulas import NotUnderstood, Ref, parse
from pressfuncs.batch.hoist import Constant, Hoisted, Nested, Scratch, Slots, hoist, movable
from pressfuncs.errors import CellError


def hoisted(text: str, last: int = 5, **run: Any) -> Hoisted:
    made = Run("Dies", 9, 5, last, parse(text, 5, 9), **run)
    return hoist(made, Slots())


def sources(text: str) -> list[Any]:
    """Return the arguments of the last call: constants as they are, the rest as text."""
    found: list[Any] = []
    for source in hoisted(text).calls[-1].sources:
        if isinstance(source, Constant):
            found.append(source.value)
        elif isinstance(source, Ref):
            found.append(source.pattern(9)[0].replace("\0", "5"))
        elif isinstance(source, Nested):
            found.append(("call", source.call))
        else:
            assert isinstance(source, Scratch)
            found.append(source.template.bind(9)(5))
    return found


@pytest.mark.parametrize(
    ("text", "arguments"),
    [
        ("PF_X(B5,$C$2,D:D)", ["B5", "$C$2", "D:D"]),
        ("PF_X(1,-2.5,+3,1E3)", [1, -2.5, 3, 1000]),
        ('PF_X("a ""b""",TRUE,FALSE,#N/A)', ['a "b"', True, False, CellError("#N/A")]),
        ("PF_X(,2,)", [None, 2, None]),
        ("PF_X()", []),
        ("PF_X(B5*2,50%,SUM(B1:B9))", ["'Dies'!B5*2", "50%", "SUM('Dies'!B1:B9)"]),
        ("PF_X(PF_X(1),Press!B5)", [("call", 0), "B5"]),
        ("PF_X((B5))", ["('Dies'!B5)"]),
    ],
)
def test_arguments_are_constants_cells_calls_or_scratch_formulas(text: str, arguments: list[Any]) -> None:
    assert sources(text.replace("PF_X", "PF_SHEARING_FORCE")) == arguments


def test_what_is_one_call_needs_no_engine() -> None:
    for text in ("PF_SHEARING_FORCE(1,2,3)", " PF_SHEARING_FORCE(1,2,3) "):
        found = hoisted(text)
        assert found.direct
        assert found.rest is None
        assert found.calls[-1].slot is None


def test_what_remains_refers_to_a_cell_of_the_same_row() -> None:
    found = hoisted('IF(B5="","",PF_SHEARING_FORCE(B5,1,1)&" kN")', last=8)
    assert found.rest is not None
    slot = found.calls[0].slot
    assert slot is not None
    assert found.rest.bind(9)(6) == f'IF(B6="","",\'{slot.sheet}\'!$A6&" kN")'
    assert found.rest_calls == (0,)
    assert not found.needs_single_row


def test_inner_calls_come_first() -> None:
    found = hoisted("PF_SHEARING_FORCE(PF_SHEARING_FORCE(1,1,1)+1,PF_SHEARING_FORCE(2,1,1),1)+1")
    assert len(found.calls) == 3
    scratch, nested, _ = found.calls[-1].sources
    assert isinstance(scratch, Scratch)
    assert scratch.calls == (0,)
    assert nested == Nested(1)


@pytest.mark.parametrize(
    ("argument", "array"),
    [
        ("B1:B5*2", True),
        ("{1;2}", True),
        ("ABS(B1:B5)", True),
        ("SUM(B1:B5)*2", False),
        ("B5*2", False),
        ("VLOOKUP(B5,C1:D9,2,FALSE)", False),
    ],
)
def test_arguments_of_several_values_get_a_sheet_of_their_own(argument: str, array: bool) -> None:
    found = hoisted(f"PF_SHEARING_FORCE({argument},1,1)")
    assert found.needs_single_row == array
    (scratch,) = found.scratches
    assert scratch.slot.array == array


def test_every_argument_gets_one_where_computing_showed_that_it_needs_one() -> None:
    run = Run("Dies", 9, 5, 5, parse("PF_SHEARING_FORCE(INDEX(B1:B5,0),1,1)", 5, 9))
    assert not hoist(run, Slots()).needs_single_row
    assert hoist(run, Slots(), arrays=True).needs_single_row


def test_slots_leave_the_column_beside_them_free() -> None:
    slots = Slots()
    places = [(slot.sheet, slot.column) for slot in (slots.column() for _ in range(9000))]
    assert len(set(places)) == 9000
    assert all((sheet, column + 1) not in places for sheet, column in places[:50])
    assert max(column for _, column in places) < 16384
    assert len({sheet for sheet, _ in places}) == 2


@pytest.mark.parametrize(
    ("text", "moved"),
    [
        ("B5+Press!C5", "'Dies'!B5+'Press'!C5"),
        ("ROW()+COLUMN()", "ROW('pressfuncs nowhere'!$I5)+COLUMN('pressfuncs nowhere'!$I5)"),
        ("ROW(B5)", "ROW('Dies'!B5)"),
        ('INDIRECT("A"&B5)', "INDIRECT(PRESSFUNCS.ONSHEET(\"'Dies'!\",\"A\"&'Dies'!B5))"),
    ],
)
def test_moved_formulas_mean_the_same(text: str, moved: str) -> None:
    run = Run("Dies", 9, 5, 5, parse(text, 5, 9))
    assert run.template is not None
    from pressfuncs.batch.formulas import Template

    assert Template(movable(run.template.tokens, run)).bind(9)(5) == moved


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("PF_NO_SUCH(1)", "PF_NO_SUCH is not a function"),
        ("LET(x,1,PF_SHEARING_FORCE(x,1,1))", "variable of LET"),
        ('PF_SHEARING_FORCE(CELL("row"),1,1)', "CELL is used"),
    ],
)
def test_what_cannot_be_taken_out_is_not_understood(text: str, reason: str) -> None:
    with pytest.raises(NotUnderstood, match=reason):
        hoisted(text)


def test_array_formulas_are_computed_on_a_sheet_of_their_own() -> None:
    found = hoisted("PF_SHEARING_FORCE(B1:B5,1,1)*2", area=(5, 9, 9, 9))
    assert found.array_slot is not None
    assert found.needs_single_row
    assert hoisted("PF_SHEARING_FORCE(B1:B5,1,1)", area=(5, 9, 9, 9)).array_slot is None
