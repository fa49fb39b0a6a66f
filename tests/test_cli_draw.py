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
    assert "in the press" not in done.stdout


def test_the_report_says_whether_the_die_suits_its_press():
    done = run("--demo", "--die", "D-503", "--die", "D-530", "-o", "out")
    assert done.exit_code == 0, done.output
    assert "  in the press: suitable on paper: 15 checks passed; does not apply: kind of press\n" in done.stdout
    assert "  in the press: not suitable: slide face short by 5 mm; does not apply: kind of press\n" in done.stdout
    told = json.loads(run("--demo", "--die", "D-530", "--die", "D-513", "-o", "out", "--json").stdout)["dies"]
    assert told[0]["verdict"].startswith("not suitable: slide face short by 5 mm")
    assert told[1]["verdict"] is None


SHOP = """\
Werkzeug;Länge links-rechts [mm];Tiefe vorn-hinten [mm];Säulenabstand [mm];Customer;Closed height [kg];Press
W-1;300;200;190;Invented Ltd;180;P-1
"""


def test_the_shops_own_headings_serve_the_drawing_and_unused_columns_are_named():
    Path("dies.csv").write_text(SHOP, encoding="utf-8")
    Path("map.toml").write_text(
        '[die]\n"Werkzeug" = "id"\n"Länge links-rechts" = "die_length"\n"Tiefe vorn-hinten" = "die_width"\n'
        '[drawing]\n"Säulenabstand" = "pillar_spacing_length"\n[press]\n"Presse" = "id"\n"Hub" = "stroke"\n',
        encoding="utf-8",
    )
    Path("presses.csv").write_text("Presse,Hub [mm],Colour\nP-1,80,grey\n", encoding="utf-8")
    words = ("dies.csv", "--die", "W-1", "-o", "w.svg", "--fields", "map.toml", "--presses", "presses.csv")
    done = run(*words)
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    assert [line for line in lines if '"Customer"' in line and "--fields" in line and "not" in line]
    assert [line for line in lines if line.startswith('column "Closed height [kg]": ') and "not used" in line]
    assert [line for line in lines if line.startswith('register of presses, column "Colour": ')]
    assert not [line for line in lines if line.startswith("column") and ("Länge" in line or "Säulen" in line)]
    assert "pillar spacing length" not in done.stdout
    told = json.loads(run(*words, "--json").stdout)
    assert "die holder length" not in told["dies"][0]["not_given"]
    assert any(entry["place"] == 'column "Customer"' for entry in told["register"])


def test_of_many_unused_columns_twelve_are_named():
    more = [f"Remark by {name}" for name in "abcdefghijklmnop"]
    rows = ["Die,Die length,Die width," + ",".join(more), "W-1,300,200" + ",x" * len(more)]
    Path("dies.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    lines = run("dies.csv", "--all", "-o", "out").stdout.splitlines()
    assert sum(line.startswith("column ") for line in lines) == 12
    assert "and 4 more columns, see --json" in lines


def test_a_file_of_headings_that_names_no_field_is_refused():
    Path("map.toml").write_text('[drawing]\n"Pillars" = "pilars"\n', encoding="utf-8")
    done = run("--demo", "--die", "D-503", "-o", "x.svg", "--fields", "map.toml")
    assert done.exit_code == 1
    assert 'there is no field "pilars" of a drawing' in done.stderr


def test_a_press_that_is_not_in_its_register_or_that_contradicts_the_row_is_noted():
    Path("dies.csv").write_text(
        "Die,Die length,Die width,Press,Stroke\nW-1,300,200,P-1,100\nW-2,300,200,P-2,100\n", encoding="utf-8"
    )
    Path("presses.csv").write_text("Press,Stroke [mm],Bed length [mm]\nP-1,80,500\n", encoding="utf-8")
    done = run("dies.csv", "--all", "-o", "out", "--presses", "presses.csv")
    assert "  note: press P-2 is not in the register of presses\n" in done.stdout
    sentence = "stroke is 100 mm in the row of the die, 80 mm in the register of presses: the row counts"
    assert f"  note: {sentence}\n" in done.stdout


def test_a_shop_profile_says_which_checks_need_not_be_made():
    Path("shop.toml").write_text('[not_checked]\nshank = "no press here has a bore"\n', encoding="utf-8")
    rows = DEMO.read_text(encoding="utf-8").splitlines()
    bore = rows[0].split(",").index("Shank bore [mm]")
    fields = [row.split(",") for row in (rows[0], rows[3])]
    fields[1][bore] = ""
    Path("one.csv").write_text("\n".join(map(",".join, fields)) + "\n", encoding="utf-8")
    presses = str(DEMO.with_name("demo_presses.csv"))
    done = run("one.csv", "--all", "-o", "out", "--presses", presses, "--profile", "shop.toml")
    assert "suitable on paper: 14 checks passed; declared, not checked: shank" in done.stdout


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
