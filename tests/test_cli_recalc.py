"""`pressfuncs recalc` as people and programs call it, on real files."""

from __future__ import annotations

import csv
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from books import F, Made, make, values
from click.testing import CliRunner, Result
from parts import fingerprint

from pressfuncs.batch.report import CAUTION, CSV_COLUMNS
from pressfuncs.cli.app import main
from pressfuncs.cli.recalc import STALE

STALE_CELLS: dict[str, Any] = {"A1": 100.0, "B1": F("PF_SHEARING_FORCE(A1,1,1000)", 1.0), "C1": F("B1*2", 2.0)}
FRESH_CELLS: dict[str, Any] = {"A1": 100.0, "B1": F("PF_SHEARING_FORCE(A1,1,1000)", 100.0)}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["recalc", *map(str, arguments)])


def book(path: Path, cells: dict[str, Any] | None = None, **made: Any) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    return make(path, {"Dies": STALE_CELLS if cells is None else cells}, Made(**made))


def test_in_place_refreshes_the_book_and_keeps_its_mode(tmp_path: Path) -> None:
    path = book(tmp_path / "a.xlsx")
    path.chmod(0o640)
    result = run(path, "--in-place")
    assert result.exit_code == 0
    assert values(path) == {"Dies!A1": 100, "Dies!B1": 100, "Dies!C1": 200}
    assert path.stat().st_mode & 0o777 == 0o640
    assert "2 stored results refreshed" in result.stdout
    assert CAUTION in result.stdout
    assert run(path, "--in-place").stdout.startswith(f"{path}: already up to date")


def test_a_check_exits_3_on_stale_results_and_touches_nothing(tmp_path: Path) -> None:
    path, fresh = book(tmp_path / "a.xlsx"), book(tmp_path / "b.xlsx", FRESH_CELLS)
    before = fingerprint(path)
    result = run(path, "--check")
    assert result.exit_code == STALE == 3
    assert "2 stored results out of date" in result.stdout
    assert fingerprint(path) == before
    assert run(fresh, "--check").exit_code == 0
    assert run(path, fresh, "--check").exit_code == 3


def test_output_goes_to_a_file_or_into_a_folder(tmp_path: Path) -> None:
    path = book(tmp_path / "a.xlsx")
    before = fingerprint(path)
    assert run(path, "-o", tmp_path / "out.xlsx").exit_code == 0
    assert values(tmp_path / "out.xlsx")["Dies!B1"] == 100
    (tmp_path / "folder").mkdir()
    assert run(path, "-o", tmp_path / "folder").exit_code == 0
    assert (tmp_path / "folder" / "a.xlsx").exists()
    assert fingerprint(path) == before


@pytest.mark.parametrize("name", ["a.xlsx", "./a.xlsx", "link.xlsx"])
def test_output_onto_the_book_itself_is_refused(tmp_path: Path, name: str) -> None:
    path = book(tmp_path / "a.xlsx")
    (tmp_path / "link.xlsx").symlink_to(path)
    before = fingerprint(path)
    result = run(path, "-o", tmp_path / name)
    assert result.exit_code == 2
    assert "--in-place" in result.stderr
    assert fingerprint(path) == before


def test_a_copy_under_the_name_of_another_format_is_refused(tmp_path: Path) -> None:
    path = book(tmp_path / "a.xlsx")
    for name in ("out.xlsm", "out.csv", "out"):
        done = run(path, "-o", tmp_path / name)
        assert done.exit_code == 2
        assert "the copy of a.xlsx is an .xlsx too" in done.output
    assert [path.name for path in tmp_path.iterdir()] == ["a.xlsx"]


def test_several_books_are_not_written_into_one_file(tmp_path: Path) -> None:
    out = tmp_path / "out.xlsx"
    out.write_text("mine")
    done = run(book(tmp_path / "a.xlsx"), book(tmp_path / "b.xlsx"), "-o", out)
    assert done.exit_code == 2
    assert "-o must be a folder for several books" in done.output
    assert out.read_text() == "mine"


def test_a_link_and_its_book_are_one_book_in_place(tmp_path: Path) -> None:
    path = book(tmp_path / "b.xlsx")
    (tmp_path / "a.xlsx").symlink_to(path)
    (tmp_path / "c.xlsx").symlink_to(path)
    done = run(tmp_path, "--in-place")
    assert done.exit_code == 0, done.output
    assert "a.xlsx: 2 stored results refreshed" in done.output
    assert "b.xlsx" not in done.output
    assert values(path)["Dies!B1"] == 100


def test_a_closed_output_is_no_fault(tmp_path: Path) -> None:
    command = f"{sys.executable} -m pressfuncs recalc {book(tmp_path / 'a.xlsx')} --check >&-"
    done = subprocess.run(command, shell=True, stderr=subprocess.PIPE, text=True)
    assert (done.returncode, done.stderr) == (3, "")


@pytest.mark.parametrize("given", [[], ["--check", "--in-place"], ["--check", "-o", "x.xlsx"]])
def test_one_way_of_writing_must_be_said(tmp_path: Path, given: list[str]) -> None:
    path = book(tmp_path / "a.xlsx")
    result = run(path, *given)
    assert result.exit_code == 2
    assert "one of" in result.stderr


