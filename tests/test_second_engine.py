"""The second engine gets what the open formulas rest on, and settles them as if it had the whole workbook."""

from __future__ import annotations

import json
import random
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from books import NOTHING, F, Made, force, make, refresh
from click.testing import CliRunner
from misled_engine import mislead

from pressfuncs.batch import engine_formulon, second
from pressfuncs.batch.book import Book
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.closure import Budget, Cells, Closure
from pressfuncs.batch.compute import Computed, compute
from pressfuncs.batch.engine import Formualizer
from pressfuncs.batch.engine_formulon import Formulon
from pressfuncs.batch.normalise import normalise_runs
from pressfuncs.batch.package import Package
from pressfuncs.batch.recalc import new_engine
from pressfuncs.cli.app import main

ROWS = 100_000
WRONG = 7.25


def read(path: Path) -> Book:
    with Package.open(path) as package:
        return read_book(package)


def computed(book: Book, everything: bool = False) -> Computed:
    return compute(book, lambda: new_engine(book), everything, True, True)


def register(rows: int) -> dict[str, Any]:
    """Return the cells of a register of which nothing is up to date: inputs in A to C, results in D and E."""
    cells: dict[str, Any] = {
        "A1": "length",
        "B1": "thickness",
        "C1": "strength",
        "D1": "force",
        "E1": "with reserve",
    }
    for row in range(2, rows + 2):
        cells |= {f"A{row}": 100.0 + row % 50, f"B{row}": 2.0, f"C{row}": 300.0}
        cells[f"D{row}"] = F(f"PF_SHEARING_FORCE(A{row},B{row},C{row})", 1.0)
        cells[f"E{row}"] = F(f"D{row}*1.25", 1.0)
    return cells


OPEN = {
    "G1": F("FIXED(D7,2)", "old"),
    "G2": F("PF_REQUIRED_CAPACITY(NUMBERVALUE(G1),0.8)", 1.0),
    "G3": F('G1&" kN"', "old"),
    "G4": F('PROPER("die no ")&E9', "old"),
    "G5": F("FIXED(A5,1)", "105.0"),
}


