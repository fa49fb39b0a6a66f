"""The functions in a real LibreOffice Calc: errors, blanks, arrays, files, the wizard, speed."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from calc_office import Office, running_office
from click.testing import CliRunner
from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName

from pressfuncs import edge
from pressfuncs.batch.names import clean_names
from pressfuncs.cli import main
from pressfuncs.hosts.calc.signatures import LONGEST_HELP, sheet_arguments
from pressfuncs.hosts.calc.values import ERROR_NUMBERS
from pressfuncs.registry import FUNCTIONS, UNITS_HELP, find

NUM, VALUE, NA, DIV, REF = (f"!{ERROR_NUMBERS[code]}" for code in ("#NUM!", "#VALUE!", "#N/A", "#DIV/0!", "#REF!"))
XLSX = "Calc MS Excel 2007 XML"
ODS = "calc8"
QUALIFIED = "PRESSFUNCS.CALC.FUNCTIONS."


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with running_office(tmp_path_factory.mktemp("office")) as running:
        yield running


@pytest.fixture
def book(office: Office) -> Iterator[int]:
    number = office.do("new_book")
    yield number
    office.do("close_book", number)


def shown(office: Office, book: int, formula: str) -> Any:
    """Return what a formula gives in the cell Z99."""
    office.do("fill", book, {"Z99": formula})
    return office.do("cells", book, ["Z99"])[0]


# -- errors


def test_a_refusal_is_a_real_error_value(office: Office, book: int):
    assert shown(office, book, "=PF_SHEARING_FORCE(100;0;310)") == NUM
    assert shown(office, book, '=PF_SHEARING_FORCE(100;"3 kg";310)') == VALUE
    assert shown(office, book, '=PF_MATERIAL("DC1";"density")') == VALUE
    assert shown(office, book, '=PF_MATERIAL("Q235";"penetration")') == NA
    assert shown(office, book, "=ISNUMBER(PF_SHEARING_FORCE(100;0;310))") == 0
    assert shown(office, book, "=ISERROR(PF_SHEARING_FORCE(100;0;310))") == 1
    assert shown(office, book, '=ISNA(PF_MATERIAL("Q235";"penetration"))') == 1
    assert shown(office, book, "=SUM(1;PF_SHEARING_FORCE(100;0;310))") == NUM


@pytest.mark.parametrize(("formula", "error"), [("=1/0", DIV), ("=NA()", NA), ("=SQRT(-1)", "!502")])
def test_an_error_from_another_cell_is_passed_on(office: Office, book: int, formula: str, error: str):
    office.do("fill", book, {"A1": formula, "B1": "=PF_SHEARING_FORCE(A1;-1;0)", "C1": "=PF_UTILISATION(B1;1)"})
    assert office.do("cells", book, ["A1", "B1", "C1"]) == [error] * 3


def test_an_error_in_a_range_makes_an_error(office: Office, book: int):
    office.do("fill", book, {"A1": 1, "A2": "=1/0", "A3": 3})
    assert str(shown(office, book, "=PF_LOAD_CENTRE(A1:A3;A1:A3)")).startswith("!")


def test_more_arguments_than_the_function_has_are_an_error(office: Office, book: int):
    assert str(shown(office, book, '=PF_SHEARING_FORCE(1;2;3;"metric";5)')).startswith("!")


# -- blanks and omitted arguments


def test_an_omitted_argument_is_its_default(office: Office, book: int):
    share = find("stripping_force").arguments[1].default
    assert shown(office, book, "=PF_STRIPPING_FORCE(100)") == pytest.approx(100 * share)
    assert shown(office, book, '=PF_STRIPPING_FORCE(100;;"inch")') == pytest.approx(100 * share)
    assert shown(office, book, "=PF_STRIPPING_FORCE(100;0.2;)") == pytest.approx(20)
    assert shown(office, book, "=PF_SHEARING_FORCE(100;;310)") == VALUE
    assert shown(office, book, "=PF_SHEARING_FORCE()") == VALUE


def test_a_blank_cell_is_its_default_or_missing(office: Office, book: int):
    office.do("fill", book, {"A1": 100})
    assert shown(office, book, "=PF_STRIPPING_FORCE(A1;B1;C1)") == pytest.approx(20)
    assert shown(office, book, "=PF_SHEARING_FORCE(A1;B1;310)") == VALUE
    assert shown(office, book, "=PF_FORCE_MARGIN(B1;A1)") == VALUE
    assert shown(office, book, '=PF_EXPLAIN("force_margin";B1;A1)') == "PF_FORCE_MARGIN: force is blank"


def test_a_zero_in_a_cell_is_zero(office: Office, book: int):
    office.do("fill", book, {"A1": 100, "B1": 0, "C1": "=B1*2", "D1": "=B9"})
    for zero in ("B1", "C1", "D1", "0", "-0", "$B$1", "B1*1"):
        assert shown(office, book, f"=PF_FORCE_MARGIN({zero};A1)") == 60
    assert shown(office, book, "=PF_SHEARING_FORCE(A1;B1;310)") == NUM
    assert shown(office, book, "=PF_STRIPPING_FORCE(A1;B1)") == NUM


def test_blank_checks_of_a_press_are_not_counted_as_passed(office: Office, book: int):
    office.do("fill", book, {"A1": 12, "A2": 0})
    passed = "partly checked: 2 checks passed; not checked: "
    assert shown(office, book, "=PF_PRESS_VERDICT(A1;A2;A3;A4)").startswith(
        passed + "energy of a stroke, snap-through, closed height,"
    )
    assert shown(office, book, "=PF_PRESS_VERDICT(A1;A3;A4;A2)").startswith(
        passed + "working height within the stroke, energy of a stroke, closed height,"
    )


def test_every_check_of_the_verdict_tells_a_blank_from_a_zero(office: Office, book: int):
    verdict = find("press_verdict")
    margins = [argument.name for argument in verdict.arguments if argument.name != "declared"]
    cells: list[Any] = [0.0 if place % 2 else None for place in range(len(margins))]
    office.do("fill", book, {f"A{row}": value for row, value in enumerate(cells, start=1) if value is not None})
    given = ";".join(f"A{row}" for row in range(1, len(margins) + 1))
    for declared in (None, "Shank, off-centre", "tonnage"):
        office.do("fill", book, {"B1": declared})
        expected = edge.evaluate(verdict, [*cells, declared, "inch"])
        found = shown(office, book, f'=PF_PRESS_VERDICT({given};B1;"inch")')
        assert found == (VALUE if declared == "tonnage" else expected)
    assert shown(office, book, f"=PF_PRESS_VERDICT({given})").startswith("partly checked: 8 checks passed;")


def test_the_same_cell_is_asked_anew_at_every_change(office: Office, book: int):
    office.do("fill", book, {"A1": 100, "C1": "=PF_FORCE_MARGIN(B1;A1)"})
    for value, result in ((None, VALUE), (0, 60), (None, VALUE), (10, 50), (0, 60), (None, VALUE)):
        office.do("fill", book, {"B1": value})
        assert office.do("cells", book, ["C1"]) == [result]
    for formula, result in (("=PF_FORCE_MARGIN(0;A1)", 60), ("=PF_FORCE_MARGIN(B2;A1)", VALUE)):
        office.do("fill", book, {"C1": formula})
        assert office.do("cells", book, ["C1"]) == [result]


def test_a_book_that_holds_back_its_changes_is_read_each_time(office: Office, book: int):
    office.do("fill", book, {"A1": 100, "C1": "=PF_FORCE_MARGIN(B1;A1)"})
    assert office.do("cells", book, ["C1"]) == [VALUE]
    office.do("lock", book, True)
    for value, result in ((0, 60), (None, VALUE), (0, 60)):
        office.do("fill", book, {"B1": value})
        assert office.do("cells", book, ["C1"]) == [result]
    office.do("lock", book, False)


def test_blank_cells_are_found_on_other_sheets_and_by_name(office: Office, book: int):
    office.do("add_sheet", book, "Shop's presses")
    office.do("fill", book, {"A1": 100, "Shop's presses.A2": 0})
    office.do("name_cells", book, "missing_force", "$'Shop''s presses'.$A$1")
    office.do("name_cells", book, "no_force", "$'Shop''s presses'.$A$2")
    assert shown(office, book, "=PF_FORCE_MARGIN($'Shop''s presses'.A1;A1)") == VALUE
    assert shown(office, book, "=PF_FORCE_MARGIN($'Shop''s presses'.A2;A1)") == 60
    assert shown(office, book, "=PF_FORCE_MARGIN(missing_force;A1)") == VALUE
    assert shown(office, book, "=PF_FORCE_MARGIN(no_force;A1)") == 60


def test_blank_cells_are_found_in_columns_of_a_table(office: Office, book: int):
    office.do("fill_block", book, "A1:C1", [["Die", "Force, kN [a]", "Margin's"]])
    office.do("fill_block", book, "A2:B4", [["D1", ""], ["D2", 0], ["D3", 10]])
    office.do("name_table", book, "Dies", "A1:C4")
    column = "Dies[[#This Row];[Force, kN '[a']]]"
    office.do("fill", book, {f"C{row}": f"=PF_FORCE_MARGIN({column};{row}00)" for row in (2, 3, 4)})
    assert office.do("cells", book, ["C2", "C3", "C4"]) == [VALUE, pytest.approx(180), pytest.approx(230)]


def test_a_name_that_stands_for_a_formula_is_not_guessed(office: Office, book: int):
    office.do("name_cells", book, "no_force", "=0*1")
    office.do("name_cells", book, "some_force", "=2*5")
    assert shown(office, book, "=PF_FORCE_MARGIN(some_force;100)") == 50
    assert shown(office, book, "=PF_FORCE_MARGIN(no_force;100)") == VALUE
    assert "blank cell and a 0 alike" in shown(office, book, '=PF_EXPLAIN("force_margin";no_force;100)')


def test_a_blank_within_a_longer_formula_is_found(office: Office, book: int):
    office.do(
        "fill", book, {"A1": 100, "A2": '=IF(PF_FORCE_MARGIN(B1;A1)>0;"fits; (really)";PF_FORCE_MARGIN(0;A1))'}
    )
    assert office.do("cells", book, ["A2"]) == [VALUE]
    office.do("fill", book, {"A2": "=1+PF_UTILISATION(PF_FORCE_MARGIN(0;A1);A1)*PF_FORCE_MARGIN(0;A1)"})
    assert office.do("cells", book, ["A2"]) == [pytest.approx(1 + 0.6 * 60)]


def test_what_the_formulas_leave_open_is_refused(office: Office, book: int):
    office.do("fill", book, {"A1": 100, "B2": 0, "C1": "=PF_FORCE_MARGIN(B1;A1)", "C2": "=PF_FORCE_MARGIN(B2;A1)"})
    assert office.do("cells", book, ["C1", "C2"]) == [VALUE, VALUE]
    office.do("fill", book, {"B2": "0 kN"})
    assert office.do("cells", book, ["C1", "C2"]) == [VALUE, 60]


def test_rows_with_different_numbers_do_not_disturb_each_other(office: Office, book: int):
    rows = [[100 + i, "" if i % 2 else 0, f"=PF_FORCE_MARGIN(B{i};A{i})"] for i in range(1, 41)]
    office.do("fill_block", book, "A1:C40", rows)
    found = [row[0] for row in office.do("block", book, "C1:C40")]
    assert found == [VALUE if i % 2 else pytest.approx(0.6 * (100 + i)) for i in range(1, 41)]


# -- arrays, series, texts


def test_ranges_give_arrays_that_keep_their_direction(office: Office, book: int):
    force = find("shearing_force")
    lengths, strengths = [100.0, 200.0, 300.0], [310.0, 400.0]
    office.do("fill_block", book, "A1:A3", [[value] for value in lengths])
    office.do("fill_block", book, "B1:C1", [strengths])
    office.do("fill_array", book, "E1:E3", "=PF_SHEARING_FORCE(A1:A3;3.2;310)")
    office.do("fill_array", book, "F1:G1", "=PF_SHEARING_FORCE(100;3.2;B1:C1)")
    office.do("fill_array", book, "H1:I3", "=PF_SHEARING_FORCE(A1:A3;3.2;B1:C1)")
    column = [[value] for value in lengths]
    assert office.do("block", book, "E1:E3") == edge.evaluate(force, [column, 3.2, 310.0])
    assert office.do("block", book, "F1:G1") == edge.evaluate(force, [100.0, 3.2, [strengths]])
    assert office.do("block", book, "H1:I3") == edge.evaluate(force, [column, 3.2, [strengths]])


def test_one_bad_element_spoils_one_element(office: Office, book: int):
    office.do("fill_block", book, "A1:A4", [[100], [-1], [""], ["12 kg"]])
    office.do("fill_array", book, "B1:B4", "=PF_SHEARING_FORCE(A1:A4;3.2;310)")
    assert office.do("block", book, "B1:B4") == [[pytest.approx(99.2)], [NUM], [VALUE], [VALUE]]


def test_ranges_that_do_not_match_are_refused(office: Office, book: int):
    office.do("fill_block", book, "A1:B3", [[1, 1], [2, 2], [3, 3]])
    assert shown(office, book, "=PF_SHEARING_FORCE(A1:A3;B1:B2;310)") == VALUE


def test_a_series_takes_a_range_and_leaves_blank_rows_out(office: Office, book: int):
    office.do("fill_block", book, "A1:B4", [[10, 0], ["", ""], [30, 100], [20, 50]])
    expected = edge.evaluate(find("load_centre"), [[[10.0], [30.0], [20.0]], [[0.0], [100.0], [50.0]]])
    assert shown(office, book, "=PF_LOAD_CENTRE(A1:A4;B1:B4)") == expected


def test_texts_with_units_need_no_further_library(office: Office, book: int):
    expected = edge.evaluate(find("shearing_force"), ["18.55 in", "1/8 in", "45 ksi"])
    assert shown(office, book, '=PF_SHEARING_FORCE("18.55 in";"1/8 in";"45 ksi")') == expected
    inch = edge.evaluate(find("shearing_force"), [18.55, 0.125, 45000.0, "inch"])
    assert shown(office, book, '=PF_SHEARING_FORCE(18.55;0.125;45000;"Inch")') == inch


def test_explain_takes_as_many_arguments_as_the_longest_function(office: Office, book: int):
    longest = max(FUNCTIONS.values(), key=lambda spec: len(spec.arguments))
    assert longest.name == "press_verdict"
    values = ["12"] * (len(longest.arguments) - 1)
    formula = f'=PF_EXPLAIN("press_verdict";{";".join(values)};"Shank";"inch")'
    expected = edge.evaluate(find("explain"), ["press_verdict", *[12.0] * len(values), "Shank", "inch"])
    assert shown(office, book, formula) == expected
    assert "12 tonf_us" in expected


def test_a_text_function_gives_text(office: Office, book: int):
    assert shown(office, book, "=PF_VERSION()") == edge.evaluate(find("version"), [])


# -- files


def xlsx(path: Path, formulas: dict[str, str], stored: str | None = None) -> Path:
    """Write a workbook as Excel would, with or without stored results."""
    book = Workbook()
    for address, value in formulas.items():
        book.active[address] = value
    book.save(path)
    if stored is not None:
        with zipfile.ZipFile(path) as source:
            parts = {name: source.read(name) for name in source.namelist()}
        with zipfile.ZipFile(path, "w") as target:
            for name, part in parts.items():
                target.writestr(name, part.replace(b"</f><v />", b"</f><v>%s</v>" % stored.encode()))
    return path


CELLS: dict[str, Any] = {
    "A1": 471.239,
    "B1": 3.2,
    "C1": 310,
    "D1": "=PF_SHEARING_FORCE(A1,B1,C1)",
    "E1": "=SUM(D1,1)",
    "F1": '=PF_STRIPPING_FORCE(PF_SHEARING_FORCE(A1,B1,C1),,"metric")',
}


@pytest.mark.parametrize("stored", [None, "111"])
def test_a_file_from_excel_computes_when_it_is_opened(office: Office, tmp_path: Path, stored: str | None):
    number = office.do("open_book", str(xlsx(tmp_path / "excel.xlsx", CELLS, stored)))
    found = office.do("cells", number, ["D1", "E1", "F1"])
    traces = office.do("traces", number)
    office.do("close_book", number)
    assert found == pytest.approx([467.469088, 468.469088, 93.4938176])
    assert traces == {"modified": False, "undo": [], "names": []}


def test_the_helper_name_gives_way_to_a_name_of_the_file(office: Office, tmp_path: Path):
    book = Workbook()
    book.active["A1"] = "=PF_SHEARING_FORCE(100,3.2,310)+pf_compile_again"
    book.active["B1"] = 1
    book.defined_names["pf_compile_again"] = DefinedName("pf_compile_again", attr_text="Sheet!$B$1")
    book.save(tmp_path / "named.xlsx")
    number = office.do("open_book", str(tmp_path / "named.xlsx"))
    found, traces = office.do("cells", number, ["A1"]), office.do("traces", number)
    office.do("close_book", number)
    assert found == [pytest.approx(100.2)]
    assert traces["names"] == ["pf_compile_again"]


def test_what_calc_writes_is_read_again_and_can_be_given_plain_names(office: Office, tmp_path: Path):
    number = office.do("open_book", str(xlsx(tmp_path / "excel.xlsx", CELLS)))
    for name, kind in (("calc.xlsx", XLSX), ("calc.ods", ODS)):
        office.do("save_book", number, str(tmp_path / name), kind)
    office.do("close_book", number)
    for name in ("calc.xlsx", "calc.ods"):
        again = office.do("open_book", str(tmp_path / name))
        assert office.do("cells", again, ["D1", "F1"]) == pytest.approx([467.469088, 93.4938176])
        office.do("close_book", again)
    with zipfile.ZipFile(tmp_path / "calc.xlsx") as written:
        sheet, workbook = written.read("xl/worksheets/sheet1.xml"), written.read("xl/workbook.xml")
    assert b"definedName " not in workbook
    cleaned, count = clean_names(sheet)
    assert count == sheet.upper().count(QUALIFIED.encode()) == 3
    assert cleaned == sheet.replace(QUALIFIED.encode(), b"")
    done = CliRunner().invoke(main, ["recalc", str(tmp_path / "calc.xlsx"), "--check"])
    assert (done.exit_code, done.stderr) == (0, "")


# -- the wizard


def test_the_wizard_shows_every_function_as_the_register_has_it(office: Office):
    texts = {name: text for name, text in office.do("function_texts", None).items() if name.startswith("PF_")}
    assert set(texts) == {spec.sheet_name for spec in FUNCTIONS.values()}
    for spec in FUNCTIONS.values():
        text = texts[spec.sheet_name]
        assert text["description"] == spec.docs.summary
        assert [argument[:2] for argument in text["arguments"]] == [
            [a.name, a.help] for a in sheet_arguments(spec)
        ]
        if spec.has_units:
            assert text["arguments"][-1][:2] == ["units", UNITS_HELP]
        for argument, (_, shown_help, _) in zip(spec.arguments, text["arguments"], strict=False):
            assert shown_help.startswith(argument.help)
            assert argument.kind.metric in shown_help
            assert len(shown_help) <= LONGEST_HELP


# -- speed


def test_ten_thousand_rows_are_recalculated_in_seconds(office: Office, tmp_path: Path):
    book = Workbook()
    for row in range(1, 10_001):
        book.active.append([100 + row, 3.2, None if row % 2 else 0, f"=PF_FORCE_MARGIN(C{row},A{row})"])
    book.save(tmp_path / "rows.xlsx")
    number = office.do("open_book", str(tmp_path / "rows.xlsx"))
    seconds = office.do("recalculate", number)
    found = office.do("block", number, "D9999:D10000")
    office.do("close_book", number)
    assert found == [[VALUE], [pytest.approx(10100 * 0.6)]]
    assert seconds < 30


def test_many_calls_alike_are_told_apart_from_a_blank_among_them(office: Office, book: int):
    office.do("fill_block", book, "A1:C100", [[100, 0, f"=PF_FORCE_MARGIN(B{i};A{i})"] for i in range(1, 101)])
    assert office.do("cells", book, ["C1", "C50", "C100"]) == [60, 60, 60]
    office.do("fill", book, {"B50": None})
    assert office.do("cells", book, ["C50"]) == [VALUE]
