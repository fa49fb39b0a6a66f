"""Random workbooks: every cell against plain Python, and column by column against cell by cell."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from books import NOTHING, F, make, refresh, values
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

COLUMNS = "ABCDEFGH"
FIRST_INPUTS = 2  # columns A and B hold inputs, in every sheet
SHEETS = ("Dies", "Shop's presses")

Value = float | str | bool
Rows = dict[str, Value]


class Wrong(Exception):
    """An error value: its code."""


@dataclass
class Column:
    """A filled-down column: its formula for a row, and what plain Python makes of it."""

    text: Callable[[int], str]
    compute: Callable[[int, dict[str, Any]], Any]


@dataclass
class Sheet:
    """Inputs and columns of one random sheet; the formula of a column uses what stands left of it or above."""

    name: str
    rows: int
    inputs: dict[str, Any]
    columns: list[tuple[str, int, Column]] = field(default_factory=list)  # letter, first row, formula


def number(value: Any) -> float:
    """Return what arithmetic makes of the value of a cell."""
    if isinstance(value, Wrong):
        raise value
    if value is None:
        return 0.0
    if isinstance(value, str):
        try:
            return float(value)
        except ValueError:
            raise Wrong("#VALUE!") from None
    return float(value)


def quantity(value: Any) -> float:
    """Return what an argument of ours makes of the value of a cell: a positive number or an error."""
    if isinstance(value, Wrong):
        raise value
    if value is None or isinstance(value, (bool, str)):
        raise Wrong("#VALUE!")
    return float(value)


def force(length: Any, thickness: Any, strength: Any) -> float:
    """Compute the shearing force as the plain function does."""
    errors = [value for value in (length, thickness, strength) if isinstance(value, Wrong)]
    if errors:
        raise errors[0]
    given = [quantity(value) for value in (length, thickness, strength)]
    if min(given) <= 0:
        raise Wrong("#NUM!")
    result = given[0] * given[1] * given[2] / 1000
    if not math.isfinite(result):
        raise Wrong("#NUM!")
    return result


def shown(value: Any) -> str:
    """Return the text of a value, of numbers by 15 digits; the numbers here need no exponent."""
    if isinstance(value, Wrong):
        raise value
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    return value if isinstance(value, str) else f"{value:.15g}"


@dataclass(frozen=True)
class Term:
    """A piece of a formula: its text for a row, and its value."""

    text: Callable[[int], str]
    value: Callable[[int, dict[str, Any]], Any]


def cell(sheet: str, letter: str, offset: int | None, row: int = 0, own: bool = True) -> Term:
    """Refer to a cell: `offset` rows from the own one, or (None) always the same row."""
    prefix = "" if own else "'" + sheet.replace("'", "''") + "'!"

    def place(at: int) -> str:
        return f"{letter}{at + offset}" if offset is not None else f"{letter}{row}"

    def text(at: int) -> str:
        return prefix + (place(at) if offset is not None else f"${letter}${row}")

    return Term(text, lambda at, cells: cells.get(f"{sheet}!{place(at)}"))


def constant(value: float) -> Term:
    return Term(lambda at: repr(value), lambda at, cells: value)


def arithmetic(operator: str, left: Term, right: Term) -> Term:
    def value(at: int, cells: dict[str, Any]) -> float:
        a, b = number(left.value(at, cells)), number(right.value(at, cells))
        if operator == "/":
            if b == 0:
                raise Wrong("#DIV/0!")
            return a / b
        return a + b if operator == "+" else a - b if operator == "-" else a * b

    return Term(lambda at: f"({left.text(at)}{operator}{right.text(at)})", value)


def ours(length: Term, thickness: Term, strength: Term) -> Term:
    terms = (length, thickness, strength)
    return Term(
        lambda at: f"PF_SHEARING_FORCE({','.join(term.text(at) for term in terms)})",
        lambda at, cells: force(*(_caught(term, at, cells) for term in terms)),
    )


def _caught(term: Term, at: int, cells: dict[str, Any]) -> Any:
    try:
        return term.value(at, cells)
    except Wrong as wrong:
        return wrong


def joined(left: Term, right: Term) -> Term:
    return Term(
        lambda at: f"{left.text(at)}&{right.text(at)}",
        lambda at, cells: shown(left.value(at, cells)) + shown(right.value(at, cells)),
    )


def guarded(term: Term) -> Term:
    def value(at: int, cells: dict[str, Any]) -> Any:
        try:
            return number(term.value(at, cells))
        except Wrong:
            return "none"

    return Term(lambda at: f'IFERROR({term.text(at)}+0,"none")', value)


def larger(left: Term, right: Term) -> Term:
    """IF(left>right, left, right), compared by 15 digits."""

    def value(at: int, cells: dict[str, Any]) -> Any:
        a, b = number(left.value(at, cells)), number(right.value(at, cells))
        return a if float(f"{a:.15g}") > float(f"{b:.15g}") else b

    return Term(lambda at: f"IF({left.text(at)}+0>{right.text(at)}+0,{left.text(at)}+0,{right.text(at)}+0)", value)


def total(sheet: str, letter: str, first: int, growing: bool, last: int, own: bool) -> Term:
    """SUM of a column from a fixed row to the row above, or of a fixed range."""
    prefix = "" if own else "'" + sheet.replace("'", "''") + "'!"

    def value(at: int, cells: dict[str, Any]) -> float:
        end = at if growing else last
        found = [cells.get(f"{sheet}!{letter}{row}") for row in range(first, end + 1)]
        for element in found:
            if isinstance(element, Wrong):
                raise element
        return math.fsum(e for e in found if isinstance(e, float) and not isinstance(e, bool))

    return Term(lambda at: f"SUM({prefix}{letter}${first}:{letter}{at if growing else f'${last}'})", value)


inputs = st.one_of(
    st.integers(1, 400).map(lambda n: n / 8),
    st.integers(1, 30).map(lambda n: n / 10),
    st.sampled_from([0.0, -2.5, None, "text", True, "12"]),
)


@st.composite
def books(draw: st.DrawFn, most_rows: int = 14) -> list[Sheet]:
    """Draw two sheets; the second may use all of the first, the first only itself."""
    sheets: list[Sheet] = []
    for name in SHEETS:
        rows = draw(st.integers(2, most_rows))
        cells = {f"{letter}{row}": draw(inputs) for letter in COLUMNS[:FIRST_INPUTS] for row in range(1, rows + 1)}
        sheet = Sheet(name, rows, cells)
        for number_ in range(FIRST_INPUTS, draw(st.integers(FIRST_INPUTS + 1, len(COLUMNS)))):
            first = draw(st.integers(1, min(3, rows)))
            term = draw(terms([*sheets, sheet], number_, first, depth=2))
            sheet.columns.append((COLUMNS[number_], first, Column(term.text, term.value)))
        sheets.append(sheet)
    return sheets


@st.composite
def terms(draw: st.DrawFn, sheets: list[Sheet], column: int, first: int, depth: int) -> Term:
    """Draw a formula for a column of the last sheet."""
    own = sheets[-1]
    if depth == 0:
        kind = draw(st.sampled_from(["cell", "cell", "cell", "fixed", "above", "total", "other", "constant"]))
        left = COLUMNS[draw(st.integers(0, column - 1))]
        if kind == "above" and first > 1:
            return cell(own.name, COLUMNS[draw(st.integers(0, column))], -1)
        if kind == "fixed":
            return cell(own.name, left, None, draw(st.integers(1, own.rows)))
        if kind == "total":
            return total(own.name, left, 1, draw(st.booleans()), own.rows, own=True)
        if kind == "other" and len(sheets) > 1:
            letter = draw(st.sampled_from(COLUMNS))
            if draw(st.booleans()):
                return total(sheets[0].name, letter, 1, False, sheets[0].rows, own=False)
            return cell(sheets[0].name, letter, 0, own=False)
        if kind == "constant":
            return constant(draw(st.integers(1, 40)) / 4)
        return cell(own.name, left, 0)
    inner = terms(sheets, column, first, depth - 1)
    kind = draw(st.sampled_from(["ours", "ours", "ours", "sum", "joined", "guarded", "larger", "plain"]))
    if kind == "ours":
        return ours(draw(inner), draw(inner), draw(inner))
    if kind == "sum":
        return arithmetic(draw(st.sampled_from("+-*/")), draw(inner), draw(inner))
    if kind == "joined" and depth == 2:
        return joined(draw(inner), constant(1.5))
    if kind == "guarded":
        return guarded(draw(inner))
    if kind == "larger":
        return larger(draw(inner), draw(inner))
    return draw(inner)


def expected(sheets: list[Sheet]) -> dict[str, Any]:
    """Compute every cell with plain Python: row by row, column by column, sheet by sheet."""
    cells: dict[str, Any] = {}
    for sheet in sheets:
        cells |= {f"{sheet.name}!{address}": value for address, value in sheet.inputs.items()}
        for letter, first, column in sheet.columns:
            for row in range(first, sheet.rows + 1):
                try:
                    value = column.compute(row, cells)
                    value = 0.0 if value is None else value
                    if isinstance(value, float) and not math.isfinite(value):
                        value = Wrong("#NUM!")
                except Wrong as wrong:
                    value = wrong
                cells[f"{sheet.name}!{letter}{row}"] = value
    return cells


def as_cells(sheets: list[Sheet], stored: Callable[[str], Any]) -> dict[str, dict[str, Any]]:
    """Return the workbook as `make` wants it; `stored` gives what a formula cell stores."""
    made: dict[str, dict[str, Any]] = {}
    for sheet in sheets:
        cells = dict(sheet.inputs)
        for letter, first, column in sheet.columns:
            for row in range(first, sheet.rows + 1):
                address = f"{letter}{row}"
                cells[address] = F(column.text(row), stored(f"{sheet.name}!{address}"))
        made[sheet.name] = cells
    return made


def same(found: Any, want: Any) -> bool:
    if isinstance(want, Wrong):
        return bool(found == want.args[0])
    if isinstance(want, str):
        return bool((found or "") == want) or _same_but_digits(found, want)
    if isinstance(want, bool) or isinstance(found, bool):
        return found is want
    return isinstance(found, (int, float)) and math.isclose(found, want, rel_tol=1e-11, abs_tol=1e-11)


def _same_but_digits(found: Any, want: str) -> bool:
    """Whether two texts that end in 1.5 begin with the same number: sums may differ in the last digit."""
    try:
        return math.isclose(float(found[:-3]), float(want[:-3]), rel_tol=1e-13)
    except (TypeError, ValueError):
        return False


def check(found: dict[str, Any], want: dict[str, Any], sheets: list[Sheet]) -> None:
    texts = {
        f"{s.name}!{letter}{row}": column.text(row)
        for s in sheets
        for letter, first, column in s.columns
        for row in range(first, s.rows + 1)
    }
    wrong = {a: (texts[a], found.get(a), want[a]) for a in texts if not same(found.get(a), want[a])}
    assert not wrong, wrong


SETTINGS = settings(
    max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@SETTINGS
@given(books(), st.sampled_from(["nothing", "stale", "right"]))
def test_every_cell_has_the_value_that_plain_python_computes(
    tmp_path_factory: pytest.TempPathFactory, sheets: list[Sheet], state: str
) -> None:
    want = expected(sheets)

    def stored(address: str) -> Any:
        value = want[address]
        if state == "nothing" or isinstance(value, Wrong):
            return NOTHING
        return value if state == "right" else 4321.0

    path = make(tmp_path_factory.mktemp("random") / "a.xlsx", as_cells(sheets, stored))
    # With stale values everywhere ordinary formulas apart from ours would be kept: refresh them too.
    found, outcome = refresh(path, everything=state == "stale")
    assert outcome.complete, outcome
    assert not outcome.disagreements
    check(found, want, sheets)


@SETTINGS
@given(books())
def test_column_by_column_gives_what_cell_by_cell_gives(
    tmp_path_factory: pytest.TempPathFactory, sheets: list[Sheet]
) -> None:
    path = make(tmp_path_factory.mktemp("random") / "a.xlsx", as_cells(sheets, lambda address: NOTHING))
    fast, outcome = refresh(path)
    slow, other = refresh(path, column_by_column=False)
    assert fast == slow
    assert [(f.sheet, f.cell, f.sentence) for f in outcome.failing] == [
        (f.sheet, f.cell, f.sentence) for f in other.failing
    ]


@settings(parent=SETTINGS, max_examples=40)
@given(books(), st.randoms(use_true_random=False))
def test_changing_an_input_refreshes_all_that_hangs_on_it(
    tmp_path_factory: pytest.TempPathFactory, sheets: list[Sheet], chance: random.Random
) -> None:
    before = expected(sheets)
    sheet = chance.choice(sheets)
    address = chance.choice(sorted(sheet.inputs))
    sheet.inputs[address] = 6.25

    def stored(cell_: str) -> Any:
        return NOTHING if isinstance(before[cell_], Wrong) else before[cell_]

    path = make(tmp_path_factory.mktemp("random") / "a.xlsx", as_cells(sheets, stored))
    found, outcome = refresh(path, everything=True)
    assert outcome.complete
    check(found, expected(sheets), sheets)
    assert values(path.with_name("a_out.xlsx")) == found


@pytest.mark.parametrize("rows", [600, 2500])
def test_long_sheets_have_the_values_that_plain_python_computes(tmp_path: Path, rows: int) -> None:
    chance = random.Random(rows)
    inputs_ = {f"{c}{r}": chance.choice([0.5, 2.0, 3.25, None, 7.0]) for c in "AB" for r in range(1, rows + 1)}
    sheet = Sheet("Dies", rows, inputs_)
    a, b = cell("Dies", "A", 0), cell("Dies", "B", 0)
    c, d, above = cell("Dies", "C", 0), cell("Dies", "D", 0), cell("Dies", "F", -1)
    columns = [
        guarded(ours(a, arithmetic("+", b, constant(1.0)), constant(1000.0))),
        arithmetic("+", guarded(a), constant(1.0)),
        joined(guarded(ours(d, constant(2.0), constant(500.0))), constant(1.5)),
        guarded(ours(arithmetic("+", above, constant(1.0)), constant(1.0), constant(999.5))),
        larger(guarded(c), total("Dies", "B", 1, True, 0, own=True)),
    ]
    for letter, term in zip("CDEFG", columns):
        first = 2 if letter == "F" else 1
        sheet.columns.append((letter, first, Column(term.text, term.value)))
    want = expected([sheet])
    path = make(tmp_path / "a.xlsx", as_cells([sheet], lambda address: 4321.0))
    found, outcome = refresh(path, everything=True)
    assert outcome.complete
    check(found, want, [sheet])