def test_five_open_formulas_of_a_large_register_are_settled_with_few_cells(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = 0
    set_values, set_formulas = Formulon.set_values, Formulon.set_formulas

    def values(self: Formulon, sheet: str, row: int, column: int, new: list[Any]) -> None:
        nonlocal given
        given += len(new)
        set_values(self, sheet, row, column, new)

    def formulas(self: Formulon, sheet: str, row: int, column: int, new: list[str]) -> None:
        nonlocal given
        given += len(new)
        set_formulas(self, sheet, row, column, new)

    monkeypatch.setattr(Formulon, "set_values", values)
    monkeypatch.setattr(Formulon, "set_formulas", formulas)
    path = make(tmp_path / "large.xlsx", {"Dies": register(ROWS) | OPEN})
    found, outcome = refresh(path, second_engine=True)
    assert outcome.complete
    assert (outcome.settled, outcome.unasked) == (4, "")
    want = force(107, 2, 300)
    assert found["Dies!G1"] == f"{want:.2f}"
    assert found["Dies!G2"] == pytest.approx(want / 0.8)
    assert found["Dies!G3"] == f"{want:.2f} kN"
    assert found["Dies!G4"] == f"Die No {force(109, 2, 300) * 1.25:g}"
    assert len(outcome.changes) == 2 * ROWS + 4
    assert given < 100


def test_of_what_a_long_sum_rests_on_only_some_rows_are_checked(tmp_path: Path) -> None:
    rows = 1000
    path = make(tmp_path / "a.xlsx", {"Dies": register(rows) | {"G1": F(f"FIXED(SUM(E2:E{rows + 1}),1)", "old")}})
    book = read(path)
    first = computed(book)
    runs = normalise_runs(book)
    closure = Closure(book, runs, Budget(checked=100))
    closure.ask([("Dies", 1, 7)])
    closure.check()
    part = closure.book_of(first.values, {("Dies", 1, 7)})
    held = part.sheets["Dies"]
    formulas = [cell for run in part.runs for cell in run.cells()]
    assert ("Dies", 1, 7) in formulas
    assert 10 < len(formulas) <= 101
    assert len(held.values[5]) == rows
    assert held.values[5][5] == pytest.approx(force(105, 2, 300) * 1.25)
    assert held.value(1, 7) is None
    asked = second.ask(book, first, Formulon, False, Budget(checked=100))
    assert asked == second.Asked(1)
    total = sum(force(100 + row % 50, 2, 300) * 1.25 for row in range(2, rows + 2))
    assert first.values["Dies", 1, 7] == f"{total:,.1f}"


def test_engines_that_differ_above_leave_the_formula_frozen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check of what a formula rests on is a real one, and reaches through several columns."""
    cells = {"A1": 100.0, "B1": F("PF_SHEARING_FORCE(A1,1,1000)", 1.0), "C1": F("MIN(B1,B1*2)", 1.0)}
    cells |= {"D1": F("C1*3", 1.0), "E1": F("FIXED(D1,1)", "old"), "F1": F("FIXED(B1,1)", "old")}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    _, outcome = refresh(path, second_engine=True)
    assert outcome.complete
    mislead(monkeypatch, "MIN(", "MAX(")
    found, outcome = refresh(path, second_engine=True)
    assert [f.cell for f in outcome.frozen] == ["E1"]
    assert outcome.frozen[0].reason.endswith("; the engines differ on what it rests on")
    assert (found["Dies!E1"], found["Dies!F1"]) == ("old", "100.0")  # nothing that F1 rests on is doubtful


def test_what_differs_in_one_row_is_doubted_in_the_whole_column(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only some rows are checked, so that one of them speaks for all."""
    cells = register(40) | {f"E{row}": F(f"IF(A{row}=103,MIN(D{row},0),D{row})", 1.0) for row in range(2, 42)}
    cells |= {
        "G1": F("FIXED(SUM(E2:E41),1)", "old"),
        "G2": F("FIXED(E30,1)", "old"),
        "G3": F("FIXED(D9,1)", "old"),
    }
    mislead(monkeypatch, "MIN(", "MAX(")
    _, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}), second_engine=True)
    assert [f.cell for f in outcome.frozen] == ["G1", "G2"]


def test_one_function_that_nobody_knows_costs_the_others_nothing(tmp_path: Path) -> None:
    """An error in place of a stored value is not believed, but for one that is passed on."""
    cells = {
        "A1": 100.0,
        "B1": F("PF_SHEARING_FORCE(A1,1,1000)", 1.0),
        "B2": F("PF_SHEARING_FORCE(0,1,1000)", 1.0),
        "C1": F("NOSUCH(B1)", "kept"),
        "C2": F('FIXED(B1+1,1)&""', "old"),
        "C3": F("FIXED(B2,1)", "old"),
        "C4": F('NUMBERVALUE("no number"&B1)', "kept"),
        "C5": F("PF_REQUIRED_CAPACITY(C4,0.8)", 1.0),
    }
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}), second_engine=True)
    assert [f.cell for f in outcome.frozen] == ["C1", "C4"]
    assert outcome.frozen[1].reason.endswith("gets an error where a value is stored")
    assert outcome.not_refreshed == [("Dies", "C5")]
    assert (found["Dies!C2"], found["Dies!C3"]) == ("101.0", "#NUM!")
    assert found["Dies!C1"] == found["Dies!C4"] == "kept"


def test_what_the_second_engine_confirms_is_not_frozen(tmp_path: Path) -> None:
    """An ordinary formula that a PF cell hangs on, and for which both the file and the engine have one value."""
    cells = {
        "A1": 100.0,
        "B1": F('XLOOKUP(90,A1:A1,A1:A1,"",1)', 100.0),
        "C1": F("PF_SHEARING_FORCE(B1,1,1000)", 1.0),
        "B2": F("A1+NOSUCH", 100.0),
        "C2": F("PF_SHEARING_FORCE(B2,1,1000)", 1.0),
    }
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    found, outcome = refresh(path, second_engine=True)
    assert found["Dies!C1"] == 100
    assert [f.cell for f in outcome.frozen] == ["B2"]
    assert outcome.not_refreshed == [("Dies", "C2")]
    assert found["Dies!C2"] == 1


