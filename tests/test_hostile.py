"""Books made to do harm: refused, or done within limits, with a sentence. docs/security.md lists them."""

from __future__ import annotations

import json
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest
from books import F, Made, make, refresh
from click.testing import CliRunner, Result
from fuzz_recalc import run as fuzz
from parts import MAIN, SHEET, fingerprint, workbook_parts, write_zip

from pressfuncs.batch.many import recalculate_many
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.report import Wanted
from pressfuncs.batch.workers import Bounds
from pressfuncs.cli.app import main

OURS = F("PF_SHEARING_FORCE(A1,1,1000)", 1.0)
GOOD: dict[str, Any] = {"A1": 100.0, "B1": OURS}


def check(path: Path, *more: str) -> Result:
    """Check a book within small limits; whatever happens, it is whole and nobody sees a traceback."""
    before = fingerprint(path)
    start = time.monotonic()
    done = CliRunner().invoke(
        main, ["recalc", str(path), "--check", "--one-engine", "--memory", "512", "--timeout", "60", *more]
    )
    assert time.monotonic() - start < 90
    assert fingerprint(path) == before
    assert "Traceback" not in done.output
    assert done.exit_code in (0, 1, 3)
    return done


def refused(path: Path, *more: str) -> str:
    done = check(path, *more)
    assert done.exit_code == 1
    assert len(done.stderr.splitlines()) == 1
    return done.stderr


def bomb(path: Path, size: int) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as book:
        for name, part in workbook_parts().items():
            if name != SHEET:
                book.writestr(name, part)
        with book.open(SHEET, "w", force_zip64=True) as sheet:
            sheet.write(f'<worksheet xmlns="{MAIN}"><sheetData>'.encode())
            for _ in range(size >> 20):
                sheet.write(b" " * (1 << 20))
            sheet.write(b"</sheetData></worksheet>")
    return path


def test_zip_bombs_are_refused_by_ratio_size_and_count(tmp_path: Path) -> None:
    assert 'the limit "ratio"' in refused(bomb(tmp_path / "ratio.xlsx", 100 << 20))
    assert 'the limit "part"' in refused(bomb(tmp_path / "part.xlsx", 60 << 20), "--max-size", "50")
    many = workbook_parts() | {f"xl/media/{number}.bin": b"" for number in range(20_001)}
    assert 'the limit "entries"' in refused(write_zip(tmp_path / "count.xlsx", many))


def test_a_bomb_inside_the_book_is_copied_and_not_unpacked(tmp_path: Path) -> None:
    inner = bomb(tmp_path / "inner.zip", 100 << 20).read_bytes()
    path = make(tmp_path / "outer.xlsx", {"Dies": GOOD})
    with zipfile.ZipFile(path, "a") as book:
        book.writestr("xl/embeddings/inner.xlsx", inner)
    assert check(path).exit_code == 3


@pytest.mark.parametrize("part", ["xl/workbook.xml", SHEET, "[Content_Types].xml", "xl/_rels/workbook.xml.rels"])
def test_entities_are_refused_in_every_part(tmp_path: Path, part: str) -> None:
    growing = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
        f'<!ENTITY a{i} "{("&a" + str(i - 1) + ";") * 10}">' if i else '<!ENTITY a0 "&a;">' for i in range(12)
    )
    for declared in (growing + "]>", '<!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/passwd">]>'):
        parts = workbook_parts('<row r="1"><c r="A1"><v>1</v></c></row>')
        parts[part] = declared.encode() + parts[part]
        assert "declare" in refused(write_zip(tmp_path / "a.xlsx", parts))


@pytest.mark.parametrize(
    "name", ["../../evil.txt", "/etc/evil", "C:\\evil.txt", "xl\\..\\evil.xml", "xl/../../evil"]
)
def test_names_that_lead_out_of_the_book_are_refused(tmp_path: Path, name: str) -> None:
    assert "do not trust" in refused(write_zip(tmp_path / "a.xlsx", [*workbook_parts().items(), (name, b"x")]))


