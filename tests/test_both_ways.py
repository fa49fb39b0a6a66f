"""The proof that a run may ask for: columns at once and cells one by one give the same results."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from books import F, make
from click.testing import CliRunner

from pressfuncs.batch import array_expressions
from pressfuncs.batch.both_ways import Difference
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.report import FileResult, Wanted, digest
from pressfuncs.cli import main

OPTIONS = Options(second_engine=False, both_ways=True)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    cells: dict[str, Any] = {}
    for row in range(1, 31):
        cells |= {f"A{row}": 100.0 + row, f"B{row}": 2.0 if row % 7 else "2,5"}
        cells[f"C{row}"] = F(f"PF_SHEARING_FORCE(A{row},B{row},310)")
        cells[f"D{row}"] = F(f'IF(C{row}>63,"press 1",A{row}*2)')
    return make(tmp_path / "a.xlsx", {"Dies": cells})


def test_both_ways_agree_and_the_report_says_so(book: Path) -> None:
    outcome = recalculate(book, None, OPTIONS)
    assert outcome.ways is not None
    assert (outcome.ways.results, outcome.ways.differences) == (60, [])
    done = CliRunner().invoke(main, ["recalc", str(book), "--check", "--both-ways"])
    assert done.exit_code == 3
    assert "column by column and cell by cell: 60 results, all the same" in done.output


def test_a_difference_is_listed_in_every_report_and_the_run_fails(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(array_expressions._COMPARISONS, ">", np.less)  # a fault in the way by columns
    outcome = recalculate(book, None, OPTIONS)
    assert outcome.ways is not None
    found = outcome.ways.differences
    assert Difference("Dies", "D1", "press 1", 202.0) in found
    assert [d.cell for d in found] == [f"D{row}" for row in range(1, 31) if row % 7]
    said = digest(FileResult(book, outcome), Wanted(check=True))
    assert not said.complete
    assert any("RESULTS THAT DIFFER" in line for line in said.lines)
    assert any('Dies!D1  by columns "press 1", by cells 202' in line for line in said.lines)
    listed = json.loads(digest(FileResult(book, outcome), Wanted(as_json=True)).json)["both_ways"]
    assert listed["results"] == 60
    assert listed["differences"][0] == {"sheet": "Dies", "cell": "D1", "by_columns": "press 1", "by_cells": 202.0}


def test_the_two_switches_are_not_given_together(book: Path) -> None:
    done = CliRunner().invoke(main, ["recalc", str(book), "--check", "--both-ways", "--cell-by-cell"])
    assert done.exit_code == 2
    assert "leave --cell-by-cell out" in done.output