def test_what_is_taken_rests_on_stored_values_where_formulas_differ(tmp_path: Path) -> None:
    """The stored value of B1 is kept, and used: by formulas that only the second engine computes, too."""
    cells = {"A1": 100.0, "B1": F("A1*2", WRONG), "C1": F("PF_SHEARING_FORCE(A1,1,1000)", 1.0)}
    cells |= {"D1": F("FIXED(B1+C1,2)"), "D2": F("B1+VALUE(D1)", 1.0), "D3": F("FIXED(SUM(B1:C1),1)", "old")}
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}), second_engine=True)
    assert [d.cell for d in outcome.disagreements] == ["B1"]
    assert outcome.complete
    assert (found["Dies!D1"], found["Dies!D2"], found["Dies!D3"]) == ("107.25", 114.5, "107.3")


def test_a_frozen_array_is_taken_with_all_its_cells(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"A{row}": 100.0 * row for row in (1, 2, 3)}
    cells |= {f"B{row}": F(f"PF_SHEARING_FORCE(A{row},1,1000)", 1.0) for row in (1, 2, 3)}
    cells |= {"C1": F("MMULT(B1:B3,A1:A1/100)", 1.0, 't="array" ref="C1:C3"'), "C2": 1.0, "C3": 1.0}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    found, outcome = refresh(path, second_engine=True)
    assert outcome.complete, outcome.frozen
    assert [found[f"Dies!C{row}"] for row in (1, 2, 3)] == [100, 200, 300]


