"""The table of docs/recalc.md on what the engine computes otherwise: every row is computed, alone and here."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pressfuncs.batch import digits, doubts, odd_values
from pressfuncs.batch.book import Book, Run, Sheet
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import compute
from pressfuncs.batch.engine import Engine, Formualizer
from pressfuncs.batch.engine_formulon import Formulon
from pressfuncs.batch.formulas import parse
from pressfuncs.errors import CellError

PAGE = Path(__file__).parents[1].joinpath("docs", "recalc.md").read_text(encoding="utf-8")
SECTION = PAGE.partition("## What formualizer computes otherwise\n")[2].partition("\n## ")[0]
ROWS = re.findall(r"^\| `(.+?)` \| (.+?) \| (.+?) \|$", SECTION, re.MULTILINE)
COLUMNS: list[list[Any]] = [
    ["1,000", "TRUE"],
    [1.0, 2.0, 3.0],
    ["a", "b", "c"],
    [1.0, 2.0, 3.0],
    [4.0, 5.0, 6.0],
    [],
    [0.3, 0.30000000000000004],
    [CellError("#N/A"), 1.0],
    [True],
    ["ä-b"],
]


def value_of(text: str) -> Any:
    """Return the value that a cell of the table names in code marks."""
    text = text.strip("`")
    if text.startswith('"'):
        return text[1:-1]
    if text.startswith("#"):
        return CellError(text)
    return text == "TRUE" if text in ("TRUE", "FALSE") else float(text)


def answer(formula: str, new_engine: Callable[[], Engine] = Formualizer) -> Any:
    """Return what the batch mode gets for a formula beside the cells of the table; None where it is left."""
    values = {column: dict(enumerate(rows, 1)) for column, rows in enumerate(COLUMNS, 1)}
    sheet = Sheet("S", "", values, [Run("S", 30, 9, 9, parse(formula, 9, 30))])
    return compute(Book({"S": sheet}, {}, {}, False), new_engine, everything=True).values.get(("S", 9, 30))


def alone(formula: str) -> Any:
    """Return what the engine gets for a formula that is neither adapted nor doubted."""
    engine = Formualizer()
    engine.add_sheet("S")
    for column, rows in enumerate(COLUMNS, 1):
        engine.set_values("S", 1, column, rows)
    engine.set_formulas("S", 9, 30, [formula])
    engine.evaluate()
    return engine.values("S", 30, 9, 9)[0]


def test_the_table_is_there() -> None:
    assert len(ROWS) > 50


@pytest.mark.parametrize(("formula", "engine", "here"), ROWS, ids=[row[0] for row in ROWS])
def test_each_row_is_true(formula: str, engine: str, here: str) -> None:
    if engine.startswith("`"):
        assert equal(value_of(engine), alone(formula))
    found = answer(formula)
    if here.startswith("left"):
        assert found is None
    else:
        assert equal(value_of(here), found)


@pytest.mark.parametrize(("formula", "here"), [(row[0], row[2]) for row in ROWS if row[2].startswith("`")])
def test_the_second_engine_agrees_with_what_is_computed(formula: str, here: str) -> None:
    assert equal(value_of(here), answer(formula, Formulon))


def test_the_functions_that_are_always_left_are_listed() -> None:
    listed = SECTION.partition("These functions are always left")[2].partition("\n\n")[2].partition("\n\n")[0]
    assert listed.replace("\n", " ").split(", ") == sorted(doubts.NEVER)


def test_every_rule_has_a_row() -> None:
    """A rule, a guard or a stand-in that no row of the table shows is one that the page does not tell of."""
    shown = {name for row in ROWS for name in re.findall(r"[A-Z][A-Z.]*(?=\()", row[0])}
    left = {name for row in ROWS if row[2][:4] == "left" for name in re.findall(r"[A-Z][A-Z.]*(?=\()", row[0])}
    for rules in (doubts._RULES, odd_values._RULES):
        for rule in set(rules.values()):
            assert left & {name for name, other in rules.items() if other is rule}, rule
    assert set(digits._INSTEAD) <= shown
    for guard in {guard(place) for guard in digits._GUARDED.values() for place in range(3)} - {""}:
        assert any(
            guard in [made(place) for place in range(3)] for n, made in digits._GUARDED.items() if n in shown
        )
