"""The functions as workbook names: what two engines that know LAMBDA compute from them is what the edge gives.

ironcalc reads the names as they stand in the file. formulon also knows arrays inside of formulas, which the
functions of whole ranges and the columns need.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random
from typing import Any

import examples
import golden
import pytest
from golden import Case
from lambda_engines import Sheet

from pressfuncs.build import lambda_names
from pressfuncs.build.formula import depth
from pressfuncs.edge import evaluate
from pressfuncs.errors import CellError
from pressfuncs.quantities import SYSTEMS, TEXT
from pressfuncs.registry import FUNCTIONS, FunctionSpec

NAMES = lambda_names.names()
REFUSED = lambda_names.refused()
SAID = [spec for spec in examples.ALL if spec.sheet_name in NAMES]

CANNOT_BE_SAID = {"explain", "staggered_peak_force", "engaged_share", "material", "material_source", "convert"}
"""Functions that no formula can say; a change here is a change for users, and is listed in docs/excel.md."""

VALUE = CellError("#VALUE!")


@dataclass
class Question:
    """One call, and the cell value that the edge answers with."""

    label: str
    spec: FunctionSpec
    cells: list[Any]
    wanted: Any


def has_range(spec: FunctionSpec) -> bool:
    return any(argument.series for argument in spec.arguments)


def texts_with_units(case: Case, cells: list[Any]) -> bool:
    """Whether a number is given as a text with its unit, which a formula refuses."""
    for argument, value in zip(case.spec.arguments, cells, strict=False):
        values = [one for (one,) in value] if isinstance(value, list) else [value]
        if argument.kind is not TEXT and any(isinstance(one, str) for one in values):
            return True
    return False


def ask(questions: list[Question]) -> tuple[list[Any], list[Any]]:
    """Return the answers of ironcalc and of formulon, all from one workbook each."""
    sheet = Sheet()
    for question in questions:
        sheet.call(question.spec.sheet_name, question.cells)
    return sheet.by_ironcalc(), sheet.by_formulon()


def agree(found: Any, wanted: Any) -> bool:
    if isinstance(wanted, (CellError, str)) or isinstance(found, (CellError, str)):
        return bool(found == wanted)
    return bool(found == pytest.approx(wanted, rel=1e-9, abs=1e-12))


# What is said and what is not


def test_every_function_is_a_name_or_is_refused_with_its_reason():
    assert {FUNCTIONS[name].sheet_name for name in CANNOT_BE_SAID} == set(REFUSED)
    assert set(NAMES) | set(REFUSED) == {spec.sheet_name for spec in FUNCTIONS.values()}
    assert all(re.match(r"[a-z]", why) for why in REFUSED.values())


@pytest.mark.parametrize("spec", SAID, ids=examples.name_of)
def test_names_keep_within_excels_limits(spec: FunctionSpec):
    made = NAMES[spec.sheet_name]
    assert max(len(made.in_file), len(made.as_typed)) <= lambda_names.LONGEST_FORMULA
    assert len(made.name) <= lambda_names.LONGEST_NAME
    assert depth(made.as_typed) <= lambda_names.DEEPEST
    for variable in re.findall(r"_xl[po][mp]\.(\w+)", made.in_file):
        assert not re.fullmatch(r"[A-Za-z]{1,3}[0-9]+|[Rr][0-9]*[Cc]?[0-9]*|[Cc][0-9]*", variable), (
            f"{variable} is a cell"
        )


@pytest.mark.parametrize("spec", SAID, ids=examples.name_of)
def test_new_functions_and_parameters_are_marked_as_files_mark_them(spec: FunctionSpec):
    made = NAMES[spec.sheet_name].in_file
    bare = re.sub(r'"(?:[^"]|"")*"|_xlfn\.(_xlws\.)?[A-Z]+\(|_xl[po][mp]\.\w+', "", made)
    assert "§" not in made
    assert not re.search(r"\b(LET|LAMBDA|ISOMITTED|MAP|REDUCE|SEQUENCE|HSTACK|VSTACK|TOCOL|DROP|FILTER)\(", bare)
    assert not re.search(r"[a-z]", bare), "a variable without its mark"
    optional = [f"_xlop.{a.name}" for a in spec.arguments if not a.required] + ["_xlop.units"] * spec.has_units
    assert re.findall(r"_xlop\.\w+", made) == optional


# Golden cases


@pytest.fixture(scope="module", params=SYSTEMS)
def golden_answers(request: pytest.FixtureRequest) -> Iterator[list[tuple[Case, str, list[Any], Any, Any]]]:
    system, asked = request.param, []
    for case in golden.ALL:
        if case.spec.sheet_name in NAMES and case.spec.columns is None:
            cells = case.bare_cells(system)
            asked.append((case, cells, [*cells, system] if case.spec.has_units else cells))
    answers = ask([Question(case.id, case.spec, given, None) for case, _, given in asked])
    return [(case, system, cells, *pair) for (case, cells, _), *pair in zip(asked, *answers, strict=True)]  # type: ignore[return-value]


def test_golden_cases_in_both_engines(golden_answers: list[tuple[Case, str, list[Any], Any, Any]]):
    judged = 0
    for case, system, cells, by_ironcalc, by_formulon in golden_answers:
        for found in (by_formulon,) if has_range(case.spec) else (by_formulon, by_ironcalc):
            judged += 1
            if texts_with_units(case, cells):
                assert found == VALUE, case.id
            elif case.error is not None:
                assert found == CellError(case.error.cell), case.id
            elif case.is_text and system != "metric":
                wanted = evaluate(case.spec, [*cells, system])
                assert found == wanted, case.id
            else:
                case.judge(found, system)
    assert judged > 600
    assert {case.function for case, *_ in golden_answers} == {spec.name for spec in SAID} - {
        "capacity_curve",
        "version",
    }


# Every function, and everything that is refused, as the edge refuses it


def variants(spec: FunctionSpec) -> Iterator[Question]:
    """Give the example in both systems, then with one argument after the other blank, wrong, out of range."""
    good = examples.cells(spec)
    for system in SYSTEMS if spec.has_units else ("",):
        cells = [*examples.cells(spec, system or "metric"), *([system] if system else [])]
        yield Question(f"{spec.name} {system}", spec, cells, evaluate(spec, cells))
    numbers = [i for i, a in enumerate(spec.arguments) if not a.series and not a.choices]
    odd: list[tuple[int, Any]] = [
        (i, value) for i in numbers for value in (0.0, -1.0, 1.5, 1e9, True, "12,5", "3 mm")
    ]
    odd += [
        (i, value) for i, a in enumerate(spec.arguments) if a.choices for value in (*a.choices, "Ratio", 5.0, True)
    ]
    odd += [(i, value) for i, a in enumerate(spec.arguments) if not a.series for value in (" ", CellError("#N/A"))]
    odd += [(i, [[good[i][0][0]], [CellError("#DIV/0!")]]) for i, a in enumerate(spec.arguments) if a.series]
    if spec.has_units:
        odd += [(len(good), value) for value in (" Inch ", "feet", " ", 1.0, CellError("#REF!"))]
    for place, value in odd:
        cells = [*good, None][: max(len(good), place + 1)]
        cells[place] = value
        wanted = evaluate(spec, cells)
        if value == "3 mm":
            wanted = VALUE  # a formula takes no text for a number
        yield Question(f"{spec.name} {place} {value!r}", spec, cells, wanted)
    for first in numbers[:1]:  # an error value goes before any refusal
        for last in [*numbers[1:], *([len(good)] if spec.has_units else [])]:
            cells = [*good, None][: max(len(good), last + 1)]
            cells[first], cells[last] = "x", CellError("#NULL!")
            yield Question(f"{spec.name} x and {last}", spec, cells, evaluate(spec, cells))


def test_every_function_answers_and_refuses_as_the_edge_does():
    questions = [q for spec in SAID if spec.columns is None for q in variants(spec)]
    assert len(questions) > 4000
    by_ironcalc, by_formulon = ask(questions)
    wrong = [
        f"{engine}: {question.label}: {found!r}, not {question.wanted!r}"
        for engine, answers in (("ironcalc", by_ironcalc), ("formulon", by_formulon))
        for question, found in zip(questions, answers, strict=True)
        if not (engine == "ironcalc" and has_range(question.spec)) and not agree(found, question.wanted)
    ]
    assert wrong == [], chr(10).join(wrong)


# The verdict: sixteen margins, each of which may be blank, and a list of checks as a text


def test_verdict_of_any_margins_is_the_sentence_of_the_edge():
    verdict, random = FUNCTIONS["press_verdict"], Random(16)
    margins = len(verdict.arguments) - 1
    questions = []
    for number in range(60):
        cells: list[Any] = [random.choice((None, 0.0, 12.5, 3.0, -0.004, -1234567.0)) for _ in range(margins)]
        if number % 3 == 0:
            cells = [None if cell is None else abs(cell) for cell in cells]
        excused = random.sample([argument.name for argument in verdict.arguments[:-1]], number % 4)
        cells += [", ".join(excused), SYSTEMS[number % 2]]
        questions.append(Question(f"{number}", verdict, cells, evaluate(verdict, cells)))
    outcomes = {str(question.wanted).split(":")[0] for question in questions}
    assert outcomes >= {"not suitable", "partly checked"}
    for answers in ask(questions):
        assert answers == [question.wanted for question in questions]


@pytest.mark.parametrize(
    "declared",
    [
        *(
            "Shank, off-centre",
            "OFF CENTRE;shank",
            "off_centre,,shank,",
            "shank,shank",
            "shank,\noff-centre",
            " , ",
        ),
        *("shank off-centre", "sh,ank", "tonnage", "shank, tonnage", "mass", "upper mass", "upper", 5.0, None),
    ],
)
def test_declared_checks_are_read_as_the_edge_reads_them(declared: Any):
    verdict = FUNCTIONS["press_verdict"]
    cells = [None if a.name in ("shank", "off_centre", "upper_mass") else 1.0 for a in verdict.arguments]
    cells[-1] = declared
    wanted = evaluate(verdict, cells)
    for answers in ask([Question("declared", verdict, cells, wanted)]):
        assert answers == [wanted]


def test_the_first_of_two_errors_is_passed_on():
    verdict = FUNCTIONS["press_verdict"]
    last = len(verdict.arguments)
    pairs = [(0, 1), (3, 15), (14, 15), (15, last - 1), (0, last - 1)]
    errors, questions = (CellError("#REF!"), CellError("#N/A")), []
    for pair in pairs:
        for two in (errors, errors[::-1]):
            cells: list[Any] = ["x", *[1.0] * (last - 2), "shank", "metric"]
            cells[pair[0]], cells[pair[1]] = two
            questions.append(Question(f"{pair}", verdict, cells, two[0]))
            assert evaluate(verdict, cells) == two[0]
    for answers in ask(questions):
        assert answers == [question.wanted for question in questions]


def test_a_column_of_declared_checks_gives_a_column():
    verdict, sheet = FUNCTIONS["press_verdict"], Sheet()
    declared = [["shank"], [None], ["Shank, kind"], ["tonnage"]]
    cells = [*[1.0] * 13, None, 1.0, None, declared]
    call = f"{verdict.sheet_name}({','.join('' if c is None else sheet.place(c) for c in cells)})"
    for row in range(4):
        sheet.ask(f"INDEX({call},{row + 1})")
    assert sheet.by_formulon() == [row[0] for row in evaluate(verdict, cells)]


# Ranges


def test_a_column_gives_a_column_and_one_bad_element_spoils_one():
    sheet, asked = Sheet(), []
    for spec in SAID:
        numbers = [i for i, a in enumerate(spec.arguments) if not a.series and not a.choices]
        if has_range(spec) or spec.columns is not None or not numbers:
            continue
        cells = examples.cells(spec)
        good = cells[numbers[0]]
        cells[numbers[0]] = [[good], ["x"], [CellError("#N/A")], [-1e6], [good]]
        wanted = evaluate(spec, cells)
        call = f"{spec.sheet_name}({','.join('' if c is None else sheet.place(c) for c in cells).rstrip(',')})"
        asked += [(spec.name, row, wanted[row][0], sheet.ask(f"INDEX({call},{row + 1})")) for row in range(5)]
        asked.append((spec.name, "rows", 5, sheet.ask(f"ROWS({call})")))
    answers = sheet.by_formulon()
    wrong = [
        (name, row, answers[at - 1], wanted)
        for name, row, wanted, at in asked
        if not agree(answers[at - 1], wanted)
    ]
    assert len(asked) > 900
    assert wrong == []


def test_a_row_and_a_column_give_a_table():
    sheet = Sheet()
    for name, fixed in (("PF_SHEARING_FORCE", ",1000"), ("PF_FASTEST_HEIGHT", "")):
        call = f"{name}({sheet.place([[10.0], [20.0]])},{sheet.place([[30.0, 40.0, 50.0]])}{fixed})"
        for row in (1, 2):
            for column in (1, 2, 3):
                sheet.ask(f"INDEX({call},{row},{column})")
    answers = sheet.by_formulon()
    wanted = evaluate(FUNCTIONS["shearing_force"], [[[10.0], [20.0]], [[30.0, 40.0, 50.0]], 1000.0])
    wanted += evaluate(FUNCTIONS["fastest_height"], [[[10.0], [20.0]], [[30.0, 40.0, 50.0]]])
    assert answers == pytest.approx([value for row in wanted for value in row], rel=1e-9)


def test_a_curve_gives_rows_for_single_cells_only():
    curve = FUNCTIONS["capacity_curve"]
    for points, drive in ((3.0, "top"), (4.0, "under"), (9.0, None)):
        sheet = Sheet()
        for system in SYSTEMS:
            cells = [1000.0, 0.5, 10.0, 40.0, points, drive, system]
            call = f"{curve.sheet_name}({','.join(map(sheet.place, cells))})"
            wanted = evaluate(curve, cells)
            for row in range(len(wanted)):
                sheet.ask(f"INDEX({call},{row + 1},1)")
                sheet.ask(f"INDEX({call},{row + 1},2)")
            answers = sheet.by_formulon()[-2 * len(wanted) :]
            assert answers == pytest.approx([value for row in wanted for value in row], rel=1e-9)
    sheet = Sheet()
    sheet.call(curve.sheet_name, [[[1000.0], [900.0]], 6.0, 100.0, 400.0, 5.0])
    sheet.call(curve.sheet_name, [1000.0, 6.0, 100.0, 400.0, 2.0])
    assert sheet.by_formulon() == [VALUE, CellError("#NUM!")]


def test_ranges_taken_as_one_list_leave_out_blank_rows_and_must_match():
    centre = FUNCTIONS["load_centre"]
    pairs: list[tuple[Any, Any]] = [
        ([[60.0], [None], [80.0]], [[10.0], [None], [20.0]]),
        ([[60.0], [" "], [80.0]], [[10.0], [None], [20.0]]),
        ([[60.0], [None], [80.0]], [[10.0], [15.0], [20.0]]),
        ([[60.0], [80.0]], [[10.0, 20.0]]),
        ([[60.0], [80.0]], [[10.0], [20.0], [30.0]]),
        ([[None], [None]], [[None], [None]]),
        ([[60.0], ["x"]], [[10.0], [CellError("#N/A")]]),
        ([[60.0, 70.0], [80.0, 90.0]], [[1.0, 2.0], [3.0, 4.0]]),
        (60.0, 10.0),
        ([[0.0], [0.0]], [[10.0], [20.0]]),
        ([[-1.0], [2.0]], [[10.0], [20.0]]),
    ]
    sheet = Sheet()
    for pair in pairs:
        sheet.call(centre.sheet_name, list(pair))
    for found, pair in zip(sheet.by_formulon(), pairs, strict=True):
        assert agree(found, evaluate(centre, list(pair))), pair