def test_a_frozen_cell_ends_with_1_and_the_rest_is_refreshed(tmp_path: Path) -> None:
    cells = STALE_CELLS | {"D1": F("GETPIVOTDATA(A1,A2)*B1", 5.0), "E1": F("D1+1", 6.0)}
    path = book(tmp_path / "a.xlsx", cells)
    result = run(path, "--in-place")
    assert result.exit_code == 1
    assert "Dies!D1  the engine does not have the function GETPIVOTDATA" in result.stdout
    assert "Dies!E1" in result.stdout
    assert values(path) == {"Dies!A1": 100, "Dies!B1": 100, "Dies!C1": 200, "Dies!D1": 5, "Dies!E1": 6}


def test_strict_ends_with_1_on_what_differs(tmp_path: Path) -> None:
    path = book(tmp_path / "a.xlsx", FRESH_CELLS | {"D1": F("A1*2", 7.0)})
    assert run(path, "--check").exit_code == 0
    result = run(path, "--check", "--strict")
    assert result.exit_code == 1
    assert "Dies!D1  stored 7, computed 200" in result.stdout
    assert run(path, "--in-place", "--all").exit_code == 0
    assert values(path)["Dies!D1"] == 200


def test_results_that_rest_on_a_difference_are_named_with_their_number(tmp_path: Path) -> None:
    """B1 stores 7 where the engine gets 200: what hangs on it, directly or through C1, may be wrong."""
    cells: dict[str, Any] = {
        "A1": 100.0,
        "B1": F("A1*2", 7.0),
        "C1": F("B1+1", 8.0),
        "D1": F("PF_SHEARING_FORCE(B1,1,1000)", 7.0),
        "D2": F("PF_SHEARING_FORCE(A1,1,1000)", 100.0),
        "D3": F("PF_SHEARING_FORCE(C1,1,1000)", 8.0),
        "E1": F("D1*2", 14.0),
    }
    path = book(tmp_path / "a.xlsx", cells)
    result = run(path, "--check")
    assert result.exit_code == 0
    assert "2 REST ON DOUBTFUL VALUES" in result.stdout
    said = [{"sheet": "Dies", "cell": "D1"}, {"sheet": "Dies", "cell": "D3"}]
    assert json.loads(run(path, "--check", "--json").stdout)["files"][0]["resting"] == said
    assert run(path, "--check", "--strict").exit_code == 1


def many(tmp_path: Path) -> Path:
    folder = tmp_path / "registers"
    book(folder / "a.xlsx")
    book(folder / "deep" / "b.xlsm", FRESH_CELLS, macros=True)
    (folder / "bad.xlsx").write_bytes(b"this is no zip")
    (folder / "~$other.xlsx").write_bytes(b"lock")
    (folder / "notes.txt").write_text("x")
    return folder


def test_one_bad_file_never_stops_the_rest(tmp_path: Path) -> None:
    folder = many(tmp_path)
    result = run(folder, "--in-place")
    assert result.exit_code == 1
    assert values(folder / "a.xlsx")["Dies!C1"] == 200
    assert "bad.xlsx" in result.stderr
    assert (folder / "bad.xlsx").read_bytes() == b"this is no zip"
    table = result.stdout[result.stdout.index("file ") :]
    assert [line.split()[-1] for line in table.splitlines()[1:4]] == ["0", "refused", "0"]
    assert "~$other.xlsx" not in result.stdout


def test_a_folder_is_written_below_another_one(tmp_path: Path) -> None:
    folder = many(tmp_path)
    (folder / "bad.xlsx").unlink()
    out = tmp_path / "out"
    out.mkdir()
    assert run(folder, "-o", out).exit_code == 0
    assert (out / "a.xlsx").exists()
    assert (out / "deep" / "b.xlsm").exists()


def test_patterns_are_taken_where_the_shell_takes_none(tmp_path: Path) -> None:
    folder = many(tmp_path)
    result = run(folder / "**" / "*.xls[xm]", "--check")
    assert result.exit_code == 1
    assert str(folder / "deep" / "b.xlsm") in result.stdout
    nothing = run(folder / "*.ods", "--check")
    assert nothing.exit_code != 0
    assert "no file is named like this" in nothing.stderr


def test_two_books_for_one_file_are_refused(tmp_path: Path) -> None:
    first, second = book(tmp_path / "x" / "a.xlsx"), book(tmp_path / "y" / "a.xlsx")
    (tmp_path / "out").mkdir()
    result = run(first, second, "-o", tmp_path / "out")
    assert result.exit_code == 2
    assert "same file" in result.stderr


