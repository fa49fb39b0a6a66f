"""Generated pages: limits read from the functions are true, every function and every case is there."""

from __future__ import annotations

import dataclasses
import re

import examples
import golden
import pytest

from pressfuncs.build import generate, limits_read, reference, validation
from pressfuncs.errors import PressError
from pressfuncs.registry import FUNCTIONS

REFUSED_BY = {
    "greater than 0": [0.0, -1.0],
    "0 or more": [-1e-9, -1.0],
    "any finite number": [float("nan"), float("inf"), -float("inf")],
    "greater than 0, at most 1": [0.0, 1.0 + 1e-9],
    "0 or more, less than 1": [-1e-9, 1.0],
}
"""Limit in words -> values that it must refuse."""

ACCEPTED_BY = {"greater than 0, at most 1": 1.0, "0 or more, less than 1": 0.0}

every_function = pytest.mark.parametrize("spec", examples.ALL, ids=examples.name_of)


def refusal_of(spec, name: str, value: object) -> PressError | None:
    """Return the error of the example's call with one argument changed."""
    arguments = examples.arguments(spec)
    place = [argument.name for argument in spec.arguments].index(name)
    arguments[place] = [value, *arguments[place][1:]] if spec.arguments[place].series else value
    try:
        spec.call(*arguments)
    except PressError as error:
        return error
    return None


def bad_values(words: str) -> list[float]:
    """Return values that a limit refuses."""
    if words in REFUSED_BY:
        return REFUSED_BY[words]
    least = re.fullmatch(r"whole number, (\d+) or more", words)
    if least:
        return [float(least[1]) - 1.0, float(least[1]) + 0.5]
    assert re.match("from .* to ", words), words
    return [-1e9, 1e9]


@pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)
def test_limits_on_the_page_are_those_the_function_keeps(spec):
    for name, several in limits_read.limits_of(spec).items():
        if examples.arguments(spec)[[a.name for a in spec.arguments].index(name)] is None:
            continue  # an argument left blank that changes what the others mean
        for words in several:
            for value in bad_values(words) if len(several) == 1 else []:
                error = refusal_of(spec, name, value)
                assert error is not None, f"{name}={value} passes, the page says {words}"


def test_limits_are_read_through_helpers_and_other_functions():
    assert limits_read.limits_of(FUNCTIONS["closed_height_margin"])["die_height"] == ["greater than 0"]
    assert limits_read.limits_of(FUNCTIONS["ejection_force"]) == {
        "force": ["greater than 0"],
        "ejection_share": ["greater than 0, at most 1"],
        "slugs": ["whole number, 0 or more"],
    }
    assert limits_read.limits_of(FUNCTIONS["slide_height"])["crank_angle"] == ["from -360 deg to 360 deg"]


def test_refusal_of_several_arguments_names_them_in_place_of_numbers():
    assert limits_read.refusals_of(FUNCTIONS["piston_area"]) == ["`rod` is not smaller than `bore`"]
    assert limits_read.refusals_of(FUNCTIONS["shearing_force"]) == []


@every_function
def test_reference_tells_formula_source_example_and_every_argument(spec):
    section = reference.section(spec)
    assert section.startswith(f"## {spec.name}\n")
    for words in (spec.docs.summary, spec.docs.formula, spec.docs.example, spec.citation, spec.sheet_name):
        assert words in section
    for argument in spec.arguments:
        assert f"| `{argument.name}` | " in section
    assert spec.variadic or not spec.arguments or "\nExample: " in section


@every_function
def test_every_function_is_on_the_page_of_its_chapter(spec):
    page = reference.pages()[reference.file_name(spec.chapter)]()
    assert f"* [{spec.name}](#{spec.name})\n" in page
    assert reference.section(spec) in page


def test_no_page_is_left_of_a_chapter_that_is_gone():
    folder = generate.DOCS / "reference"
    assert {path.name for path in folder.iterdir()} == set(reference.pages())


@pytest.mark.parametrize("case", golden.ALL, ids=lambda case: case.id)
def test_validation_gives_each_case_within_its_tolerance(case):
    found = validation.answer(case)
    if case.error is not None:
        assert found.text.startswith("refused: ")
        assert found.deviation == ""
    elif found.deviation != "none":
        assert float(found.deviation) <= float(case.tolerance) * 1.05  # shown with two digits


def test_validation_shows_a_deviation():
    (case,) = (case for case in golden.ALL if case.id == "C2")
    assert validation.answer(dataclasses.replace(case, expected="544335.3")).deviation == "1.0e-02"
    assert validation.answer(dataclasses.replace(case, expected="549778.7")).deviation != "1.0e-02"
    (text,) = (case for case in golden.ALL if case.id == "height-H5")
    assert validation.answer(dataclasses.replace(text, expected="too tall")).deviation == "another text"


def test_validation_lists_every_case_and_every_trap():
    page = validation.render()
    for case in golden.ALL:
        assert page.count(f"\n| {case.id} | ") == (2 if case.wrong else 1)