def test_a_sheet_that_declares_every_cell_there_is_costs_what_it_holds(tmp_path: Path) -> None:
    sheet = (
        f'<worksheet xmlns="{MAIN}"><dimension ref="A1:XFD1048576"/><sheetData><row r="1"><c r="A1"><v>100</v></c>'
        '<c r="B1"><f>PF_SHEARING_FORCE(A1,1,1000)</f><v>1</v></c></row><row r="1048576"><c r="XFD1048576">'
        "<v>1</v></c></row></sheetData></worksheet>"
    )
    assert check(write_zip(tmp_path / "a.xlsx", workbook_parts(sheet.encode()))).exit_code == 3


def test_ten_million_cells_end_within_the_limit_of_memory(tmp_path: Path) -> None:
    row = "".join(f'<c r="{column}%d"><v>1</v></c>' for column in "ABCDEFGHIJ")
    cells = "".join(f'<row r="{r}">{row % ((r,) * 10)}</row>' for r in range(1, 1_000_001))
    path = write_zip(tmp_path / "a.xlsx", workbook_parts(cells))
    assert "needs more memory than the limit of 256 MB" in refused(path, "--memory", "256")


@pytest.mark.parametrize("depth", [200, 5_000])
def test_formulas_nested_deeply_are_computed_or_left_alone(tmp_path: Path, depth: int) -> None:
    cells = GOOD | {
        "C1": F("(" * depth + "B1" + ")" * depth, 1.0),
        "C2": F("ABS(" * depth + "B1" + ")" * depth, 1.0),
        "C3": F("PF_REQUIRED_CAPACITY(" * 200 + "B1" + ",0.999)" * 200, 1.0),
        "C4": F("-" * depth + "B1", 1.0),
        "C5": F("+".join(["B1"] * depth), 1.0),
    }
    done = check(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert "please report it" not in done.output


def test_a_million_members_of_one_shared_formula_are_one_column(tmp_path: Path) -> None:
    first = '<c r="B1"><f t="shared" ref="B1:B1000000" si="0">PF_SHEARING_FORCE(A1,1,1000)</f><v>1</v></c>'
    rest = "".join(
        f'<row r="{r}"><c r="A{r}"><v>1</v></c><c r="B{r}"><f t="shared" si="0"/></c></row>'
        for r in range(2, 1_000_001)
    )
    head = f'<row r="1"><c r="A1"><v>1</v></c>{first}</row>'
    path = write_zip(tmp_path / "a.xlsx", workbook_parts(head + rest))
    done = check(path, "--memory", "3000", "--timeout", "60")
    assert "999999 stored results out of date" in done.output or "took longer" in done.output


def test_texts_that_double_from_cell_to_cell_cost_one_sentence(tmp_path: Path) -> None:
    cells = GOOD | {"C1": "x" * 1000} | {f"C{row}": F(f"C{row - 1}&C{row - 1}", "x") for row in range(2, 22)}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    said = check(path)
    assert said.exit_code == 3 or "--memory if you trust it" in said.stderr


def test_sums_of_a_whole_sheet_and_huge_arrays_end_in_time(tmp_path: Path) -> None:
    cells = GOOD | {
        "C1": F('REPT("x",1E9)&B1', "x"),
        "C2": F("SUM(SEQUENCE(1E9))+B1", 1.0),
        "C3": F("MAKEARRAY(1E5,1E5,LAMBDA(a,b,1))", 1.0),
    }
    other = {f"A{row}": F("SUM(Dies!A1:XFD1048576)", 1.0) for row in range(1, 20)}
    check(make(tmp_path / "a.xlsx", {"Dies": cells, "Other": other}))


def test_a_bad_book_costs_the_others_nothing(tmp_path: Path) -> None:
    doubling = {"A1": "x" * 30_000} | {f"A{row}": F("&".join([f"A{row - 1}"] * 30)) for row in range(2, 12)}
    for name in ("a", "c"):
        make(tmp_path / f"{name}.xlsx", {"Dies": GOOD})
    make(tmp_path / "b.xlsx", {"Dies": GOOD | {"C1": F("D1", 1.0)}, "Other": doubling})
    jobs = [(path, None) for path in sorted(tmp_path.iterdir())]
    found = list(recalculate_many(jobs, Options(second_engine=False), Wanted(True, True), Bounds(256 << 20, 60)))
    assert [digest.stale for digest in found][::2] == [True, True]
    assert json.loads(found[0].json)["changes"][0]["after"] == 100


def test_random_damage_ends_in_results_or_refusals() -> None:
    done = fuzz(seconds=60, rounds=300, seed=20)
    assert {name.split()[0] for name in done.counts} == {"formula", "quantity", "heading", "sheet", "workbook"}
    assert {name.split()[1] for name in done.counts} == {"read", "refused"}


def test_memory_is_flat_over_many_runs_in_one_process(tmp_path: Path) -> None:
    path = make(tmp_path / "a.xlsx", {"Dies": {f"A{row}": 100.0 + row for row in range(1, 50)} | {"B1": OURS}})

    def soak(runs: int) -> int:
        for _ in range(runs):
            assert recalculate(path, tmp_path / "out.xlsx").changes
        lines = Path("/proc/self/status").read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS"))

    soak(50)
    early = soak(50)
    assert soak(200) < early + 4096


def test_ranges_written_backwards_mean_the_same_cells(tmp_path: Path) -> None:
    """Programs write them, applications do not; the engine would stop at them."""
    cells: dict[str, Any] = {f"{c}{row}": 10.0 * row for c in "AC" for row in range(1, 9)}
    cells["H1"] = F("PF_SHEARING_FORCE(1,1,1000)", 1.0)
    for row in range(1, 9):  # the moving edge passes the fixed one
        cells[f"E{row}"] = F(f"SUM(A$5:A{row})*H$1", 1.0)
        cells[f"F{row}"] = F(f"SUM(C{row}:A$5)*H$1", 1.0)
        cells[f"G{row}"] = F(f"PF_STAGGERED_PEAK_FORCE(A$5:A{row},C$5:C{row},1)", 1.0)
    cells |= {"I1": F("MAX(C4:A2)*H1", 1.0), "I2": F("SUM(C:A)*H1", 1.0)}
    cells["I3"] = F("COUNT($A$3:A$2)*H1", 1.0)
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}))
    assert outcome.complete
    for row in range(1, 9):
        total = sum(10.0 * r for r in range(min(row, 5), max(row, 5) + 1))
        assert found[f"Dies!E{row}"] == total
        assert found[f"Dies!F{row}"] == 2 * total
        assert found[f"Dies!G{row}"] == 10 * max(row, 5)
    assert (found["Dies!I1"], found["Dies!I2"], found["Dies!I3"]) == (40, 720, 2)


