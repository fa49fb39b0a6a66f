"""Signature, docstring and register say the same, and every name can live in a spreadsheet."""

from __future__ import annotations

import inspect
import re

import examples
import pytest
from openpyxl.utils import FORMULAE

from pressfuncs.registry import UNITS_ARGUMENT, find, parse_docstring, sources

LONGEST_HELP = 255
LONGEST_NAMES = 254
"""Argument names with their count, in one text of the function wizard."""

VBA_WORDS = set(
    """
    addressof alias and any append array as attribute base binary boolean byref byte byval call case
    cbool cbyte ccur cdate cdbl cdec cint class clng clnglng clngptr close compare const csng cstr
    currency cvar cverr date debug decimal declare defbool defbyte defcur defdate defdbl defdec
    defint deflng defobj defsng defstr defvar dim do double each else elseif empty end endif enum
    eqv erase error event exit explicit false fix for friend function get global gosub goto if imp
    implements in input instr int integer is lbound len let lib like line load local lock long
    longlong longptr loop lset me mid mod module name new next not nothing null object on open
    option optional or output paramarray preserve print private property ptrsafe public put
    raiseevent random randomize read redim rem resume return rset seek select set sgn shared single
    spc static step stop string sub tab text then time to true type typeof ubound unlock until
    variant wend when while width with withevents write xor
    """.split()
)
ALLOWED_VBA_WORDS = {"name", "width", "line", "load", "text", "time"}
"""Words of VBA statements that VBA itself takes as argument names."""

A1_CELL = re.compile(r"[a-z]{1,3}[0-9]{1,7}", re.IGNORECASE)
R1C1_CELL = re.compile(r"r[0-9]*(c[0-9]*)?|c[0-9]*", re.IGNORECASE)

every_function = pytest.mark.parametrize("spec", examples.ALL, ids=examples.name_of)


def column_number(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def reads_as_a_cell(name: str) -> bool:
    if A1_CELL.fullmatch(name):
        letters, row = re.fullmatch(r"([A-Za-z]+)([0-9]+)", name).groups()
        return column_number(letters) <= column_number("XFD") and 1 <= int(row) <= 1_048_576
    return R1C1_CELL.fullmatch(name) is not None


@pytest.mark.parametrize("name", ["k1", "A1", "xfd1048576", "r", "C", "rc", "r1c1", "R2", "c12", "abc123"])
def test_cell_references_are_seen(name):
    assert reads_as_a_cell(name)


@pytest.mark.parametrize("name", ["xfe1", "xfd1048577", "a0", "rod", "thickness", "abcd1", "rate"])
def test_other_names_are_not_taken_for_cells(name):
    assert not reads_as_a_cell(name)


@every_function
def test_docstring_lists_the_arguments_of_the_signature_in_order(spec):
    assert list(spec.docs.arguments) == list(inspect.signature(spec.call).parameters)


@every_function
def test_every_help_text_fits_and_is_there(spec):
    assert 1 <= len(spec.docs.summary) <= LONGEST_HELP
    assert spec.docs.summary.endswith(".")
    for argument in spec.arguments:
        assert 1 <= len(argument.help) <= LONGEST_HELP, argument.name
    assert spec.docs.formula


@every_function
def test_texts_are_one_line_each(spec):
    texts = [spec.docs.summary, spec.docs.formula, *spec.docs.arguments.values(), spec.citation]
    assert not [text for text in texts if "\n" in text]


@every_function
def test_example_calls_this_function_with_all_required_arguments_by_name(spec):
    call = examples.example_call(spec)
    names = [keyword.arg for keyword in call.keywords]
    if spec.variadic:
        assert call.args
        return
    assert not call.args, "write the example's arguments by name"
    order = [argument.name for argument in spec.arguments]
    assert names == sorted(names, key=order.index)
    assert {argument.name for argument in spec.arguments if argument.required} <= set(names)


@every_function
def test_optional_arguments_come_last(spec):
    required = [argument.required for argument in spec.arguments]
    assert required == sorted(required, reverse=True)
    kinds = {parameter.kind for parameter in inspect.signature(spec.call).parameters.values()}
    assert kinds <= {inspect.Parameter.POSITIONAL_OR_KEYWORD, inspect.Parameter.VAR_POSITIONAL}


@every_function
def test_defaults_fit_their_arguments(spec):
    for argument in spec.arguments:
        if argument.required or argument.variadic or argument.default is None:
            continue
        if argument.choices:
            assert argument.default in argument.choices
        elif argument.series:
            assert isinstance(argument.default, tuple)
        else:
            assert isinstance(argument.default, str if argument.kind.name == "text" else (float, int))
            assert not isinstance(argument.default, bool)


@every_function
def test_every_choice_of_convention_is_explained(spec):
    text = " ".join((spec.call.__doc__ or "").split())
    for argument in spec.arguments:
        for choice in argument.choices if len(argument.choices) <= 6 else ():  # more are names, such as columns
            assert choice in text, f"{spec.name} does not say what {argument.name} {choice} means"


@every_function
def test_source_is_in_the_bibliography(spec):
    assert spec.source in sources()
    assert sources()[spec.source].get("title")
    assert spec.citation.startswith(sources()[spec.source].get("author", sources()[spec.source]["title"]))


@every_function
def test_argument_names_can_live_in_a_worksheet_function(spec):
    for argument in spec.arguments:
        name = argument.name
        assert re.fullmatch(r"[a-z][a-z0-9_]*", name)
        assert not reads_as_a_cell(name), name
        assert name not in VBA_WORDS - ALLOWED_VBA_WORDS, name
        assert name != UNITS_ARGUMENT
    names = [argument.name for argument in spec.arguments] + [UNITS_ARGUMENT] * spec.has_units
    assert len(",".join(names)) + len(names) <= LONGEST_NAMES


@every_function
def test_sheet_name_is_legal_and_no_built_in(spec):
    assert re.fullmatch(r"PF_[A-Z][A-Z0-9_]*", spec.sheet_name)
    assert len(spec.sheet_name) <= 64
    assert not reads_as_a_cell(spec.sheet_name)
    assert spec.sheet_name not in FORMULAE


def test_no_two_functions_share_a_sheet_name():
    assert len({spec.sheet_name for spec in examples.ALL}) == len(examples.ALL)


@every_function
def test_function_is_found_by_its_name_in_every_spelling(spec):
    for name in (spec.name, spec.sheet_name, f" {spec.sheet_name.lower()} ", f"Pf_{spec.name}"):
        assert find(name) is spec


@pytest.mark.parametrize("name", ["", "PF_", "pf_no_such_function", "shearing force"])
def test_unknown_name_is_a_key_error(name):
    with pytest.raises(KeyError):
        find(name)


def test_docstring_parts_are_told_apart():
    docs = parse_docstring(
        """Summary over
        two lines.

        F = a * b

        A note.

        Another note.

        Arguments:
            a: the first,
                which goes on
            b: the second

        >>> f(a=1, b=2)
        2
        """
    )
    assert docs.summary == "Summary over two lines."
    assert docs.formula == "F = a * b"
    assert docs.notes == "A note.\n\nAnother note."
    assert docs.arguments == {"a": "the first, which goes on", "b": "the second"}
    assert docs.example == ">>> f(a=1, b=2)\n2"
