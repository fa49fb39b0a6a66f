"""The comparison of engines: of every kind of book, of large ones in part, and within bounds of time."""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path
from typing import Any

import pytest
from books import F, make
from click.testing import CliRunner
from misled_engine import mislead

from pressfuncs.batch import crosscheck, engine_formulon, office
from pressfuncs.batch.closure import Budget
from pressfuncs.batch.crosscheck import Crossed
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.cli.app import main

OURS = F("PF_SHEARING_FORCE(A1,1,1000)", 1.0)


@pytest.fixture
def no_office(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(office, "program", lambda: None)


def cross(path: Path) -> Crossed:
    crossed = recalculate(path, None, Options(cross_check=True, second_engine=False)).crossed
    assert crossed is not None
    return crossed


def columns(rows: int) -> dict[str, Any]:
    cells: dict[str, Any] = {}
    for row in range(1, rows + 1):
        cells |= {f"A{row}": 100.0 + row, f"B{row}": F(f"PF_SHEARING_FORCE(A{row},1,1000)", 1.0)}
        cells |= {f"C{row}": F(f"MAX(B{row},A{row}/2)", 1.0), f"D{row}": F(f"C{row}+D$1*0+ROUND(A{row},0)", 1.0)}
    return cells | {"D1": F("C1", 1.0)}


@pytest.mark.usefixtures("no_office")
def test_differences_are_counted_by_function(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": columns(5)})
    crossed = cross(path)
    assert (crossed.compared, crossed.agreed, crossed.functions) == (10, 10, {})
    mislead(monkeypatch, "MAX(", "MIN(")
    crossed = cross(path)
    assert crossed.compared == 10
    assert crossed.functions["MAX"] == (5, 5)
    assert crossed.functions["ROUND"] == (4, 4)  # they pass the difference on
    assert {d.functions for d in crossed.differences} == {("MAX",), ("ROUND",), ()}
    said = CliRunner().invoke(main, ["recalc", str(path), "--check", "--cross-check", "--one-engine"]).stdout
    assert "by function: formulas that differ, of those compared (2):" in said
    assert "    MAX  5 of 5\n" in said
    assert "Dies!C1  formualizer 101, formulon 50.5  (MAX)" in said


@pytest.mark.usefixtures("no_office")
def test_of_a_large_book_some_rows_of_every_column_are_compared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = 60
    path = make(tmp_path / "a.xlsx", {"Dies": columns(rows)})
    monkeypatch.setattr(crosscheck, "BUDGET", Budget(cells=3 * rows))
    crossed = cross(path)
    assert 12 <= crossed.compared == crossed.agreed <= 30
    assert crossed.remarks[0] == (
        f"formulon was given {crossed.compared} of {2 * rows} ordinary formulas, some of every column: the book"
        f" holds more than {3 * rows} cells"
    )
    mislead(monkeypatch, "MAX(", "MIN(")
    crossed = cross(path)
    differing, compared = crossed.functions["MAX"]
    assert 3 < differing == compared <= 10
    assert {"C1", f"C{rows}"} <= {d.cell for d in crossed.differences}  # the first row and the last


@pytest.mark.usefixtures("no_office")
def test_what_changes_with_time_and_chance_is_not_compared(tmp_path: Path) -> None:
    cells = {"A1": 100.0, "B1": OURS, "C1": F("RAND()", 0.5), "C2": F("C1*B1", 1.0), "C3": F("B1*2", 1.0)}
    crossed = cross(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert (crossed.compared, crossed.agreed) == (1, 1)
    assert "2 formulas that hang on TODAY, NOW or RAND are not compared" in crossed.remarks


@pytest.mark.usefixtures("no_office")
def test_an_engine_that_takes_too_long_or_fails_is_left_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": columns(3)})
    monkeypatch.setattr(crosscheck, "SECONDS", 0.0)
    crossed = cross(path)
    assert crossed.engines == ["formualizer"]
    assert crossed.remarks[0] == "formulon was stopped after 0 s"
    monkeypatch.setattr(engine_formulon, "installed", lambda: False)
    assert cross(path).remarks[0] == "formulon is not installed: pip install 'pressfuncs[check]'"


def test_an_office_that_takes_too_long_is_ended_with_all_its_processes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(office, "_SECONDS", 0.5)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    crossed = cross(make(tmp_path / "a.xlsx", {"Dies": columns(3)}))
    assert crossed.engines == ["formualizer", "formulon"]
    assert crossed.remarks == ["LibreOffice could not compute it (it was not done within 0.5 s)"]
    running = subprocess.run(["ps", "-eo", "args"], capture_output=True, text=True, check=True).stdout
    assert not [line for line in running.splitlines() if "soffice" in line and str(tmp_path) in line]