def test_results_rest_only_on_differences_that_remain(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of two differences one is settled, and with it the warning about what depends on it."""
    cells = {
        "A1": 2.0,
        "B1": F("SUMSQ(A1)", 4.0),
        "B2": F("A1*9", WRONG),
        "C1": F("PF_SHEARING_FORCE(B1,1,1000)", 4.0),
        "C2": F("PF_SHEARING_FORCE(B2,1,1000)", WRONG),
    }
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    mislead(monkeypatch, "SUMSQ(", "SUM(", Formualizer)
    _, alone = refresh(path)
    assert alone.resting == [("Dies", "C1"), ("Dies", "C2")]
    _, both = refresh(path, second_engine=True)
    assert [d.cell for d in both.disagreements] == ["B2"]
    assert both.resting == [("Dies", "C2")]
    assert both.settled == 1


def test_the_report_says_what_the_second_engine_was_not_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": register(30) | {"G1": F("FIXED(SUM(D2:D31),1)", "old")}})
    monkeypatch.setattr(second, "BUDGET", Budget(cells=20))
    words = (
        "the second engine, formulon, gave no answer about 1 formula: more than 20 cells would have to be computed"
    )
    done = CliRunner().invoke(main, ["recalc", str(path), "--check"])
    assert words in done.stdout
    done = CliRunner().invoke(main, ["recalc", str(path), "--check", "--json"])
    assert json.loads(done.stdout)["files"][0]["unasked"] == words
    assert json.loads(done.stdout)["files"][0]["complete"] is False
    monkeypatch.setattr(engine_formulon, "installed", lambda: False)
    done = CliRunner().invoke(main, ["recalc", str(path), "--check"])
    assert "is not installed (pip install 'pressfuncs[check]')" in done.stdout
    done = CliRunner().invoke(main, ["recalc", str(path), "--check", "--one-engine"])
    assert "formulon" not in done.stdout


def test_the_second_engine_is_stopped_in_time(tmp_path: Path) -> None:
    book = read(make(tmp_path / "a.xlsx", {"Dies": register(10) | OPEN}))
    first = computed(book)
    before = deepcopy(first)
    asked = second.ask(book, first, Formulon, False, seconds=0)
    assert asked.settled == 0
    assert asked.sentence.endswith("gave no answer about 3 formulas: its time was over")
    assert first == before


def test_an_engine_that_fails_costs_nothing_but_its_opinion(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": register(3) | {"G1": F("FIXED(D2,2)", "old")}})
    _, outcome = refresh(path, second_engine=True)
    assert (outcome.settled, outcome.unasked) == (1, "")

    def fail(self: Formulon) -> None:
        raise RuntimeError("a trap")

    monkeypatch.setattr(Formulon, "evaluate", fail)
    found, outcome = refresh(path, second_engine=True)
    assert (outcome.settled, len(outcome.frozen)) == (0, 1)
    assert outcome.unasked.endswith("gave no answer about 1 formula: it failed")
    assert found["Dies!D2"] == pytest.approx(force(102, 2, 300))


def test_a_bound_on_memory_costs_the_opinion_and_not_the_book(tmp_path: Path) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": register(3) | {"G1": F("FIXED(D2,2)", "old")}})
    for memory, words in ((256, "too little memory is left; raise --memory"), (1024, "1 formula settled by")):
        done = CliRunner().invoke(main, ["recalc", str(path), "--check", "--memory", str(memory)])
        assert words in done.stdout
        assert "6 stored results" in done.stdout or "7 stored results" in done.stdout


def test_computed_references_get_the_whole_workbook_or_nothing(tmp_path: Path) -> None:
    """INDIRECT may lead anywhere, so that no part of a workbook is enough."""
    cells = register(5) | {"G1": F('FIXED(INDIRECT("D"&(1+1)),1)', "1.0"), "G2": F("FIXED(D3,1)", "old")}
    book = read(make(tmp_path / "a.xlsx", {"Dies": cells}))
    first = computed(book)
    small = deepcopy(first)
    asked = second.ask(book, first, Formulon, False)
    assert asked == second.Asked(2)
    assert first.values["Dies", 1, 7] == f"{force(102, 2, 300):.1f}"
    asked = second.ask(book, small, Formulon, False, Budget(cells=20))
    assert (asked.settled, asked.left) == (1, 1)
    assert asked.why.endswith("to any cell")
    assert small.values["Dies", 2, 7] == f"{force(103, 2, 300):.1f}"
    assert [cell for cell, _ in small.frozen] == [("Dies", 1, 7)]
    assert small.not_refreshed == []


def test_a_running_total_is_followed_to_its_start(tmp_path: Path) -> None:
    """Thousands of rows, each resting on the one above, are found at once and not one by one."""
    rows = 3000
    cells = register(rows) | {"F2": F("D2", 1.0)}
    cells |= {f"F{row}": F(f"F{row - 1}+D{row}", 1.0) for row in range(3, rows + 2)}
    cells["G1"] = F(f"FIXED(F{rows + 1},1)", "old")
    book = read(make(tmp_path / "a.xlsx", {"Dies": cells}))
    closure = Closure(book, normalise_runs(book), Budget(steps=100))
    closure.ask([("Dies", 1, 7)])
    closure.check()
    for cell in (("Dies", rows + 1, 6), ("Dies", 2, 6), ("Dies", 2, 4)):
        assert cell in closure.cells()


def test_cells_are_found_in_stretches() -> None:
    cells = Cells([(("A", 1), (5, 9)), (("A", 1), (1, 2)), (("A", 1), (8, 12)), (("B", 2), (3, 3))])
    rows = [row for row in range(15) if ("A", row, 1) in cells]
    assert rows == [1, 2, *range(5, 13)]
    assert ("B", 3, 2) in cells
    assert ("A", 3, 2) not in cells


# Random workbooks: the part gives what the whole gives

ORDINARY = (
    *("{c}{r}*2", "{c}{r}+{d}{r}", "SUM({c}$2:{c}{r})", "MAX({c}2:{d}{last})", "IF({c}{r}>200,{c}{r},{d}{r})"),
    *("ROUND({c}{r},1)", "Other!B{r}+{c}{r}", "rate*{c}{r}", "IFERROR({c}{r}/0,{d}{r})", "SUM({c}:{c})"),
)
LOST = (
    *("FIXED({c}{r},1)", "VALUE(FIXED({c}{r},2,TRUE))", 'PROPER("x"&{c}{r})', "NUMBERVALUE(FIXED({c}{r}))"),
    *("NOSUCH({c}{r})", "FIXED(SUM({c}2:{c}{last}),1)"),
)
OURS = (
    *("PF_SHEARING_FORCE({c}{r},2,300)", "PF_REQUIRED_CAPACITY({c}{r},0.8)+{d}{r}"),
    *("PF_SHEARING_FORCE(VALUE(FIXED({c}{r},1,TRUE)),2,300)", "MAX({c}{r},PF_SHEARING_FORCE({d}{r},1,100))"),
)


def random_book(rng: random.Random, path: Path) -> Book:
    """Make columns of formulas that hang on columns to their left, some out of date, some never stored."""
    rows = rng.randint(2, 9)
    letters = "ABCDEFGHIJKL"
    cells: dict[str, Any] = {f"{c}{r}": 50.0 + 10 * rng.randint(0, 9) for c in "AB" for r in range(2, rows + 2)}
    other: dict[str, Any] = {f"A{r}": 1.0 * r for r in range(2, rows + 2)}
    tidy = rng.random() < 0.5  # ordinary formulas store nothing, so that none differs from what it stores
    other |= {f"B{r}": F(f"A{r}*Dies!A{r}", NOTHING if tidy else WRONG) for r in range(2, rows + 2)}
    for i in range(2, len(letters)):
        kind = rng.choices([ORDINARY, LOST, OURS], [5, 2, 3])[0]
        text, stored = rng.choice(kind), rng.choice([WRONG, WRONG, "old", NOTHING])
        stored = NOTHING if tidy and kind is ORDINARY else stored
        for r in range(2, rows + 2):
            if rng.random() < 0.1:
                text = rng.choice(kind)
            if r == 2:
                c, d = rng.choice(letters[max(0, i - 4) : i]), rng.choice(letters[:i])
            cells[f"{letters[i]}{r}"] = F(text.format(c=c, d=d, r=r, last=rows + 1), stored)
    return read(make(path, {"Dies": cells, "Other": other}, Made(names=[("rate", "Other!$A$2/10")])))


def told(found: Computed) -> tuple[Any, ...]:
    """Return what is said and written, in any order."""
    values = {cell: round(v, 9) if isinstance(v, float) else v for cell, v in found.values.items()}
    differing = sorted(one.cell for one in found.disagreements)
    return values, sorted(found.frozen), sorted(found.not_refreshed), sorted(found.resting), differing


@pytest.mark.parametrize("everything", [False, True])
def test_a_part_of_a_workbook_settles_what_the_whole_settles(tmp_path: Path, everything: bool) -> None:
    rng = random.Random(20 + everything)
    settled = kept = same = 0
    for number in range(40):
        book = random_book(rng, tmp_path / f"{number}.xlsx")
        first = computed(book, everything)
        by_whole, by_part, by_sample = deepcopy(first), deepcopy(first), deepcopy(first)
        whole = second.ask(book, by_whole, Formulon, everything, whole=True)
        part = second.ask(book, by_part, Formulon, everything)
        assert by_part.disagreements == by_whole.disagreements, number
        if not first.disagreements:  # with some, only the part lets everything rest on what the file stores
            same += 1
            assert part == whole, number
            assert told(by_part) == told(by_whole), number
        sample = second.ask(book, by_sample, Formulon, everything, Budget(checked=0))
        assert sample.settled >= part.settled, number  # what is not checked is not found to differ
        if sample == part:
            assert told(by_sample)[0] == told(by_part)[0], number
        settled += part.settled
        kept += len(by_part.frozen)
    assert same > 10
    assert settled > 50
    assert kept > 50
