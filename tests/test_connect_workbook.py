"""Workbooks that carry their functions as names: what changes in the file, what is refused, what they compute."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import formulon
import ironcalc
import pytest
from click.testing import CliRunner, Result
from lambda_engines import for_formulon
from openpyxl import Workbook, load_workbook
from openpyxl.utils.cell import coordinate_to_tuple
from openpyxl.workbook.defined_name import DefinedName

from pressfuncs.batch.names_added import Definition, functions_used, with_names
from pressfuncs.batch.package import Package
from pressfuncs.batch.recalc import recalculate
from pressfuncs.batch.refusals import Refused
from pressfuncs.build import lambda_names
from pressfuncs.cli import main

NAMES = lambda_names.names()
TEMPLATES = Path(__file__).parent.parent / "workbook_templates"
MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
FORCE = {"PF_FORCE": Definition('_xlfn.LAMBDA(_xlpm.a,IF(_xlpm.a<1,"<",1))', "pressfuncs 1: a & b")}
ELEMENT = (
    b'<definedName name="PF_FORCE" comment="pressfuncs 1: a &amp; b">'
    b'_xlfn.LAMBDA(_xlpm.a,IF(_xlpm.a&lt;1,"&lt;",1))</definedName>'
)


def connect(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["connect", "workbook", *map(str, words)])


def book(path: Path, formulas: dict[str, str], names: dict[str, str] | None = None) -> Path:
    """Write a workbook with formulas, and names."""
    made = Workbook()
    for address, formula in formulas.items():
        made.active[address] = formula
    for name, text in (names or {}).items():
        made.defined_names[name] = DefinedName(name, attr_text=text)
    made.save(path)
    return path


def parts(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as file:
        return {name: file.read(name) for name in file.namelist()}


@pytest.fixture
def register(tmp_path: Path) -> Path:
    """Return a workbook with functions in cells, a rule, a check of input and a name."""
    path = tmp_path / "register.xlsx"
    made = Workbook()
    sheet = made.active
    sheet.append(
        [471.239, 3.2, 310, "=PF_SHEARING_FORCE(A1,B1,C1)", "=pf_force_margin(D1, 630)", '="PF_VERSION()"']
    )
    sheet.append(
        [None, 3.2, 310, "=PF_SHEARING_FORCE(A2,B2,C2)", '=IF(ISERROR(D2),"refused",PF_REQUIRED_CAPACITY(D2))']
    )
    made.defined_names["Punch"] = DefinedName("Punch", attr_text="PF_SMALLEST_HOLE(Sheet!$B$1,Sheet!$C$1,800)")
    made.save(path)
    return path


def test_only_the_list_of_names_changes(register: Path, tmp_path: Path):
    before = parts(register)
    done = connect(register, "-o", tmp_path / "out.xlsx")
    assert done.exit_code == 0, done.output
    after = parts(tmp_path / "out.xlsx")
    assert {name for name in before if before[name] != after[name]} == {"xl/workbook.xml"}
    assert list(before) == list(after)
    written = load_workbook(tmp_path / "out.xlsx").defined_names
    used = ["PF_FORCE_MARGIN", "PF_REQUIRED_CAPACITY", "PF_SHEARING_FORCE", "PF_SMALLEST_HOLE"]
    assert sorted(written) == [*used, "Punch"]
    assert all(written[name].attr_text == NAMES[name].in_file for name in used)
    assert written["PF_SHEARING_FORCE"].comment.startswith("pressfuncs ")
    assert f"added: {', '.join(used)}\n" in done.output


def test_the_names_compute_what_recalc_computes(register: Path, tmp_path: Path):
    connect(register, "-o", tmp_path / "out.xlsx")
    recalculate(register, tmp_path / "recalculated.xlsx")
    wanted = load_workbook(tmp_path / "recalculated.xlsx", data_only=True).active
    model = ironcalc.load_from_xlsx(str(tmp_path / "out.xlsx"), "en", "UTC")
    model.evaluate()
    with formulon.Workbook.load(for_formulon(tmp_path / "out.xlsx")) as made:
        made.recalc()
        for row in (1, 2):
            for column in (4, 5):
                expected = wanted.cell(row, column).value
                number = expected if isinstance(expected, str) else pytest.approx(expected, rel=1e-12)
                assert model.get_cell_value(0, row, column) == number
                value = made.get_value(0, row - 1, column - 1)
                is_error = value.kind.name == "ERROR"
                assert (formulon.error_display_name(value.error_code) if is_error else value.to_python()) == number
    assert wanted["D2"].value == "#VALUE!"


def test_a_second_run_changes_nothing_and_a_new_version_renews_its_own(register: Path, tmp_path: Path):
    connect(register, "-o", tmp_path / "one.xlsx")
    again = connect(tmp_path / "one.xlsx", "-o", tmp_path / "two.xlsx")
    assert again.output.startswith("kept: PF_FORCE_MARGIN, ")
    assert parts(tmp_path / "one.xlsx") == parts(tmp_path / "two.xlsx")
    older = load_workbook(tmp_path / "one.xlsx")
    older.defined_names["PF_FORCE_MARGIN"].attr_text = "_xlfn.LAMBDA(_xlpm.force,_xlpm.force)"
    older.save(tmp_path / "old.xlsx")
    renewed = connect(tmp_path / "old.xlsx", "-o", tmp_path / "new.xlsx")
    assert "renewed: PF_FORCE_MARGIN\n" in renewed.output
    names = load_workbook(tmp_path / "new.xlsx").defined_names
    assert names["PF_FORCE_MARGIN"].attr_text == NAMES["PF_FORCE_MARGIN"].in_file


def test_a_name_in_the_way_is_refused_and_nothing_is_written(tmp_path: Path):
    path = book(tmp_path / "b.xlsx", {"A1": "=PF_VERSION()"}, {"pf_version": "Sheet!$A$9"})
    done = connect(path, "-o", tmp_path / "out.xlsx")
    assert done.exit_code == 1
    assert "has a name pf_version of its own; rename or delete it" in done.output
    assert not (tmp_path / "out.xlsx").exists()


def test_what_no_formula_can_say_is_refused_by_name(tmp_path: Path):
    formulas = {"A1": '=PF_CONVERT(1,"in","mm")', "A2": "=PF_VERSION()", "A3": "=PF_NO_SUCH(1)"}
    path = book(tmp_path / "b.xlsx", formulas | {"A4": "=[1]!PF_DRAW_RATIO(2,1)"})
    done = connect(path, "-o", tmp_path / "out.xlsx")
    assert done.exit_code == 1
    assert "left out: PF_CONVERT looks up a text (from_unit)\n" in done.output
    assert "left out: PF_NO_SUCH is no function of pressfuncs\n" in done.output
    assert "left out: PF_DRAW_RATIO is called through an add-in by its name\n" in done.output
    assert not (tmp_path / "out.xlsx").exists()
    partly = connect(path, "-o", tmp_path / "out.xlsx", "--partly")
    assert partly.exit_code == 0
    assert "added: PF_VERSION\n" in partly.output
    assert list(load_workbook(tmp_path / "out.xlsx").defined_names) == ["PF_VERSION"]


def test_a_book_without_our_functions_is_refused(tmp_path: Path):
    path = book(tmp_path / "b.xlsx", {"A1": "=SUM(1,2)", "A2": '="PF_VERSION()"'})
    done = connect(path, "-o", tmp_path / "out.xlsx")
    assert done.exit_code == 1
    assert "no formula calls a PF_ function" in done.output


def test_the_book_itself_is_never_written(register: Path):
    before = register.read_bytes()
    done = connect(register, "-o", register)
    assert done.exit_code == 2
    assert "is the book itself" in done.output
    assert register.read_bytes() == before


def test_functions_are_found_wherever_formulas_stand(register: Path):
    with Package.open(register) as package:
        uses = functions_used(package)
    assert sorted(uses.plain) == [
        "PF_FORCE_MARGIN",
        "PF_REQUIRED_CAPACITY",
        "PF_SHEARING_FORCE",
        "PF_SMALLEST_HOLE",
    ]


# The list of names, whatever it looks like


def workbook_xml(rest: bytes, prefix: bytes = b"") -> bytes:
    colon = prefix + b":" if prefix else b""
    space = b":" + prefix if prefix else b""
    head = b'<?xml version="1.0"?>\r\n<%sworkbook xmlns%s="%s">' % (colon, space, MAIN)
    return head + b'<%ssheets><%ssheet name="a>b"/></%ssheets>%s</%sworkbook>' % (colon, colon, colon, rest, colon)


@pytest.mark.parametrize(
    ("rest", "wanted"),
    [
        (b"<calcPr/>", b"<definedNames>@</definedNames><calcPr/>"),
        (b"", b"<definedNames>@</definedNames>"),
        (b"<externalReferences/><calcPr/>", b"<externalReferences/><definedNames>@</definedNames><calcPr/>"),
        (b"<definedNames/><calcPr/>", b"<definedNames>@</definedNames><calcPr/>"),
        (b"<definedNames ></definedNames >", b"<definedNames >@</definedNames >"),
        (
            b'<definedNames><definedName name="A">1&gt;0</definedName></definedNames>',
            b'<definedNames><definedName name="A">1&gt;0</definedName>@</definedNames>',
        ),
        (
            b"<x><definedNames/></x><!-- <definedNames/> -->",
            b"<definedNames>@</definedNames><x><definedNames/></x><!-- <definedNames/> -->",
        ),
    ],
)
def test_names_go_into_their_list_and_all_else_stays(rest: bytes, wanted: bytes):
    part, added = with_names(workbook_xml(rest), FORCE)
    assert part == workbook_xml(wanted.replace(b"@", ELEMENT))
    assert added.added == ["PF_FORCE"]
    assert with_names(part, FORCE) == (part, added.__class__(kept=["PF_FORCE"]))


def test_prefixed_parts_get_prefixed_names():
    part, _ = with_names(workbook_xml(b"<x:calcPr/>", b"x"), FORCE)
    assert b'</x:sheets><x:definedNames><x:definedName name="PF_FORCE"' in part
    assert b"</x:definedName></x:definedNames><x:calcPr/>" in part


@pytest.mark.parametrize(
    "own",
    [
        b'<definedName name="PF_Force">Sheet!$A$1</definedName>',
        b'<definedName name="PF_FORCE" localSheetId="0">1</definedName>',
        b'<definedName name="PF_FORCE" localSheetId="0" comment="pressfuncs 1: x">1</definedName>',
        ELEMENT + b'<definedName name="PF_FORCE" localSheetId="0">1</definedName>',
    ],
)
def test_names_of_the_workbook_itself_are_never_touched(own: bytes):
    with pytest.raises(Refused, match="of its own"):
        with_names(workbook_xml(b"<definedNames>" + own + b"</definedNames>"), FORCE)


def test_parts_that_cannot_be_edited_safely_are_refused():
    with pytest.raises(Refused, match="UTF-16"):
        with_names(workbook_xml(b"").decode().encode("utf-16"), FORCE)
    with pytest.raises(Refused, match="damaged"):
        with_names(workbook_xml(b"<definedNames>"), FORCE)
    with pytest.raises(Refused, match="lists no sheets"):
        with_names(b'<workbook xmlns="%s"/>' % MAIN, FORCE)
    with pytest.raises(Refused, match="document type"):
        with_names(b"<!DOCTYPE workbook []>" + workbook_xml(b"").partition(b"\r\n")[2], FORCE)


# The templates in this form


def without_refused(path: Path, to: Path) -> dict[tuple[str, str], object]:
    """Write a template with its values in the place of calls that no formula can say; return the stored results.

    Only the results of formulas that call PF functions are returned.
    """
    formulas, stored = load_workbook(path), load_workbook(path, data_only=True)
    wanted: dict[tuple[str, str], object] = {}
    for cell in (cell for sheet in formulas.worksheets for row in sheet.iter_rows() for cell in row):
        if not isinstance(cell.value, str) or not cell.value.startswith("="):
            continue
        value = stored[cell.parent.title][cell.coordinate].value
        if any(f"{name}(" in cell.value for name in lambda_names.refused()):
            cell.value = value
            continue
        if "PF_" in cell.value:
            wanted[cell.parent.title, cell.coordinate] = value
        # formulon wants a heading with a comma in brackets of its own
        cell.value = re.sub(r"(\w)\[([^\[\]@#]*,[^\[\]]*)\]", r"\1[[\2]]", cell.value)
    formulas.save(to)
    return wanted


@pytest.mark.parametrize("template", sorted(TEMPLATES.glob("*.xlsx")), ids=lambda path: path.stem)
def test_every_template_computes_by_its_names_what_it_stores(template: Path, tmp_path: Path):
    wanted = without_refused(template, tmp_path / "plain.xlsx")
    done = connect(
        tmp_path / "plain.xlsx", "-o", tmp_path / "out.xlsx", "--partly"
    )  # tables keep their column formulas
    assert done.exit_code == 0, done.output
    sheets = load_workbook(template).sheetnames
    assert len(wanted) >= 15
    wrong = []
    with formulon.Workbook.load(for_formulon(tmp_path / "out.xlsx")) as first:
        first.recalc()
        once = bytes(first.save())  # it does not wait for a computed column of a later sheet: twice does
    with formulon.Workbook.load(once) as made:
        made.recalc()
        for (sheet, address), value in wanted.items():
            row, column = coordinate_to_tuple(address)
            found = made.get_value(sheets.index(sheet), row - 1, column - 1)
            is_error = found.kind.name == "ERROR"
            answer = formulon.error_display_name(found.error_code) if is_error else found.to_python()
            if isinstance(value, (int, float)) and not is_error:
                same = answer == pytest.approx(value, rel=1e-9)
            else:
                same = answer == (value or "")
            if not same:
                wrong.append(f"{sheet}!{address}: {answer!r}, not {value!r}")
    assert wrong == []


def test_a_workbook_with_names_is_recalculated_as_before(tmp_path: Path):
    connect(TEMPLATES / "press_capacity.xlsx", "-o", tmp_path / "out.xlsx")
    outcome = recalculate(tmp_path / "out.xlsx", None)
    assert outcome.complete
    assert outcome.calls > 100
    assert outcome.changes == []