@pytest.mark.parametrize("name", ["missing.xlsx", "folder"])
def test_what_is_not_there_is_said_in_one_sentence(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder").mkdir()
    result = run(tmp_path / name, "--check")
    assert result.exit_code == 1
    assert name in result.stderr
    assert "Traceback" not in result.stderr


def failing_book(tmp_path: Path) -> Path:
    cells = STALE_CELLS | {
        "D1": F("PF_SHEARING_FORCE(0,1,1)", 1.0),
        "D2": F("[1]Other!A1+B1", 3.0),
        "D3": F("D2*2", 6.0),
        "D4": F("ROUND(A1,1)", 99.0),
        "D5": F('"a"&B1', "old"),
    }
    return book(tmp_path / "a.xlsx", cells, external="Other.xlsx")


def test_json_holds_everything(tmp_path: Path) -> None:
    path = failing_book(tmp_path)
    result = run(path, "--check", "--json")
    assert result.exit_code == 1
    report = json.loads(result.stdout)
    assert report["caution"] == CAUTION
    assert report["check"] is True
    (file,) = report["files"]
    assert file["file"] == str(path)
    assert file["written"] is None
    assert file["complete"] is False
    assert {c["cell"]: (c["before"], c["after"]) for c in file["changes"]} == {
        "B1": (1.0, 100.0),
        "C1": (2.0, 200.0),
        "D1": (1.0, "#NUM!"),
        "D5": ("old", "a100"),
    }
    sentence = "cut_length must be greater than 0 mm, got 0 mm"
    assert file["failing"] == [
        {"sheet": "Dies", "cell": "D1", "function": "PF_SHEARING_FORCE", "error": "#NUM!", "sentence": sentence}
    ]
    assert file["frozen"] == [{"sheet": "Dies", "cell": "D2", "reason": "it refers to another workbook"}]
    assert file["not_refreshed"] == [{"sheet": "Dies", "cell": "D3"}]
    assert file["disagreements"] == [
        {"sheet": "Dies", "cell": "D4", "stored": 99.0, "computed": 100.0, "functions": ["ROUND"]}
    ]
    assert file["disagreements_by_function"] == {"ROUND": 1}


def test_the_csv_report_holds_everything(tmp_path: Path) -> None:
    path, report = failing_book(tmp_path), tmp_path / "report.csv"
    result = run(path, tmp_path / "none.xlsx", "--check", "--report", report)
    assert result.exit_code == 1
    with report.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert tuple(rows[0]) == CSV_COLUMNS
    assert [(row[2], row[3]) for row in rows[1:]] == [
        ("B1", "changed"),
        ("C1", "changed"),
        ("D1", "changed"),
        ("D5", "changed"),
        ("D1", "failing"),
        ("D2", "cannot be computed"),
        ("D3", "not refreshed"),
        ("D4", "differs"),
        ("", "refused"),
    ]


def test_nothing_in_the_csv_report_runs_as_a_formula_when_a_spreadsheet_opens_it(tmp_path: Path) -> None:
    stored: dict[str, Any] = {"A1": 100.0, "B1": F("PF_SHEARING_FORCE(A1,1,1000)", "=cmd|' /C calc'!A0")}
    path = make(tmp_path / "a.xlsx", {"=1+1": stored, "Dies": {"B1": F("PF_SHEARING_FORCE(1,1,1000)", -0.5)}})
    report = tmp_path / "report.csv"
    assert run(path, "--check", "--report", report).exit_code == STALE
    with report.open(encoding="utf-8-sig", newline="") as file:
        first, second = csv.DictReader(file)
    assert (first["sheet"], first["before"]) == ("'=1+1", "'=cmd|' /C calc'!A0")
    assert (second["sheet"], second["before"]) == ("Dies", "-0.5")


def test_a_report_that_cannot_be_written_is_said_in_one_sentence(tmp_path: Path) -> None:
    path = book(tmp_path / "a.xlsx")
    before = fingerprint(path)
    result = run(path, "--in-place", "--report", tmp_path / "nowhere" / "report.csv")
    assert result.exit_code == 1
    assert result.output == result.stderr
    assert "there is no folder" in result.stderr
    assert result.stderr.count("\n") == 1
    assert fingerprint(path) == before, "it is said before the work, not after it"


def test_a_large_book_is_refused_by_the_limit_that_is_given(tmp_path: Path) -> None:
    cells = {f"A{row}": "x" * 1000 for row in range(1, 1200)}
    path = book(tmp_path / "a.xlsx", STALE_CELLS | cells | {"A1": 100.0})
    assert run(path, "--check", "--max-size", 1).exit_code == 1
    assert run(path, "--check").exit_code == 3


def test_the_command_runs_as_a_process_and_shows_no_progress_to_a_pipe(tmp_path: Path) -> None:
    folder = many(tmp_path)
    (folder / "bad.xlsx").unlink()
    command = shutil.which("pressfuncs", path=str(Path(sys.executable).parent))
    assert command
    done = subprocess.run(
        [command, "recalc", str(folder), "--check"],
        capture_output=True,
        text=True,
        env=os.environ | {"COLUMNS": "80"},
    )
    assert done.returncode == 3
    assert done.stderr == ""
    assert "2 stored results out of date" in done.stdout


def test_cell_by_cell_gives_the_same_report(tmp_path: Path) -> None:
    path = failing_book(tmp_path)
    fast, slow = (run(path, "--check", "--json", *more) for more in ([], ["--cell-by-cell"]))
    assert fast.stdout == slow.stdout