def test_what_is_not_followed_is_said_and_never_an_error_in_silence(tmp_path: Path) -> None:
    """A spilled range as a whole (H1#), and names that are functions; SLN is a range here, and a function."""
    cells: dict[str, Any] = {f"A{row}": 100.0 * row for row in (1, 2, 3)}
    cells |= {f"B{row}": F(f"PF_SHEARING_FORCE(A{row},1,1000)", 1.0) for row in (1, 2, 3)}
    cells |= {
        "H1": F("SORT(B1:B3,1,-1)", 1.0, 't="array" ref="H1:H3"', 'cm="1"'),
        "D1": F("SUM(_xlfn.ANCHORARRAY(H1))+B1", 5.0),
        "D2": F("twice(B1)", 5.0),
        "D3": F("ofours(100)", 5.0),
        "D4": F("SLN(B1,10,5)", 5.0),
    }
    names = [("twice", "_xlfn.LAMBDA(_xlpm.x,_xlpm.x*2)"), ("sln", "Dies!$A$1")]
    names.append(("ofours", "_xlfn.LAMBDA(_xlpm.x,PF_SHEARING_FORCE(_xlpm.x,1,1000))"))
    found, outcome = refresh(make(tmp_path / "a.xlsx", {"Dies": cells}, Made(names=names)))
    reasons = {f.cell: f.reason for f in outcome.frozen}
    assert "H1#" in reasons.pop("D1")
    assert reasons == {"D2": 'the name "twice" is a LAMBDA', "D3": 'the name "ofours" is a LAMBDA'}
    assert [found[f"Dies!D{row}"] for row in (1, 2, 3)] == [5, 5, 5]
    assert found["Dies!D4"] == 18
    assert outcome.left_alone == 0
