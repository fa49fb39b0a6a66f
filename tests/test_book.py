"""Reading workbooks: filled-down columns as runs, stored values, what formulas hang on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from books import F, Made, Styled, make

from pressfuncs.batch.book import Book, Run, split_qualified
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.package import Package
from pressfuncs.errors import CellError


def read(tmp_path: Path, cells: dict[str, Any], made: Made | None = None, **sheets: dict[str, Any]) -> Book:
    with Package.open(make(tmp_path / "a.xlsx", {"Dies": cells, **sheets}, made)) as package:
        return read_book(package)


def spans(book: Book) -> list[tuple[int, int, int]]:
    return [(run.column, run.first, run.last) for run in book.runs]


@pytest.mark.parametrize(
    "text",
    [
        "B{r}*2",
        "Press!B{r}*2",
        "'Press'!B{r}*'Other sheet'!$C$1",
        "VLOOKUP(A{r},Press!$A:$C,2,0)",
        "SUM(B$1:B{r})",
        "SUM({r}:{r})",
        "b{r}+1",
        "PF_SHEARING_FORCE(B{r},C{r},$D$1)",
    ],
)
def test_a_filled_down_column_is_one_run(tmp_path: Path, text: str) -> None:
    cells = {f"E{r}": F(text.format(r=r), 1.0) for r in range(2, 40)}
    assert spans(read(tmp_path, cells, Made(external="x.xlsx"), Press={})) == [(5, 2, 39)]


def test_another_formula_or_a_gap_begins_another_run(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"E{r}": F(f"B{r}*2", 1.0) for r in range(2, 10)}
    cells |= {"E5": F("B5*3", 1.0), "E8": 4.0}
    assert spans(read(tmp_path, cells)) == [(5, 2, 4), (5, 5, 5), (5, 6, 7), (5, 9, 9)]


def test_shared_formulas_are_one_run_a_column(tmp_path: Path) -> None:
    cells: dict[str, Any] = {"C1": F("A1*2", 0.0, 't="shared" ref="C1:D4" si="0"')}
    cells |= {f"{c}{r}": F("", 0.0, 't="shared" si="0"') for c in "CD" for r in range(1, 5) if c + str(r) != "C1"}
    book = read(tmp_path, cells)
    assert sorted(spans(book)) == [(3, 1, 4), (4, 1, 4)]
    assert {run.template.bind(run.column)(2) for run in book.runs if run.template} == {"A2*2", "B2*2"}


def test_members_of_a_lost_or_unreadable_shared_formula_are_frozen(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "C1": F("", 0.0, 't="shared" si="9"'),
        "D1": F("[1]Other!A1+E1", 0.0, 't="shared" ref="D1:D2" si="1"'),
        "D2": F("", 0.0, 't="shared" si="1"'),
    }
    lost, unreadable = read(tmp_path, cells, Made(external="x.xlsx")).runs
    assert "another cell that is missing" in lost.frozen
    assert (unreadable.first, unreadable.last, unreadable.frozen) == (1, 2, "it refers to another workbook")
    assert unreadable.template is not None
    assert unreadable.template.refs


def test_values_are_read_by_their_kind(tmp_path: Path) -> None:
    kept = {
        "A1": 1.5,
        "A2": "text _x000D_",
        "A3": True,
        "A4": CellError("#N/A"),
        "A5": F("1", "a & b"),
        "A6": None,
    }
    sheet = read(tmp_path, kept).sheets["Dies"]
    assert [sheet.value(row, 1) for row in range(1, 8)] == [
        1.5,
        "text \r",
        True,
        CellError("#N/A"),
        "a & b",
        None,
        None,
    ]


def test_dates_are_told_by_their_style(tmp_path: Path) -> None:
    sheet = read(tmp_path, {"A1": Styled(1.0, 1), "A2": Styled(1.0, 2), "A3": Styled(F("1", 1.0), 1)}).sheets[
        "Dies"
    ]
    assert sheet.dates == {(1, 1), (3, 1)}


def test_arrays_have_an_area_and_data_tables_what_they_hang_on(tmp_path: Path) -> None:
    cells: dict[str, Any] = {
        "B2": F("C2:C4*2", 1.0, 't="array" ref="B2:B4"', 'cm="1"'),
        "E2": F("", 1.0, 't="dataTable" ref="E2:F3" dt2D="1" r1="A1" r2="A2"'),
    }
    array, table = read(tmp_path, cells).runs
    assert (array.area, array.dynamic) == ((2, 2, 4, 2), True)
    assert (table.area, table.frozen) == ((2, 5, 3, 6), "it is a data table")
    assert table.template is not None
    found = {ref.rectangle(2, 5) for ref in table.template.refs}
    assert found == {(1, 4, 1, 6), (1, 4, 3, 4), (1, 1, 1, 1), (2, 1, 2, 1)}


def test_hidden_rows_are_noticed(tmp_path: Path) -> None:
    assert not read(tmp_path, {"A1": 1.0}).sheets["Dies"].hidden_rows
    assert read(tmp_path, {"A1": 1.0}, Made(rows='hidden="1"')).sheets["Dies"].hidden_rows


def test_names_and_tables_are_found_in_any_letter_case(tmp_path: Path) -> None:
    made = Made(
        names=[("Tau", "Dies!$A$1"), ("tau", "Press!$A$1", 1)],
        tables={"tDies+totals": ("Dies", "A1:B4", ["L", "T x"])},
    )
    book = read(tmp_path, {"A1": "L", "B1": "T x"}, made, Press={})
    assert book.names == {(None, "tau"): "Dies!$A$1", ("Press", "tau"): "Press!$A$1"}
    assert book.tables["tdies"].columns == {"l": 1, "t x": 2}
    assert book.tables["tdies"].data_rows == (2, 3)
    found = book.sheet("DIES")
    assert found is not None
    assert found.name == "Dies"


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("tau", (None, "tau")),
        ("Dies!tau", ("Dies", "tau")),
        ("'a''b'!tau", ("a'b", "tau")),
        ("a:b!A1", ("a:b", "A1")),
    ],
)
def test_qualified_names_are_split(text: str, parts: tuple[str | None, str]) -> None:
    assert split_qualified(text) == parts


def test_a_part_of_a_run_is_a_run() -> None:
    run = Run("Dies", 3, 2, 9, None)
    part = run.part(4, 5)
    assert list(part.cells()) == [("Dies", 4, 3), ("Dies", 5, 3)]
    assert list(run.rows) == list(range(2, 10))
