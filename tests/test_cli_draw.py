"""`pressfuncs draw`: files, folders, workbooks, reports and refusals."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from pressfuncs.batch.package import Package
from pressfuncs.batch.report import CAUTION
from pressfuncs.cli import main
from pressfuncs.drawing.run import DEMO
from pressfuncs.templates import template_path


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["draw", *words])


@pytest.mark.parametrize("suffix", ["dxf", "svg", "pdf", "png"])
def test_one_die_is_drawn_into_the_file_that_is_named(suffix: str):
    done = run(str(DEMO), "--die", "d-503", "-o", f"sheet.{suffix}")
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in Path().iterdir()) == [f"sheet-in-press.{suffix}", f"sheet.{suffix}"]
    assert done.stdout.startswith(f"D-503: sheet.{suffix}, sheet-in-press.{suffix} (A3 1:5, A3 1:5)\n")
    assert CAUTION in done.stdout


def test_the_report_lists_what_is_not_given():
    done = run("--demo", "--die", "D-513", "-o", "x.dxf")
    assert "  not given: stroke\n" in done.stdout
    assert "  note: not drawn in its press, for that it takes: press shut height\n" in done.stdout


def test_all_dies_are_drawn_and_a_contradictory_one_stops_nothing():
    rows = DEMO.read_text(encoding="utf-8").splitlines()
    Path("few.csv").write_text("\n".join([rows[0], *rows[31:36]]) + "\n", encoding="utf-8")
    done = run("few.csv", "--all", "-o", "out", "--format", "svg", "--format", "dxf")
    assert done.exit_code == 1
    assert "D-533: refused: bush of pillar 1 reaches" in done.stdout
    assert "4 drawn, 1 refused." in done.stdout
    names = {path.name for path in Path("out").iterdir()}
    assert names == {
        f"D-{number}{part}.{suffix}"
        for number in (531, 532, 534, 535)
        for part in ("", "-in-press")
        for suffix in ("svg", "dxf")
    }
    assert done.stderr == "", "progress is for terminals"


def test_json_report():
    done = run("--demo", "--die", "D-511", "--die", "D-533", "-o", "out", "--json")
    assert done.exit_code == 1
    told = json.loads(done.stdout)
    assert told["caution"] == CAUTION
    first, second = told["dies"]
    assert (first["die"], first["not_given"], first["refused"]) == ("D-511", ["die holder width"], None)
    assert all(Path(name).is_file() for name in first["files"])
    assert second["files"] == []
    assert second["refused"].startswith("bush of pillar 1 reaches 78.5 mm")


@pytest.mark.parametrize("projection", ["first", "third"])
def test_units_projection_and_paper_are_as_wanted(projection: str):
    done = run(
        "--demo", "--die", "D-503", "-o", "x.pdf", "--units", "inch", "--projection", projection, "--paper", "A4"
    )
    assert done.exit_code == 0, done.output
    assert "(A4 1:10, A4 1:10)" in done.stdout


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        (["--demo", "-o", "x.dxf"], 2, "give --die ID or --all"),
        (["--die", "A", "-o", "x.dxf"], 2, "give a REGISTER, or --demo"),
        (["--demo", "--die", "D-503", "-o", "x.doc"], 2, "name the format by the end of the file"),
        (["--demo", "--die", "D-999", "-o", "x.dxf"], 1, 'there is no die "D-999"'),
        (["nothing.csv", "--all", "-o", "out"], 1, "nothing.csv: cannot be read"),
        (["--demo", "--die", "D-503", "-o", "no/x.dxf"], 1, "no folder"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(words: list[str], status: int, sentence: str):
    done = run(*words)
    assert done.exit_code == status, done.output
    assert sentence in done.output
    assert not list(Path().rglob("*.dxf"))


def test_drawings_are_put_on_sheets_of_a_copy_and_every_other_part_stays():
    book = template_path("die_register.xlsx")
    before = book.read_bytes()
    done = run("--demo", "--die", "D-503", "--into", str(book), "-o", "copy.xlsx")
    assert done.exit_code == 0, done.output
    assert book.read_bytes() == before
    assert "copy.xlsx: Die D-503, copy.xlsx: Die D-503 in press" in done.stdout
    with zipfile.ZipFile(book) as old, zipfile.ZipFile("copy.xlsx") as new:
        changed = {name for name in old.namelist() if old.read(name) != new.read(name)}
        assert changed == {"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels"}
        added = set(new.namelist()) - set(old.namelist())
        assert len([name for name in added if name.endswith(".png")]) == 2
    with Package.open("copy.xlsx") as package:
        sheets = [element for element in package.xml("xl/workbook.xml").iter() if element.tag.endswith("}sheet")]
        assert len({sheet.get("sheetId") for sheet in sheets}) == len(sheets)
    read = openpyxl.load_workbook("copy.xlsx")
    assert read.sheetnames == [*openpyxl.load_workbook(book).sheetnames, "Die D-503", "Die D-503 in press"]
    sheet = read["Die D-503"]
    (picture,) = sheet._images
    assert (picture.anchor.ext.width, picture.anchor.ext.height) == (420 * 36000, 297 * 36000)
    lines = [line for (line,) in sheet.iter_rows(max_col=1, values_only=True)]
    assert " ".join(lines).endswith(CAUTION)
    assert picture.anchor._from.row == len(lines) + 1
    assert (sheet.page_setup.paperSize, sheet.page_setup.orientation) == (8, "landscape")


def test_a_second_drawing_of_the_same_die_gets_a_sheet_of_another_name():
    run("--demo", "--die", "D-513", "--into", str(template_path("die_register.xlsx")), "-o", "one.xlsx")
    done = run("--demo", "--die", "D-513", "--into", "one.xlsx", "-o", "two.xlsx")
    assert done.exit_code == 0, done.output
    assert openpyxl.load_workbook("two.xlsx").sheetnames[-2:] == ["Die D-513", "Die D-513 (2)"]


def test_a_book_is_never_changed_itself_and_a_locked_one_gets_no_sheet():
    openpyxl.Workbook().save("book.xlsx")
    before = Path("book.xlsx").read_bytes()
    done = run("--demo", "--die", "D-513", "--into", "book.xlsx", "-o", "book.xlsx")
    assert (done.exit_code, Path("book.xlsx").read_bytes()) == (1, before)
    assert "a drawing is put into a copy" in done.stderr
    locked = openpyxl.Workbook()
    locked.security.lockStructure = True
    locked.save("locked.xlsx")
    done = run("--demo", "--die", "D-513", "--into", "locked.xlsx", "-o", "copy.xlsx")
    assert done.exit_code == 1
    assert "locked structure" in done.stderr
    assert not Path("copy.xlsx").exists()


def test_the_register_itself_can_take_the_drawings_of_its_dies():
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        ("Die", "Die length", "Die width", "Part"),
        ("W-1", 300, 200, "Wedge [left]/right"),
        ("W:2*", 100, 80, ""),
    ):
        sheet.append(row)
    book.save("register.xlsx")
    done = run("register.xlsx", "--all", "--into", "register.xlsx", "-o", "copy.xlsx")
    assert done.exit_code == 0, done.output
    assert openpyxl.load_workbook("copy.xlsx").sheetnames == ["Sheet", "Die W-1", "Die W-2-"]
